"""Our loop and proof against other optimisers on an independent statement of the same model.

The references are Ipopt through CasADi, and SciPy's SLSQP, on `oracle.Oracle`, which states the
published formulas anew. Ipopt is started from several random recipes and only what it ends with
inside every bound counts, so "never dearer than Ipopt" is a check no result of ours can influence.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from formulate.blend.chain import Chain, Step
from formulate.blend.profile import profile
from formulate.errors import InfeasibleError
from formulate.optimise.answer import Answer, Status
from formulate.optimise.problem import BlendProblem, Fill, Limit, Origin, Over, Purchase
from formulate.optimise.solve import solve

from .oracle import Found, Oracle
from .shelves import KINDS, mass_limit, random_shelf, shelf_rng, strength_limit, sugar_limit


@dataclass(frozen=True)
class Case:
    """A shelf by its recipe."""

    seed: int
    kind: str
    lossy: bool
    most: int = 60
    steps: int = 1

    def __str__(self) -> str:
        loss = "lossy" if self.lossy else "lossless"
        return f"{self.kind.replace(' ', '_')}-{loss}-{self.steps}-{self.seed}"

    def problem(self) -> BlendProblem:
        rng = shelf_rng(self.seed)
        n = int(rng.integers(10, self.most + 1))
        return random_shelf(rng, n, self.kind, lossy=self.lossy, steps=self.steps)


ONE_STEP = [Case(seed, KINDS[seed % len(KINDS)], bool(seed // len(KINDS) % 2)) for seed in range(50)]
TWO_STEPS = [
    Case(100 + k, kind, True, 25, 2) for k, kind in enumerate(("narrow", "wide", "ingredient limits") * 2)
]
SMALL = [
    Case(200, "narrow", False, 10),
    Case(201, "wide", True, 10),
    Case(202, "cordial", False, 10),
    Case(203, "low strength", False, 10),
    Case(206, "ingredient limits", True, 10),
]


@cache
def ours(case: Case) -> Answer | InfeasibleError:
    try:
        return solve(case.problem())
    except InfeasibleError as error:
        return error


@cache
def ipopt(case: Case) -> Found:
    return Oracle(case.problem()).ipopt(starts=4 if case.steps == 1 else 10, seed=case.seed)


def columns_per_l(answer: Answer) -> np.ndarray:
    problem = answer.problem
    return answer.masses_kg[problem.place_step, problem.place_ingredient] / answer.volume_l


@pytest.mark.parametrize("case", ONE_STEP, ids=str)
def test_one_step_is_never_dearer_than_ipopt(case: Case) -> None:
    answer, other = ours(case), ipopt(case)
    if isinstance(answer, InfeasibleError):
        assert other.feasible_starts == 0, f"called impossible, but Ipopt has one at {other.cost_per_l}"
        return
    assert answer.cost_per_l <= other.cost_per_l * (1.0 + 1e-6)


@pytest.mark.parametrize("case", ONE_STEP, ids=str)
def test_one_step_is_proved_in_few_passes(case: Case) -> None:
    answer = ours(case)
    if isinstance(answer, InfeasibleError):
        pytest.skip("no recipe; see test_one_step_is_never_dearer_than_ipopt")
    assert answer.status is Status.OPTIMAL
    assert answer.proven_gap < 1e-6
    assert answer.passes <= 6


@pytest.mark.parametrize("case", [*ONE_STEP, *TWO_STEPS], ids=str)
def test_the_bound_is_below_what_ipopt_reached(case: Case) -> None:
    answer, other = ours(case), ipopt(case)
    if isinstance(answer, InfeasibleError):
        assert other.feasible_starts == 0
        return
    # 1e-9 of slip that Ipopt may keep, at prices up to some hundred times the cost of a litre.
    assert answer.cost_per_l * (1.0 - answer.proven_gap) <= other.cost_per_l * (1.0 + 1e-7)


@pytest.mark.parametrize("case", [*ONE_STEP, *TWO_STEPS], ids=str)
def test_recipe_holds_in_the_independent_model_and_in_the_forward_model(case: Case) -> None:
    answer = ours(case)
    if isinstance(answer, InfeasibleError):
        pytest.skip("no recipe; see test_one_step_is_never_dearer_than_ipopt")
    problem = answer.problem
    oracle = Oracle(problem)
    # Verification states 1e-7 relative slack on bands; the largest band ends below 1 kg/L.
    assert oracle.violation(oracle.values(columns_per_l(answer), 1.0 / answer.volume_l)) <= 1e-7
    drink = profile(problem.chain.run(answer.masses_kg).bottled, problem.chain.materials)
    assert drink.volume_l == pytest.approx(5.0, rel=1e-7)
    shown = {
        "strength": drink.strength_pct_vol,
        "sugar": drink.sugar_g_l,
        "acid": drink.acid_g_l,
        "bitterness": drink.bitterness_value,
    }
    targets = [limit for limit in problem.limits if limit.is_target]
    assert targets
    for limit in targets:
        value, slack = shown[limit.origin.name], 1e-7 * limit.scale * limit.display
        assert limit.lower * limit.display - slack <= value <= limit.upper * limit.display + slack
    assert answer.cost == pytest.approx(float((answer.masses_kg @ problem.price_per_kg).sum()), rel=1e-12)


@pytest.mark.parametrize("case", TWO_STEPS, ids=str)
def test_two_steps_are_never_dearer_than_ipopt(case: Case) -> None:
    answer, other = ours(case), ipopt(case)
    assert other.feasible_starts > 0
    assert isinstance(answer, Answer)
    assert answer.cost_per_l <= other.cost_per_l * (1.0 + 1e-5)


@pytest.mark.parametrize("case", SMALL, ids=str)
def test_small_shelves_agree_with_slsqp(case: Case) -> None:
    answer, other = ours(case), Oracle(case.problem(), reduced=True).slsqp(starts=6, seed=case.seed)
    assert isinstance(answer, Answer)
    assert other.feasible_starts > 0
    assert answer.cost_per_l == pytest.approx(other.cost_per_l, rel=1e-6)


SIZES = ("use all the spirit", "fill a jar", "fill a jar for a given volume")


def sized(case: Case, size: str) -> BlendProblem:
    """The same shelf with another way of saying how much."""
    problem = case.problem()
    jar = Fill(0, 4.0, Origin("jar", "fill a jar of 4 L"))
    if size == "fill a jar":
        return replace(problem, volume_l=None, fill=jar)
    if size == "fill a jar for a given volume":
        # Infused in a jar of 4 L that must be full, then brought to 5 L in the second step.
        return replace(problem, fill=jar)
    # 1.5 kg of it, and at least 100 g per litre, so that the batch cannot grow for ever.
    whole = replace(mass_limit("all the spirit", [0], [1.0], 0.0, 0.0), batch_weight=-1.5)
    some = mass_limit("some spirit", [0], [1.0], 0.1, np.inf)
    return replace(problem, volume_l=None, limits=(*problem.limits, whole, some))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("seed", range(300, 304))
def test_other_ways_to_say_the_size_agree_with_ipopt(size: str, seed: int) -> None:
    steps = 2 if size == "fill a jar for a given volume" else 1
    problem = sized(Case(seed, "narrow", True, 20, steps), size)
    other = Oracle(problem).ipopt(starts=10, seed=seed)
    assert other.feasible_starts > 0
    answer = solve(problem)
    assert answer.cost_per_l <= other.cost_per_l * (1.0 + (1e-6 if steps == 1 else 1e-5))
    assert answer.cost_per_l * (1.0 - answer.proven_gap) <= other.cost_per_l * (1.0 + 1e-7)
    oracle = Oracle(problem)
    assert oracle.violation(oracle.values(columns_per_l(answer), 1.0 / answer.volume_l)) <= 1e-7


def richer(name: str) -> BlendProblem:
    """Fruit bought whole for its parts, limits missed at a price, a cap on the cost, cakes treated."""
    problem = Case(400, "narrow", True, 20).problem()
    ids = problem.chain.materials.ids
    flesh, juice = ids.index("fruit-7"), ids.index("juice-15")
    some = mass_limit("some juice", [juice], [1.0], 0.1, np.inf)
    if name == "one fruit for two parts":
        whole = Purchase("whole fruit", 5.0, ((flesh, 0.5), (juice, 0.3)))
        return replace(problem, limits=(*problem.limits, some), purchases=(whole,))
    if name == "one fruit for two parts, or bottled juice":
        whole = Purchase("whole fruit", 5.0, ((flesh, 0.5), (juice, 0.3)))
        bottled = Purchase("bottled juice", 4.0, ((juice, 1.0),))
        return replace(problem, limits=(*problem.limits, some), purchases=(whole, bottled))
    if name in ("pressed hard", "cake rinsed"):
        step = problem.chain.steps[0]
        hard, rinsed = replace(step, cake_factor=0.6), replace(step, cake_factor=1.2, rinse_kg_per_kg=0.7)
        chosen = hard if name == "pressed hard" else rinsed
        return replace(problem, chain=Chain(problem.chain.materials, (chosen,)))
    strength, *others = problem.limits
    # A kilogram of ethanol missing costs 5: under the 16 or so that it costs to have, so it will be missed.
    cheap = replace(strength, penalty=5.0)
    if name == "strength may be missed cheaply":
        return replace(problem, limits=(cheap, *others))
    nothing = np.zeros(0)
    cap = Limit(Over.COST, nothing.astype(np.int32), nothing, -np.inf, 4.5, Origin("cost", "cost"))
    dear = replace(strength, penalty=1000.0)
    return replace(problem, limits=(dear, *others, cap))


@pytest.mark.parametrize(
    "name",
    [
        "one fruit for two parts",
        "one fruit for two parts, or bottled juice",
        "strength may be missed cheaply",
        "strength may be missed to stay under a cost",
        "pressed hard",
        "cake rinsed",
    ],
)
def test_richer_questions_agree_with_ipopt(name: str) -> None:
    problem = richer(name)
    oracle = Oracle(problem)
    other = oracle.ipopt(starts=6, seed=1)
    assert other.feasible_starts > 0
    answer = solve(problem)
    assert answer.status is Status.OPTIMAL
    values = oracle.values(columns_per_l(answer), 1.0 / answer.volume_l)
    assert oracle.violation(values) <= 1e-7
    # The oracle's own account of the recipe: money, the purchases worked out again, and the charges.
    assert oracle.objective(values) == pytest.approx(other.cost_per_l, rel=1e-6)


def awkward(name: str) -> BlendProblem:
    """Questions at the edges: nothing allowed, nothing asked, nothing to pay, nearly everything lost."""
    plain = random_shelf(shelf_rng(6), 20, "narrow")
    lossy = random_shelf(shelf_rng(5), 20, "no strength", lossy=True)
    steps = {
        "most is lost": Step("mix", loss_fraction=0.97),
        "more is lost than made": Step("mix", 0.02, 9.0),
    }
    return {
        "no alcohol from a shelf with spirits": replace(
            lossy, limits=(*lossy.limits, strength_limit(-np.inf, 0.0))
        ),
        "no sugar": replace(plain, limits=(strength_limit(20.0, 20.0), sugar_limit(0.0, 0.0))),
        "nothing asked": replace(plain, limits=()),
        "nothing to pay": replace(plain, price_per_kg=np.zeros(20)),
        "cheap to the thousandth": replace(plain, price_per_kg=plain.price_per_kg * 1e-4),
        "dear by the million": replace(plain, price_per_kg=plain.price_per_kg * 1e6),
        "a thimble": replace(lossy, volume_l=0.05),
        "a tanker": replace(lossy, volume_l=1e5),
        "stronger than any spirit": replace(plain, limits=(strength_limit(99.0, 99.5),)),
        **{key: replace(lossy, chain=Chain(lossy.chain.materials, (step,))) for key, step in steps.items()},
    }[name]


@pytest.mark.parametrize(
    "name",
    [
        "no alcohol from a shelf with spirits",
        "no sugar",
        "nothing asked",
        "nothing to pay",
        "cheap to the thousandth",
        "dear by the million",
        "a thimble",
        "a tanker",
        "most is lost",
        "more is lost than made",
    ],
)
def test_awkward_questions_agree_with_ipopt(name: str) -> None:
    problem = awkward(name)
    answer, other = solve(problem), Oracle(problem).ipopt(starts=6, seed=1)
    assert other.feasible_starts > 0
    assert answer.status is Status.OPTIMAL
    # Free recipes leave Ipopt with 1e-12 of its barrier.
    assert answer.cost_per_l == pytest.approx(
        other.cost_per_l, rel=1e-6, abs=1e-9 * min(other.cost_per_l, 1.0)
    )


def test_stronger_than_any_spirit_is_proved_impossible() -> None:
    problem = awkward("stronger than any spirit")
    assert Oracle(problem).ipopt(starts=6, seed=1).feasible_starts == 0
    with pytest.raises(InfeasibleError):
        solve(problem)
