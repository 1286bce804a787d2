"""A recipe per litre bottled, as the exact blend model measures it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import Chain, ChainRun, Step
from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.optimise.layout import Assembly
from formulate.optimise.problem import limit_value
from formulate.optimise.tolerances import TINY
from formulate.physics.mixture import volume_l

__all__ = ["Point", "carried_room", "evaluate", "interpolate", "least_share"]

FloatArray = NDArray[np.float64]


SHARE_SMALLEST = 0.01
"""A step must carry at least this share of its liquor over: the cake may not drink it all.

Where losses alone leave hardly more, half of what they leave.
"""


def least_share(step: Step) -> float:
    """Return the least share of its liquor that a step carries over, by our own rule."""
    return min(SHARE_SMALLEST, (1.0 - step.loss_fraction) / 2.0)


def carried_room(chain: Chain, run: ChainRun) -> FloatArray:
    """Return how far batches are from a step that carries too little, or a cake that is not wet through.

    Parameters
    ----------
    run : ChainRun
        With leading axes (...).

    Returns
    -------
    ndarray, shape (..., rows)
        In kg as the masses are; below zero where a batch cannot be made.
    """
    rooms = []
    for position, step in enumerate(chain.steps):
        if not chain.retentions[position].any() and not step.fixed_loss_kg:
            continue
        liquor = run.gross[..., position, :LIQUOR].sum(axis=-1)
        rooms.append(run.carried[..., position, :LIQUOR].sum(axis=-1) - least_share(step) * liquor)
        if step.rinse_kg_per_kg:
            rooms.append(liquor - run.kept_kg[..., position])
    shape = run.kept_kg.shape[:-1]
    return np.stack(rooms, axis=-1) if rooms else np.zeros((*shape, 0))


@dataclass(frozen=True)
class Point:
    """A recipe and what the blend model makes of it.

    Attributes
    ----------
    columns : ndarray
        Unknown masses, kg per litre.
    batches : float
        Batches per litre.
    purchases : ndarray
        What is bought for its parts, kg per litre.
    volume_l : float
        Exact volume bottled; 1 when the relation holds.
    volume_residuals : tuple of float
        By how much each volume relation is missed, litres per litre.
    money : float
        Money for `columns` and `purchases`.
    cost : float
        What is minimised: money, unless it does not count, and what soft limits charge.
    violation : float
        Largest violation of any hard limit or volume, relative to its size.
    """

    columns: FloatArray
    batches: float
    run: ChainRun
    purchases: FloatArray
    volume_l: float
    volume_residuals: tuple[float, ...]
    money: float
    cost: float
    violation: float

    @property
    def cost_per_l(self) -> float:
        """What is minimised, per litre really bottled."""
        return self.cost / self.volume_l


def evaluate(assembly: Assembly, columns: FloatArray, batches: float, purchases: FloatArray) -> Point:
    """Run masses through the exact blend model and measure what they violate.

    Parameters
    ----------
    columns : ndarray, shape (unknowns,)
        kg per litre.
    batches : float
        Batches per litre.
    purchases : ndarray, shape (purchases,)
        kg per litre.
    """
    problem = assembly.problem
    masses = problem.masses(columns)
    run = problem.chain.run(masses, batches)
    bottled = run.bottled
    volume = float(volume_l(bottled[:LIQUOR], check=False))
    by_ingredient = masses.sum(axis=0)
    residuals = [volume - 1.0]
    violations = []
    money = float(columns @ problem.column_prices + purchases @ problem.purchase_prices)
    cost = money if problem.money_counts else 0.0
    for limit in problem.limits:
        violation = limit.violation(limit_value(limit, bottled, by_ingredient, batches, money))
        if limit.soft:
            cost += limit.penalty * violation
        else:
            violations.append(violation / limit.scale)
    if problem.fill is not None:
        step = problem.fill.step
        contents = float(volume_l(run.gross[step, :LIQUOR], check=False))
        contents += SOLID_VOLUME_L_KG * float(masses[step] @ problem.chain.materials.solids)
        residuals.append(contents - problem.fill.volume_l * batches)
    violations.append(-float(carried_room(problem.chain, run).min(initial=0.0)))
    if problem.purchases:
        bought = purchases @ problem.yields
        parts = problem.yields.any(axis=0)
        violations.append(float(np.maximum(by_ingredient - bought, 0.0)[parts].max(initial=0.0)))
    largest = max([*violations, *(abs(residual) for residual in residuals)])
    return Point(columns, batches, run, purchases, max(volume, TINY), tuple(residuals), money, cost, largest)


def interpolate(assembly: Assembly, start: Point, end: Point, share: float) -> Point:
    """Mix two recipes: `share` of the way from one to the other.

    Parameters
    ----------
    share : float
        0 to 1.
    """

    def mixed(here: FloatArray | float, there: FloatArray | float) -> FloatArray:
        return np.asarray(here + share * (np.asarray(there) - here), dtype=float)

    return evaluate(
        assembly,
        mixed(start.columns, end.columns),
        float(mixed(start.batches, end.batches)),
        mixed(start.purchases, end.purchases),
    )
