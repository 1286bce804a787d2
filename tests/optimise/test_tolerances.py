"""Tolerances hang together as they say, and hold where they are used: at half and at twice each."""

from __future__ import annotations

import numpy as np
import pytest

from formulate.errors import VerificationError
from formulate.optimise.answer import Answer, limit_values, stands_at_bound, verify
from formulate.optimise.assembly import assemble
from formulate.optimise.problem import BlendProblem, Limit
from formulate.optimise.program import BlendProgram
from formulate.optimise.solve import solve, start_of
from formulate.optimise.tolerances import (
    ACCEPTED,
    AT_BOUND,
    FEASIBILITY_KG_PER_L,
    INSIDE_FIRM,
    SUM_ERROR,
    VERIFIED_SLACK,
)

from .shelves import mass_limit, random_shelf, shelf_rng

WATER = 1


@pytest.fixture(scope="module")
def answer() -> Answer:
    return solve(random_shelf(shelf_rng(0), 6, "wide"))


def asking_water(answer: Answer, times: float) -> tuple[BlendProblem, Limit]:
    """Ask for more water than a recipe has: so many times as much."""
    water = float(answer.masses_kg[:, WATER].sum()) / answer.volume_l
    assert water > 0.1
    limit = mass_limit("water at least", [WATER], [1.0], times * water, np.inf)
    return answer.problem.asking([*answer.problem.limits, limit]), limit


def test_each_step_allows_ten_times_what_the_one_before_does() -> None:
    assert pytest.approx(10.0 * FEASIBILITY_KG_PER_L) == SUM_ERROR
    assert pytest.approx(10.0 * ACCEPTED) == VERIFIED_SLACK
    assert pytest.approx(10.0 * VERIFIED_SLACK) == AT_BOUND
    assert INSIDE_FIRM > VERIFIED_SLACK


def test_verification_refuses_what_misses_a_limit_by_more_than_it_allows(answer: Answer) -> None:
    problem, limit = asking_water(answer, 1.0 + 0.5 * VERIFIED_SLACK)
    assert verify(problem, answer.masses_kg, answer.purchases_kg).values[-1] < limit.lower
    problem, limit = asking_water(answer, 1.0 + 2.0 * VERIFIED_SLACK)
    with pytest.raises(VerificationError, match=limit.origin.name):
        verify(problem, answer.masses_kg, answer.purchases_kg)


def test_what_a_recipe_misses_is_counted_as_a_share_of_the_limit(answer: Answer) -> None:
    problem, _ = asking_water(answer, 1.25)  # has four fifths of what is asked: misses it by a fifth
    program = BlendProgram(assemble(answer.problem))
    assert start_of(answer, program).violation <= VERIFIED_SLACK
    assert start_of(answer, BlendProgram(assemble(problem))).violation == pytest.approx(0.2)


def test_a_value_stands_at_a_bound_within_a_millionth_of_it() -> None:
    limit = mass_limit("water at least", [WATER], [1.0], 0.5, np.inf)
    assert stands_at_bound(limit, 0.5 * (1.0 + 0.5 * AT_BOUND))
    assert not stands_at_bound(limit, 0.5 * (1.0 + 2.0 * AT_BOUND))
    (shown,) = limit_values([limit], [0.6], [0.0])
    assert not shown.binding
