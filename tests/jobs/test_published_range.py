"""Bottles that nothing keeps from being nearly all sugar: held at the end of the published densities.

ICUMSA SPS-4 gives the density of sugar solutions up to 0.85 g/g. The ingredients' own composition (sucrose
and water in white sugar, 40 % vol in the spirit) is the only other thing the checks below rest on.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import RunCommand

SHELF = """\
name: Test shelf
currency: EUR
offers:
  vodka-40: {price: 13 EUR/kg}
  white-sugar: {price: 0.2 EUR/kg}
  honey: {price: 0.3 EUR/kg}
  citric-acid: {price: 0.1 EUR/kg}
"""

DEAR_SPIRIT = """\
name: Mostly sugar
size: 1 L bottled
shelf: shelf.yaml
targets: {strength: at least 5 % vol}
ingredients: [vodka-40, white-sugar]
"""

DRY = """\
name: No water at all
size: 1 L bottled
shelf: shelf.yaml
targets: {sugar: 100 to 200 g/L}
ingredients: [white-sugar, citric-acid]
"""


@pytest.fixture
def bottle(tmp_path: Path) -> Path:
    (tmp_path / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    return tmp_path / "bottle.yaml"


def test_the_cheapest_recipe_stands_at_the_end_of_the_range_and_says_so(
    bottle: Path, run_here: RunCommand
) -> None:
    bottle.write_text(DEAR_SPIRIT, encoding="utf-8")
    done = run_here("solve", bottle, "--json")
    assert (done.exit_code, done.crash) == (0, "")
    answer = json.loads(done.stdout)
    grams = {line["ingredient"]: line["mass_g"] for line in answer["recipe"]}
    dissolved = answer["predicted"]["sugar_g_l"] / answer["predicted"]["density_kg_m3"]
    # Of white sugar's 99.98 % that dissolve 99.8 % are sucrose; nothing else here brings anything dissolved.
    assert dissolved * 99.98 / 99.8 == pytest.approx(0.85, abs=1e-5)
    assert grams["white-sugar"] / sum(grams.values()) == pytest.approx(0.85, rel=2e-3)
    assert answer["status"] == "optimal"
    assert "most_dissolved" in [note["code"] for note in answer["warnings"]]


def test_honey_and_acid_up_to_the_end_give_a_recipe(bottle: Path, run_here: RunCommand) -> None:
    listed = "[vodka-40, white-sugar, honey, citric-acid]"
    bottle.write_text(DEAR_SPIRIT.replace("[vodka-40, white-sugar]", listed), encoding="utf-8")
    done = run_here("solve", "--all", bottle)
    assert (done.exit_code, done.crash) == (0, "")


def test_with_water_to_spare_nothing_is_said(bottle: Path, run_here: RunCommand) -> None:
    text = DEAR_SPIRIT.replace("at least 5", "at least 20")
    bottle.write_text(text, encoding="utf-8")
    answer = json.loads(run_here("solve", bottle, "--json").stdout)
    assert answer["predicted"]["strength_pct_vol"] == pytest.approx(20.0, abs=1e-4)
    assert "most_dissolved" not in [note["code"] for note in answer["warnings"]]


def test_too_little_liquid_is_named_as_what_stands_in_the_way(bottle: Path, run_here: RunCommand) -> None:
    bottle.write_text(DRY, encoding="utf-8")
    done = run_here("solve", "--all", bottle)
    assert (done.exit_code, done.crash) == (3, "")
    assert "at most 85 % by mass, where published densities end" in done.stdout + done.stderr
