"""A plan bettered part by part: a few bottles free at a time, the batches of all others as they are.

With several recipes for every bottle the whole program is too large to search well in a minute. What it has
proved by then still holds; here only better plans are looked for.
"""

from __future__ import annotations

from dataclasses import replace
from time import perf_counter

import numpy as np

from formulate.optimise.linear import LinearResult
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.stock.program import LaidOut
from formulate.optimise.stock.question import StockQuestion

__all__ = ["part_by_part"]

BOTTLES = 4
PARTS_OF_TIME = 15
GAP = 5e-4
SEED = 1
BETTER = 1e-6


def part_by_part(question: StockQuestion, laid: LaidOut, found: LinearResult, seconds: float) -> LinearResult:
    """Better a plan for as long as there is time and every part has not been tried in vain.

    Parameters
    ----------
    question : StockQuestion
    laid : LaidOut
        Its program.
    found : LinearResult
        A point of it, and what is proved.
    seconds : float

    Returns
    -------
    LinearResult
        The bound as it was.
    """
    began, model = perf_counter(), laid.model
    users: dict[int, set[int]] = {}
    for making in question.makings:
        users.setdefault(making.good, set()).update(good for good, _ in making.uses)
    bottles = list(users)
    order = np.random.default_rng(SEED)
    values, best, waiting, in_vain = found.values, found.objective, list[int](), 0
    while (left := seconds - (perf_counter() - began)) > 1.0 and in_vain * BOTTLES < 2 * len(bottles):
        if not waiting:
            waiting = [bottles[position] for position in order.permutation(len(bottles))]
        first = waiting.pop()
        # With it those that share most with it.
        near = sorted(bottles, key=lambda other: -len(users[other] & users[first]) + order.random())
        free = {first, *near[:BOTTLES]}
        touched = set().union(*(users[bottle] for bottle in free))
        lower, upper = model.column_lower.copy(), model.column_upper.copy()
        kept = [
            column
            for (number, _), column in laid.batches.items()
            if question.makings[number].good not in free
        ]
        kept += [
            column
            for (number, _), column in laid.packs.items()
            if not question.packs[number].thing.is_purchase
            and question.packs[number].thing.number not in touched
            and model.whole[column]
        ]
        lower[kept] = upper[kept] = np.round(values[kept])
        start = {int(column): float(np.round(values[column])) for column in np.flatnonzero(model.whole)}
        part = replace(model, column_lower=lower, column_upper=upper)
        answer = solve_model(part, seconds=min(max(seconds / PARTS_OF_TIME, 1.0), left), gap=GAP, start=start)
        if answer.values.size and answer.objective < best - BETTER * abs(best):
            values, best, in_vain = answer.values, answer.objective, 0
        else:
            in_vain += 1
    return replace(found, values=values, objective=best)
