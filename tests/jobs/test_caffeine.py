"""Caffeine as a target, by figures worked out by hand.

Contents of the library (from memory, each said so there): roast arabica 12 mg/g, guarana seed 40 mg/g. The
arithmetic here is of masses alone; only the volume of a drink is taken from the program, and held to the
density of spirit in OIML R 22.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, RunCommand

COFFEE_MG_G, GUARANA_MG_G = 12.0, 40.0
SHELF = """\
name: Test shelf
currency: EUR
offers:
  neutral-spirit-96: {pack: 1 L, price: 14 EUR}
  vodka-40: {pack: 70 cl, price: 9 EUR}
  water: {pack: 10 L, price: 1 EUR}
  white-sugar: {pack: 1 kg, price: 1.20 EUR}
  coffee-roasted: {pack: 1 kg, price: 18 EUR}
  guarana-seed: {pack: 1 kg, price: 30 EUR}
  cold-brew: {pack: 1 L, price: 4 EUR}
ingredients:
  cold-brew:
    name: Cold brew of the house
    composition: {water: 99 % w/w, other_soluble: 1 % w/w}
    attributes: {caffeine: 1 mg/g}
    sources:
      - {figures: [composition, attributes], source: our own brew, confidence: measured here}
"""
BOTTLE = """\
name: Night liqueur
size: 5 L bottled
shelf: shelf.yaml
targets:
  strength: exactly 25 % vol
  sugar: exactly 200 g/L
  caffeine: ASKED
ingredients:
  - neutral-spirit-96
  - water
  - white-sugar
  - coffee-roasted: {exactly: 20 g per L bottled}
  - guarana-seed
