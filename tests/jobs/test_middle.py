"""`--middle` outside `solve`: saved recipes, other sizes and buying lists in the middle of each band."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.jobs.options import read_circumstances
from formulate.jobs.reformulate import reformulate
from formulate.jobs.scale import scale_recipe

BOTTLES, RECIPES = ROOT / "examples" / "bottles", ROOT / "examples" / "recipes"
LEMON = RECIPES / "lemon-leaf-liqueur.yaml"
MIDDLE = 0.1  # the middle tenth of a band


def _middles(targets: list[dict[str, float]]) -> dict[str, tuple[float, float]]:
    """The value of each two-sided target, and the width of its band off the middle it may be."""
    return {
        str(one["target"]): (one["value"] - (one["lower"] + one["upper"]) / 2.0, one["upper"] - one["lower"])
        for one in targets
        if one["lower"] is not None and one["upper"] is not None and one["target"] != "cost"
    }


@pytest.mark.parametrize("how", [["reformulate", LEMON], ["scale", LEMON, "--to", "6 L bottled"]])
def test_a_saved_recipe_is_brought_to_the_middle(how: list[object], run_here: RunCommand) -> None:
    edge = json.loads(run_here(*how, "--json").stdout)
    done = run_here(*how, "--middle", "--json")
    assert (done.exit_code, done.crash) == (0, "")
    document = json.loads(done.stdout)
    off = _middles(document["targets"])
    assert off
    for name, (by, width) in off.items():
        assert abs(by) <= MIDDLE / 2.0 * width * 1.001, name
    assert any(abs(by) > 0.4 * width for by, width in _middles(edge["targets"]).values())


def test_in_another_size_it_is_the_least_change_and_then_the_size() -> None:
    best = reformulate(LEMON, read_circumstances(), middle=True).best
    scaled = scale_recipe(LEMON, "6 L bottled", middle=True)
    ratio = 6.0 / best.answer.volume_l
    for line in best.record.recipe:
        (other,) = [one for one in scaled.recipe.ingredients if one.id == line.ingredient]
        assert other.amount.value == pytest.approx(line.mass_kg * ratio, rel=1e-6), line.ingredient
    assert scaled.after_l == pytest.approx(6.0)


def test_a_recipe_without_a_bottle_has_no_middle(tmp_path: Path, run_here: RunCommand) -> None:
    path = tmp_path / "loose.yaml"
    path.write_text("recipe: Loose\ningredients:\n  - vodka-40: {amount: 1 kg}\n", encoding="utf-8")
    done = run_here("scale", "--all", path, "--to", "2 L bottled", "--middle")
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert "names no bottle file" in " ".join(done.stderr.split())


def test_the_list_says_of_which_recipe_it_is(run_here: RunCommand) -> None:
    path = BOTTLES / "lemon-leaf-liqueur.yaml"
    plain, middle = (" ".join(run_here("buy", path, *more).stdout.split()) for more in ([], ["--middle"]))
    assert "The recipe is the cheapest by what is used, as `solve` gives it" in plain
    assert (
        "The recipe is the cheapest by what is used in the middle of each band, as `solve --middle` gives it"
        in middle
    )
    # True: what `solve --middle` says is used is what the list says is used.
    solved = json.loads(run_here("solve", path, "--middle", "--json").stdout)
    listed = json.loads(run_here("buy", path, "--middle", "--json").stdout)
    used = {one["ingredient"]: one["used_g"] for one in listed["lines"] if one["used_g"]}
    sugar = next(one["mass_g"] for one in solved["recipe"] if one["ingredient"] == "white-sugar")
    assert used["white-sugar"] == pytest.approx(sugar, rel=1e-9)


def test_a_list_fitted_to_packs_is_held_against_the_middle(run_here: RunCommand) -> None:
    done = run_here("buy", BOTTLES / "amber-digestif.yaml", "--middle", "--adapt")
    text = " ".join(done.stdout.split())
    assert "less than for the cheapest recipe by use in the middle of each band" in text


def test_where_not_all_middles_can_be_had_it_comes_as_near_as_it_can(
    tmp_path: Path, run_here: RunCommand
) -> None:
    """It may cost more than at the edge and less than in the middle: what is off is named.

    Held against the edge: together the targets stand nearer their middles than the cheapest recipe does, the
    limit on the cost is kept, and what is not named is in its middle tenth.
    """
    text = (BOTTLES / "damson-aperitif.yaml").read_text("utf-8")
    path = tmp_path / "bottle.yaml"
    path.write_text(text.replace("../shelf.yaml", str(BOTTLES.parent / "shelf.yaml")), encoding="utf-8")
    edge, middle = (
        json.loads(run_here("solve", path, "--json", *more).stdout) for more in ([], ["--middle"])
    )
    most = (edge["cost"]["per_litre"] + middle["cost"]["per_litre"]) / 2.0
    dear = re.sub(r"cost: at most \S+ EUR", f"cost: at most {most:.4f} EUR", path.read_text("utf-8"))
    path.write_text(dear, encoding="utf-8")
    done = run_here("solve", path, "--middle", "--json")
    assert (done.exit_code, done.crash) == (0, "")
    document = json.loads(done.stdout)
    assert document["cost"]["per_litre"] <= most * (1.0 + 1e-4)
    (note,) = [one["text"] for one in document["warnings"] if one["code"] == "in_the_middle"]
    off, before = _middles(document["targets"]), _middles(edge["targets"])
    assert sum(abs(by) / width for by, width in off.values()) < 0.7 * sum(
        abs(by) / width for by, width in before.values()
    )
    away = {name for name, (by, width) in off.items() if abs(by) > MIDDLE / 2.0 * width * 1.001}
    assert away
    assert all(name in note for name in away)
    assert not any(name in note for name in set(off) - away)
