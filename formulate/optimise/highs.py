"""The hot loop's linear engine: one live HiGHS model, changed in place and re-solved.

Passing a model costs more than solving it again from the last basis, so a solve keeps one
`Engine` from its first pass to the end of its proof and edits a few dozen coefficients.
The only place that imports highspy.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import highspy
import numpy as np
from numpy.typing import NDArray

from formulate.optimise.linear import LinearModel, LinearResult, LinearStatus
from formulate.optimise.tolerances import FEASIBILITY_KG_PER_L
from formulate.optimise.watch import Watch, tell

__all__ = ["Engine", "search_callbacks", "version"]

FloatArray = NDArray[np.float64]

_STATUS = {
    highspy.HighsModelStatus.kOptimal: LinearStatus.OPTIMAL,
    highspy.HighsModelStatus.kInfeasible: LinearStatus.INFEASIBLE,
    highspy.HighsModelStatus.kUnbounded: LinearStatus.UNBOUNDED,
    highspy.HighsModelStatus.kUnboundedOrInfeasible: LinearStatus.UNKNOWN,
    highspy.HighsModelStatus.kObjectiveBound: LinearStatus.CUT_OFF,
    highspy.HighsModelStatus.kTimeLimit: LinearStatus.INTERRUPTED,
    highspy.HighsModelStatus.kIterationLimit: LinearStatus.INTERRUPTED,
}

_NOTHING = np.zeros(0)
_PRIMAL = 4
_DEVEX = 1


def version() -> str:
    """Version of the solver, for the record kept with every recipe."""
    return str(highspy.Highs().version())


def search_callbacks(watch: Watch, *, tells: bool) -> dict[str, Any]:
    """Let whoever watches a search in whole numbers see better points as they are found, and stop it.

    Parameters
    ----------
    watch : Watch
    tells : bool
        Whether cost and gap are worth telling.

    Returns
    -------
    dict
        What PuLP hands on to the solver.
    """
    kinds = highspy.cb.HighsCallbackType
    better, ask = kinds.kCallbackMipImprovingSolution, kinds.kCallbackMipInterrupt

    def called(kind: Any, _message: str, found: Any, asked: Any, _data: Any) -> None:
        if kind == ask:
            asked.user_interrupt = watch.stopped
        elif tells and kind == better:
            tell(best=found.objective_function_value, gap=found.mip_gap, to=watch)

    return {"callbackTuple": (called, None), "callbacksToActivate": [better, ask]}


class Engine:
    """One linear model held by the solver, changed in place between solves.

    Parameters
    ----------
    model : LinearModel
        Without whole numbers; those go through `pulp_model`.
    only_costs_change : bool
        Whether most solves follow a change of the costs alone: the last answer is still feasible then,
        and the primal method is three times as fast from it as the dual one.
    """

    def __init__(self, model: LinearModel, *, only_costs_change: bool = False) -> None:
        if model.integer.any():
            raise ValueError("models with whole numbers are solved by pulp_model")
        self.columns = model.columns
        self.solves = 0
        self._all_columns = np.arange(model.columns, dtype=np.int32)
        self._highs = highspy.Highs()
        self._highs.setOptionValue("output_flag", False)
        self._highs.setOptionValue("threads", 1)
        self._highs.setOptionValue("primal_feasibility_tolerance", FEASIBILITY_KG_PER_L)
        self._highs.setOptionValue("dual_feasibility_tolerance", FEASIBILITY_KG_PER_L)
        if only_costs_change:
            self._highs.setOptionValue("simplex_strategy", _PRIMAL)
        program = highspy.HighsLp()
        program.num_col_ = model.columns
        program.num_row_ = model.rows
        program.col_cost_ = model.cost
        program.col_lower_ = model.column_lower
        program.col_upper_ = model.column_upper
        program.row_lower_ = model.row_lower
        program.row_upper_ = model.row_upper
        program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        program.a_matrix_.start_ = model.starts
        program.a_matrix_.index_ = model.indices
        program.a_matrix_.value_ = model.values
        self._highs.passModel(program)

    def expect_few_pivots(self) -> None:
        """Save the exact edge weights, which cost more than they are worth over some twenty pivots."""
        self._highs.setOptionValue("simplex_dual_edge_weight_strategy", _DEVEX)

    def set_coefficients(
        self, row: int, columns: Sequence[int] | NDArray[np.int32], values: FloatArray
    ) -> None:
        """Overwrite entries of one row."""
        change = self._highs.changeCoeff
        # Plain floats cross over to the solver several times faster than array scalars.
        for column, value in zip(columns, values.tolist(), strict=True):
            change(row, column, value)

    def set_row_limits(self, row: int, lower: float, upper: float) -> None:
        """Overwrite the limits of one row."""
        self._highs.changeRowBounds(row, lower, upper)

    def set_column_bounds(self, column: int, lower: float, upper: float) -> None:
        """Overwrite the bounds of one column."""
        self._highs.changeColBounds(column, lower, upper)

    def set_cost(self, cost: FloatArray) -> None:
        """Overwrite the whole objective."""
        self._highs.changeColsCost(self.columns, self._all_columns, np.ascontiguousarray(cost))

    def solve(self, cutoff: float = np.inf) -> LinearResult:
        """Solve from the last basis.

        Parameters
        ----------
        cutoff : float
            Stop as soon as the optimum is certainly above this.
        """
        status, objective = self.bound(cutoff)
        if status is not LinearStatus.OPTIMAL:
            return LinearResult(status, np.nan, _NOTHING, _NOTHING, _NOTHING, np.nan)
        solution = self._highs.getSolution()
        return LinearResult(
            status=status,
            objective=objective,
            values=np.array(solution.col_value),
            row_duals=np.array(solution.row_dual),
            column_duals=np.array(solution.col_dual),
            proven_bound=objective,
        )

    def bound(self, cutoff: float = np.inf) -> tuple[LinearStatus, float]:
        """Solve from the last basis for the objective alone; NaN unless it is optimal."""
        self._highs.setOptionValue("objective_bound", cutoff)
        self._highs.run()
        self.solves += 1
        status = _STATUS.get(self._highs.getModelStatus(), LinearStatus.UNKNOWN)
        if status is LinearStatus.UNKNOWN:
            status = self._solve_from_scratch()
        if status is not LinearStatus.OPTIMAL:
            return status, np.nan
        return status, float(self._highs.getInfo().objective_function_value)

    def snapshot(self) -> LinearModel:
        """Return the model as it stands now, for export or another solver."""
        program = self._highs.getLp()
        matrix = program.a_matrix_
        starts = np.array(matrix.start_)
        outer = np.repeat(np.arange(len(starts) - 1, dtype=np.int32), np.diff(starts))
        # Entries set to zero leave the arrays longer than what is in use.
        inner = np.array(matrix.index_, dtype=np.int32)[: len(outer)]
        # The solver keeps rows until its first run, columns after it.
        by_columns = matrix.format_ == highspy.MatrixFormat.kColwise
        row_of, column_of = (inner, outer) if by_columns else (outer, inner)
        by_row = np.argsort(row_of, kind="stable")
        lengths = np.bincount(row_of, minlength=program.num_row_)
        return LinearModel(
            cost=np.array(program.col_cost_),
            column_lower=np.array(program.col_lower_),
            column_upper=np.array(program.col_upper_),
            row_lower=np.array(program.row_lower_),
            row_upper=np.array(program.row_upper_),
            starts=np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32),
            indices=column_of[by_row],
            values=np.array(matrix.value_)[by_row],
            integer=np.zeros(program.num_col_, dtype=bool),
        )

    def _solve_from_scratch(self) -> LinearStatus:
        self._highs.clearSolver()
        self._highs.setOptionValue("presolve", "off")
        self._highs.run()
        self._highs.setOptionValue("presolve", "choose")
        return _STATUS.get(self._highs.getModelStatus(), LinearStatus.UNKNOWN)
