"""House-made things: their figures against hand arithmetic, nesting, circles, dates and small doses."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry
from formulate.describe.records import DrinkRecord
from formulate.errors import SpecError
from formulate.files.issues import Places
from formulate.jobs.browse import find_ingredients
from formulate.jobs.check import check_files
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle

# A spirit by weight and a root with round figures, so that everything can be worked out on paper.
SHELF = """\
currency: EUR
offers:
  spirit: {price: 10 EUR/kg}
  root: {price: 50 EUR/kg}
  white-sugar: {price: 1.20 EUR/kg}
ingredients:
  spirit:
    name: Spirit by weight
    composition: {ethanol: 50 % w/w, water: 50 % w/w}
    cautions: [Burns.]
    sources: [{figures: [composition], source: weighed, confidence: published}]
  root:
    name: Root
    composition: {water: 10 % w/w, other_soluble: 20 % w/w, insoluble: 70 % w/w}
    retention: 1.5 kg/kg
    bitterness: {value: 20000, low: 10000, high: 30000, extracted: 90 %}
    attributes: {thujone: 2 mg/g}
    cautions: [Not when pregnant.]
    sources:
      - {figures: [composition, attributes], source: somebody, confidence: from memory}
      - {figures: [bitterness], source: somebody, confidence: common practice}
house_made:
  tincture: {recipe: tincture.yaml, lot: A 12, made: 2026-10-12, keep_by: 2027-01-31, on_hand: 500 g}
"""

TINCTURE = """\
recipe: Root tincture
steps:
  - infuse: {loss: 2 %}
ingredients:
  - spirit: {amount: 950 g, step: infuse}
  - root: {amount: 100 g, step: infuse}
"""

# By hand. Dissolves: 950 g of spirit and 30 % of 100 g = 30 g of the root: 980 g of liquor, made of
#   ethanol 475 g, water 475 + 10 = 485 g, other soluble 20 g.
# The cake keeps 1.5 x 100 = 150 g, 2 % of the 830 g strained are lost: 0.98 x 830 = 813.4 g are left.
# Bitterness: 100 g x 20000 x 90 % = 1 800 000 in 980 g: 1836.7347 per gram.
# Thujone: 200 mg in 980 g: 0.204082 mg/g.
# Cost: 0.95 x 10 + 0.1 x 50 = 14.50 for 0.8134 kg: 17.826408 per kg.
LIQUOR_G, LEFT_KG, PER_G = 980.0, 0.8134, 1_800_000 / 980.0


def _folder(path: Path, **texts: str) -> Path:
    for name, text in {"shelf": SHELF, "tincture": TINCTURE, **texts}.items():
        (path / f"{name}.yaml").write_text(text, "utf-8")
    return path


def _pantry(path: Path, **texts: str) -> Pantry:
    return open_pantry(_folder(path, **texts) / "shelf.yaml", Places())


def _predicted(path: Path, text: str, today: date | None = None, **texts: str) -> DrinkRecord:
    _folder(path, recipe=text, **texts)
    return predict_recipe(path / "recipe.yaml", today or date(2026, 12, 1))


def _refused(pantry: Pantry, name: str) -> SpecError:
    with pytest.raises(SpecError) as caught:
        pantry.made(name)
    return caught.value


def test_a_tincture_against_paper(tmp_path: Path) -> None:
    pantry = _pantry(tmp_path)
    made = pantry.made("tincture")
    tincture = made.ingredient
    assert dict(tincture.composition) == {
        "water": pytest.approx(485 / LIQUOR_G, rel=1e-12),
        "ethanol": pytest.approx(475 / LIQUOR_G, rel=1e-12),
        "other_soluble": pytest.approx(20 / LIQUOR_G, rel=1e-12),
    }
    assert float(made.batch.drink.mass_kg) == pytest.approx(LEFT_KG, rel=1e-12)
    assert made.price_per_kg == pytest.approx(14.50 / LEFT_KG, rel=1e-12)
    assert tincture.bitterness is not None
    assert (tincture.bitterness.value, tincture.bitterness.extracted) == (
        pytest.approx(PER_G, rel=1e-12),
        1.0,
    )
    # A weak lot of the root is half as bitter, a strong one half as bitter again.
    assert tincture.bitterness.low == pytest.approx(PER_G * 0.5)
    assert tincture.bitterness.high == pytest.approx(PER_G * 1.5)
    assert dict(tincture.attributes) == {"thujone": pytest.approx(200 / LIQUOR_G, rel=1e-12)}
    assert tincture.cautions == ("Burns.", "Not when pregnant.")
    assert tincture.notes == "made here from tincture.yaml, lot A 12, made 2026-10-12"
    confidence = {source.figures[0]: source.confidence for source in tincture.sources}
    assert confidence == {
        "composition": "from memory",  # published spirit, but a root from memory
        "density": "from memory",
        "bitterness": "common practice",
        "attributes": "from memory",
    }
    assert pantry.ingredient("tincture") is tincture
    assert pantry.made("tincture") is made  # worked out once
    assert pantry.on_hand_kg(tincture) == 0.5
    assert find_ingredients("tincture", tmp_path / "shelf.yaml") == (tincture,)


def test_two_deep_against_paper_and_against_one_pot(tmp_path: Path) -> None:
    shelf = SHELF + "  sweet: {recipe: sweet.yaml}\n  liqueur: {recipe: liqueur.yaml}\n"
    sweet = """\
