"""Whole packs and choices, held against plain counts of every possibility.

The counts in `packs_by_hand` solve the continuous problem once for every list of packs or every set of
ingredients; the search in whole numbers must find the same cost. All shelves are invented.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from formulate.errors import InfeasibleError
from formulate.optimise.answer import Answer, Status
from formulate.optimise.mip.integer_terms import Choices, IntegerTerms
from formulate.optimise.mip.packs import Pack, Thing, pack_limits
from formulate.optimise.mip.solve import answer_of, solve_integer, solve_with_choices
from formulate.optimise.problem import BlendProblem, Purchase
from formulate.optimise.solve import solve
from formulate.optimise.tolerances import GAP_INTEGER
from tests.optimise.infeasible import cost_limit
from tests.optimise.packs_by_hand import (
    BATCH_L,
    CLOSE,
    WATER,
    cheapest_choice,
    cheapest_list,
    every_count,
    holding,
    packs_for,
    priced,
    shelf,
    solved,
)


def chosen_as_by_hand(problem: BlendProblem, choices: Choices, by_hand: Answer | None) -> Answer | None:
    """Solve with choices and hold the cost against the count; None where no set makes a recipe."""
    if by_hand is None:
        with pytest.raises(InfeasibleError):
            solve_with_choices(problem, choices)
        return None
    answer = solve_with_choices(problem, choices)
    assert answer.cost_per_l == pytest.approx(by_hand.cost_per_l, rel=GAP_INTEGER + CLOSE)
    assert answer.proven_gap <= GAP_INTEGER * (1 + CLOSE)
    return answer


MOST_KG = 1.4 * BATCH_L
"""Heavier than any batch: a litre bottled weighs less than 1.3 kg here."""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "n", "kind", "lossy"),
    [
        (0, 4, "narrow", False),
        (0, 4, "narrow", True),
        (3, 5, "cordial", False),
    ],
)
def test_no_list_of_packs_is_cheaper(seed: int, n: int, kind: str, lossy: bool) -> None:
    problem = priced(shelf(seed, n, kind, lossy=lossy), {WATER: 0.0})
    packs = packs_for(problem, np.random.default_rng(seed))
    found = solve_integer(problem, IntegerTerms(BATCH_L, packs=packs))
    cost, held = cheapest_list(problem, packs, MOST_KG)
    assert found.status is Status.OPTIMAL
    assert found.proven_gap <= GAP_INTEGER * (1 + CLOSE)
    assert found.paid == pytest.approx(cost, rel=GAP_INTEGER + CLOSE), (found.packs, held)
    assert found.paid >= cost * (1 - CLOSE), "a list cheaper than the cheapest"
    bill = float(np.array([pack.price for pack in packs]) @ found.packs)
    assert found.paid == pytest.approx(bill, rel=1e-12)
    assert solved(holding(problem, packs, found.packs.astype(int).tolist())) is not None
    answer_of(problem, found)  # raises unless the recipe passes its re-computation


@pytest.mark.parametrize("seed", range(2))
def test_two_steps_are_no_harder_to_get_right(seed: int) -> None:
    problem = priced(shelf(seed, 4, "narrow", lossy=True, steps=2), {WATER: 0.0})
    packs = packs_for(problem, np.random.default_rng(seed))
    found = solve_integer(problem, IntegerTerms(BATCH_L, packs=packs))
    cost, _ = cheapest_list(problem, packs, MOST_KG)
    assert found.status is Status.OPTIMAL
    assert found.paid == pytest.approx(cost, rel=GAP_INTEGER + CLOSE)


@pytest.mark.parametrize("seed", range(2))
def test_at_most_so_many(seed: int) -> None:
    problem = shelf(seed, 6, "wide")
    free = int((solve(problem).masses_kg.sum(axis=0) > 1e-5).sum())
    for most in range(2, free + 1):
        by_hand = cheapest_choice(problem, most=most)
        answer = chosen_as_by_hand(problem, Choices(most_ingredients=most), by_hand)
        assert (answer is None) is (most == 2)
        if answer is not None:
            assert (answer.masses_kg.sum(axis=0) > 1e-6).sum() <= most


@pytest.mark.parametrize(
    ("seed", "lossy", "things", "is_possible"),
    [
        (0, False, (2, 5), True),  # either sugar and either spirit
        (1, True, (0,), True),  # either spirit
        (0, False, (3,), False),  # no other acid
    ],
)
def test_enough_of_a_thing_or_none(
    seed: int, lossy: bool, things: tuple[int, ...], is_possible: bool
) -> None:
    """More than is worth using of a thing that is used, so that leaving it out may be the better way."""
    problem = shelf(seed, 6, "narrow", lossy=lossy)
    best = solve(problem)
    used = best.masses_kg.sum(axis=0) / BATCH_L
    least = {number: 1.3 * float(used[number]) + 0.01 for number in things}
    assert all(used[number] > 0.0 for number in things)
    by_hand = cheapest_choice(problem, least=least)
    answer = chosen_as_by_hand(problem, Choices(least_if_used=tuple(least.items())), by_hand)
    assert (answer is not None) is is_possible
    if answer is None:
        return
    assert answer.cost_per_l > best.cost_per_l * (1.0 + 10 * GAP_INTEGER), "the choice did not bind"
    amounts = answer.masses_kg.sum(axis=0) / answer.volume_l
    assert all(amounts[number] < 1e-9 or amounts[number] >= kg * (1 - 1e-7) for number, kg in least.items())


@pytest.mark.parametrize(
    ("seed", "groups", "is_possible"),
    [
        (0, ((2, 4, 5),), True),
        (2, ((0, 4), (2, 5)), True),
        (1, ((0, 4), (2, 5)), False),  # the fruit must be used, and then no sugar may be
    ],
)
def test_exactly_one_of_a_group(seed: int, groups: tuple[tuple[int, ...], ...], is_possible: bool) -> None:
    problem = shelf(seed, 6, "wide")
    by_hand = cheapest_choice(problem, one_of=groups)
    answer = chosen_as_by_hand(problem, Choices(one_of=groups), by_hand)
    assert (answer is not None) is is_possible
    if answer is None:
        return
    amounts = answer.masses_kg.sum(axis=0) / answer.volume_l
    for group in groups:
        assert sum(amounts[number] >= 1e-5 * (1 - 1e-6) for number in group) == 1
        assert sum(amounts[number] > 1e-7 for number in group) == 1


def test_one_of_a_group_is_used_even_where_none_pays() -> None:
    """Both members are dear water: without the choice nobody would use either."""
    problem = shelf(0, 4)
    content = np.vstack([problem.chain.materials.content, problem.chain.materials.content[[WATER, WATER]]])
    dear = _with(problem, content, [5.0, 6.0])
    answer = solve_with_choices(dear, Choices(one_of=((4, 5),)))
    amounts = answer.masses_kg.sum(axis=0) / answer.volume_l
    assert amounts[4] == pytest.approx(1e-5, rel=1e-6)
    assert amounts[5] == 0.0


def _with(problem: BlendProblem, content: np.ndarray, prices: list[float]) -> BlendProblem:
    """Add ingredients to a shelf of one step."""
    materials = problem.chain.materials
    n, more = len(problem.price_per_kg), len(prices)
    added = replace(
        materials,
        ids=(*materials.ids, *(f"more-{number}" for number in range(more))),
        content=content,
        solids=np.concatenate([materials.solids, np.zeros(more)]),
        retention=np.concatenate([materials.retention, np.zeros(more)]),
    )
    return replace(
        problem,
        chain=type(problem.chain)(added, problem.chain.steps),
        price_per_kg=np.concatenate([problem.price_per_kg, prices]),
        place_ingredient=np.arange(n + more, dtype=np.int32),
        place_step=np.zeros(n + more, dtype=np.int32),
    )


# ---------------------------------------------------------------- stock, rests, minimum orders, pieces


@pytest.fixture
def four() -> tuple[BlendProblem, tuple[Pack, ...]]:
    """Spirit, water, sugar, acid, and packs of invented sizes."""
    problem = priced(shelf(0, 4), {WATER: 0.0})
    spirit, sugar, acid = (Thing(False, number) for number in (0, 2, 3))
    packs = (
        Pack(spirit, 0.65, 9.6, "cellar", "70 cl"),
        Pack(spirit, 1.86, 24.0, "harbour", "2 L"),
        Pack(sugar, 1.0, 1.4, "harbour", "1 kg"),
        Pack(acid, 0.1, 1.2, "counter", "100 g"),
    )
    return problem, packs


def _cheapest_of_all(
    problem: BlendProblem,
    packs: tuple[Pack, ...],
    most: list[int],
    keeps: object = None,
    stock: tuple[float, ...] = (),
) -> float:
    """The least money over every list that makes a recipe and keeps a rule."""
    best = np.inf
    for counts in every_count(most):
        cost = sum(pack.price * count for pack, count in zip(packs, counts, strict=True))
        if cost >= best or (callable(keeps) and not keeps(counts)):
            continue
        if solved(holding(problem, packs, counts, stock)) is not None:
            best = cost
    return best


def test_stock_is_used_first(four: tuple[BlendProblem, tuple[Pack, ...]]) -> None:
    problem, packs = four
    stock = (1.2, 0.0, 0.45, 0.0)
    terms = IntegerTerms(BATCH_L, packs=packs, stock_kg=np.array(stock))
    found = solve_integer(problem, terms)
    assert found.paid == pytest.approx(
        _cheapest_of_all(problem, packs, [5, 2, 2, 1], stock=stock), rel=GAP_INTEGER
    )
    assert found.paid < solve_integer(problem, IntegerTerms(BATCH_L, packs=packs)).paid
    used = answer_of(problem, found).masses_kg.sum(axis=0)
    held = stock[0] + packs[0].size_kg * found.packs[0] + packs[1].size_kg * found.packs[1]
    assert used[0] <= held * (1 + 1e-9)


def test_enough_stock_costs_nothing(four: tuple[BlendProblem, tuple[Pack, ...]]) -> None:
    problem, packs = four
    found = solve_integer(problem, IntegerTerms(BATCH_L, packs=packs, stock_kg=np.full(4, 6.0)))
    assert found.paid == 0.0
    assert not found.packs.any()


def test_what_is_left_over_may_be_worth_something(four: tuple[BlendProblem, tuple[Pack, ...]]) -> None:
    """With rests at their full worth the larger, cheaper rate wins, as if spirit were sold by weight."""
    problem, packs = four
    share = 1.0
    found = solve_integer(problem, IntegerTerms(BATCH_L, packs=packs, leftover_share=share))
    rate = {0: 24.0 / 1.86, 2: 1.4, 3: 12.0}
    best = np.inf
    for counts in every_count([5, 2, 2, 1]):
        answer = solved(priced(holding(problem, packs, counts), rate))
        if answer is not None:
            over = sum(
                (pack.price - rate[pack.thing.number] * pack.size_kg) * count
                for pack, count in zip(packs, counts, strict=True)
            )
            best = min(best, answer.cost + over)
    assert found.point.cost * BATCH_L == pytest.approx(best, rel=GAP_INTEGER + CLOSE)
    assert found.packs[0] == 0, "the small bottle is the dearer rate"
    assert found.paid > found.point.cost * BATCH_L


def test_minimum_order(four: tuple[BlendProblem, tuple[Pack, ...]]) -> None:
    problem, packs = four

    def keeps(counts: tuple[int, ...]) -> bool:
        ordered = sum(
            pack.price * n for pack, n in zip(packs, counts, strict=True) if pack.supplier == "harbour"
        )
        return ordered == 0.0 or ordered >= 40.0

    found = solve_integer(problem, IntegerTerms(BATCH_L, packs=packs, least_order=(("harbour", 40.0),)))
    by_hand = _cheapest_of_all(problem, packs, [6, 4, 30, 1], keeps)
    assert found.paid == pytest.approx(by_hand, rel=GAP_INTEGER + CLOSE)
    assert keeps(tuple(int(n) for n in found.packs))
    assert found.paid > _cheapest_of_all(problem, packs, [6, 4, 3, 1]) * (1 + 1e-3), "the order did not bind"


def test_loose_and_packed_offers_of_one_thing(four: tuple[BlendProblem, tuple[Pack, ...]]) -> None:
    """A dear loose offer ends what packs begin; the bill is the packs and the loose grams."""
    problem, packs = four
    loose = Pack(Thing(False, 0), 1.0, 18.0, "counter", "by weight", loose=True)
    all_packs = (*packs, loose)
    found = solve_integer(problem, IntegerTerms(BATCH_L, packs=all_packs))
    best = np.inf
    for counts in every_count([5, 2, 2, 1]):
        # Loose spirit is one more ingredient of the same kind.
        content = np.vstack([problem.chain.materials.content, problem.chain.materials.content[[0]]])
        more = _with(priced(problem, {0: 0.0, 2: 0.0, 3: 0.0}), content, [18.0])
        answer = solved(holding(more, packs, counts))
        if answer is not None:
            best = min(best, answer.cost + sum(p.price * n for p, n in zip(packs, counts, strict=True)))
    assert found.paid == pytest.approx(best, rel=GAP_INTEGER + 2e-5)
    assert 0.0 < found.packs[4] != round(found.packs[4])


def test_pieces_of_a_whole_thing(four: tuple[BlendProblem, tuple[Pack, ...]]) -> None:
    """Acid comes out of a whole thing in pieces of 190 g at 9 % by mass, so 17.1 g each."""
    problem, packs = four
    kg, price = 0.19, 0.45
    problem = replace(priced(problem, {3: 0.0}), purchases=(Purchase("whole", price / kg, ((3, 0.09),)),))
    piece = Pack(Thing(True, 0), kg, price, "market", "piece")
    all_packs = (*packs[:3], piece)
    found = solve_integer(problem, IntegerTerms(BATCH_L, packs=all_packs))
    by_hand = np.inf
    for counts in every_count([5, 2, 2, 4]):
        cost = sum(pack.price * n for pack, n in zip(all_packs, counts, strict=True))
        plain = replace(problem, purchases=())
        held = holding(plain, packs, [*counts[:3], 0])
        limits = [*held.limits[:-1], replace(held.limits[-1], upper=counts[3] * kg * 0.09 / BATCH_L)]
        if cost < by_hand and solved(held.asking(limits)) is not None:
            by_hand = cost
    assert found.paid == pytest.approx(by_hand, rel=GAP_INTEGER + CLOSE)
    fewer = solve_integer(problem, IntegerTerms(BATCH_L, packs=all_packs, stock_bought_kg=np.array([kg])))
    assert fewer.packs[3] == found.packs[3] - 1, "one is there already"
    answer_of(problem, fewer)


@pytest.mark.parametrize("is_open", [False, True], ids=["limit on cost", "open size"])
def test_packs_beside_a_limit_on_cost_or_an_open_size_are_refused(
    four: tuple[BlendProblem, tuple[Pack, ...]], is_open: bool
) -> None:
    """However generous the limit: it would count what is used, not what is paid."""
    problem, packs = four
    dear = problem.asking([*problem.limits, cost_limit(1e3)])
    asked = replace(problem, volume_l=None) if is_open else dear
    with pytest.raises(ValueError, match="known size and no limit on cost"):
        solve_integer(asked, IntegerTerms(BATCH_L, packs=packs))


@pytest.mark.parametrize("seed", range(5))
def test_leaving_packs_out_beforehand_loses_nothing(seed: int) -> None:
    """What `pack_limits` leaves covers every need as cheaply as everything did, counted out in full."""
    rng = np.random.default_rng(seed)
    thing = Thing(False, 0)
    packs = tuple(
        Pack(thing, float(rng.choice([1, 2, 3, 5, 8])), float(rng.integers(1, 12)), name=str(number))
        for number in range(3)
    )
    need = float(rng.integers(1, 14))
    limits = pack_limits(packs, {thing: need}).astype(int).tolist()
    for wanted in np.arange(0.5, need + 0.1, 0.5):

        def cheapest(most: list[int], wanted: float = wanted) -> float:
            return min(
                sum(pack.price * count for pack, count in zip(packs, counts, strict=True))
                for counts in every_count(most)
                if sum(pack.size_kg * count for pack, count in zip(packs, counts, strict=True)) >= wanted
            )

        assert cheapest(limits) == cheapest([15, 15, 15])
