"""Drinks and mixers as sold, that name a restricted plant: usable by one line, and counted all the same.

Limits: trade notes, sections 3.1 and 3.2 (Reg. (EC) 1334/2008 Annex III, 21 CFR 172.510 and 172.575,
Directive 88/388/EEC); contents of the plants from memory.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from formulate.bar.pantry import Pantry
from formulate.bar.permitted import Rules
from formulate.bar.plant_names import names_it
from formulate.blend.materials import LIQUOR, gather
from formulate.describe.records import DrinkRecord
from formulate.errors import SpecError
from formulate.files.ingredient import Ingredient
from formulate.files.library import Library
from formulate.files.limit_rows import caps, contents
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from formulate.rules.law import held_at_worst
from tests.batches import batch_of
from tests.jobs.restricted_kitchen import bottle, recipe

SOLD = "sources: [{figures: [restricted], source: lawful as sold, confidence: common practice}]"


def with_own(folder: Path, name: str, given: str, where: str = "jurisdiction: EU", more: str = "") -> Path:
    """Write a drink of 900 g of vodka and 100 g of something bought."""
    named = "" if "name:" in given or "based_on:" in given else f"name: {name}, "
    own = f"ingredients:\n  {name}: {{{named}{given}}}\n{more}"
    bottle(folder, ["gentian-root"], more=own, shelf_rules=where)
    return recipe(folder, {"vodka-40": "900 g", name: "100 g"}, name="drink.yaml")


def held(record: DrinkRecord) -> dict[str, float]:
    assert record.law is not None
    return {cap.rule: cap.value for cap in record.law.caps}


# ---- liqueurs and bitters ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "figures", "rule", "mg_kg"),
    [
        # What a drink may hold is the most it may be sold with; a tenth of it is in the kilogram.
        ("peppermint-liqueur", "{pulegone: 0.1 mg/g, menthofuran: 0.2 mg/g}", "eu-pulegone", 10.0),
        ("wormwood-bitters", "{thujone: 0.035 mg/g}", "eu-thujone-artemisia", 3.5),
        ("sage-liqueur", "{thujone: 0.01 mg/g}", "eu-thujone", 1.0),  # no Artemisia: 10, not 35
        ("creme-de-noyaux", "{hydrocyanic-acid: 0.035 mg/g}", "eu-hydrocyanic-acid", 3.5),
    ],
)
def test_the_line_that_the_refusal_tells_makes_a_bought_drink_usable(
    tmp_path: Path, name: str, figures: str, rule: str, mg_kg: float
) -> None:
    with pytest.raises(SpecError) as caught:
        predict_recipe(with_own(tmp_path, name, "strength: 24 % vol"))
    (problem,) = caught.value.problems
    told = re.search(r"put `(restricted: [^`]*)`", problem.message)
    assert told is not None
    line = told[1]
    assert line == f"restricted: {figures}, {SOLD}"
    record = predict_recipe(with_own(tmp_path, name, f"strength: 24 % vol, {line}"))
    assert held(record)[rule] == pytest.approx(mg_kg, rel=1e-9)
    assert record.law is not None
    assert record.law.over == ()
    assert "own_content" in {note.code for note in record.notes}


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("wormwood-bitters", "strength: 44 % vol, restricted: {thujone: 0.034 mg/g}"),  # under what is lawful
        ("wormwood-tincture", "strength: 60 % vol, restricted: {thujone: 0.035 mg/g}"),  # no drink as sold
        ("house-wormwood-bitters", "strength: 44 % vol, restricted: {thujone: 0.035 mg/g}"),
        ("wormwood-infusion", "strength: 44 % vol, restricted: {thujone: 0.035 mg/g}"),
        # Based on the plant it counts as the plant.
        ("green-bitters", "based_on: wormwood-herb, strength: 44 % vol, restricted: {thujone: 0.035 mg/g}"),
        ("wormwood-herb", "strength: 1 % vol, restricted: {thujone: 0.035 mg/g}"),
    ],
)
def test_less_than_that_or_of_what_is_no_bought_drink_counts_only_when_measured(
    tmp_path: Path, name: str, given: str
) -> None:
    with pytest.raises(SpecError, match="thujone is toxic"):
        predict_recipe(with_own(tmp_path, name, f"{given}, {SOLD}"))


def test_two_bought_drinks_do_not_lead_over_what_each_may_hold(tmp_path: Path) -> None:
    line = f"strength: 44 % vol, restricted: {{thujone: 0.035 mg/g}}, {SOLD}"
    path = with_own(tmp_path, "wormwood-bitters", line, "jurisdiction: US")
    assert held(predict_recipe(path))["us-thujone"] == pytest.approx(3.5, rel=1e-9)
    # 35 mg/kg of the EU in a drink of the US, of which it may be 10 / 35 at the most.
    path = recipe(tmp_path, {"vodka-40": "700 g", "wormwood-bitters": "300 g"}, name="drink.yaml")
    record = predict_recipe(path)
    assert record.law is not None
    assert [cap.rule for cap in record.law.over] == ["us-thujone"]  # 10.5 mg/kg


def test_of_an_unknown_extract_inside_a_house_made_thing_its_own_recipe_is_named(tmp_path: Path) -> None:
    more = "house_made:\n  my-bitter: {recipe: inner.yaml}\n"
    with_own(tmp_path, "sage-extract", "strength: 50 % vol", more=more)
    recipe(tmp_path, {"vodka-40": "500 g", "sage-extract": "5 g"}, name="inner.yaml")
    with pytest.raises(SpecError) as caught:
        predict_recipe(recipe(tmp_path, {"vodka-40": "500 g", "my-bitter": "5 g"}, name="drink.yaml"))
    (problem,) = caught.value.problems
    assert problem.message == (
        "my-bitter may not be used as it stands: nobody says how much thujone something in its recipe holds, "
        "which the law limits. `formulate predict` with that recipe names it and says what to do."
    )
    with pytest.raises(SpecError, match="sage-extract may not be used as it stands"):
        predict_recipe(tmp_path / "inner.yaml")


# ---- tonic water ------------------------------------------------------------------------------------


@pytest.mark.parametrize("title", ["Tonic water", "Indian tonic water (quinine)", "Tonic water with quinine"])
@pytest.mark.parametrize("where", ["EU", "US"])
def test_tonic_water_counts_at_what_it_may_be_sold_with(tmp_path: Path, title: str, where: str) -> None:
    """83 ppm as quinine in carbonated drinks, 21 CFR 172.575; a tenth of it in the kilogram."""
    given = f'name: "{title}", composition: {{water: 92 % w/w, sucrose: 8 % w/w}}'
    record = predict_recipe(with_own(tmp_path, "our-mixer", given, f"jurisdiction: {where}"))
    (value,) = held(record).values()
    assert value == pytest.approx(8.3, rel=1e-9)
    assert "bittering_salts" not in {note.code for note in record.cautions}


@pytest.mark.parametrize("title", ["Quinine sulfate", "Quinine syrup", "Quinine for tonic"])
def test_other_quinine_is_still_a_salt(title: str) -> None:
    (row,) = [row for row in contents().rows if row.id == "quinine-salts"]
    assert names_it(row, Ingredient(id="our-mixer", name=title))


# ---- herbs in drinks without alcohol ----------------------------------------------------------------


def test_a_cordial_of_herbs_alone_may_be_answered_for(tmp_path: Path) -> None:
    """The EU's limits on estragole and methyleugenol do not count where herbs alone flavour (from memory)."""
    basil = "ingredients:\n  fresh-basil: {name: Fresh basil, family: herb, composition: {water: 90 % w/w}}\n"
    given = "\n".join(
        f"  - {{limit: {limit}, name: bar manager, reason: herbs alone flavour it, date: 2026-11-20}}"
        for limit in ("eu-estragole-soft", "eu-methyleugenol-soft")
    )
    line = "fresh-basil: {exactly: 20 g per L bottled}"
    more = f"  fresh-basil: {{price: 20 EUR/kg}}\n{basil}"
    path = bottle(
        tmp_path, [line], targets="", rules=f"jurisdiction: EU\nlifted:\n{given}", more=more
    )  # fmt: skip
    path.write_text(path.read_text("utf-8").replace("28 ± 0.3 % vol", "at most 0.5 % vol"), "utf-8")
    record = solve_bottle(path).record
    assert record.law is not None
    assert record.law.over == ()
    assert [note.code for note in record.notes[:2]] == ["limit_lifted", "limit_lifted"]
    plain = recipe(tmp_path, {"water": "1 kg", "white-sugar": "100 g", "fresh-basil": "20 g"}, name="c.yaml")
    told = [note.text for note in predict_recipe(plain).notes if note.code == "over_limit"]
    assert all("`lifted: [{limit: eu-" in text and "herbs and spices" in text for text in told)
    assert len(told) == 2


