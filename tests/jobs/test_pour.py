"""A drink worked out: volume and strength by hand from published densities, money by hand, batching."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.errors import SpecError, UnitError
from formulate.jobs.pour import pour_drink

SHELF = """\
name: Test shelf
currency: EUR
ingredients:
  strong-spirit: {name: Strong spirit, strength: 47.39 % vol}
  plain-syrup: {name: Syrup, composition: {sucrose: 50 % w/w, water: 50 % w/w}}
offers:
  strong-spirit: {pack: 70 cl, price: 14 EUR}
  plain-syrup: {pack: 1 L, price: 2 EUR}
vessels:
  keg: 10 L
"""


def _drink(folder: Path, text: str, shelf: str = SHELF) -> Path:
    (folder / "shelf.yaml").write_text(shelf, encoding="utf-8")
    path = folder / "drink.yaml"
    path.write_text("drink: Test\nshelf: shelf.yaml\n" + text, encoding="utf-8")
    return path


STIRRED = """\
method: stirred
melt: 37.41 g
ingredients:
  - strong-spirit: 60 mL
"""


def test_melt_and_spirit_contract_as_the_handbook_says(tmp_path: Path) -> None:
    # CRC Handbook, 102nd ed., 20 °C: 40 % w/w 935.2, 24 % w/w 963.2, ethanol 789.3 kg/m3 (printed to 0.1; it
    # departs from OIML R 22, which is computed with, by up to 0.21).
    # 60 mL x 0.9352 = 56.112 g with 40 % = 22.445 g ethanol; 56.112 + 37.41 = 93.52 g, 24.0 % of it ethanol;
    # 93.52 / 0.9632 = 97.09 mL; 22.445 / 0.7893 = 28.436 mL ethanol, 29.29 % vol. Without contraction
    # there would be 60 + 37.48 = 97.48 mL.
    record = pour_drink(_drink(tmp_path, STIRRED))
    assert float(record.served.volume_l) * 1000.0 == pytest.approx(97.09, abs=0.04)
    assert float(record.served.strength_pct_vol) == pytest.approx(29.29, abs=0.03)
    assert record.ethanol_kg * 1000.0 == pytest.approx(22.445, abs=0.01)
    assert record.melt.weighed
    assert record.strength_range[0] == record.strength_range[1]


@pytest.mark.parametrize(
    ("line", "place"),
    [("price: 9 USD\n", "price"), ("garnish:\n  - plum: {price: 0.10 USD}\n", r"garnish\.0\.plum\.price")],
)
def test_money_of_another_currency_is_refused(tmp_path: Path, line: str, place: str) -> None:
    with pytest.raises(SpecError, match=rf"{place}: the shelf counts in EUR, got '[0-9.]+ USD'"):
        pour_drink(_drink(tmp_path, STIRRED + line))


def test_relation_takes_the_strength_of_all_that_is_poured(tmp_path: Path) -> None:
    # 40 mL at 47.39 % vol and 20 mL syrup: 18.956 mL ethanol in 59.8 mL (ideal 60), so 31.6 to 31.7 % vol;
    # shaken: -1.567 x 0.317^2 + 1.742 x 0.317 + 0.203 = 0.5977
    text = "method: shaken\ningredients:\n  - strong-spirit: 40 mL\n  - plain-syrup: 20 mL\n"
    record = pour_drink(_drink(tmp_path, text))
    assert record.poured_strength_pct_vol == pytest.approx(31.65, abs=0.1)
    assert record.melt.share == pytest.approx(0.5977, abs=0.001)
    assert record.melt.confidence == "from memory"
    # 20 mL of 50 % syrup: ICUMSA SPS-4, 1229.6 kg/m3 at 20 °C, 12.30 g sugar
    sugar_g = float(record.served.sugar_g_l) * float(record.served.volume_l)
    assert sugar_g == pytest.approx(12.30, abs=0.005)


def test_the_bars_own_weighing_goes_before_the_relation(tmp_path: Path) -> None:
    own = SHELF + "service:\n  melt: {stirred: 30 %}\n"
    text = "method: stirred\ningredients:\n  - strong-spirit: 60 mL\n"
    by_bar = pour_drink(_drink(tmp_path, text, own))
    # 30 % of 60 mL is 18 mL of water, 998.2 kg/m3: 17.97 g
    assert by_bar.melt.mass_kg * 1000.0 == pytest.approx(17.97, abs=0.005)
    by_drink = pour_drink(_drink(tmp_path, STIRRED, own))
    assert by_drink.melt.mass_kg * 1000.0 == pytest.approx(37.41)


def test_what_is_poured_on_top_melts_no_ice(tmp_path: Path) -> None:
    below = "method: shaken\ningredients:\n  - strong-spirit: 40 mL\n"
    plain = pour_drink(_drink(tmp_path, below))
    topped = pour_drink(_drink(tmp_path, below + "  - water: {amount: 90 mL, after: true}\n"))
    assert topped.melt == plain.melt
    assert topped.ethanol_kg == pytest.approx(plain.ethanol_kg, rel=1e-12)
    assert float(topped.served.volume_l) > float(plain.served.volume_l) + 0.0890


def test_dashes_drops_and_parts(tmp_path: Path) -> None:
    text = """\
