"""One question at many values of one limit, each solved from the recipe at the value before.

The linear program is laid out once; from value to value only the bounds of one row move, so each solve
starts from the last basis and the last recipe. No proof is made: every point is locally cheapest, met to
the loop's own tolerance; a value where the loop finds nothing is asked whether it has any recipe.

Values without a recipe nearly always lie at the ends. So one proof is tried for a whole end: that no recipe
meets the limit there or anywhere beyond, away from where one was found. Only where that does not come off,
because some recipe lies beyond or time is short, is a value proved on its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from formulate.errors import InfeasibleError, NotConvergedError, VerificationError
from formulate.optimise.assembly import assemble
from formulate.optimise.disjunctions import every_case
from formulate.optimise.mip.integer_terms import Choices
from formulate.optimise.point import Point, evaluate
from formulate.optimise.problem import BlendProblem, limit_value
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import run_slp_near
from formulate.optimise.solve import multistart
from formulate.optimise.tolerances import GAP_ANY_RECIPE, USED_KG_PER_L
from formulate.optimise.tree.proof import is_infeasible_at_root, prove
from formulate.optimise.watch import is_stopped, tell

__all__ = ["CHOSEN_AT", "LimitMover", "SweepPoint", "SweepStatus", "sweep", "sweep_chosen"]


SECONDS_PER_EMPTY_VALUE = 1.0
CHOSEN_AT = 5
SECONDS_PER_CHOICE = 3.0
"""What to use is settled at so many values, evenly spread, in so long each."""


class SweepStatus(StrEnum):
    """What is known of a value."""

    RECIPE = "recipe"
    NONE = "no recipe"
    """Proved: no recipe meets every limit."""
    UNSETTLED = "not settled"
    """Neither a recipe nor a proof that there is none."""


@dataclass(frozen=True)
class SweepPoint:
    """The answer at one value.

    Attributes
    ----------
    lower, upper : float
        Bounds of the limit that is moved, internal units.
    point : Point or None
        None unless a recipe was found.
    """

    lower: float
    upper: float
    status: SweepStatus
    point: Point | None


def sweep(problem: BlendProblem, number: int, bounds: Sequence[tuple[float, float]]) -> list[SweepPoint]:
    """Solve a question with one of its limits at one place after another.

    Parameters
    ----------
    number : int
        Which of its limits is moved.
    bounds : sequence of (float, float)
        Lower and upper bound, in the limit's internal units, one pair per point, in order.

    Returns
    -------
    list of SweepPoint
        One per pair.

    Notes
    -----
    It goes there and back again: where a step is bilinear the loop may end in another local optimum from
    the other side, and the cheaper of the two is kept.
    """
    if not bounds:
        return []
    if problem.disjunctions:
        return _over_cases(problem, lambda case: sweep(case, number, bounds))
    mover = LimitMover(problem, number)
    there = mover.along(bounds)
    if not mover.program.assembly.carries:
        return there
    back = mover.along(list(reversed(bounds)))
    return [_better(up, down) for up, down in zip(there, reversed(back), strict=True)]


def sweep_chosen(
    problem: BlendProblem, choices: Choices, number: int, bounds: Sequence[tuple[float, float]]
) -> list[SweepPoint]:
    """Do the same where choices of what is used must be kept.

    What to use is settled with proof at a few values on the way. Each set of ingredients found there is then
    moved along all values, and the cheapest kept: between those values another set might be cheaper still.

    Parameters
    ----------
    problem, number, bounds
        As for `sweep`.

    Returns
    -------
    list of SweepPoint
        One per pair, its columns those of `problem`.
    """
    if not bounds:
        return []
    if problem.disjunctions:
        return _over_cases(problem, lambda case: sweep_chosen(case, choices, number, bounds))
    plain = sweep(problem, number, bounds)
    sets: dict[tuple[int, ...], NDArray[np.bool_]] = {}
    points = [
        point if point.status is SweepStatus.NONE else SweepPoint(*bounds[place], SweepStatus.UNSETTLED, None)
        for place, point in enumerate(plain)
    ]
    for position in dict.fromkeys(np.linspace(0, len(bounds) - 1, CHOSEN_AT).round().astype(int).tolist()):
        if points[position].status is not SweepStatus.NONE:
            _choose(problem, choices, number, bounds, position, sets, points)
    for position, point in enumerate(points):
        if point.status is SweepStatus.UNSETTLED:
            _choose(problem, choices, number, bounds, position, sets, points)
    return points


def _over_cases(problem: BlendProblem, moved: Callable[[BlendProblem], list[SweepPoint]]) -> list[SweepPoint]:
    """Move the limit in every way to keep the disjunctions, and keep the cheapest at each value."""
    best: list[SweepPoint] = []
    for case in every_case(problem):
        points = [
            point if point.point is None else _in_columns_of(problem, case, point) for point in moved(case)
        ]
        best = [_better(*pair) for pair in zip(best, points, strict=True)] if best else points
    return best


def _in_columns_of(problem: BlendProblem, case: BlendProblem, point: SweepPoint) -> SweepPoint:
    assert point.point is not None
    columns = case.masses(point.point.columns)[problem.place_step, problem.place_ingredient]
    return replace(point, point=replace(point.point, columns=columns))


def _choose(
    problem: BlendProblem,
    choices: Choices,
    number: int,
    bounds: Sequence[tuple[float, float]],
    position: int,
    sets: dict[tuple[int, ...], NDArray[np.bool_]],
    points: list[SweepPoint],
) -> None:
    """Settle what to use at one value, and move a set that is new along all of them."""
    from formulate.optimise.mip.solve import solve_with_choices

    limits = list(problem.limits)
    limits[number] = replace(limits[number], lower=bounds[position][0], upper=bounds[position][1])
    try:
        answer = solve_with_choices(problem.asking(limits), choices, seconds=SECONDS_PER_CHOICE)
    except InfeasibleError:
        points[position] = SweepPoint(*bounds[position], SweepStatus.NONE, None)
        return
    except (NotConvergedError, VerificationError):
        return
    used = answer.masses_kg.sum(axis=0) / answer.volume_l > USED_KG_PER_L
    key = tuple(np.flatnonzero(used).tolist())
    if key in sets:
        return
    chosen = sets[key] = used[problem.place_ingredient]
    few = replace(
        problem,
        place_ingredient=problem.place_ingredient[chosen],
        place_step=problem.place_step[chosen],
        limits=(*problem.limits, *choices.minimum_dose_limits(used)),
    )
    for place, moved in enumerate(sweep(few, number, bounds)):
        if moved.point is not None:
            columns = np.zeros(problem.unknowns)
            columns[chosen] = moved.point.columns
            whole = replace(moved, point=replace(moved.point, columns=columns))
            points[place] = _better(points[place], whole)


class LimitMover:
    """One live model of which a limit is moved.

    Parameters
    ----------
    number : int
        Which of its limits.
    """

    def __init__(self, problem: BlendProblem, number: int) -> None:
        self.program = BlendProgram(assemble(problem))
        self.number = number
        self.row = int(self.program.assembly.limit_rows[number])
        self._empty: list[tuple[float, float]] = []
        self._in_vain: set[tuple[float, float]] = set()

    def along(self, bounds: Sequence[tuple[float, float]]) -> list[SweepPoint]:
        """Solve at each place, each from the recipe before it, from the first place that has one.

        What lies before that is looked at last, going back from it.
        """
        first, start = self._start(bounds)
        points: dict[int, SweepPoint] = {}
        if start is not None:
            points[first] = SweepPoint(*bounds[first], SweepStatus.RECIPE, start)
        else:
            lower, upper = np.array(bounds).T
            self._prove_empty(float(lower.min()), float(upper.max()))
        for order in (range(first, len(bounds)), reversed(range(first))):
            last = start
            for place in order:
                if place not in points and is_stopped():
                    points[place] = SweepPoint(*bounds[place], SweepStatus.UNSETTLED, None)
                elif place not in points:
                    points[place] = self._beside(*bounds[place], last)
                last = points[place].point or last
                tell("trying values", done=len(points), count=len(bounds))
        return [points[place] for place in range(len(bounds))]

    def at(self, lower: float, upper: float, last: Point | None) -> Point | None:
        """Solve at one place, from a recipe nearby if there is one; None when the loop finds none."""
        near = None if last is None else self._from(lower, upper, last)
        return near or self._from_scratch(lower, upper)

    def _start(self, bounds: Sequence[tuple[float, float]]) -> tuple[int, Point | None]:
        """Look for the first place with a recipe: by leaps that double, then by halving the last of them."""
        before, place, leap = -1, 0, 1
        while (start := self._from_scratch(*bounds[place])) is None:
            if place == len(bounds) - 1:
                return 0, None
            before, place, leap = place, min(place + leap, len(bounds) - 1), 2 * leap
        while place - before > 1:
            middle = (before + place) // 2
            point = self._from_scratch(*bounds[middle])
            before, place, start = (middle, place, start) if point is None else (before, middle, point)
        return place, start

    def _beside(self, lower: float, upper: float, last: Point | None) -> SweepPoint:
        """Solve at one place from a recipe nearby; where there is none, prove it."""
        if self._known_empty(lower, upper):
            return SweepPoint(lower, upper, SweepStatus.NONE, None)
        point = self.at(lower, upper, last)
        if point is None and last is not None:
            self._prove_beyond(lower, upper, last)
        point = point or self._prove_empty(lower, upper)
        if point is not None:
            return SweepPoint(lower, upper, SweepStatus.RECIPE, point)
        is_empty = self._known_empty(lower, upper)
        return SweepPoint(lower, upper, SweepStatus.NONE if is_empty else SweepStatus.UNSETTLED, None)

    def _from(self, lower: float, upper: float, last: Point) -> Point | None:
        """Solve at one place from a recipe nearby."""
        self._move(lower, upper)
        self.program.set_cost(self.program.assembly.cost)
        # Measured against the limit as it now stands: the loop takes a start that meets all for settled.
        here = evaluate(self.program.assembly, last.columns, last.batches, last.purchases)
        result = run_slp_near(self.program, here)
        return result.point if result.converged else None

    def _from_scratch(self, lower: float, upper: float) -> Point | None:
        """Solve at one place as if it were the only one."""
        if (lower, upper) in self._in_vain or self._known_empty(lower, upper):
            return None
        self._move(lower, upper)
        if is_infeasible_at_root(self.program):
            self._empty.append((lower, upper))
            return None
        result = multistart(self.program)
        if result.converged:
            return result.point
        self._in_vain.add((lower, upper))
        return None

    def _known_empty(self, lower: float, upper: float) -> bool:
        """Whether no recipe was proved to lie in some range that holds this one."""
        return any(low <= lower and upper <= high for low, high in self._empty)

    def _prove_beyond(self, lower: float, upper: float, last: Point) -> None:
        """Try to prove that no recipe lies at a place or further away from a recipe that does not meet it."""
        value = self._value(last)
        if lower > value:
            self._prove_empty(lower, np.inf)
        elif upper < value:
            self._prove_empty(-np.inf, upper)

    def _value(self, point: Point) -> float:
        problem = self.program.assembly.problem
        used = problem.masses(point.columns).sum(axis=0)
        return limit_value(problem.limits[self.number], point.run.bottled, used, point.batches, point.money)

    def _prove_empty(self, lower: float, upper: float) -> Point | None:
        """Try to prove that no recipe lies in a range, and remember it; return one met on the way."""
        if self._known_empty(lower, upper):
            return None
        self._move(lower, upper)
        self.program.set_cost(self.program.assembly.cost)
        proof = prove(self.program, None, gap=GAP_ANY_RECIPE, seconds=SECONDS_PER_EMPTY_VALUE)
        if proof.best is None and proof.complete:
            self._empty.append((lower, upper))
        return proof.best

    def _move(self, lower: float, upper: float) -> None:
        assembly = self.program.assembly
        limits = list(assembly.problem.limits)
        limits[self.number] = replace(limits[self.number], lower=lower, upper=upper)
        self.program.assembly = replace(assembly, problem=assembly.problem.asking(limits))
        self.program.engine.set_row_limits(self.row, lower, upper)


def _better(point: SweepPoint, other: SweepPoint) -> SweepPoint:
    if point.point is None and other.point is None:
        return other if point.status is SweepStatus.NONE else point
    if point.point is None or other.point is None:
        return other if point.point is None else point
    return other if other.point.cost_per_l < point.point.cost_per_l else point
