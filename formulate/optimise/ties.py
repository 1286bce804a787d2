"""Equal recipes: an unused ingredient that could stand in for a used one at the same cost.

The prices at the answer name the candidates: what would cost nothing to bring in. Each is made a little
cheaper, which shows whose place it takes; then that one is forbidden and the question solved again. Only
when the cost comes out the same is it called a tie.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.optimise.answer import Answer
from formulate.optimise.assembly import assemble
from formulate.optimise.point import Point, evaluate
from formulate.optimise.pricing import Repricer, mass_of, unused
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import run_slp
from formulate.optimise.tolerances import FREE_TO_ENTER, NUDGE, SAME_COST, USED_KG_PER_L

__all__ = ["Tie", "ties_of"]


@dataclass(frozen=True)
class Tie:
    """Two ingredients that do the same for the same money.

    Attributes
    ----------
    used, other : int
        Positions among the problem's ingredients.
    """

    used: int
    other: int


def ties_of(answer: Answer) -> tuple[Tie, ...]:
    """Find unused ingredients that could take the place of a used one at the same cost.

    Parameters
    ----------
    answer : Answer
        Of a question where money is what is minimised.

    Returns
    -------
    tuple of Tie
        In the order of the problem; empty when the cheapest recipe is the only one.
    """
    problem = answer.problem
    if not problem.money_counts or any(limit.soft for limit in problem.limits):
        return ()
    repricer = Repricer(answer)
    ties = []
    for other in unused(answer):
        price = float(problem.price_per_kg[other])
        dear = float(np.min(answer.reduced_costs[problem.place_ingredient == other]))
        if not dear <= FREE_TO_ENTER * max(price, answer.cost_per_l):
            continue
        replaced = _replaced_by(repricer, other, price)
        if replaced is not None:
            ties.append(Tie(replaced, other))
    return tuple(ties)


def _replaced_by(repricer: Repricer, other: int, price: float) -> int | None:
    """Whose place an ingredient takes when it is a little cheaper, if that is confirmed at the real price."""
    answer = repricer.answer
    problem = answer.problem
    cheaper = price * (1.0 - NUDGE) if price > 0.0 else -NUDGE * answer.cost_per_l
    point = repricer.at(other, cheaper)
    if point is None or not mass_of(problem, point, other) > USED_KG_PER_L:
        return None
    before = answer.masses_kg.sum(axis=0) / answer.volume_l
    after = problem.masses(point.columns).sum(axis=0)
    gone = [index for index in np.flatnonzero(before > USED_KG_PER_L) if not after[index] > USED_KG_PER_L]
    for index in sorted(gone, key=lambda index: -before[index]):
        without = _without(answer, int(index), point)
        if without is None:
            continue
        same = abs(without.cost_per_l - answer.cost_per_l) <= SAME_COST * answer.cost_per_l
        if same and mass_of(problem, without, other) > USED_KG_PER_L:
            return int(index)
    return None


def _without(answer: Answer, index: int, near: Point) -> Point | None:
    """Solve again with one ingredient forbidden, from a recipe that does without it."""
    program = BlendProgram(assemble(answer.problem))
    for column in np.flatnonzero(answer.problem.place_ingredient == index):
        program.engine.set_column_bounds(int(column), 0.0, 0.0)
    # The loop may keep its start: it must not hold what is forbidden.
    columns = np.where(answer.problem.place_ingredient == index, 0.0, near.columns)
    result = run_slp(program, evaluate(program.assembly, columns, near.batches, near.purchases))
    return result.point if result.converged else None
