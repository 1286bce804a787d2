"""The successive loop: linearise the blend, solve, move there, repeat.

Volume is homogeneous of degree one, so a linearisation at the right composition is exact
along every mixture of that composition, and three passes usually close to nine digits.
Where cakes keep liquor the first passes hold the shares carried still, which is feasible
from anywhere but not quite the cheapest; then their exact gradient takes over. Where the
optimum lies between the corners of the program (volume is concave at low strength) a
trust region with priced slips finishes the work.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR
from formulate.optimise.assembly import Assembly
from formulate.optimise.linear import LinearStatus
from formulate.optimise.live import SLIP_PRICE, LiveModel, Point
from formulate.optimise.problem import Over, limit_value
from formulate.physics.mixture import INDEX, SUGARS, volume_l

__all__ = ["ACCEPTED", "LoopResult", "first_guess", "improve", "settle"]

CLOSE = 1e-10
"""Largest relative slip at which the loop is done.

A linearisation slips with the square of the step, so a recipe this close was priced with a
gradient right to five digits, and is within the square of that of the local optimum.
"""

ACCEPTED = 1e-8
"""Largest relative slip with which the trust region may end; verification allows ten times that."""

FROZEN_PASSES = 3
PLAIN_PASSES = 9
TRUST_PASSES = 60
FIRST_RADIUS = 0.05
SMALLEST_RADIUS = 1e-11


@dataclass(frozen=True)
class LoopResult:
    """Where the loop ended.

    Attributes
    ----------
    point : Point or None
        The last recipe; None when not even a relaxed program had an answer.
    passes : int
        Linear programs solved.
    converged : bool
        Whether the recipe meets every limit and no move at the point is cheaper.
    """

    point: Point | None
    passes: int
    converged: bool


def first_guess(assembly: Assembly) -> Point:
    """Make up a plausible drink from the targets alone, to linearise at first.

    Parameters
    ----------
    assembly : Assembly

    Returns
    -------
    Point
        Without masses: only its totals mean anything.
    """
    problem = assembly.problem
    liquor = np.zeros(LIQUOR)
    brings_ethanol = bool(problem.chain.materials.content[:, INDEX["ethanol"]].any())
    liquor[INDEX["ethanol"]] = 0.16 if brings_ethanol else 0.0
    liquor[INDEX["sucrose"]] = 0.1
    sugars = {INDEX[name] for name in SUGARS}
    for limit in problem.limits:
        if limit.over is not Over.BOTTLE or limit.batch_weight:
            continue
        occurring = set(limit.indices.tolist())
        bounds = [bound for bound in (limit.lower, limit.upper) if np.isfinite(bound)]
        middle = float(np.mean(bounds)) if bounds else 0.0
        if occurring == {INDEX["ethanol"]}:
            liquor[INDEX["ethanol"]] = middle / limit.weights[0]
        elif occurring and occurring <= sugars:
            liquor[INDEX["sucrose"]] = middle
    room = 1.0 - 1.25 * liquor[INDEX["ethanol"]] - 0.62 * liquor[INDEX["sucrose"]]
    liquor[INDEX["water"]] = max(room, 0.1)
    liquor /= float(volume_l(liquor, check=False))
    steps = len(problem.chain.steps)
    totals = np.zeros((steps, len(problem.chain.materials.carried)))
    totals[:, :LIQUOR] = liquor
    nothing = np.zeros(steps)
    shares = np.array([0.95 - step.loss_fraction for step in problem.chain.steps])
    run = ChainRun(totals, totals * shares[:, None], nothing, nothing, nothing, nothing)
    unknown, unbought = np.zeros(problem.unknowns), np.zeros(len(problem.purchases))
    return Point(unknown, problem.batch_bounds[0], run, unbought, 1.0, 0.0, np.inf)


def improve(live: LiveModel, start: Point) -> LoopResult:
    """Move from a point to a locally cheapest recipe.

    Parameters
    ----------
    live : LiveModel
    start : Point

    Returns
    -------
    LoopResult
    """
    best = start
    passes = 0
    frozen_left = FROZEN_PASSES if live.assembly.carries else 0
    for _ in range(PLAIN_PASSES):
        frozen = frozen_left > 0
        live.linearise(best, frozen=frozen)
        result = live.solve()
        passes += 1
        if result.status is not LinearStatus.OPTIMAL:
            break
        point = live.point(result)
        best = point
        if frozen:
            frozen_left = 0 if point.violation < 1e-3 else frozen_left - 1
            continue
        if point.violation <= CLOSE:
            return LoopResult(point, passes, True)
    return _with_trust(live, best, passes)


def settle(live: LiveModel, start: Point) -> LoopResult:
    """Move from a nearly good point to the local optimum beside it, never far away at once.

    `improve` would first hold the shares carried still, which can lead away from a better
    arrangement of the steps; this keeps to the neighbourhood of the start.

    Parameters
    ----------
    live : LiveModel
    start : Point
        With masses.

    Returns
    -------
    LoopResult
    """
    return _with_trust(live, start, 0)


def _with_trust(live: LiveModel, start: Point, passes: int) -> LoopResult:
    """Finish with a trust region on the totals and priced slips."""
    radius = FIRST_RADIUS
    current = start
    price = _price_level(live)
    if not np.isfinite(current.violation):
        live.set_elastic(price)
        live.linearise(current, frozen=True)
        result = live.solve()
        passes += 1
        if result.status is not LinearStatus.OPTIMAL:
            live.set_elastic(None)
            return LoopResult(None, passes, False)
        current = live.point(result)
    live.set_elastic(price)
    merit = _merit(live, current, price)
    converged = False
    for _ in range(TRUST_PASSES):
        live.linearise(current, frozen=False)
        live.set_trust(current, radius)
        result = live.solve()
        passes += 1
        if result.status is not LinearStatus.OPTIMAL:
            radius /= 4.0
            if radius < SMALLEST_RADIUS:
                break
            continue
        trial = live.point(result)
        trial_merit = _merit(live, trial, price)
        expected = merit - result.objective
        if expected <= CLOSE * max(merit, 1e-12):
            converged = current.violation <= ACCEPTED
            break
        if trial_merit < merit - 0.1 * expected:
            grown = trial_merit < merit - 0.75 * expected
            current, merit = trial, trial_merit
            radius = min(radius * 2.0, 1.0) if grown else radius
        else:
            radius /= 4.0
            if radius < SMALLEST_RADIUS:
                converged = current.violation <= ACCEPTED
                break
    live.set_trust(None, 0.0)
    live.set_elastic(None)
    return LoopResult(current, passes, converged)


def _price_level(live: LiveModel) -> float:
    """Guess a typical cost of a litre, to price slips against."""
    prices = live.assembly.problem.price_per_kg
    return max(float(np.median(prices)), float(prices.mean()), 1e-3)


def _merit(live: LiveModel, point: Point, price: float) -> float:
    """Cost plus priced slips, as the elastic program counts them."""
    total = point.cost + SLIP_PRICE * price * abs(point.volume_l - 1.0)
    for limit in live.assembly.problem.limits:
        if limit.over is Over.BOTTLE and not limit.soft:
            value = limit_value(limit, point.run.bottled, point.columns, point.batches, point.cost)
            total += SLIP_PRICE * price * limit.slip(value) / limit.scale
    return total