method: batched
parts_come_to: 9 cl
ingredients:
  - strong-spirit: 2 parts
  - plain-syrup: 1 part
  - water: 4 dashes
"""
    own = SHELF + "service: {dash: 0.8 mL}\n"
    volumes = [line.volume_l for line in pour_drink(_drink(tmp_path, text, own)).lines]
    assert volumes == pytest.approx([0.060, 0.030, 0.0032])


def test_cost_by_hand(tmp_path: Path) -> None:
    # 60 mL of a 70 cl bottle at 14.00: 1.20; a cherry 0.15; waste 4 % of 1.35 = 0.054; 1.404 in all.
    # Price 12.00 with 20 % tax: 10.00 kept; 14.04 %; 8.596 left. For 20 %: 1.404 / 0.20 x 1.2 = 8.424.
    shelf = SHELF + "service: {waste: 4 %, target_cost: 20 %}\ntax: {selling: 20 %}\n"
    text = STIRRED + "garnish:\n  - cherry: {price: 0.15 EUR}\nprice: 12 EUR\n"
    price = pour_drink(_drink(tmp_path, text, shelf)).price
    assert price is not None
    assert (price.ingredients, price.garnish, price.waste) == pytest.approx((1.20, 0.15, 0.054))
    assert price.cost == pytest.approx(1.404)
    assert price.price_without_tax == pytest.approx(10.0)
    assert price.cost_share == pytest.approx(0.1404)
    assert price.contribution == pytest.approx(8.596)
    assert price.price_for_target == pytest.approx(8.424)


@pytest.mark.parametrize(
    ("tax", "offer", "cost"),
    [
        # 60 of 700 mL at 14.00
        ("{buying: 20 %, offers: without, reclaimed: true}", "", 1.20),
        ("{buying: 20 %, offers: without, reclaimed: false}", "", 1.44),
        ("{buying: 20 %, offers: with, reclaimed: true}", "", 1.00),
        ("{buying: 20 %, offers: with, reclaimed: false}", "", 1.20),
        ("{buying: 20 %, offers: without, reclaimed: false}", ", tax: with", 1.20),
        ("{buying: 20 %, offers: without, reclaimed: false}", ", tax_rate: 5 %", 1.26),
    ],
)
def test_tax_counts_only_where_it_is_not_paid_back(tmp_path: Path, tax: str, offer: str, cost: float) -> None:
    shelf = SHELF.replace("price: 14 EUR", f"price: 14 EUR{offer}") + f"tax: {tax}\n"
    price = pour_drink(_drink(tmp_path, STIRRED, shelf)).price
    assert price is not None
    assert price.cost == pytest.approx(cost)


def test_garnish_and_juice_of_one_fruit_are_paid_for_once(tmp_path: Path) -> None:
    # 30 mL juice x 1.035 = 31.05 g at 40 % is 77.6 g of fruit; 3 g zest at 5 % are 60 g: 77.6 g are paid
    shelf = SHELF + (
        "whole:\n  whole-lemon: {price: 2.00 EUR/kg, parts: {lemon-juice: 40 %, lemon-zest: 5 %}}\n"
    )
    text = "method: shaken\ningredients:\n  - lemon-juice: 30 mL\ngarnish:\n  - lemon-zest: 3 g\n"
    price = pour_drink(_drink(tmp_path, text, shelf)).price
    assert price is not None
    assert price.cost == pytest.approx(0.07763 * 2.0, rel=1e-3)
    assert price.garnish > 0.0


def test_a_batch_pours_the_same_drink(tmp_path: Path) -> None:
    text = """\
method: stirred
ingredients:
  - strong-spirit: 40 mL
  - plain-syrup: 20 mL
"""
    path = _drink(tmp_path, text)
    record = pour_drink(path, batch="6 bottles of 70 cl")
    batch = record.batch
    assert batch is not None
    assert float(batch.drink.volume_l) == pytest.approx(4.2, rel=1e-9)
    assert float(batch.drink.strength_pct_vol) == pytest.approx(float(record.served.strength_pct_vol))
    assert batch.serve_l == pytest.approx(float(record.served.volume_l))
    assert batch.serves * batch.serve_l == pytest.approx(4.2)
    by_name = {line.ingredient: line for line in batch.lines}
    assert list(by_name) == ["strong-spirit", "plain-syrup", "water"]
    assert by_name["water"].mass_kg == pytest.approx(batch.serves * record.melt.mass_kg)
    # poured again as a batched drink it is the same, and no ice is counted twice
    again = f"""\
