"""A question of buying and making as a program in whole numbers.

Everything is counted in kilograms. What keeps to the end is one balance, bought at the start; what does
not is a lot for every delivery or batch, which serves only the weeks it is good for. Whole numbers are
packs, pieces, and batches in a vessel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.linear import LinearModel, RowBuilder
from formulate.optimise.mip.orders import add_minimum_order
from formulate.optimise.mip.packs import Thing, cheapest_per_kg, pack_limits
from formulate.optimise.stock.question import Making, StockQuestion
from formulate.optimise.stock.valid_inequalities import add_valid_inequalities
from formulate.optimise.tolerances import FEWER_BATCHES, REST_SHARE_LOST, ROUNDING

__all__ = ["StockProgram", "lay_out"]

FloatArray = NDArray[np.float64]

SHORT_COSTS = 1000.0
"""What a kilogram that cannot be made counts, over the dearest kilogram sold."""


class _Columns:
    """Hands out columns with their cost and bounds."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.upper: list[float] = []
        self.integer: list[bool] = []

    def add(self, cost: float = 0.0, upper: float = np.inf, *, integer: bool = False) -> int:
        self.cost.append(cost)
        self.upper.append(upper)
        self.integer.append(integer)
        return len(self.cost) - 1


Terms = list[tuple[int, float]]
"""Columns, and what each counts."""


class _Draft:
    """A program being laid out: its columns and rows, and what flows in and out of each good in each week."""

    def __init__(self, question: StockQuestion) -> None:
        self.question = question
        self.columns, self.rows = _Columns(), RowBuilder()
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
    columns, rows, weeks = draft.columns, draft.rows, question.weeks
    # What a rest is worth ends somewhere, so with rests no pack stands in for another beforehand.
    swaps = question.leftover_share == 0.0
    limits = pack_limits(question.packs, question.needs_kg, 0.0, question.least_order, swaps=swaps)
    packs: dict[tuple[int, int], int] = {}
    for number, pack in enumerate(question.packs):
        for week in question.deliveries(pack):
            column = columns.add(pack.price, limits[number], integer=not pack.loose)
            packs[number, week] = column
            parts = (
                question.splits[pack.thing.number].parts
                if pack.thing.is_purchase
                else ((pack.thing.number, 1.0),)
            )
            for good, share in parts:
                draft.inflow.setdefault((good, week), []).append((column, share * pack.size_kg))
    made: dict[tuple[int, int], int] = {}
    batches: dict[tuple[int, int], int] = {}
    tie_break = FEWER_BATCHES * max((pack.price for pack in question.packs), default=1.0)
    for number, making in enumerate(question.makings):
        for week in range(making.weeks_before, weeks):
            column = made[number, week] = columns.add(tie_break if making.is_second_choice else 0.0)
            draft.inflow.setdefault((making.good, week), []).append((column, 1.0))
            for good, rate in making.uses:
                draft.uses.setdefault((good, week - making.weeks_before), []).append((column, rate))
            if making.batch_kg is None:
                continue
            # Of plans that cost the same the one with fewer batches.
            started = batches[number, week] = columns.add(making.labour + tie_break, integer=True)
            rows.add([column, started], np.array([1.0, -making.batch_kg]), -np.inf, 0.0)
            if making.least_kg > 0.0:
                rows.add([column, started], np.array([1.0, -making.least_kg]), 0.0, np.inf)
            for good, amount in making.batch_uses:
                draft.uses.setdefault((good, week - making.weeks_before), []).append((started, amount))
    used = _use_columns(draft)
    _vessel_rows(question, rows, batches)
    if may_be_short:
        dear = max((pack.price / pack.size_kg for pack in question.packs), default=1.0)
        for good in sorted({making.good for making in question.makings} - question.passed_on):
            for week in range(weeks + 1):  # the last one for what shall be there at the end
                draft.short[good, week] = columns.add(SHORT_COSTS * max(dear, 1.0))
    for good in range(len(question.goods)):
        if question.is_lasting(good):
            _balance(draft, good)
        else:
            _lots(draft, good)
    ordered = _order_rows(question, columns, rows, packs, limits)
    if not may_be_short:
        add_valid_inequalities(question, rows, packs, used, batches)
    model = rows.assemble(
        np.array(columns.cost),
        np.zeros(len(columns.cost)),
        np.array(columns.upper),
        np.array(columns.integer, dtype=bool),
    )
    return StockProgram(model, packs, made, batches, draft.short, ordered, used)


