"""Lot-sizing inequalities: what things that do not keep cost at the least, in whole packs period by period.

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
from formulate.optimise.stock.program import StockProgram, lay_out
from formulate.optimise.stock.question import Good, Making, StockQuestion
from formulate.optimise.tolerances import GAP_LOT_SIZING, INTEGER_FEASIBILITY, NEW_LINE

__all__ = ["with_lot_sizing_inequalities"]

SECONDS_EACH = 1.0
PRICES = 7
"""Tried of each thing at most."""
JUST_BELOW = 0.999
"""Of the lowest price per kilogram: at a little less nothing is bought only to be taken."""


def with_lot_sizing_inequalities(
    question: StockQuestion, program: StockProgram, seconds: float
) -> LinearModel:
    """Add rows on the money for what does not keep.

    Parameters
    ----------
    program : StockProgram
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
        if question.lasting[good] or good in in_parts | made_here or not own:
            continue
        if any(question.packs[number].loose for number in own) or perf_counter() - began > seconds:
            continue
        spent = {
            column: question.packs[number].price
            for (number, _), column in program.packs.items()
            if number in own
        }
        taken = [column for (other, _), column in program.used.items() if other == good]
        for money, per_kg in _lines(question, program, good, own, takes=bool(taken)):
            entries = {**spent, **dict.fromkeys(taken, -per_kg)}
            rows.add(list(entries), np.array(list(entries.values())), money, np.inf)
    return program.model.with_rows(rows) if len(rows) else program.model


def _lines(
    question: StockQuestion, large: StockProgram, good: int, own: list[int], *, takes: bool
) -> list[tuple[float, float]]:
    """Return money, and money per kilogram that batches take, below which no buying of a good comes.

    The small program holds nothing that the large one does not hold too, so that each of its plans obeys.
    """
    packs = tuple(replace(question.packs[number], thing=Thing(False, 0)) for number in own)
    # A bottle nobody drinks stands for all that batches take.
    sink = Good("", (0.0,) * question.periods)
    alone = StockQuestion(
        question.periods,
        (question.goods[good], sink),
        packs=packs,
        makings=(Making(1, ((0, 1.0),)),) if takes else (),
        starts=question.starts,
    )
    program = lay_out(alone)
    upper = program.model.column_upper.copy()
    for (number, period), column in program.packs.items():
        upper[column] = large.model.column_upper[large.packs[own[number], period]]
    model = replace(program.model, column_upper=upper)
    used = np.array(list(program.used.values()), dtype=np.int64)

    def at(price: float) -> tuple[float, float, float] | None:
        """Return what is proved at a price, and the kilograms taken and money paid there."""
        cost = model.cost.copy()
        cost[used] = -price
        answer = solve_model(replace(model, cost=cost), seconds=SECONDS_EACH, gap=GAP_LOT_SIZING)
        if not answer.values.size:
            return None
        kg = float(answer.values[used].sum())
        proved = answer.proven_bound - INTEGER_FEASIBILITY * max(abs(answer.proven_bound), 1.0)
        return proved, kg, answer.objective + price * kg

    lines = []
    first = at(0.0)
    if first is None:
        return []
    lines.append((first[0], 0.0))
    highest = JUST_BELOW * cheapest_per_kg(packs, Thing(False, 0))
    last = at(highest) if takes else None
    if last is not None:
        lines.append((last[0], highest))
    waiting = [] if last is None else [((0.0, first[2]), last[1:])]
    while waiting and len(lines) < PRICES:
        (kg0, money0), (kg1, money1) = waiting.pop(0)
        if kg1 <= kg0 + INTEGER_FEASIBILITY:
            continue
        price = (money1 - money0) / (kg1 - kg0)
        middle = at(price)
        if middle is None:
            break
        lines.append((middle[0], price))
        if middle[2] - price * middle[1] < money0 - price * kg0 - NEW_LINE * abs(money0):
            waiting += [((kg0, money0), middle[1:]), (middle[1:], (kg1, money1))]
    return lines
