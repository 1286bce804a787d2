"""Free steps, frozen shares, what is added after the press, and rinses."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from formulate.blend.chain import Chain, Step
from formulate.blend.materials import BITTERNESS, LIQUOR, Materials
from formulate.errors import InfeasibleError, NotConvergedError
from formulate.optimise.answer import Status
from formulate.optimise.assembly import assemble
from formulate.optimise.linear import LinearStatus
from formulate.optimise.point import Point
from formulate.optimise.problem import BlendProblem
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import first_guess
from formulate.optimise.solve import solve
from formulate.physics.mixture import COMPONENTS, INDEX

from .oracle import fraction_from_strength
from .oracle_kitchen import KitchenOracle
from .shelves import acid_limit, mass_limit, random_kitchen, shelf_rng, strength_limit, sugar_limit


def small_kitchen(seed: int) -> BlendProblem:
    """Eight ingredients, an infusion and a finish: spirit, water, sugar and acid may go into either."""
    while len((problem := random_kitchen(shelf_rng(seed), 8)).chain.steps) > 2:
        seed += 1000
    return problem


def placements(problem: BlendProblem) -> list[BlendProblem]:
    """The same question with every free ingredient fixed to one step, in every way."""
    choices = [
        np.flatnonzero(problem.place_ingredient == i).tolist() for i in np.unique(problem.place_ingredient)
    ]
    fixed = []
    for columns in product(*choices):
        keep = list(columns)
        fixed.append(
            replace(
                problem,
                place_ingredient=problem.place_ingredient[keep],
                place_step=problem.place_step[keep],
            )
        )
    return fixed


@pytest.mark.slow
@pytest.mark.parametrize("seed", [600, 601, 602])
def test_free_steps_are_never_dearer_than_any_fixed_choice(seed: int) -> None:
    problem = small_kitchen(seed)
    answer = solve(problem, seconds=5.0)
    costs = []
    for fixed in placements(problem):
        try:
            # Without much of a proof: any recipe of a fixed choice is one of the free question.
            costs.append(solve(fixed, seconds=0.1).cost_per_l)
        except (InfeasibleError, NotConvergedError):
            continue
    assert 2 <= len(costs) <= 2**4
    assert answer.cost_per_l <= min(costs) * (1.0 + 1e-6)
    # The freedom is worth something: the worst choice of steps is dearer by a good deal.
    assert max(costs) > 1.005 * answer.cost_per_l


def fruit_cordial() -> BlendProblem:
    """Fruit of the first step keeps a third of its weight of liquor; all else may be added before or after.

    Prices and compositions are invented.
    """
    ethanol = fraction_from_strength(40.0)
    rows = {
        "spirit": {"ethanol": ethanol, "water": 1.0 - ethanol},
        "water": {"water": 1.0},
        "sugar": {"sucrose": 1.0},
        "acid": {"citric_acid": 1.0},
        "fruit": {"water": 0.82, "glucose": 0.04, "fructose": 0.04, "citric_acid": 0.015},
    }
    content = np.zeros((len(rows), LIQUOR + 1))
    for row, parts in zip(content, rows.values(), strict=True):
        for name, share in parts.items():
            row[INDEX[name]] = share
    materials = Materials(
        tuple(rows),
        (*COMPONENTS, BITTERNESS),
        content,
        np.clip(1.0 - content.sum(axis=1), 0.0, 1.0),
        np.array([0.0, 0.0, 0.0, 0.0, 0.33]),
    )
    return BlendProblem(
        chain=Chain(materials, (Step("infuse", loss_fraction=0.01), Step("finish"))),
        price_per_kg=np.array([14.0, 0.002, 1.2, 6.0, 4.0]),
        place_ingredient=np.array([0, 0, 1, 1, 2, 2, 3, 3, 4], dtype=np.int32),
        place_step=np.array([0, 1, 0, 1, 0, 1, 0, 1, 0], dtype=np.int32),
        limits=(
            strength_limit(19.7, 20.3),
            sugar_limit(175.0, 185.0),
            acid_limit(7.0, 8.0),
            mass_limit("fruit at least", [4], [1.0], 0.35, np.inf),
        ),
        volume_l=5.0,
    )


def with_frozen_shares(problem: BlendProblem) -> Point:
    """Pass after pass with the shares carried held still, to a recipe that repeats itself."""
    program = BlendProgram(assemble(problem))
    point = first_guess(program.assembly)
    for _ in range(100):
        program.linearise(point, frozen=True)
        result = program.solve()
        assert result.status is LinearStatus.OPTIMAL
        last, point = point, program.point(result)
        if point.violation <= 1e-10 and abs(point.cost - last.cost) <= 1e-10 * point.cost:
            return point
    raise AssertionError("frozen shares did not settle")


def test_frozen_shares_alone_are_dearer() -> None:
    """Held still, a share says nothing of what more water would do to it: a recipe, not the cheapest."""
    problem = fruit_cordial()
    frozen, answer = with_frozen_shares(problem), solve(problem)
    # A recipe of the exact model, in both statements.
    assert frozen.violation <= 1e-9
    oracle = KitchenOracle(problem)
    assert oracle.violation(oracle.values(frozen.columns, frozen.batches)) <= 1e-8
    # Between a tenth of a per cent and the 13 % seen in trials before this program was written.
    assert 1.001 < frozen.cost_per_l / answer.cost_per_l < 1.13
    other = oracle.ipopt(starts=10, seed=1)
    assert answer.cost_per_l == pytest.approx(other.cost_per_l, rel=1e-6)


def test_what_is_added_after_the_press_is_not_lost_in_the_cake() -> None:
    """Two recipes worked by hand, 300 g of sugar before and after the press.

    Fruit 1 kg (82 % water, 8 % sugars, 1.5 % acid: 915 g dissolves, 85 g of solid), spirit 1 kg, water 0.
    Before: liquor 915 + 1000 + 300 = 2215 g; the cake keeps 330 g; 1885 g is 85.1 % of it, less 1 % in the
    sieve, 1866.15 g. Sugar bottled (300 + 80) x 1866.15/2215 = 320.152 g.
    After: liquor 1915 g, less 330 is 1585, less 1 % 1569.15 g; sugar from the fruit 80 x 1569.15/1915 =
    65.552 g, and all of the 300: 365.552 g. Water, fruit's and spirit's, is lost as before.
    """
    problem = fruit_cordial()
    masses = np.zeros((2, 5))
    masses[0, [0, 4]] = 1.0
    before, after = masses.copy(), masses.copy()
    before[0, 2] = after[1, 2] = 0.3
    sugars = [INDEX[name] for name in ("sucrose", "glucose", "fructose")]
    first, second = (problem.chain.run(each) for each in (before, after))
    assert first.bottled[:LIQUOR].sum() == pytest.approx(1.86615, rel=1e-12)
    assert first.bottled[sugars].sum() == pytest.approx(0.380 * 1.86615 / 2.215, rel=1e-12)
    assert first.bottled[sugars].sum() == pytest.approx(0.320152, abs=1e-6)
    assert second.bottled[:LIQUOR].sum() == pytest.approx(1.56915 + 0.3, rel=1e-12)
    assert second.bottled[INDEX["sucrose"]] == pytest.approx(0.3, rel=1e-15)
    assert second.bottled[sugars].sum() == pytest.approx(0.365552, abs=1e-6)
    # The cake is as heavy either way; it holds sugar in the first only.
    assert first.kept_kg.tolist() == second.kept_kg.tolist() == pytest.approx([0.33, 0.0])


def lossy_cordial(loss: float) -> BlendProblem:
    """The cordial in one step, with twice as much fruit as sugar, losing a share of the strained liquor."""
    problem = fruit_cordial()
    here = np.flatnonzero(problem.place_step == 0)
    return replace(
        problem,
        chain=Chain(problem.chain.materials, (Step("infuse", loss_fraction=loss),)),
        place_ingredient=problem.place_ingredient[here],
        place_step=problem.place_step[here],
        limits=(*problem.limits[:3], mass_limit("fruit to sugar", [4, 2], [1.0, -2.0], 0.0, np.inf)),
    )


@pytest.mark.parametrize("loss", [0.5, 0.97, 0.985, 0.99, 0.995, 0.999])
def test_a_loss_only_makes_the_batch_larger(loss: float) -> None:
    """Every mass goes up by 1/(1 - loss), whatever a person calls a loss; nothing is proved impossible."""
    without, answer = solve(lossy_cordial(0.0)), solve(lossy_cordial(loss))
    assert answer.status is Status.OPTIMAL
    assert answer.cost_per_l * (1.0 - loss) == pytest.approx(without.cost_per_l, rel=1e-6)
    assert answer.masses_kg[0, 4] > 0.0, "no cake, so the share carried was not in question"


def test_the_dear_things_go_in_after_the_press_and_the_cheap_before() -> None:
    """With nothing to draw out, spirit and sugar before the press are lost in part; water is the rinse."""
    problem = fruit_cordial()
    masses = solve(problem).masses_kg
    spirit, water = masses[:, 0], masses[:, 1]
    assert spirit[0] == 0.0
    assert spirit[1] > 0.0
    assert water[0] > 0.0


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10_000), st.floats(0.01, 3.0))
def test_adding_a_rinse_never_lowers_the_yield(seed: int, rinse: float) -> None:
    """A kitchen's own recipe with a rinse added to its first step: more of everything that was weighed in."""
    problem = random_kitchen(shelf_rng(seed), 12)
    rng = shelf_rng(seed + 1)
    masses = problem.masses(rng.exponential(0.05, problem.unknowns))
    masses[0, [0, 1]] += 2.0
    first, *others = problem.chain.steps
    without = Chain(problem.chain.materials, (replace(first, rinse_kg_per_kg=0.0), *others)).run(masses)
    rinsed = Chain(problem.chain.materials, (replace(first, rinse_kg_per_kg=rinse), *others)).run(masses)
    assert (without.carried[:, :LIQUOR].sum(axis=1) > 0.0).all()
    assert (rinsed.bottled[:LIQUOR] >= without.bottled[:LIQUOR] * (1.0 - 1e-12)).all()
    assert rinsed.bottled[:LIQUOR].sum() > without.bottled[:LIQUOR].sum()
    # By hand: mixed with r times its hold and pressed back to it, the cake gives up r/(1 + r) of the ethanol
    # it held, the kept share of what was in the step.
    held = without.kept_kg[0] * without.gross[0, 1] / without.gross[0, :LIQUOR].sum()
    gained = rinsed.carried[0, 1] - without.carried[0, 1]
    assert gained == pytest.approx((1.0 - first.loss_fraction) * held * rinse / (1.0 + rinse), rel=1e-9)
