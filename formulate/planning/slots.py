"""When things may come and batches be begun: what is asked of a menu's days, as slots of the plan."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from formulate.bar.prices import split_price
from formulate.files.menu import Menu
from formulate.files.shelf import Shelf
from formulate.optimise.mip.packs import Pack
from formulate.optimise.stock.question import Carriage, Making, Split
from formulate.planning.calendar import (
    HOURS_PER_DAY,
    WEEK,
    Calendar,
    Delivery,
    days_until_ready,
    deliveries_of,
)

__all__ = [
    "GONE",
    "batch_slots",
    "budgets_of",
    "carriage_of",
    "grid_days",
    "longest_days",
    "pack_deliveries",
]

GONE = "gone"
"""Name of the packs of what cannot be had: a plan that takes any of them is none."""


def _waits(making: Making) -> int:
    """Return how many days after it is begun a batch may be poured from."""
    return days_until_ready(making.takes * HOURS_PER_DAY)


def longest_days(makings: Sequence[Making]) -> int:
    """Return how many days the longest way to a house bottle takes, with those that go into it."""
    ways: dict[int, list[Making]] = {}
    for making in makings:
        ways.setdefault(making.good, []).append(making)

    def days(good: int) -> int:
        return max(
            (
                _waits(way) + max((days(part) for part, _ in way.uses), default=0)
                for way in ways.get(good, ())
            ),
            default=0,
        )

    return max(map(days, ways), default=0)


def _begins(calendar: Calendar, making: Making, keeps_days: float | None) -> list[int]:
    """List the days on which a batch may be begun and still be ready in time.

    What needs no vessel is made once a week, or as often as it must with what keeps less.
    """
    days = [day for day in calendar.begins if day + _waits(making) < calendar.end]
    if making.batch_kg is not None:
        return days
    step = WEEK if keeps_days is None else max(min(int(keeps_days), WEEK), 1)
    first: dict[int, int] = {}
    for day in days:
        first.setdefault((day - calendar.start) // step, day)
    return list(first.values())


def grid_days(
    calendar: Calendar,
    makings: Sequence[Making],
    packs: Sequence[Pack],
    splits: Sequence[Split],
    comes: Sequence[Sequence[Delivery]],
    keeps: Sequence[float | None],
) -> set[int]:
    """List the days on which anything may come, be begun, be ready, or be past its time."""
    if any(days is not None and days < WEEK for days in keeps):
        return set(range(calendar.start, calendar.end))
    grid = {0}
    for making in makings:
        kept = keeps[making.good]
        begins = _begins(calendar, making, kept)
        ready = [day + _waits(making) for day in begins]
        past = [] if kept is None else [day + int(kept) for day in ready]
        grid.update(begins, ready, past)
    for pack, deliveries in zip(packs, comes, strict=True):
        thing = pack.thing
        parts = [part for part, _ in splits[thing.number].parts] if thing.is_purchase else [thing.number]
        for delivery in deliveries:
            lives = [delivery.day + int(days) for part in parts if (days := keeps[part]) is not None]
            grid.update([delivery.day], lives)
    return grid


def batch_slots(
    calendar: Calendar, making: Making, keeps_days: float | None, free_from: int
) -> tuple[tuple[int, int], ...]:
    """List the periods in which a batch may be begun, and from which it is then there.

    Parameters
    ----------
    free_from : int
        First day on which its vessel is free.
    """
    waits = _waits(making)
    return tuple(
        (calendar.period(day), calendar.period(day + waits))
        for day in _begins(calendar, making, keeps_days)
        if day >= free_from
    )


def pack_deliveries(
    menu: Menu,
    calendar: Calendar,
    shelf: Shelf,
    pack: Pack,
    names: Sequence[str],
    splits: Sequence[Split],
    keeps: Sequence[float | None],
) -> tuple[Delivery, ...]:
    """List the days on which a pack may come: as its supplier comes, and as what is in it keeps."""
    if pack.name == GONE:
        return (Delivery(calendar.start, calendar.start),)
    thing = pack.thing
    parts = [part for part, _ in splits[thing.number].parts] if thing.is_purchase else [thing.number]
    lead = max((one.lead_time_h or 0.0) if (one := menu.pars.get(names[part])) else 0.0 for part in parts)
    kept = [days for part in parts if (days := keeps[part]) is not None]
    return deliveries_of(calendar, shelf, pack.supplier, lead, min(kept, default=None))


def carriage_of(shelf: Shelf, packs: Sequence[Pack]) -> tuple[Carriage, ...]:
    """List what suppliers of some packs ask for bringing them."""
    found = []
    for supplier in dict.fromkeys(pack.supplier for pack in packs):
        terms = shelf.suppliers.get(supplier)
        if terms is not None and terms.carriage is not None:
            free_from = np.inf if terms.free_from is None else terms.free_from.value
            price = split_price(terms.carriage.value, shelf.tax, tax_in="without").cost
            found.append(Carriage(supplier, price, free_from))
    return tuple(found)


def budgets_of(menu: Menu, calendar: Calendar) -> tuple[tuple[tuple[int, ...], float], ...]:
    """Give each week its budget; what is ordered to prepare counts week by week too."""
    if menu.budget is None:
        return ()
    weeks: dict[int, list[int]] = {}
    for period, day in enumerate(calendar.grid[:-1]):
        weeks.setdefault(day // WEEK, []).append(period)
    return tuple((tuple(periods), menu.budget.value) for periods in weeks.values())
