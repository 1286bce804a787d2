"""The end game between corners: a small smooth program over the few ingredients in play.

Where volume is concave in strength, or a cake makes a step's worth depend on the others, the
cheapest recipe may lie between the corners of every linear program. The corners the loop
swings between still name the ingredients that matter; among those few SciPy's SLSQP closes
in quadratically on the exact blend model. The caller checks the result with one more linear
program over all ingredients.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.optimise.assembly import Assembly, carried_room
from formulate.optimise.problem import Over, limit_value
from formulate.optimise.program import Point, evaluate
from formulate.optimise.tree.relaxation import Range
from formulate.physics.mixture import INDEX, volume_l

if TYPE_CHECKING:
    from scipy.optimize import OptimizeResult

__all__ = ["polish"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

MOST_INGREDIENTS = 40
MOST_EVALUATIONS = 100
NUDGE = 1e-6
"""Half the distance of the central differences, kg per litre: errors near 1e-11."""


def polish(
    assembly: Assembly, start: Point, columns: IntArray, pieces: Mapping[int, Range] | None = None
) -> Point | None:
    """Find the cheapest recipe among a few ingredients, near a start.

    Parameters
    ----------
    assembly : Assembly
    start : Point
    columns : ndarray of int
        Unknown masses that may be above zero.
    pieces : mapping of int to Range, optional
        Ethanol fractions to keep streams within: between two points of a strength table all is smooth.

    Returns
    -------
    Point or None
        None when there are too many ingredients or the search does not settle.
    """
    if len(columns) > MOST_INGREDIENTS:
        return None
    few = _Few(assembly, columns, pieces or {})
    try:
        found = _minimised(few, start)
    except _EnoughError:
        return few.unpack(few.last)
    if not np.isfinite(found).all():
        return None
    return few.unpack(found)


def _minimised(few: _Few, start: Point) -> FloatArray:
    from scipy.optimize import Bounds, minimize

    found: OptimizeResult = minimize(  # type: ignore[call-overload]  # the stubs want one-dimensional arrays by type
        few.cost,
        few.pack(start),
        jac=few.cost_slopes,
        bounds=Bounds(few.lower, few.upper),
        constraints=[
            {"type": "eq", "fun": few.misses, "jac": few.miss_slopes},
            {"type": "ineq", "fun": few.room, "jac": few.room_slopes},
        ],
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 60},
    )
    return np.asarray(found.x)


class _EnoughError(Exception):
    """It has searched for long enough: what settles at all settles in half as many evaluations."""


class _Few:
    """The exact blend model over a few unknown masses, and its slopes by central differences."""

    def __init__(self, assembly: Assembly, columns: IntArray, pieces: Mapping[int, Range]) -> None:
        self.assembly = assembly
        self.problem = assembly.problem
        self.columns = columns
        steps = {
            number: step for (step, of_carried), number in assembly.stream_numbers.items() if not of_carried
        }
        self.pieces = [(steps[number], piece) for number, piece in pieces.items()]
        self.free_size = self.problem.volume_l is None
        self.soft = [limit for limit in self.problem.limits if limit.soft]
        prices = [self.problem.column_prices[columns], np.zeros(1 if self.free_size else 0)]
        money_prices = np.concatenate([*prices, self.problem.purchase_prices])
        counts = money_prices if self.problem.money_counts else np.zeros_like(money_prices)
        # A soft limit bends the cost where it starts to be missed: an unknown slip keeps the program smooth.
        slips = [limit.slip_price * limit.scale for limit in self.soft]
        self.prices = np.concatenate([counts, slips])
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
        slips = [
            limit.slip(limit_value(limit, point.run.bottled, used, point.batches, point.money)) / limit.scale
            for limit in self.soft
        ]
        return np.concatenate([point.columns[self.columns], size, point.purchases, slips])

    def unpack(self, unknowns: FloatArray) -> Point:
        masses, batches, purchases, _ = self._parts(np.maximum(unknowns, 0.0))
        columns = np.zeros(self.problem.unknowns)
        columns[self.columns] = masses
        return evaluate(self.assembly, columns, float(batches), purchases)

    def misses(self, unknowns: FloatArray) -> FloatArray:
        return self._at(unknowns)[0][: self._volumes]

    def miss_slopes(self, unknowns: FloatArray) -> FloatArray:
        return self._at(unknowns)[1][: self._volumes]

    def room(self, unknowns: FloatArray) -> FloatArray:
        return self._at(unknowns)[0][self._volumes :]

    def room_slopes(self, unknowns: FloatArray) -> FloatArray:
        return self._at(unknowns)[1][self._volumes :]

    @property
    def _volumes(self) -> int:
        return 1 if self.problem.fill is None else 2

    def _parts(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray | float, FloatArray, FloatArray]:
        """Split into masses, batches per litre, purchases, and the slips of the soft limits."""
        many = len(self.columns)
        batches = unknowns[..., many] if self.free_size else self.problem.batch_bounds[0]
        slips = unknowns.shape[-1] - len(self.soft)
        return (
            unknowns[..., :many],
            batches,
            unknowns[..., many + self.free_size : slips],
            unknowns[..., slips:],
        )

    def _at(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values and slopes at a point, computed once for the callbacks that ask in turn."""
        key = unknowns.tobytes()
        if self._seen is None or self._seen[0] != key:
            if self._evaluations == MOST_EVALUATIONS:
                raise _EnoughError
            self._evaluations += 1
            self.last = unknowns.copy()
            nudges = NUDGE * np.eye(len(unknowns))
            values = self._values(np.vstack([unknowns, unknowns + nudges, unknowns - nudges]))
            many = len(unknowns)
            slopes = (values[1 : many + 1] - values[many + 1 :]).T / (2.0 * NUDGE)
            self._seen = (key, values[0], slopes)
        return self._seen[1], self._seen[2]

    def _values(self, unknowns: FloatArray) -> FloatArray:
        """Volume misses, then room left in every limit relative to its size, for many points at once."""
        problem = self.problem
        some, batches, purchases, slips = self._parts(unknowns)
        masses = np.zeros((len(unknowns), len(problem.chain.steps), len(problem.price_per_kg)))
        places = (slice(None), problem.place_step[self.columns], problem.place_ingredient[self.columns])
        masses[places] = some
        run = problem.chain.run(masses, batches)
        used = masses.sum(axis=1)
        out = [volume_l(run.bottled[:, :LIQUOR], check=False) - 1.0]
        if problem.fill is not None:
            step = problem.fill.step
            contents = volume_l(run.gross[:, step, :LIQUOR], check=False)
            contents = contents + SOLID_VOLUME_L_KG * (masses[:, step] @ problem.chain.materials.solids)
            out.append(contents - problem.fill.volume_l * batches)
        money = used @ problem.price_per_kg + purchases @ problem.purchase_prices
        allowed = iter(slips.T)
        for limit in problem.limits:
            slip = next(allowed) if limit.soft else 0.0
            if limit.over is Over.COST:
                value = money
            else:
                amounts = run.bottled if limit.over is Over.BOTTLE else used
                value = amounts[:, limit.indices] @ limit.weights + limit.batch_weight * np.asarray(batches)
            if np.isfinite(limit.lower):
                out.append((value - limit.lower) / limit.scale + slip)
            if np.isfinite(limit.upper):
                out.append((limit.upper - value) / limit.scale + slip)
        for step, piece in self.pieces:
            water, ethanol = (run.gross[:, step, INDEX[name]] for name in ("water", "ethanol"))
            out.append((1.0 - piece.lower) * ethanol - piece.lower * water)
            out.append(piece.upper * water - (1.0 - piece.upper) * ethanol)
        out.extend(carried_room(problem.chain, run).T)
        yields = problem.yields
        parts = np.flatnonzero(yields.any(axis=0))
        out.extend(purchases @ yields[:, part] - used[:, part] for part in parts)
        return np.array([np.broadcast_to(value, len(unknowns)) for value in out]).T