recipe: Sweet tincture
ingredients:
  - tincture: {amount: 200 g}
  - white-sugar: {amount: 100 g}
  - water: {amount: 100 g}
"""
    liqueur = """\
recipe: Liqueur
shelf: shelf.yaml
ingredients:
  - sweet: {amount: 40 g}
  - spirit: {amount: 400 g}
  - water: {amount: 560 g}
"""
    record = _predicted(tmp_path, liqueur, shelf=shelf, sweet=sweet, liqueur=liqueur)
    # 40 g of sweet tincture hold 20 g of tincture, 10 g of sugar and 10 g of water.
    # Ethanol: 20 x 475/980 + 200 = 209.693878 g in 1 kg; bitterness 20 x 1836.7347 = 36 734.694.
    drink = record.predicted
    assert float(drink.mass_kg) == pytest.approx(1.0, rel=1e-12)
    made = open_pantry(tmp_path / "shelf.yaml", Places()).made("liqueur").ingredient
    assert made.composition["ethanol"] == pytest.approx((20 * 475 / 980 + 200) / 1000, rel=1e-10)
    assert made.bitterness is not None
    assert made.bitterness.value == pytest.approx(20 * PER_G / 1000, rel=1e-10)
    assert float(drink.bitterness_value) == pytest.approx(
        20 * PER_G / (1000 * float(drink.volume_l)), rel=1e-10
    )
    # Cost: 20 g of tincture 0.3565282, 10 g of sugar 0.012, 400 g of spirit 4.00, water nothing: 4.3685282.
    assert record.cost is not None
    assert record.cost.total == pytest.approx(0.02 * 14.50 / LEFT_KG + 0.012 + 4.0, rel=1e-10)
    # One pot: the same with the tincture poured straight in.
    flat = liqueur.replace(
        "- sweet: {amount: 40 g}", "- tincture: {amount: 20 g}\n  - white-sugar: {amount: 10 g}"
    ).replace("560 g", "570 g")
    one_pot = _predicted(tmp_path, flat)
    for name in ("strength_pct_vol", "sugar_g_l", "bitterness_value", "density_kg_m3"):
        assert float(getattr(one_pot.predicted, name)) == pytest.approx(float(getattr(drink, name)), rel=1e-9)
    assert one_pot.cost is not None
    assert one_pot.cost.total == pytest.approx(record.cost.total, rel=1e-9)


def test_thirty_deep(tmp_path: Path) -> None:
    names = [f"cut-{number}" for number in range(30)]
    shelf = SHELF + "".join(f"  {name}: {{recipe: {name}.yaml}}\n" for name in names)
    recipes = {
        name: f"recipe: {name}\ningredients:\n  - {below}: {{amount: 90 g}}\n  - water: {{amount: 10 g}}\n"
        for name, below in zip(names, ["spirit", *names], strict=False)
    }
    made = _pantry(tmp_path, shelf=shelf, **recipes).made(names[-1]).ingredient
    # Thinned nine to one thirty times over: 50 % x 0.9^30 = 2.1196 % ethanol.
    assert made.composition["ethanol"] == pytest.approx(0.5 * 0.9**30, rel=1e-9)


def test_deeper_than_any_bar_is_refused(tmp_path: Path) -> None:
    names = [f"cut-{number}" for number in range(61)]
    shelf = SHELF + "".join(f"  {name}: {{recipe: {name}.yaml}}\n" for name in names)
    recipes = {
        name: f"recipe: {name}\ningredients:\n  - {below}: {{amount: 90 g}}\n"
        for name, below in zip(names, ["spirit", *names], strict=False)
    }
    pantry = _pantry(tmp_path, shelf=shelf, **recipes)
    (problem,) = _refused(pantry, names[60]).problems
    assert problem.path == "house_made.cut-0.recipe"
    assert problem.message == "stands more than 60 recipes deep. Write some of them as one recipe."
    assert pantry.made(names[59]).ingredient.composition["ethanol"] == pytest.approx(0.5)


def test_a_recipe_may_bring_its_own_shelf(tmp_path: Path) -> None:
    other = tmp_path / "cellar"
    other.mkdir()
    (other / "shelf.yaml").write_text(
        SHELF.replace("spirit: {price: 10 EUR/kg}", "spirit: {price: 20 EUR/kg}"), "utf-8"
    )
    (other / "tincture.yaml").write_text(TINCTURE, "utf-8")
    (other / "thin.yaml").write_text(
        "recipe: Thin\nshelf: shelf.yaml\ningredients:\n"
        "  - tincture: {amount: 10 g}\n  - water: {amount: 90 g}\n",
        "utf-8",
    )
    pantry = _pantry(tmp_path, shelf=SHELF + "  thin: {recipe: cellar/thin.yaml}\n")
    # The cellar's spirit is twice as dear: 0.95 x 20 + 5 = 24 for 0.8134 kg, a tenth of it in the thin one.
    assert pantry.made("thin").price_per_kg == pytest.approx(0.1 * 24.0 / LEFT_KG, rel=1e-10)
    assert pantry.made("tincture").price_per_kg == pytest.approx(14.50 / LEFT_KG, rel=1e-10)
    dollars = (other / "shelf.yaml").read_text("utf-8").replace("EUR", "USD")
    (other / "shelf.yaml").write_text(dollars, "utf-8")
    (problem,) = _refused(open_pantry(tmp_path / "shelf.yaml", Places()), "thin").problems
    assert problem.path == "shelf"
    assert problem.message == (
        "counts in USD, but the shelf that uses this recipe counts in EUR. Use one currency."
    )


@pytest.mark.parametrize(
    ("labour", "extra"),
    [
        # 4 for the batch of 0.8134 kg; 3 per kg as it is; 3 per litre at the density of what was made.
        ("4 EUR", lambda _: 4.0 / LEFT_KG),
        ("3 EUR/kg", lambda _: 3.0),
        ("3 EUR/L", lambda density_kg_l: 3.0 / density_kg_l),
    ],
)
def test_labour_counts_where_it_is_given(tmp_path: Path, labour: str, extra: object) -> None:
    pantry = _pantry(tmp_path, shelf=SHELF.replace("on_hand: 500 g", f"labour: {labour}"))
    made = pantry.made("tincture")
    density_kg_l = float(made.batch.drink.density_kg_m3) / 1000.0
    assert callable(extra)
    assert made.price_per_kg == pytest.approx(14.50 / LEFT_KG + extra(density_kg_l), rel=1e-12)


BOTTLE = """\
name: Bitter spirit
size: use all tincture
shelf: shelf.yaml
targets:
  strength: 30 ± 0.3 % vol
  bitterness: like 1 g/L root
