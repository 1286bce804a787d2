"""Files on which an assurance once failed: rules kept from the listing on, steps that stay empty, cakes."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import ROOT

from formulate.files.bottle import load_bottle
from formulate.files.recipe import dump_recipe
from formulate.formulation.solving import recipe_of
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import SolvedBottle, solve_bottle, solve_loaded

CASES = ROOT / "tests" / "cases"
GAP = 2e-6
"""Two proofs to 5e-7 and what verification lets pass."""


def solved(name: str) -> SolvedBottle:
    return solve_bottle(CASES / name / "bottle.yaml")


def cost_per_l(answer: SolvedBottle) -> float:
    assert answer.record.cost is not None
    return answer.record.cost.per_litre


@pytest.mark.parametrize("name", ["bulk-1", "bulk-55", "bulk-96", "zero-1", "edge-4", "empty-step"])
def test_lines_that_are_not_used_change_nothing(name: str) -> None:
    with_all = solved(name)
    used = {line.ingredient for line in with_all.record.recipe}
    bottle = load_bottle(CASES / name / "bottle.yaml")
    named = {one.id for one in bottle.ingredients if f"'{one.id}'" in repr(bottle.together)}
    kept = tuple(one for one in bottle.ingredients if one.id in used | named)
    assert len(kept) < len(bottle.ingredients)
    without = solve_loaded(bottle.model_copy(update={"ingredients": kept}))
    several = 5e-5 if len(bottle.resolved_steps()) > 1 else 0.0
    assert cost_per_l(with_all) == pytest.approx(cost_per_l(without), rel=GAP + several)


@pytest.mark.parametrize(
    ("name", "most_per_l"),
    [
        # What each came to once the plant that was listed, capped and unused was deleted from the file.
        ("bulk-1", 1.19667),
        ("bulk-55", 0.027484),
        ("bulk-96", 0.52834),
        # Without the plant there was a recipe where "no recipe (proved)" had been said.
        ("zero-1", 0.52243),
        ("edge-4", 0.23016),
    ],
)
def test_a_capped_plant_that_is_not_used_costs_nothing(name: str, most_per_l: float) -> None:
    answer = solved(name)
    assert answer.record.status == "optimal"
    assert cost_per_l(answer) <= most_per_l
    assert answer.record.law is not None
    assert not answer.record.law.broken


def test_a_step_that_stays_empty_is_saved_and_read_back(tmp_path: Path) -> None:
    answer = solved("empty-step")
    recipe = recipe_of(answer.formulation.bottle, answer.answer)
    steps = {line.step for line in recipe.ingredients}
    assert len(steps) < len(recipe.steps)
    text = dump_recipe(recipe)
    (tmp_path / "saved.yaml").write_text(text, encoding="utf-8")
    again = predict_recipe(tmp_path / "saved.yaml").predicted
    first = answer.record.predicted
    assert float(again.volume_l) == pytest.approx(float(first.volume_l), rel=1e-6)
    assert float(again.strength_pct_vol) == pytest.approx(float(first.strength_pct_vol), abs=1e-5)


def test_what_a_vessel_keeps_of_a_batch_is_saved_where_nothing_goes_in() -> None:
    bottle = load_bottle(CASES / "empty-step" / "bottle.yaml")
    assert bottle.steps is not None
    losing = tuple(
        step.model_copy(update={"fixed_loss_kg": 0.06}) if step.name == "infuse" else step
        for step in bottle.steps
    )
    answer = solve_loaded(bottle.model_copy(update={"steps": losing}))
    assert {line.step for line in answer.record.recipe} == {"finish"}
    assert sum(step.lost_kg for step in answer.record.steps) == 0.0
    assert cost_per_l(answer) <= cost_per_l(solved("empty-step")) * (1.0 + 1e-4)


@pytest.mark.parametrize("name", ["rinse", "shrunk-124", "shrunk-322"])
def test_every_step_carries_liquor_on_and_every_cake_is_wet_through(name: str) -> None:
    answer = solved(name)
    run = answer.answer.run
    liquor = run.gross[:, :15].sum(axis=1)
    assert (run.carried[:, :15] >= 0.0).all()
    assert (run.kept_kg <= liquor * (1.0 + 1e-9)).all()
    assert answer.record.status == ("feasible" if name == "shrunk-124" else "optimal")
    assert ("step_nearly_dry" in [note.code for note in answer.record.notes]) is name.startswith("shrunk")
