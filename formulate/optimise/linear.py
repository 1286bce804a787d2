"""A linear program as plain arrays, and what a solver says about it.

Nothing here knows a solver. `highs` and `pulp_model` turn the record into their own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

__all__ = ["LinearModel", "LinearResult", "LinearStatus", "RowBuilder"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]


class LinearStatus(StrEnum):
    """How a linear solve ended."""

    OPTIMAL = "optimal"
    INFEASIBLE = "infeasible"
    UNBOUNDED = "unbounded"
    CUT_OFF = "cut off"
    """Stopped because the optimum is certainly worse than the bound given."""
    INTERRUPTED = "interrupted"
    """A limit of time or iterations was hit; any values are not proved best."""
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class LinearModel:
    """Minimise ``cost . x`` with ``row_lower <= A x <= row_upper`` and bounds on `x`.

    Attributes
    ----------
    cost, column_lower, column_upper : ndarray, shape (columns,)
    row_lower, row_upper : ndarray, shape (rows,)
    starts : ndarray of int, shape (rows + 1,)
        Where each row begins in `indices` and `values` (compressed rows).
    indices : ndarray of int
        Column of each entry.
    values : ndarray
        Entry.
    integer : ndarray of bool, shape (columns,)
        Columns that must be whole numbers.
    """

    cost: FloatArray
    column_lower: FloatArray
    column_upper: FloatArray
    row_lower: FloatArray
    row_upper: FloatArray
    starts: IntArray
    indices: IntArray
    values: FloatArray
    integer: NDArray[np.bool_]

    @property
    def columns(self) -> int:
        """Number of columns."""
        return len(self.cost)

    @property
    def rows(self) -> int:
        """Number of rows."""
        return len(self.row_lower)

    def with_rows(self, rows: RowBuilder) -> LinearModel:
        """Return the same model with rows added below its own.

        Parameters
        ----------
        rows : RowBuilder
            Over the columns of this model, or of one that columns will still be added to.
        """
        added = rows.assemble(np.zeros(0), np.zeros(0), np.zeros(0))
        return replace(
            self,
            row_lower=np.concatenate([self.row_lower, added.row_lower]),
            row_upper=np.concatenate([self.row_upper, added.row_upper]),
            starts=np.concatenate([self.starts, self.starts[-1] + added.starts[1:]]).astype(np.int32),
            indices=np.concatenate([self.indices, added.indices]),
            values=np.concatenate([self.values, added.values]),
        )


@dataclass(frozen=True)
class LinearResult:
    """Answer of one linear solve.

    Attributes
    ----------
    objective : float
        NaN unless a point was found.
    values : ndarray, shape (columns,)
        Empty unless a point was found.
    row_duals, column_duals : ndarray
        Change of the objective per unit of a row's limit, or of a column's bound; empty when there are
        none, as for models with whole numbers. Never zeros standing for nothing.
    proven_bound : float
        For models with whole numbers, the best objective not yet excluded; else the objective.
    """

    status: LinearStatus
    objective: float
    values: FloatArray
    row_duals: FloatArray
    column_duals: FloatArray
    proven_bound: float

    @property
    def gap(self) -> float:
        """How much dearer the point may be than the best, as a share of what it costs."""
        if not self.objective:
            return 0.0
        return max((self.objective - self.proven_bound) / abs(self.objective), 0.0)


class RowBuilder:
    """Collects rows in order and joins them into compressed rows once."""

    def __init__(self) -> None:
        self._indices: list[IntArray] = []
        self._values: list[FloatArray] = []
        self._lower: list[float] = []
        self._upper: list[float] = []

    def __len__(self) -> int:
        return len(self._lower)

    def add(self, indices: Iterable[int] | IntArray, values: FloatArray, lower: float, upper: float) -> int:
        """Add one row and return its number."""
        self._indices.append(np.asarray(indices, dtype=np.int32))
        self._values.append(np.asarray(values, dtype=float))
        self._lower.append(lower)
        self._upper.append(upper)
        return len(self._lower) - 1

    def reserve(self, indices: Iterable[int] | IntArray) -> int:
        """Add a row without limits whose entries are set later; return its number."""
        columns = np.asarray(indices, dtype=np.int32)
        return self.add(columns, np.ones(len(columns)), -np.inf, np.inf)

    def assemble(
        self, cost: FloatArray, lower: FloatArray, upper: FloatArray, integer: NDArray[np.bool_] | None = None
    ) -> LinearModel:
        """Join the rows with the columns given into a model."""
        lengths = np.array([len(row) for row in self._indices], dtype=np.int32)
        return LinearModel(
            cost=cost,
            column_lower=lower,
            column_upper=upper,
            row_lower=np.array(self._lower),
            row_upper=np.array(self._upper),
            starts=np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32),
            indices=np.concatenate(self._indices) if self._indices else np.zeros(0, dtype=np.int32),
            values=np.concatenate(self._values) if self._values else np.zeros(0),
            integer=np.zeros(len(cost), dtype=bool) if integer is None else integer,
        )
