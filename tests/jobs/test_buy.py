"""`buy`: offers of every kind, minimum orders, the printed list, JSON and the saved recipe.

Shelves and prices are invented; what a list must cost is counted by hand beside each check.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.describe.buy_record import BuyRecord
from formulate.describe.no_recipe import NoRecipe
from formulate.errors import InfeasibleError, SpecError
from formulate.jobs.buy import buy_bottle
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from formulate.report.buy_text import buy_text
from tests.worked_examples import bought_example

WIDTH = 80

# 2 L at 24.7 to 25.3 % vol from 40 % spirit takes about 1.24 L or 1.17 kg of it, and about 0.3 kg of sugar.
BOTTLE = """\
name: Test shelf
size: 2 L bottled
shelf: shelf.yaml
targets:
  strength: 25 ± 0.3 % vol
  sugar: 150 ± 5 g/L
  acid: 4 to 6 g/L
ingredients:
  - vodka-40
  - water
  - white-sugar
  - citric-acid
"""

SHELF = {
    "vodka-40": "{pack: 70 cl, price: 9.60 EUR, supplier: north cellar}",
    "white-sugar": "{pack: 1 kg, price: 1.15 EUR, supplier: harbour supplies}",
    "citric-acid": "{pack: 500 g, price: 4.30 EUR, supplier: harbour supplies}",
}


def _written(folder: Path, more: str = "", bottle: str = BOTTLE, **offers: str) -> Path:
    """Write a shelf of these offers and a bottle file beside it."""
    lines = [f"  {name}: {offer}" for name, offer in (SHELF | offers).items()]
    shelf = "\n".join(["name: Invented", "currency: EUR", "offers:", *lines, more]).rstrip() + "\n"
    (folder / "shelf.yaml").write_text(shelf, encoding="utf-8")
    path = folder / "bottle.yaml"
    path.write_text(bottle, encoding="utf-8")
    return path


def _bought(record: BuyRecord) -> dict[str, tuple[int | None, str, float]]:
    return {line.name: (line.packs, line.pack, line.cost) for line in record.lines if line.cost > 0.0}


def test_plain_packs(tmp_path: Path) -> None:
    record = buy_bottle(_written(tmp_path))
    # 1.2 L of spirit are two bottles; sugar and acid one pack each: 19.20 + 1.15 + 4.30.
    assert _bought(record) == {
        "vodka-40": (2, "70 cl", 19.20),
        "white-sugar": (1, "1 kg", 1.15),
        "citric-acid": (1, "500 g", 4.30),
    }
    assert record.total == 24.65
    assert record.status == "optimal"


def test_a_price_per_kg_or_litre_with_a_pack_is_bought_in_packs(tmp_path: Path) -> None:
    sugar = "{pack: 2 kg, price: 1.30 EUR/kg, supplier: harbour supplies}"
    vodka = "{pack: 5 dL, price: 14 EUR/L, supplier: north cellar}".replace("5 dL", "50 cl")
    record = buy_bottle(_written(tmp_path, **{"white-sugar": sugar, "vodka-40": vodka}))
    # Three half litres at 14 EUR/L are 3 x 7.00; a 2 kg pack at 1.30 EUR/kg is 2.60.
    assert _bought(record)["vodka-40"] == (3, "50 cl", 21.00)
    assert _bought(record)["white-sugar"] == (1, "2 kg", 2.60)


def test_the_cheapest_offer_without_a_pack_is_taken_by_weight(tmp_path: Path) -> None:
    offers = "[{pack: 1 kg, price: 1.15 EUR}, {price: 2 EUR/kg, supplier: mill}, {price: 3 EUR/kg}]"
    record = buy_bottle(_written(tmp_path, **{"white-sugar": offers}))
    sugar = next(line for line in record.lines if line.name == "white-sugar")
    # 290 g at 2 EUR/kg is 0.58, less than a whole kilogram at 1.15.
    assert (sugar.packs, sugar.supplier, sugar.pack) == (None, "mill", "by weight")
    assert sugar.cost == pytest.approx(2.0 * sugar.used_kg, abs=0.005)
    assert sugar.bought_kg == pytest.approx(sugar.used_kg, rel=1e-6)
    assert sugar.left_kg == pytest.approx(0.0, abs=1e-6)


def test_packs_counted_in_pieces(tmp_path: Path) -> None:
    """Six lemons' juice in a net: 45 g of juice a piece by the shelf's own word, so 270 g a net."""
    own = "ingredients:\n  lemon-juice: {based_on: lemon-juice, piece: 45 g}"
    bottle = BOTTLE.replace("citric-acid", "lemon-juice")
    nets = "{pack: 6 pieces, price: 2.10 EUR, supplier: market hall}"
    record = buy_bottle(_written(tmp_path, own, bottle, **{"lemon-juice": nets}))
    line = next(line for line in record.lines if line.name == "lemon-juice")
    assert line.packs == 1
    assert line.cost == 2.10
    assert line.used_kg + line.left_kg == pytest.approx(0.270)


def test_stock_comes_first_and_what_is_loose_ends_it(tmp_path: Path) -> None:
    vodka = "{price: 16 EUR/kg, supplier: north cellar, on_hand: 1 kg}"
    record = buy_bottle(_written(tmp_path, **{"vodka-40": vodka}))
    line = next(line for line in record.lines if line.name == "vodka-40")
    assert line.from_stock_kg == pytest.approx(1.0)
    assert line.cost == pytest.approx(16.0 * (line.used_kg - 1.0), abs=0.005)
    everything = buy_bottle(_written(tmp_path, **{"vodka-40": vodka}), use_stock=False)
    assert everything.total == pytest.approx(record.total + 16.0, abs=0.02)


def test_a_minimum_order_is_kept_and_told(tmp_path: Path) -> None:
    north = "{pack: 70 cl, price: 9.60 EUR, supplier: north cellar}"
    two = f"[{north}, {{pack: 70 cl, price: 9 EUR, supplier: quay}}]"
    free = buy_bottle(_written(tmp_path, **{"vodka-40": two}))
    assert {line.supplier for line in free.lines if line.name == "vodka-40"} == {"quay"}
    # From the quay two bottles are 18 EUR: not enough for 20, and a third would make it 27; north is 19.20.
    kept = buy_bottle(_written(tmp_path, "least_order: {quay: 20 EUR}", **{"vodka-40": two}))
    vodka = [line for line in kept.lines if line.name == "vodka-40"]
    assert [(line.supplier, line.packs, line.cost) for line in vodka] == [("north cellar", 2, 19.20)]
    assert kept.least_orders == ()
    met = buy_bottle(_written(tmp_path, "least_order: {quay: 18 EUR}", **{"vodka-40": two}))
    assert met.least_orders == (("quay", 18.0),)
    assert "The least order of 18.00 EUR from quay is kept." in buy_text(met)


@pytest.mark.parametrize("adapt", [False, True])
def test_a_list_is_not_filled_up_to_a_minimum_order(adapt: bool, tmp_path: Path) -> None:
    """Two bottles at 9 are 18 EUR of 20: what is missing is said, and a third is offered, not listed."""
    only = "{pack: 70 cl, price: 9 EUR, supplier: quay}"
    record = buy_bottle(_written(tmp_path, "least_order: {quay: 20 EUR}", **{"vodka-40": only}), adapt=adapt)
    assert _bought(record)["vodka-40"][0] == 2
    assert record.least_orders == ()
    (short,) = record.shortfalls
    assert (short.supplier, short.ordered, short.least) == ("quay", 18.0, 20.0)
    (stock,) = short.keeping
    assert (stock.ingredient, stock.packs, stock.cost) == ("vodka-40", 1, 9.0)
    text = " ".join(buy_text(record).split())
    assert "The order from quay comes to 18.00 EUR, 2.00 short of their least order of 20.00." in text
    assert "Only to reach the least order: 1 x 70 cl vodka-40 more (enough for 0." in text
    assert "more batches of this drink): 9.00 EUR; it keeps." in text
    assert "least orders left aside" in text


def test_a_pinch_is_not_bought_by_the_sack_to_reach_a_minimum_order(tmp_path: Path) -> None:
    """A shop asks 50 EUR of somebody who needs one pack of acid and one of sugar: that is what is said."""
    more = "least_order: {harbour supplies: 50 EUR}"
    gin = "{pack: 70 cl, price: 15 EUR, supplier: harbour supplies}"
    record = buy_bottle(_written(tmp_path, more, **{"gin-40": gin}), leftover_share=0.5)
    assert _bought(record)["citric-acid"] == (1, "500 g", 4.30)
    assert _bought(record)["white-sugar"] == (1, "1 kg", 1.15)
    (short,) = record.shortfalls
    # 50 - 5.45 = 44.55 EUR are missing: eleven packs of acid, for 680 more batches, or 39 of sugar, for 130.
    assert (short.keeping, short.others) == ((), ("gin-40",))
    assert short.short == pytest.approx(44.55)
    text = " ".join(buy_text(record).split())
    assert "would fill it in a sensible time: 44.55 EUR are missing." in text
    assert "What keeps for other drinks: gin-40." in text
    # Nothing of theirs keeps, not even what is needed: nothing is offered.
    peel = "{pack: 500 g, price: 8 EUR, supplier: peelers}"
    bottle = BOTTLE + "  - lemon-zest: {exactly: 10 g per L bottled}\n"
    fresh = _written(tmp_path, "least_order: {peelers: 9 EUR}", bottle, **{"lemon-zest": peel})
    (zest,) = buy_bottle(fresh).shortfalls
    assert (zest.keeping, zest.others) == ((), ())
    assert "sensible time: 1.00 EUR are missing. Wait until you need more, or ask them." in " ".join(
        buy_text(buy_bottle(fresh)).split()
    )


def test_an_order_is_filled_up_with_what_the_drink_uses(tmp_path: Path) -> None:
    """18.80 EUR are missing: two packs of the sugar it uses, for some six batches, not gin it has none of."""
    cellar = {"gin-40": ("70 cl", 4.99), "white-sugar": ("1 kg", 10.0), "citric-acid": ("500 g", 9.20)}
    offers = {
        name: f"{{pack: {pack}, price: {price} EUR, supplier: north cellar}}"
        for name, (pack, price) in cellar.items()
    }
    spirit = "{pack: 70 cl, price: 9.60 EUR, supplier: elsewhere}"
    path = _written(tmp_path, "least_order: {north cellar: 38 EUR}", **offers, **{"vodka-40": spirit})
    (short,) = buy_bottle(path).shortfalls
    assert short.short == pytest.approx(38.0 - 10.0 - 9.2)
    (stock,) = short.keeping
    assert (stock.ingredient, stock.packs) == ("white-sugar", 2)
    # A batch takes 2 L x 145 to 155 g/L.
    assert stock.batches == pytest.approx(2000.0 / 300.0, rel=0.04)


@pytest.mark.parametrize(
    ("least", "offered"), [(23.0, [("white-sugar", 3, 15.0), ("citric-acid", 1, 2.0)]), (25.0, [])]
)
def test_several_things_fill_an_order_up_none_for_long(
    least: float, offered: list[tuple[str, int, float]], tmp_path: Path
) -> None:
    """Sugar and acid are 7 EUR of 23; a kilogram lasts 3.4 batches, 50 g of acid (4 g/L of 2 L) 6.2.

    By hand, whatever is used up first: sugar (3.4), acid (6.2), sugar (6.9), sugar (10.3) make 17 of the 16
    that are missing. Of 25 there are 18 missing; another pack of either would last for more than 12 batches.
    """
    spirit = "{pack: 70 cl, price: 9.60 EUR, supplier: elsewhere}"
    offers = {
        "vodka-40": spirit,
        "white-sugar": "{pack: 1 kg, price: 5 EUR, supplier: north cellar}",
        "citric-acid": "{pack: 50 g, price: 2 EUR, supplier: north cellar}",
    }
    path = _written(tmp_path, f"least_order: {{north cellar: {least} EUR}}", **offers)
    record = buy_bottle(path)
    (short,) = record.shortfalls
    assert [(one.ingredient, one.packs, one.cost) for one in short.keeping] == offered
    assert all(one.batches <= 12.0 for one in short.keeping)
    text = " ".join(buy_text(record).split())
    assert ("17.00 EUR; they keep." in text) == bool(offered)
    assert ("18.00 EUR are missing." in text) == (not offered)
    told = record.to_dict()["shortfalls"][0]
    assert told["missing"] == pytest.approx(least - 7.0)
    assert [one["packs"] for one in told["all_to_reach_it"]] == [packs for _, packs, _ in offered]


def test_another_supplier_is_offered_where_filling_up_costs_less(tmp_path: Path) -> None:
    """Quay 2 x 9 = 18 of 20, a third bottle makes 27; north 2 x 15 = 30 keeps all: both are told."""
    two = (
        "[{pack: 70 cl, price: 15 EUR, supplier: north cellar}, {pack: 70 cl, price: 9 EUR, supplier: quay}]"
    )
    record = buy_bottle(_written(tmp_path, "least_order: {quay: 20 EUR}", **{"vodka-40": two}))
    assert _bought(record)["vodka-40"] == (2, "70 cl", 18.0)
    (short,) = record.shortfalls
    assert [stock.cost for stock in short.keeping] == [9.0]
    elsewhere = {line.name: line.cost for line in record.elsewhere}
    assert elsewhere["vodka-40"] == 30.0
    assert "Or with 2 x 70 cl vodka-40 from north cellar instead: 35.45 EUR in all" in " ".join(
        buy_text(record).split()
    )


def test_the_recipe_stays_the_cheapest_one_unless_it_shall_be_adapted() -> None:
    """Quince is sold by 5 kg: adapting doubles the fruit and drops two acids: nobody expects that."""
    path = ROOT / "examples" / "bottles" / "quince-cordial.yaml"
    solved, kept, adapted = solve_bottle(path), buy_bottle(path), buy_bottle(path, adapt=True)
    grams = {line.ingredient: line.mass_kg for line in solved.record.recipe}
    assert {line.ingredient: line.mass_kg for line in kept.drink.recipe} == grams
    uses = {line.name: line.used_kg for line in kept.lines}
    assert uses == pytest.approx(grams)
    # Counted by hand from the shelf: 3 kg sugar 3.45, citric 4.30, malic 5.60, quince 14.50, and the juice.
    juice = 4.20 * grams["lemon-juice"]
    assert kept.total == pytest.approx(27.85 + juice, abs=0.005)
    assert kept.could_save == pytest.approx(kept.total - adapted.total, abs=0.005)
    assert adapted.adapted is not None
    assert adapted.adapted.saved == pytest.approx(kept.could_save)
    moves = {move.ingredient: move for move in adapted.adapted.moves}
    assert moves["quince"].before_kg == pytest.approx(grams["quince"])
    assert moves["quince"].after_kg > 2.0 * grams["quince"]
    assert moves["malic-acid"].after_kg == 0.0
    assert adapted.adapted.before.drink.sugar_g_l == pytest.approx(solved.record.predicted.sugar_g_l)
    text = buy_text(adapted)
    assert "before g  now g" in text
    assert "left out" in text
    assert "EUR less than" in " ".join(text.split())
    assert f"{kept.could_save:.2f} EUR less." in " ".join(buy_text(kept).split())


def test_a_rest_that_is_worth_something_favours_the_large_bottle(tmp_path: Path) -> None:
    two = "[{pack: 70 cl, price: 9.60 EUR}, {pack: 3 L, price: 30 EUR}]"
    path = _written(tmp_path, **{"vodka-40": two})
    assert _bought(buy_bottle(path))["vodka-40"] == (2, "70 cl", 19.20)
    # 3 L at 10 EUR/L less 1.8 L of rest at full worth is 12 EUR, below two bottles less their rest.
    kept = buy_bottle(path, leftover_share=1.0)
    assert _bought(kept)["vodka-40"] == (1, "3 L", 30.00)
    assert "counted at 100 % of its price" in " ".join(buy_text(kept).split())


def test_whole_fruit_on_hand_counts_before_any_is_bought(tmp_path: Path) -> None:
    text = (ROOT / "examples" / "shelf.yaml").read_text("utf-8")
    house = (ROOT / "examples" / "recipes").as_posix()
    text = text.replace("recipes/", f"{house}/").replace(
        "supplier: market hall", "supplier: market hall\n    on_hand: 1 pieces"
    )
    (tmp_path / "shelf.yaml").write_text(text, encoding="utf-8")
    bottle = (ROOT / "examples" / "bottles" / "damson-aperitif.yaml").read_text("utf-8")
    (tmp_path / "bottle.yaml").write_text(bottle.replace("../shelf.yaml", "shelf.yaml"), encoding="utf-8")
    before = bought_example("damson-aperitif")
    after = buy_bottle(tmp_path / "bottle.yaml")
    fruit = [
        next(line for line in record.lines if line.name == "whole-grapefruit") for record in (before, after)
    ]
    assert [line.packs for line in fruit] == [2, 1]
    assert fruit[1].from_stock_kg == pytest.approx(0.38)
    assert after.total == pytest.approx(before.total - 0.95)


def test_a_jar_is_not_overfilled_by_what_the_packs_made_of_the_recipe() -> None:
    record = bought_example("lemon-leaf-liqueur")
    # The file says `fill jar-4l (80 % of the vessel)`: 3.2 L of liquor and leaves at most.
    step = record.drink.steps[0]
    leaves = sum(
        line.mass_kg for line in record.drink.recipe if line.ingredient in ("lemon-leaf", "lemon-zest")
    )
    assert step.volume_l <= 3.2
    assert step.volume_l + leaves >= 0.99 * 3.2


def test_an_amount_used_up_is_not_overdrawn() -> None:
    record = bought_example("lemon-leaf-40")
    vodka = next(line for line in record.lines if line.name == "vodka-40")
    # Three bottles of 70 cl at the density of 40 % vol spirit, 948.0 kg/m3 (OIML R 22): 1.991 kg.
    assert vodka.used_kg <= 3 * 0.7 * 0.9481


BOTTLES = sorted(
    path for path in (ROOT / "examples" / "bottles").glob("*.yaml") if path.stem != "damson-too-cheap"
)


@pytest.mark.parametrize("path", BOTTLES, ids=lambda path: path.stem)
def test_the_printed_costs_add_up_within_eighty_columns(path: Path) -> None:
    record = buy_bottle(path)
    text = buy_text(record)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert not [line for line in text.splitlines() if line != line.rstrip()]
    listed = [line for line in text.splitlines() if line.startswith("  ") and "·" not in line]
    # A cost is the only figure with two decimals that stands after what to take.
    costs = [
        re.findall(r" (\d+\.\d\d)(?= |$)", line)
        for line in listed
        if re.search(r"\d (x |pieces?|g by)", line)
    ]
    printed = sum(round(100 * float(found[0])) for found in costs)
    # What is to pay is the lines and the tax on them, 20 % by the shelf, each line rounded by itself.
    bill = re.search(r"^(\d+\.\d\d) EUR to pay: (\d+\.\d\d) EUR, (\d+\.\d\d) tax that", text, re.MULTILINE)
    assert bill is not None
    to_pay, without, tax = (round(100 * float(one)) for one in bill.groups())
    assert to_pay == without + tax
    assert without == printed == round(100 * sum(line.cost for line in record.lines))
    assert abs(tax - 0.2 * without) <= 0.5 * len(record.lines)
    assert text.count("uses g") == 1, "one head, one set of widths"


def test_deposit_and_tax_that_stays_are_paid_too(bar: Path) -> None:
    # By hand: five bottles at 9.99 with 20 % tax in it are 49.95: 8.33 tax (8.325) and 41.62; 1.25 deposit.
    shelf = bar / "shelf.yaml"
    text = shelf.read_text("utf-8").replace("tax: {buying", "tax: {reclaimed: false, buying")
    vodka = "vodka-40: {pack: 70 cl, price: 9.99 EUR, tax: with, deposit: 0.25 EUR}"
    shelf.write_text(re.sub(r"vodka-40: \{pack.*\}", vodka, text), "utf-8")
    bottle = bar / "bottles" / "damson-aperitif.yaml"
    bottle.write_text(bottle.read_text("utf-8").replace("  cost: at most 9.80 EUR/L\n", ""), "utf-8")
    record = buy_bottle(bottle)
    (line,) = [one for one in record.lines if one.name == "vodka-40"]
    assert (line.packs, line.without_tax, line.tax, line.cost) == (5, 41.62, 8.33, 49.95)
    assert record.to_pay == pytest.approx(record.total + 1.25)
    assert re.search(
        rf"^{record.to_pay:.2f} EUR to pay: .* tax, 1\.25 deposit\.", buy_text(record), re.MULTILINE
    )


def test_a_long_name_stays_within_eighty_columns(tmp_path: Path) -> None:
    name = "a-very-long-winded-name-for-a-sweetener-of-the-house"
    own = f"ingredients:\n  {name}: {{based_on: white-sugar}}"
    offer = {name: "{pack: 12.5 kg, price: 14.35 EUR, supplier: " + "a supplier with a long name " * 4 + "}"}
    record = buy_bottle(_written(tmp_path, own, BOTTLE.replace("white-sugar", name), **offer))
    assert max(map(len, buy_text(record).splitlines())) <= WIDTH


def test_json_holds_every_line(tmp_path: Path) -> None:
    record = buy_bottle(_written(tmp_path))
    document = record.to_dict()
    assert document["schema_version"] == 1
    assert document["status"] == "optimal"
    assert document["total"] == pytest.approx(sum(line["cost"] for line in document["lines"]))
    assert {
        "ingredient",
        "supplier",
        "packs",
        "pack",
        "bought_g",
        "without_tax",
        "tax",
        "deposit",
        "cost",
        "used_g",
        "from_stock_g",
        "left_g",
    } == set(document["lines"][0])
    assert 0.0 <= document["proven_gap"] <= 1e-4 * (1 + 1e-6)
    drink = document["drink"]
    assert drink["status"] == "optimal", "the recipe is the cheapest by use"
    assert drink["cost"]["total"] < document["total"]
    assert (document["shortfalls"], document["elsewhere"], document["adapted"]) == ([], [], None)


def test_json_of_an_adapted_recipe_holds_both() -> None:
    record = buy_bottle(ROOT / "examples" / "bottles" / "quince-cordial.yaml", adapt=True)
    document = record.to_dict()
    drink = document["drink"]
    assert drink["status"] == "feasible", "the proof is of the list, not of what is used"
    assert drink["cost"]["proven_gap"] is None
    assert document["adapted"]["after"]["acid_g_l"] == pytest.approx(drink["predicted"]["acid_g_l"])
    now = {move["ingredient"]: move["after_g"] for move in document["adapted"]["moves"] if move["after_g"]}
    assert now == pytest.approx({line["ingredient"]: line["mass_g"] for line in drink["recipe"]})


def test_the_saved_recipe_reads_back(tmp_path: Path, run_here: RunCommand) -> None:
    path, saved = _written(tmp_path), tmp_path / "fitted.yaml"
    done = run_here("buy", str(path), "-o", str(saved), "--json")
    assert done.exit_code == 0, done.stderr
    document = json.loads(done.stdout)
    assert f"Written: {saved.as_posix()}" in done.stderr
    drink = predict_recipe(saved)
    for figure in ("strength_pct_vol", "sugar_g_l", "acid_g_l", "volume_l"):
        told = document["drink"]["predicted"][figure]
        assert float(getattr(drink.predicted, figure)) == pytest.approx(told, rel=1e-6)
    again = run_here("buy", str(path), "-o", str(saved))
    assert again.exit_code == 2
    assert "--force" in again.stderr


def test_exit_codes(tmp_path: Path, run_here: RunCommand) -> None:
    assert run_here("buy", str(_written(tmp_path)), "--leftover", "120 %").exit_code == 2
    none = _written(tmp_path, bottle=BOTTLE.replace("25 ± 0.3", "45 ± 0.3"))
    done = run_here("buy", str(none), "--json")
    assert done.exit_code == 3
    assert json.loads(done.stdout)["status"] == "infeasible"
    with pytest.raises(InfeasibleError) as caught:
        buy_bottle(none)
    assert isinstance(caught.value.explanation, NoRecipe)


def test_a_supplier_nobody_buys_from_has_no_minimum_order(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match=r"nothing is bought from 'nort cellar'. Did you mean 'north cellar'"):
        buy_bottle(_written(tmp_path, "least_order: {nort cellar: 20 EUR}"))


def test_names_change_nothing(tmp_path: Path) -> None:
    """The same shelf under other names: the same packs, money and grams."""
    first = buy_bottle(_written(tmp_path))
    names = {"vodka-40": "zz-spirit", "white-sugar": "aa-sweet", "citric-acid": "mm-sour"}
    own = "ingredients:\n" + "\n".join(f"  {new}: {{based_on: {old}}}" for old, new in names.items())
    bottle = BOTTLE
    for old, new in names.items():
        bottle = bottle.replace(old, new)
    second = buy_bottle(_written(tmp_path, own, bottle, **{new: SHELF[old] for old, new in names.items()}))
    named = {names.get(name, name): value for name, value in _bought(first).items()}
    assert named == _bought(second)
    grams = [[line.mass_kg for line in record.drink.recipe] for record in (first, second)]
    assert grams[0] == grams[1]
