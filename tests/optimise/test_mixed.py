"""Batches mixed of several recipes: by hand, never dearer, and bettered part by part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.stock import plan as planning
from formulate.optimise.stock import program
from formulate.optimise.stock.fix_and_optimise import fix_and_optimise
from formulate.optimise.stock.mixed import Mix, MixedQuestion, mixed
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.stock.played import broken_rule, play
from formulate.optimise.stock.program import lay_out
from formulate.optimise.stock.question import Good, Making, StockPlan, StockQuestion
from tests.benchmarks.bench_menu import random_menu, with_other_recipes


def _two_recipes(batch_kg: float = 10.0) -> MixedQuestion:
    """10 kg of a bottle: 2.5 kg of a and 7.5 kg of b by its first recipe, 1.5 kg and 8.5 kg by another."""
    goods = (Good("a", (0.0,)), Good("b", (0.0,)), Good("bottle", (10.0,)))
    packs = (Pack(Thing(False, 0), 1.0, 10.0), Pack(Thing(False, 1), 1.0, 6.0, loose=True))
    first = Making(2, ((0, 0.25), (1, 0.75)), 10.0, 1.0, 0, 0.5, 4.0)
    question = StockQuestion(1, goods, packs=packs, makings=(first,))
    recipes = (first.uses, ((0, 0.15), (1, 0.85)))
    return mixed(question, [Mix(recipes, ((0, replace(first, uses=(), batch_kg=batch_kg)),))])


def test_a_mixture_hits_the_pack_by_hand() -> None:
    # By the first recipe 3 packs of a and 7.5 kg of b: 30 + 45 = 75; by the other 2 packs and 8.5 kg: 71.
    # Half and half 2 packs and 8 kg: 20 + 48 = 68. Work on one batch is 4.
    mixing = _two_recipes()
    fixed = plan_stock(mixing.plain, gap=0.0)
    assert fixed.cost == pytest.approx(79.0)
    plan = plan_stock(mixing.question, gap=0.0, start=mixing.start(fixed))
    assert plan.cost == pytest.approx(72.0)
    (weeks,) = mixing.shares(plan)
    assert list(weeks) == [0]
    assert weeks[0] == pytest.approx([0.5, 0.5], abs=1e-6)


def test_a_mixture_that_holds_less_stands_beside_the_first_recipe() -> None:
    # Mixed batches of 8 kg at most: two of them, 72 + 4, against one of the first recipe, 79.
    mixing = _two_recipes(batch_kg=8.0)
    fixed = plan_stock(mixing.plain, gap=0.0)
    start = mixing.start(fixed)
    assert start.batches[0].tolist() == [1.0]  # 10 kg do not fit, so it stays as it was
    assert float(start.batches.sum()) == 1.0
    # two batches hold the vessel for a week, half of it each
    assert plan_stock(mixing.question, gap=0.0, start=start).cost == pytest.approx(76.0)


@st.composite
def _menus(draw: st.DrawFn) -> tuple[MixedQuestion, StockQuestion]:
    """Two bottles of three recipes, made of three things, three weeks: mixed, and one recipe a batch."""
    weeks, tenth = 3, st.integers(0, 20).map(lambda tenths: tenths / 10.0)
    half = st.integers(1, 24).map(lambda halves: halves / 2.0)
    rate, life = st.sampled_from([0.0, 0.2, 0.5, 0.7]), st.sampled_from([None, 1, 2])
    goods = tuple(
        Good(name, tuple(draw(tenth) for _ in range(weeks)), draw(tenth) / 2.0, keeps=draw(life))
        for name in ("a", "b", "c", "x", "y")
    )
    packs = tuple(Pack(Thing(False, number), size, draw(half)) for number in range(3) for size in (1.0, 2.5))
    firsts, mixes, alone = [], [], []
    for bottle in (3, 4):
        recipes = [tuple((good, draw(rate)) for good in range(3)) for _ in range(3)]
        first = Making(bottle, recipes[0], draw(st.sampled_from([2.0, 3.5])), 0.0, bottle - 3, 0.4, 1.0)
        mixes.append(Mix(tuple(recipes), ((bottle - 3, replace(first, uses=())),)))
        firsts.append(first)
        alone += [replace(first, uses=uses, is_second_choice=True) for uses in recipes[1:]]
    plain = StockQuestion(weeks, goods, packs=packs, makings=tuple(firsts))
    return mixed(plain, mixes), replace(plain, makings=(*firsts, *alone))


@settings(max_examples=25)
@given(menus=_menus())
def test_mixed_is_never_dearer_than_one_recipe_a_batch(menus: tuple[MixedQuestion, StockQuestion]) -> None:
    mixing, one_each = menus
    alone = plan_stock(one_each, gap=0.0)
    plan = plan_stock(mixing.question, gap=0.0)
    assert plan.net_cost <= alone.net_cost + 1e-5 * max(1.0, alone.net_cost)
    # played through without the program: nothing is missing that is not said, no rule is broken
    missing = play(mixing.question, plan).missing_kg[:, :-1] - plan.short_kg
    assert float(missing.max()) == pytest.approx(0.0, abs=1e-5)
    assert broken_rule(mixing.question, plan) == ""
    for weeks in mixing.shares(plan):
        for shares in weeks.values():
            assert float(shares.sum()) == pytest.approx(1.0)
            assert float(shares.min()) >= 0.0


@settings(max_examples=25)
@given(menus=_menus())
def test_rows_that_tighten_leave_the_cheapest_mixture(menus: tuple[MixedQuestion, StockQuestion]) -> None:
    question = menus[0].question
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(program, "add_valid_inequalities", lambda *_: None)
        changed.setattr(planning, "with_lot_sizing_inequalities", lambda _, laid, __: laid.model)
        plain = plan_stock(question, gap=0.0)
    assert plan_stock(question, gap=0.0).net_cost == pytest.approx(plain.net_cost, rel=1e-6, abs=1e-5)


def test_a_fixed_plan_starts_a_mixed_one_at_its_cost() -> None:
    question = random_menu(3)
    fixed = plan_stock(question, seconds=10.0, gap=1e-3)
    mixing = with_other_recipes(question)
    assert _as_found(mixing.question, mixing.start(fixed)).objective == pytest.approx(
        fixed.net_cost, rel=1e-6
    )


def test_a_large_menu_is_bettered_part_by_part_and_still_plays_through() -> None:
    # too large to be proved in the time: what comes out is no dearer than the start, and nothing is missing
    question = random_menu(8)
    fixed = plan_stock(question, seconds=3.0)
    mixing = with_other_recipes(question)
    plan = plan_stock(mixing.question, seconds=6.0, start=mixing.start(fixed))
    assert not plan.proved
    assert plan.net_cost <= fixed.net_cost + 1e-6
    assert float(play(mixing.question, plan).missing_kg.max()) == pytest.approx(0.0, abs=1e-5)
    assert broken_rule(mixing.question, plan) == ""
    prices = np.array([pack.price for pack in mixing.question.packs])
    labour = np.array([making.labour for making in mixing.question.makings])
    assert plan.cost == pytest.approx(prices @ plan.packs.sum(axis=1) + labour @ plan.batches.sum(axis=1))


def test_parts_better_a_plan_and_stop_when_told() -> None:
    question = random_menu(5)
    mixing = with_other_recipes(question)
    start = mixing.start(plan_stock(question, seconds=2.0))
    found = replace(_as_found(mixing.question, start), proven_bound=1.0, status=LinearStatus.INTERRUPTED)
    laid = lay_out(mixing.question)
    assert fix_and_optimise(mixing.question, laid, found, 60.0, lambda: True) is found
    better = fix_and_optimise(mixing.question, laid, found, 4.0, lambda: False)
    assert better.objective < found.objective - 1e-6
    assert float(laid.model.cost @ better.values) == pytest.approx(better.objective)
    # what is proved is of the whole, not of a part
    assert (better.proven_bound, better.status) == (1.0, LinearStatus.INTERRUPTED)


def _as_found(question: StockQuestion, plan: StockPlan) -> LinearResult:
    """Turn a plan back into a point of its program."""
    laid = lay_out(question)
    lower, upper = laid.model.column_lower.copy(), laid.model.column_upper.copy()
    for (number, week), column in laid.packs.items():
        lower[column] = upper[column] = plan.packs[number, week]
    for (number, week), column in laid.batches.items():
        lower[column] = upper[column] = plan.batches[number, week]
    return solve_model(replace(laid.model, column_lower=lower, column_upper=upper))
