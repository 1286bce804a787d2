"""`learn`: trials to what the kitchen does of its own, written on the shelf only when asked."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from formulate.errors import FormulateError, SpecError
from formulate.files.listed_shelf import load_shelf
from formulate.files.models import InMemory, Source, path_of
from formulate.files.trial import load_trial
from formulate.jobs.files import write_whole
from formulate.learn.kitchen import TriedJar, factor_of, learn_kitchen
from formulate.learn.learned import Learned, learned_of
from formulate.learn.own_values import is_learned, own_lines, with_block, without_block
from formulate.learn.trials import tried_jar
from formulate.quantity.document import HIDDEN, Record, shown

__all__ = ["Taught", "forget", "learn_trials"]


@dataclass(frozen=True)
class Taught(Record):
    """What was learned, and what of it stands on the shelf now.

    Attributes
    ----------
    learned : Learned
    written : tuple of str
        Ingredients whose own values were written.
    own_already : tuple of str
        Ingredients that have own values somebody wrote, which stay.
    shelf : Path or None
    """

    learned: Learned = field(metadata=shown(""))
    written: tuple[str, ...]
    own_already: tuple[str, ...]
    shelf: Path | None = field(metadata=HIDDEN)


def learn_trials(*files: Source, write: bool = False, today: date | None = None) -> Taught:
    """Learn from trials; with `write` put what they told on their shelf as own values.

    Parameters
    ----------
    *files : paths or trials
        All that shall count: what was learned before is left out.
    write : bool
        Whether the shelf file is changed.
    today : date, optional
        Said beside what was learned.

    Raises
    ------
    SpecError
        If a file is wrong, or what it says contradicts itself.
    FormulateError
        If the trials stand on different shelves, or there is none to write to.
    """
    if not files:
        raise FormulateError("Give one trial file at least.")
    jars = [tried_jar(load_trial(file), today, afresh=True) for file in files]
    if not any(jar.observed for jar in jars):
        raise FormulateError(
            "Nothing was weighed or read in these trials. Add cake:, bottled:, density: or others to them."
        )
    learned = learned_of(learn_kitchen(jars))
    shelf = _shelf_of(jars)
    entries, own_already = _entries(learned, jars, today or date.today())
    written: tuple[str, ...] = ()
    if write:
        if shelf is None or isinstance(shelf, InMemory):
            raise FormulateError("These trials name no shelf file, so there is nothing to write to.")
        if not entries:
            raise FormulateError("These trials tell too little of any ingredient to write it down.")
        names = "; ".join(jar.name for jar in jars)
        heading = f"{(today or date.today()).isoformat()} from {names} (formulate learn --undo takes it out)"
        _change(shelf, with_block(shelf.read_text(encoding="utf-8"), list(entries.values()), heading))
        written = tuple(entries)
    return Taught(learned, written, own_already, shelf)


def forget(shelf: Source) -> Path:
    """Take what was learned last out of a shelf file again; what it took the place of comes back.

    Raises
    ------
    FormulateError
        If nothing was learned there.
    """
    path = path_of(shelf)
    if isinstance(path, InMemory) or not path.is_file():
        raise FormulateError(f"{path.as_posix()}: not there. Name the shelf file.")
    text = without_block(path.read_text(encoding="utf-8"))
    if text is None:
        raise FormulateError(f"{path.as_posix()}: nothing on this shelf was learned from trials.")
    _change(path, text)
    return path


def _change(path: Path, text: str) -> None:
    """Write a shelf; where it would not be read as one, put the old text back."""
    before = path.read_text(encoding="utf-8")
    write_whole(path, text)
    try:
        load_shelf(path)
    except SpecError:
        write_whole(path, before)
        raise


def _shelf_of(jars: list[TriedJar]) -> Path | None:
    shelves = {None if jar.batch.pantry.shelf is None else jar.batch.pantry.shelf.path for jar in jars}
    resolved = {None if shelf is None else shelf.resolve() for shelf in shelves}
    if len(resolved) > 1:
        raise FormulateError("These trials name different shelves. Learn from those of one shelf at a time.")
    return next(iter(shelves))


def _entries(
    learned: Learned, jars: list[TriedJar], day: date
) -> tuple[dict[str, list[str]], tuple[str, ...]]:
    """Return the lines to write by ingredient, and whose own values stand in the way."""
    kitchen = learned.kitchen
    names = ", ".join(f"{jar.name} ({jar.trial.day})" if jar.trial.day else jar.name for jar in jars)
    source = f"on {day.isoformat()}: {names}"
    found: dict[str, dict[str, tuple[float, float]]] = {}
    things = iter(learned.things)
    for unknown, value, doubt in zip(kitchen.unknowns, kitchen.fit.values, kitchen.standard, strict=True):
        if unknown.kind == "glass":
            continue
        thing = next(things)
        if thing.kept and unknown.ingredient and unknown.kind != "spirit":
            factor = thing.own if unknown.kind == "speed" else float(factor_of(unknown, value))
            found.setdefault(unknown.ingredient, {})[unknown.kind] = (factor, float(doubt))
    shelf = jars[0].batch.pantry.shelf
    own = {} if shelf is None else shelf.ingredients
    made = frozenset() if shelf is None else frozenset(shelf.house_made)
    ingredients = {one.id: one for jar in jars for one in jar.batch.ingredients}
    entries, standing = {}, []
    for name, kinds in found.items():
        if name in made or (name in own and not is_learned(own[name])):
            standing.append(name)
        elif lines := own_lines(ingredients[name], kinds, source.replace('"', "'")):
            entries[name] = lines
    return entries, tuple(standing)
