"""Rows that every plan of a menu satisfies anyway, and that the search for whole numbers needs to be told.

What is poured in some weeks came in those weeks or not long before. Of a bottle that is so many batches at
the least; of a thing in packs it is so much money at the least, whatever the recipes (`pack_costs`).
Neither follows from the program as long as packs and batches may be broken.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from math import ceil

import numpy as np

from formulate.optimise.linear import RowBuilder
from formulate.optimise.mip.packs import Thing
from formulate.optimise.stock.pack_costs import lines_under_steps
from formulate.optimise.stock.question import Making, StockQuestion

__all__ = ["tighten"]

ByWeek = dict[tuple[int, int], int]

SURE = 1e-6
LONGEST_WEEKS = 4
"""Of what does not keep, longer stretches than this are not looked at, except all weeks together."""


class _Least:
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
                for used, rate in way.uses
                if used == good or used in self.question.passed_on
            )
            for way in self.ways[bottle]
        )

    def _out(self, good: int, first: int, last: int) -> float:
        """Return how much of a good goes from one week to another at the least."""
        one = self.question.goods[good]
        total = sum(one.demand_kg[first : last + 1])
        total += one.end_kg if last == self.question.weeks - 1 else 0.0
        for bottle, ways in self.ways.items():
            if bottle in self.question.passed_on:
                continue  # what it takes is counted where it goes
            before = {way.weeks_before for way in ways}
            if len(before) == 1 and (rate := self.rate(bottle, good)) > 0.0:
                later = before.pop()
                total += rate * self.made(bottle, first + later, min(last + later, self.question.weeks - 1))
        return total

    def made(self, good: int, first: int, last: int) -> float:
        """Return how much of a bottle must be ready from one week to another."""
        served = 0 if first == 0 else first + self.question.life(good) - 1
        if served > last:
            return 0.0
        there = self.question.there_kg(good) if first == 0 else 0.0
        return max(float(self.out(good, served, last)) - there, 0.0)


def tighten(question: StockQuestion, rows: RowBuilder, packs: ByWeek, used: ByWeek, batches: ByWeek) -> None:
    """Add the rows.

    Parameters
    ----------
    question : StockQuestion
    rows : RowBuilder
    packs, used, batches : dict of (int, int) to int
        Columns by pack, by good that batches take, or by making, and week.
    """
    least = _Least(question)
    _batches(question, least, rows, batches)
    in_parts = {good for split in question.splits for good, _ in split.parts}
    for good in range(len(question.goods)):
        if good not in least.ways and good not in in_parts:
            _money(question, least, good, rows, packs, used)


def _stretches(question: StockQuestion, good: int) -> Iterator[tuple[int, int]]:
    """List the stretches of weeks to look at: all together, and short ones of what does not keep."""
    weeks = question.weeks
    yield 0, weeks - 1
    if question.life(good) > weeks:
        return
    for first in range(weeks):
        for last in range(first, min(first + LONGEST_WEEKS, weeks)):
            if (first, last) != (0, weeks - 1):
                yield first, last


def _batches(question: StockQuestion, least: _Least, rows: RowBuilder, batches: ByWeek) -> None:
    for good, ways in least.ways.items():
        largest = max((way.batch_kg or 0.0 for way in ways), default=0.0)
        if largest <= 0.0 or any(way.batch_kg is None for way in ways):
            continue
        for first, last in _stretches(question, good):
            count = ceil(least.made(good, first, last) / largest - SURE)
            own = [
                column
                for (number, week), column in batches.items()
                if question.makings[number].good == good and first <= week <= last
            ]
            if count > 0 and own:
                rows.add(own, np.ones(len(own)), float(count), np.inf)


def _money(
    question: StockQuestion,
    least: _Least,
    good: int,
    rows: RowBuilder,
    packs: ByWeek,
    used: ByWeek,
) -> None:
    one, thing = question.goods[good], Thing(False, good)
    own = [pack for pack in question.packs if pack.thing == thing]
    most = question.needs_kg[thing] if own else 0.0
    for first, last in _stretches(question, good) if own else ():
        since = max(first - question.life(good) + 1, 0)
        fixed = sum(one.demand_kg[first : last + 1]) - (question.there_kg(good) if since == 0 else 0.0)
        fixed += one.end_kg if last == question.weeks - 1 else 0.0
        needed = least.out(good, first, last) - (question.there_kg(good) if since == 0 else 0.0)
        if needed <= 0.0:
            continue
        spent = {
            column: question.packs[number].price
            for (number, week), column in packs.items()
            if question.packs[number].thing == thing and since <= week <= last
        }
        for money, per_kg in lines_under_steps(own, needed, most):
            taken = [
                column for (other, week), column in used.items() if other == good and first <= week <= last
            ]
            entries = {**spent, **dict.fromkeys(taken, -per_kg)}
            rows.add(list(entries), np.array(list(entries.values())), money + per_kg * fixed, np.inf)
