"""Successive linear programming: linearise the blend, solve, move there, repeat.

Volume is homogeneous of degree one, so a linearisation at the right composition is exact
along every mixture of that composition, and three passes usually close to nine digits.
Where cakes keep liquor the first passes hold the shares carried still, which is feasible
from anywhere but not quite the cheapest; then their exact gradient takes over. Where the
optimum lies between the vertices of the program (volume is concave at low strength) a
trust region with elastic rows finishes the work.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR
from formulate.optimise.breakpoints import smooth_intervals_at
from formulate.optimise.layout import Assembly
from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.point import Point, interpolate
from formulate.optimise.problem import Over, limit_value
from formulate.optimise.program import BlendProgram
from formulate.optimise.refinement import refine
from formulate.optimise.tolerances import (
    ACCEPTED,
    CONVERGED,
    IN_PLAY_KG_PER_L,
    NEARLY_FEASIBLE,
    SMALLEST_RADIUS,
    STATIONARY,
    TINY,
)
from formulate.physics.mixture import INDEX, SUGARS, volume_l

__all__ = ["SlpResult", "first_guess", "run_slp", "run_slp_near", "run_trust_region"]

FROZEN_PASSES = 3
PLAIN_PASSES = 9
CONTRACTION = 0.25
"""A pass that leaves more than this share of the violation before it is swinging, not settling."""
REFINEMENT_ROUNDS = 5
TRUST_PASSES = 60
SWINGS = 6
"""After so many shortened steps on end the optimum is looked for between the vertices, once."""
FIRST_RADIUS, LARGEST_RADIUS = 0.05, 1.0
RADIUS_AFTER_REFINEMENT = 1e-3
FULL_STEP = 0.9
"""A step that gains this share of what was expected is taken whole."""
SHORTEST_STEP = 1e-3
LEAST_PENALTY = 0.01
"""No violation is cheaper than this, in litres of a typical cost, for one of the limit's own size."""
SUFFICIENT_DECREASE = 0.05
"""A step must gain this share of what was expected of it."""


@dataclass(frozen=True)
class SlpResult:
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


def run_slp(program: BlendProgram, start: Point) -> SlpResult:
    """Move from a point to a locally cheapest recipe."""
    if start.violation <= ACCEPTED and program.assembly.carries:
        return run_trust_region(program, start)
    best = start
    passes = 0
    frozen_left = FROZEN_PASSES if program.assembly.carries else 0
    vertices: list[Point] = []
    for _ in range(PLAIN_PASSES):
        frozen = frozen_left > 0
        program.linearise(best, frozen=frozen)
        result = program.solve()
        passes += 1
        if result.status is not LinearStatus.OPTIMAL:
            break
        point = program.point(result)
        best = point
        if frozen:
            frozen_left = 0 if point.violation < NEARLY_FEASIBLE else frozen_left - 1
            continue
        if point.violation <= CONVERGED:
            return SlpResult(point, passes, True)
        swinging = bool(vertices) and point.violation > CONTRACTION * vertices[-1].violation
        vertices.append(point)
        if swinging:
            break
    if vertices:
        refined = _refine_between_vertices(program, vertices, passes)
        if refined.converged:
            return refined
        passes = refined.passes
    return run_trust_region(program, best, passes)


def _refine_between_vertices(program: BlendProgram, vertices: list[Point], passes: int) -> SlpResult:
    """Look for the optimum among the ingredients of the vertices the loop swings between.

    Each refinement is checked by a linear program over all ingredients; one that would pay to bring in
    joins the few, until none does.
    """
    used = np.flatnonzero(np.any([vertex.columns > IN_PLAY_KG_PER_L for vertex in vertices], axis=0))
    start = vertices[-1]
    point = None
    for _ in range(REFINEMENT_ROUNDS):
        intervals = {**smooth_intervals_at(program.assembly, start), **program.ethanol_intervals}
        point = refine(program.assembly, start, used, intervals)
        if point is None or point.violation > ACCEPTED:
            break
        program.linearise(point, frozen=False)
        result = program.solve()
        passes += 1
        if result.status is not LinearStatus.OPTIMAL:
            break
        if program.objective(point) - result.objective <= STATIONARY * max(point.cost, TINY):
            return SlpResult(point, passes, True)
        joining = np.flatnonzero(result.values[: len(point.columns)] > IN_PLAY_KG_PER_L)
        if not len(np.setdiff1d(joining, used)):
            break
        used, start = np.union1d(used, joining), point
    return SlpResult(point, passes, False)


def run_slp_near(program: BlendProgram, start: Point) -> SlpResult:
    """Move to the cheapest recipe near one nearly good: `run_trust_region` with cakes, else `run_slp`.

    Without cakes there is one arrangement of the steps and the plain passes are the quickest way.

    Parameters
    ----------
    start : Point
        With masses.
    """
    return run_trust_region(program, start) if program.assembly.carries else run_slp(program, start)


