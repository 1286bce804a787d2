"""`check`: read files and say whether they hang together, without solving."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Sized
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from formulate.bar.meant import price_questions, refuse_slips
from formulate.bar.opening import open_pantry, pantry_of
from formulate.bar.pantry import Pantry, refuse_unknown_parts
from formulate.bar.permitted import refusal, rules_of_recipe
from formulate.bar.potency import past_stock, refuse_wrong_stock
from formulate.errors import SpecError, SpecProblem
from formulate.files.book import is_book, read_book
from formulate.files.bottle import Bottle
from formulate.files.count import Count
from formulate.files.drink import Drink
from formulate.files.issues import Problems
from formulate.files.jar import Jar
from formulate.files.loading import load_any
from formulate.files.menu import Menu
from formulate.files.models import Source, path_of
from formulate.files.reading import ReadingFile
from formulate.files.recipe import Recipe
from formulate.files.scenarios import Scenarios
from formulate.files.shelf import Shelf
from formulate.files.trial import Trial
from formulate.formulation.bottle import formulate_bottle
from formulate.formulation.choices import choices_of
from formulate.quantity.document import Record, Result
from formulate.rules.law_notes import rule_notes

__all__ = ["Checked", "CheckedFile", "WrongFilesError", "check", "check_files"]


@dataclass(frozen=True, slots=True)
class CheckedFile(Record):
    """A file that hangs together.

    Attributes
    ----------
    summary : str
        What is in it, in a few words.
    """

    path: str
    kind: str
    name: str
    summary: str


@dataclass(frozen=True)
class Checked(Result):
    """Files that all hang together."""

    status: str = field(default="ok", init=False)
    files: tuple[CheckedFile, ...]


class WrongFilesError(SpecError):
    """Some of the files are wrong.

    Parameters
    ----------
    problems : iterable of SpecProblem
        Of all the files.
    checked : sequence of CheckedFile
        The files that hang together.
    """

    def __init__(self, problems: Iterable[SpecProblem], checked: Sequence[CheckedFile]) -> None:
        super().__init__(problems)
        self.checked = tuple(checked)

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.problems, self.checked)


def check(*files: Source, today: date | None = None) -> Checked:
    """Check files of any kind without solving anything.

    Parameters
    ----------
    today : date, optional
        What the age of the stock is counted to; the day it is if not given.

    Raises
    ------
    WrongFilesError
        With the problems of all the files, and those that have none.
    """
    return Checked(files=check_files(files, today))


def check_files(paths: Sequence[Source], today: date | None = None) -> tuple[CheckedFile, ...]:
    """Check files of any kind.

    Parameters
    ----------
    today : date, optional
        What the age of the stock is counted to; the day it is if not given.

    Returns
    -------
    tuple of CheckedFile
        One per file.

    Raises
    ------
    WrongFilesError
        With the problems of all the files, and those that have none.
    """
    checked: list[CheckedFile] = []
    problems: list[SpecProblem] = []
    for source in paths:
        try:
            for path in _files_of(path_of(source)):
                try:
                    checked.append(_check(path, today))
                except SpecError as error:
                    problems += [problem for problem in error.problems if problem not in problems]
        except SpecError as error:
            problems += [problem for problem in error.problems if problem not in problems]
    if problems:
        raise WrongFilesError(problems, checked)
    return tuple(checked)


def _files_of(path: Path) -> list[Path]:
    """Return the file itself, or every file of a workbook."""
    return [path_of(path / inner) for inner in read_book(path).files] if is_book(path) else [path]


def _check(path: Path, today: date | None) -> CheckedFile:
    model = load_any(path)
    if isinstance(model, Shelf):
        _check_shelf(model, today)
        summary = (
            f"{_count(model.offers, 'thing')} on offer, {_count(model.ingredients, 'own value')}, "
            f"{_count(model.vessels, 'vessel')}"
        )
        if model.whole or model.house_made:
            summary += f", {len(model.whole)} bought whole, {len(model.house_made)} made here"
        if model.price_lists:
            summary += f", {_count(model.price_lists, 'price list')}"
        if model.stock:
            summary += f", the age of {len(model.stock)}"
            past = past_stock(pantry_of(model, today))
            summary += f" (past keeping: {', '.join(past)})" if past else ""
        summary += "".join(f". {note.text}" for note in price_questions(pantry_of(model, today)))
        return CheckedFile(path.as_posix(), "shelf", model.name, summary)
    if isinstance(model, Count):
        named = set(model.on_hand) | {one.name for one in model.lots}
        named |= {one.name for one in model.on_order} | {one.name for one in model.begun}
        return CheckedFile(path.as_posix(), "count", model.name, f"{_count(named, 'thing')} on {model.day}")
    if isinstance(model, Scenarios):
        return _check_scenarios(path, model, today)
    if isinstance(model, Trial):
        return _check_trial(path, model, today)
    pantry = open_pantry(model.shelf_path, model.places, today=today)
    if isinstance(model, ReadingFile):
        read = [key for key in ("density", "refraction") if getattr(model, key) is not None]
        return CheckedFile(path.as_posix(), "reading", model.name, " and ".join(read) or "nothing read")
    if isinstance(model, Bottle):
        formulation = formulate_bottle(model, pantry)
        choices_of(formulation)
        targets = [limit.origin.name for limit in formulation.problem.limits if limit.is_target]
        summary = (
            f"{_count(model.ingredients, 'ingredient')}; targets: {', '.join(targets)}; {model.size.text}"
        )
        summary += "".join(f". {note.text}" for note in rule_notes(formulation.rules)).removesuffix(".")
        return CheckedFile(path.as_posix(), "bottle", model.name, summary)
    if isinstance(model, Menu):
        from formulate.planning.goods import menu_goods

        menu_goods(model, pantry)
        what = f"{_count(model.drinks, 'drink')} for {_count(range(model.weeks), 'week')}"
        what += f", {_count(model.pars, 'par')}"
        return CheckedFile(path.as_posix(), "menu", model.name, what)
    if isinstance(model, Drink):
        from formulate.bar.serve import serve_of
        from formulate.planning.house_bottles import with_house_of

        serve_of(model, with_house_of(model, pantry))
        poured = f"{model.method}; {_count(model.ingredients, 'thing')} poured"
        return CheckedFile(path.as_posix(), "drink", model.name, poured)
    _check_recipe(model, pantry)
    kind, what = ("jar", "went in") if isinstance(model, Jar) else ("recipe", "to weigh")
    return CheckedFile(path.as_posix(), kind, model.name, f"{_count(model.ingredients, 'line')} {what}")


def _count(things: Sized, word: str) -> str:
    return f"{len(things)} {word}{'' if len(things) == 1 else 's'}"


def _check_scenarios(path: Path, scenarios: Scenarios, today: date | None) -> CheckedFile:
    from formulate.planning.cases import cases_of, refuse_strange
    from formulate.planning.subjects import subject_of

    refuse_strange(scenarios, subject_of(scenarios, today or date.today()))
    about = "menu" if scenarios.menu is not None else "bottle"
    return CheckedFile(
        path.as_posix(), "scenarios", scenarios.name, f"{_count(cases_of(scenarios), 'case')} of a {about}"
    )


def _check_trial(path: Path, trial: Trial, today: date | None) -> CheckedFile:
    from formulate.learn.trials import tried_jar

    jar = tried_jar(trial, today)
    found = f"{_count(jar.observed, 'thing')} weighed or read" if jar.observed else "nothing weighed or read"
    return CheckedFile(path.as_posix(), "trial", trial.name, found)


def _check_shelf(shelf: Shelf, today: date | None) -> None:
    pantry = pantry_of(shelf, today)
    problems = Problems(shelf.places)
    try:
        refuse_unknown_parts(pantry)
    except SpecError as error:
        problems.found += error.problems
    try:
        refuse_wrong_stock(pantry)
    except SpecError as error:
        problems.found += error.problems
    try:
        refuse_slips(pantry)
    except SpecError as error:
        problems.found += error.problems
    for name in shelf.house_made:
        try:
            pantry.made(name)
        except SpecError as error:
            problems.add_from(("house_made", name), error)
    listed = {
        name: ("price_lists", number, "items", name)
        for number, given in enumerate(shelf.price_lists)
        for name in given.items
        if ("offers", name) not in shelf.places.keys
    }
    for name in [*shelf.offers, *(name for name in shelf.ingredients if name not in shelf.offers)]:
        place = listed.get(name, ("offers", name))
        try:
            ingredient = pantry.unaged(name)
            pantry.price_per_kg(ingredient)
        except SpecError as error:
            problems.add_from(place, error)
        except ValueError as error:
            problems.add(place, str(error), key=True)
    problems.raise_if_any()


def _check_recipe(recipe: Recipe, pantry: Pantry) -> None:
    problems = Problems(recipe.places)
    rules = rules_of_recipe(recipe, pantry)
    for index, line in enumerate(recipe.ingredients):
        try:
            ingredient = pantry.ingredient(line.id, measured=line.id in recipe.measured)
            if refused := refusal(ingredient, rules):
                problems.add(("ingredients", index), refused)
            pantry.mass_kg(line.amount, ingredient)
        except SpecError as error:
            problems.add_from(("ingredients", index), error)
        except ValueError as error:
            problems.add(("ingredients", index, line.id, "amount"), str(error))
    problems.raise_if_any()
