"""What suppliers and the house ask of orders: least orders, carriage, a budget."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.linear import RowBuilder
from formulate.optimise.mip.orders import add_minimum_order
from formulate.optimise.stock.question import StockQuestion

__all__ = ["Columns", "order_rows"]

FloatArray = NDArray[np.float64]


class Columns:
    """Hands out columns with their cost and bounds."""

    def __init__(self) -> None:
        self.cost: list[float] = []
        self.upper: list[float] = []
        self.integer: list[bool] = []

    def add(self, cost: float = 0.0, upper: float = np.inf, *, integer: bool = False) -> int:
        """Add a column and return its number."""
        self.cost.append(cost)
        self.upper.append(upper)
        self.integer.append(integer)
        return len(self.cost) - 1


def order_rows(
    question: StockQuestion,
    columns: Columns,
    rows: RowBuilder,
    packs: Mapping[tuple[int, int], int],
    limits: FloatArray,
) -> dict[tuple[str, int], int]:
    """Let a supplier bring nothing, or at least the least order; say which column tells.

    Parameters
    ----------
    packs : mapping of (int, int) to int
        Columns by pack and period.
    limits : ndarray, shape (packs,)
        Most of each.
    """
    least_of = dict(question.least_order)
    carriage_of = {one.supplier: one for one in question.carriage if one.price > 0.0}
    column_of: dict[tuple[str, int], int] = {}
    by_order: dict[tuple[str, int], list[int]] = {}
    for number, period in packs:
        by_order.setdefault((question.packs[number].supplier, period), []).append(number)
    for (supplier, period), own in by_order.items():
        least, carriage = least_of.get(supplier, 0.0), carriage_of.get(supplier)
        if least <= 0.0 and carriage is None:
            continue
        taken = [packs[number, period] for number in own]
        counted = [question.packs[number].counted for number in own]
        price = 0.0 if carriage is None else carriage.price
        is_ordered = column_of[supplier, period] = columns.add(price, upper=1.0, integer=True)
        most = [float(limits[number]) for number in own]
        add_minimum_order(rows, taken, counted, most, is_ordered, least)
        if carriage is not None and np.isfinite(carriage.free_from):
            is_free = columns.add(-price, upper=1.0, integer=True)
            rows.add([is_free, is_ordered], np.array([1.0, -1.0]), -np.inf, 0.0)
            rows.add([*taken, is_free], np.array([*counted, -carriage.free_from]), 0.0, np.inf)
    for periods, most_money in question.budgets:
        spent = {
            column: question.packs[number].counted
            for (number, period), column in packs.items()
            if period in periods
        }
        if spent:
            rows.add(list(spent), np.array(list(spent.values())), -np.inf, most_money)
    return column_of