ingredients:
  - spirit
  - water
  - tincture
"""


def test_a_bottle_uses_it_like_anything_bought(tmp_path: Path) -> None:
    _folder(tmp_path, bottle=BOTTLE)
    record = solve_bottle(tmp_path / "bottle.yaml", date(2026, 12, 1)).record
    # 1 g of root per litre is 18 000 per litre, taken at 20 % less: 14 400. All 500 g of tincture bring
    # 500 x 1836.7347 = 918 367.3, enough for 63.775510 L.
    assert float(record.predicted.volume_l) == pytest.approx(918_367.3469 / 14_400.0, rel=1e-6)
    assert float(record.predicted.bitterness_value) == pytest.approx(14.4, rel=1e-6)
    # By lot: all the bitterness comes from a root that is half to one and a half times as bitter.
    assert record.bitterness_range == (pytest.approx(7.2, rel=1e-6), pytest.approx(21.6, rel=1e-6))
    line = next(line for line in record.recipe if line.ingredient == "tincture")
    assert line.mass_kg == pytest.approx(0.5, rel=1e-9)
    assert line.cost == pytest.approx(0.5 * 14.50 / LEFT_KG, rel=1e-6)
    (note,) = [note for note in record.notes if note.code == "house_made"]
    assert note.text == (
        "tincture is made here: its figures and its price come from tincture.yaml, lot A 12, made 2026-10-12."
    )


@pytest.mark.parametrize(("today", "past"), [(date(2027, 1, 31), False), (date(2027, 2, 1), True)])
def test_past_its_day_is_noted(tmp_path: Path, today: date, past: bool) -> None:
    _folder(tmp_path, bottle=BOTTLE)
    recipe = "recipe: A\nshelf: shelf.yaml\ningredients:\n  - tincture: {amount: 100 g}\n"
    for record in (solve_bottle(tmp_path / "bottle.yaml", today).record, _predicted(tmp_path, recipe, today)):
        texts = [note.text for note in record.notes if note.code == "past_keep_by"]
        assert texts == (
            [
                "tincture was to be used by 2027-01-31: smell and taste it before anything else goes in, "
                "or make a new lot."
            ]
            if past
            else []
        )


# ---- half a gram --------------------------------------------------------------------------------

DOSED = """\
recipe: Dosed
shelf: shelf.yaml
ingredients:
  - spirit: {amount: 500 g}
  - water: {amount: 500 g}
  - root: {amount: 0.42 g}
