"""Prices of limits, entry prices and ties: what is said is what solving again gives."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from conftest import ROOT, RunCommand

from formulate.blend.chain import Chain
from formulate.describe.solved import tie_notes
from formulate.jobs.limit_prices import prices_of
from formulate.optimise.answer import Answer
from formulate.optimise.pricing import entry_prices, limit_prices, priced
from formulate.optimise.problem import BlendProblem, Limit, Over
from formulate.optimise.solve import solve
from formulate.optimise.ties import ties_of
from formulate.optimise.tolerances import SAME_COST, USED_KG_PER_L
from formulate.report.limit_prices_text import prices_lines
from tests.optimise.shelves import random_shelf, shelf_rng
from tests.worked_examples import solved_example

EXAMPLES = ROOT / "examples" / "bottles"
NUDGE = 2e-4


def _cost_with(problem: BlendProblem, number: int, is_lower: bool, shift: float) -> float:
    """Cost of the proved optimum with one bound moved, from scratch."""
    limits = list(problem.limits)
    limit = limits[number]
    lower, upper = limit.lower, limit.upper
    if is_lower or lower == upper:
        lower += shift
    if not is_lower or limit.lower == limit.upper:
        upper += shift
    limits[number] = replace(limit, lower=lower, upper=upper)
    return solve(problem.asking(limits)).cost_per_l


@pytest.mark.parametrize("lossy", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_shadow_price_is_the_slope_of_the_true_optimum(seed: int, lossy: bool) -> None:
    problem = random_shelf(shelf_rng(seed), 14, "narrow", lossy=lossy)
    answer = solve(problem)
    compared = 0
    for number, value in enumerate(answer.limits):
        if not value.binding:
            continue
        limit = value.limit
        is_lower = value.value / limit.display - limit.lower < limit.upper - value.value / limit.display
        step = NUDGE * limit.scale
        above = _cost_with(problem, number, is_lower, step)
        below = _cost_with(problem, number, is_lower, -step)
        left, right = (answer.cost_per_l - below) / step, (above - answer.cost_per_l) / step
        if abs(left - right) > 1e-3 * max(abs(left), abs(right)):
            continue  # two prices: a corner, see the next test
        slope = (above - below) / (2.0 * step)
        assert value.shadow_price * limit.display == pytest.approx(slope, rel=1e-3), limit.origin.name
        compared += 1
    assert compared >= 2


def test_two_prices_at_a_corner_are_said() -> None:
    """A dear sugar must start exactly where the cheap one is used up: less saves little, more costs much."""
    problem, cheap_kg_l = _two_sugars()
    answer = solve(problem)
    (price,) = [
        price for price in limit_prices(answer) if problem.limits[price.number].origin.name == "sugar"
    ]
    assert not price.unique
    assert price.below is not None
    assert price.above is not None
    # One gram more is a gram of the dear sugar instead of water; one less a gram of the cheap one.
    dear, cheap = float(problem.price_per_kg[3]), float(problem.price_per_kg[2])
    assert price.above - price.below == pytest.approx((dear - cheap) / 1000.0, rel=2e-2)
    assert answer.masses_kg.sum(axis=0)[2] / answer.volume_l == pytest.approx(cheap_kg_l, rel=1e-6)


def _two_sugars() -> tuple[BlendProblem, float]:
    from tests.optimise.shelves import mass_limit, strength_limit, sugar_limit

    problem = random_shelf(shelf_rng(3), 4, "no sugar")
    content = problem.chain.materials.content.copy()
    content[3] = content[2]  # the acid becomes a second sugar
    materials = replace(problem.chain.materials, content=content, solids=problem.chain.materials.solids * 0.0)
    prices = problem.price_per_kg.copy()
    prices[2], prices[3] = 1.0, 9.0
    cheap = 0.18
    limits = [
        strength_limit(20.0, 21.0),
        sugar_limit(180.0, 200.0),
        mass_limit("cheap sugar at most", [2], [1.0], -np.inf, cheap),
    ]
    chain = Chain(materials, problem.chain.steps)
    return replace(problem, chain=chain, price_per_kg=prices, limits=tuple(limits)), cheap


@pytest.mark.parametrize("name", ["damson-aperitif", "lemon-leaf-40", "quince-cordial"])
def test_a_price_holds_as_far_as_is_said(name: str) -> None:
    answer = solved_example(name).answer
    held = 0
    for price in limit_prices(answer):
        limit = answer.problem.limits[price.number]
        slope = (price.below or 0.0) * limit.display
        for end in (price.low, price.high):
            if end is None or not price.unique or abs(end - price.bound) < 1e-3 * abs(price.bound):
                continue
            shift = 0.9 * (end - price.bound) / limit.display
            cost = _local_cost(answer, price.number, price.is_lower, shift)
            # The cost keeps within 2 % of the price: the definition of its range.
            assert cost - answer.cost_per_l == pytest.approx(slope * shift, rel=0.025, abs=1e-6)
            held += 1
    assert held >= 3


def _local_cost(answer: Answer, number: int, is_lower: bool, shift: float) -> float:
    from formulate.optimise.solve import start_of
    from formulate.optimise.sweep import LimitMover

    limit = answer.problem.limits[number]
    lower, upper = limit.lower, limit.upper
    if lower == upper:
        lower, upper = lower + shift, upper + shift
    elif is_lower:
        lower, upper = lower + shift, max(upper, lower + shift)
    else:
        lower, upper = min(lower, upper + shift), upper + shift
    mover = LimitMover(answer.problem, number)
    point = mover.at(lower, upper, start_of(answer, mover.program))
    assert point is not None
    return point.cost_per_l


@pytest.mark.parametrize("lossy", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_just_below_its_entry_price_it_comes_in_and_just_above_it_does_not(seed: int, lossy: bool) -> None:
    problem = random_shelf(shelf_rng(seed), 12, "narrow", lossy=lossy)
    answer = solve(problem)
    for entry in entry_prices(answer):
        if entry.entry_per_kg is None:
            free = solve(priced(problem, entry.ingredient, 0.0))
            assert _used(free, entry.ingredient) <= USED_KG_PER_L
            continue
        assert entry.entry_per_kg <= entry.price_per_kg
        below = solve(priced(problem, entry.ingredient, 0.995 * entry.entry_per_kg))
        above = solve(priced(problem, entry.ingredient, min(1.005 * entry.entry_per_kg, entry.price_per_kg)))
        assert _used(below, entry.ingredient) > USED_KG_PER_L, entry
        assert _used(above, entry.ingredient) <= USED_KG_PER_L, entry


def _used(answer: Answer, ingredient: int) -> float:
    return float(answer.masses_kg[:, ingredient].sum() / answer.volume_l)


def test_entry_prices_are_found_at_all() -> None:
    found = [
        entry.entry_per_kg
        for seed in range(6)
        for entry in entry_prices(solve(random_shelf(shelf_rng(seed), 12, "narrow")))
    ]
    assert sum(price is not None for price in found) >= 6


def test_command_says_what_limits_cost_and_when_others_come_in(run_here: RunCommand) -> None:
    bottle = EXAMPLES / "quince-cordial.yaml"
    told = run_here("solve", "--all", bottle, "--prices")
    assert (told.exit_code, told.stderr) == (0, "")
    assert "What the limits cost, by solving again" in told.stdout
    assert "honey comes in below" in told.stdout
    assert max(map(len, told.stdout.splitlines())) <= 80
    document = json.loads(run_here("solve", bottle, "--prices", "--json").stdout)
    (honey,) = [entry for entry in document["prices"]["entries"] if entry["ingredient"] == "honey"]
    assert 0.0 < honey["entry_per_kg"] < honey["price_per_kg"]
    assert document["status"] == "optimal"


def test_the_text_speaks_of_every_priced_limit() -> None:
    prices = prices_of(solved_example("amber-digestif"))
    text = " ".join(prices_lines(prices))
    assert prices.limits
    assert all(price.limit in text for price in prices.limits)
    assert all(entry.ingredient in text for entry in prices.entries)


# --- ties --------------------------------------------------------------------------------------------------


def _with_twin(problem: BlendProblem, ingredient: int) -> BlendProblem:
    """Add the same thing once more, at the end, under another name."""
    materials, steps = problem.chain.materials, len(problem.chain.steps)
    new = len(materials.ids)
    kinetics = materials.kinetics
    doubled = replace(
        materials,
        ids=(*materials.ids, "twin"),
        content=np.vstack([materials.content, materials.content[ingredient]]),
        solids=np.append(materials.solids, materials.solids[ingredient]),
        retention=np.append(materials.retention, materials.retention[ingredient]),
        kinetics=(*kinetics, kinetics[ingredient]) if kinetics else kinetics,
    )
    return replace(
        problem,
        chain=Chain(doubled, problem.chain.steps),
        price_per_kg=np.append(problem.price_per_kg, problem.price_per_kg[ingredient]),
        place_ingredient=np.append(problem.place_ingredient, np.full(steps, new)).astype(np.int32),
        place_step=np.append(problem.place_step, np.arange(steps)).astype(np.int32),
        limits=tuple(_also_of(limit, ingredient, new) for limit in problem.limits),
    )


def _also_of(limit: Limit, ingredient: int, new: int) -> Limit:
    if limit.over is not Over.MASSES or ingredient not in limit.indices:
        return limit
    position = limit.indices.tolist().index(ingredient)
    return replace(
        limit,
        indices=np.append(limit.indices, new).astype(np.int32),
        weights=np.append(limit.weights, limit.weights[position]),
    )


@pytest.mark.parametrize(("lossy", "steps"), [(False, 1), (True, 1), (True, 2)])
@pytest.mark.parametrize("seed", range(3))
def test_a_twin_is_a_tie_and_the_first_is_used(seed: int, lossy: bool, steps: int) -> None:
    problem = random_shelf(shelf_rng(seed), 12, "narrow", lossy=lossy, steps=steps)
    alone = solve(problem, seconds=2.0)
    used = np.flatnonzero(alone.masses_kg.sum(axis=0) > 1e-3)
    ingredient = int([index for index in used if index != 1][seed])
    answer = solve(_with_twin(problem, ingredient), seconds=2.0)
    twin = len(problem.price_per_kg)
    assert answer.cost_per_l == pytest.approx(alone.cost_per_l, rel=1e-6)
    assert _used(answer, ingredient) > 1e-4 > _used(answer, twin)
    assert [(tie.used, tie.other) for tie in ties_of(answer)] == [(ingredient, twin)]
    name = problem.chain.materials.ids[ingredient]
    (note,) = tie_notes(answer)
    assert note.text == f"twin could stand in for {name} at the same cost; the one listed first was used."
    # It is true: without the first one the cost is the same.
    kept = answer.problem.place_ingredient != ingredient
    other = replace(
        answer.problem,
        place_ingredient=answer.problem.place_ingredient[kept],
        place_step=answer.problem.place_step[kept],
    )
    assert solve(other, seconds=2.0).cost_per_l == pytest.approx(answer.cost_per_l, rel=SAME_COST)


@pytest.mark.parametrize("seed", range(4))
def test_renaming_changes_neither_the_recipe_nor_the_tie(seed: int) -> None:
    problem = _with_twin(random_shelf(shelf_rng(seed), 10, "narrow"), 0)
    materials = problem.chain.materials
    names = tuple(f"z{len(materials.ids) - number:03d}" for number in range(len(materials.ids)))
    renamed = replace(problem, chain=Chain(replace(materials, ids=names), problem.chain.steps))
    one, other = solve(problem), solve(renamed)
    assert one.masses_kg.tobytes() == other.masses_kg.tobytes()
    assert ties_of(one) == ties_of(other)


@pytest.mark.parametrize("seed", range(6))
def test_no_tie_is_claimed_where_a_twin_is_a_little_dearer(seed: int) -> None:
    problem = _with_twin(random_shelf(shelf_rng(seed), 10, "narrow"), 0)
    dearer = priced(problem, len(problem.price_per_kg) - 1, 1.001 * float(problem.price_per_kg[0]))
    assert ties_of(solve(dearer)) == ()
