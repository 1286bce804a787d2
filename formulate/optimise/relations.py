"""Where the relations that are not linear stand in the linear program.

Each record names columns and the rows reserved for the relation, which `live` rewrites at
every pass and every box.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.blend.uptake import StrengthTable

__all__ = ["Carry", "Slip", "Stream", "UptakeRow", "VolumeRow"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]


@dataclass(frozen=True)
class Carry:
    """A step whose carried totals are an unknown share of its gross totals.

    Attributes
    ----------
    step : int
    gross, carried : ndarray of int
        Columns of the totals, same order.
    share : int
        Column of the share carried.
    rinse : int or None
        Column of the water a rinse adds to what is carried.
    sum_row : int
        The exact row for the mass carried.
    low_rows, high_rows : ndarray of int
        One pair of reserved rows per total.
    share_smallest : float
        No recipe of the program leaves less.
    share_largest : float
        What a cake that keeps nothing would leave: one less the loss.
    """

    step: int
    gross: IntArray
    carried: IntArray
    share: int
    rinse: int | None
    sum_row: int
    low_rows: IntArray
    high_rows: IntArray
    share_smallest: float
    share_largest: float


@dataclass(frozen=True)
class VolumeRow:
    """A volume that must come out at a given size.

    Attributes
    ----------
    step : int
    of_bottle : bool
        True for the bottle (one litre), False for a vessel.
    columns : ndarray of int
        Columns of the liquor totals.
    low_row, high_row : int
        Reserved rows for the under- and the over-estimate.
    short, over : int
        Columns by which it may slip while the loop is far away.
    """

    step: int
    of_bottle: bool
    columns: IntArray
    low_row: int
    high_row: int
    short: int
    over: int


@dataclass(frozen=True)
class UptakeRow:
    """An activity of a step whose uptake depends on the step's own strength.

    Attributes
    ----------
    step : int
    total : int
        Column of the activity in the step.
    others, other_weights : ndarray
        Columns of what flows in and of what is given whatever the strength, and how much of each
        survives the step's heat.
    parts : ndarray of int
        Columns of what is given at a table's share of 1, one per table.
    tables : tuple of StrengthTable
    amounts : ndarray, shape (tables, columns)
        What each unknown mass of the step gives at a share of 1.
    columns : ndarray of int
        The unknown masses of the step.
    alcohol : ndarray of int
        Columns of water and ethanol in the step.
    low_row, high_row : int
        Reserved rows for the under- and the over-estimate; the loop's equality is in the first.
    sharper_low_rows, sharper_high_rows : tuple of int
        Reserved rows for estimates that also know how much plant there is per solvent.
    dose_rows : tuple of (int, int)
        Per table, the rows for the least and the greatest amount given per kilogram of solvent.
    largest_doses : ndarray
        Per table, what no recipe can exceed.
    """

    step: int
    total: int
    others: IntArray
    other_weights: FloatArray
    parts: IntArray
    tables: tuple[StrengthTable, ...]
    amounts: FloatArray
    columns: IntArray
    alcohol: IntArray
    low_row: int
    high_row: int
    sharper_low_rows: tuple[int, ...]
    sharper_high_rows: tuple[int, ...]
    dose_rows: tuple[tuple[int, int], ...]
    largest_doses: FloatArray


@dataclass(frozen=True, slots=True)
class Slip:
    """Columns by which a limit may be missed: closed for a hard one but while the loop is far away.

    Attributes
    ----------
    short, over : int
    scale : float
        Size of the limit.
    soft : bool
        Whether it stays open, at the limit's own price.
    """

    short: int
    over: int
    scale: float
    soft: bool


@dataclass(frozen=True)
class Stream:
    """Liquor of one composition, and the reserved rows that keep it inside a box.

    Attributes
    ----------
    blocks : tuple of ndarray of int
        Blocks of liquor columns that share the composition (gross and carried).
    ethanol_rows, solute_rows : tuple of (int, int)
        Per block, the rows for the least and the greatest fraction.
    """

    blocks: tuple[IntArray, ...]
    ethanol_rows: tuple[tuple[int, int], ...]
    solute_rows: tuple[tuple[int, int], ...]
