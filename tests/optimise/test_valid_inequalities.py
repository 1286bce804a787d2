"""Rows that tighten a menu's program: against packs counted one by one, and never in the way of a plan."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.stock import plan as planning
from formulate.optimise.stock import program
from formulate.optimise.stock.lot_sizing import with_lot_sizing_inequalities
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.stock.played import play
from formulate.optimise.stock.program import lay_out
from formulate.optimise.stock.question import Good, Making, StockQuestion
from formulate.optimise.stock.valid_inequalities import lines_under_steps, steps_of_cost

HALVES = st.integers(1, 24).map(lambda halves: halves / 2.0)


def _packs(*sizes_and_prices: tuple[float, float]) -> tuple[Pack, ...]:
    return tuple(Pack(Thing(False, 0), size, price) for size, price in sizes_and_prices)


def _cheapest(packs: tuple[Pack, ...], need: float) -> float:
    """Try every number of every pack."""
    counts = [range(int(np.ceil(need / pack.size_kg)) + 1) for pack in packs]
    return min(
        sum(count * pack.price for count, pack in zip(tried, packs, strict=True))
        for tried in itertools.product(*counts)
        if sum(count * pack.size_kg for count, pack in zip(tried, packs, strict=True)) >= need - 1e-12
    )


def test_steps_and_lines_by_hand() -> None:
    # single 1 kg 10.00, case 6 kg 54.00. From 4.5 kg: 5 kg 50.00, then 6 kg 54.00 (a case), 7 kg 64.00.
    packs = _packs((1.0, 10.0), (6.0, 54.0))
    assert steps_of_cost(packs, 4.5, 6.5) == [(5.0, 50.0), (6.0, 54.0), (7.0, 64.0)]
    # under them: flat from 4.5 to 5 kg, 4.00 a kilogram to 6 kg (30 + 5 x 4 = 50); from there
    # on 9.00 a kilogram, which is the lowest price anyhow
    flat, case = lines_under_steps(packs, 4.5, 6.5)
    assert flat == pytest.approx((50.0, 0.0))
    assert case == pytest.approx((30.0, 4.0))
    # without whole numbers 4.5 kg would cost 40.50


@given(
    sold=st.lists(st.tuples(HALVES, HALVES), min_size=1, max_size=3),
    least=st.one_of(st.just(0.0), st.floats(0.01, 8.0)),
    more=st.floats(0.01, 8.0),
    at=st.floats(0.0, 2.5),
)
def test_no_line_lies_above_what_an_amount_costs(
    sold: list[tuple[float, float]], least: float, more: float, at: float
) -> None:
    packs = _packs(*sold)
    need = least + at * more
    lines = lines_under_steps(packs, least, least + more)
    cost = _cheapest(packs, need)
    for money, per_kg in lines:
        assert money + per_kg * need <= cost + 1e-5 * max(cost, 1.0)
    # and where it begins one of them says all of it
    if lines and least > 0.0:
        assert max(money + per_kg * least for money, per_kg in lines) == pytest.approx(
            _cheapest(packs, least * (1.0 - 1e-7) - 1e-7), rel=1e-4
        )


def test_nothing_is_said_of_what_is_sold_by_weight() -> None:
    assert lines_under_steps((*_packs((1.0, 5.0)), Pack(Thing(False, 0), 1.0, 6.0, loose=True)), 1, 9) == []


@st.composite
def _menus(draw: st.DrawFn) -> StockQuestion:
    """Two bottles, one of them with two recipes, made of three things; three weeks."""
    weeks = 3
    tenth = st.integers(0, 20).map(lambda tenths: tenths / 10.0)
    rate = st.sampled_from([0.0, 0.2, 0.5, 0.7])
    life = st.sampled_from([None, 1, 2])
    bought = tuple(
        Good(name, tuple(draw(tenth) for _ in range(weeks)), draw(tenth) / 2.0, keeps=draw(life))
        for name in ("a", "b", "c")
    )
    bottles = tuple(
        Good(name, tuple(draw(tenth) for _ in range(weeks)), draw(tenth) / 2.0, keeps=draw(life))
        for name in ("x", "y")
    )
    packs = tuple(
        Pack(Thing(False, number), size, draw(HALVES), draw(st.sampled_from(["s", "t"])))
        for number in range(3)
        for size in (1.0, 2.5)
    )
    size = draw(st.sampled_from([2.0, 3.5]))

    def recipe(good: int, *, second: bool = False) -> Making:
        uses = tuple((number, draw(rate)) for number in range(3))
        batch_uses = ((2, 0.3),) if draw(st.booleans()) else ()
        return Making(good, uses, size, 0.0, good - 3, 0.4, 1.0, second, batch_uses)

    makings = (recipe(3), recipe(4), recipe(3, second=True))
    least = draw(st.sampled_from([(), (("s", 8.0),)]))
    return StockQuestion(weeks, (*bought, *bottles), packs=packs, makings=makings, least_order=least)


@settings(max_examples=25)
@given(question=_menus(), leftover=st.sampled_from([0.0, 0.5]))
def test_the_cheapest_plan_stays_the_cheapest(question: StockQuestion, leftover: float) -> None:
    question = replace(question, leftover_share=leftover)
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(program, "add_valid_inequalities", lambda *_: None)
        changed.setattr(planning, "with_lot_sizing_inequalities", lambda _, laid, __: laid.model)
        plain = plan_stock(question, gap=0.0)
    tight = plan_stock(question, gap=0.0)
    assert tight.net_cost == pytest.approx(plain.net_cost, rel=1e-6, abs=1e-5)
    missing = play(question, tight).missing_kg[:, :-1] - tight.short_kg
    assert float(missing.max()) == pytest.approx(0.0, abs=1e-5)


@settings(max_examples=25)
@given(question=_menus(), seed=st.integers(0, 10_000))
def test_no_row_is_in_the_way_of_any_plan_however_wasteful(question: StockQuestion, seed: int) -> None:
    # the cheapest plan at prices that have nothing to do with those of the packs, some of them below nothing
    with pytest.MonkeyPatch.context() as changed:
        changed.setattr(program, "add_valid_inequalities", lambda *_: None)
        plain = lay_out(question).model
    laid = lay_out(question)
    tight = with_lot_sizing_inequalities(question, laid, 60.0)
    cost = np.random.default_rng(seed).uniform(-0.3, 1.0, plain.columns)
    upper = np.minimum(plain.column_upper, 12.0)
    answer = solve_model(replace(plain, cost=cost, column_upper=upper), gap=1e-3)
    if not answer.values.size:
        return
    values = np.where(plain.integer, np.round(answer.values), answer.values)
    for row in range(tight.rows):
        part = slice(int(tight.starts[row]), int(tight.starts[row + 1]))
        value = float(tight.values[part] @ values[tight.indices[part]])
        scale = 1e-5 * max(1.0, float(np.abs(tight.values[part]).max()))
        assert tight.row_lower[row] - scale <= value <= tight.row_upper[row] + scale


def test_the_rows_do_what_they_are_for() -> None:
    # 4.5 kg of a thing in packs as above, by one recipe or by one that takes a tenth less: broken packs would
    # do for 9.00 a kilogram
    goods = (Good("a", (0.0,)), Good("bottle", (9.0,)))
    packs = _packs((1.0, 10.0), (6.0, 54.0))
    makings = (Making(1, ((0, 0.5),)), Making(1, ((0, 0.45),), is_second_choice=True))
    question = StockQuestion(1, goods, packs=packs, makings=makings)
    model = lay_out(question).model
    broken = solve_model(replace(model, integer=np.zeros_like(model.integer)))
    # from 4.05 kg on it is five singles at the least: 50.00
    assert broken.objective == pytest.approx(50.0, rel=1e-4)
    assert plan_stock(question).cost == pytest.approx(50.0)


def test_what_does_not_keep_is_bought_twice_by_hand() -> None:
    # 2 kg a week, good for two weeks; packs of 0.5 kg at 12.00 and of 10 kg at 160.00. What came first cannot
    # serve the third week: it is two large ones, 320.00, or sixteen small ones, 192.00; half a large one
    # in the first week and half in the third would be 160.00.
    goods = (Good("a", (2.0,) * 4, keeps=2),)
    question = StockQuestion(4, goods, packs=_packs((0.5, 12.0), (10.0, 160.0)))
    laid = lay_out(question)
    model = with_lot_sizing_inequalities(question, laid, 60.0)
    broken = solve_model(replace(model, integer=np.zeros_like(model.integer)))
    assert broken.objective == pytest.approx(192.0, rel=1e-4)
    before = solve_model(replace(laid.model, integer=np.zeros_like(laid.model.integer)))
    assert before.objective < 180.0
    assert plan_stock(question).cost == pytest.approx(192.0)


def test_a_known_plan_is_where_the_search_begins() -> None:
    goods = (Good("a", (0.0, 0.0), keeps=1), Good("bottle", (3.0, 3.0)))
    packs = _packs((1.0, 10.0), (2.0, 18.0))
    fixed = StockQuestion(2, goods, packs=packs, makings=(Making(1, ((0, 0.5),), 4.0, 0.0, 0, 0.5, 2.0),))
    known = plan_stock(fixed)
    free = replace(fixed, makings=(*fixed.makings, replace(fixed.makings[0], is_second_choice=True)))
    again = plan_stock(free, start=known)
    assert again.net_cost <= known.net_cost + 1e-9
    # whatever the start, the same is found
    assert again.net_cost == pytest.approx(plan_stock(free).net_cost, abs=1e-6)


def _by_trying(question: StockQuestion, most_packs: int, most_batches: int) -> float:
    """Try every number of packs and batches, the cheapest first; what is made in them is a linear question.

    For one bottle (good 2) that keeps, made of goods 0 and 1 that keep, in one vessel.
    """
    from scipy.optimize import linprog

    weeks, makings = question.periods, question.makings
    slots = [(number, week) for number in range(len(makings)) for week in range(weeks)]
    tried = []
    for packs in itertools.product(range(most_packs + 1), repeat=len(question.packs)):
        for batches in itertools.product(range(most_batches + 1), repeat=len(slots)):
            held = [
                sum(
                    count * makings[number].takes
                    for (number, when), count in zip(slots, batches, strict=True)
                    if when == week
                )
                for week in range(weeks)
            ]
            if max(held) > 1.0 + 1e-9:
                continue
            cost = sum(count * pack.price for count, pack in zip(packs, question.packs, strict=True))
            work = sum(
                count * makings[number].labour for (number, _), count in zip(slots, batches, strict=True)
            )
            tried.append((cost + work, packs, batches))
    for cost, packs, batches in sorted(tried):
        there = [
            question.goods[good].stock_kg
            + sum(
                count * pack.size_kg
                for count, pack in zip(packs, question.packs, strict=True)
                if pack.thing.number == good
            )
            for good in range(2)
        ]
        # not more than there is of each thing; enough by the end of each week
        rows = [[dict(makings[number].uses).get(good, 0.0) for number, _ in slots] for good in range(2)]
        limits = list(there)
        for week in range(weeks):
            rows.append([-1.0 if when <= week else 0.0 for _, when in slots])
            limits.append(question.goods[2].stock_kg - sum(question.goods[2].demand_kg[: week + 1]))
        bounds = [
            (count * makings[number].least_kg, count * (makings[number].batch_kg or 0.0))
            for (number, _), count in zip(slots, batches, strict=True)
        ]
        if linprog(np.zeros(len(slots)), rows, limits, bounds=bounds).status == 0:
            return float(cost)
    return np.inf


@settings(max_examples=6)
@given(data=st.data())
def test_trying_every_number_of_packs_and_batches_agrees(data: st.DataObject) -> None:
    # one bottle by two recipes in one vessel, two weeks
    tenth = st.integers(0, 20).map(lambda tenths: tenths / 10.0)
    goods = (
        Good("a", (0.0, 0.0), data.draw(tenth) / 4.0),
        Good("b", (0.0, 0.0), data.draw(tenth) / 4.0),
        Good("bottle", (data.draw(tenth), data.draw(tenth))),
    )
    packs = tuple(Pack(Thing(False, good), 1.0, data.draw(HALVES)) for good in (0, 1))
    share = st.sampled_from([0.2, 0.35, 0.5, 0.7])
    makings = tuple(
        Making(2, ((0, data.draw(share)), (1, data.draw(share))), 1.5, 0.5, 0, 0.5, 1.5, second)
        for second in (False, True)
    )
    question = StockQuestion(2, goods, packs=packs, makings=makings)
    plan = plan_stock(question, gap=0.0)
    assert plan.short_kg.sum() == 0.0
    assert plan.cost == pytest.approx(_by_trying(question, most_packs=3, most_batches=2), abs=1e-6)
