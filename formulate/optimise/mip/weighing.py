"""A recipe in steps a balance can show, in spec after rounding.

Rounding each mass to the nearest step can push a target out of its band. Here the steps are
whole numbers of a small program around the continuous recipe: only ingredients already used
move, each by a few steps; the batch may come out up to a thousandth larger than asked, never
smaller; every target is kept per litre really bottled; and cost is compared per litre, so
that nothing is gained by filling short.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR
from formulate.blend.profile import Profile
from formulate.optimise.answer import Answer, measure
from formulate.optimise.assembly import assemble
from formulate.optimise.layout import Assembly
from formulate.optimise.linear import LinearModel, RowBuilder
from formulate.optimise.mip.integer_terms import IntegerTerms, Weighing, with_integers
from formulate.optimise.point import Point, evaluate
from formulate.optimise.problem import BlendProblem, Limit, Over
from formulate.optimise.program import BlendProgram
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.tolerances import AIMED_INSIDE, GAP_WEIGHED, OVERFILL, USED_KG_PER_L, VERIFIED_SLACK
from formulate.physics.mixture import partial_specific_volumes

__all__ = [
    "WeighedAnswer",
    "off_limits",
    "poured_whole",
    "rounded_plainly",
    "weigh",
    "weighable_limits",
]

FloatArray = NDArray[np.float64]

REACH = 60
"""How many steps a mass may move from the continuous recipe."""

ROUNDS = 6
SECONDS = 5.0


@dataclass(frozen=True)
class WeighedAnswer:
    """A recipe in weighing steps, recomputed by the blend model.

    Attributes
    ----------
    masses_kg : ndarray, shape (steps, n)
    values : ndarray, shape (limits,)
        Per litre bottled, internal units.
    """

    masses_kg: FloatArray
    purchases_kg: FloatArray
    run: ChainRun
    profile: Profile
    values: FloatArray
    cost_per_l: float


def weigh(answer: Answer, step_kg: FloatArray) -> WeighedAnswer | None:
    """Round a recipe to weighing steps so that it stays in spec.

    Parameters
    ----------
    step_kg : ndarray, shape (unknowns,)
        Smallest step of the balance that carries each unknown mass.

    Returns
    -------
    WeighedAnswer or None
        None when no recipe within reach of the continuous one is in spec.
    """
    limits = weighable_limits(answer, step_kg)
    problem = replace(answer.problem, volume_l=answer.volume_l, fill=None).asking(limits)
    assembly = assemble(problem)
    program = BlendProgram(assembly)
    masses = answer.masses_kg[problem.place_step, problem.place_ingredient]
    whole = poured_whole(answer)
    used = np.flatnonzero((masses > USED_KG_PER_L * answer.volume_l) & ~whole)
    unused = np.flatnonzero(masses <= USED_KG_PER_L * answer.volume_l).astype(np.int32)
    weighing = Weighing(used.astype(np.int32), step_kg[used], np.rint(masses[used] / step_kg[used]), REACH)
    terms = IntegerTerms(answer.volume_l, weighing=weighing, fixed_columns=unused)
    point = evaluate(
        assembly, masses / answer.volume_l, 1.0 / answer.volume_l, answer.purchases_kg / answer.volume_l
    )
    margin = AIMED_INSIDE
    least_l = 1.0 if answer.problem.volume_l is not None else 1.0 - OVERFILL
    for _ in range(ROUNDS):
        program.linearise(point, frozen=False)
        model = _one_sided(program.engine.snapshot(), assembly, point, answer.cost_per_l, margin, least_l)
        result = solve_model(with_integers(model, assembly, terms).model, seconds=SECONDS, gap=GAP_WEIGHED)
        if not result.values.size:
            return None
        counts = np.rint(result.values[: problem.unknowns] * answer.volume_l / step_kg)
        rounded = np.where(whole, masses, counts * step_kg)
        bought = np.maximum(result.values[assembly.purchases], 0.0) * answer.volume_l
        weighed = _recomputed(problem, problem.masses(rounded), bought)
        enough = weighed.profile.volume_l >= answer.volume_l * least_l * (1.0 - VERIFIED_SLACK)
        if enough and not off_limits(limits, weighed):
            return weighed
        point = evaluate(assembly, rounded / answer.volume_l, point.batches, bought / answer.volume_l)
        margin *= 10.0
    return None


def weighable_limits(answer: Answer, step_kg: FloatArray) -> tuple[Limit, ...]:
    """Return the limits a weighed recipe is held to, in the order of the question.

    A mass asked for exactly is met by the nearest step, and so is an end of a usual dose.

    Parameters
    ----------
    step_kg : ndarray, shape (unknowns,)
    """
    limits = answer.problem.limits
    return tuple(_to_the_step(limit, limits, answer, step_kg) for limit in limits)


def _to_the_step(limit: Limit, limits: tuple[Limit, ...], answer: Answer, step_kg: FloatArray) -> Limit:
    if limit.over is not Over.MASSES:
        return limit
    steps = step_kg[np.isin(answer.problem.place_ingredient, limit.indices)]
    step = float(steps.max(initial=0.0)) / answer.volume_l
    if limit.origin == answer.problem.size_origin:
        return limit
    if limit.origin.dose_of:
        room = step / 2.0 * float(np.abs(limit.weights).max())
        return replace(limit, lower=max(limit.lower - room, limit.lower / 2.0), upper=limit.upper + room)
    if limit.lower == limit.upper:
        room = step / 2.0 + OVERFILL * limit.scale
        return replace(limit, lower=limit.lower - room, upper=limit.upper + room)
    if limit.batch_weight and any(_other_side(limit, other) for other in limits):
        return replace(limit, lower=limit.lower - step / 2.0, upper=limit.upper + step / 2.0)
    return limit


def poured_whole(answer: Answer) -> NDArray[np.bool_]:
    """Return which masses are all there is of a thing, which nobody needs to weigh.

    Returns
    -------
    ndarray of bool, shape (unknowns,)
    """
    problem = answer.problem
    whole = np.zeros(problem.unknowns, dtype=bool)
    for limit in problem.limits:
        if limit.origin == problem.size_origin and limit.over is Over.MASSES:
            masses = answer.masses_kg[problem.place_step, problem.place_ingredient]
            places = np.flatnonzero(np.isin(problem.place_ingredient, limit.indices) & (masses > 0.0))
            whole[places] = len(places) == 1
    return whole


def _other_side(limit: Limit, other: Limit) -> bool:
    """Whether two limits say together that a mass per batch is exactly so much."""
    same = limit.origin == other.origin and limit.batch_weight == other.batch_weight
    return same and (limit.lower, limit.upper) == (-other.upper, -other.lower)


def off_limits(limits: tuple[Limit, ...], weighed: WeighedAnswer) -> tuple[Limit, ...]:
    """Return which of the limits a recipe was recomputed for it misses."""
    return tuple(
        limit
        for limit, value in zip(limits, weighed.values, strict=True)
        if not limit.soft and limit.violation(value) > VERIFIED_SLACK * limit.scale
    )


def rounded_plainly(answer: Answer, step_kg: FloatArray) -> WeighedAnswer:
    """Round each mass to its nearest step, whatever that does to the targets."""
    problem = answer.problem.asking(weighable_limits(answer, step_kg))
    masses = answer.masses_kg[problem.place_step, problem.place_ingredient]
    rounded = np.where(poured_whole(answer), masses, np.rint(masses / step_kg) * step_kg)
    return _recomputed(problem, problem.masses(rounded), answer.purchases_kg)


def _recomputed(problem: BlendProblem, masses_kg: FloatArray, purchases_kg: FloatArray) -> WeighedAnswer:
    measured = measure(problem, masses_kg, purchases_kg)
    return WeighedAnswer(
        masses_kg, purchases_kg, measured.run, measured.profile, measured.values, measured.cost_per_l
    )


def _one_sided(
    model: LinearModel, assembly: Assembly, point: Point, cost_per_l: float, margin: float, least_l: float
) -> LinearModel:
    """Let the volume run over by `OVERFILL` and keep every limit per litre really bottled."""
    bottle = next(row for row in assembly.volumes if row.of_bottle)
    volumes = partial_specific_volumes(point.run.bottled[:LIQUOR], check=False)[assembly.liquor]
    lower, upper = model.row_lower.copy(), model.row_upper.copy()
    lower[bottle.low_row], upper[bottle.low_row] = least_l, 1.0 + OVERFILL
    rows = RowBuilder()
    for limit, row in zip(assembly.problem.limits, assembly.limit_rows, strict=True):
        part = slice(int(model.starts[row]), int(model.starts[row + 1]))
        indices, values = model.indices[part], model.values[part]
        room = margin * limit.scale
        if limit.batch_weight:
            continue  # counted for the batch, not per litre, so the row stands as it is
        if limit.over is not Over.MASSES:
            lower[row], upper[row] = -np.inf, np.inf
        for bound, is_lower in ((limit.lower + room, True), (limit.upper - room, False)):
            if not np.isfinite(bound) or (limit.over is Over.MASSES and not is_lower):
                continue
            row_of_limit = np.zeros(model.columns)
            row_of_limit[indices] += values
            row_of_limit[bottle.columns] -= bound * volumes
            columns = np.flatnonzero(row_of_limit)
            rows.add(
                columns, row_of_limit[columns], 0.0 if is_lower else -np.inf, np.inf if is_lower else 0.0
            )
    cost = model.cost.copy()
    np.add.at(cost, bottle.columns, -cost_per_l * volumes)
    return replace(model, cost=cost, row_lower=lower, row_upper=upper).with_rows(rows)