@pytest.mark.parametrize("limit", ["eu-safrole-soft", "old-safrole", "eu-thujone-artemisia-soft"])
def test_no_other_toxic_limit_without_alcohol_may_be_lifted(limit: str) -> None:
    assert caps()[limit].lift == "never"


# ---- old limits on what amari are made of ------------------------------------------------------------


@pytest.mark.parametrize(
    ("title", "rule", "g_per_kg"),
    [
        # Directive 88/388/EEC, in mg/kg, over the worst lot in mg/g.
        ("Cape aloe, resin", "old-aloin", 0.125),  # 50 / 400
        ("Larch agaric", "old-agaric-acid", 0.5),  # 100 / 200
        ("Barberry bark", "old-berberine", 0.125),  # 10 / 80
    ],
)
def test_an_old_limit_is_kept_where_the_law_is_silent(title: str, rule: str, g_per_kg: float) -> None:
    from formulate.bar.restricted import with_restricted

    pantry = Pantry(None, Library.built_in())
    plant = with_restricted(Ingredient(id="our-drug", name=title, composition={"water": 0.1}))
    plants = [pantry.ingredient("vodka-40"), plant]
    plant_kg = g_per_kg / 1000.0
    batch = batch_of(plants, [1.0 - plant_kg * gather(plants).content[1, :LIQUOR].sum(), plant_kg])
    row = caps()[rule]
    told = held_at_worst(batch, row, Rules())
    assert told == pytest.approx(row.most_mg, rel=1e-12)


@pytest.mark.parametrize("title", ["Aloe vera gel", "Barberries, dried", "Oyster mushroom"])
def test_what_only_shares_a_name_is_free(title: str) -> None:
    rows = [row for row in contents().rows if row.substance in ("aloin", "agaric-acid", "berberine")]
    assert len(rows) == 3
    assert not [row.id for row in rows if names_it(row, Ingredient(id="our-thing", name=title))]
