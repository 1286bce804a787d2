"""A bar's own figures that cannot all be right are told at their place, before any work with them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from formulate.bar.pantry import Pantry
from formulate.blend.materials import density_as_bought_kg_m3
from formulate.errors import SpecError
from formulate.files.fields import QUININE_HYDROCHLORIDE
from formulate.files.library import Library
from formulate.files.listed_shelf import load_shelf
from formulate.jobs.check import check_files
from formulate.jobs.predict import predict_recipe
from formulate.physics.bitterness import QUININE_HYDROCHLORIDE_BITTERNESS_VALUE

OFFERS = "name: Test shelf\ncurrency: EUR\noffers: {vodka-40: {pack: 70 cl, price: 11 EUR}}\ningredients:\n"
HALF_SYRUP = "composition: {water: 50 % w/w, sucrose: 50 % w/w}"


def _shelf(folder: Path, entry: str) -> Path:
    path = folder / "shelf.yaml"
    path.write_text(f"{OFFERS}  thing: {{{entry}}}\n", "utf-8")
    return path


def test_a_liqueur_known_by_its_label_alone(tmp_path: Path) -> None:
    """% vol and sugar of the label come back from its composition; each alone, or too much, is refused."""
    _shelf(tmp_path, "name: Orange liqueur, strength: 40 % vol, sugar: 250 g/L")
    (tmp_path / "glass.yaml").write_text(
        "recipe: Glass\nshelf: shelf.yaml\ningredients:\n  - thing: {amount: 500 mL}\n", encoding="utf-8"
    )
    drink = predict_recipe(tmp_path / "glass.yaml").predicted
    assert (drink.strength_pct_vol, drink.sugar_g_l) == pytest.approx((40.0, 250.0), rel=1e-6)
    assert drink.volume_l == pytest.approx(0.5, rel=1e-6)
    for entry, told in (
        ("name: Liqueur, sugar: 250 g/L", "stands without a strength"),
        ("name: Liqueur, strength: 40 % vol, sugar: 1250 g/L", "leaves no room for water at 40 % vol"),
    ):
        _shelf(tmp_path, entry)
        with pytest.raises(SpecError, match=told):
            predict_recipe(tmp_path / "glass.yaml")


# A syrup of equal masses has 1229.6 kg/m3 (ICUMSA SPS-4), honey of 17 % water 1.42 g/mL (handbooks, from
# memory), table wine about 0.99.
@pytest.mark.parametrize(
    ("entry", "key"),
    [
        (f"name: Syrup, density: 1064 kg/m3, {HALF_SYRUP}", "density"),
        (f"name: Syrup, density: 1.3 g/mL, {HALF_SYRUP}", "density"),
        ("based_on: honey, density: 1064 kg/m3", "density"),
        ("based_on: dry-white-wine-12, density: 1.3 g/mL", "density"),
    ],
)
def test_a_density_that_contradicts_the_composition_is_refused(tmp_path: Path, entry: str, key: str) -> None:
    with pytest.raises(SpecError) as caught:
        check_files([_shelf(tmp_path, entry)])
    (problem,) = caught.value.problems
    assert problem.path == f"ingredients.thing.{key}"
    assert problem.location is not None
    assert problem.location.line == 5
    assert re.search(r"do not fit: [0-9.]+ kg/m3 is given, .* makes about [0-9]{3,4}\.", problem.message)


@pytest.mark.parametrize(
    "entry",
    [
        f"name: Syrup, density: 1230 kg/m3, {HALF_SYRUP}",
        f"name: Syrup, density: 1.18 g/mL, {HALF_SYRUP}",  # 4 % off: a poor measurement, but one
        "based_on: honey, density: 1.42 g/mL",
        # Of a crystal and of fruit the mixture model knows no density: theirs is taken as it is.
        "based_on: white-sugar, density: 0.85 g/mL",
        "based_on: damson, density: 0.75 g/mL",
    ],
)
def test_a_density_that_may_be_right_is_taken(tmp_path: Path, entry: str) -> None:
    (checked,) = check_files([_shelf(tmp_path, entry)])
    assert checked.summary.startswith("1 thing on offer, 1 own value,")


@pytest.mark.parametrize(
    ("entry", "density_kg_m3"),
    [
        # 40 % vol: 948.05 kg/m3, OIML R 22 table; the wine's own 990 must not stay behind.
        ("based_on: dry-white-wine-12, strength: 40 % vol", 948.05),
        # 50 % sucrose: 1229.65 kg/m3, ICUMSA SPS-4; the honey's own 1420 must not stay behind.
        (f"based_on: honey, {HALF_SYRUP}", 1229.65),
    ],
)
def test_another_strength_or_composition_brings_its_own_density(
    tmp_path: Path, entry: str, density_kg_m3: float
) -> None:
    pantry = Pantry(load_shelf(_shelf(tmp_path, entry)), Library.built_in())
    thing = pantry.unaged("thing")
    assert thing.density_kg_m3 is None
    assert density_as_bought_kg_m3(thing) == pytest.approx(density_kg_m3, abs=0.02)


def test_the_most_bitter_value_is_the_scale_of_the_pharmacopoeia() -> None:
    # Ph. Eur. 2.8.15 sets quinine hydrochloride at 200 000; the rim and the formulas must agree on it.
    assert QUININE_HYDROCHLORIDE == QUININE_HYDROCHLORIDE_BITTERNESS_VALUE == 200_000
