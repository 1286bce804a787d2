"""`adjust`: a batch, from a file or from figures typed, to the least that brings it onto its aims."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from formulate.bar.opening import open_pantry
from formulate.describe.adjust_record import Adjustment, CardRow
from formulate.describe.adjusted import (
    adjusted_record,
    doubt_note,
    impossible_record,
    left_notes,
    unknown_notes,
)
from formulate.errors import Note, ReadingError, SpecError, SpecProblem
from formulate.files.bottle import load_bottle
from formulate.files.disk import is_there
from formulate.files.loading import load_any
from formulate.files.measures import SUGAR
from formulate.files.models import Source, path_of
from formulate.formulation.bottle import Formulation, formulate_bottle
from formulate.learn.lot import Lot, lot_of_figures, lot_of_file
from formulate.learn.putting_right import (
    LEAST_KG_L,
    Remedy,
    counted_candidates,
    nothing_added,
    put_right,
    staples,
    target_values,
)
from formulate.optimise.diagnose import explain
from formulate.quantity.bands import parse_quantity
from formulate.quantity.units import Dimension
from formulate.quantity.words import listed, read_given

__all__ = ["adjust_lot", "adjust_texts", "card_rows", "open_bottle"]


STRENGTH_STEPS = (-1.5, -0.75, 0.0, 0.75, 1.5)
SUGAR_STEPS = (-20.0, 0.0, 20.0)


def open_bottle(path: Path, today: date | None = None) -> Formulation:
    """Read the bottle file whose targets a batch shall meet.

    Raises
    ------
    SpecError
        If a file is wrong.
    """
    bottle = load_bottle(path)
    return formulate_bottle(bottle, open_pantry(bottle.shelf_path, bottle.places, today=today))


def adjust_lot(
    lot: Lot,
    aims: Formulation,
    *,
    also: Sequence[str] = (),
    other: Lot | None = None,
    cheapest: bool = False,
    room_l: float | None = None,
) -> Adjustment:
    """Find the least to add.

    Parameters
    ----------
    aims : Formulation
        Of the bottle file.
    also : sequence of str
        Ids that may be added besides the bottle's own list and water.
    other : Lot, optional
        Another batch that may be blended in, as far as it goes.
    cheapest : bool
        Least cost instead of least mass.
    room_l : float, optional
        How much there may be in the end.

    Raises
    ------
    SpecError
        If an id is unknown, does not dissolve wholly, or has no price where one is needed.
    """
    candidates, left_out = counted_candidates(aims, also, lot, other)
    remedy = put_right(lot, aims, candidates, staples(aims.pantry), other, cheapest, room_l)
    on_contents = [note for batch in (lot, other) if batch is not None for note in batch.content_notes]
    notes = [*on_contents, *left_out, *unknown_notes(remedy.question, lot)]
    if remedy.masses is None:
        return impossible_record(lot, other, aims, remedy.question, cheapest, notes)
    if remedy.beyond_the_list:
        notes.append(
            Note(
                "beyond_the_list",
                "What dissolves on the bottle's own list does not do; plain things from the shelf help out.",
            )
        )
    notes = [*left_notes(remedy, lot), *doubt_note(remedy, lot), *notes]
    status = "partly" if remedy.left else "adjusted" if remedy.needed else "nothing"
    return adjusted_record(
        lot, other, aims, remedy.question, remedy.masses, status, cheapest, proved=remedy.proved, notes=notes
    )


def card_rows(
    lot: Lot,
    aims: Formulation,
    *,
    also: Sequence[str] = (),
    other: Lot | None = None,
    cheapest: bool = False,
    room_l: float | None = None,
) -> tuple[CardRow, ...]:
    """Work out the table of a prep card: this much drink, other readings of strength and sugar.

    Parameters
    ----------
    lot, aims, also, other, cheapest, room_l
        As for `adjust_lot`, whose answer every row is.

    Returns
    -------
    tuple of CardRow
        Around the lot's own figures, by strength, then sugar.
    """
    candidates, _ = counted_candidates(aims, also, lot, other)
    wider = staples(aims.pantry)
    base = round(lot.strength_pct_vol * 4.0) / 4.0
    sweet = round(lot.sugar_g_l / 5.0) * 5.0
    sugars = SUGAR_STEPS if aims.bottle.targets.band(SUGAR) is not None else (0.0,)
    rows = []
    for strength in (base + step for step in STRENGTH_STEPS):
        for sugar in (sweet + step for step in sugars):
            if strength < 0.0 or sugar < 0.0:
                continue
            read = lot.reading(strength, sugar)
            remedy = put_right(read, aims, candidates, wider, other, cheapest, room_l)
            why = _in_the_way(remedy, read) if remedy.masses is None or remedy.left else ""
            rows.append(CardRow(strength, sugar, why, _added(remedy, lot)))
    return tuple(rows)


def _in_the_way(remedy: Remedy, lot: Lot) -> str:
    """Name what is off and adding does not mend, or what would leave its limit for it."""
    here = {
        limit.origin.name: value * limit.display
        for limit, value in target_values(remedy.question.problem, nothing_added(remedy.question, lot))
    }
    parts = []
    for member in explain(remedy.question.problem).clash:
        if not member.limit.is_target:
            if member.limit.origin.name == "room":
                parts.append("no room for more")
            continue
        name = member.limit.origin.name
        is_off = here[name] < member.bound if member.is_lower else here[name] > member.bound
        way = "little" if member.is_lower else "much"
        parts.append(f"too {way} {name}" if is_off else f"{name} would leave its aim")
    return ", ".join(dict.fromkeys(parts))


def _added(remedy: Remedy, lot: Lot) -> tuple[tuple[str, float], ...] | None:
    if remedy.masses is None or remedy.left:
        return None
    return tuple(
        (ingredient.id, float(mass))
        for ingredient, mass in zip(remedy.question.ingredients[1:], remedy.masses[1:], strict=True)
        if mass > LEAST_KG_L * lot.volume_l
    )


# --- the least ----------------------------------------------------------------------------------------


# --- the record ---------------------------------------------------------------------------------------


def adjust_texts(
    file: Source | None = None,
    *,
    bottle: Source | None = None,
    volume: str | None = None,
    strength: str | None = None,
    sugar: str | None = None,
    acid: str | None = None,
    bitterness: str | None = None,
    also: Sequence[str] = (),
    blend_with: Source | None = None,
    room: str | None = None,
    cheapest: bool = False,
    middle: bool = False,
    card: bool = False,
    today: date | None = None,
) -> Adjustment:
    """Put a batch right.

    Parameters
    ----------
    file : path, Recipe or ReadingFile, optional
        A jar, recipe or reading file; else the figures.
    bottle : path or Bottle, optional
        The bottle file with the aims; else the one the file names.
    volume, strength, sugar, acid, bitterness, room : str, optional
        Typed with their units; bitterness is a plain number.
    also : sequence of str
        Ids that may be added besides the bottle's list.
    blend_with : path, Recipe or ReadingFile, optional
        Another batch.
    cheapest : bool
        Least cost instead of least mass.
    middle : bool
        Whether to aim at the middle of each band instead of just inside.
    card : bool
        Whether the table of the prep card is worked out too.

    Raises
    ------
    SpecError, UnitError, ReadingError
        What cannot be read or belongs to no drink.
    """
    figures = (volume, strength, sugar, acid, bitterness)
    if file is not None:
        if any(text is not None for text in figures):
            raise ReadingError("A file and figures were given for the batch. Give one of the two.")
        lot = lot_of_file(file, today)
    else:
        lot = _lot_of_texts(*figures)
    path = lot.bottle_path if bottle is None else path_of(bottle)
    if path is None:
        raise ReadingError("What it shall become is not said. Add --bottle with a bottle file.")
    if not is_there(path):
        raise _no_bottle(file if bottle is None else None, path)
    aims = open_bottle(path, today)
    aims = aims.aiming_at_the_middle() if middle else aims
    other = None if blend_with is None else lot_of_file(blend_with, today)
    room_l = read_given("--room", room, _litres)
    if room_l is not None and room_l < lot.volume_l:
        there = f"{lot.volume_l:.2f} L"
        raise ReadingError(f"--room: less than the batch itself, {there}, got '{room}'. Give more.")
    record = adjust_lot(lot, aims, also=also, other=other, cheapest=cheapest, room_l=room_l)
    if not card:
        return record
    rows = card_rows(lot, aims, also=also, other=other, cheapest=cheapest, room_l=room_l)
    return replace(record, card=rows)


def _no_bottle(file: Source | None, path: Path) -> SpecError:
    """Say that there is no bottle file, at the line that names it where a file does."""
    if file is None:
        return SpecError([SpecProblem(None, "", f"{path.as_posix()}: no such bottle file. Check the path.")])
    message = f"no file there, got '{path.as_posix()}'. Check the path."
    return SpecError([load_any(file).places.problem(("bottle",), message)])


def _litres(text: str) -> float:
    return parse_quantity(text, Dimension.VOLUME)


def _lot_of_texts(
    volume: str | None, strength: str | None, sugar: str | None, acid: str | None, bitterness: str | None
) -> Lot:
    missing = [
        f"--{name}"
        for name, text in (("volume", volume), ("strength", strength), ("sugar", sugar))
        if text is None
    ]
    if missing:
        are = "is" if len(missing) == 1 else "are"
        raise ReadingError(
            f"Without a file the batch needs its figures, and {listed(missing)} {are} missing. "
            "Give e.g. --volume '4.4 L' --strength '19.8 % vol' --sugar '212 g/L'."
        )

    def grams(text: str) -> float:
        return parse_quantity(text, Dimension.MASS_CONCENTRATION)

    litres = read_given("--volume", volume, _litres)
    pct = read_given("--strength", strength, lambda t: parse_quantity(t, Dimension.STRENGTH))
    sweet = read_given("--sugar", sugar, grams)
    assert litres is not None
    assert pct is not None
    assert sweet is not None
    if not litres > 0.0:
        raise ReadingError("--volume: must be above zero. Check the number.")
    return lot_of_figures(
        litres,
        pct,
        sweet,
        read_given("--acid", acid, grams),
        read_given("--bitterness", bitterness, lambda t: parse_quantity(t, Dimension.BITTERNESS)),
    )
