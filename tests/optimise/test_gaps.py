"""A gap is the share of a cost by which it may be above the cheapest: by hand, wherever one is worked out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from formulate.optimise.assembly import assemble
from formulate.optimise.disjunctions import Outcome, gap_to
from formulate.optimise.linear import LinearModel, LinearResult, LinearStatus
from formulate.optimise.mip import covering
from formulate.optimise.mip.integer_terms import IntegerTerms
from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.program import BlendProgram
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.stock import plan as planning
from formulate.optimise.stock.question import Good, StockQuestion
from formulate.optimise.tree.branch_and_bound import BranchAndBound, Proof

from .shelves import random_shelf, shelf_rng

NOTHING = np.zeros(0)
PACKS = (Pack(Thing(False, 0), 1.0, 10.0), Pack(Thing(False, 0), 6.0, 54.0))


@pytest.mark.parametrize(
    ("cost", "bound", "gap"),
    [(20.0, 15.0, 0.25), (0.2, 0.15, 0.25), (-20.0, -25.0, 0.25), (0.0, -1.0, 0.0), (20.0, 21.0, 0.0)],
)
def test_the_gap_of_a_program_is_a_share_of_its_cost(cost: float, bound: float, gap: float) -> None:
    result = LinearResult(LinearStatus.INTERRUPTED, cost, NOTHING, NOTHING, NOTHING, bound)
    assert result.gap == pytest.approx(gap)


@pytest.mark.parametrize(("cost", "bound", "gap"), [(20.0, 15.0, 0.25), (0.2, 0.15, 0.25), (20.0, 21.0, 0.0)])
def test_the_gap_of_a_proof_and_of_cases_is_a_share_of_the_cost(
    cost: float, bound: float, gap: float
) -> None:
    best: Any = SimpleNamespace(cost_per_l=cost)
    assert Proof(best, bound, 1, complete=False).gap == pytest.approx(gap)
    assert gap_to(Outcome(None, NOTHING, NOTHING, 1.0, cost, bound)) == pytest.approx(gap)


def test_a_node_must_promise_more_than_the_gap_to_be_looked_at() -> None:
    program = BlendProgram(assemble(random_shelf(shelf_rng(0), 6, "wide")))
    best: Any = SimpleNamespace(cost_per_l=20.0)
    assert BranchAndBound(program, best, gap=0.25).cutoff == pytest.approx(15.0)
    assert BranchAndBound(program, None, gap=0.25).cutoff == np.inf


def test_no_recipe_has_no_gap_that_closes() -> None:
    assert Proof(None, 0.0, 1, complete=False).gap == np.inf


def stopped_at(share: float) -> Callable[..., LinearResult]:
    """Solve, and say that only so much of the cost was proved when time was up."""

    def solved(model: LinearModel, **options: Any) -> LinearResult:
        result = solve_model(model, **options)
        return replace(result, status=LinearStatus.INTERRUPTED, proven_bound=share * result.objective)

    return solved


def test_a_plan_cut_short_tells_its_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    # 5 kg in single packs: 50.00, of which 40.00 were proved
    monkeypatch.setattr(planning, "solve_model", stopped_at(0.8))
    plan = planning.plan_stock(StockQuestion(1, (Good("x", (5.0,)),), packs=PACKS), seconds=2.0)
    assert plan.net_cost == pytest.approx(50.0)
    assert not plan.proved
    assert plan.proven_gap == pytest.approx(0.2)


def test_packs_cut_short_tell_their_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(covering, "solve_model", stopped_at(0.8))
    packs = covering.cheapest_cover(IntegerTerms(5.0, packs=PACKS), {Thing(False, 0): 5.0})
    assert packs is not None
    assert not packs.proved
    assert packs.proven_gap == pytest.approx(0.2)
