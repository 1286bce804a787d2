"""The map of the linear program: where its columns stand, and the rows of relations that are not linear.

Each record names columns and the rows reserved for the relation, which `program` rewrites at
every pass and `tree.relaxation` at every node.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.blend.uptake import StrengthTable
from formulate.optimise.linear import LinearModel
from formulate.optimise.problem import BlendProblem

__all__ = ["Assembly", "Block", "Carry", "ElasticColumns", "Potency", "Stream", "UptakeRow", "VolumeRow"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]


@dataclass(frozen=True)
class Carry:
    """A step whose carried totals are an unknown share of its gross totals.

    Attributes
    ----------
    gross, carried : ndarray of int
        Columns of the totals, same order.
    share : int
        Column of the share carried.
    rinse : int or None
        Column of the water a rinse adds to what is carried.
    sum_row : int
        The exact row for the mass carried.
    beyond, short : ndarray of int
        Columns of what is carried beyond the least share in a node, and of what is carried short of
        the greatest.
    low_rows, high_rows : ndarray of int
        The rows that define them, one pair per total; the loop's equality is in the first.
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
    beyond: IntArray
    short: IntArray
    low_rows: IntArray
    high_rows: IntArray
    share_smallest: float
    share_largest: float


@dataclass(frozen=True)
class VolumeRow:
    """A volume that must come out at a given size.

    Attributes
    ----------
    of_bottle : bool
        True for the bottle (one litre), False for a vessel.
    columns : ndarray of int
        Columns of the liquor totals.
    low_row, high_row : int
        Reserved rows for the under- and the over-estimate.
    short, over : int
        Elastic columns: by how much it may be missed while the loop is far away.
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
    total : int
        Column of the activity in the step.
    others, other_weights : ndarray
        Columns of what flows in and of what is given whatever the strength, and how much of each
        survives the step's heat.
    parts : ndarray of int
        Columns of what is given at a table's share of 1, one per table.
    amounts : ndarray, shape (tables, columns)
        What each unknown mass of the step gives at a share of 1.
    columns : ndarray of int
        The unknown masses of the step.
    alcohol : ndarray of int
        Columns of water and ethanol in the step.
    given : ndarray of int
        Columns of what is given at the table's own share, one per table.
    sum_row : int
        The row for the total: over what is given in the proof, linearised in the loop.
    low_rows, high_rows : tuple of (int, int, int)
        Per table, the reserved rows for the under- and the over-estimates: by the extremes of the
        table, then two that also know how much plant there is per solvent.
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
    given: IntArray
    sum_row: int
    low_rows: tuple[tuple[int, int, int], ...]
    high_rows: tuple[tuple[int, int, int], ...]
    dose_rows: tuple[tuple[int, int], ...]
    largest_doses: FloatArray


@dataclass(frozen=True, slots=True)
class ElasticColumns:
    """Columns by which a limit may be missed: closed for a hard one but while the loop is far away.

    Attributes
    ----------
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
class Block:
    """One liquor of a stream, and the reserved rows that keep its composition inside a node.

    Attributes
    ----------
    liquor : ndarray of int
        Columns of its components.
    solvent, total : int
        Columns of its water and ethanol together, and of all of it.
    ethanol_rows, solute_rows : tuple of (int, int)
        The rows for the least and the greatest fraction.
    potency_rows : tuple of (int, int)
        The same, per potency of the stream.
    """

    liquor: IntArray
    solvent: int
    total: int
    ethanol_rows: tuple[int, int]
    solute_rows: tuple[int, int]
    potency_rows: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Stream:
    """Liquors of one composition.

    Attributes
    ----------
    blocks : tuple of Block
        The liquor itself, then those that share its composition.
    potencies : tuple of int
        Which intervals of a node hold its potencies.
    """

    blocks: tuple[Block, ...]
    potencies: tuple[int, ...]


@dataclass(frozen=True)
class Potency:
    """An activity that a limit counts, per kilogram of liquor of a step whose cake keeps some.

    Attributes
    ----------
    total : int
        Column of the activity in the step.
    """

    step: int
    total: int


@dataclass(frozen=True)
class Assembly:
    """A linear program with the map of its columns and rows."""

    problem: BlendProblem
    model: LinearModel
    occurring: IntArray
    """Which carried quantities occur at all."""
    liquor: IntArray
    """Which of `occurring` are mass of liquor, as components of `physics.mixture.COMPONENTS`."""
    batches: int
    gross: tuple[IntArray, ...]
    carried: tuple[IntArray, ...]
    carries: tuple[Carry, ...]
    volumes: tuple[VolumeRow, ...]
    streams: tuple[Stream, ...]
    stream_numbers: Mapping[tuple[int, bool], int]
    """Which stream a step's gross (False) or carried (True) liquor belongs to."""
    potencies: tuple[Potency, ...]
    uptakes: tuple[UptakeRow, ...]
    purchases: IntArray
    limit_rows: IntArray
    elastics: tuple[ElasticColumns, ...]
    ethanol: int
    """Position of ethanol within `liquor`."""
    water: int
    """Position of water within `liquor`."""

    @property
    def cost(self) -> FloatArray:
        """The objective as money per litre."""
        return self.model.cost
