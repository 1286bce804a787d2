"""One live model with price after price written into it, held against a model laid out anew for each."""

from __future__ import annotations

import numpy as np
import pytest

from formulate.optimise.assembly import assemble
from formulate.optimise.pricing import Repricer, mass_of, priced, unused
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import run_slp_near
from formulate.optimise.solve import solve, start_of
from tests.optimise.infeasible import cost_limit
from tests.optimise.shelves import random_shelf, shelf_rng


@pytest.mark.parametrize("lossy", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_a_price_written_in_is_as_good_as_a_question_asked_anew(seed: int, lossy: bool) -> None:
    """With a limit on cost too, whose row holds the prices; each price is gone once the next is tried."""
    problem = random_shelf(shelf_rng(seed), 12, "narrow", lossy=lossy)
    problem = problem.asking([*problem.limits, cost_limit(1.02 * solve(problem).cost_per_l)])
    answer = solve(problem)
    repricer = Repricer(answer)
    spirit = 0
    tried = [(number, 0.5) for number in unused(answer)[:4]] + [(spirit, 1.01), (spirit, 3.0), (spirit, 0.7)]
    found = 0
    for ingredient, factor in tried:
        price = factor * float(problem.price_per_kg[ingredient])
        asked = priced(problem, ingredient, price)
        anew = BlendProgram(assemble(asked))
        result = run_slp_near(anew, start_of(answer, anew))
        point = repricer.at(ingredient, price)
        if not result.converged or result.point is None:
            assert point is None, "a recipe that is too dear by the limit"
            continue
        assert point is not None
        assert point.cost_per_l == pytest.approx(result.point.cost_per_l, rel=1e-8)
        assert point.money == pytest.approx(float(asked.column_prices @ point.columns), rel=1e-12)
        mass = mass_of(problem, point, ingredient)
        assert mass == pytest.approx(mass_of(problem, result.point, ingredient), abs=1e-6)
        found += 1
    assert found >= 3
    assert mass_of(problem, None, spirit) == 0.0
    assert np.array_equal(answer.problem.price_per_kg, problem.price_per_kg)
