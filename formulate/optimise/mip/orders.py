"""Minimum orders: from a supplier nothing is ordered, or at least so much money's worth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from formulate.optimise.linear import RowBuilder

__all__ = ["add_minimum_order"]


def add_minimum_order(
    rows: RowBuilder,
    packs: Sequence[int],
    prices: Sequence[float],
    most: Sequence[float],
    is_ordered: int,
    least: float,
) -> None:
    """Add the rows of one supplier and one delivery.

    Parameters
    ----------
    packs : sequence of int
        Columns that count the supplier's packs.
    prices, most : sequence of float
        Per pack: its price, and how many can be worth buying at most.
    is_ordered : int
        A column of 0 or 1: whether anything is ordered.
    least : float
        Money the order must come to.
    """
    rows.add([*packs, is_ordered], np.array([*prices, -least]), 0.0, np.inf)
    for pack, limit in zip(packs, most, strict=True):
        rows.add([pack, is_ordered], np.array([1.0, -limit]), -np.inf, 0.0)
