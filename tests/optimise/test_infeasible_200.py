"""Two hundred random questions without a recipe: what is said about each is shown true by solving."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from formulate.errors import InfeasibleError
from formulate.optimise.answer import Answer
from formulate.optimise.assembly import assemble
from formulate.optimise.diagnose import Explanation, explain, is_possible, nearest_question
from formulate.optimise.layout import Assembly
from formulate.optimise.point import Point, evaluate
from formulate.optimise.problem import BlendProblem, Limit
from formulate.optimise.program import BlendProgram
from formulate.optimise.solve import multistart, solve

from .infeasible import infeasible_shelf, random_prices
from .shelves import shelf_rng

MANY = 200
NEAREST_TRIED, RANDOM_RECIPES, CORNERS = 20, 1000, 50
WITHIN = 1e-8
"""How well a random recipe must keep the limits on ingredients and the litre to count."""
ROOM = 2e-3
"""A suggested change is solved with the bound moved this much further: nearest values are proved to 1e-4."""


@cache
def _infeasible_seeds(count: int) -> tuple[int, ...]:
    found: list[int] = []
    seed = 0
    while len(found) < count:
        try:
            solve(infeasible_shelf(seed))
        except InfeasibleError:
            found.append(seed)
        seed += 1
    return tuple(found)


@cache
def _explained(seed: int) -> tuple[BlendProblem, Explanation]:
    problem = infeasible_shelf(seed)
    return problem, explain(problem, seconds=120.0)


def _sides_without(problem: BlendProblem, member: Limit) -> list[Limit]:
    return [
        side
        for limit in problem.limits
        for side in limit.sides()
        if (side.origin, side.lower, side.upper) != (member.origin, member.lower, member.upper)
    ]


@pytest.mark.slow
def test_the_clash_of_each_is_irreducible() -> None:
    asked = 0
    for seed in _infeasible_seeds(MANY):
        problem, explanation = _explained(seed)
        sides = [member.limit for member in explanation.clash]
        assert sides, seed
        assert explanation.irreducible, seed
        assert is_possible(problem.asking(sides)) is False, seed
        for dropped in range(len(sides)):
            rest = problem.asking([*sides[:dropped], *sides[dropped + 1 :]])
            assert solve(rest, seconds=0.0).volume_l == pytest.approx(5.0, rel=1e-6), (seed, dropped)
            asked += 1
    assert asked > MANY


@pytest.mark.slow
def test_each_suggested_change_works_alone() -> None:
    worked = 0
    for seed in _infeasible_seeds(MANY):
        problem, explanation = _explained(seed)
        for member in explanation.clash:
            if member.reachable is None:
                continue
            value = member.reachable / member.limit.display
            room = ROOM * max(abs(value), abs(member.bound / member.limit.display))
            moved = {"lower": value - room} if member.is_lower else {"upper": value + room}
            others = _sides_without(problem, member.limit)
            answer = solve(problem.asking([*others, replace(member.limit, **moved)]), seconds=0.0)
            assert answer.volume_l == pytest.approx(5.0, rel=1e-6), (seed, member.limit.origin.name)
            worked += 1
    assert worked > MANY


@pytest.mark.slow
def test_no_change_is_suggested_where_a_smaller_one_would_do() -> None:
    """Half of each suggested move does not make a recipe possible."""
    tried = 0
    for seed in _infeasible_seeds(MANY)[: MANY // 4]:
        problem, explanation = _explained(seed)
        for member in explanation.clash:
            if member.reachable is None:
                continue
            half = (member.reachable + member.bound) / 2.0 / member.limit.display
            moved = {"lower": half} if member.is_lower else {"upper": half}
            others = _sides_without(problem, member.limit)
            assert is_possible(problem.asking([*others, replace(member.limit, **moved)])) is not True, seed
            tried += 1
    assert tried > MANY // 4


@pytest.mark.slow
def test_the_nearest_recipe_is_never_worse_than_a_random_one() -> None:
    shelves = compared = 0
    for seed in _infeasible_seeds(MANY):
        question = nearest_question(infeasible_shelf(seed))
        try:
            nearest = solve(question, seconds=3.0)
        except InfeasibleError:  # the limits on ingredients clash by themselves: nothing comes near
            continue
        missed = _missed(nearest)
        for recipe in _random_recipes(question, seed):
            assert missed <= recipe.cost_per_l * (1.0 + 1e-6) + 1e-7, seed
            compared += 1
        shelves += 1
        if shelves == NEAREST_TRIED:
            break
    assert (shelves, compared) == (NEAREST_TRIED, NEAREST_TRIED * RANDOM_RECIPES)


def _missed(answer: Answer) -> float:
    """How far a recipe misses the targets, in tolerances, from its own figures."""
    return sum(
        value.limit.penalty * value.limit.violation(value.value / value.limit.display)
        for value in answer.limits
        if value.limit.soft
    )


def _random_recipes(question: BlendProblem, seed: int) -> Iterator[Point]:
    """Draw recipes of a litre within the limits on ingredients: cheapest at random prices, and mixtures."""
    rng = shelf_rng(seed)
    hard = [limit for limit in question.limits if not limit.soft]
    assembly = assemble(question)
    corners: list[np.ndarray] = []
    while len(corners) < CORNERS:
        found = multistart(BlendProgram(assemble(random_prices(question.asking(hard), rng))))
        if found.converged and found.point is not None:
            corners.append(found.point.columns)
    given = 0
    while given < RANDOM_RECIPES:
        weights = rng.dirichlet(np.full(CORNERS, 0.02))  # most near one corner, many on it
        point = _one_litre(assembly, weights @ np.array(corners), question.batch_bounds[0])
        if point.violation < WITHIN:
            yield point
            given += 1


def _one_litre(assembly: Assembly, columns: np.ndarray, batches: float) -> Point:
    """Scale a recipe until it makes a litre: at once, but for a fixed loss."""
    for _ in range(30):
        point = evaluate(assembly, columns, batches, np.zeros(0))
        if abs(point.volume_l - 1.0) < WITHIN:
            break
        columns = columns / point.volume_l
    return point
