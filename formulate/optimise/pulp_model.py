"""Linear models through PuLP: whole numbers, files for other solvers, a second opinion.

PuLP sorts and rewrites names, reports a point found in time as if it were proved, and gives
zeros where a model with whole numbers has no duals. All of that stops here: names are opaque
and kept in order, statuses are read twice, absent duals are absent. The only place that
imports pulp.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from formulate.errors import FormulateError
from formulate.optimise.linear import LinearModel, LinearResult, LinearStatus
from formulate.optimise.watch import current_watch

__all__ = ["export_model", "solve_model"]

_NOTHING = np.zeros(0)

AGGREGATOR = 1 << 12
"""A rule of presolve, left out: by it HiGHS 1.13.0 proved 34.19 where a plan costs 26.17 (a test has it)."""
FEASIBLE = 2
"""How the solver says that the point it hands out is one (`kSolutionStatusFeasible`)."""
EITHER = "kUnboundedOrInfeasible"
"""What the solver says when all it knows is that there is no optimum; PuLP reports it as no point."""


def solve_model(
    model: LinearModel,
    *,
    seconds: float | None = None,
    gap: float | None = None,
    cutoff: float = np.inf,
    start: Mapping[int, float] | None = None,
    tells: bool = False,
) -> LinearResult:
    """Solve a model by PuLP on HiGHS.

    Parameters
    ----------
    model : LinearModel
        With or without whole numbers.
    seconds : float, optional
        Stop after this long; a point found by then comes back as `LinearStatus.INTERRUPTED`.
    gap : float, optional
        Relative gap at which whole numbers are good enough.
    cutoff : float
        Points dearer than this are of no interest; without any other the status is `CUT_OFF`.
    start : mapping of int to float, optional
        Columns, whole ones at the least, and their values at a point that is known already; the search
        begins from it.
    tells : bool, default False
        Whether its cost and gap are those of the answer, worth telling whoever watches.
    """
    import pulp

    from formulate.optimise.highs import search_callbacks

    problem, columns = _build(model)
    bound = {"objective_bound": cutoff} if np.isfinite(cutoff) else {}
    rules = {"presolve_rule_off": AGGREGATOR} if model.integer.any() else {}
    watch = current_watch() if model.integer.any() else None
    seen = {} if watch is None else search_callbacks(watch, tells=tells)
    solver = _solver(pulp, start or {})(
        msg=False, timeLimit=seconds, gapRel=gap, threads=1, **bound, **rules, **seen
    )
    with _solver_silenced:
        problem.solve(solver)
    status = _status(pulp, problem)
    if problem.solverModel.getModelStatus().name == EITHER:
        status = _either(pulp, problem, seconds)
    if status is LinearStatus.INFEASIBLE and bound:
        status = LinearStatus.CUT_OFF
    # Ended before it had a point it gives zeros, which PuLP takes for one.
    has_point = problem.solverModel.getInfo().primal_solution_status == FEASIBLE
    if status is LinearStatus.INTERRUPTED and not has_point:
        return LinearResult(status, np.nan, _NOTHING, _NOTHING, _NOTHING, np.nan)
    if status not in (LinearStatus.OPTIMAL, LinearStatus.INTERRUPTED) or columns[0].varValue is None:
        return LinearResult(status, np.nan, _NOTHING, _NOTHING, _NOTHING, np.nan)
    values = np.array([column.varValue for column in columns], dtype=float)
    objective = float(model.cost @ values)
    if model.integer.any():
        proven = float(problem.solverModel.getInfo().mip_dual_bound)
        return LinearResult(status, objective, values, _NOTHING, _NOTHING, proven)
    return LinearResult(status, objective, values, _NOTHING, _NOTHING, objective)


def _solver(pulp: Any, start: Mapping[int, float]) -> Any:
    """Return a solver that is told a point before it begins, which PuLP has no word for."""

    class Started(pulp.HiGHS):  # type: ignore[misc]
        def callSolver(self, lp: Any) -> None:  # noqa: N802
            if start:
                columns = np.fromiter(start, dtype=np.int32)
                values = np.fromiter(start.values(), dtype=np.float64)
                lp.solverModel.setSolution(len(columns), columns, values)
            super().callSolver(lp)

    return Started


def export_model(model: LinearModel, path: Path) -> None:
    """Write a model for another solver to read.

    Parameters
    ----------
    path : Path
        Ending in ``.lp`` or ``.mps``.

    Raises
    ------
    FormulateError
        For another ending.
    """
    problem, _ = _build(model)
    if path.suffix == ".lp":
        problem.writeLP(str(path))
    elif path.suffix == ".mps":
        problem.writeMPS(str(path))
    else:
        raise FormulateError(
            f"{path.name}: a model is written as .lp or .mps, got {path.suffix or 'no ending'}."
        )


def _build(model: LinearModel) -> tuple[Any, list[Any]]:
    import pulp

    problem = pulp.LpProblem("blend", pulp.LpMinimize)
    columns = [
        problem.add_variable(
            f"x{number:06d}",
            None if lower == -np.inf else float(lower),
            None if upper == np.inf else float(upper),
            pulp.LpInteger if integer else pulp.LpContinuous,
        )
        for number, (lower, upper, integer) in enumerate(
            zip(model.column_lower, model.column_upper, model.integer, strict=True)
        )
    ]
    costs = [(column, float(cost)) for column, cost in zip(columns, model.cost, strict=True)]
    problem.setObjective(pulp.LpAffineExpression(costs))
    for number in range(model.rows):
        part = slice(int(model.starts[number]), int(model.starts[number + 1]))
        expression = pulp.LpAffineExpression(
            [
                (columns[column], float(value))
                for column, value in zip(model.indices[part], model.values[part], strict=True)
            ]
        )
        lower, upper = float(model.row_lower[number]), float(model.row_upper[number])
        if lower == upper:
            problem.addConstraint(expression == lower, f"r{number:06d}")
            continue
        if lower > -np.inf:
            problem.addConstraint(expression >= lower, f"r{number:06d}l")
        if upper < np.inf:
            problem.addConstraint(expression <= upper, f"r{number:06d}u")
    return problem, columns


def _status(pulp: Any, problem: Any) -> LinearStatus:
    """Read both of PuLP's statuses: only a proved optimum is one."""
    if problem.status == pulp.LpStatusOptimal:
        proved = problem.sol_status == pulp.LpSolutionOptimal
        return LinearStatus.OPTIMAL if proved else LinearStatus.INTERRUPTED
    return {
        pulp.LpStatusInfeasible: LinearStatus.INFEASIBLE,
        pulp.LpStatusUnbounded: LinearStatus.UNBOUNDED,
    }.get(problem.status, LinearStatus.UNKNOWN)


