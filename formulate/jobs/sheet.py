"""`sheet`: what a person at the bench, the shelf or the bar holds in the hand."""

from __future__ import annotations

import contextlib
import hashlib
import random
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time
from itertools import groupby
from pathlib import Path

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.house_made import pantry_for
from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry
from formulate.bar.scaling import scaled_batch
from formulate.describe.batch_sheet import BatchSheet, batch_sheet
from formulate.describe.menu_record import MenuRecord
from formulate.describe.papers import (
    CountSheet,
    LabelSheet,
    OrderSheet,
    Page,
    Papers,
    ServeCard,
    TastingSheet,
)
from formulate.errors import RoundingError, SpecError, UnitError
from formulate.files import aims
from formulate.files.bottle import Bottle
from formulate.files.drink import Drink, load_drink
from formulate.files.issues import Problems
from formulate.files.loading import load_any
from formulate.files.located import noting_files
from formulate.files.measures import ACID, STRENGTH, SUGAR
from formulate.files.menu import Menu
from formulate.files.models import Source, resolved_beside
from formulate.files.recipe import Recipe
from formulate.formulation.bottle import Formulation
from formulate.formulation.solving import recipe_of
from formulate.jobs.adjust import card_rows, open_bottle
from formulate.jobs.label import label_file
from formulate.jobs.menu import plan_menu
from formulate.jobs.pour import pour_drink
from formulate.jobs.predict import held_targets, predict_batch
from formulate.jobs.solve import solve_loaded
from formulate.jobs.weighed import weigh_solved
from formulate.learn.lot import lot_of_batch
from formulate.planning.house_bottles import with_house_bottles
from formulate.quantity.words import read_option
from formulate.rules.contents import contents_of, found_allergens

__all__ = ["menu_papers", "print_files", "read_start"]

PREPARED = (Bottle, Recipe)
READABLE = frozenset({STRENGTH, SUGAR, ACID})
_START = re.compile(r"(?:(\d{4}-\d{2}-\d{2})[ T])?(\d{1,2}):(\d{2})")


def read_start(text: str, today: date | None = None) -> datetime:
    """Read when a batch is begun: ``2026-12-01 14:00``, or ``14:00`` for today.

    Raises
    ------
    UnitError
        If it is no such time.
    """
    found = _START.fullmatch(text.strip())
    try:
        if found is None:
            raise ValueError
        day = date.fromisoformat(found[1]) if found[1] else today or date.today()
        return datetime.combine(day, time(int(found[2]), int(found[3])))
    except ValueError:
        raise UnitError(
            f"--start: no time of day, got '{text}'. Write '14:00' or '2026-12-01 14:00'."
        ) from None


def print_files(
    *files: Source,
    start: str | datetime | None = None,
    lot: str = "",
    to: str | None = None,
    labels: int = 0,
    bottle_size: str | None = None,
    tasting: bool = False,
    today: date | None = None,
) -> Papers:
    """Lay out files for paper: a batch for a bottle, recipe or jar, a card for a drink, all of it for a menu.

    Parameters
    ----------
    *files : path or model
    start : str or datetime, optional
        When the batches are begun, for times by the clock.
    lot : str
        Printed instead of room to write it.
    to : str, optional
        Another size of the batches: ``12 L bottled``.
    labels : int
        So many labels of each batch instead.
    bottle_size : str, optional
        What is printed on a label.
    tasting : bool
        One sheet to taste all of them by number instead.
    today : date, optional

    Raises
    ------
    SpecError
        If a file is wrong or nothing is printed of its kind.
    UnitError
        If an option cannot be read.
    InfeasibleError
        When a bottle has no recipe.
    """
    begun = read_start(start, today) if isinstance(start, str) else start
    with noting_files() as noted:
        if tasting:
            pages: list[Page] = [_tasting(files, today)]
        elif labels:
            pages = [
                LabelSheet(
                    label=label_file(file, bottle_size=bottle_size, today=today),
                    lot=lot,
                    copies=labels,
                    bottled=None if begun is None else begun.date(),
                )
                for file in files
            ]
        else:
            pages = [page for file in files for page in _pages(file, begun, lot, to, today)]
    names = dict.fromkeys(_name(page) for page in pages)
    return Papers(
        name=", ".join(names),
        pages=tuple(pages),
        fingerprint=fingerprint(noted),
        off_target=any(_off_target(page) for page in pages),
    )


