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
from formulate.optimise.breakpoints import pieces_at
from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.problem import Over, limit_value
from formulate.optimise.program import LiveModel, Point, between
from formulate.optimise.refinement import polish
from formulate.physics.mixture import INDEX, SUGARS, volume_l

__all__ = ["ACCEPTED", "LoopResult", "first_guess", "improve", "improve_nearby", "settle"]

CLOSE = 1e-10
"""Largest relative slip at which the loop is done.

A linearisation slips with the square of the step, so a recipe this close was priced with a
gradient right to five digits, and is within the square of that of the local optimum.
"""

ACCEPTED = 1e-8
"""Largest relative slip with which the trust region may end; verification allows ten times that."""

FROZEN_PASSES = 3
PLAIN_PASSES = 9
SETTLING = 0.25
"""A pass that leaves more than this share of the slip before it is swinging, not settling."""
CORNER_ROUNDS = 5
USED = 1e-9
AGREED = 3e-8
"""The linear program at a recipe may promise this much, relative, before it counts as cheaper."""
TRUST_PASSES = 60
SWINGS = 6
"""After so many shortened steps on end the optimum is looked for between the corners, once."""
FIRST_RADIUS, LARGEST_RADIUS, SMALLEST_RADIUS = 0.05, 1.0, 1e-11
NEAR_RADIUS = 1e-3
FULL_STEP = 0.9
"""A step that gains this share of what was expected is taken whole."""
SHORTEST_STEP = 1e-3
LEAST_PRICE = 0.01
"""No slip is cheaper than this, in litres of a typical cost, for a slip of its own size."""
ENOUGH = 0.05
"""A step must gain this share of what was expected of it."""


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
    return Point(unknown, problem.batch_bounds[0], run, unbought, 1.0, (), 0.0, 0.0, np.inf)


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
    if start.violation <= ACCEPTED and live.assembly.carries:
        return settle(live, start)
    best = start
    passes = 0
    frozen_left = FROZEN_PASSES if live.assembly.carries else 0
    corners: list[Point] = []
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
        swinging = bool(corners) and point.violation > SETTLING * corners[-1].violation
        corners.append(point)
        if swinging:
            break
    if corners:
        polished = _between_corners(live, corners, passes)
        if polished.converged:
            return polished
        passes = polished.passes
    return _with_trust(live, best, passes)


def _between_corners(live: LiveModel, corners: list[Point], passes: int) -> LoopResult:
    """Look for the optimum among the ingredients of the corners the loop swings between.

    Each find is checked by a linear program over all ingredients; one that would pay to bring in
    joins the few, until none does.
    """
    used = np.flatnonzero(np.any([corner.columns > USED for corner in corners], axis=0))
    start = corners[-1]
    point = None
    for _ in range(CORNER_ROUNDS):
        pieces = {**pieces_at(live.assembly, start), **live.pieces}
        point = polish(live.assembly, start, used, pieces)
        if point is None or point.violation > ACCEPTED:
            break
        live.linearise(point, frozen=False)
        result = live.solve()
        passes += 1
        if result.status is not LinearStatus.OPTIMAL:
            break
        if live.objective(point) - result.objective <= AGREED * max(point.cost, 1e-12):
            return LoopResult(point, passes, True)
        joining = np.flatnonzero(result.values[: len(point.columns)] > USED)
        if not len(np.setdiff1d(joining, used)):
            break
        used, start = np.union1d(used, joining), point
    return LoopResult(point, passes, False)


