"""Printed formulas of 1817 to 1923 (`tests/files/formulas.csv`), predicted and solved for their own profile.

Predicted, the bitterness word fits how a drink is taken: what is drunk by the glass is no more than `strong`,
bitters by spoon or dash are more than any word. Solved within the strength, sugar and bitterness of its own
prediction, every plant is in it, within its usual dose.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from formulate.describe.no_recipe import NoRecipe
from formulate.describe.records import DrinkRecord
from formulate.errors import InfeasibleError
from formulate.files.library import Library
from formulate.formulation.bitterness import WORDS
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from tests.jobs.dosed_kitchen import DOSES, FORMULAS, bottle, grams_per_l, out_of_range, priced_shelf

LIBRARY = Library.built_in()
GENTIAN = 18.0  # 20 000 a gram, 90 % of it drawn out: bitterness value of a gram in a litre, as thousands
QUICK = 12
"""Every so many-th formula is in the quick run."""

LAW = "more of it than the law of today allows in what is drunk, so its own bitterness is out of reach"
MORE = "printed above the usual dose, which its bitterness rests on"
NO_LONGER = "the law lets so little of it in that its usual dose is never reached"
EXCEPTIONS = {
    "quassia and orange cordial": LAW,
    "cinchona and juniper wine bitters": LAW,
    "cinchona and bitter orange stomach essence": LAW,
    "ordinary wormwood and anise spirit (distilled)": LAW,
    "compound cinchona tincture": LAW,
    "cinchona tincture": LAW,
    "quassia tincture": LAW,
    "quassia infusion in cold water": LAW,
    "compound rhubarb tincture": LAW,
    "sweet rhubarb tincture": LAW,
    "rhubarb wine": LAW,
    "aromatic cinchona wine": LAW,
    "cinchona, lemon and wormwood medicated wine": LAW,
    "wormwood, fennel and anise essence": LAW,
    "gentian and cinchona sherry bitters": NO_LONGER,
    "quassia, gentian and orange bitters, watery": NO_LONGER,
    "cinchona, gentian, calumba and rhubarb stomach bitters": NO_LONGER,
    "cinchona, gentian and orange elixir": NO_LONGER,
    "gentian brandy bitters": NO_LONGER,
    "angelica and liquorice cordial": MORE,
    "orange wine bitters (with quinine salt)": MORE,
    "gentian and orange concentrated brandy bitters": MORE,
    "bitter orange tincture": MORE,
    "compound gentian infusion": "less gentian than a concentrate has: drunk by the wineglass, as medicine",
    "orange and cassia stomach elixir (with bitter extracts)": MORE,
}
BITTER_BY_THE_GLASS = {
    "wormwood, orange and gentian bitters": "6 g/L of wormwood: more thujone than the law of today allows",
}


def _plants(row: dict[str, str]) -> dict[str, float]:
    parts = (part.rpartition(":") for part in row["ingredients_g_per_l"].split("; "))
    return {name: float(grams) for name, _, grams in parts if name in DOSES}


def _is_concentrate(row: dict[str, str]) -> bool:
    return row["taken"] == "by spoon or dash"


KNOWN = [row for row in FORMULAS if _plants(row)]
CASES = [
    pytest.param(row, id=row["name"], marks=() if number % QUICK == 0 else pytest.mark.slow)
    for number, row in enumerate(KNOWN)
]


def _predicted(folder: Path, row: dict[str, str]) -> DrinkRecord:
    """A litre or so of it from 96 % spirit, water and sugar: strength and added sugar as printed."""
    priced_shelf(folder)
    plants = _plants(row)
    spirit_ml = 1000.0 * float(row["strength_pct_vol"]) / 96.0
    sugar_g = float(row["added_sugar_g_per_l"])
    own_water = sum(grams * LIBRARY.get(name).composition.get("water", 0.0) for name, grams in plants.items())
    water_ml = max(1000.0 - spirit_ml - 0.62 * sugar_g - own_water, 50.0)
    lines = {"neutral-spirit-96": f"{spirit_ml:.1f} mL", "water": f"{water_ml:.1f} mL"}
    lines |= {"white-sugar": f"{sugar_g:.1f} g"} | {name: f"{grams} g" for name, grams in plants.items()}
    listed = [f"  - {name}: {{amount: {text}}}" for name, text in lines.items() if not text.startswith("0.0")]
    kind = "kind: concentrate\n" if _is_concentrate(row) else ""
    path = folder / "recipe.yaml"
    path.write_text(
        f"recipe: A formula\nshelf: shelf.yaml\n{kind}steps:\n  - mix: {{strain: true}}\ningredients:\n"
        + "\n".join(listed)
        + "\n",
        encoding="utf-8",
    )
    return predict_recipe(path)


@pytest.mark.parametrize("row", CASES)
def test_bitterness_fits_how_it_is_taken_and_odd_doses_are_remarked(
    tmp_path: Path, row: dict[str, str]
) -> None:
    record = _predicted(tmp_path, row)
    bitterness = float(record.predicted.bitterness_value)
    strongest = max(upper for _, upper in WORDS.values())
    if not _is_concentrate(row):
        assert bitterness <= strongest or row["name"] in BITTER_BY_THE_GLASS
    elif "gentian-root" in _plants(row):
        assert bitterness > strongest
    remarked = " ".join(note.text for note in record.notes if note.code == "unusual_dose")
    volume = float(record.predicted.volume_l)
    grams = {name: each / volume for name, each in _plants(row).items()}
    odd = out_of_range(grams, grams, concentrate=_is_concentrate(row))
    assert all(name in remarked for name in odd), odd
    assert not any(f"{name} " in remarked for name in set(grams) - set(odd))


@pytest.mark.parametrize("row", CASES)
def test_solved_for_its_own_profile_every_plant_is_in_its_range(tmp_path: Path, row: dict[str, str]) -> None:
    drink = _predicted(tmp_path, row).predicted
    strength, sugar = float(drink.strength_pct_vol), float(drink.sugar_g_l)
    targets = {
        "strength": f"{max(strength - 0.5, 0.0):.2f} to {strength + 0.5:.2f} % vol",
        "sugar": f"{max(sugar - 10.0, 0.0):.1f} to {sugar + 10.0:.1f} g/L",
    }
    if drink.bitterness_value >= 2.0:
        targets["bitterness"] = f"like {float(drink.bitterness_value) / GENTIAN:.3f} g/L gentian-root"
    kind = "kind: concentrate\n" if _is_concentrate(row) else ""
    path = bottle(tmp_path, _plants(row), targets, kind)
    try:
        solved = solve_bottle(path)
    except InfeasibleError as error:
        nothing = error.explanation
        assert isinstance(nothing, NoRecipe)
        assert row["name"] in EXCEPTIONS, str(nothing)
        # By law, or by doses: and then it ends with a change that works.
        by_law = any(member.limit.rule for member in nothing.explanation.clash)
        assert by_law or (nothing.doses is not None and nothing.doses.changes)
        return
    missed = out_of_range(grams_per_l(solved), _plants(row), concentrate=_is_concentrate(row))
    told = " ".join(note.text for note in solved.record.notes if note.code == "law_before_dose")
    assert not missed or (EXCEPTIONS.get(row["name"]) == NO_LONGER and all(name in told for name in missed))
    assert (row["name"] in EXCEPTIONS) == bool(missed)


def test_enough_formulas_are_solved() -> None:
    assert len(KNOWN) - len(EXCEPTIONS) >= 60
    assert set(EXCEPTIONS) <= {row["name"] for row in KNOWN}


def test_every_formula_names_its_book() -> None:
    with (Path(__file__).parents[1] / "files" / "formulas.csv").open(encoding="utf-8", newline="") as file:
        assert all(row["book"] and row["year"] for row in csv.DictReader(file))
