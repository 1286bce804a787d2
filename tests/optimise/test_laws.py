"""Laws that hold whatever the shelf: size, freedom, names, order, mass, prices of limits, the bound."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from formulate.blend.chain import Chain, Step
from formulate.blend.materials import LIQUOR
from formulate.blend.profile import profile
from formulate.errors import InfeasibleError
from formulate.optimise.answer import Answer
from formulate.optimise.problem import BlendProblem, Limit, Over
from formulate.optimise.solve import solve
from formulate.physics.mixture import INDEX

from .shelves import KINDS, random_shelf, shelf_rng

GAP = 1e-6  # what a proof for one step must close
KINDS_WITH_CORNERS = tuple(kind for kind in KINDS if kind != "low strength")

modest = settings(max_examples=12, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
seeds = st.integers(0, 10_000)


def shelf(seed: int, kind: str, lossy: bool, *, most: int = 25, steps: int = 1) -> BlendProblem:
    rng = shelf_rng(seed)
    return random_shelf(rng, int(rng.integers(8, most)), kind, lossy=lossy, steps=steps)


def solved(problem: BlendProblem) -> Answer:
    """The answer; an example without a recipe says nothing about these laws and is put aside."""
    try:
        return solve(problem)
    except InfeasibleError:
        assume(False)
        raise


def with_limits(problem: BlendProblem, limits: list[Limit]) -> BlendProblem:
    return replace(problem, limits=tuple(limits))


def never_costs_more(freer: BlendProblem, than: Answer) -> None:
    """The old recipe still meets every limit of `freer`, so no proof may exclude its cost."""
    answer = solve(freer)
    assert answer.proven_gap < GAP
    # 1e-7 is the slack that verification states.
    assert answer.cost_per_l <= than.cost_per_l * (1.0 + GAP + 1e-7)


@modest
@given(seeds, st.sampled_from(KINDS_WITH_CORNERS), st.booleans())
def test_twice_the_batch_is_twice_the_masses_and_the_same_cost_per_litre(
    seed: int, kind: str, lossy: bool
) -> None:
    problem = shelf(seed, kind, lossy)
    steps = tuple(replace(step, fixed_loss_kg=2.0 * step.fixed_loss_kg) for step in problem.chain.steps)
    double = replace(problem, volume_l=10.0, chain=Chain(problem.chain.materials, steps))
    once, twice = solved(problem), solve(double)
    assert twice.volume_l == pytest.approx(10.0, rel=1e-7)
    assert twice.cost_per_l == pytest.approx(once.cost_per_l, rel=1e-8)
    # Masses of a corner follow from its limits to the square of the last step, 1e-5.
    np.testing.assert_allclose(twice.masses_kg, 2.0 * once.masses_kg, rtol=1e-7, atol=1e-8)


@modest
@given(seeds, st.sampled_from(KINDS_WITH_CORNERS), st.booleans(), st.data())
def test_widening_a_band_never_costs_more(seed: int, kind: str, lossy: bool, data: Any) -> None:
    problem = shelf(seed, kind, lossy)
    answer = solved(problem)
    position = data.draw(st.integers(0, len(problem.limits) - 1))
    limits = list(problem.limits)
    by = 0.1 * limits[position].scale
    limits[position] = replace(
        limits[position], lower=limits[position].lower - by, upper=limits[position].upper + by
    )
    never_costs_more(with_limits(problem, limits), answer)


@modest
@given(seeds, st.sampled_from(KINDS_WITH_CORNERS), st.booleans())
def test_an_extra_ingredient_never_costs_more(seed: int, kind: str, lossy: bool) -> None:
    """The larger shelf first, then the same without one ingredient that no limit names."""
    larger = shelf(seed, kind, lossy)
    named = {int(i) for limit in larger.limits if limit.over is Over.MASSES for i in limit.indices}
    loose = [i for i in range(4, len(larger.price_per_kg)) if i not in named]
    assume(loose)
    dropped = loose[seed % len(loose)]
    keep = larger.place_ingredient != dropped
    smaller = replace(
        larger, place_ingredient=larger.place_ingredient[keep], place_step=larger.place_step[keep]
    )
    never_costs_more(larger, solved(smaller))


@modest
@given(seeds, st.sampled_from(KINDS), st.booleans())
def test_renaming_changes_no_mass_by_a_bit(seed: int, kind: str, lossy: bool) -> None:
    problem = shelf(seed, kind, lossy, most=15)
    materials = problem.chain.materials
    backwards = tuple(f"z{len(materials.ids) - i:04d} ü" for i in range(len(materials.ids)))
    renamed = replace(problem, chain=Chain(replace(materials, ids=backwards), problem.chain.steps))
    assert solved(problem).masses_kg.tobytes() == solve(renamed).masses_kg.tobytes()


@modest
@given(seeds, st.sampled_from(KINDS_WITH_CORNERS), st.booleans())
def test_the_order_of_the_shelf_changes_no_cost(seed: int, kind: str, lossy: bool) -> None:
    problem = shelf(seed, kind, lossy)
    materials = problem.chain.materials
    order = shelf_rng(seed + 1).permutation(len(materials.ids))
    place = np.argsort(order).astype(np.int32)
    shuffled = replace(
        problem,
        chain=Chain(
            replace(
                materials,
                ids=tuple(materials.ids[i] for i in order),
                content=materials.content[order],
                solids=materials.solids[order],
                retention=materials.retention[order],
            ),
            problem.chain.steps,
        ),
        price_per_kg=problem.price_per_kg[order],
        limits=tuple(
            limit if limit.over is Over.BOTTLE else replace(limit, indices=place[limit.indices])
            for limit in problem.limits
        ),
    )
    first, second = solved(problem), solve(shuffled)
    # Both are within the gap of the same optimum, and within the slack of verification.
    assert second.cost_per_l == pytest.approx(first.cost_per_l, rel=GAP + 1e-7)


@modest
@given(seeds, st.sampled_from(KINDS_WITH_CORNERS), st.booleans(), st.booleans())
def test_of_two_equal_ingredients_the_first_in_the_file_is_used(
    seed: int, kind: str, lossy: bool, before: bool
) -> None:
    problem = shelf(seed, kind, lossy)
    materials = problem.chain.materials
    masses = solved(problem).masses_kg[0]
    # What a ratio or share of the shelf names is no equal of a twin it does not name.
    named = {int(i) for limit in problem.limits if limit.over is Over.MASSES for i in limit.indices}
    used = [int(i) for i in np.flatnonzero(masses > 0.01) if int(i) not in named]
    assume(used)
    model = used[seed % len(used)]
    n = len(materials.ids)
    twin = replace(
        materials,
        ids=(*materials.ids, "twin"),
        content=np.vstack([materials.content, materials.content[model]]),
        solids=np.append(materials.solids, materials.solids[model]),
        retention=np.append(materials.retention, materials.retention[model]),
    )
    order = np.append(n, np.arange(n)) if before else np.arange(n + 1)
    doubled = replace(
        problem,
        chain=Chain(twin, problem.chain.steps),
        price_per_kg=np.append(problem.price_per_kg, problem.price_per_kg[model]),
        place_ingredient=order.astype(np.int32),
        place_step=np.zeros(n + 1, dtype=np.int32),
    )
    both = solve(doubled).masses_kg[0, [model, n]]
    first, second = (both[1], both[0]) if before else (both[0], both[1])
    assert second == 0.0
    assert first == pytest.approx(masses[model], rel=1e-6)


@st.composite
def chains(draw: Any) -> tuple[Chain, np.ndarray]:
    """A chain of one to four steps, and masses for three batches of it."""
    seed, count = draw(seeds), draw(st.integers(1, 4))
    rng = shelf_rng(seed)
    n = int(rng.integers(4, 30))
    materials = random_shelf(rng, n, "wide", lossy=True).chain.materials
    steps = tuple(
        Step(
            f"s{k}",
            loss_fraction=float(rng.uniform(0.0, 0.2)),
            fixed_loss_kg=float(rng.uniform(0.0, 0.1)),
            cake_factor=float(rng.uniform(0.5, 1.5)),
            rinse_kg_per_kg=float(rng.choice([0.0, rng.uniform(0.0, 2.0)])),
        )
        for k in range(count)
    )
    masses = rng.exponential(1.0, (3, count, n)) * (rng.random((3, count, n)) < 0.5)
    masses[:, 0, :2] += 5.0  # enough liquor for the cakes
    return Chain(materials, steps), masses


@modest
@given(chains())
def test_mass_closes_through_every_chain(drawn: tuple[Chain, np.ndarray]) -> None:
    chain, masses = drawn
    run = chain.run(masses)
    weighed_in = masses.sum(axis=(1, 2)) + run.rinse_kg.sum(axis=1)
    bottled = run.bottled[:, :LIQUOR].sum(axis=1)
    weighed_out = bottled + run.kept_kg.sum(axis=1) + run.lost_kg.sum(axis=1) + run.solids_kg.sum(axis=1)
    np.testing.assert_allclose(weighed_out, weighed_in, rtol=1e-12)
    # Step by step too, and the cake keeps liquor of the step's own composition: nothing but the water of
    # a rinse changes what is in a litre of it.
    flowing = np.zeros(3)
    for step in range(masses.shape[1]):
        came = flowing + masses[:, step].sum(axis=1) + run.rinse_kg[:, step]
        flowing = run.carried[:, step, :LIQUOR].sum(axis=1)
        left = run.kept_kg[:, step] + run.lost_kg[:, step] + run.solids_kg[:, step]
        np.testing.assert_allclose(flowing + left, came, rtol=1e-12)
        before, after = run.gross[:, step, 1:], run.carried[:, step, 1:]
        ethanol = INDEX["ethanol"] - 1
        np.testing.assert_allclose(
            after / after[:, [ethanol]], before / before[:, [ethanol]], rtol=1e-12, atol=1e-15
        )
        # Of the rinse r, mixed with the hold and pressed back to it, r - r/(1 + r) of the hold comes out.
        rinse = chain.steps[step].rinse_kg_per_kg
        water = run.carried[:, step, 0] - run.gross[:, step, 0] * after[:, ethanol] / before[:, ethanol]
        np.testing.assert_allclose(
            water, run.kept_kg[:, step] * (rinse - rinse / (1.0 + rinse)), rtol=1e-9, atol=1e-12
        )


@modest
@given(chains(), st.floats(0.1, 10.0))
def test_recipes_in_an_array_equal_recipes_one_by_one(
    drawn: tuple[Chain, np.ndarray], batches: float
) -> None:
    chain, masses = drawn
    together = chain.run(masses, np.array([1.0, batches, 0.5]))
    drinks = profile(together.bottled, chain.materials)
    for k, share in enumerate((1.0, batches, 0.5)):
        alone = chain.run(masses[k], share)
        # Products of matrices may add up in another order: a few units of the last place of a kilogram.
        for name in ("gross", "carried", "kept_kg", "rinse_kg", "lost_kg", "solids_kg"):
            np.testing.assert_allclose(
                getattr(together, name)[k], getattr(alone, name), rtol=1e-13, atol=1e-14
            )
        drink = profile(alone.bottled, chain.materials)
        for name in (
            "volume_l",
            "strength_pct_vol",
            "sugar_g_l",
            "acid_g_l",
            "bitterness_value",
            "density_kg_m3",
        ):
            assert getattr(drinks, name)[k] == pytest.approx(getattr(drink, name), rel=1e-12)


@settings(modest, max_examples=10)
@given(seeds, st.sampled_from(KINDS_WITH_CORNERS), st.booleans())
def test_shadow_prices_are_what_a_limit_costs(seed: int, kind: str, lossy: bool) -> None:
    problem = shelf(seed, kind, lossy, most=15)
    answer = solved(problem)
    compared = 0
    for position, shown in enumerate(answer.limits):
        limit = problem.limits[position]
        if not shown.binding:
            assert shown.shadow_price == 0.0
            continue
        value = shown.value / limit.display
        at_lower = abs(value - limit.lower) < abs(value - limit.upper)
        by = max(1e-4 * limit.scale, 1e-6)
        costs = []
        for move in (by, -by):
            limits = list(problem.limits)
            limits[position] = replace(
                limit,
                lower=limit.lower + (move if at_lower else 0.0),
                upper=limit.upper + (0.0 if at_lower else move),
            )
            try:
                costs.append(solve(with_limits(problem, limits)).cost_per_l)
            except InfeasibleError:
                costs.append(np.nan)
        up = (costs[0] - answer.cost_per_l) / by
        down = (answer.cost_per_l - costs[1]) / by
        # Where the two sides differ the price is not unique. What the differences themselves are good for:
        # the loop's own 1e-9 of the cost, twice, over the step.
        noise = 2e-9 * answer.cost_per_l / by
        if not abs(up - down) <= 5e-4 * abs(up) + noise:
            continue
        middle = (up + down) / 2.0
        assert shown.shadow_price * limit.display == pytest.approx(middle, rel=1e-3, abs=2.0 * noise)
        compared += 1
    assume(compared)


@settings(modest, max_examples=10)
@given(seeds, st.sampled_from(KINDS), st.booleans())
def test_no_recipe_is_cheaper_than_the_bound(seed: int, kind: str, lossy: bool) -> None:
    """Recipes of the same shelf, made the cheapest under other prices, at the true prices."""
    problem = shelf(seed, kind, lossy, most=20)
    answer = solved(problem)
    bound = answer.cost_per_l * (1.0 - answer.proven_gap)
    rng = shelf_rng(seed + 2)
    for _ in range(4):
        moved = problem.price_per_kg * rng.lognormal(0.0, 1.0, len(problem.price_per_kg))
        other = solve(replace(problem, price_per_kg=moved))
        true_cost = float((other.masses_kg @ problem.price_per_kg).sum()) / other.volume_l
        assert bound <= true_cost * (1.0 + 1e-7)