def _either(pulp: Any, problem: Any, seconds: float | None) -> LinearStatus:
    """Tell a model without a point from one without a bottom: ask for any point at all."""
    problem.setObjective(pulp.LpAffineExpression())
    with _solver_silenced:
        problem.solve(pulp.HiGHS(msg=False, timeLimit=seconds, threads=1))
    any_point = {
        LinearStatus.OPTIMAL: LinearStatus.UNBOUNDED,
        LinearStatus.INFEASIBLE: LinearStatus.INFEASIBLE,
    }
    return any_point.get(_status(pulp, problem), LinearStatus.UNKNOWN)


class _SolverSilenced:
    """Keeps the solver's banner off standard output, which carries the answer and nothing else.

    Two threads may solve at once: the first to come takes the output away, the last to go gives it back.
    """

    def __init__(self) -> None:
        self._lock, self._inside, self._kept = threading.Lock(), 0, -1

    def __enter__(self) -> None:
        with self._lock:
            self._inside += 1
            if self._inside == 1:
                sys.stdout.flush()
                self._kept = os.dup(1)
                with open(os.devnull, "w") as nowhere:
                    os.dup2(nowhere.fileno(), 1)

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._inside -= 1
            if self._inside == 0:
                os.dup2(self._kept, 1)
                os.close(self._kept)


_solver_silenced = _SolverSilenced()