def fingerprint(files: Mapping[Path, bytes]) -> str:
    """Return twelve digits that change with any of some files, whatever folder they stand in."""
    digest = hashlib.sha256()
    for path, content in sorted((path.name, content) for path, content in files.items()):
        digest.update(f"{path}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()[:12]


def menu_papers(record: MenuRecord, path: Source, today: date | None = None) -> Papers:
    """Lay out a planned menu for paper: the count, the orders, every batch, a card for each drink.

    Parameters
    ----------
    record : MenuRecord
        The plan.
    path : path or Menu
        The file it is of.
    """
    with noting_files() as noted:
        pages = tuple(_menu_pages(record, path, None, "", today))
    return Papers(
        name=record.name,
        pages=pages,
        fingerprint=fingerprint(noted),
        off_target=any(_off_target(page) for page in pages),
    )


def _name(page: Page) -> str:
    if isinstance(page, BatchSheet | ServeCard):
        return page.drink.name
    if isinstance(page, LabelSheet):
        return page.label.name
    return "Tasting" if isinstance(page, TastingSheet) else page.name


def _off_target(page: Page) -> bool:
    if isinstance(page, BatchSheet):
        return page.drink.off_target
    if isinstance(page, ServeCard):
        return page.drink.law.broken
    return isinstance(page, LabelSheet) and page.label.law is not None and page.label.law.broken


def _pages(
    file: Source, begun: datetime | None, lot: str, to: str | None, today: date | None
) -> Iterator[Page]:
    model = load_any(file)
    if isinstance(model, Menu):
        yield from _menu_pages(plan_menu(file, today=today), file, begun, lot, today)
    elif isinstance(model, Drink):
        yield ServeCard(drink=pour_drink(file, today=today))
    elif isinstance(model, PREPARED):
        yield _batch_page(model, begun=begun, lot=lot, to=to, today=today)
    else:
        message = "nothing is printed of this. Give a bottle, recipe, jar, drink or menu file."
        raise SpecError([model.places.problem((), message)])


def _weighed(
    model: Bottle | Recipe, today: date | None, pantry: Pantry | None = None
) -> tuple[Recipe, BarBatch, Formulation | None]:
    """Return the recipe of a file, what it makes, and what it must be, where a bottle file says so."""
    if isinstance(model, Bottle):
        solved = solve_loaded(model, today=today)
        with contextlib.suppress(RoundingError):  # then what is printed is as near as the figures are
            solved = weigh_solved(solved)
        formulation = solved.formulation
        recipe = recipe_of(formulation.bottle, solved.answer)
        return recipe, weigh_batch(recipe, formulation.pantry, rules=formulation.rules), formulation
    if pantry is None:
        pantry = open_pantry(model.shelf_path, model.places, today=today)
    batch = weigh_batch(model, pantry)
    path = model.bottle_path
    return model, batch, open_bottle(path, today) if path is not None and path.exists() else None


def _batch_page(
    model: Bottle | Recipe,
    *,
    begun: datetime | None = None,
    lot: str = "",
    to: str | None = None,
    heading: str = "",
    copies: int = 1,
    today: date | None = None,
    pantry: Pantry | None = None,
) -> BatchSheet:
    recipe, batch, formulation = _weighed(model, today, pantry)
    if to is not None:
        recipe, batch, _ = scaled_batch(recipe, batch, read_option("--to", to, aims.parse_size))
    drink = predict_batch(recipe, batch, today)
    if formulation is not None:
        drink = replace(drink, targets=held_targets(formulation, batch))
    return batch_sheet(
        batch,
        drink,
        begun=begun,
        lot=lot,
        card=() if formulation is None else card_rows(lot_of_batch(recipe, batch), _readable(formulation)),
        heading=heading,
        copies=copies,
    )


def _readable(formulation: Formulation) -> Formulation:
    """Ask only for what a hydrometer, a refractometer and a burette tell, and for what the law limits."""
    problem = formulation.problem
    kept = [limit for limit in problem.limits if not limit.is_target or limit.origin.measure in READABLE]
    return replace(formulation, problem=problem.asking(kept))


def _menu_pages(
    record: MenuRecord, path: Source, begun: datetime | None, lot: str, today: date | None
) -> Iterator[Page]:
    menu = load_any(path)
    assert isinstance(menu, Menu)
    if record.stock or record.house:
        yield CountSheet(name=record.name, stock=record.stock, house=record.house)
    least = dict(record.least_orders)
    for supplier, lines in groupby(record.lines, key=lambda line: line.supplier):
        yield OrderSheet(
            name=record.name,
            supplier=supplier,
            lines=tuple(lines),
            currency=record.currency,
            least=least.get(supplier),
        )
    files, pantry = _made_here(menu, today)
    for row in record.calendar:
        model = load_any(files[row.name])
        assert isinstance(model, PREPARED)
        yield _batch_page(
            model,
            begun=begun,
            lot=lot,
            to=f"{row.each_l:.6g} L bottled",
            heading=f"Begin {row.begin.text}{f', in {row.vessel}' if row.vessel else ''}",
            copies=max(row.batches, 1),
            today=today,
            pantry=pantry_for(model, pantry),
        )
    for index in range(len(menu.drinks)):
        yield ServeCard(drink=pour_drink(menu.drink_path(index), today=today))


def _made_here(menu: Menu, today: date | None) -> tuple[dict[str, Path], Pantry]:
    """Return the file of everything the house makes for a menu, and the pantry that has all of it."""
    pantry = open_pantry(menu.shelf_path, menu.places, today=today)
    shelf = pantry.shelf
    assert shelf is not None
    files: dict[str, Path] = {}
    for index in range(len(menu.drinks)):
        drink = load_drink(menu.drink_path(index))
        files |= {name: drink.house_path(name) for name in drink.house}
    pantry = with_house_bottles(pantry, files, Problems(menu.places))
    for name, one in shelf.house_made.items():
        path = resolved_beside(shelf.path, one.recipe)
        assert path is not None
        files[name] = path
    return files, pantry


def _tasting(files: Sequence[Source], today: date | None) -> TastingSheet:
    """Give samples numbers that tell nothing, the same for the same files."""
    batches = []
    for file in files:
        model = load_any(file)
        if not isinstance(model, PREPARED):
            raise SpecError(
                [model.places.problem((), "is nothing to taste. Give a bottle, recipe or jar file.")]
            )
        batches.append(_weighed(model, today))
    draw = random.Random(" ".join(recipe.name for recipe, _, _ in batches))
    numbers = draw.sample(range(100, 1000), len(batches))
    allergens: dict[str, None] = {}
    cautions: dict[str, None] = {}
    for recipe, batch, _ in batches:
        contents = contents_of(batch.ingredients, batch.used, batch.pantry)
        allergens |= dict.fromkeys(one.name for one in found_allergens(contents, batch.rules.jurisdiction))
        drink = predict_batch(recipe, batch, today)
        cautions |= dict.fromkeys(note.short or note.text for note in drink.cautions if note.for_guests)
    samples = tuple((number, recipe.name) for number, (recipe, _, _) in zip(numbers, batches, strict=True))
    return TastingSheet(samples=samples, allergens=tuple(allergens), cautions=tuple(cautions))
