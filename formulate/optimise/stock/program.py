"""A question of buying and making as a program in whole numbers.

Everything is counted in kilograms. What keeps to the end is one balance; what does not is a lot for every
delivery or batch, which serves only the periods it is good for. Whole numbers are packs, pieces, bottles
filled, and batches in a vessel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.linear import LinearModel, RowBuilder
from formulate.optimise.mip.packs import Thing, cheapest_per_kg, pack_limits
from formulate.optimise.stock.orders import Columns, order_rows
from formulate.optimise.stock.question import StockQuestion
from formulate.optimise.stock.valid_inequalities import add_valid_inequalities
from formulate.optimise.tolerances import FEWER_BATCHES, REST_SHARE_LOST, ROUNDING

__all__ = ["StockProgram", "lay_out"]

FloatArray = NDArray[np.float64]

SHORT_COSTS = 1000.0
"""What a kilogram that cannot be made counts, over the dearest kilogram sold."""


Terms = list[tuple[int, float]]
"""Columns, and what each counts."""
ByPeriod = dict[tuple[int, int], int]
"""Columns by pack, making or good, and period."""


class _Draft:
    """A program being laid out: its columns and rows, and what flows in and out of each good when."""

    def __init__(self, question: StockQuestion) -> None:
        self.question = question
        self.columns, self.rows = Columns(), RowBuilder()
        self.inflow: dict[tuple[int, int], Terms] = {}
        self.uses: dict[tuple[int, int], Terms] = {}
        self.short: dict[tuple[int, int], int] = {}

    def ask(self, terms: Sequence[tuple[int, float]], lower: float) -> None:
        """Add a row with a lower limit, one entry a column; what nothing can give is asked of nothing."""
        if not terms:
            if lower <= ROUNDING:
                return
            terms = [(self.columns.add(upper=0.0), 1.0)]
        joined: dict[int, float] = {}
        for column, value in terms:
            joined[column] = joined.get(column, 0.0) + value
        self.rows.add(list(joined), np.array(list(joined.values())), lower, np.inf)


@dataclass(frozen=True)
class StockProgram:
    """The program with where its answer stands."""

    model: LinearModel
    packs: dict[tuple[int, int], int]
    made: dict[tuple[int, int], int]
    batches: dict[tuple[int, int], int]
    filled: dict[tuple[int, int], int]
    short: dict[tuple[int, int], int]
    ordered: dict[tuple[str, int], int]
    used: dict[tuple[int, int], int]


def lay_out(question: StockQuestion, *, may_be_short: bool = False) -> StockProgram:
    """Lay a question out.

    Parameters
    ----------
    may_be_short : bool
        Whether what the house makes may be missing, at a price that nothing reaches.
    """
    draft = _Draft(question)
    columns, rows, periods = draft.columns, draft.rows, question.periods
    # What a rest is worth ends somewhere, and budgets ask which pack comes when: then no pack stands
    # in for another beforehand.
    swaps = question.leftover_share == 0.0 and not question.budgets
    counted = (*question.least_order, *((one.supplier, one.free_from) for one in question.carriage))
    limits = pack_limits(question.packs, question.needs_kg, 0.0, counted, swaps=swaps)
    packs: dict[tuple[int, int], int] = {}
    for number, pack in enumerate(question.packs):
        for period in question.deliveries(pack):
            column = columns.add(pack.price, limits[number], integer=not pack.loose)
            packs[number, period] = column
            if pack.at_least > 1:
                enough = columns.add(upper=1.0, integer=True)
                rows.add([column, enough], np.array([1.0, -float(pack.at_least)]), 0.0, np.inf)
                rows.add([column, enough], np.array([1.0, -float(limits[number])]), -np.inf, 0.0)
            parts = (
                question.splits[pack.thing.number].parts
                if pack.thing.is_purchase
                else ((pack.thing.number, 1.0),)
            )
            for good, share in parts:
                draft.inflow.setdefault((good, period), []).append((column, share * pack.size_kg))
    made: dict[tuple[int, int], int] = {}
    batches: dict[tuple[int, int], int] = {}
    filled: dict[tuple[int, int], int] = {}
    tie_break = FEWER_BATCHES * max((pack.price for pack in question.packs), default=1.0)
    for number, making in enumerate(question.makings):
        for ready, begun in making.begun(periods).items():
            column = made[number, ready] = columns.add(tie_break if making.is_second_choice else 0.0)
            draft.inflow.setdefault((making.good, ready), []).append((column, 1.0))
            for good, rate in making.uses:
                draft.uses.setdefault((good, begun), []).append((column, rate))
            if making.filled_with:
                bottles = filled[number, ready] = columns.add(tie_break, integer=True)
                rows.add([bottles, column], np.array([making.filled_kg, -1.0]), 0.0, np.inf)
                for good, amount in making.filled_with:
                    draft.uses.setdefault((good, begun), []).append((bottles, amount))
            if making.batch_kg is None:
                continue
            # Of plans that cost the same the one with fewer batches.
            started = batches[number, ready] = columns.add(making.labour + tie_break, integer=True)
            rows.add([column, started], np.array([1.0, -making.batch_kg]), -np.inf, 0.0)
            if making.least_kg > 0.0:
                rows.add([column, started], np.array([1.0, -making.least_kg]), 0.0, np.inf)
            for good, amount in making.batch_uses:
                draft.uses.setdefault((good, begun), []).append((started, amount))
    used = _use_columns(draft)
    _vessel_rows(question, rows, batches)
    if may_be_short:
        dear = max((pack.price / pack.size_kg for pack in question.packs), default=1.0)
        made_here = {making.good for making in question.makings} - question.passed_on
        poured = {number for number, good in enumerate(question.goods) if any(good.demand_kg) or good.end_kg}
        for good in sorted(made_here | poured):
            for period in range(periods + 1):  # the last one for what shall be there at the end
                draft.short[good, period] = columns.add(SHORT_COSTS * max(dear, 1.0))
    for good in range(len(question.goods)):
        if question.lasting[good]:
            _balance(draft, good)
        else:
            _lots(draft, good)
    ordered = order_rows(question, columns, rows, packs, limits)
    if not may_be_short:
        add_valid_inequalities(question, rows, packs, used, batches)
    model = rows.assemble(
        np.array(columns.cost),
        np.zeros(len(columns.cost)),
        np.array(columns.upper),
        np.array(columns.integer, dtype=bool),
    )
    return StockProgram(model, packs, made, batches, filled, draft.short, ordered, used)


def _use_columns(draft: _Draft) -> ByPeriod:
    """Add up what batches take of each thing bought in a column of its own, by good and period."""
    made_here = {making.good for making in draft.question.makings}
    column_of = {}
    for (good, period), terms in draft.uses.items():
        if good in made_here:
            continue
        column = column_of[good, period] = draft.columns.add()
        joined: dict[int, float] = {}
        for user, rate in terms:
            joined[user] = joined.get(user, 0.0) + rate
        draft.rows.add([column, *joined], np.array([1.0, *(-rate for rate in joined.values())]), 0.0, 0.0)
        draft.uses[good, period] = [(column, 1.0)]
    return column_of


def _vessel_rows(question: StockQuestion, rows: RowBuilder, batches: ByPeriod) -> None:
    holding: dict[tuple[int, int], dict[int, float]] = {}
    for number, making in enumerate(question.makings):
        if making.vessel is None or making.batch_kg is None:
            continue
        for ready, begun in making.begun(question.periods).items():
            for period in range(begun, question.periods):
                if (share := question.holds(making, begun, period)) <= 0.0:
                    break
                holding.setdefault((making.vessel, period), {})[batches[number, ready]] = share
    for held in holding.values():
        rows.add(list(held), np.array(list(held.values())), -np.inf, 1.0 + ROUNDING)


def _balance(draft: _Draft, good: int) -> None:
    """Add what came up to each period against what went out up to it, where more may come after it."""
    question = draft.question
    poured, periods = question.goods[good], question.periods
    terms: Terms = []
    for period in range(periods):
        terms += draft.inflow.get((good, period), [])
        terms += [(column, -rate) for column, rate in draft.uses.get((good, period), [])]
        if (good, period) in draft.short:
            terms.append((draft.short[good, period], 1.0))
        last = period == periods - 1
        later = (good, period + 1) in draft.inflow or question.there_kg(good, period + 1, period + 1) > 0.0
        if last and (good, periods) in draft.short:
            terms.append((draft.short[good, periods], 1.0))
        there = question.there_kg(good, 0, period)
        wanted = sum(poured.demand_kg[: period + 1]) + (poured.end_kg if last else 0.0) - there
        if last or later:
            draft.ask(terms, wanted)
    if terms:
        _rest(draft, good, terms, sum(poured.demand_kg) + poured.end_kg - question.there_kg(good, 0, periods))


def _rest(draft: _Draft, good: int, terms: Terms, wanted: float) -> None:
    """Count what is left of all that came as worth something, for as long as it will be."""
    question = draft.question
    poured = question.goods[good]
    priced = [pack for pack in question.packs if pack.thing == Thing(False, good)]
    if question.leftover_share <= 0.0 or not priced or poured.rest_most_kg <= 0.0:
        return
    worth = question.leftover_share * cheapest_per_kg(question.packs, Thing(False, good))
    # No more than one pack of rest counts, and that a little less: nothing is bought only to be left.
    most = min(poured.rest_most_kg, max(pack.size_kg for pack in priced))
    rests = []
    for amount, share in poured.rest_steps or ((most, 1.0),):
        rests.append(draft.columns.add(-worth * share * (1.0 - REST_SHARE_LOST), min(amount, most)))
        most -= min(amount, most)
    draft.ask([*terms, *((rest, -1.0) for rest in rests)], wanted)


def _lots(draft: _Draft, good: int) -> None:
    """Let every lot serve the periods it is good for."""
    question = draft.question
    poured, periods, clock = question.goods[good], question.periods, question.clock
    is_counted = poured.waste_cost > 0.0 and any(making.good == good for making in question.makings)
    served: dict[int, Terms] = {period: [] for period in range(periods + 1)}
    all_terms: Terms = []
    # Each lot: when it comes, how old it is then, what of it is given, and the columns that bring more.
    lots = [(lot.period, lot.age, lot.kg, list[tuple[int, float]]()) for lot in question.given[good]]
    lots += [
        (came, 0.0, 0.0, draft.inflow[good, came]) for came in range(periods) if (good, came) in draft.inflow
    ]
    for period, age, kg, came in lots:
        until = question.served_until(good, period, age)
        serves = []
        for then in range(period, until):
            if then == periods and not poured.end_kg:
                continue
            if then < periods and not poured.demand_kg[then] and (good, then) not in draft.uses:
                continue
            column = draft.columns.add()
            serves.append(column)
            # Weaker with age, so more of it is taken for the same.
            served[then].append((column, poured.left_after(clock[then] - clock[period] + age)))
        flow = [*((column, -1.0) for column in serves), *came]
        if is_counted and came and until <= periods:
            # What is over is thrown away, and counts.
            thrown = draft.columns.add(poured.waste_cost)
            draft.ask([*flow, (thrown, -1.0)], 0.0)
            draft.ask([*((column, -factor) for column, factor in flow), (thrown, 1.0)], 0.0)
        else:
            draft.ask(flow, -kg)
        all_terms += flow
    for period in range(periods + 1):
        wanted = poured.end_kg if period == periods else poured.demand_kg[period]
        used = draft.uses.get((good, period), [])
        if not wanted and not used:
            continue
        terms = [*served[period], *((column, -rate) for column, rate in used)]
        if (good, period) in draft.short:
            terms.append((draft.short[good, period], 1.0))
        draft.ask(terms, wanted)
        if is_counted:  # no more is poured than that, or what is thrown away would be
            draft.ask([(column, -factor) for column, factor in terms], -wanted)
    if all_terms and poured.keeps is None:
        _rest(draft, good, all_terms, -question.there_kg(good, 0, periods))
