"""What limits cost and when an unused ingredient would come in, confirmed by solving again.

The prices a linear program gives hold at one point. Here each is held against the true nonlinear optimum:
a limit's price against the costs with its bound a little lower and a little higher, then as far as the price
keeps; an ingredient's entry price against recipes just below and just above it. All by the loop alone,
warm-started from the answer, so they are local: of the recipe that was found, not of some other one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.answer import Answer
from formulate.optimise.assembly import assemble
from formulate.optimise.point import Point
from formulate.optimise.problem import BlendProblem, Limit, Over
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import run_slp_near
from formulate.optimise.solve import start_of
from formulate.optimise.sweep import LimitMover
from formulate.optimise.tolerances import (
    AT_BOUND,
    ENTRY_MARGIN,
    NO_PRICE,
    ONE_PRICE,
    PRICE_HOLDS,
    PRICE_STEP,
    USED_KG_PER_L,
)

__all__ = [
    "EntryPrice",
    "LimitPrice",
    "Repricer",
    "entry_prices",
    "limit_prices",
    "mass_of",
    "priced",
    "unused",
]

FloatArray = NDArray[np.float64]

FIRST_REACH, FARTHEST = 2e-3, 0.6
"""How far from a bound the range of its price is looked for, relative to the bound's size."""

REFINEMENTS = 6
HALVINGS = 12


@dataclass(frozen=True)
class LimitPrice:
    """What one bound of a limit costs.

    Attributes
    ----------
    number : int
        Which limit of the problem.
    is_lower : bool
        Which of its bounds the recipe stands at.
    bound : float
        Where it stands, in the limit's unit.
    below, above : float or None
        Change of the cost per litre for one unit more of the bound, measured to either side; None where there
        is no recipe on that side.
    low, high : float or None
        How far down and up the price holds, in the limit's unit; None where no recipe is on that side.
    low_open, high_open : bool
        Whether it was not looked further, so that it may hold beyond.
    """

    number: int
    is_lower: bool
    bound: float
    below: float | None
    above: float | None
    low: float | None
    high: float | None
    low_open: bool = False
    high_open: bool = False

    @property
    def unique(self) -> bool:
        """Whether both sides give one price."""
        if self.below is None or self.above is None:
            return False
        size = max(abs(self.below), abs(self.above))
        return abs(self.below - self.above) <= ONE_PRICE * size + NO_PRICE


@dataclass(frozen=True)
class EntryPrice:
    """At what price an unused ingredient would come in.

    Attributes
    ----------
    ingredient : int
        Position among the problem's.
    price_per_kg : float
        Now.
    entry_per_kg : float or None
        Below this it comes in; None when it would not even for nothing.
    mass_kg_l : float
        How much of it then, just below.
    """

    ingredient: int
    price_per_kg: float
    entry_per_kg: float | None
    mass_kg_l: float


def limit_prices(answer: Answer) -> tuple[LimitPrice, ...]:
    """Price every bound the recipe stands at and whose unit a person knows."""
    prices = []
    for number, value in enumerate(answer.limits):
        limit = value.limit
        if not value.binding or limit.soft or not np.isfinite(limit.display):
            continue
        near = 2.0 * AT_BOUND * limit.scale
        inner = value.value / limit.display
        if inner - limit.lower <= near:
            prices.append(_LimitPricer(answer, number, is_lower=True).price())
        if limit.upper - inner <= near and limit.upper > limit.lower:
            prices.append(_LimitPricer(answer, number, is_lower=False).price())
    return tuple(prices)


class _LimitPricer:
    """Prices one bound; used once."""

    def __init__(self, answer: Answer, number: int, *, is_lower: bool) -> None:
        problem = answer.problem
        self.mover = LimitMover(problem, number)
        self.start = start_of(answer, self.mover.program)
        self.limit: Limit = problem.limits[number]
        self.number, self.is_lower = number, is_lower
        self.bound = self.limit.lower if is_lower else self.limit.upper
        self.here = self._cost(0.0)

    def price(self) -> LimitPrice:
        display = self.limit.display
        below, above = (self._slope(sign * PRICE_STEP * self.limit.scale) for sign in (-1.0, 1.0))
        low, low_open = (None, False) if below is None else self._holds(-1.0, below)
        high, high_open = (None, False) if above is None else self._holds(1.0, above)
        return LimitPrice(
            number=self.number,
            is_lower=self.is_lower,
            bound=self.bound * display,
            below=None if below is None else below / display,
            above=None if above is None else above / display,
            low=None if low is None else (self.bound + low) * display,
            high=None if high is None else (self.bound + high) * display,
            low_open=low_open,
            high_open=high_open,
        )

    def _cost(self, shift: float) -> float | None:
        lower, upper = self.limit.lower, self.limit.upper
        both = lower == upper
        if self.is_lower:
            lower, upper = lower + shift, upper + shift if both else max(upper, lower + shift)
        else:
            lower, upper = min(lower, upper + shift), upper + shift
        point = self.mover.at(lower, upper, self.start)
        return None if point is None else point.cost_per_l

    def _slope(self, shift: float) -> float | None:
        cost = self._cost(shift)
        return None if cost is None or self.here is None else (cost - self.here) / shift

    def _holds(self, sign: float, price: float) -> tuple[float, bool]:
        """Go away from the bound until the price no longer holds; say whether it was not looked further."""
        scale = self.limit.scale
        good, step = 0.0, FIRST_REACH
        # A bound above nothing stays above it.
        end = FARTHEST if sign > 0.0 or self.bound <= 0.0 else min(FARTHEST, self.bound / scale)
        while step <= end and self._keeps(sign * step * scale, price):
            good, step = step, 2.0 * step
        if step > end:
            return sign * good * scale, True
        bad = step
        for _ in range(REFINEMENTS):
            middle = (good + bad) / 2.0
            if self._keeps(sign * middle * scale, price):
                good = middle
            else:
                bad = middle
        return sign * good * scale, False

    def _keeps(self, shift: float, price: float) -> bool:
        slope = self._slope(shift)
        return (
            slope is not None and abs(slope - price) <= PRICE_HOLDS * abs(price) + NO_PRICE / self.limit.scale
        )


