"""Small smooth programs by SciPy's SLSQP: refinement of a recipe between vertices, plans of a few numbers.

Where volume is concave in strength, or a cake makes a step's worth depend on the others, the
cheapest recipe may lie between the vertices of every linear program. The vertices the loop
swings between still name the ingredients that matter; among those few SLSQP closes
in quadratically on the exact blend model. The caller checks the result with one more linear
program over all ingredients.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.optimise.layout import Assembly
from formulate.optimise.point import Point, carried_room, evaluate
from formulate.optimise.problem import Over, limit_value
from formulate.optimise.tolerances import (
    DIFFERENCE_STEP,
    SLSQP_PRECISION,
    SMALL_PROGRAM_PRECISION,
    SMALL_PROGRAM_SLACK,
)
from formulate.optimise.tree.node import Interval
from formulate.physics.mixture import INDEX, volume_l

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

__all__ = ["minimise_few", "refine"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

MOST_INGREDIENTS = 40
MOST_EVALUATIONS = 100
MOST_ITERATIONS = 60


def refine(
    assembly: Assembly, start: Point, columns: IntArray, intervals: Mapping[int, Interval] | None = None
) -> Point | None:
    """Find the cheapest recipe among a few ingredients, near a start.

    Parameters
    ----------
    columns : ndarray of int
        Unknown masses that may be above zero.
    intervals : mapping of int to Interval, optional
        Ethanol fractions to keep streams within: between two breakpoints of a strength table all is smooth.

    Returns
    -------
    Point or None
        None when there are too many ingredients or the search does not settle.
    """
    if len(columns) > MOST_INGREDIENTS:
        return None
    reduced = _ReducedProgram(assembly, columns, intervals or {})
    try:
        unknowns = _minimised(reduced, start)
    except _EvaluationLimitError:
        return reduced.unpack(reduced.last)
    if not np.isfinite(unknowns).all():
        return None
    return reduced.unpack(unknowns)


def _minimised(reduced: _ReducedProgram, start: Point) -> FloatArray:
    from scipy.optimize import Bounds, minimize

    result: OptimizeResult = minimize(  # type: ignore[call-overload]  # the stubs want one-dimensional arrays by type
        reduced.cost,
        reduced.pack(start),
        jac=reduced.cost_slopes,
        bounds=Bounds(reduced.lower, reduced.upper),
        constraints=[
            {"type": "eq", "fun": reduced.residuals, "jac": reduced.residual_slopes},
            {"type": "ineq", "fun": reduced.slacks, "jac": reduced.slack_slopes},
        ],
        method="SLSQP",
        options={"ftol": SLSQP_PRECISION, "maxiter": MOST_ITERATIONS},
    )
    return np.asarray(result.x)


class _EvaluationLimitError(Exception):
    """It has searched for long enough: what settles at all settles in half as many evaluations."""


class _ReducedProgram:
    """The exact blend model over a few unknown masses, and its slopes by central differences."""

    def __init__(self, assembly: Assembly, columns: IntArray, intervals: Mapping[int, Interval]) -> None:
        self.assembly = assembly
        self.problem = assembly.problem
        self.columns = columns
        steps = {
            number: step for (step, of_carried), number in assembly.stream_numbers.items() if not of_carried
        }
        self.intervals = [(steps[number], interval) for number, interval in intervals.items()]
        self.free_size = self.problem.volume_l is None
        self.soft = [limit for limit in self.problem.limits if limit.soft]
        prices = [self.problem.column_prices[columns], np.zeros(1 if self.free_size else 0)]
        money_prices = np.concatenate([*prices, self.problem.purchase_prices])
        counts = money_prices if self.problem.money_counts else np.zeros_like(money_prices)
        # A soft limit bends the cost where it starts to be missed: an unknown miss keeps the program smooth.
        penalties = [limit.penalty * limit.scale for limit in self.soft]
        self.prices = np.concatenate([counts, penalties])
        size = [self.problem.batch_bounds] if self.free_size else []
        bought = [(0.0, purchase.most_kg_per_l) for purchase in self.problem.purchases]
        ends = [*[(0.0, np.inf)] * len(columns), *size, *bought, *[(0.0, np.inf)] * len(self.soft)]
        self.lower, self.upper = np.array(ends, dtype=float).T
        self.last: FloatArray = np.zeros(0)
        self._evaluations = 0
        self._seen: tuple[bytes, FloatArray, FloatArray] | None = None

    def cost(self, unknowns: FloatArray) -> float:
        return float(self.prices @ unknowns)

    def cost_slopes(self, _: FloatArray) -> FloatArray:
        return self.prices

    def pack(self, point: Point) -> FloatArray:
        size = [point.batches] if self.free_size else []
        used = self.problem.masses(point.columns).sum(axis=0)
        violations = [
            limit.violation(limit_value(limit, point.run.bottled, used, point.batches, point.money))
            / limit.scale
            for limit in self.soft
        ]
        return np.concatenate([point.columns[self.columns], size, point.purchases, violations])

    def unpack(self, unknowns: FloatArray) -> Point:
        masses, batches, purchases, _ = self._parts(np.maximum(unknowns, 0.0))
        columns = np.zeros(self.problem.unknowns)
        columns[self.columns] = masses
        return evaluate(self.assembly, columns, float(batches), purchases)

    def residuals(self, unknowns: FloatArray) -> FloatArray:
        return self._at(unknowns)[0][: self._volumes]

    def residual_slopes(self, unknowns: FloatArray) -> FloatArray:
        return self._at(unknowns)[1][: self._volumes]

    def slacks(self, unknowns: FloatArray) -> FloatArray:
        return self._at(unknowns)[0][self._volumes :]

    def slack_slopes(self, unknowns: FloatArray) -> FloatArray:
        return self._at(unknowns)[1][self._volumes :]

    @property
    def _volumes(self) -> int:
        return 1 if self.problem.fill is None else 2

    def _parts(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray | float, FloatArray, FloatArray]:
        """Split into masses, batches per litre, purchases, and the violations of the soft limits."""
        many = len(self.columns)
        batches = unknowns[..., many] if self.free_size else self.problem.batch_bounds[0]
        end = unknowns.shape[-1] - len(self.soft)
        return (
            unknowns[..., :many],
            batches,
            unknowns[..., many + self.free_size : end],
            unknowns[..., end:],
        )

    def _at(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values and slopes at a point, computed once for the callbacks that ask in turn."""
        key = unknowns.tobytes()
        if self._seen is None or self._seen[0] != key:
            if self._evaluations == MOST_EVALUATIONS:
                raise _EvaluationLimitError
            self._evaluations += 1
            self.last = unknowns.copy()
            steps = DIFFERENCE_STEP * np.eye(len(unknowns))
            values = self._values(np.vstack([unknowns, unknowns + steps, unknowns - steps]))
            many = len(unknowns)
            slopes = (values[1 : many + 1] - values[many + 1 :]).T / (2.0 * DIFFERENCE_STEP)
            self._seen = (key, values[0], slopes)
        return self._seen[1], self._seen[2]

    def _values(self, unknowns: FloatArray) -> FloatArray:
        """Volume residuals, then the slack of every limit relative to its size, for many points at once."""
        problem = self.problem
        few, batches, purchases, violations = self._parts(unknowns)
        masses = np.zeros((len(unknowns), len(problem.chain.steps), len(problem.price_per_kg)))
        places = (slice(None), problem.place_step[self.columns], problem.place_ingredient[self.columns])
        masses[places] = few
        run = problem.chain.run(masses, batches)
        used = masses.sum(axis=1)
        out = [volume_l(run.bottled[:, :LIQUOR], check=False) - 1.0]
        if problem.fill is not None:
            step = problem.fill.step
            contents = volume_l(run.gross[:, step, :LIQUOR], check=False)
            contents = contents + SOLID_VOLUME_L_KG * (masses[:, step] @ problem.chain.materials.solids)
            out.append(contents - problem.fill.volume_l * batches)
        money = used @ problem.price_per_kg + purchases @ problem.purchase_prices
        allowed = iter(violations.T)
        for limit in problem.limits:
            violation = next(allowed) if limit.soft else 0.0
            if limit.over is Over.COST:
                value = money
            else:
                amounts = run.bottled if limit.over is Over.BOTTLE else used
                value = amounts[:, limit.indices] @ limit.weights + limit.batch_weight * np.asarray(batches)
            if np.isfinite(limit.lower):
                out.append((value - limit.lower) / limit.scale + violation)
            if np.isfinite(limit.upper):
                out.append((limit.upper - value) / limit.scale + violation)
        for step, interval in self.intervals:
            water, ethanol = (run.gross[:, step, INDEX[name]] for name in ("water", "ethanol"))
            out.append((1.0 - interval.lower) * ethanol - interval.lower * water)
            out.append(interval.upper * water - (1.0 - interval.upper) * ethanol)
        out.extend(carried_room(problem.chain, run).T)
        yields = problem.yields
        parts = np.flatnonzero(yields.any(axis=0))
        out.extend(purchases @ yields[:, part] - used[:, part] for part in parts)
        return np.array([np.broadcast_to(value, len(unknowns)) for value in out]).T


