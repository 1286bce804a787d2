"""A plan bettered part by part: a bottle free at a time, the batches of all others as they are.

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
from formulate.optimise.stock.program import LaidOut
from formulate.optimise.stock.question import StockQuestion

__all__ = ["part_by_part"]

FloatArray = NDArray[np.float64]

BOTTLES, SECONDS_EACH = 1, 1.2
"""To begin with; once every part was tried in vain, one bottle more and twice the time."""
GAP = 5e-4
SEED = 1
BETTER = 1e-6


def part_by_part(
    question: StockQuestion,
    laid: LaidOut,
    found: LinearResult,
    seconds: float,
    is_settled: Callable[[], bool],
) -> LinearResult:
    """Better a plan for as long as there is time.

    Parameters
    ----------
    question : StockQuestion
    laid : LaidOut
        Its program.
    found : LinearResult
        A point of it.
    seconds : float
    is_settled : callable
        Whether nothing better is looked for any more; asked between parts.

    Returns
    -------
    LinearResult
        What is proved as it was.
    """
    until, model = perf_counter() + seconds, laid.model
    inside = _all_inside(question)
    bottles = [good for good in inside if good not in question.passed_on]
    order = np.random.default_rng(SEED)
    size, seconds_each = BOTTLES, SECONDS_EACH
    while True:
        is_better = False
        for position in order.permutation(len(bottles)):
            left = until - perf_counter()
            if left < 1.0 or is_settled():
                return found
            first = bottles[position]
            # With it, where it is not alone, those that share most with it.
            others = [other for other in bottles if other != first]
            near = sorted(others, key=lambda other: -len(inside[other] & inside[first]) + order.random())
            free = {first, *near[: size - 1]}
            part = _part(question, laid, found.values, free, set().union(*(inside[one] for one in free)))
            start = {int(one): float(np.round(found.values[one])) for one in np.flatnonzero(model.whole)}
            answer = solve_model(part, seconds=min(seconds_each, left), gap=GAP, start=start)
            if answer.values.size and answer.objective < found.objective - BETTER * abs(found.objective):
                found = replace(found, values=answer.values, objective=answer.objective)
                is_better = True
        if not is_better:
            if size >= len(bottles):
                return found
            size, seconds_each = size + 1, 2.0 * seconds_each


def _part(
    question: StockQuestion,
    laid: LaidOut,
    values: FloatArray,
    free: set[int],
    touched: set[int],
) -> LinearModel:
    """Leave bottles and what goes into them free; the batches and packs of everything else stay."""
    model = laid.model
    lower, upper = model.column_lower.copy(), model.column_upper.copy()
    kept = [
        column for (number, _), column in laid.batches.items() if question.makings[number].good not in free
    ]
    kept += [
        column
        for (number, _), column in laid.packs.items()
        if not question.packs[number].thing.is_purchase
        and question.packs[number].thing.number not in touched
        and model.whole[column]
    ]
    lower[kept] = upper[kept] = np.round(values[kept])
    return replace(model, column_lower=lower, column_upper=upper)


def _all_inside(question: StockQuestion) -> dict[int, set[int]]:
    """Return what goes into each good that is made, what goes into its parts among it."""
    found: dict[int, set[int]] = {}
    for making in question.makings:
        found.setdefault(making.good, set()).update(good for good, _ in making.uses)

    def inside(good: int) -> set[int]:
        parts = found.get(good, set())
        return parts.union(*(inside(part) for part in parts))

    return {good: inside(good) for good in found}