def entry_prices(answer: Answer) -> tuple[EntryPrice, ...]:
    """Find at what price each unused ingredient would come in.

    Returns
    -------
    tuple of EntryPrice
        In the order of the problem; without what costs nothing and what is paid for as part of a whole thing.
    """
    problem = answer.problem
    repricer = Repricer(answer)
    entries = []
    for ingredient in unused(answer):
        price = float(problem.price_per_kg[ingredient])
        if not price > 0.0:
            continue
        columns = np.flatnonzero(problem.place_ingredient == ingredient)
        saving = float(np.min(answer.reduced_costs[columns]))
        if np.isfinite(saving):
            entries.append(_entry(repricer, ingredient, price, price - saving))
    return tuple(entries)


def unused(answer: Answer) -> list[int]:
    """Return the ingredients that may be used and are not, but for parts of things that are bought whole."""
    problem = answer.problem
    totals: FloatArray = answer.masses_kg.sum(axis=0)
    used = np.greater(totals, USED_KG_PER_L * answer.volume_l)
    # Nothing is a part where nothing is bought whole.
    parts = np.greater(problem.yields.sum(axis=0), 0.0)
    candidates = np.unique(problem.place_ingredient)
    return [int(number) for number in candidates if not (used[number] or parts[number])]


def _entry(repricer: Repricer, ingredient: int, price: float, guess: float) -> EntryPrice:
    """Confirm an entry price by solving just below and just above it; else halve the interval around it."""

    def mass_at(price_per_kg: float) -> float:
        return mass_of(repricer.answer.problem, repricer.at(ingredient, price_per_kg), ingredient)

    if guess > 0.0:
        below = mass_at(guess * (1.0 - ENTRY_MARGIN))
        above = mass_at(min(guess * (1.0 + ENTRY_MARGIN), price))
        if below > USED_KG_PER_L >= above:
            return EntryPrice(ingredient, price, guess, below)
    low, high = 0.0, price
    mass = mass_at(low)
    if not mass > USED_KG_PER_L:
        return EntryPrice(ingredient, price, None, 0.0)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        there = mass_at(middle)
        if there > USED_KG_PER_L:
            low, mass = middle, there
        else:
            high = middle
    return EntryPrice(ingredient, price, low, mass)


def priced(problem: BlendProblem, ingredient: int, price_per_kg: float) -> BlendProblem:
    """Return the same question with another price of one ingredient."""
    prices = problem.price_per_kg.copy()
    prices[ingredient] = price_per_kg
    return replace(problem, price_per_kg=prices)


class Repricer:
    """One live model of an answer's question in which the price of one thing at a time is changed."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer
        self.program = BlendProgram(assemble(answer.problem))
        self._asked = self.program.assembly
        self._changed: int | None = None

    def at(self, ingredient: int, price_per_kg: float) -> Point | None:
        """Solve from the answer with another price of one ingredient, all others as they were.

        Returns
        -------
        Point or None
            None when the loop does not settle.
        """
        if self._changed is not None:
            self._set(self._changed, float(self.answer.problem.price_per_kg[self._changed]))
        self._set(ingredient, price_per_kg)
        self._changed = ingredient
        result = run_slp_near(self.program, start_of(self.answer, self.program))
        return result.point if result.converged else None

    def _set(self, ingredient: int, price_per_kg: float) -> None:
        problem, asked = self._asked.problem, self._asked
        cost = asked.cost.copy()
        columns = np.flatnonzero(problem.place_ingredient == ingredient).astype(np.int32)
        if problem.money_counts:
            cost[columns] = price_per_kg
        for limit, row in zip(problem.limits, asked.limit_rows, strict=True):
            if limit.over is Over.COST:
                self.program.engine.set_coefficients(int(row), columns, np.full(len(columns), price_per_kg))
        repriced = priced(problem, ingredient, price_per_kg)
        self.program.assembly = replace(asked, problem=repriced, model=replace(asked.model, cost=cost))
        self.program.set_cost(cost)


def mass_of(problem: BlendProblem, point: Point | None, ingredient: int) -> float:
    """How much of an ingredient goes in, kg per litre; nothing where there is no recipe."""
    return 0.0 if point is None else float(point.columns[problem.place_ingredient == ingredient].sum())
