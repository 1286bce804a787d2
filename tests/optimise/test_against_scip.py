"""Our optimum against a global solver: SCIP branches over the exact model until nothing can be cheaper.

Ipopt (`test_against_ipopt`) bounds the optimum from above: no recipe it ends with is cheaper than ours. SCIP
bounds it from below on a statement of the model of its own (`oracle_scip`), with nothing of our relaxation.
"""

from __future__ import annotations

import pytest

from formulate.errors import InfeasibleError
from formulate.optimise.solve import solve

from .infeasible import infeasible_shelf
from .shelves import KINDS, random_shelf, shelf_rng

pytest.importorskip("pyscipopt")

SECONDS = 10.0
GAP = 1e-6
"""What our own proofs promise with one step."""
SLACK = 2e-6
"""Money per litre: SCIP may miss each of some thirty rows by 1e-8, at prices of up to twenty per kilogram."""


@pytest.mark.parametrize("has_cake", [False, True], ids=["no cake", "cake"])
@pytest.mark.parametrize("seed", range(2 * len(KINDS)))
def test_no_recipe_is_cheaper_than_ours(seed: int, has_cake: bool) -> None:
    from .oracle_scip import bounds

    problem = random_shelf(shelf_rng(seed), 9, KINDS[seed % len(KINDS)], lossy=has_cake)
    answer = solve(problem)
    others = bounds(problem, seconds=SECONDS, gap=GAP)
    assert answer.cost_per_l <= others.lower * (1.0 + GAP) + SLACK, "something may be cheaper"
    assert answer.cost_per_l >= others.lower - SLACK, "ours is cheaper than any recipe can be"
    assert answer.cost_per_l * (1.0 - answer.proven_gap) <= others.upper + SLACK, (
        "our bound excludes a recipe"
    )


@pytest.mark.parametrize("seed", range(10))
def test_what_we_call_impossible_is(seed: int) -> None:
    from .oracle_scip import bounds

    problem = infeasible_shelf(seed, 9)
    with pytest.raises(InfeasibleError):
        solve(problem)
    assert bounds(problem, seconds=SECONDS, gap=GAP).lower == float("inf")