def improve_nearby(live: LiveModel, start: Point) -> LoopResult:
    """Move to the cheapest recipe near one that is nearly good: `settle` with cakes, else `improve`.

    Without cakes there is one arrangement of the steps and the plain passes are the quickest way.

    Parameters
    ----------
    live : LiveModel
    start : Point
        With masses.

    Returns
    -------
    LoopResult
    """
    return settle(live, start) if live.assembly.carries else improve(live, start)


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
    """Finish with a trust region on the totals, priced slips and a line search along each answer.

    Between the corners of the program the cost bends: along the way to a linear answer it falls
    at first and rises again. The bend is read off two points and the step shortened to its bottom,
    so the end game closes as fast as Newton's method, without a second derivative.
    """
    price = _price_level(live)
    current = start
    if not np.isfinite(start.violation):
        live.set_elastic(price)
        live.linearise(start, frozen=True)
        result = live.solve()
        passes += 1
        live.set_elastic(None)
        if result.status is not LinearStatus.OPTIMAL:
            return LoopResult(None, passes, False)
        current = live.point(result)
    live.set_elastic(price)
    radius = FIRST_RADIUS
    converged = False
    corners: list[Point] = []
    for _ in range(TRUST_PASSES):
        live.linearise(current, frozen=False)
        live.set_trust(current, radius)
        result = live.solve()
        passes += 1
        if result.status is LinearStatus.OPTIMAL:
            merit = _Merit(live, result, price)
            now = merit.of(current)
            expected = now - result.objective
            if expected <= CLOSE * max(now, 1e-12):
                converged = current.violation <= ACCEPTED
                break
            corner = live.point(result)
            step = _line_search(live, merit, current, corner, now, expected)
            if step is not None:
                current, share = step
                corners = [] if share == 1.0 else [*corners, corner]
                if len(corners) == SWINGS:
                    # A valley that bends: the corners on either side of it only creep along.
                    live.set_trust(None, 0.0)
                    live.set_elastic(None)
                    polished = _between_corners(live, [*corners[-2:], current], passes)
                    if polished.converged:
                        return polished
                    passes = polished.passes
                    live.set_elastic(price)
                    if polished.point is not None and merit.of(polished.point) < merit.of(current):
                        current, radius = polished.point, NEAR_RADIUS
                        continue
                radius = min(2.0 * radius, LARGEST_RADIUS) if share == 1.0 else radius * max(2.0 * share, 0.1)
                continue
        radius /= 4.0
        if radius < SMALLEST_RADIUS:
            converged = current.violation <= ACCEPTED
            break
    live.set_trust(None, 0.0)
    live.set_elastic(None)
    return LoopResult(current, passes, converged)


def _line_search(
    live: LiveModel, merit: _Merit, current: Point, trial: Point, now: float, expected: float
) -> tuple[Point, float] | None:
    """Go as far towards a linear answer as the merit falls; None when it does not fall enough.

    Returns
    -------
    point, share : Point, float
        Where to, and what share of the way.
    """
    gain = now - merit.of(trial)
    best, share = trial, 1.0
    if gain < FULL_STEP * expected:
        bottom = float(np.clip(expected / (2.0 * (expected - gain)), SHORTEST_STEP, 0.95))
        shorter = between(live.assembly, current, trial, bottom)
        shorter_gain = now - merit.of(shorter)
        if shorter_gain > gain:
            best, share, gain = shorter, bottom, shorter_gain
    return (best, share) if gain > ENOUGH * expected * share else None


class _Merit:
    """Cost plus slips, each at twice what its row is worth in the linear answer.

    A slip must cost more than it gains, but not much more: the price of a slip bends the merit.
    """

    def __init__(self, live: LiveModel, result: LinearResult, price: float) -> None:
        assembly = live.assembly
        self.live = live
        self.limits = [
            (limit, max(2.0 * abs(float(result.row_duals[row])), LEAST_PRICE * price / limit.scale))
            for limit, row in zip(assembly.problem.limits, assembly.limit_rows, strict=True)
            if not limit.soft
        ]
        self.volumes = [
            max(2.0 * abs(float(result.row_duals[row.low_row])), LEAST_PRICE * price)
            for row in assembly.volumes
        ]

    def of(self, point: Point) -> float:
        total = self.live.objective(point)
        problem = self.live.assembly.problem
        used = problem.masses(point.columns).sum(axis=0)
        for limit, price in self.limits:
            value = limit_value(limit, point.run.bottled, used, point.batches, point.money)
            total += price * limit.slip(value)
        for price, miss in zip(self.volumes, point.volume_misses, strict=True):
            total += price * abs(miss)
        return total


def _price_level(live: LiveModel) -> float:
    """Guess a typical cost of a litre, to price slips against."""
    problem = live.assembly.problem
    prices = np.concatenate([problem.price_per_kg, problem.purchase_prices])
    return max(float(np.median(prices)), float(prices.mean()), 1e-3)
