"""Cases: those written out, every combination of a grid, and draws from ranges."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from typing import Any, Literal

import numpy as np

from formulate.files.bottle import Targets
from formulate.files.scenarios import ALL_DRINKS, Draws, Grid, Scenarios
from formulate.quantity import Money
from formulate.quantity.changes import ChangeRange, PriceChange

__all__ = ["Case", "cases_of", "content_of", "drawn", "ends_of", "percent_text", "texts_of"]

Kind = Literal["case", "grid", "draw"]
DRAWN_DIGITS = 6
"""Significant digits of what is drawn: more could not be told apart, and fewer could be written down."""


@dataclass(frozen=True)
class Case:
    """One world that differs from the files.

    Attributes
    ----------
    name : str
    kind : str
        Where it comes from: `case`, `grid` or `draw`.
    prices : tuple of (str, PriceChange)
    gone : tuple of str
    demand : tuple of (str, float)
        By the name of a drink's file, or `ALL_DRINKS`; a share.
    targets : Targets or None
        In place of those of the bottle file where they say something.
    """

    name: str
    kind: Kind
    prices: tuple[tuple[str, PriceChange], ...] = ()
    gone: tuple[str, ...] = ()
    demand: tuple[tuple[str, float], ...] = ()
    targets: Targets | None = None


def cases_of(scenarios: Scenarios) -> tuple[Case, ...]:
    """List every case of a file: written out, combined, drawn, in this order."""
    cases = [
        Case(
            name,
            "case",
            tuple(changes.prices.items()),
            changes.gone,
            tuple(changes.demand.items()),
            changes.targets,
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
            told = [f"{name} {change.text}" for name, change in changed]
            told += [] if share is None else [f"demand {percent_text(share)}"]
            wanted = () if share is None else ((ALL_DRINKS, share),)
            cases.append(Case(", ".join(told), "grid", changed, demand=wanted))
    return cases


def drawn(draws: Draws, number: int) -> Case:
    """Draw one case; it depends on the seed, its number and the ranges alone, not on how many there are.

    Parameters
    ----------
    draws : Draws
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
        lines.append(
            f"demand {percent_text(share)}" if name == ALL_DRINKS else f"{name} {percent_text(share)}"
        )
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
    }


def _money(price: Money | None) -> tuple[Any, ...]:
    return () if price is None else (price.value, price.currency, price.per or "")


def _targets(targets: Targets) -> Mapping[str, str]:
    """Return what is asked of each target that is set, as typed."""
    given: dict[str, Any] = {**targets.bands(), "bitterness": targets.bitterness, "cost": targets.cost}
    told = {name: str(getattr(value, "text", value)) for name, value in given.items() if value is not None}
    if targets.category is not None:
        told["category"] = str(getattr(targets.category, "text", targets.category))
    return told
