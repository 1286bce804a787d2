"""What things that do not keep cost at the least, bought in whole packs week by week.

Of such a thing alone, at some price for what batches take of it, the cheapest buying is a small program of
its own. What it comes to bounds the money of every plan from below, whatever recipes and batches it has: a
row for the large program. Of the prices those are tried at which the answer changes.
"""

from __future__ import annotations

from dataclasses import replace
from time import perf_counter

import numpy as np

from formulate.optimise.linear import LinearModel, RowBuilder
from formulate.optimise.mip.packs import Thing, cheapest_per_kg
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.stock.program import LaidOut, lay_out
from formulate.optimise.stock.question import Good, Making, StockQuestion

__all__ = ["with_lot_costs"]

SECONDS_EACH = 1.0
PRICES = 7
"""Tried of each thing at most."""
SLACK = 1e-6
"""Share by which a row is held back, for what solvers round."""


def with_lot_costs(question: StockQuestion, laid: LaidOut, seconds: float) -> LinearModel:
    """Add rows on the money for what does not keep.

    Parameters
    ----------
    question : StockQuestion
    laid : LaidOut
        Its program.
    seconds : float
        No more things are looked at after this.

    Returns
    -------
    LinearModel
        The same where there is nothing to say.
    """
    began, rows = perf_counter(), RowBuilder()
    in_parts = {part for split in question.splits for part, _ in split.parts}
    made_here = {making.good for making in question.makings}
    for good in range(len(question.goods)):
        own = [number for number, pack in enumerate(question.packs) if pack.thing == Thing(False, good)]
        if question.is_lasting(good) or good in in_parts | made_here or not own:
            continue
        if any(question.packs[number].loose for number in own) or perf_counter() - began > seconds:
            continue
        spent = {
            column: question.packs[number].price
            for (number, _), column in laid.packs.items()
            if number in own
        }
        taken = [column for (other, _), column in laid.used.items() if other == good]
        for money, per_kg in _lines(question, laid, good, own, takes=bool(taken)):
            entries = {**spent, **dict.fromkeys(taken, -per_kg)}
            rows.add(list(entries), np.array(list(entries.values())), money, np.inf)
    return laid.model.with_rows(rows) if len(rows) else laid.model


def _lines(
    question: StockQuestion, large: LaidOut, good: int, own: list[int], *, takes: bool
) -> list[tuple[float, float]]:
    """Return money, and money per kilogram that batches take, below which no buying of a good comes.

    The small program holds nothing that the large one does not hold too, so that each of its plans obeys.
    """
    packs = tuple(replace(question.packs[number], thing=Thing(False, 0)) for number in own)
    # A bottle nobody drinks stands for all that batches take.
    sink = Good("", (0.0,) * question.weeks)
    alone = StockQuestion(
        question.weeks,
        (question.goods[good], sink),
        packs=packs,
        makings=(Making(1, ((0, 1.0),)),) if takes else (),
    )
    laid = lay_out(alone)
    upper = laid.model.column_upper.copy()
    for (number, week), column in laid.packs.items():
        upper[column] = large.model.column_upper[large.packs[own[number], week]]
    model = replace(laid.model, column_upper=upper)
    used = np.array(list(laid.used.values()), dtype=np.int64)

    def at(price: float) -> tuple[float, float, float] | None:
        """Return what is proved at a price, and the kilograms taken and money paid there."""
        cost = model.cost.copy()
        cost[used] = -price
        answer = solve_model(replace(model, cost=cost), seconds=SECONDS_EACH, gap=1e-6)
        if not answer.values.size:
            return None
        kg = float(answer.values[used].sum())
        proved = answer.proven_bound - SLACK * max(abs(answer.proven_bound), 1.0)
        return proved, kg, answer.objective + price * kg

    lines = []
    first = at(0.0)
    if first is None:
        return []
    lines.append((first[0], 0.0))
    # At the lowest price per kilogram and a hair less nothing is bought only to be taken.
    last = at(0.999 * cheapest_per_kg(packs, Thing(False, 0))) if takes else None
    if last is not None:
        lines.append((last[0], 0.999 * cheapest_per_kg(packs, Thing(False, 0))))
    waiting = [] if last is None else [((0.0, first[2]), last[1:])]
    while waiting and len(lines) < PRICES:
        (kg0, money0), (kg1, money1) = waiting.pop(0)
        if kg1 <= kg0 + 1e-6:
            continue
        price = (money1 - money0) / (kg1 - kg0)
        middle = at(price)
        if middle is None:
            break
        lines.append((middle[0], price))
        if middle[2] - price * middle[1] < money0 - price * kg0 - 1e-4 * abs(money0):
            waiting += [((kg0, money0), middle[1:]), (middle[1:], (kg1, money1))]
    return lines