def minimise_few(
    objective: Callable[[FloatArray], float],
    margins: Callable[[FloatArray], FloatArray],
    starts: Sequence[Sequence[float]],
    bounds: Sequence[tuple[float, float]],
) -> FloatArray | None:
    """Minimise a smooth function with SciPy's SLSQP from several starts.

    Parameters
    ----------
    objective : callable
        Takes the numbers, shape (n,), gives what is to be small.
    margins : callable
        Takes the numbers, gives how far each limit is kept, shape (m,); below zero is a breach.
        Best scaled to about 1.
    starts : sequence of sequence of float
        Where to begin, each of n numbers; moved inside the bounds.
    bounds : sequence of (lower, upper)
        n pairs with lower < upper.

    Returns
    -------
    ndarray, shape (n,), or None
        The best point found that keeps every limit; None when no start led to one, which proves nothing.
    """
    from scipy.optimize import NonlinearConstraint, minimize

    lower = np.array([low for low, _ in bounds])
    width = np.array([high - low for low, high in bounds])

    def back(scaled: FloatArray) -> FloatArray:
        return np.asarray(lower + width * np.clip(scaled, 0.0, 1.0))

    def cost(scaled: FloatArray) -> float:
        return objective(back(scaled))

    def kept(scaled: FloatArray) -> FloatArray:
        return margins(back(scaled))

    best: FloatArray | None = None
    least = np.inf
    for start in starts:
        inside = np.clip((np.asarray(start, dtype=float) - lower) / width, 0.0, 1.0)
        result = minimize(
            cost,
            inside,
            method="SLSQP",
            bounds=[(0.0, 1.0)] * len(bounds),
            constraints=NonlinearConstraint(kept, 0.0, np.inf),
            options={"maxiter": MOST_ITERATIONS, "ftol": SMALL_PROGRAM_PRECISION},
        )
        point = back(np.asarray(result.x, dtype=float))
        value = objective(point)
        if value < least and float(np.min(margins(point), initial=np.inf)) >= -SMALL_PROGRAM_SLACK:
            best, least = point, value
    return best
