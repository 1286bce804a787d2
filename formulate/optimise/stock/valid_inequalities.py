"""Valid inequalities: rows that every plan of a menu satisfies anyway, and that the search needs to be told.

What is poured in some periods came in those or not long before. Of a bottle that is so many batches at
the least; of a thing in packs it is so much money at the least, whatever the recipes. Neither follows from
the program as long as packs and batches may be broken.

Packs are whole, so what some amount costs climbs in steps. Without whole numbers a program sees only the
lowest price per kilogram. Where it is known that at least so much will be needed, straight lines under the
steps, from that amount on, say far more, and every plan satisfies them.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise
from math import ceil

import numpy as np

from formulate.optimise.linear import RowBuilder
from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.stock.question import Making, StockQuestion
from formulate.optimise.tolerances import INTEGER_FEASIBILITY, NOTHING_BOUGHT_KG, PACK_SLACK

__all__ = ["add_valid_inequalities", "lines_under_steps", "steps_of_cost"]

ByWeek = dict[tuple[int, int], int]

LONGEST = 4
"""Of what does not keep, longer stretches than so many deliveries are not looked at, except all together."""
FINEST_DAYS = 3.0
"""Nor shorter ones than this, where the periods are days."""
MOST_STEPS = 4000
"""Of what packs cost; more are not worth the time, and then nothing is said."""


class _LowerBounds:
    """What a plan cannot do with less of, stretch by stretch."""

    def __init__(self, question: StockQuestion) -> None:
        self.question = question
        self.ways: dict[int, list[Making]] = {}
        for making in question.makings:
            self.ways.setdefault(making.good, []).append(making)
        self.out = cache(self._out)
        self.rate = cache(self._rate)

    def _rate(self, bottle: int, good: int) -> float:
        """Return how much of a good the recipe takes that takes least, per kilogram made."""
        return min(
            sum(
                rate if used == good else rate * self.rate(used, good)
                for used, rate in (*way.uses, *((one, each / way.filled_kg) for one, each in way.filled_with))
                if used == good or used in self.question.passed_on
            )
            for way in self.ways[bottle]
        )

    def _out(self, good: int, first: int, last: int) -> float:
        """Return how much of a good goes from one period to another at the least."""
        poured = self.question.goods[good]
        total = sum(poured.demand_kg[first : last + 1])
        total += poured.end_kg if last == self.question.periods - 1 else 0.0
        for bottle, ways in self.ways.items():
            if bottle in self.question.passed_on:
                continue  # what it takes is counted where it goes
            slots = {tuple(way.begun(self.question.periods).items()) for way in ways}
            if len(slots) > 1 or (rate := self.rate(bottle, good)) <= 0.0:
                continue
            ready = [there for there, begun in slots.pop() if first <= begun <= last]
            if ready:
                total += rate * self.made(bottle, ready[0], ready[-1])
        return total

    def made(self, good: int, first: int, last: int) -> float:
        """Return how much of a bottle must be ready from one period to another."""
        question = self.question
        served = 0 if first == 0 else question.served_until(good, first - 1)
        if served > last:
            return 0.0
        # What is given serves from its own period on; what came before the first may serve none of these.
        old = max(
            (question.served_until(good, lot.period, lot.age) for lot in question.given[good]), default=0
        )
        there = question.there_kg(good, 0 if old > served else first, last)
        return max(float(self.out(good, served, last)) - there, 0.0)


def add_valid_inequalities(
    question: StockQuestion, rows: RowBuilder, packs: ByWeek, used: ByWeek, batches: ByWeek
) -> None:
    """Add the rows.

    Parameters
    ----------
    packs, used, batches : dict of (int, int) to int
        Columns by pack, by good that batches take, or by making, and period.
    """
    least = _LowerBounds(question)
    _batches(question, least, rows, batches)
    in_parts = {good for split in question.splits for good, _ in split.parts}
    for good in range(len(question.goods)):
        if good not in least.ways and good not in in_parts:
            _money(question, least, good, rows, packs, used)


def _stretches(question: StockQuestion, good: int, slots: Sequence[int]) -> Iterator[tuple[int, int]]:
    """List the stretches to look at: all together, and short ones of what does not keep.

    Parameters
    ----------
    slots : sequence of int
        Periods in which it may come.
    """
    periods = question.periods
    yield 0, periods - 1
    if question.lasting[good]:
        return
    # From one day on which it may come to another, and no finer than a week where it may come every day.
    clock = question.clock
    cuts = [0]
    for slot in sorted(set(slots) - {0}):
        if not question.starts or clock[slot] - clock[cuts[-1]] >= FINEST_DAYS:
            cuts.append(slot)
    for place, first in enumerate(cuts):
        for last in [*cuts[place + 1 :], periods][:LONGEST]:
            if (first, last - 1) != (0, periods - 1):
                yield first, last - 1


def _batches(question: StockQuestion, least: _LowerBounds, rows: RowBuilder, batches: ByWeek) -> None:
    for good, ways in least.ways.items():
        largest = max((way.batch_kg or 0.0 for way in ways), default=0.0)
        if largest <= 0.0 or any(way.batch_kg is None for way in ways):
            continue
        ready = [period for way in ways for period in way.begun(question.periods)]
        for first, last in _stretches(question, good, ready):
            count = ceil(least.made(good, first, last) / largest - INTEGER_FEASIBILITY)
            own = [
                column
                for (number, period), column in batches.items()
                if question.makings[number].good == good and first <= period <= last
            ]
            if count > 0 and own:
                rows.add(own, np.ones(len(own)), float(count), np.inf)


def _money(
    question: StockQuestion,
    least: _LowerBounds,
    good: int,
    rows: RowBuilder,
    packs: ByWeek,
    used: ByWeek,
) -> None:
    thing, poured = Thing(False, good), question.goods[good]
    own = [pack for pack in question.packs if pack.thing == thing]
    most = question.needs_kg[thing] if own else 0.0
    slots = [period for pack in own for period in question.deliveries(pack)]
    for first, last in _stretches(question, good, slots) if own else ():
        since = question.first_serving(good, first)
        fixed = sum(poured.demand_kg[first : last + 1]) - question.there_kg(good, 0, last)
        fixed += poured.end_kg if last == question.periods - 1 else 0.0
        needed = least.out(good, first, last) - question.there_kg(good, 0, last)
        if needed <= 0.0:
            continue
        spent = {
            column: question.packs[number].price
            for (number, period), column in packs.items()
            if question.packs[number].thing == thing and since <= period <= last
        }
        for money, per_kg in lines_under_steps(own, needed, most):
            taken = [
                column
                for (other, period), column in used.items()
                if other == good and first <= period <= last
            ]
            entries = {**spent, **dict.fromkeys(taken, -per_kg)}
            rows.add(list(entries), np.array(list(entries.values())), money + per_kg * fixed, np.inf)


def steps_of_cost(packs: Sequence[Pack], least_kg: float, most_kg: float) -> list[tuple[float, float]]:
    """List the steps of what an amount costs in whole packs.

    Parameters
    ----------
    packs : sequence of Pack
        Of one thing, none loose.
    least_kg, most_kg : float
        Between which the amount lies.

    Returns
    -------
    list of (float, float)
        The largest amount of each step, and its cost, from the step that holds `least_kg` to the one that
        holds `most_kg`; empty where there are too many.
    """
    steps: list[tuple[float, float]] = []
    waiting = [(0.0, 0.0)]
    largest = -1.0
    taken = 0
    while waiting:
        cost, negative = heapq.heappop(waiting)
        held = -negative
        if held <= largest:
            continue
        taken += 1
        if taken > MOST_STEPS:
            return []
        largest = held
        if held >= least_kg:
            steps.append((held, cost))
        if held >= most_kg:
            return steps
        for pack in packs:
            heapq.heappush(waiting, (cost + pack.price, -(held + pack.size_kg)))
    return []


def lines_under_steps(packs: Sequence[Pack], least_kg: float, most_kg: float) -> list[tuple[float, float]]:
    """Draw lines that no buying of an amount, or of any larger one, can cost less than.

    Parameters
    ----------
    packs : sequence of Pack
        Of one thing.
    least_kg, most_kg : float
        The least amount; and up to which lines are of use.

    Returns
    -------
    list of (float, float)
        Money at no amount at all, and money per kilogram, of each line.

    Notes
    -----
    Steps are looked at to well beyond `most_kg`. A line flatter than the lowest price per kilogram ends up
    under it, which nothing undercuts; only lines that are there before the last step are given.
    """
    # What rounding alone asks for is not needed.
    least = least_kg * (1.0 - PACK_SLACK) - PACK_SLACK if least_kg > NOTHING_BOUGHT_KG else 0.0
    if any(pack.loose or pack.price <= 0.0 for pack in packs) or not packs or most_kg <= least:
        return []
    steps = steps_of_cost(packs, least, 2.0 * most_kg + 2.0 * max(pack.size_kg for pack in packs))
    if not steps:
        return []
    # The lowest points of the steps are their right ends, and where the first of them begins.
    points = [(least, steps[0][1]), *steps]
    hull: list[tuple[float, float]] = []
    for x, y in points:
        if hull and x <= hull[-1][0]:
            continue
        while len(hull) > 1 and _turns_down(hull[-2], hull[-1], (x, y)):
            hull.pop()
        hull.append((x, y))
    lowest = min(pack.price / pack.size_kg for pack in packs)
    lines = []
    for (x0, y0), (x1, y1) in pairwise(hull):
        slope = (y1 - y0) / (x1 - x0)
        start = y0 - slope * x0
        if slope < lowest * (1.0 - PACK_SLACK) and start <= (lowest - slope) * steps[-1][0] and x0 <= most_kg:
            lines.append((start, slope))
    return lines


def _turns_down(first: tuple[float, float], second: tuple[float, float], third: tuple[float, float]) -> bool:
    return (second[1] - first[1]) * (third[0] - first[0]) >= (third[1] - first[1]) * (second[0] - first[0])
