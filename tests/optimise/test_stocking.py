"""Buying and making by week: against brute force, against sums by hand, and played through."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.stock.played import broken_rule, play
from formulate.optimise.stock.question import Good, Making, Split, StockPlan, StockQuestion


def _good(number: int) -> Thing:
    return Thing(False, number)


def _missing(question: StockQuestion, plan: StockPlan) -> float:
    return float(play(question, plan).missing_kg.sum())


def test_a_case_beats_single_bottles_only_when_enough_is_needed() -> None:
    # single 10.00, case of six 54.00: 6 x 10 = 60 > 54, 5 x 10 = 50 < 54
    packs = (Pack(_good(0), 1.0, 10.0, "a", "single"), Pack(_good(0), 6.0, 54.0, "b", "case"))
    for need, cost, counts in (
        (5.0, 50.0, [5, 0]),
        (6.0, 54.0, [0, 1]),
        (7.0, 64.0, [1, 1]),
        (11.5, 108.0, [0, 2]),
    ):
        plan = plan_stock(StockQuestion(1, (Good("x", (need,)),), packs=packs))
        assert plan.cost == pytest.approx(cost)
        assert plan.packs[:, 0].tolist() == counts


def test_what_keeps_a_week_is_bought_every_week() -> None:
    # 1.2 kg a week, packs of 1 kg at 3.00 and of 5 kg at 9.00. For four weeks 4.8 kg: one large, 9.00.
    # Good for one week: each week 2 small (6.00): 24.00; the large one is never cheaper.
    packs = (Pack(_good(0), 1.0, 3.0), Pack(_good(0), 5.0, 9.0))
    lasting = Good("x", (1.2,) * 4)
    assert plan_stock(StockQuestion(4, (lasting,), packs=packs)).cost == pytest.approx(9.0)
    fresh = replace(lasting, keeps=1)
    question = StockQuestion(4, (fresh,), packs=packs)
    plan = plan_stock(question)
    assert plan.cost == pytest.approx(24.0)
    assert _missing(question, plan) == pytest.approx(0.0, abs=1e-9)
    # good for two weeks: 2, 1, 1 and 1 small ones, a rest of 0.8, 0.6 and 0.4 kg carried over: 15.00
    two_weeks = plan_stock(StockQuestion(4, (replace(lasting, keeps=2),), packs=packs))
    assert two_weeks.cost == pytest.approx(15.0)


def test_stock_goes_first_and_a_par_stays() -> None:
    # 3 kg go, 2.5 are there, 1.5 shall be left: 2 kg are missing
    good = Good("x", (1.0, 2.0), stock_kg=2.5, end_kg=1.5)
    question = StockQuestion(2, (good,), packs=(Pack(_good(0), 1.0, 4.0),))
    plan = plan_stock(question)
    assert plan.packs[0].tolist() == [2.0, 0.0]
    assert play(question, plan).left_kg[0] == pytest.approx(1.5)


def test_batches_by_vessel_and_keeping_time() -> None:
    # 5 L a week for 4 weeks, a vessel of 8: 20 / 8 is 3 batches where it keeps
    bottle = Good("bottle", (5.0,) * 4)
    spirit = Good("spirit", (0.0,) * 4)
    making = Making(0, ((1, 0.5),), batch_kg=8.0, vessel=0, takes=0.5, labour=10.0)
    packs = (Pack(_good(1), 1.0, 1.0),)
    question = StockQuestion(4, (bottle, spirit), packs=packs, makings=(making,))
    plan = plan_stock(question)
    assert plan.batches.sum() == 3
    assert plan.cost == pytest.approx(3 * 10.0 + 10 * 1.0)  # 10 kg of spirit in packs of one
    # good for one week only: one batch every week
    fresh = replace(question, goods=(replace(bottle, keeps=1), spirit))
    assert plan_stock(fresh).batches[0].tolist() == [1, 1, 1, 1]
    # a batch takes the vessel for a week: 8 in the first, 5 a week to come, two weeks' worth at most ahead
    slow = replace(question, makings=(replace(making, takes=1.0),))
    assert _missing(slow, plan_stock(slow)) == pytest.approx(0.0, abs=1e-9)
    # no batch under 6: with one a week of a thing good for a week one kilogram a week is past its time
    least = replace(fresh, makings=(replace(making, least_kg=6.0),))
    plan = plan_stock(least)
    assert play(least, plan).spoiled_kg[0].sum() + play(least, plan).left_kg[0] == pytest.approx(4.0)


def test_too_small_a_vessel_is_told_and_not_hidden() -> None:
    bottle = Good("bottle", (9.0, 9.0))
    making = Making(0, (), batch_kg=8.0, vessel=0, takes=1.0)
    question = StockQuestion(2, (bottle,), makings=(making,))
    plan = plan_stock(question)
    assert plan.short_kg.sum() == pytest.approx(2.0)
    assert _missing(question, plan) == pytest.approx(2.0)


def test_what_infuses_for_weeks_is_begun_before() -> None:
    # 10 days: begun one week before it is ready, so nothing can be poured of it in the first week; the vessel
    # is held a week and three days, so in four weeks it gives the second and (begun in the third) the fourth
    making = Making(0, ((1, 1.0),), batch_kg=8.0, vessel=0, takes=10.0 / 7.0)
    goods = (Good("bottle", (2.0, 3.0, 3.0, 3.0), stock_kg=2.0), Good("root", (0.0,) * 4, keeps=1))
    question = StockQuestion(4, goods, packs=(Pack(_good(1), 1.0, 1.0),), makings=(making,))
    plan = plan_stock(question)
    assert plan.made_kg[0].tolist() == pytest.approx([0.0, plan.made_kg[0, 1], 0.0, plan.made_kg[0, 3]])
    assert plan.made_kg.sum() == pytest.approx(9.0)
    assert plan.made_kg[0, 1] >= 6.0 - 1e-9
    assert _missing(question, plan) == pytest.approx(0.0, abs=1e-9)
    # the root is fresh for a week only: it comes when the batch is begun
    assert (plan.packs[0] > 0).tolist() == [True, False, True, False]
    dry = replace(question, goods=(replace(goods[0], stock_kg=0.0), goods[1]))
    assert plan_stock(dry).short_kg[0].tolist() == pytest.approx([2.0, 0.0, 0.0, 0.0])


def test_of_two_recipes_the_one_is_taken_that_uses_up_a_pack() -> None:
    # 4 kg of a bottle from 2 kg of a in packs of 1.5 (5.00) and 2 kg of b in packs of 2 (8.00): 10 + 8 = 18.
    # A second recipe takes 0.4 of a and 0.6 of b. A kilogram by it saves 0.1 of a: to come down to one pack
    # of a, 1.5 kg, 5 kg of it were needed, more than is made. A third takes 0.25 and 0.5 (and 0.25 of water):
    # 2 kg by it leave 1.5 of a: one pack, 13.00.
    goods = (Good("bottle", (4.0,)), Good("a", (0.0,)), Good("b", (0.0,)))
    packs = (Pack(_good(1), 1.5, 5.0), Pack(_good(2), 2.0, 8.0))
    fixed = Making(0, ((1, 0.5), (2, 0.5)))
    question = StockQuestion(1, goods, packs=packs, makings=(fixed,))
    assert plan_stock(question).cost == pytest.approx(18.0)
    second = Making(0, ((1, 0.4), (2, 0.6)), is_second_choice=True)
    assert plan_stock(replace(question, makings=(fixed, second))).cost == pytest.approx(18.0)
    third = Making(0, ((1, 0.25), (2, 0.5)), is_second_choice=True)
    plan = plan_stock(replace(question, makings=(fixed, third)))
    assert plan.cost == pytest.approx(13.0)
    assert plan.made_kg[1, 0] >= 2.0 - 1e-6
    # where it saves nothing the first recipe stays
    cheap_a = replace(question, packs=(Pack(_good(1), 2.0, 5.0), packs[1]), makings=(fixed, third))
    assert plan_stock(cheap_a).made_kg[1, 0] == pytest.approx(0.0, abs=1e-9)


def test_two_bottles_share_one_vessel() -> None:
    goods = (Good("a", (4.0,)), Good("b", (4.0,)))
    makings = tuple(Making(number, (), batch_kg=5.0, vessel=0, takes=0.6) for number in range(2))
    question = StockQuestion(1, goods, makings=makings)
    assert plan_stock(question).short_kg.sum() == pytest.approx(4.0)
    apart = replace(question, makings=(makings[0], replace(makings[1], vessel=1)))
    assert plan_stock(apart).short_kg.sum() == 0.0


def test_a_fruit_is_bought_once_for_all_its_parts() -> None:
    # 1 kg of juice at 40 % needs 2.5 kg, 0.05 kg zest at 5 % needs 1 kg: 2.5 kg, nine pieces of 300 g
    goods = (Good("juice", (1.0,)), Good("zest", (0.05,)))
    split = Split("fruit", ((0, 0.4), (1, 0.05)))
    question = StockQuestion(1, goods, (split,), (Pack(Thing(True, 0), 0.3, 0.5),))
    plan = plan_stock(question)
    assert plan.packs[0, 0] == 9
    assert plan.cost == pytest.approx(4.5)


def test_a_least_order_is_kept_or_avoided() -> None:
    packs = (Pack(_good(0), 1.0, 10.0, "near"), Pack(_good(0), 1.0, 8.0, "far"))
    good = (Good("x", (2.0,)),)
    # far: 16 without a minimum; with one of 40 five bottles 40; near 20
    assert plan_stock(StockQuestion(1, good, packs=packs)).cost == pytest.approx(16.0)
    assert plan_stock(
        StockQuestion(1, good, packs=packs, least_order=(("far", 40.0),))
    ).cost == pytest.approx(20.0)
    only_far = StockQuestion(1, good, packs=packs[1:], least_order=(("far", 40.0),))
    assert plan_stock(only_far).cost == pytest.approx(40.0)


def test_what_a_rest_is_worth_decides_between_small_and_large() -> None:
    # 1 kg needed. Small 1 kg 5.00; large 5 kg 15.00. Rest worth nothing: small. Worth its price (3.00 a kg):
    # large 15 - 12 = 3. But only 0.5 kg would be used before it is past: 15 - 1.5 = 13.5, small again.
    packs = (Pack(_good(0), 1.0, 5.0), Pack(_good(0), 5.0, 15.0))
    good = Good("x", (1.0,))
    assert plan_stock(StockQuestion(1, (good,), packs=packs)).cost == pytest.approx(5.0)
    worth = StockQuestion(1, (good,), packs=packs, leftover_share=1.0)
    assert plan_stock(worth).cost == pytest.approx(15.0)
    ageing = replace(worth, goods=(replace(good, keeps=2, rest_most_kg=0.5),))
    assert plan_stock(ageing).cost == pytest.approx(5.0)


def test_nothing_to_do_is_a_plan() -> None:
    plan = plan_stock(StockQuestion(2, (Good("x", (0.0, 0.0)),)))
    assert (plan.cost, plan.proved) == (0.0, True)


def _brute_force(question: StockQuestion, most: int) -> float:
    """Try every number of every pack in every week, with as much made in each week as goes then."""
    slots = [
        (number, week) for number, pack in enumerate(question.packs) for week in question.deliveries(pack)
    ]
    best = np.inf
    made = np.array([question.goods[making.good].demand_kg for making in question.makings])
    made = made.reshape(len(question.makings), question.periods)
    for counts in itertools.product(range(most + 1), repeat=len(slots)):
        packs = np.zeros((len(question.packs), question.periods))
        for (number, week), count in zip(slots, counts, strict=True):
            packs[number, week] = count
        cost = float(np.array([pack.price for pack in question.packs]) @ packs.sum(axis=1))
        if cost >= best or _breaks_least_order(question, packs):
            continue
        short = np.zeros((len(question.goods), question.periods))
        plan = StockPlan(packs, made, made * 0.0, short, cost, cost, 0.0, True)
        if _missing(question, plan) < 1e-9:
            best = cost
    return best


def _breaks_least_order(question: StockQuestion, packs: np.ndarray) -> bool:
    for supplier, least in question.least_order:
        prices = np.array([pack.price * (pack.supplier == supplier) for pack in question.packs])
        ordered = prices @ packs
        if ((ordered > 0.0) & (ordered < least - 1e-9)).any():
            return True
    return False


@settings(max_examples=40)
@given(data=st.data())
def test_brute_force_agrees_on_small_menus(data: st.DataObject) -> None:
    # Two bought goods, one of them made into a third by the week; two packs each; two weeks.
    weeks = 2
    tenth = st.integers(0, 20).map(lambda tenths: tenths / 10.0)
    price = st.integers(2, 40).map(lambda halves: halves / 2.0)
    keeps = st.sampled_from([None, 1, 2])
    goods = tuple(
        Good(
            name,
            tuple(data.draw(tenth) for _ in range(weeks)),
            stock_kg=data.draw(tenth) / 2.0,
            keeps=data.draw(keeps),
        )
        for name in ("spirit", "juice")
    )
    mixed = Good("mixed", tuple(data.draw(tenth) for _ in range(weeks)), keeps=1)
    packs = tuple(
        Pack(_good(number), size, data.draw(price), data.draw(st.sampled_from(["a", "b"])))
        for number in range(2)
        for size in (1.0, 2.5)
    )
    least = data.draw(st.sampled_from([(), (("a", 6.0),)]))
    question = StockQuestion(
        weeks, (*goods, mixed), packs=packs, makings=(Making(2, ((0, 0.5), (1, 0.25))),), least_order=least
    )
    plan = plan_stock(question, gap=0.0)
    assert _missing(question, plan) == pytest.approx(0.0, abs=1e-6)
    assert broken_rule(question, plan) == ""
    slots = sum(len(question.deliveries(pack)) for pack in packs)
    if slots <= 6:
        assert plan.cost == pytest.approx(_brute_force(question, most=6), abs=1e-6)


@settings(max_examples=30)
@given(
    more=st.floats(0.0, 2.0),
    demand=st.lists(st.floats(0.0, 3.0), min_size=3, max_size=3),
    keeps=st.sampled_from([None, 1, 2]),
)
def test_more_sold_never_costs_less_and_more_stock_never_more(
    more: float, demand: list[float], keeps: int | None
) -> None:
    packs = (Pack(_good(0), 1.0, 3.0), Pack(_good(0), 4.0, 9.0))
    good = Good("x", tuple(demand), keeps=keeps)
    cost = plan_stock(StockQuestion(3, (good,), packs=packs), gap=0.0).cost
    bigger = replace(good, demand_kg=(demand[0], demand[1] + more, demand[2]))
    assert plan_stock(StockQuestion(3, (bigger,), packs=packs), gap=0.0).cost >= cost - 1e-6
    stocked = replace(good, stock_kg=more)
    assert plan_stock(StockQuestion(3, (stocked,), packs=packs), gap=0.0).cost <= cost + 1e-6


def test_what_a_batch_takes_whatever_it_gives() -> None:
    # 10 kg in batches of 4: three, each with two filters, in packs of five: 2 x 3.00. A bottle holds half a
    # kilogram: 20 bottles and one begun in each batch, 23 of them in packs of 12: 2 x 8.00. Labour 3 x 5.00.
    goods = (Good("liqueur", (10.0,)), Good("filter", (0.0,)), Good("bottle", (0.0,)))
    packs = (Pack(_good(1), 5.0, 3.0), Pack(_good(2), 12.0, 8.0))
    making = Making(0, ((2, 2.0),), 4.0, 0.0, 0, 0.3, 5.0, batch_uses=((1, 2.0), (2, 1.0)))
    question = StockQuestion(1, goods, packs=packs, makings=(making,))
    plan = plan_stock(question)
    assert plan.packs[:, 0].tolist() == [2.0, 2.0]
    assert plan.cost == pytest.approx(3 * 5.0 + 6.0 + 16.0)
    left = play(question, plan).left_kg
    assert left[1:].tolist() == pytest.approx([10.0 - 6.0, 24.0 - 23.0])


def test_a_small_pack_wins_where_strength_fades() -> None:
    # 1 kg a week for two weeks; a week on the shelf takes half the strength, so the second week needs 2 kg of
    # what came first: 3 kg in all. Large, 3 kg: 30.00. Small, 1 kg, 12.00, twice fresh: 24.00. Where nothing
    # fades one of 2 kg at 20.00 does it.
    packs = (Pack(_good(0), 1.0, 12.0), Pack(_good(0), 3.0, 30.0), Pack(_good(0), 2.0, 20.0))
    lasting = StockQuestion(2, (Good("root", (1.0, 1.0)),), packs=packs)
    assert plan_stock(lasting).cost == pytest.approx(20.0)
    fading = replace(lasting, goods=(Good("root", (1.0, 1.0), strength_left=(1.0, 0.5, 0.25)),))
    plan = plan_stock(fading)
    assert plan.cost == pytest.approx(24.0)
    assert plan.packs[0].tolist() == [1.0, 1.0]
    assert _missing(fading, plan) == pytest.approx(0.0, abs=1e-9)
    # bought all at once it takes three
    stale = replace(plan, packs=np.array([[0.0, 0.0], [0.0, 0.0], [1.0, 0.0]]))
    assert _missing(fading, stale) == pytest.approx(0.5)
    large = replace(fading, packs=packs[1:2])
    assert plan_stock(large).cost == pytest.approx(30.0)
    assert play(large, plan_stock(large)).left_kg[0] == pytest.approx(0.0, abs=1e-9)


def test_a_rest_is_worth_what_age_leaves_of_it() -> None:
    # 1 kg needed. Small, 1 kg: 5.00. Large, 5 kg: 15.00, 3.00 a kilogram; of its rest of 4 kg, 2 are worth
    # all and 2 half: 15 - 6 - 3 = 6.00, so small it is; with all of it worth its price the large one, 3.00.
    packs = (Pack(_good(0), 1.0, 5.0), Pack(_good(0), 5.0, 15.0))
    steps = ((2.0, 1.0), (2.0, 0.5))
    question = StockQuestion(1, (Good("x", (1.0,), rest_steps=steps),), packs=packs, leftover_share=1.0)
    plan = plan_stock(question)
    assert (plan.cost, plan.net_cost) == pytest.approx((5.0, 5.0), abs=0.01)
    whole = replace(question, goods=(Good("x", (1.0,), rest_steps=((4.0, 1.0),)),))
    assert plan_stock(whole).net_cost == pytest.approx(3.0, abs=0.02)
    # a third dearer and the large one wins in spite of age
    dear = replace(question, packs=(replace(packs[0], price=6.5), packs[1]))
    assert plan_stock(dear).net_cost == pytest.approx(6.0, abs=0.02)


def test_a_par_of_what_fades_counts_by_its_strength() -> None:
    # 1 kg goes in the second week, 1 kg as strong as new shall be there at the end; half is lost each week.
    # Bought at once: 2 kg for the second week and 4 kg for the end. Bought in the second week: 1 and 2 kg.
    packs = (Pack(_good(0), 1.0, 10.0),)
    goods = (Good("root", (0.0, 1.0), end_kg=1.0, strength_left=(1.0, 0.5, 0.25)),)
    question = StockQuestion(2, goods, packs=packs)
    plan = plan_stock(question)
    assert plan.packs[0].tolist() == [0.0, 3.0]
    assert _missing(question, plan) == pytest.approx(0.0, abs=1e-9)
    at_once = replace(plan, packs=np.array([[6.0, 0.0]]))
    assert _missing(question, at_once) == pytest.approx(0.0, abs=1e-9)
    assert _missing(question, replace(plan, packs=np.array([[5.0, 0.0]]))) == pytest.approx(0.25)


def test_a_plan_that_breaks_a_rule_is_seen_without_the_program() -> None:
    # One vessel of 4 kg; a batch takes 4 days, so two do not fit into one week.
    making = Making(1, ((0, 1.0),), batch_kg=4.0, least_kg=1.0, vessel=0, takes=4 / 7)
    question = StockQuestion(
        2,
        (Good("root", (0.0, 0.0)), Good("bottle", (3.0, 3.0))),
        packs=(Pack(_good(0), 1.0, 5.0, "far"),),
        makings=(making,),
        least_order=(("far", 30.0),),
    )
    plan = plan_stock(question)
    assert broken_rule(question, plan) == ""
    once, twice = np.array([[1.0, 0.0]]), np.array([[2.0, 0.0]])
    for changed, said in (
        ({"made_kg": np.array([[6.0, 0.0]]), "batches": twice}, "a vessel would hold two batches at once"),
        ({"made_kg": np.array([[6.0, 0.0]]), "batches": once}, "would be more than its vessel holds"),
        ({"made_kg": np.array([[0.5, 0.0]]), "batches": once}, "would be less than the least"),
        ({"packs": np.array([[5.0, 1.0]])}, "an order from far would be less than the least"),
    ):
        assert said in broken_rule(question, replace(plan, **changed)), said
    long = replace(question, makings=(replace(making, takes=1.5),))
    assert "ready before it can be" in broken_rule(long, plan)
    # Begun in the first week it holds half of the second too: a batch that needs a whole week does not fit.
    after = replace(making, takes=1.0)
    both = replace(question, makings=(replace(making, takes=1.5), after))
    batches = np.array([[0.0, 1.0], [0.0, 1.0]])
    held = replace(plan, made_kg=4.0 * batches, batches=batches)
    assert "two batches at once" in broken_rule(both, held)


@pytest.mark.parametrize("keeps", [None, 2])
def test_a_par_that_cannot_be_made_is_told_and_not_hidden(keeps: int | None) -> None:
    # One batch of 1 kg a week; 2 kg go in the second week and 1 kg shall be there after it: 1 kg is missing.
    making = Making(1, ((0, 1.0),), batch_kg=1.0, vessel=0, takes=1.0)
    bottle = Good("bottle", (0.0, 2.0), end_kg=1.0, keeps=keeps)
    packs = (Pack(_good(0), 1.0, 5.0),)
    plan = plan_stock(StockQuestion(2, (Good("root", (0.0, 0.0)), bottle), packs=packs, makings=(making,)))
    assert plan.made_kg.sum() == pytest.approx(2.0)
    assert plan.short_kg[1].sum() == pytest.approx(1.0)
