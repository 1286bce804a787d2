"""The days of a menu: when it is open, when batches may be begun and are ready, when suppliers come.

Day 0 is the first day of the menu; days before it are there to order and to make ahead. The plan knows no
finer time: what comes or is ready on a day is there before the first guest, and what is poured on a day is
gone at its end.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil

from formulate.files.days import Supplier
from formulate.files.menu import Menu
from formulate.files.shelf import Shelf

__all__ = [
    "HOURS_PER_DAY",
    "WEEK",
    "Calendar",
    "Delivery",
    "calendar_of",
    "days_until_ready",
    "deliveries_of",
]

WEEK = 7
SAME_EVENING_H = 8.0
"""What takes no longer is begun in the morning and poured the same evening."""
HOURS_PER_DAY = 24.0
MOST_DAILY = 600
"""Batches may be begun every day as long as bottles and days together are no more than this."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """One day on which a supplier comes, and the last day to order for it; counted from the first day."""

    day: int
    order_by: int


@dataclass(frozen=True)
class Calendar:
    """The days of a menu.

    Attributes
    ----------
    first : date or None
        Day 0; None where the menu has no dates.
    start, end : int
        First day planned for, and the first after it.
    open_in_week : float
        Days open in a usual week.
    shut : frozenset of int
        Days when nothing is sold or begun.
    begins : tuple of int
        Days on which batches may be begun.
    is_fixed : bool
        Whether nothing can be ordered or begun before the first day planned for.
    fewer_days : bool
        Whether batches may be begun on fewer days than the menu allows, because there are so many.
    grid : tuple of int
        Days on which a period of the plan begins, and the end.
    """

    first: date | None
    start: int
    end: int
    open_in_week: float
    shut: frozenset[int]
    begins: tuple[int, ...]
    is_fixed: bool = False
    fewer_days: bool = False
    grid: tuple[int, ...] = ()

    def with_grid(self, days: Iterable[int]) -> Calendar:
        """Let a period begin on each of some days."""
        inside = {day for day in days if self.start <= day < self.end}
        return replace(self, grid=(*sorted({self.start, *inside}), self.end))

    @property
    def clock(self) -> tuple[float, ...]:
        """When periods begin, and the end."""
        return tuple(map(float, self.grid))

    def period(self, day: int) -> int:
        """Return the period that begins on a day, or the first after it."""
        return bisect_left(self.grid, day)

    def open_days(self, week: int | None = None) -> list[int]:
        """List the days open that are planned for, in all or in a week (from 0)."""
        first, last = (0, self.end) if week is None else (WEEK * week, WEEK * (week + 1))
        return [day for day in range(max(first, self.start), min(last, self.end)) if day not in self.shut]

    def date_of(self, day: int) -> date | None:
        """Return the date of a day; None where the menu has no dates."""
        return None if self.first is None else self.first + timedelta(days=day)

    def weekday(self, day: int) -> int | None:
        """Return which day of the week it is, Monday being 0."""
        on = self.date_of(day)
        return None if on is None else on.weekday()


def calendar_of(menu: Menu, longest_days: int, bottles: int, *, now: date | None = None) -> Calendar:
    """Lay out the days of a menu.

    Parameters
    ----------
    longest_days : int
        That a house bottle takes, with those that go into it.
    bottles : int
        Ways of making them.
    now : date, optional
        The day from which the rest is planned; nothing can be done before it.
    """
    first, end = menu.first_day, WEEK * menu.weeks
    ahead = WEEK * ceil(longest_days / WEEK)
    if menu.prepare_h is not None:
        ahead = round(menu.prepare_h / HOURS_PER_DAY)
    start = -ahead
    if now is not None and first is not None:
        start = (now - first).days
    shut_weekdays = {day for day in menu.closed if isinstance(day, int)}
    shut_dates = {day for day in menu.closed if isinstance(day, date)}
    shut = set()
    for day in range(start, end):
        on = None if first is None else first + timedelta(days=day)
        if (on is not None and (on.weekday() in shut_weekdays or on in shut_dates)) or (
            not shut_weekdays and day % WEEK >= menu.open_days
        ):
            shut.add(day)
    begins = [day for day in range(start, end) if day not in shut]
    if menu.makes_on and first is not None:
        begins = [day for day in begins if (first + timedelta(days=day)).weekday() in menu.makes_on]
    fewer = not menu.makes_on and bottles * (end - start) > MOST_DAILY
    if fewer:
        by_week: dict[int, list[int]] = {}
        for day in begins:
            by_week.setdefault(day // WEEK, []).append(day)
        begins = [day for days in by_week.values() for day in {days[0], days[len(days) // 2]}]
    open_in_week = WEEK - len(shut_weekdays) if shut_weekdays else menu.open_days
    return Calendar(
        first,
        start,
        end,
        float(open_in_week),
        frozenset(shut),
        tuple(sorted(begins)),
        is_fixed=now is not None or (menu.prepare_h is not None and ahead == 0),
        fewer_days=fewer,
    )


def days_until_ready(hours: float) -> int:
    """Return how many days after it is begun a batch may be poured from."""
    return 0 if hours <= SAME_EVENING_H else ceil(hours / HOURS_PER_DAY - 1e-9)


def deliveries_of(
    calendar: Calendar, shelf: Shelf, supplier: str, lead_time_h: float, keeps_days: float | None
) -> tuple[Delivery, ...]:
    """List the days on which something may come from a supplier.

    Where no days are said they come on the first day of each week, and more often with what keeps less.

    Parameters
    ----------
    lead_time_h : float
        Of the thing itself; the supplier's own counts where that is longer.
    keeps_days : float or None
        None for what keeps to the end.
    """
    terms = shelf.suppliers.get(supplier, Supplier())
    lead = ceil(max(lead_time_h, terms.lead_time_h) / HOURS_PER_DAY - 1e-9)
    days: Sequence[int]
    if terms.delivers_on:
        days = [
            day for day in range(calendar.start, calendar.end) if calendar.weekday(day) in terms.delivers_on
        ]
    else:
        step = WEEK if keeps_days is None else max(min(int(keeps_days), WEEK), 1)
        weeks = range(WEEK * (calendar.start // WEEK), calendar.end, WEEK)
        days = [day for week in weeks for day in range(week, week + WEEK, step)]
        soonest = calendar.start + (lead if calendar.is_fixed else 0)
        days = sorted({soonest, *(day for day in days if soonest < day < calendar.end)})
    found = []
    for day in days:
        order_by = day - lead
        if terms.orders_on:
            back = (back for back in range(WEEK) if calendar.weekday(order_by - back) in terms.orders_on)
            order_by -= next(back, 0)
        if calendar.is_fixed and order_by < calendar.start:
            continue
        found.append(Delivery(day, order_by))
    return tuple(found)