def _use_columns(draft: _Draft) -> dict[tuple[int, int], int]:
    """Add up what batches take of each thing bought in a column of its own, by good and week."""
    made_here = {making.good for making in draft.question.makings}
    column_of = {}
    for (good, week), terms in draft.uses.items():
        if good in made_here:
            continue
        column = column_of[good, week] = draft.columns.add()
        joined: dict[int, float] = {}
        for user, rate in terms:
            joined[user] = joined.get(user, 0.0) + rate
        draft.rows.add([column, *joined], np.array([1.0, *(-rate for rate in joined.values())]), 0.0, 0.0)
        draft.uses[good, week] = [(column, 1.0)]
    return column_of


def _vessel_rows(question: StockQuestion, rows: RowBuilder, batches: dict[tuple[int, int], int]) -> None:
    by_vessel: dict[int, list[int]] = {}
    for number, making in enumerate(question.makings):
        if making.vessel is not None and making.batch_kg is not None:
            by_vessel.setdefault(making.vessel, []).append(number)
    for makings in by_vessel.values():
        for week in range(question.weeks):
            held = [
                (batches[number, ready], share)
                for number in makings
                for ready in range(week, question.weeks)
                if (number, ready) in batches
                and (share := _held(question.makings[number], week, ready)) > 0.0
            ]
            if held:
                columns = [column for column, _ in held]
                rows.add(columns, np.array([share for _, share in held]), -np.inf, 1.0 + ROUNDING)


def _held(making: Making, week: int, ready: int) -> float:
    """Return the share of a week for which a batch ready in another holds its vessel."""
    since = week - (ready - making.weeks_before)
    return making.holds(since) if since >= 0 else 0.0


def _balance(draft: _Draft, good: int) -> None:
    """Add what came up to each week against what went out up to it."""
    question = draft.question
    poured, weeks = question.goods[good], question.weeks
    there = question.there_kg(good)
    later = any((good, week) in draft.inflow for week in range(1, weeks))
    terms: Terms = []
    for week in range(weeks):
        terms += draft.inflow.get((good, week), [])
        terms += [(column, -rate) for column, rate in draft.uses.get((good, week), [])]
        if (good, week) in draft.short:
            terms.append((draft.short[good, week], 1.0))
        last = week == weeks - 1
        wanted = sum(poured.demand_kg[: week + 1]) + (poured.end_kg if last else 0.0) - there
        if last or later:
            draft.ask(terms, wanted)
    if terms:
        _rest(draft, good, terms, sum(poured.demand_kg) + poured.end_kg - there)


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
    """Let every lot serve the weeks it is good for."""
    question = draft.question
    poured, weeks = question.goods[good], question.weeks
    assert poured.keeps_weeks is not None or poured.strength_left
    life = question.life(good)
    there = question.there_kg(good)
    served: dict[int, Terms] = {week: [] for week in range(weeks + 1)}
    all_terms: Terms = []
    for week in range(weeks):
        came = draft.inflow.get((good, week), [])
        stock = there if week == 0 else 0.0
        if not came and not stock:
            continue
        serves = []
        for then in range(week, min(week + life, weeks + 1)):
            if then == weeks and not poured.end_kg:
                continue
            column = draft.columns.add()
            serves.append(column)
            # Weaker with age, so more of it is taken for the same.
            served[then].append((column, poured.left_after(then - week)))
        flow = [*((column, -1.0) for column in serves), *came]
        draft.ask(flow, -stock)
        all_terms += flow
    for week in range(weeks + 1):
        wanted = poured.end_kg if week == weeks else poured.demand_kg[week]
        used = draft.uses.get((good, week), [])
        if not wanted and not used:
            continue
        terms = [*served[week], *((column, -rate) for column, rate in used)]
        if (good, week) in draft.short:
            terms.append((draft.short[good, week], 1.0))
        draft.ask(terms, wanted)
    if all_terms and poured.keeps_weeks is None:
        _rest(draft, good, all_terms, -there)


def _order_rows(
    question: StockQuestion,
    columns: _Columns,
    rows: RowBuilder,
    packs: dict[tuple[int, int], int],
    limits: FloatArray,
) -> dict[tuple[str, int], int]:
    """Let a supplier deliver in a week nothing, or at least the least order; say which column tells."""
    column_of = {}
    for supplier, least in question.least_order:
        for week in range(question.weeks):
            own = [
                (number, column)
                for (number, when), column in packs.items()
                if when == week and question.packs[number].supplier == supplier
            ]
            if not own or least <= 0.0:
                continue
            column_of[supplier, week] = columns.add(upper=1.0, integer=True)
            prices = [question.packs[number].price for number, _ in own]
            most = [float(limits[number]) for number, _ in own]
            add_minimum_order(
                rows, [column for _, column in own], prices, most, column_of[supplier, week], least
            )
    return column_of
