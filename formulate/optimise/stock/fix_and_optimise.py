"""Fix and optimise: a plan bettered part by part, a bottle free at a time, all other batches as they are.

The program of a large menu cannot be searched well in a minute. Here only better plans are looked for, while
the proof goes on beside.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.linear import LinearModel, LinearResult
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.stock.program import StockProgram
from formulate.optimise.stock.question import StockQuestion
from formulate.optimise.tolerances import BETTER_PLAN, GAP_PART

__all__ = ["fix_and_optimise"]

FloatArray = NDArray[np.float64]

BOTTLES, SECONDS_EACH = 1, 1.2
"""To begin with; once every part was tried in vain, one bottle more and twice the time."""
SEED = 1


def fix_and_optimise(
    question: StockQuestion,
    program: StockProgram,
    best: LinearResult,
    seconds: float,
    is_settled: Callable[[], bool],
) -> LinearResult:
    """Better a plan for as long as there is time.

    Parameters
    ----------
    program : StockProgram
        Its program.
    best : LinearResult
        A point of it.
    is_settled : callable
        Whether nothing better is looked for any more; asked between parts.

    Returns
    -------
    LinearResult
        What is proved as it was.
    """
    until, model = perf_counter() + seconds, program.model
    inside = _all_inside(question)
    bottles = [good for good in inside if good not in question.passed_on]
    order = np.random.default_rng(SEED)
    size, seconds_each = BOTTLES, SECONDS_EACH
    while True:
        is_better = False
        for position in order.permutation(len(bottles)):
            left = until - perf_counter()
            if left < 1.0 or is_settled():
                return best
            first = bottles[position]
            # With it, where it is not alone, those that share most with it.
            others = [other for other in bottles if other != first]
            near = sorted(others, key=lambda other: -len(inside[other] & inside[first]) + order.random())
            free = {first, *near[: size - 1]}
            touched = set().union(*(inside[bottle] for bottle in free))
            part = _part(question, program, best.values, free, touched)
            start = {
                int(column): float(np.round(best.values[column])) for column in np.flatnonzero(model.integer)
            }
            answer = solve_model(part, seconds=min(seconds_each, left), gap=GAP_PART, start=start)
            if answer.values.size and answer.objective < best.objective - BETTER_PLAN * abs(best.objective):
                best = replace(best, values=answer.values, objective=answer.objective)
                is_better = True
        if not is_better:
            if size >= len(bottles):
                return best
            size, seconds_each = size + 1, 2.0 * seconds_each


def _part(
    question: StockQuestion,
    program: StockProgram,
    values: FloatArray,
    free: set[int],
    touched: set[int],
) -> LinearModel:
    """Leave bottles and what goes into them free; the batches and packs of everything else stay."""
    model = program.model
    lower, upper = model.column_lower.copy(), model.column_upper.copy()
    fixed = [
        column for (number, _), column in program.batches.items() if question.makings[number].good not in free
    ]
    fixed += [
        column
        for (number, _), column in program.packs.items()
        if not question.packs[number].thing.is_purchase
        and question.packs[number].thing.number not in touched
        and model.integer[column]
    ]
    lower[fixed] = upper[fixed] = np.round(values[fixed])
    return replace(model, column_lower=lower, column_upper=upper)


def _all_inside(question: StockQuestion) -> dict[int, set[int]]:
    """Return what goes into each good that is made, what goes into its parts among it."""
    parts: dict[int, set[int]] = {}
    for making in question.makings:
        parts.setdefault(making.good, set()).update(good for good, _ in making.uses)

    def inside(good: int) -> set[int]:
        own = parts.get(good, set())
        return own.union(*(inside(part) for part in own))

    return {good: inside(good) for good in parts}