doses: any
"""


@pytest.fixture
def bar(tmp_path: Path) -> Path:
    (tmp_path / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    return tmp_path


def _bottle(bar: Path, caffeine: str) -> Path:
    path = bar / "night.yaml"
    path.write_text(BOTTLE.replace("ASKED", caffeine), encoding="utf-8")
    return path


def _document(run_here: RunCommand, *arguments: object) -> dict[str, Any]:
    done = run_here(*arguments, "--json")
    assert (done.exit_code, done.crash) == (0, ""), done.stderr
    document: dict[str, Any] = json.loads(done.stdout)
    return document


def _caffeine(document: dict[str, Any]) -> dict[str, Any]:
    (found,) = [one for one in document["targets"] if one["target"] == "caffeine"]
    return dict(found)


def test_what_the_cake_keeps_is_lost(bar: Path, run_here: RunCommand) -> None:
    """60 g of coffee in 1 kg of vodka: what dissolves joins the liquor, and 2.1 g a gram stay in the cake."""
    _bottle(bar, "600 to 700 mg/L")
    (bar / "plain.yaml").write_text(
        "recipe: Coffee in vodka\nbottle: night.yaml\nshelf: shelf.yaml\ningredients:\n"
        "  - vodka-40: {amount: 1 kg}\n  - coffee-roasted: {amount: 60 g}\n",
        encoding="utf-8",
    )
    document = _document(run_here, "predict", bar / "plain.yaml")
    liquor_g = 1000.0 + 60.0 * (0.03 + 0.002 + 0.005 + 0.015 + 0.20)
    bottled_g = liquor_g - 2.1 * 60.0
    caffeine_mg = COFFEE_MG_G * 60.0 * bottled_g / liquor_g
    target = _caffeine(document)
    assert target["unit"] == "mg/L"
    assert target["value"] == pytest.approx(caffeine_mg / document["predicted"]["volume_l"], rel=1e-9)
    # 40 % vol weighs 948.05 kg/m3 (OIML R 22); 1.5 % of solids make it a little heavier.
    assert target["value"] == pytest.approx(caffeine_mg / (bottled_g / 953.0), rel=0.01)
    assert document["predicted"]["attributes_g_l"]["caffeine"] == pytest.approx(target["value"] / 1000.0)
    assert "Caffeine is reckoned" in " ".join(one["text"] for one in document["warnings"])


def test_the_cheapest_recipe_takes_the_cheaper_caffeine(bar: Path, run_here: RunCommand) -> None:
    """A gram of it costs 0.75 EUR in guarana and 1.50 in coffee: all but what must be is guarana."""
    document = _document(run_here, "solve", _bottle(bar, "exactly 800 mg/L"))
    grams = {line["ingredient"]: line["mass_g"] for line in document["recipe"]}
    held_mg = COFFEE_MG_G * grams["coffee-roasted"] + GUARANA_MG_G * grams["guarana-seed"]
    # What the two cakes keep, 2.1 and 1.2 g a gram, holds as much in a gram as what is bottled.
    kept_g = 2.1 * grams["coffee-roasted"] + 1.2 * grams["guarana-seed"]
    bottled_g = document["predicted"]["mass_kg"] * 1000.0
    assert grams["coffee-roasted"] == pytest.approx(100.0)
    assert held_mg * bottled_g / (bottled_g + kept_g) == pytest.approx(800.0 * 5.0, rel=1e-6)
    assert _caffeine(document)["value"] == pytest.approx(800.0, rel=1e-7)


def test_a_plain_value_takes_the_usual_tolerance(bar: Path, run_here: RunCommand) -> None:
    target = _caffeine(_document(run_here, "solve", _bottle(bar, "0.8 g/L")))
    assert (target["lower"], target["upper"]) == pytest.approx((720.0, 880.0))
    own = SHELF.replace("offers:", "usual_tolerance: {caffeine: 5 %}\noffers:")
    (bar / "shelf.yaml").write_text(own, encoding="utf-8")
    target = _caffeine(_document(run_here, "solve", _bottle(bar, "800 mg/L")))
    assert (target["lower"], target["upper"]) == pytest.approx((760.0, 840.0))


def test_its_price_is_that_of_a_milligram_more(bar: Path, run_here: RunCommand) -> None:
    costs = [
        _document(run_here, "solve", _bottle(bar, f"exactly {aim} mg/L"))["cost"]["per_litre"]
        for aim in (790, 810)
    ]
    price = _caffeine(_document(run_here, "solve", _bottle(bar, "exactly 800 mg/L")))["shadow_price"]
    assert price == pytest.approx((costs[1] - costs[0]) / 20.0, rel=1e-3)
    # Guarana at 30 EUR/kg and 40 mg/g, and the little liquor that its cake keeps.
    assert 30.0 / 40_000.0 < price < 1.5 * 30.0 / 40_000.0


def test_tradeoff_varies_it_though_the_file_does_not_ask(bar: Path, run_here: RunCommand) -> None:
    asked = _document(run_here, "solve", _bottle(bar, "exactly 600 mg/L"))["cost"]["per_litre"]
    path = bar / "silent.yaml"
    path.write_text(BOTTLE.replace("  caffeine: ASKED\n", ""), encoding="utf-8")
    ends = ("--from", "600 mg/L", "--to", "1 g/L", "--points", "3")
    document = _document(run_here, "tradeoff", path, "--vary", "caffeine", *ends)
    assert (document["unit"], [one["value"] for one in document["points"]]) == (
        "mg/L",
        [600.0, 800.0, 1000.0],
    )
    assert document["points"][0]["low"] == pytest.approx(asked, rel=1e-6)
    shown = run_here("tradeoff", path, "--vary", "caffeine", *ends).stdout
    assert "caffeine mg/L" in shown


def test_screens_show_it_where_it_is_asked_for(bar: Path, run_here: RunCommand) -> None:
    shown = run_here("solve", "--all", _bottle(bar, "exactly 800 mg/L")).stdout
    assert "caffeine           800  mg/L bottled" in shown
    assert "exactly 800" in shown
    refused = run_here("solve", "--all", _bottle(bar, "lots"))
    assert refused.exit_code == 2
    assert "targets.caffeine" in refused.stderr


def test_a_drink_in_the_glass(bar: Path, run_here: RunCommand) -> None:
    """40 mL of brew at 1 mg/g in 80 mL: 40 mg, so 500 mg/L but for the brew's density and shrinking."""
    path = bar / "drink.yaml"
    path.write_text(
        "drink: Late shift\nshelf: shelf.yaml\nmethod: batched\ntargets: {caffeine: 450 to 550 mg/L}\n"
        "ingredients:\n  - vodka-40: 40 mL\n  - cold-brew: 40 mL\n",
        encoding="utf-8",
    )
    document = _document(run_here, "pour", path)
    assert document["served"]["caffeine_mg_l"] == pytest.approx(500.0, rel=0.02)
    assert "caffeine" in run_here("pour", "--all", path).stdout
    assert document["targets"] == [{"target": "caffeine", "lower": 450.0, "upper": 550.0}]


def test_a_batch_known_by_its_figures_says_nothing_of_it(bar: Path, run_here: RunCommand) -> None:
    figures = ("--volume", "5 L", "--strength", "24 % vol", "--sugar", "200 g/L")
    bottle = _bottle(bar, "exactly 800 mg/L")
    document = _document(run_here, "adjust", "--bottle", bottle, *figures)
    assert "caffeine" in document["unknown"]


def test_nobody_brings_any(bar: Path, run_here: RunCommand) -> None:
    path = bar / "none.yaml"
    text = BOTTLE.replace("ASKED", "800 mg/L")
    path.write_text(text[: text.index("  - coffee-roasted")], encoding="utf-8")
    done = run_here("solve", "--all", path)
    assert (done.exit_code, done.crash) == (2, "")
    assert "no ingredient here says how much caffeine it brings" in " ".join(done.stderr.split())


def test_one_row_of_code_knows_it() -> None:
    """A target is a row of the table: no file of questions, drinks or screens names this one.

    That it outlasts bitterness on the shelf is a fact of `bar/potency`, and was before it was a target.
    """
    named = [
        path.relative_to(ROOT).as_posix()
        for path in sorted((ROOT / "formulate").rglob("*.py"))
        if re.search(r"[\"']caffeine[\"']", path.read_text(encoding="utf-8"))
    ]
    assert named == ["formulate/bar/potency.py", "formulate/files/measures.py"]
