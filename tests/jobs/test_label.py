"""Figures for a label, against hand-worked examples and the factors of the law."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.describe.label_record import standard_drinks
from formulate.files.labelling import allergen_rules
from formulate.jobs.label import energy_of, label_file, printed_strength
from formulate.report.first_screen import More
from formulate.report.label_text import label_text

EXAMPLES = ROOT / "examples"

SHELF = """\
currency: EUR
ingredients:
  pure-ethanol: {name: Pure ethanol, family: spirit, composition: {ethanol: 100 % w/w}}
  pure-sucrose: {name: Sugar, family: sweetener, composition: {sucrose: 100 % w/w}}
  hazelnuts: {name: "Hazelnuts, roasted", family: nut, composition: {insoluble: 100 % w/w}}
  hazelnut-distillate: {name: Hazelnut distillate, family: spirit, strength: 40 % vol}
  barley-malt: {name: Barley malt, family: other, composition: {insoluble: 100 % w/w}}
  whole-milk: {name: Whole milk, family: other, composition: {water: 88 % w/w, other_soluble: 12 % w/w}}
  celery-seed: {name: Celery seed, family: spice, composition: {insoluble: 100 % w/w}}
"""


def _recipe(folder: Path, *lines: str, head: str = "") -> Path:
    (folder / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    body = "".join(
        f"  - {name}: {{amount: {amount}}}\n" for name, amount in (line.split(" ", 1) for line in lines)
    )
    path = folder / "try.yaml"
    path.write_text(f"recipe: Try\nshelf: shelf.yaml\n{head}ingredients:\n{body}", encoding="utf-8")
    return path


# ---- energy -------------------------------------------------------------------------------------


# Reg. (EU) 1169/2011 Annex XIV, kJ and kcal for one gram (from memory).
ANNEX_XIV = {
    "carbohydrate but polyols": (17.0, 4.0),
    "polyols": (10.0, 2.4),
    "erythritol": (0.0, 0.0),
    "protein": (17.0, 4.0),
    "fat": (37.0, 9.0),
    "alcohol": (29.0, 7.0),
    "organic acid": (13.0, 3.0),
    "fibre": (8.0, 2.0),
}
# What chemistry says each part of a liquor is; glycerol is a polyol.
IS = {
    **dict.fromkeys(("sucrose", "glucose", "fructose", "maltose"), "carbohydrate but polyols"),
    "glycerol": "polyols",
    "ethanol": "alcohol",
    **dict.fromkeys(
        ("citric_acid", "malic_acid", "tartaric_acid", "lactic_acid", "quinic_acid", "ascorbic_acid"),
        "organic acid",
    ),
}


def test_a_gram_of_each_part_gives_what_the_law_says() -> None:
    """10 g/L are 1 g in 100 mL, which gives the factor itself; water and salt give nothing."""
    from formulate.physics.mixture import COMPONENTS

    assert set(COMPONENTS) == {*IS, "water", "salt", "other_soluble"}
    for part, kind in IS.items():
        energy = energy_of({part: 0.010})
        assert (energy.kj, energy.kcal) == (
            pytest.approx(ANNEX_XIV[kind][0]),
            pytest.approx(ANNEX_XIV[kind][1]),
        ), part
    for part in ("water", "salt"):
        assert (energy_of({part: 0.010}).kj, energy_of({part: 0.010}).kcal) == (0.0, 0.0)


def test_what_has_no_name_counts_between_fibre_and_fat_and_the_label_says_so(tmp_path: Path) -> None:
    energy = energy_of({"other_soluble": 0.010})
    assert (energy.kj, energy.kcal) == (pytest.approx(17.0), pytest.approx(4.0))
    kj = {kind: factors[0] for kind, factors in ANNEX_XIV.items()}
    assert kj["protein"] == energy.kj > kj["fibre"]
    assert kj["fat"] > 2.0 * energy.kj
    record = label_file(_recipe(tmp_path, "vodka-40 800 g", "whole-milk 200 g"))
    (note,) = [note for note in record.notes if note.code == "other_dissolved"]
    assert "too much for fibre, and less than half of what fat gives" in note.text


def test_energy_by_hand() -> None:
    """A litre with 200 g ethanol, 150 g sucrose, 50 g fructose, 10 g glycerol and 6 g citric acid.

    Per 100 mL: 20 x 29 + 20 x 17 + 1 x 10 + 0.6 x 13 = 580 + 340 + 10 + 7.8 = 937.8 kJ;
    20 x 7 + 20 x 4 + 1 x 2.4 + 0.6 x 3 = 140 + 80 + 2.4 + 1.8 = 224.2 kcal.
    """
    held = {
        "ethanol": 0.2,
        "sucrose": 0.15,
        "fructose": 0.05,
        "glycerol": 0.01,
        "citric_acid": 0.006,
        "water": 0.6,
    }
    energy = energy_of(held)
    assert energy.kj == pytest.approx(937.8)
    assert energy.kcal == pytest.approx(224.2)
    assert {name: pytest.approx(kj) for name, _, kj in energy.parts} == {
        "ethanol": 580.0,
        "carbohydrate": 340.0,
        "polyols": 10.0,
        "organic-acids": 7.8,
    }
    assert "Annex XIV" in energy.source


def test_energy_of_a_published_drink(tmp_path: Path) -> None:
    """Sweet vermouth class, Norwegian food table 13.052: 13.3 g carbohydrate and 11.0 g alcohol in 100 g.

    By the factors, per 100 g: 11.0 x 29 + 13.3 x 17 = 545.1 kJ and 130.2 kcal; the rest is taken as water.
    """
    path = _recipe(tmp_path, "pure-ethanol 110 g", "pure-sucrose 133 g", "water 757 g")
    record = label_file(path)
    mass_of_100_ml = 1000.0 / record.volume_l / 10.0
    assert record.energy.kj == pytest.approx(545.1 * mass_of_100_ml / 100.0, rel=1e-9)
    assert record.energy.kcal == pytest.approx(130.2 * mass_of_100_ml / 100.0, rel=1e-9)


# ---- strength and volume ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("strength", "printed"),
    [
        (22.0, "22.0"),
        (21.949999, "21.9"),
        (21.95, "22.0"),
        (22.05, "22.1"),
        (22.0499999999, "22.1"),  # a solver standing on 22.05
        (22.04, "22.0"),
        (14.96, "15.0"),
        (0.0, "0.0"),
    ],
)
def test_strength_is_printed_to_one_decimal_half_up(strength: float, printed: str) -> None:
    """Reg. (EU) 1169/2011 Annex XII: not more than one decimal."""
    assert printed_strength(strength) == printed
    assert abs(float(printed) - strength) <= 0.05 + 1e-9, "far inside the 0.3 % vol allowed"


def test_rounding_never_lifts_a_drink_over_a_line_in_silence(tmp_path: Path) -> None:
    """14.97 % vol prints as 15.0, and no spirit drink starts below 15."""
    for spirit_g, told in ((137.2, True), (138.0, False)):
        record = label_file(_recipe(tmp_path, f"pure-ethanol {spirit_g} g", "water 1000 g"))
        assert record.strength_text == "15.0"
        assert (record.strength_pct_vol < 15.0) is told
        codes = [note.code for note in record.notes]
        assert ("rounds_over_a_line" in codes) is told


def test_tolerances_are_the_law_s(tmp_path: Path) -> None:
    """0.3 % vol: Reg. (EU) 1169/2011 Annex XII and 27 CFR 19.356(c)."""
    record = label_file(EXAMPLES / "recipes" / "amber-digestif.yaml")
    assert {place: pct for place, pct, _ in record.tolerances} == {"EU, UK": 0.3, "US": 0.3}
    assert label_file(EXAMPLES / "recipes" / "quince-cordial.yaml").tolerances == ()


# 27 CFR 19.356(b): 1.5 % from 1 L, 2 % of 376 to 999 mL, 3 % of 101 to 375 mL, 4.5 % up to 100 mL.
@pytest.mark.parametrize(("bottle_l", "short_ml"), [(1.0, 15.0), (0.7, 14.0), (0.375, 11.25), (0.1, 4.5)])
def test_a_bottle_may_hold_a_little_less(bottle_l: float, short_ml: float) -> None:
    record = label_file(EXAMPLES / "recipes" / "amber-digestif.yaml", bottle_size=bottle_l)
    us = next(litres for place, litres, _ in record.short if place == "US")
    assert us * 1000.0 == pytest.approx(short_ml)


def test_bottles_are_counted_full() -> None:
    record = label_file(EXAMPLES / "bottles" / "creme-de-cassis.yaml")
    assert (record.bottle_l, record.bottles) == (0.5, 6)
    assert (
        label_file(EXAMPLES / "bottles" / "creme-de-cassis.yaml", bottle_size=0.7).bottles == 4
    )  # 3 L / 0.7 L


# ---- ingredients and allergens ------------------------------------------------------------------


def test_ingredients_stand_in_descending_order() -> None:
    record = label_file(EXAMPLES / "recipes" / "amber-digestif.yaml")
    masses = [one.mass_kg for one in record.ingredients]
    assert masses == sorted(masses, reverse=True)
    assert record.ingredients[0].id == "water"
    tincture = next(one for one in record.ingredients if one.id == "gentian-tincture")
    assert tincture.made_of == ("Vodka, 40 % vol", "Gentian root, dried")
    assert "gentian tincture (vodka, gentian root)" in " ".join(label_text(record, More.ALL).split())


def test_an_enzyme_is_no_ingredient(tmp_path: Path) -> None:
    record = label_file(_recipe(tmp_path, "raspberry 500 g", "pectinase 1 g", "vodka-40 500 g"))
    assert [one.id for one in record.ingredients] == ["raspberry", "vodka-40"]
    assert "processing_aid" in {note.code for note in record.notes}


def test_a_little_water_need_not_be_listed(tmp_path: Path) -> None:
    for water_g, told in ((40, True), (80, False)):
        record = label_file(_recipe(tmp_path, "vodka-40 800 g", "white-sugar 200 g", f"water {water_g} g"))
        assert ("little_water" in {note.code for note in record.notes}) is told


# EU fourteen: Reg. (EU) 1169/2011 Annex II; US nine: FALCPA 2004 and FASTER Act 2021 (both from memory).
EU_FOURTEEN = {
    *(
        "gluten-cereals",
        "crustaceans",
        "eggs",
        "fish",
        "peanuts",
        "soya",
        "milk",
        "nuts",
        "celery",
        "mustard",
    ),
    *("sesame", "sulphites", "lupin", "molluscs"),
}
US_NINE = {"milk", "eggs", "fish", "crustaceans", "nuts", "peanuts", "wheat", "soya", "sesame"}


def test_all_fourteen_and_all_nine_are_there() -> None:
    assert {row.id for row in allergen_rules().holding_in("EU")} == EU_FOURTEEN
    assert {row.id for row in allergen_rules().holding_in("US")} - {"sulphites", "pine-nuts"} == US_NINE


def test_allergens_of_a_maceration_and_not_of_a_distillate(tmp_path: Path) -> None:
    lines = ("vodka-40 800 g", "hazelnuts 50 g", "whole-milk 50 g", "barley-malt 20 g", "celery-seed 2 g")
    found = {one.id: one for one in label_file(_recipe(tmp_path, *lines)).allergens}
    assert set(found) == {"nuts", "milk", "gluten-cereals", "celery"}
    assert found["nuts"].brought_by == ("hazelnuts",)
    assert found["celery"].jurisdictions == ("EU", "UK")
    wine = label_file(_recipe(tmp_path, "dry-white-wine-12 800 g", "hazelnut-distillate 100 g"))
    assert [one.id for one in wine.allergens] == ["sulphites"]
    assert label_file(_recipe(tmp_path, "vodka-40 800 g", "white-sugar 200 g")).allergens == ()


@pytest.mark.parametrize(
    ("name", "held"),
    [
        # What Reg. (EU) 1169/2011 Annex II lists or exempts; what each thing holds is common knowledge.
        ("Chocolate milk, with cocoa", {"milk"}),
        ("Dairy cream with almond", {"milk", "nuts"}),
        ("Almonds and pine nuts", {"nuts"}),
        ("Egg white, for the plum sour", {"eggs"}),
        ("Lager, dry-hopped like gin", {"gluten-cereals"}),
        ("Buttermilk", {"milk"}),
        ("Porter", {"gluten-cereals"}),
        ("Barley malt in vodka", {"gluten-cereals"}),
        ("Almond, milk and honey", {"nuts", "milk"}),
        ("Cider with a little vinegar", {"sulphites"}),
        ("Soya and sunflower", {"soya"}),
        ("Oyster and mushroom stock", {"molluscs"}),
        ("Oat milk", {"gluten-cereals"}),
        ("Almond milk", {"nuts"}),
        ("Cocoa butter", set()),
        ("Cream of tartar", set()),
        ("Pine nuts", set()),
        ("Yellow egg plums", set()),
        ("Ginger beer", set()),
        ("Ginger beer with barley malt", {"gluten-cereals"}),
        ("Cream sherry", {"sulphites"}),
        ("Worcestershire sauce", {"fish"}),
        ("Falernum", {"nuts"}),
        ("Rye whiskey", set()),
        ("Sunflower lecithin", set()),
        ("Oyster mushrooms", set()),
        ("Distillate of whey", set()),
        ("Wheat distillate", set()),
        ("Distillate of wheat and whey", {"milk"}),  # in doubt it is named
        ("Walnuts in grape distillate", {"nuts"}),
        ("Almond paste with a distillate of rum", {"nuts"}),
    ],
)
def test_a_word_exempts_only_what_it_stands_beside(name: str, held: set[str], tmp_path: Path) -> None:
    shelf = f'currency: EUR\ningredients:\n  own-thing: {{name: "{name}", family: other, composition: '
    (tmp_path / "own.yaml").write_text(shelf + "{insoluble: 100 % w/w}}\n", encoding="utf-8")
    (tmp_path / "own-recipe.yaml").write_text(
        "recipe: Try\nshelf: own.yaml\ningredients:\n  - vodka-40: {amount: 900 g}\n"
        "  - own-thing: {amount: 50 g}\n",
        encoding="utf-8",
    )
    found = {
        one.id for one in label_file(tmp_path / "own-recipe.yaml").allergens if "EU" in one.jurisdictions
    }
    assert found == held


# ---- quinine, keeping ----------------------------------------------------------------------------


def test_quinine_is_named_in_the_list_of_ingredients(tmp_path: Path, run_here: RunCommand) -> None:
    """Reg. (EU) 1169/2011 Annex VII part D no. 3: quinine is named as such in the list."""
    path = _recipe(tmp_path, "vodka-40 800 g", "white-sugar 200 g", "cinchona-bark 0.3 g", "water 100 g")
    record = label_file(path)
    assert {one.id for one in record.ingredients if one.to_name == ("quinine",)} == {"cinchona-bark"}
    assert record.quinine_source == "Reg. (EU) 1169/2011 Annex VII part D no. 3 (seen by 2026-11-30)"
    shown = " ".join(run_here("label", "--all", path).stdout.split())
    assert "cinchona bark (quinine)" in shown
    assert "quinine name it in the list of ingredients (cinchona-bark)" in shown
    document = json.loads(run_here("label", path, "--json").stdout)
    assert [one["id"] for one in document["ingredients"] if one["to_name"]] == ["cinchona-bark"]
    without = label_file(_recipe(tmp_path, "vodka-40 800 g", "gentian-root 2 g"))
    assert without.quinine_source is None
    assert "quinine" not in label_text(without, More.ALL)


def test_quinine_in_a_tincture_is_named_too(tmp_path: Path) -> None:
    path = _recipe(tmp_path, "vodka-40 800 g", "bark-tincture 20 g")
    shelf = tmp_path / "shelf.yaml"
    shelf.write_text(SHELF + "house_made:\n  bark-tincture: {recipe: bark.yaml}\n", encoding="utf-8")
    (tmp_path / "bark.yaml").write_text(
        "recipe: Bark\nshelf: shelf.yaml\ningredients:\n  - vodka-40: {amount: 500 g}\n"
        "  - cinchona-bark: {amount: 5 g}\n",
        encoding="utf-8",
    )
    shown = " ".join(label_text(label_file(path), More.ALL).split())
    assert "ingredients vodka, bark (vodka, cinchona bark, quinine)" in shown


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        # Trade notes 8.4 (common practice): 65 °Brix and pH 4.2 keep weeks cold, 50 °Brix two to four weeks.
        (("water 340 g", "white-sugar 660 g"), "below 5 °C, 4 weeks if its pH is 4.2 or less (measure it)"),
        (("water 480 g", "white-sugar 520 g"), "below 5 °C, 2 weeks; print a date"),
        (("water 700 g", "white-sugar 300 g"), "below 5 °C and for days only"),
        (("vodka-40 200 g", "water 700 g", "white-sugar 600 g"), "below 5 °C and for days only"),
        (("vodka-40 800 g", "white-sugar 200 g"), ""),
    ],
)
def test_what_no_spirit_keeps_says_how_it_is_kept(lines: tuple[str, ...], words: str, tmp_path: Path) -> None:
    record = label_file(_recipe(tmp_path, *lines))
    assert record.keep.startswith(words)
    assert bool(record.keep) is bool(words)
    assert ("keep         " in label_text(record, More.ALL)) is bool(words)


# ---- units --------------------------------------------------------------------------------------


def test_units_by_hand(tmp_path: Path) -> None:
    """30 mL of 25 % vol are 7.5 mL or 5.92 g of ethanol: 0.75 UK units of 10 mL, 0.42 US drinks of 14 g.

    Grams: 7.5 mL x 0.78924 g/mL = 5.919 (OIML R 22); units of 10 mL, 10 g and 14 g: Addiction 111 (2016).
    """
    record = label_file(_recipe(tmp_path, "pure-ethanol 246.6 g", "water 960 g"), serve=0.03, bottle_size=0.7)
    factor = record.strength_pct_vol / 25.0
    drinks = {one.country: one for one in record.drinks}
    assert drinks["United Kingdom"].per_serve == pytest.approx(0.75 * factor, rel=1e-4)
    assert drinks["WHO"].per_serve == pytest.approx(5.919 / 10.0 * factor, rel=1e-4)
    assert drinks["United States"].per_serve == pytest.approx(5.919 / 14.0 * factor, rel=1e-4)
    uk = drinks["United Kingdom"]
    assert uk.per_bottle == pytest.approx(uk.per_serve * 0.7 / 0.03)
    # 70 cl at 40 % vol are 280 mL of pure alcohol: the 28 units that a UK label prints.
    (unit,) = [one for one in standard_drinks(40.0, 0.03, 0.7, "UK") if one.country == "United Kingdom"]
    assert unit.per_bottle == pytest.approx(28.0, rel=1e-4)


def test_the_bottle_file_s_serve_counts(tmp_path: Path) -> None:
    shelf = "currency: EUR\noffers:\n  vodka-40: {price: 14 EUR/L}\n"
    (tmp_path / "shelf.yaml").write_text(shelf, encoding="utf-8")
    (tmp_path / "bottle.yaml").write_text(
        "name: Neat\nsize: 2 L bottled\nshelf: shelf.yaml\nserve: 25 mL\njurisdiction: UK\n"
        "targets: {strength: at least 35 % vol}\ningredients: [vodka-40, water]\n",
        encoding="utf-8",
    )
    record = label_file(tmp_path / "bottle.yaml")
    assert record.serve_l == pytest.approx(0.025)
    assert record.jurisdiction == "UK"
    assert "United States" not in {one.country for one in record.drinks}


# ---- screen and JSON ----------------------------------------------------------------------------


def test_json_holds_all_of_it(run_here: RunCommand) -> None:
    done = run_here("label", "examples/recipes/amber-digestif.yaml", "--serve", "30 mL", "--json")
    assert (done.exit_code, done.stderr, done.crash) == (0, "", "")
    document = json.loads(done.stdout)
    assert document["schema_version"] == 1
    assert document["strength"]["printed"].endswith(" % vol")
    assert document["energy_per_100_ml"]["kj"] == pytest.approx(
        sum(part["kj"] for part in document["energy_per_100_ml"]["parts"])
    )
    assert document["serve"]["kcal"] == pytest.approx(0.3 * document["energy_per_100_ml"]["kcal"])
    assert document["ingredients"][0]["id"] == "water"
    assert all(one["source"] for one in document["serve"]["drinks"])
    assert {"code", "text", "source"} == set(document["warnings"][0])


def test_a_jar_is_labelled_as_it_came_out(run_here: RunCommand) -> None:
    done = run_here("label", "--all", "examples/jars/damson-jar.yaml", "--bottle-size", "50 cl")
    assert done.exit_code == 0
    assert "50 cl, 7 bottles" in done.stdout  # 3.77 L came out
    assert all(len(line) <= 80 for line in done.stdout.splitlines())


def test_what_may_not_be_served_is_said_first(tmp_path: Path, run_here: RunCommand) -> None:
    path = _recipe(tmp_path, "vodka-40 1000 g", "wormwood-herb 30 g")
    done = run_here("label", "--all", path)
    assert done.exit_code == 4
    assert done.stdout.startswith("OVER THE LIMIT: thujone")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--serve", "30"], "--serve: "),
        (["--serve", "0 mL"], "must be above zero"),
        (["--bottle-size", "50 g"], "--bottle-size: "),
    ],
)
def test_wrong_options_are_refused(arguments: list[str], words: str, run_here: RunCommand) -> None:
    done = run_here("label", "--all", "examples/recipes/amber-digestif.yaml", *arguments)
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert words in done.stderr


def test_a_shelf_has_no_label(run_here: RunCommand) -> None:
    done = run_here("label", "--all", "examples/shelf.yaml")
    assert done.exit_code == 2
    assert "has no drink to label" in done.stderr


def test_a_bottle_without_a_recipe_is_told_so(run_here: RunCommand) -> None:
    done = run_here("label", "examples/bottles/damson-too-cheap.yaml", "--json")
    assert done.exit_code == 3
    assert json.loads(done.stdout)["status"] == "infeasible"
