"""A question of buying and making as a program in whole numbers.

Everything is counted in kilograms. What keeps to the end is one balance, bought at the start; what does
not is a lot for every delivery or batch, which serves only the weeks it is good for. Whole numbers are
packs, pieces, and batches in a vessel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.linear import LinearModel, RowBuilder
from formulate.optimise.mip.packs import Thing, cheapest_per_kg, pack_limits
from formulate.optimise.stock.question import Making, StockQuestion
from formulate.optimise.stock.valid_inequalities import tighten

__all__ = ["LaidOut", "lay_out"]

FloatArray = NDArray[np.float64]

SHORT_COSTS = 1000.0
"""What a kilogram that cannot be made counts, over the dearest kilogram sold."""
SURE = 1e-9
HAIR = 1e-3


class _Columns:
    """Hands out columns with their cost and bounds."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.upper: list[float] = []
        self.whole: list[bool] = []

    def add(self, cost: float = 0.0, upper: float = np.inf, *, whole: bool = False) -> int:
        self.cost.append(cost)
        self.upper.append(upper)
        self.whole.append(whole)
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
            if lower <= SURE:
                return
            terms = [(self.columns.add(upper=0.0), 1.0)]
        joined: dict[int, float] = {}
        for column, value in terms:
            joined[column] = joined.get(column, 0.0) + value
        self.rows.add(list(joined), np.array(list(joined.values())), lower, np.inf)


@dataclass(frozen=True)
class LaidOut:
    """The program with where its answer stands."""

    model: LinearModel
    packs: dict[tuple[int, int], int]
    made: dict[tuple[int, int], int]
    batches: dict[tuple[int, int], int]
    short: dict[tuple[int, int], int]
    ordered: dict[tuple[str, int], int]
    used: dict[tuple[int, int], int]


def lay_out(question: StockQuestion, *, may_be_short: bool = False) -> LaidOut:
    """Lay a question out.

    Parameters
    ----------
    question : StockQuestion
    may_be_short : bool
        Whether what the house makes may be missing, at a price that nothing reaches.
    """
    draft = _Draft(question)
    columns, rows, weeks = draft.columns, draft.rows, question.weeks
    limits = _limits(question)
    packs: dict[tuple[int, int], int] = {}
    for number, pack in enumerate(question.packs):
        for week in question.deliveries(pack):
            column = columns.add(pack.price, limits[number], whole=not pack.loose)
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
    hair = 1e-7 * max((pack.price for pack in question.packs), default=1.0)
    for number, making in enumerate(question.makings):
        for week in range(making.weeks_before, weeks):
            column = made[number, week] = columns.add(hair if making.is_second_choice else 0.0)
            draft.inflow.setdefault((making.good, week), []).append((column, 1.0))
            for good, rate in making.uses:
                draft.uses.setdefault((good, week - making.weeks_before), []).append((column, rate))
            if making.batch_kg is None:
                continue
            # Of plans that cost the same the one with fewer batches.
            started = batches[number, week] = columns.add(making.labour + hair, whole=True)
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
        tighten(question, rows, packs, used, batches)
    model = rows.assemble(
        np.array(columns.cost),
        np.zeros(len(columns.cost)),
        np.array(columns.upper),
        np.array(columns.whole, dtype=bool),
    )
    return LaidOut(model, packs, made, batches, draft.short, ordered, used)


def _use_columns(draft: _Draft) -> dict[tuple[int, int], int]:
    """Add up what batches take of each thing bought in a column of its own, by good and week."""
    made_here = {making.good for making in draft.question.makings}
    found = {}
    for (good, week), terms in draft.uses.items():
        if good in made_here:
            continue
        column = found[good, week] = draft.columns.add()
        joined: dict[int, float] = {}
        for user, rate in terms:
            joined[user] = joined.get(user, 0.0) + rate
        draft.rows.add([column, *joined], np.array([1.0, *(-rate for rate in joined.values())]), 0.0, 0.0)
        draft.uses[good, week] = [(column, 1.0)]
    return found


def _limits(question: StockQuestion) -> FloatArray:
    needs = question.needs_kg
    if question.leftover_share == 0.0:
        return pack_limits(question.packs, needs, 0.0, question.least_order)
    # What a rest is worth ends somewhere, so no pack stands in for another beforehand.
    minimum = dict(question.least_order)
    limits = []
    for pack in question.packs:
        need = needs[pack.thing] / pack.size_kg
        limit = need if pack.loose else float(ceil(need - SURE))
        if pack.supplier in minimum and pack.price > 0.0:
            limit += ceil(minimum[pack.supplier] / pack.price)
        limits.append(limit)
    return np.array(limits)


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
                rows.add(columns, np.array([share for _, share in held]), -np.inf, 1.0 + SURE)


