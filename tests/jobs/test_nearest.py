"""`solve --nearest`: where nothing meets every limit, the recipe that misses least, and by how much."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from conftest import ROOT, RunCommand

from formulate.describe.no_recipe import NoRecipe
from formulate.errors import InfeasibleError
from formulate.jobs.nearest import nearest_answer, nearest_recipe
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from formulate.optimise.answer import Answer
from formulate.optimise.diagnose import nearest_question
from formulate.optimise.problem import BlendProblem
from formulate.optimise.solve import solve
from tests.optimise.infeasible import infeasible_shelf

TOO_CHEAP = ROOT / "examples" / "bottles" / "damson-too-cheap.yaml"


def _nothing(path: Path) -> NoRecipe:
    with pytest.raises(InfeasibleError) as caught:
        solve_bottle(path)
    assert isinstance(caught.value.explanation, NoRecipe)
    return caught.value.explanation


def test_the_example_misses_its_cost_alone_by_as_much_as_the_clash_says() -> None:
    nothing = _nothing(TOO_CHEAP)
    solved = nearest_recipe(nothing)
    assert solved is not None
    targets = {target.target: target for target in solved.record.targets}
    assert 21.7 - 1e-5 <= targets["strength"].value <= 22.3 + 1e-5
    assert 175.0 - 1e-3 <= targets["sugar"].value <= 185.0 + 1e-3
    # Moving the cost alone is one of the moves the explanation names; the other, strength down to 16.9 from
    # 21.7, is (21.7 - 16.9) / 0.3 tolerances where the cost misses (9.18 - 7.50) / (0.05 * 7.50).
    (cost,) = [member for member in nothing.explanation.clash if member.limit.origin.name == "cost"]
    assert targets["cost"].value == pytest.approx(cost.reachable, rel=2e-4)
    assert (targets["cost"].lower, targets["cost"].upper) == (None, 7.5)
    assert solved.record.status == "nearest"
    assert solved.record.cost is not None
    assert solved.record.cost.proven_gap is None


def _choosing(folder: Path, choose: str) -> NoRecipe:
    text = TOO_CHEAP.read_text("utf-8").replace("../shelf.yaml", (ROOT / "examples/shelf.yaml").as_posix())
    path = folder / "bottle.yaml"
    path.write_text(f"{text}choose: {choose}\n", "utf-8")
    return _nothing(path)


def test_the_nearest_recipe_keeps_choices(tmp_path: Path) -> None:
    """Of five ingredients at most it misses as much as the best of all fives it could use, or less."""
    nothing = _choosing(tmp_path, "{at_most: 5}")
    solved = nearest_recipe(nothing)
    assert solved is not None
    used = {line.ingredient for line in solved.record.recipe}
    assert len(used) <= 5
    assert "choices_kept" in [note.code for note in solved.record.notes]
    # Left alone with the five it has, no other amounts of them come nearer; without the choice it may.
    problem = nothing.formulation.problem
    free = nearest_answer(problem)
    assert free is not None
    assert _missed(problem, solved.answer) >= _missed(problem, free) - 1e-6
    ids = problem.chain.materials.ids
    kept = np.array([ids[number] in used for number in problem.place_ingredient])
    five = replace(
        problem, place_ingredient=problem.place_ingredient[kept], place_step=problem.place_step[kept]
    )
    again = nearest_answer(five)
    assert again is not None
    assert _missed(problem, solved.answer) == pytest.approx(_missed(problem, again), rel=1e-3, abs=1e-3)


def _missed(problem: BlendProblem, answer: Answer) -> float:
    """How far an answer misses the targets as asked, in tolerances."""
    asked = [limit for limit in nearest_question(problem).limits if limit.soft]
    values = [value for value in answer.limits if value.limit.is_target]
    return sum(
        limit.penalty * limit.violation(value.value / limit.display)
        for limit, value in zip(asked, values, strict=True)
    )


def test_choices_that_cannot_be_kept_at_all_are_left_out_and_it_says_so(tmp_path: Path) -> None:
    """Damson must be in, and of damson and gentian just one with gentian at 30 % of the bitterness: never."""
    solved = nearest_recipe(_choosing(tmp_path, "{at_most: 1}"))
    assert solved is not None
    codes = [note.code for note in solved.record.notes]
    assert codes[0] == "choices_left_out"
    assert "choices_kept" not in codes


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_the_cheapest_of_the_nearest_misses_no_more(seed: int) -> None:
    problem = infeasible_shelf(seed)
    nearest, cheapest = solve(nearest_question(problem)), nearest_answer(problem)
    assert cheapest is not None
    misses = []
    for answer in (nearest, cheapest):
        miss = 0.0
        for value, asked in zip(answer.limits, nearest_question(problem).limits, strict=True):
            if asked.soft:
                miss += asked.penalty * asked.violation(value.value / asked.display)
        misses.append(miss)
    assert misses[1] <= misses[0] * (1.0 + 1e-4) + 1e-4
    assert cheapest.cost_per_l <= nearest.cost_per_l * (1.0 + 1e-5)


def test_limits_on_ingredients_that_clash_leave_nothing_near(tmp_path: Path, run_here: RunCommand) -> None:
    bar = Path(shutil.copytree(ROOT / "examples", tmp_path / "bar"))
    path = bar / "bottles" / "too-full.yaml"
    text = TOO_CHEAP.read_text(encoding="utf-8")
    text = text.replace("  - water\n", "  - water: {at_least: 900 g per L bottled}\n")
    text = text.replace("  - vodka-40\n", "  - vodka-40: {at_least: 600 g per L bottled}\n")
    path.write_text(text, encoding="utf-8")
    done = run_here("solve", "--all", path, "--nearest")
    assert (done.exit_code, done.stdout) == (3, "")
    assert "no recipe meets every limit (proved)" in done.stderr


def test_screen_says_plainly_what_is_missed(run_here: RunCommand) -> None:
    done = run_here("solve", "--all", TOO_CHEAP, "--nearest")
    assert (done.exit_code, done.crash) == (4, "")
    assert done.stdout.startswith("No recipe meets every limit; this one comes nearest.\n")
    (line,) = re.findall(
        r"^  cost is too high: ([0-9.]+) EUR/L, asked at most 7.50$", done.stdout, re.MULTILINE
    )
    (needed,) = re.findall(r"cost up to ([0-9.]+) EUR/L", done.stderr)  # rounded up, so that it will do
    assert float(line) == pytest.approx(float(needed), abs=0.0101)
    assert "No cheaper recipe exists" not in done.stdout
    assert "These 3 limits clash." in done.stderr


def test_json_holds_the_recipe_and_the_clash(run_here: RunCommand) -> None:
    done = run_here("solve", TOO_CHEAP, "--nearest", "--json")
    assert (done.exit_code, done.stderr) == (4, "")
    document = json.loads(done.stdout)
    assert document["status"] == "nearest"
    assert [member["limit"] for member in document["clash"]] == ["strength", "cost", "damson at least"]
    assert {line["ingredient"] for line in document["recipe"]} >= {"vodka-40", "damson", "white-sugar"}
    assert {reach["target"] for reach in document["reach"]} == {"strength", "sugar", "cost"}


def test_where_there_is_a_recipe_the_option_changes_nothing(run_here: RunCommand) -> None:
    bottle = ROOT / "examples" / "bottles" / "quince-cordial.yaml"
    assert run_here("solve", "--all", bottle, "--nearest").stdout == run_here("solve", "--all", bottle).stdout


def test_the_nearest_recipe_can_be_saved(tmp_path: Path, run_here: RunCommand) -> None:
    bar = Path(shutil.copytree(ROOT / "examples", tmp_path / "bar"))
    out = bar / "recipes" / "nearest.yaml"
    done = run_here("solve", "--all", bar / "bottles/damson-too-cheap.yaml", "--nearest", "-o", out)
    assert done.exit_code == 4
    assert float(predict_recipe(out).predicted.strength_pct_vol) == pytest.approx(21.7, abs=1e-5)


def test_each_reach_is_reached_and_no_more() -> None:
    """What a target could be on its own: pinned there a recipe exists, a little beyond it none does."""
    from dataclasses import replace

    nothing = _nothing(TOO_CHEAP)
    problem = nothing.formulation.problem
    kept = [limit for limit in problem.limits if not limit.is_target]
    checked = 0
    for reach in nothing.explanation.reach:
        for end, outward in ((reach.lowest, -1.0), (reach.highest, 1.0)):
            if end is None or end <= 1e-3 or not reach.proved:
                continue
            inner = end / reach.limit.display
            inside, beyond = inner * (1.0 - 2e-3 * outward), inner * (1.0 + 5e-3 * outward)
            pinned = replace(reach.limit, lower=inside, upper=inside)
            assert solve(problem.asking([*kept, pinned]), seconds=1.0).volume_l == pytest.approx(5.0)
            side = {"upper": beyond, "lower": -float("inf")} if outward < 0 else {"lower": beyond}
            with pytest.raises(InfeasibleError):
                solve(problem.asking([*kept, replace(reach.limit, **({"upper": float("inf")} | side))]))
            checked += 1
    assert checked >= 3
