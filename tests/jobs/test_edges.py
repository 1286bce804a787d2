"""What the cheapest recipe leaves out, and how near it stands to the limits."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.describe.solved import SolvedBottle
from formulate.jobs.buy import buy_bottle
from formulate.jobs.solve import solve_bottle

BOTTLE = """\
name: Raspberry liqueur
size: 2 L bottled
shelf: shelf.yaml
targets:
  strength: 20 ± 0.3 % vol
  sugar: 200 ± 5 g/L
ingredients:
  - vodka-40
  - water
  - raspberry: {at_most: 300 g per L bottled}
  - white-sugar
"""
SHELF = """\
currency: EUR
offers:
  vodka-40: {price: 12 EUR/L}
  raspberry: {price: 8 EUR/kg}
  white-sugar: {price: 1.20 EUR/kg}
  honey: {price: 9 EUR/kg}
"""


def _written(folder: Path, bottle: str = BOTTLE) -> Path:
    (folder / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    (folder / "bottle.yaml").write_text(bottle, encoding="utf-8")
    return folder / "bottle.yaml"


def _note(solved: SolvedBottle, code: str) -> str:
    return " ".join(note.text for note in solved.record.notes if note.code == code)


def test_a_fruit_that_is_listed_and_not_used_is_named(tmp_path: Path) -> None:
    """No target needs the fruit, and sugar is cheaper: a raspberry that may be left out is."""
    listed = solve_bottle(_written(tmp_path))
    assert "raspberry" in {line.ingredient for line in listed.record.recipe}
    assert _note(listed, "not_used") == ""
    any_dose = "doses: any\n" + BOTTLE
    path = _written(tmp_path, any_dose)
    solved = solve_bottle(path)
    assert "raspberry" not in {line.ingredient for line in solved.record.recipe}
    assert _note(solved, "not_used") == ("Not used: raspberry. Give it an `at_least` if the drink needs it.")
    assert "not_used" in {note.code for note in buy_bottle(path).notes}
    two = solve_bottle(_written(tmp_path, any_dose + "  - honey\n"))
    assert "raspberry and honey. Give an `at_least` to what the drink needs." in _note(two, "not_used")
    needed = solve_bottle(_written(tmp_path, any_dose.replace("at_most", "at_least")))
    assert _note(needed, "not_used") == ""
    optional = BOTTLE.replace("{at_most: 300 g per L bottled}", "{optional: true}")
    without = solve_bottle(_written(tmp_path, optional))
    assert _note(without, "not_used") == ""
    assert _note(without, "left_out") == "Left out, as it may be: raspberry."


def test_water_that_is_not_needed_is_no_news(tmp_path: Path) -> None:
    strong = "doses: any\n" + BOTTLE.replace("20 ± 0.3", "40 ± 0.3").replace("  sugar: 200 ± 5 g/L\n", "")
    solved = solve_bottle(_written(tmp_path, strong.replace("40 ± 0.3", "exactly 40")))
    assert "water" not in _note(solved, "not_used")


def test_a_recipe_made_again_says_what_it_does_without(run_here: RunCommand) -> None:
    recipe = ROOT / "examples" / "recipes" / "quince-cordial.yaml"
    done = run_here("reformulate", "--all", recipe, "--cheapest", "--price", "citric-acid: 60 EUR/kg")
    assert done.exit_code == 0
    assert "Not used: honey" in " ".join(done.stdout.split())


def test_the_middle_of_each_band_is_aimed_at(tmp_path: Path, run_here: RunCommand) -> None:
    """19.7 to 20.3 % vol and 195 to 205 g/L: the middle tenths are 19.97 to 20.03 and 199.5 to 200.5."""
    path = _written(tmp_path)
    edge, middle = solve_bottle(path), solve_bottle(path, middle=True)
    assert float(edge.record.predicted.strength_pct_vol) == pytest.approx(19.7, abs=1e-4)
    assert "at the edge of what you allow in strength and sugar" in _note(edge, "at_the_edge")
    assert float(middle.record.predicted.strength_pct_vol) == pytest.approx(19.97, abs=1e-4)
    assert float(middle.record.predicted.sugar_g_l) == pytest.approx(199.5, abs=1e-3)
    assert _note(middle, "at_the_edge") == ""
    # What was asked is shown as asked, and nothing is at its limit.
    bands = {target.target: (target.lower, target.upper) for target in middle.record.targets}
    assert bands["strength"] == pytest.approx((19.7, 20.3))
    assert bands["sugar"] == pytest.approx((195.0, 205.0))
    shown = run_here("solve", "--all", path, "--middle", "--weigh").stdout
    assert "at its limit" not in shown
    assert "19.7 to 20.3" in shown
    assert buy_bottle(path, middle=True).drink.predicted.sugar_g_l == pytest.approx(199.5, abs=1e-3)


def test_one_sided_aims_stay_where_they_are(tmp_path: Path) -> None:
    path = _written(tmp_path, BOTTLE.replace("200 ± 5 g/L", "at least 200 g/L"))
    solved = solve_bottle(path, middle=True)
    assert float(solved.record.predicted.sugar_g_l) == pytest.approx(200.0, abs=1e-3)
