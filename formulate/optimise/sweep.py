"""One question at many values of one limit, each solved from the recipe at the value before.

The linear program is laid out once; from value to value only the bounds of one row move, so each solve
starts from the last basis and the last recipe. No proof is made: every point is locally cheapest, met to
the loop's own tolerance; a value where the loop finds nothing is asked whether it has any recipe.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from formulate.errors import InfeasibleError, NotConvergedError, VerificationError
from formulate.optimise.assembly import assemble
from formulate.optimise.diagnose import ANY_RECIPE
from formulate.optimise.live import LiveModel, Point, evaluate
from formulate.optimise.loop import LoopResult, improve_nearby
from formulate.optimise.problem import USED_KG_PER_L, BlendProblem
from formulate.optimise.proof import plainly_empty, prove
from formulate.optimise.search import cheapest
from formulate.optimise.settled import floors_of
from formulate.optimise.whole import Choices, WholeTerms

__all__ = ["CHOSEN_AT", "Found", "LimitMover", "SweepPoint", "sweep", "sweep_chosen"]

FloatArray = NDArray[np.float64]

SECONDS_PER_EMPTY_VALUE = 1.0
CHOSEN_AT = 5
SECONDS_PER_CHOICE = 3.0
"""What to use is settled at so many values, evenly spread, in so long each."""


class Found(StrEnum):
    """What was found at a value."""

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
    found : Found
    point : Point or None
        None unless a recipe was found.
    """

    lower: float
    upper: float
    found: Found
    point: Point | None


def sweep(problem: BlendProblem, number: int, bounds: Sequence[tuple[float, float]]) -> list[SweepPoint]:
    """Solve a question with one of its limits at one place after another.

    Parameters
    ----------
    problem : BlendProblem
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
    mover = LimitMover(problem, number)
    there = list(mover.along(bounds))
    if not mover.live.assembly.carries:
        return there
    back = list(mover.along(list(reversed(bounds))))
    return [_better(one, other) for one, other in zip(there, reversed(back), strict=True)]


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
    choices : Choices

    Returns
    -------
    list of SweepPoint
        One per pair, its columns those of `problem`.
    """
    if not bounds:
        return []
    plain = sweep(problem, number, bounds)
    sets: dict[tuple[int, ...], NDArray[np.bool_]] = {}
    found = [
        one if one.found is Found.NONE else SweepPoint(*bounds[k], Found.UNSETTLED, None)
        for k, one in enumerate(plain)
    ]
    for position in dict.fromkeys(np.linspace(0, len(bounds) - 1, CHOSEN_AT).round().astype(int).tolist()):
        if found[position].found is not Found.NONE:
            _choose(problem, choices, number, bounds, position, sets, found)
    for position, one in enumerate(found):
        if one.found is Found.UNSETTLED:
            _choose(problem, choices, number, bounds, position, sets, found)
    return found


def _choose(
    problem: BlendProblem,
    choices: Choices,
    number: int,
    bounds: Sequence[tuple[float, float]],
    position: int,
    sets: dict[tuple[int, ...], NDArray[np.bool_]],
    found: list[SweepPoint],
) -> None:
    """Settle what to use at one value, and move a set that is new along all of them."""
    from formulate.optimise.integers import solve_chosen

    limits = list(problem.limits)
    limits[number] = replace(limits[number], lower=bounds[position][0], upper=bounds[position][1])
    try:
        answer = solve_chosen(problem.asking(limits), choices, seconds=SECONDS_PER_CHOICE)
    except InfeasibleError:
        found[position] = SweepPoint(*bounds[position], Found.NONE, None)
        return
    except (NotConvergedError, VerificationError):
        return
    used = answer.masses_kg.sum(axis=0) / answer.volume_l > USED_KG_PER_L
    key = tuple(np.flatnonzero(used).tolist())
    if key in sets:
        return
    kept = sets[key] = used[problem.place_ingredient]
    floors = floors_of(WholeTerms(problem.volume_l or 1.0, choices=choices), used)
    few = replace(
        problem,
        place_ingredient=problem.place_ingredient[kept],
        place_step=problem.place_step[kept],
        limits=(*problem.limits, *floors),
    )
    for other, one in enumerate(sweep(few, number, bounds)):
        if one.point is not None:
            columns = np.zeros(problem.unknowns)
            columns[kept] = one.point.columns
            whole = replace(one, point=replace(one.point, columns=columns))
            found[other] = _better(found[other], whole)


class LimitMover:
    """One live model of which a limit is moved.

    Parameters
    ----------
    problem : BlendProblem
    number : int
        Which of its limits.
    """

    def __init__(self, problem: BlendProblem, number: int) -> None:
        self.live = LiveModel(assemble(problem))
        self.number = number
        self.row = int(self.live.assembly.limit_rows[number])

    def along(self, bounds: Sequence[tuple[float, float]]) -> Iterator[SweepPoint]:
        """Solve at each place in turn, each from the recipe before it."""
        last: Point | None = None
        for lower, upper in bounds:
            found = self.at(lower, upper, last)
            if found is not None:
                last = found
                yield SweepPoint(lower, upper, Found.RECIPE, found)
            else:
                yield self._without(lower, upper)

    def at(self, lower: float, upper: float, last: Point | None) -> Point | None:
        """Solve at one place, from a recipe nearby if there is one; None when the loop finds none."""
        self._move(lower, upper)
        result = self._solve(last)
        return result.point if result.converged else None

    def _move(self, lower: float, upper: float) -> None:
        assembly = self.live.assembly
        limits = list(assembly.problem.limits)
        limits[self.number] = replace(limits[self.number], lower=lower, upper=upper)
        self.live.assembly = replace(assembly, problem=assembly.problem.asking(limits))
        self.live.engine.set_row_limits(self.row, lower, upper)

    def _solve(self, last: Point | None) -> LoopResult:
        """Start from the recipe at the value before, else from scratch."""
        if last is not None:
            self.live.set_cost(self.live.assembly.cost)
            # Measured against the limit as it now stands: the loop takes a start that meets all for settled.
            here = evaluate(self.live.assembly, last.columns, last.batches, last.purchases)
            result = improve_nearby(self.live, here)
            if result.converged:
                return result
        if plainly_empty(self.live):
            return LoopResult(None, 1, False)
        return cheapest(self.live)

    def _without(self, lower: float, upper: float) -> SweepPoint:
        self.live.set_cost(self.live.assembly.cost)
        if plainly_empty(self.live):
            return SweepPoint(lower, upper, Found.NONE, None)
        proof = prove(self.live, None, gap=ANY_RECIPE, seconds=SECONDS_PER_EMPTY_VALUE)
        if proof.best is not None:
            return SweepPoint(lower, upper, Found.RECIPE, proof.best)
        return SweepPoint(lower, upper, Found.NONE if proof.complete else Found.UNSETTLED, None)


def _better(one: SweepPoint, other: SweepPoint) -> SweepPoint:
    if one.point is None or other.point is None:
        return other if one.point is None else one
    return other if other.point.cost_per_l < one.point.cost_per_l else one
