"""Cases: those written out, every combination of a grid, and draws from ranges."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from os.path import normpath
from pathlib import Path
from typing import Any, Literal

import numpy as np

from formulate.bar.changed import CannotChangeError, repriced
from formulate.bar.pantry import Pantry, PantryCache
from formulate.errors import SpecError
from formulate.files.bottle import Bottle
from formulate.files.fields import did_you_mean
from formulate.files.issues import KeyPath, Problems
from formulate.files.menu import Menu
from formulate.files.scenarios import ALL_DRINKS, Draws, Grid, Scenarios
from formulate.files.targets import Targets
from formulate.formulation.ingredient_limits import gone_with_parts
from formulate.planning.subjects import Subject
from formulate.quantity import Money
from formulate.quantity.changes import ChangeRange, PriceChange

__all__ = [
    "Case",
    "cases_of",
    "content_of",
    "drawn",
    "drink_names",
    "ends_of",
    "percent_text",
    "refuse_not_bought",
    "refuse_strange",
    "texts_of",
    "with_case",
    "with_demand",
    "with_targets",
]

Kind = Literal["case", "grid", "draw"]
TAKEN_OFF = -1.0
"""Share by which a drink that is taken off sells more."""
DRAWN_DIGITS = 6
"""Significant digits of what is drawn: more could not be told apart, and fewer could be written down."""


@dataclass(frozen=True)
class Case:
    """What is otherwise than the files say.

    Attributes
    ----------
    kind : str
        Where it comes from: `case`, `grid` or `draw`.
    demand : tuple of (str, float)
        By the name of a drink's file, or `ALL_DRINKS`; a share.
    targets : Targets or None
        In place of those of the bottle file where they say something.
    swap : tuple of (str, str)
        Drink, by the name of its file, and the file of what is sold in its place.
    """

    name: str
    kind: Kind
    prices: tuple[tuple[str, PriceChange], ...] = ()
    gone: tuple[str, ...] = ()
    demand: tuple[tuple[str, float], ...] = ()
    targets: Targets | None = None
    swap: tuple[tuple[str, str], ...] = ()


def cases_of(scenarios: Scenarios) -> tuple[Case, ...]:
    """List every case of a file: written out, combined, drawn, in this order."""
    cases = [
        Case(
            name,
            "case",
            tuple(changes.prices.items()),
            changes.gone,
            (*changes.demand.items(), *((name, TAKEN_OFF) for name in changes.off)),
            changes.targets,
            tuple(changes.swap.items()),
        )
        for name, changes in scenarios.cases.items()
    ]
    if scenarios.grid is not None:
        cases += _combined(scenarios.grid)
    if scenarios.draws is not None:
        cases += [drawn(scenarios.draws, number) for number in range(scenarios.draws.count)]
    return tuple(cases)


def _combined(grid: Grid) -> list[Case]:
    names = list(grid.prices)
    cases = []
    for prices in product(*grid.prices.values()):
        for share in grid.demand or (None,):
            changed = tuple(zip(names, prices, strict=True))
            parts = [f"{name} {change.text}" for name, change in changed]
            parts += [] if share is None else [f"demand {percent_text(share)}"]
            wanted = () if share is None else ((ALL_DRINKS, share),)
            cases.append(Case(", ".join(parts), "grid", changed, demand=wanted))
    return cases


def drawn(draws: Draws, number: int) -> Case:
    """Draw one case; it depends on the seed, its number and the ranges alone, not on how many there are.

    Parameters
    ----------
    number : int
        From 0.
    """
    random = np.random.default_rng([draws.seed, number])
    prices = tuple((name, _price(_value(random, given), given)) for name, given in draws.prices.items())
    demand = tuple((name, _value(random, given)) for name, given in draws.demand.items())
    return Case(f"draw {number + 1}", "draw", prices, demand=demand)


def _value(random: np.random.Generator, given: ChangeRange) -> float:
    return float(f"{random.uniform(given.lower, given.upper):.{DRAWN_DIGITS}g}")


def _price(value: float, given: ChangeRange) -> PriceChange:
    if not given.currency:
        return PriceChange(share=value, text=percent_text(value))
    per = f"/{given.per}" if given.per else ""
    money = Money(value, given.currency, given.per, f"{value:g} {given.currency}{per}")
    return PriceChange(price=money, text=money.text)


def ends_of(given: ChangeRange) -> tuple[PriceChange, PriceChange]:
    """Return the ends of a range of prices as changes."""
    return _price(given.lower, given), _price(given.upper, given)


def percent_text(share: float) -> str:
    """Write a share with its sign."""
    return f"{100.0 * share:+.4g} %"


def texts_of(case: Case) -> tuple[str, ...]:
    """Say what is otherwise, one line each."""
    lines = [f"{name} {change.text}" for name, change in case.prices]
    lines += [f"no {name}" for name in case.gone]
    for name, share in case.demand:
        if share == TAKEN_OFF:
            lines.append(f"without {name}")
        else:
            lines.append(f"{'demand' if name == ALL_DRINKS else name} {percent_text(share)}")
    lines += [f"{Path(file).stem} for {name}" for name, file in case.swap]
    if case.targets is not None:
        lines += [f"{name} {text}" for name, text in _targets(case.targets).items()]
    return tuple(lines)


def content_of(case: Case) -> dict[str, Any]:
    """Lay out what makes a case: two with the same content have the same answer, whatever their names."""
    return {
        "prices": sorted([name, change.share, *_money(change.price)] for name, change in case.prices),
        "gone": sorted(case.gone),
        "demand": sorted([name, share] for name, share in case.demand),
        "targets": {} if case.targets is None else _targets(case.targets),
        **({"swap": sorted(map(list, case.swap))} if case.swap else {}),
    }


def _money(price: Money | None) -> tuple[Any, ...]:
    return () if price is None else (price.value, price.currency, price.per or "")


def _targets(targets: Targets) -> Mapping[str, str]:
    """Return what is asked of each target that is set, as typed."""
    return {name: str(getattr(aim, "text", aim)) for name, aim in targets.given.items()}


def with_case(pantry: Pantry, case: Case) -> Pantry:
    """Give the pantry of one case.

    Parameters
    ----------
    pantry : Pantry
        As the files say.

    Raises
    ------
    CannotChangeError
        If a price cannot be changed so.
    """
    changed = pantry
    for name, change in case.prices:
        changed = replace(changed, shelf=repriced(changed, name, change))
    # What the house makes was worked out with the old prices: begin anew, with the shelves read already.
    return replace(
        changed,
        cache=PantryCache(shelves=dict(pantry.cache.shelves)),
        gone=gone_with_parts(pantry, case.gone),
        cost_aside=True,
    )


def refuse_not_bought(pantry: Pantry, name: str, listed: Iterable[str], *, is_menu: bool) -> None:
    """Refuse a name of what is gone that nobody knows here.

    Parameters
    ----------
    listed : iterable of str
        Ids of the bottle file.
    is_menu : bool
        Whether supplies are planned too.

    Raises
    ------
    CannotChangeError
    """
    shelf = pantry.shelf
    known = {*listed, *shelf.offers, *shelf.whole} if shelf is not None else set(listed)
    if shelf is not None and is_menu:
        known |= set(shelf.supplies)
    elif shelf is not None and name in shelf.supplies:
        raise CannotChangeError(f"{name} is a supply, and a bottle file takes none. Drop it.")
    if name not in known:
        raise CannotChangeError(f"'{name}' is not bought here. {did_you_mean(name, known)}".rstrip())


def with_targets(bottle: Bottle, case: Case) -> Bottle:
    """Put the targets of a case in place of those of a bottle file."""
    if case.targets is None:
        return bottle
    return bottle.model_copy(update={"targets": bottle.targets.with_those_of(case.targets)})


def drink_names(menu: Menu) -> tuple[str, ...]:
    """Name the drinks of a menu by their files, with as much of the folder as tells two of them apart.

    What the menu file says of the paths is all that counts, so that names are the same on any machine.
    """
    paths = [Path(normpath(entry.drink)).with_suffix("").parts for entry in menu.drinks]

    def name(parts: tuple[str, ...]) -> str:
        others = [other for other in paths if other != parts]
        for length in range(1, len(parts)):
            if all(other[-length:] != parts[-length:] for other in others):
                return "/".join(parts[-length:])
        return Path(*parts).as_posix()

    return tuple(map(name, paths))


def with_demand(menu: Menu, case: Case) -> Menu:
    """Sell more or less; what is said of one drink comes on top of what is said of all."""
    if not case.demand and not case.swap:
        return menu
    shares, swapped = dict(case.demand), dict(case.swap)
    everywhere = 1.0 + shares.get(ALL_DRINKS, 0.0)
    drinks = []
    for name, entry in zip(drink_names(menu), menu.drinks, strict=True):
        factor = everywhere * (1.0 + shares.get(name, 0.0))
        sells = replace(
            entry.sells,
            mean=entry.sells.mean * factor,
            spread=entry.sells.spread * factor,
            other_weeks=tuple(
                (week, mean * factor, spread * factor) for week, mean, spread in entry.sells.other_weeks
            ),
        )
        now = {"drink": swapped[name], "price": None} if name in swapped else {}
        drinks.append(entry.model_copy(update={"sells": sells, **now}))
    return menu.model_copy(update={"drinks": tuple(drinks)})


def refuse_strange(scenarios: Scenarios, subject: Subject) -> None:
    """Refuse names and prices that the bottle, menu and shelf do not know.

    Raises
    ------
    SpecError
        With all of them.
    """
    problems = Problems(scenarios.places)

    def price(path: KeyPath, name: str, change: PriceChange) -> None:
        try:
            repriced(subject.pantry, name, change)
        except CannotChangeError as error:
            problems.add(path, str(error))
        except SpecError as error:
            problems.add_from(path, error)

    menu = subject.file if isinstance(subject.file, Menu) else None
    drinks = drink_names(menu) if menu is not None else ()

    def demand(path: KeyPath, names: Sequence[str]) -> None:
        for name in names:
            if name != ALL_DRINKS and name not in drinks:
                text = f"no drink of that file on the menu. {did_you_mean(name, drinks)}".rstrip()
                problems.add((*path, name), text, key=True)

    listed = () if isinstance(subject.file, Menu) else tuple(use.id for use in subject.file.ingredients)
    for case, changes in scenarios.cases.items():
        for name, change in changes.prices.items():
            price(("cases", case, "prices", name), name, change)
        for number, name in enumerate(changes.gone):
            try:
                refuse_not_bought(subject.pantry, name, listed, is_menu=menu is not None)
            except CannotChangeError as error:
                problems.add(("cases", case, "gone", number), str(error))
        demand(("cases", case, "demand"), list(changes.demand))
        demand(("cases", case, "swap"), list(changes.swap))
        for number, name in enumerate(changes.off):
            if name not in drinks:
                text = f"no drink of that file on the menu. {did_you_mean(name, drinks)}".rstrip()
                problems.add(("cases", case, "off", number), text)
    for name, choices in scenarios.grid.prices.items() if scenarios.grid is not None else ():
        for number, change in enumerate(choices):
            price(("grid", "prices", name, number), name, change)
    if scenarios.draws is not None:
        for name, given in scenarios.draws.prices.items():
            price(("draws", "prices", name), name, ends_of(given)[0])
        demand(("draws", "demand"), list(scenarios.draws.demand))
    problems.raise_if_any()