def run_trust_region(program: BlendProgram, start: Point, passes: int = 0) -> SlpResult:
    """Move from a nearly good point to the local optimum beside it, never far away at once.

    `run_slp` would first hold the shares carried still, which can lead away from a better
    arrangement of the steps; this keeps to the neighbourhood of the start, with a trust region on the
    totals, elastic rows and a line search along each answer.

    Parameters
    ----------
    start : Point
        With masses.
    passes : int
        Linear programs solved before.

    Notes
    -----
    Between the vertices of the program the cost bends: along the way to a linear answer it falls
    at first and rises again. The bend is read off two points and the step shortened to its bottom,
    so the end game closes as fast as Newton's method, without a second derivative.
    """
    price = _price_level(program)
    current = start
    if not np.isfinite(start.violation):
        program.set_elastic(price)
        program.linearise(start, frozen=True)
        result = program.solve()
        passes += 1
        program.set_elastic(None)
        if result.status is not LinearStatus.OPTIMAL:
            return SlpResult(None, passes, False)
        current = program.point(result)
    program.set_elastic(price)
    radius = FIRST_RADIUS
    converged = False
    vertices: list[Point] = []
    for _ in range(TRUST_PASSES):
        program.linearise(current, frozen=False)
        program.set_trust(current, radius)
        result = program.solve()
        passes += 1
        if result.status is LinearStatus.OPTIMAL:
            merit = _Merit(program, result, price)
            now = merit.of(current)
            expected = now - result.objective
            if expected <= CONVERGED * max(now, TINY):
                converged = current.violation <= ACCEPTED
                break
            vertex = program.point(result)
            step = _line_search(program, merit, current, vertex, now, expected)
            if step is not None:
                current, share = step
                vertices = [] if share == 1.0 else [*vertices, vertex]
                if len(vertices) == SWINGS:
                    # A valley that bends: the vertices on either side of it only creep along.
                    program.set_trust(None, 0.0)
                    program.set_elastic(None)
                    refined = _refine_between_vertices(program, [*vertices[-2:], current], passes)
                    if refined.converged:
                        return refined
                    passes = refined.passes
                    program.set_elastic(price)
                    if refined.point is not None and merit.of(refined.point) < merit.of(current):
                        current, radius = refined.point, RADIUS_AFTER_REFINEMENT
                        continue
                radius = min(2.0 * radius, LARGEST_RADIUS) if share == 1.0 else radius * max(2.0 * share, 0.1)
                continue
        radius /= 4.0
        if radius < SMALLEST_RADIUS:
            converged = current.violation <= ACCEPTED
            break
    program.set_trust(None, 0.0)
    program.set_elastic(None)
    return SlpResult(current, passes, converged)


def _line_search(
    program: BlendProgram, merit: _Merit, current: Point, trial: Point, now: float, expected: float
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
        shorter = interpolate(program.assembly, current, trial, bottom)
        shorter_gain = now - merit.of(shorter)
        if shorter_gain > gain:
            best, share, gain = shorter, bottom, shorter_gain
    return (best, share) if gain > SUFFICIENT_DECREASE * expected * share else None


class _Merit:
    """Cost plus violations, each at twice what its row is worth in the linear answer.

    A violation must cost more than it gains, but not much more: its penalty bends the merit.
    """

    def __init__(self, program: BlendProgram, result: LinearResult, price: float) -> None:
        assembly = program.assembly
        self.program = program
        self.limits = [
            (limit, max(2.0 * abs(float(result.row_duals[row])), LEAST_PENALTY * price / limit.scale))
            for limit, row in zip(assembly.problem.limits, assembly.limit_rows, strict=True)
            if not limit.soft
        ]
        self.volumes = [
            max(2.0 * abs(float(result.row_duals[row.low_row])), LEAST_PENALTY * price)
            for row in assembly.volumes
        ]

    def of(self, point: Point) -> float:
        total = self.program.objective(point)
        problem = self.program.assembly.problem
        used = problem.masses(point.columns).sum(axis=0)
        for limit, price in self.limits:
            value = limit_value(limit, point.run.bottled, used, point.batches, point.money)
            total += price * limit.violation(value)
        for price, residual in zip(self.volumes, point.volume_residuals, strict=True):
            total += price * abs(residual)
        return total


def _price_level(program: BlendProgram) -> float:
    """Guess a typical cost of a litre, to price violations against."""
    problem = program.assembly.problem
    prices = np.concatenate([problem.price_per_kg, problem.purchase_prices])
    return max(float(np.median(prices)), float(prices.mean()), 1e-3)
