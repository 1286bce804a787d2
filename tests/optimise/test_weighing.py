"""Recipes in weighing steps, held against every example and against a count of every rounding."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from formulate.bar.balances import DEFAULT_BALANCES, steps_kg
from formulate.blend.materials import LIQUOR
from formulate.jobs.solve import solve_bottle
from formulate.optimise.answer import Answer
from formulate.optimise.mip.weighing import WeighedAnswer, poured_whole, weigh, weighable_limits
from formulate.optimise.problem import Over, limit_value
from formulate.optimise.solve import solve
from formulate.optimise.tolerances import OVERFILL
from formulate.physics.mixture import volume_l
from tests.optimise.shelves import mass_limit, random_shelf, shelf_rng

BOTTLES = Path(__file__).parents[2] / "examples" / "bottles"
DEARER = 2e-3
"""What rounding may cost per litre, relative: the promise made for the examples."""


def _solved_examples() -> list[Path]:
    return sorted(path for path in BOTTLES.glob("*.yaml") if path.stem != "damson-too-cheap")


def _steps(answer: Answer) -> np.ndarray:
    problem = answer.problem
    return steps_kg(answer.masses_kg[problem.place_step, problem.place_ingredient], ())


def _check(answer: Answer, weighed: WeighedAnswer, step_kg: np.ndarray) -> None:
    """Hold a weighed recipe against everything that was promised, from its masses alone."""
    problem = answer.problem
    masses = weighed.masses_kg[problem.place_step, problem.place_ingredient]
    whole = poured_whole(answer)
    counts = (masses / step_kg)[~whole]
    before = answer.masses_kg[problem.place_step, problem.place_ingredient]
    assert np.array_equal(masses[whole], before[whole])
    assert np.allclose(counts, np.rint(counts), rtol=0, atol=1e-6), "a mass no balance shows"
    run = problem.chain.run(weighed.masses_kg)
    volume = float(volume_l(run.bottled[:LIQUOR]))
    # Where the size was not asked for in litres it may come out a thousandth smaller too.
    least = 1.0 if problem.volume_l is not None else 1.0 - OVERFILL
    assert least - 1e-7 <= volume / answer.volume_l <= 1.0 + OVERFILL + 1e-7
    per_litre = weighed.masses_kg.sum(axis=0) / volume
    for limit in weighable_limits(answer, step_kg):
        if limit.over.value == "cost":
            assert weighed.cost_per_l <= limit.upper * (1 + 1e-7)
            continue
        value = limit_value(limit, run.bottled / volume, per_litre, 1.0 / volume, weighed.cost_per_l)
        assert limit.violation(value) <= 1e-7 * limit.scale, limit.origin.name
    assert not masses[before <= 1e-6 * answer.volume_l].any(), "something new came in"


@pytest.mark.parametrize("path", _solved_examples(), ids=lambda path: path.stem)
def test_every_example_is_weighed_in_spec_and_no_dearer(path: Path) -> None:
    answer = solve_bottle(path).answer
    step_kg = _steps(answer)
    weighed = weigh(answer, step_kg)
    assert weighed is not None
    _check(answer, weighed, step_kg)
    assert weighed.cost_per_l <= answer.cost_per_l * (1.0 + DEARER)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("lossy", [False, True])
def test_random_shelves_are_weighed_in_spec(seed: int, lossy: bool) -> None:
    answer = solve(random_shelf(shelf_rng(seed), 10, "narrow", lossy=lossy))
    step_kg = _steps(answer)
    weighed = weigh(answer, step_kg)
    assert weighed is not None
    _check(answer, weighed, step_kg)
    assert weighed.cost_per_l <= answer.cost_per_l * (1.0 + DEARER)


def _every_rounding(answer: Answer, step_kg: np.ndarray, least_l: float) -> tuple[np.ndarray, np.ndarray]:
    """Cost of the batch and litres of every rounding in spec near a recipe of four things.

    What is in spec is linear in the masses but for the volume, so a grid of all counts is one call.
    """
    problem = answer.problem
    near = np.rint(answer.masses_kg[0] / step_kg).astype(int)
    reach = [range(-3, 4), range(-5, 6), range(-4, 5), range(-6, 7)]
    counts = near + np.array(list(product(*reach)))
    tried = np.maximum(counts, 0)[:, None, :] * step_kg
    tried = np.where(poured_whole(answer), answer.masses_kg, tried)
    bottled = problem.chain.run(tried).bottled
    volume = volume_l(bottled[:, :LIQUOR])
    fits = (volume >= least_l * (1 - 1e-9)) & (volume <= answer.volume_l * (1 + OVERFILL))
    for limit in weighable_limits(answer, step_kg):
        if limit.over is Over.BOTTLE:
            value = bottled[:, limit.indices] @ limit.weights / volume
            fits &= (value >= limit.lower * (1 - 1e-9)) & (value <= limit.upper * (1 + 1e-9))
    assert fits.any(), "the grid shows nothing: choose another seed"
    return tried[fits, 0] @ problem.price_per_kg, volume[fits]


@pytest.mark.parametrize("seed", [0, 1, 2])
@pytest.mark.parametrize("step", [0.005, 0.010])
def test_no_other_rounding_is_cheaper(seed: int, step: float) -> None:
    """Spirit, water, sugar and acid on one coarse balance: every count near the recipe is tried."""
    answer = solve(random_shelf(shelf_rng(seed), 4, "narrow"))
    fine = np.array([step, step, step, step / 10.0])
    weighed = weigh(answer, fine)
    cost, litres = _every_rounding(answer, fine, answer.volume_l)
    assert weighed is not None
    _check(answer, weighed, fine)
    assert weighed.cost_per_l <= (cost / litres).min() * (1.0 + 1e-5)


def test_too_coarse_a_balance_gives_nothing() -> None:
    """Acid of 4 to 6 g/L in 5 L is 20 to 30 g: a step of 100 g holds none of that."""
    answer = solve(random_shelf(shelf_rng(0), 4, "narrow"))
    assert weigh(answer, np.full(4, 0.1)) is None


@pytest.mark.parametrize("seed", [0, 1, 5])
def test_cost_is_compared_per_litre(seed: int) -> None:
    """A batch from all the acid there is may come out a thousandth smaller: not for less money in all."""
    problem = random_shelf(shelf_rng(seed), 4, "narrow")
    acid_kg = float(solve(problem).masses_kg[0, 3])
    all_of_it = replace(
        mass_limit("size", [3], [1.0], 0.0, 0.0), origin=problem.size_origin, batch_weight=-acid_kg
    )
    answer = solve(replace(problem, volume_l=None, limits=(*problem.limits, all_of_it)))
    step_kg = np.array([0.005, 0.005, 0.005, 0.0005])
    weighed = weigh(answer, step_kg)
    cost, litres = _every_rounding(answer, step_kg, answer.volume_l * (1.0 - OVERFILL))
    least = int(cost.argmin())
    assert weighed is not None
    _check(answer, weighed, step_kg)
    assert weighed.cost_per_l <= (cost / litres).min() * (1.0 + 1e-5)
    dearer = cost[least] / litres[least]
    assert dearer > weighed.cost_per_l * (1.0 + 1e-4), "least money is least per litre too: another seed"


def test_the_same_twice() -> None:
    answer = solve(random_shelf(shelf_rng(1), 10, "narrow", lossy=True))
    first, second = (weigh(answer, _steps(answer)) for _ in range(2))
    assert first is not None
    assert second is not None
    assert np.array_equal(first.masses_kg, second.masses_kg)


def test_the_finest_balance_that_carries_a_mass_is_taken() -> None:
    masses = np.array([0.0001, 0.2, 0.2001, 5.0, 5.001, 40.0])
    assert steps_kg(masses, ()).tolist() == [1e-4, 1e-4, 1e-3, 1e-3, 5e-3, 5e-3]
    assert [balance.step_kg for balance in DEFAULT_BALANCES] == [1e-4, 1e-3, 5e-3]