method: batched
ingredients:
  - strong-spirit: 40 mL
  - plain-syrup: 20 mL
  - water: {record.melt.mass_kg * 1000.0:.9f} g
"""
    poured = pour_drink(_drink(tmp_path, again))
    assert float(poured.served.strength_pct_vol) == pytest.approx(float(record.served.strength_pct_vol))
    assert poured.melt.mass_kg == 0.0


def test_what_is_left_out_of_a_batch_goes_to_each_glass(tmp_path: Path) -> None:
    text = "method: shaken\ningredients:\n  - strong-spirit: 40 mL\n  - lemon-juice: 20 mL\n"
    path = _drink(tmp_path, text)
    whole = pour_drink(path, batch="fill keg (90 % of the vessel)").batch
    apart = pour_drink(path, batch="fill keg (90 % of the vessel)", leave_out=["lemon-juice"]).batch
    assert whole is not None
    assert apart is not None
    assert float(apart.drink.volume_l) == pytest.approx(9.0)
    assert apart.serve_l < whole.serve_l
    assert [line.ingredient for line in apart.at_service] == ["lemon-juice"]
    assert apart.serves > whole.serves


def test_sugar_is_weighed_into_a_batch(tmp_path: Path) -> None:
    text = "method: stirred\ningredients:\n  - strong-spirit: 40 mL\n  - white-sugar: 10 g\n"
    batch = pour_drink(_drink(tmp_path, text), batch="2 L bottled").batch
    assert batch is not None
    by_name = {line.ingredient: line for line in batch.lines}
    assert by_name["white-sugar"].volume_l is None
    assert by_name["white-sugar"].mass_kg == pytest.approx(0.010 * batch.serves)
    assert by_name["strong-spirit"].volume_l == pytest.approx(0.040 * batch.serves)
    assert by_name["water"].volume_l is not None


def test_what_cannot_be_batched_is_said(tmp_path: Path) -> None:
    path = _drink(tmp_path, STIRRED)
    with pytest.raises(UnitError, match="no vessel called 'bucket'"):
        pour_drink(path, batch="fill bucket (90 % of the vessel)")
    with pytest.raises(UnitError, match="must say how much"):
        pour_drink(path, batch="use 3 bottles of strong-spirit")
    with pytest.raises(UnitError, match="'gin-40' is not poured"):
        pour_drink(path, batch="5 L bottled", leave_out=["gin-40"])
    with pytest.raises(UnitError, match="leaves nothing to batch"):
        pour_drink(
            _drink(tmp_path, STIRRED.replace("37.41", "0")), batch="5 L bottled", leave_out=["strong-spirit"]
        )
    with pytest.raises(UnitError, match="--leave-out is for a batch"):
        pour_drink(path, leave_out=["strong-spirit"])


def test_too_strong_for_the_relation_asks_to_be_weighed(tmp_path: Path) -> None:
    text = "method: shaken\ningredients:\n  - overproof-spirit-63: 60 mL\n"
    with pytest.raises(SpecError, match=r"drink.yaml:3:9: method: 63\.0 % vol .* Weigh the melt once"):
        pour_drink(_drink(tmp_path, text))


def test_house_bottles_are_checked_where_the_drink_names_them(tmp_path: Path) -> None:
    text = STIRRED.replace("ingredients:\n", "house:\n  mine: no-such.yaml\ningredients:\n  - mine: 10 mL\n")
    with pytest.raises(SpecError, match="no file there"):
        pour_drink(_drink(tmp_path, text))
    taken = text.replace("mine", "gin-40")
    (tmp_path / "no-such.yaml").write_text("recipe: X\ningredients:\n  - water: {amount: 1 L}\n")
    with pytest.raises(SpecError, match="something else in the library"):
        pour_drink(_drink(tmp_path, taken))


def test_a_recipe_and_its_bottle_pour_the_same(tmp_path: Path) -> None:
    # the example's recipe file was written by `solve` from the bottle file, 9 digits
    text = "method: shaken\nhouse:\n  mine: {}\ningredients:\n  - mine: 60 mL\n"
    found = []
    for name in ("recipes/damson-aperitif.yaml", "bottles/damson-aperitif.yaml"):
        path = tmp_path / "drink.yaml"
        shelf = f"shelf: {(ROOT / 'examples/shelf.yaml').as_posix()}\n"
        body = text.replace("{}", (ROOT / "examples" / name).as_posix())
        path.write_text("drink: Test\n" + shelf + body, encoding="utf-8")
        record = pour_drink(path)
        assert record.price is not None
        found.append((float(record.served.strength_pct_vol), record.price.cost))
    assert found[0] == pytest.approx(found[1], rel=1e-5)


def test_json_holds_what_the_screen_shows(run_here: RunCommand) -> None:
    done = run_here("pour", "examples/drinks/amber-hour.yaml", "--batch", "3 bottles of 70 cl", "--json")
    assert (done.exit_code, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    assert document["served"]["strength_pct_vol"] == pytest.approx(18.3, abs=0.05)
    assert document["batch"]["volume_l"] == pytest.approx(2.1)
    assert {note["code"] for note in document["warnings"]} >= {"melt", "house_made", "dash", "batch_water"}


def test_standard_drinks_by_hand(tmp_path: Path) -> None:
    # 30 mL of 25 % vol: 7.5 mL pure alcohol, 5.92 g (789.24 g/L): 0.75 units of 10 mL, 0.59 drinks of 10 g.
    shelf = SHELF.replace("47.39 % vol", "25 % vol")
    text = "method: batched\ningredients:\n  - strong-spirit: 30 mL\n"
    record = pour_drink(_drink(tmp_path, text, shelf))
    by_country = {one.country: one.per_serve for one in record.drinks}
    assert record.ethanol_kg * 1000.0 == pytest.approx(5.92, abs=0.005)
    assert by_country["United Kingdom"] == pytest.approx(0.750, abs=0.001)
    assert by_country["WHO"] == pytest.approx(0.592, abs=0.001)
    assert by_country["United States"] == pytest.approx(0.423, abs=0.001)


def test_allergens_of_house_bottles_and_of_the_garnish(tmp_path: Path) -> None:
    recipe = "recipe: Nut liqueur\nshelf: shelf.yaml\ningredients:\n  - strong-spirit: {amount: 1 L}\n"
    recipe += "  - dry-white-wine-12: {amount: 200 mL}\n"
    (tmp_path / "mine.yaml").write_text(recipe, encoding="utf-8")
    text = STIRRED.replace("ingredients:\n", "house:\n  mine: mine.yaml\ningredients:\n  - mine: 10 mL\n")
    text += "garnish:\n  - candied-walnut: {price: 0.20 EUR}\n"
    record = pour_drink(_drink(tmp_path, text))
    found = {one.id: one.brought_by for one in record.allergens}
    assert found == {"sulphites": ("dry-white-wine-12 (in mine)",), "nuts": ("candied-walnut",)}
    codes = {note.code for note in record.cautions}
    assert {"allergens", "sulphites"} <= codes
    assert all(note.place in ("serving", "ingredient") for note in record.cautions)


def test_a_glass_is_held_against_the_limits_of_the_law(bar: Path, run_here: RunCommand) -> None:
    # The aperitif holds 35 mg/kg at worst and 1031.0 g/L; 60 mL of it, 61.9 g, bring 2.17 mg (a hair more, as
    # what its cake keeps is counted in). 30 mL of gin are 28.4 g; with 36.3 g of ice that is 17.1 mg/kg.
    path = bar / "drinks" / "leaf.yaml"
    house = "house: {wormwood-aperitif: ../recipes/wormwood-aperitif.yaml}\n"
    poured = "ingredients:\n  - wormwood-aperitif: 60 mL\n  - gin-40: 30 mL\n"
    text = f"drink: Leaf\nshelf: ../shelf.yaml\n{house}method: stirred\nmelt: 36.3 g\n{poured}"
    path.write_text(text, encoding="utf-8")
    record = pour_drink(path)
    value = (61.86 * 35.0 / 1000.0) / (61.86 + 28.45 + 36.3) * 1000.0
    assert [cap.jurisdiction for cap in record.law.over] == [("US",)]
    assert [cap.value for cap in record.law.caps] == pytest.approx([value] * len(record.law.caps), rel=0.02)
    done = run_here("pour", "--all", path)
    assert (done.exit_code, done.crash) == (4, "")
    assert done.stdout.startswith("OVER THE LIMIT: thujone 17.")
    shelf = bar / "shelf.yaml"
    shelf.write_text("jurisdiction: EU\n" + shelf.read_text(encoding="utf-8"), encoding="utf-8")
    done = run_here("pour", path, "--json")
    assert (done.exit_code, done.crash) == (0, "")
    (limit,) = json.loads(done.stdout)["limits"]
    assert (limit["limit"], limit["over"], limit["most"]) == ("eu-thujone-artemisia", False, 35.0)