def _held(making: Making, week: int, ready: int) -> float:
    """Return the share of a week for which a batch ready in another holds its vessel."""
    since = week - (ready - making.weeks_before)
    return making.holds(since) if since >= 0 else 0.0


def _balance(draft: _Draft, good: int) -> None:
    """Add what came up to each week against what went out up to it."""
    question = draft.question
    one, weeks = question.goods[good], question.weeks
    there = question.there_kg(good)
    later = any((good, week) in draft.inflow for week in range(1, weeks))
    terms: Terms = []
    for week in range(weeks):
        terms += draft.inflow.get((good, week), [])
        terms += [(column, -rate) for column, rate in draft.uses.get((good, week), [])]
        if (good, week) in draft.short:
            terms.append((draft.short[good, week], 1.0))
        last = week == weeks - 1
        wanted = sum(one.demand_kg[: week + 1]) + (one.end_kg if last else 0.0) - there
        if last or later:
            draft.ask(terms, wanted)
    if terms:
        _rest(draft, good, terms, sum(one.demand_kg) + one.end_kg - there)


def _rest(draft: _Draft, good: int, terms: Terms, wanted: float) -> None:
    """Count what is left of all that came as worth something, for as long as it will be."""
    question = draft.question
    one = question.goods[good]
    priced = [pack for pack in question.packs if pack.thing == Thing(False, good)]
    if question.leftover_share <= 0.0 or not priced or one.rest_most_kg <= 0.0:
        return
    worth = question.leftover_share * cheapest_per_kg(question.packs, Thing(False, good))
    # No more than one pack of rest counts, and that a hair less: nothing is bought only to be left.
    most = min(one.rest_most_kg, max(pack.size_kg for pack in priced))
    rests = []
    for amount, share in one.rest_steps or ((most, 1.0),):
        rests.append(draft.columns.add(-worth * share * (1.0 - HAIR), min(amount, most)))
        most -= min(amount, most)
    draft.ask([*terms, *((rest, -1.0) for rest in rests)], wanted)


def _lots(draft: _Draft, good: int) -> None:
    """Let every lot serve the weeks it is good for."""
    question = draft.question
    one, weeks = question.goods[good], question.weeks
    assert one.keeps_weeks is not None or one.strength_left
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
            if then == weeks and not one.end_kg:
                continue
            column = draft.columns.add()
            serves.append(column)
            # Weaker with age, so more of it is taken for the same.
            served[then].append((column, one.left_after(then - week)))
        flow = [*((column, -1.0) for column in serves), *came]
        draft.ask(flow, -stock)
        all_terms += flow
    for week in range(weeks + 1):
        wanted = one.end_kg if week == weeks else one.demand_kg[week]
        used = draft.uses.get((good, week), [])
        if not wanted and not used:
            continue
        terms = [*served[week], *((column, -rate) for column, rate in used)]
        if (good, week) in draft.short:
            terms.append((draft.short[good, week], 1.0))
        draft.ask(terms, wanted)
    if all_terms and one.keeps_weeks is None:
        _rest(draft, good, all_terms, -there)


def _order_rows(
    question: StockQuestion,
    columns: _Columns,
    rows: RowBuilder,
    packs: dict[tuple[int, int], int],
    limits: FloatArray,
) -> dict[tuple[str, int], int]:
    """Let a supplier deliver in a week nothing, or at least the least order; say which column tells."""
    found = {}
    for supplier, least in question.least_order:
        for week in range(question.weeks):
            own = [
                (number, column)
                for (number, when), column in packs.items()
                if when == week and question.packs[number].supplier == supplier
            ]
            if not own or least <= 0.0:
                continue
            ordered = found[supplier, week] = columns.add(upper=1.0, whole=True)
            prices = [question.packs[number].price for number, _ in own]
            rows.add([*(column for _, column in own), ordered], np.array([*prices, -least]), 0.0, np.inf)
            for number, column in own:
                rows.add([column, ordered], np.array([1.0, -limits[number]]), -np.inf, 0.0)
    return found
