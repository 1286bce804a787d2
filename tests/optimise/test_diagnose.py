"""The clash reported for a problem without a recipe: irreducible, and its moves really work."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from formulate.errors import InfeasibleError
from formulate.optimise.diagnose import ClashMember, Explanation, explain, is_possible
from formulate.optimise.problem import BlendProblem, Limit, Origin, Over
from formulate.optimise.solve import solve
from tests.optimise.shelves import random_shelf


def _too_dear(seed: int) -> BlendProblem:
    """Return a random shelf that must cost less than three quarters of what its cheapest recipe costs."""
    problem = random_shelf(np.random.default_rng(seed), 12 + seed, "narrow", lossy=True)
    most = 0.75 * solve(problem).cost_per_l
    used = np.arange(len(problem.price_per_kg), dtype=np.int32)
    cap = Limit(Over.MASSES, used, problem.price_per_kg, -np.inf, most, Origin("cost", "at most"))
    return problem.asking([*problem.limits, cap])


@pytest.fixture(scope="module", params=range(5))
def explained(request: pytest.FixtureRequest) -> tuple[BlendProblem, Explanation]:
    problem = _too_dear(request.param)
    with pytest.raises(InfeasibleError):
        solve(problem)
    return problem, explain(problem, seconds=120.0)


def test_the_clash_is_impossible_and_irreducible(explained: tuple[BlendProblem, Explanation]) -> None:
    problem, explanation = explained
    sides = [member.limit for member in explanation.clash]
    assert explanation.irreducible
    assert is_possible(problem.asking(sides)) is False
    for dropped in range(len(sides)):
        assert is_possible(problem.asking([*sides[:dropped], *sides[dropped + 1 :]])) is True


def test_cost_takes_part_and_says_how_far_it_must_go(explained: tuple[BlendProblem, Explanation]) -> None:
    problem, explanation = explained
    (cost,) = [member for member in explanation.clash if member.limit.origin.name == "cost"]
    asked = problem.limits[-1].upper
    cheapest = solve(problem.asking(problem.limits[:-1])).cost_per_l
    assert cost.bound == pytest.approx(asked)
    assert cost.reachable == pytest.approx(cheapest, rel=2e-4)  # the gap the nearest value is proved to


def test_moving_one_member_makes_a_recipe(explained: tuple[BlendProblem, Explanation]) -> None:
    problem, explanation = explained
    moved = 0
    for member in explanation.clash:
        if member.reachable is None:
            continue
        others = [
            side
            for limit in problem.limits
            for side in limit.sides()
            if (side.origin, side.lower, side.upper)
            != (member.limit.origin, member.limit.lower, member.limit.upper)
        ]
        room = 2e-3 * abs(member.reachable)
        value = (
            member.reachable - room if member.is_lower else member.reachable + room
        ) / member.limit.display
        bound = {"lower": value} if member.is_lower else {"upper": value}
        assert is_possible(problem.asking([*others, replace(member.limit, **bound)])) is True
        moved += 1
    assert moved > 0


def test_out_of_time_it_claims_no_more_than_it_found() -> None:
    problem = _too_dear(0)
    explanation = explain(problem, seconds=0.0)
    assert [member.limit for member in explanation.clash] == [
        side for limit in problem.limits for side in limit.sides()
    ]
    assert not explanation.irreducible
    assert explanation.reach == ()
    assert all(member.reachable is None for member in explanation.clash)


def test_a_limit_without_a_figure_is_not_handed_to_the_solver_moved() -> None:
    """A share has no figure of its own; a bound that is no number would bring the solver's process down."""
    problem = random_shelf(np.random.default_rng(0), 8, "narrow")
    limit = replace(problem.limits[0], lower=-np.inf, display=np.nan)
    member = ClashMember(limit, np.nan, np.nan)
    assert not member.has_figure
    with pytest.raises(ValueError, match="no figure"):
        member.moved_in(problem)
    told = ClashMember(replace(limit, display=1000.0), 5.0, 7.0).moved_in(problem).limits[-1]
    assert told.upper == pytest.approx(0.007, rel=0.2)
