"""How much of each thing a menu pours, day by day, with the margin it shall suffice by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from formulate.bar.serve import Serve
from formulate.files.fields import did_you_mean
from formulate.files.issues import Problems
from formulate.files.menu import Menu
from formulate.optimise.stock.question import Making
from formulate.planning.calendar import WEEK, Calendar

__all__ = ["Demand", "Sales", "demand_of", "direct_kg", "sales_of"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Sales:
    """What is sold on each day from the first planned for.

    Attributes
    ----------
    mean, spread : ndarray, shape (drinks, days)
    """

    mean: FloatArray
    spread: FloatArray


@dataclass(frozen=True)
class Demand:
    """What is poured.

    Attributes
    ----------
    poured_kg : ndarray, shape (goods, days)
        Waste and margin with it; what house bottles take is not in it.
    per_week : ndarray, shape (goods, 2)
        Mean and spread of what goes in a week, through house bottles too, waste with it, kg.
    """

    poured_kg: FloatArray
    per_week: FloatArray


def sales_of(menu: Menu, calendar: Calendar, problems: Problems) -> Sales:
    """Spread the forecast of each week over its open days, and add what events bring.

    Parameters
    ----------
    problems : Problems
        Of the menu file; takes an event that is not in its time, or a drink that is not on it.
    """
    days = calendar.end - calendar.start
    mean, variance = np.zeros((len(menu.drinks), days)), np.zeros((len(menu.drinks), days))
    usual = round(calendar.open_in_week)
    for number, entry in enumerate(menu.drinks):
        for week in range(menu.weeks):
            sold, spread = entry.sells.per_week(usual, week + 1)
            for day in calendar.open_days(week):
                mean[number, day - calendar.start] += sold / usual
                variance[number, day - calendar.start] += spread**2 / usual
    names = [menu.drink_path(number).stem for number in range(len(menu.drinks))]
    for place, event in enumerate(menu.events):
        assert menu.first_day is not None
        day = (event.on - menu.first_day).days
        if not 0 <= day < calendar.end:
            problems.add(("events", place, "on"), f"not a day of this menu, got {event.on}. Check it.")
            continue
        for name, more in event.drinks.items():
            if name not in names:
                hint = did_you_mean(name, names)
                problems.add(("events", place, "drinks", name), f"no drink '{name}' here. {hint}", key=True)
            elif day >= calendar.start:
                mean[names.index(name), day - calendar.start] += more
    return Sales(mean, np.sqrt(variance))


def direct_kg(serves: Sequence[Serve], names: tuple[str, ...]) -> FloatArray:
    """Return what one of each drink takes of each good, shape (drinks, goods), kg."""
    order = {name: number for number, name in enumerate(names)}
    direct = np.zeros((len(serves), len(names)))
    for row, serve in zip(direct, serves, strict=True):
        for ingredient, mass in zip(serve.ingredients[:-1], serve.paid_kg[:-1], strict=True):
            if ingredient.id in order:
                row[order[ingredient.id]] += float(mass)
        for name, pieces in serve.supplies:
            row[order[name]] += pieces
    return direct


def demand_of(
    menu: Menu,
    sales: Sales,
    direct: FloatArray,
    makings: tuple[Making, ...],
    keeps_days: Sequence[float | None],
    waste: FloatArray,
) -> Demand:
    """Work out what is poured on each day, and what goes in a usual week.

    Drinks vary each by itself, and so do days: up to day n the margin is that of n days together. A margin
    that was not needed is there later only while it keeps; then it begins anew.

    Parameters
    ----------
    direct : ndarray, shape (drinks, goods)
        What one of each takes, kg.
    keeps_days : sequence of float or None
        Of each good.
    waste : ndarray, shape (goods,)
        Share of each good that is spilt, overpoured and sent back.
    """
    with_waste = (1.0 + waste) * direct
    mean = with_waste.T @ sales.mean
    variance = (with_waste.T**2) @ sales.spread**2
    margin = NormalDist().inv_cdf(menu.cover_share)
    days = mean.shape[1]
    sold = np.flatnonzero(sales.mean.sum(axis=0) > 0.0)
    first = int(sold[0]) if sold.size else 0
    poured = mean.copy()
    for good, keeps in enumerate(keeps_days):
        window = days if keeps is None else max(int(keeps + 1e-9), 1)
        for since in range(first, days, window):
            gone = np.sqrt(np.cumsum(variance[good, since : since + window]))
            poured[good, since : since + window] += margin * np.diff(gone, prepend=0.0)
    through = with_waste.copy()
    ways = {making.good: making for making in reversed(makings)}.values()
    # From the drink down: a house bottle comes before what it is made of, but another may come between.
    for _ in ways:
        down = with_waste.copy()
        for making in ways:
            for good, rate in making.uses:
                down[:, good] += rate * through[:, making.good]
            for good, amount in making.batch_uses:
                down[:, good] += amount / (making.batch_kg or 1.0) * through[:, making.good]
            for good, amount in making.filled_with:
                down[:, good] += amount / making.filled_kg * through[:, making.good]
        if np.array_equal(down, through):
            break
        through = down
    weeks = (days - first) / WEEK if menu.drinks else 1.0
    all_mean = through.T @ sales.mean.sum(axis=1) / weeks
    all_spread = np.sqrt((through.T**2) @ (sales.spread**2).sum(axis=1) / weeks)
    return Demand(poured, np.stack([all_mean, all_spread], axis=1))