"""


def _small(record: DrinkRecord) -> list[str]:
    return [note.text for note in record.notes if note.code == "too_little_to_weigh"]


def test_half_a_gram_is_pointed_out(tmp_path: Path) -> None:
    # 0.42 g of root brings 0.42 x 18 000 = 7560, which is in 7560/1836.7347 = 4.116 g of tincture; at a
    # density of about 0.92 (ethanol and water half and half by weight) that is 4.5 mL, shown as 4 or 5.
    (text,) = _small(_predicted(tmp_path, DOSED))
    start, _, rest = text.partition("4.12 g (")
    assert start == (
        "root comes to 0.42 g, too little to weigh well (on a 0.1 g balance): make a tincture and dose that; "
    )
    assert rest in (f"{volume} mL) of tincture from your shelf would do the same." for volume in (4, 5))


def test_a_finer_balance_weighs_it(tmp_path: Path) -> None:
    # 5 % of 0.42 g is 0.021 g: a step of 0.01 g will do, one of 0.05 g will not.
    for step, enough in (("0.01 g", True), ("0.05 g", False)):
        shelf = (
            f"balances:\n  - {{name: big, step: 1 g, up_to: 5 kg}}\n"
            f"  - {{name: small, step: {step}, up_to: 100 g}}\n" + SHELF
        )
        small = _small(_predicted(tmp_path, DOSED, shelf=shelf))
        assert len(small) == (0 if enough else 1)
        assert enough or "(your finest balance steps 0.05 g)" in small[0]


@pytest.mark.parametrize(("amount", "enough"), [("1.99 g", False), ("2 g", True)])
def test_two_grams_can_be_weighed_on_a_usual_balance(tmp_path: Path, amount: str, enough: bool) -> None:
    # 5 % of 2 g is the 0.1 g such a balance steps.
    assert bool(_small(_predicted(tmp_path, DOSED.replace("0.42 g", amount)))) is not enough


def test_what_dissolves_is_dissolved_first(tmp_path: Path) -> None:
    (text,) = _small(
        _predicted(tmp_path, DOSED.replace("root: {amount: 0.42 g}", "citric-acid: {amount: 1 g}"))
    )
    assert text.endswith(": dissolve 10 g in 90 g of water and dose ten times as much of that.")


def test_a_broken_house_made_thing_nobody_uses_stops_nothing(tmp_path: Path) -> None:
    shelf = SHELF + "  lost: {recipe: lost.yaml}\n"
    assert len(_small(_predicted(tmp_path, DOSED, shelf=shelf))) == 1
    with pytest.raises(SpecError) as caught:
        check_files([tmp_path / "shelf.yaml"])
    (problem,) = caught.value.problems
    assert problem.location is not None
    assert (problem.location.line, problem.location.column) == (24, 18)
    assert problem.path == "house_made.lost.recipe"
    assert problem.message.startswith("no file there, got '")
    assert problem.message.endswith("/lost.yaml'. Check the path.")


# ---- what is said -------------------------------------------------------------------------------


def _ring(*names: str) -> dict[str, str]:
    """Recipes of which each needs the next, and the last the first."""
    return {
        name: f"recipe: {name}\ningredients:\n  - {other}: {{amount: 10 g}}\n  - water: {{amount: 90 g}}\n"
        for name, other in zip(names, [*names[1:], names[0]], strict=True)
    }


@pytest.mark.parametrize(
    ("names", "circle"),
    [
        (("a",), "a needs a"),
        (("a", "b"), "a needs b, b needs a"),
        (("a", "b", "c"), "a needs b, b needs c, c needs a"),
    ],
)
def test_a_circle_is_told_whole(tmp_path: Path, names: tuple[str, ...], circle: str) -> None:
    shelf = SHELF + "".join(f"  {name}: {{recipe: {name}.yaml}}\n" for name in names)
    pantry = _pantry(tmp_path, shelf=shelf, **_ring(*names))
    for name in names:  # wherever it is entered
        (problem,) = _refused(pantry, name).problems
        assert problem.location is not None
        assert (problem.location.line, problem.location.column) == (24, 15)
        assert problem.path == "house_made.a.recipe"
        assert problem.message == (
            f"cannot be made from itself: {circle}. Take one of them out of the recipe before it."
        )
    with pytest.raises(SpecError) as caught:
        check_files([tmp_path / "shelf.yaml"])
    assert len(caught.value.problems) == 1


def test_a_circle_over_two_shelves_names_them(tmp_path: Path) -> None:
    other = tmp_path / "cellar"
    other.mkdir()
    (other / "shelf.yaml").write_text("currency: EUR\nhouse_made:\n  b: {recipe: b.yaml}\n", "utf-8")
    (other / "b.yaml").write_text(
        "recipe: b\nshelf: ../shelf.yaml\ningredients:\n  - a: {amount: 10 g}\n", "utf-8"
    )
    shelf = SHELF + "  a: {recipe: a.yaml}\n"
    recipe = "recipe: a\nshelf: cellar/shelf.yaml\ningredients:\n  - b: {amount: 10 g}\n"
    (problem,) = _refused(_pantry(tmp_path, shelf=shelf, a=recipe), "a").problems
    assert "a (" in problem.message
    assert "cellar/shelf.yaml) needs a (" in problem.message


def test_a_bottle_that_uses_a_circle_is_told_where(tmp_path: Path) -> None:
    shelf = SHELF + "  a: {recipe: a.yaml}\n  b: {recipe: b.yaml}\n"
    _folder(tmp_path, shelf=shelf, bottle=BOTTLE + "  - a\n  - b\n", **_ring("a", "b"))
    with pytest.raises(SpecError) as caught:
        solve_bottle(tmp_path / "bottle.yaml")
    (problem,) = caught.value.problems  # two ways into one circle are one fault
    assert problem.location is not None
    assert problem.location.file.endswith("shelf.yaml")


def test_a_fault_in_its_recipe_is_told_in_the_recipe(tmp_path: Path) -> None:
    tincture = TINCTURE.replace("- root:", "- rot:")
    (problem,) = _refused(_pantry(tmp_path, tincture=tincture), "tincture").problems
    assert problem.location is not None
    assert problem.location.file.endswith("tincture.yaml")
    assert problem.location.line == 6
    assert problem.message == (
        "no ingredient called 'rot' on the shelf or in the library. Did you mean 'root'?"
    )


def test_a_syrup_past_the_range_of_the_model_says_so(tmp_path: Path) -> None:
    # ICUMSA SPS-4 ends at 85 % dissolved; nine parts of sugar to one of water are at about 90.
    shelf = SHELF + "  syrup: {recipe: syrup.yaml}\n"
    syrup = "recipe: Syrup\ningredients:\n  - white-sugar: {amount: 900 g}\n  - water: {amount: 100 g}\n"
    (problem,) = _refused(_pantry(tmp_path, shelf=shelf, syrup=syrup), "syrup").problems
    assert problem.location is not None
    assert problem.location.file.endswith("syrup.yaml")
    assert problem.location.line == 2
    assert "cannot be worked out, for syrup on " in problem.message
    assert "is outside 0 to 0.85 g/g" in problem.message


def test_a_cake_that_keeps_everything_says_so(tmp_path: Path) -> None:
    # 100 g of root would hold 150 g where 90 + 30 = 120 g are.
    tincture = TINCTURE.replace("950 g", "90 g")
    (problem,) = _refused(_pantry(tmp_path, tincture=tincture), "tincture").problems
    assert "would keep 150 g of liquor where there are 120 g, for tincture on " in problem.message


def test_a_part_without_a_price_is_named(tmp_path: Path) -> None:
    shelf = SHELF.replace("  root: {price: 50 EUR/kg}\n", "")
    _folder(tmp_path, shelf=shelf, bottle=BOTTLE)
    with pytest.raises(SpecError) as caught:
        solve_bottle(tmp_path / "bottle.yaml")
    (problem,) = caught.value.problems
    assert problem.message == (
        "no price for tincture: its recipe uses root, which has none. "
        "Add it under offers (0 EUR/kg if it is free)."
    )
    assert problem.location is not None
    assert problem.location.line == 10
