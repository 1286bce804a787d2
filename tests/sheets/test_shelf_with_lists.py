"""What a shelf takes from its lists reaches every command; money checked by hand."""

from __future__ import annotations

import json
import random
from datetime import date
from pathlib import Path

import pytest
from conftest import RunCommand
from mutations import mutate

from formulate.bar.offers import pack_of_whole
from formulate.bar.opening import open_pantry
from formulate.errors import SpecError
from formulate.files.listed_shelf import load_shelf
from formulate.jobs.buy import buy_bottle
from formulate.jobs.menu import plan_menu
from formulate.jobs.pour import pour_drink
from formulate.optimise.mip.packs import Thing

BOTTLE = """\
name: A syrup with spirit
size: {size}
shelf: ../price-list-shelf.yaml
targets: {{strength: 20 ± 0.3 % vol, sugar: 100 ± 5 g/L}}
ingredients: [vodka-40, water, white-sugar]
"""


def _bottle(bar: Path, size: str = "5 L bottled") -> Path:
    path = bar / "bottles" / "listed.yaml"
    path.write_text(BOTTLE.format(size=size), encoding="utf-8")
    return path


def _change(path: Path, *pairs: tuple[str, str]) -> None:
    text = path.read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8", newline="")


def test_a_case_is_bought_where_it_is_cheaper_and_a_bottle_where_not(bar: Path) -> None:
    """By hand. 5 L at 20 % vol hold 1.00 L of ethanol, in 2.50 L of vodka at 40: near 3.6 bottles, so four.

    Four bottles at 9.40 are 37.60, a case of six at 53.10 more. At 12 L near 8.6 are needed: a case and three
    bottles are 53.10 + 28.20 = 81.30, nine bottles 84.60, two cases 106.20.
    """
    _change(bar / "price-list-shelf.yaml", ("vodka-40: Vodka, ", ""))
    small = buy_bottle(_bottle(bar))
    vodka = [(line.packs, line.pack, line.cost) for line in small.lines if line.name == "vodka-40"]
    assert vodka == [(4, "0.7 L", 37.60)]
    large = buy_bottle(_bottle(bar, "12 L bottled"))
    vodka = [(line.packs, line.pack, line.cost) for line in large.lines if line.name == "vodka-40"]
    assert vodka == [(3, "0.7 L", 28.20), (1, "case of 6 x 0.7 L", 53.10)]
    # a fifth of tax on 81.30 is 16.26 (5.64 and 10.62); the case carries 2.40 of deposit
    assert sum(line.tax for line in large.lines if line.name == "vodka-40") == pytest.approx(16.26)
    assert large.deposit == 2.40
    assert large.total == pytest.approx(large.without_tax)


def test_a_case_with_tax_in_its_price_is_held_against_bottles_without(bar: Path) -> None:
    """By hand: 53.10 with tax in is 44.25 without, 7.375 a bottle: six bottles at 9.40 are 56.40.

    For four bottles' worth the case costs 44.25 against 37.60, so bottles; a case of 45.00, which is 37.50
    without tax, wins by ten cents.
    """
    shelf, prices = bar / "price-list-shelf.yaml", bar / "lists" / "north-cellar-october.csv"
    _change(shelf, ("vodka-40: Vodka, ", ""), ("    decimal: comma\n", "    decimal: comma\n    tax: with\n"))
    _change(prices, ("9,40;", "11,28;"))  # 9.40 and a fifth
    small = buy_bottle(_bottle(bar))
    assert [(line.packs, line.cost) for line in small.lines if line.name == "vodka-40"] == [(4, 37.60)]
    _change(prices, ("53,10", "45,00"))
    cheaper = buy_bottle(_bottle(bar))
    (line,) = [line for line in cheaper.lines if line.name == "vodka-40"]
    assert (line.packs, line.pack, line.cost, line.tax) == (1, "case of 6 x 0.7 L", 37.50, 7.50)


def test_tax_that_does_not_come_back_is_part_of_what_it_costs(bar: Path) -> None:
    """By hand: four bottles at 9.40 are 37.60, a fifth on that 7.52, 45.12 in the end."""
    _change(
        bar / "price-list-shelf.yaml",
        ("vodka-40: Vodka, ", ""),
        ("currency: EUR\noffers", "currency: EUR\ntax: {reclaimed: false}\noffers"),
    )
    record = buy_bottle(_bottle(bar))
    (line,) = [line for line in record.lines if line.name == "vodka-40"]
    assert (line.without_tax, line.tax, line.cost) == (37.60, 7.52, 45.12)
    assert record.to_pay == record.total


def test_what_was_counted_is_used_first(bar: Path) -> None:
    """4.5 bottles of 70 cl are there and 2.6 kg of sugar; 5 L need less of both."""
    record = buy_bottle(_bottle(bar))
    assert record.total == 0.0
    (vodka,) = [line for line in record.lines if line.name == "vodka-40"]
    assert vodka.from_stock_kg == pytest.approx(vodka.used_kg)


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([("gin-40: Gin,", "gin-40: Genever,")], "no row for 'Genever'"),
        ([("price: 1.15 EUR,", "price: 1.15 EUR, on_hand: 1 kg,")], "said elsewhere on the shelf too"),
        ([("white-sugar: Sugar", "honey: Sugar")], "nobody sells it on this shelf"),
    ],
)
def test_stock_that_contradicts_the_shelf_is_refused(
    pairs: list[tuple[str, str]], words: str, bar: Path
) -> None:
    _change(bar / "price-list-shelf.yaml", *pairs)
    with pytest.raises(SpecError, match=words):
        load_shelf(bar / "price-list-shelf.yaml")


def test_a_count_of_what_the_house_makes_and_buys_whole_is_taken(bar: Path) -> None:
    counted = bar / "lists" / "counted.csv"
    counted.write_text("Counted,Left,In\nTincture,0.4,L\nGrapefruit,6,pieces\n", encoding="utf-8")
    lists = """
price_lists:
  - file: lists/counted.csv
    columns: {product: Counted, on_hand: Left, on_hand_unit: In}
    items: {gentian-tincture: Tincture, whole-grapefruit: Grapefruit}
"""
    shelf = bar / "shelf.yaml"
    _change(shelf, (", on_hand: 60 cl}", "}"))
    shelf.write_text(shelf.read_text(encoding="utf-8") + lists, encoding="utf-8")
    read = load_shelf(shelf)
    assert read.whole["whole-grapefruit"].on_hand_kg == pytest.approx(6 * 0.380)
    made = read.house_made["gentian-tincture"].on_hand
    assert made is not None
    assert made.value == 0.4
    counted.write_text(
        "Counted,Left,In\nTincture,0.4,L\nGrapefruit,6,pieces\nLoose,2,pieces\n", encoding="utf-8"
    )
    _change(shelf, ("whole-grapefruit: Grapefruit}", "whole-grapefruit: [Grapefruit, Loose]}"))
    with pytest.raises(SpecError, match="A4: whole-grapefruit: counted in two rows"):
        load_shelf(shelf)


def test_every_command_sees_the_list_and_stops_at_the_same_cell(bar: Path, run_here: RunCommand) -> None:
    shelf = bar / "shelf.yaml"
    _change(
        shelf,
        ("  gin-40: {pack: 70 cl, price: 15.90 EUR, supplier: north cellar}\n", ""),
        ("  sweet-vermouth-15: {pack: 1 L, price: 9.80 EUR, supplier: north cellar}\n", ""),
    )
    lists = """
price_lists:
  - file: lists/north-cellar-october.csv
    supplier: north cellar
    columns: {product: Article, pack: Size, price: Net price}
    decimal: comma
    currency: EUR
    items: {gin-40: Dry gin 40, sweet-vermouth-15: Vermouth sweet 15}
"""
    shelf.write_text(shelf.read_text(encoding="utf-8") + lists, encoding="utf-8")
    commands = (
        ["check", bar / "shelf.yaml"],
        ["pour", bar / "drinks" / "amber-hour.yaml"],
        ["menu", bar / "menus" / "autumn.yaml"],
        ["solve", bar / "bottles" / "lemon-leaf-40.yaml"],
        ["buy", bar / "bottles" / "lemon-leaf-40.yaml"],
        ["predict", bar / "recipes" / "lemon-leaf-40.yaml"],
    )
    found = {str(arguments[0]): run_here(*arguments, "--json") for arguments in commands}
    assert {done.exit_code for done in found.values()} == {0}
    poured = json.loads(found["pour"].stdout)
    example = json.loads(run_here("pour", "examples/drinks/amber-hour.yaml", "--json").stdout)
    assert poured["price"] == example["price"], "the same prices, now from the list"
    _change(bar / "lists" / "north-cellar-october.csv", ("15,90", "ask us"))
    for arguments in commands:
        done = run_here(*arguments)
        assert (done.exit_code, done.crash) == (2, "")
        assert "north-cellar-october.csv:D9: gin-40: no price, got ask us." in " ".join(done.stderr.split())
        told = json.loads(run_here(*arguments, "--json").stdout)
        assert told["errors"][0]["cell"] == "D9"


def test_a_list_says_when_its_prices_were_seen_and_until_when_they_hold(bar: Path) -> None:
    """A price that has run out counts only where there is no other: dearer vodka from elsewhere is taken."""
    shelf = bar / "price-list-shelf.yaml"
    _change(
        shelf,
        ("vodka-40: Vodka, ", ""),
        ("    decimal: comma\n", "    decimal: comma\n    seen: 2026-10-01\n    until: 2026-10-31\n"),
        ("offers:\n", "offers:\n  vodka-40: {pack: 70 cl, price: 9.90 EUR, supplier: harbour supplies}\n"),
    )
    (listed,) = load_shelf(shelf).offers["gin-40"]
    assert (listed.seen, listed.until) == (date(2026, 10, 1), date(2026, 10, 31))
    for day, cost in ((date(2026, 10, 31), 37.60), (date(2026, 11, 1), 39.60)):
        record = buy_bottle(_bottle(bar), today=day)
        assert [line.cost for line in record.lines if line.name == "vodka-40"] == [cost]


def test_a_list_sells_and_counts_supplies_by_the_piece(bar: Path) -> None:
    supplies = bar / "lists" / "supplies.csv"
    supplies.write_text("What,Pack,EUR,There\nLabel oval,500 pieces,62.50,120 pieces\n", encoding="utf-8")
    shelf = bar / "price-list-shelf.yaml"
    _change(
        shelf,
        ("offers:\n", "supplies:\n  label: {pack: 250 pieces, price: 37.50 EUR}\noffers:\n"),
        (
            "  - file: lists/counted.csv\n",
            "  - file: lists/supplies.csv\n    supplier: paper mill\n    currency: EUR\n"
            "    columns: {product: What, pack: Pack, price: EUR, on_hand: There}\n"
            "    items: {label: Label oval}\n  - file: lists/counted.csv\n",
        ),
    )
    typed, listed = load_shelf(shelf).supplies["label"]
    assert (typed.price.value, listed.price.value, listed.supplier) == (37.5, 62.5, "paper mill")
    assert listed.on_hand is not None
    assert listed.on_hand.value == 120
    _change(supplies, ("500 pieces", "2 kg"))
    with pytest.raises(SpecError, match="A2: label: a supply is bought by the pack, counted in pieces"):
        load_shelf(shelf)


def test_a_list_is_read_once_until_it_changes(bar: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from formulate.files import list_rows

    opened = []

    def counted(*asked: object) -> object:
        opened.append(asked[0])
        return really(*asked)  # type: ignore[arg-type]

    really = list_rows.open_table
    monkeypatch.setattr(list_rows, "open_table", counted)
    shelf = bar / "price-list-shelf.yaml"
    first = load_shelf(shelf)
    elsewhere = load_shelf(bar / "bottles" / ".." / "price-list-shelf.yaml")
    assert first.offers == elsewhere.offers
    assert len(opened) == 2, "its two lists, once each"
    _change(bar / "lists" / "north-cellar-october.csv", ("15,90", "16,00"))
    assert load_shelf(shelf).offers["gin-40"][0].price.value == 16.0
    assert len(opened) == 3


def test_prices_lists_what_is_taken_and_what_is_not(bar: Path, run_here: RunCommand) -> None:
    shelf = bar / "price-list-shelf.yaml"
    document = json.loads(run_here("prices", shelf, "--json").stdout)
    assert document["status"] == "ok"
    first, second = document["lists"]
    assert [(row["cell"], row["ingredient"], row["price"], row["deposit"]) for row in first["rows"]] == [
        ("B6", "vodka-40", 9.4, None),
        ("B7", "vodka-40", 53.1, 2.4),
        ("B9", "gin-40", 15.9, None),
        ("B12", "neutral-spirit-96", 104.0, 3.5),
        ("B15", "sweet-vermouth-15", 9.8, 0.25),
    ]
    assert (first["rows_not_used"], first["read_as"]) == (7, "UTF-8, semicolon")
    assert [row["on_hand"] for row in second["rows"]] == ["4.5 bottles", "1.2 bottles", "2.6 kg"]
    _change(bar / "lists" / "north-cellar-october.csv", ("9,80", "0,00"), ("0,7 l;9,40", "0,7;9,40"))
    done = run_here("prices", shelf)
    assert (done.exit_code, done.crash, done.stderr) == (2, "", "")
    assert "north-cellar-october.csv:C6: vodka-40: the" in " ".join(done.stdout.split())
    assert "D15: sweet-vermouth-15: a price of nothing" in " ".join(done.stdout.split())
    assert "3 rows asked for and right" in done.stdout
    rejected = json.loads(run_here("prices", shelf, "--json").stdout)
    assert rejected["status"] == "rejected"
    assert [one["cell"] for one in rejected["lists"][0]["rejected"]] == ["C6", "D15"]
    assert rejected["lists"][0]["rejected"][0]["path"].endswith("north-cellar-october.csv")


def test_prices_of_a_shelf_without_lists_says_so(run_here: RunCommand) -> None:
    done = run_here("prices", "examples/shelf.yaml")
    assert done.exit_code == 0
    assert "The shelf names none." in done.stdout


def test_an_unknown_name_in_a_list_is_told_at_its_line(bar: Path, run_here: RunCommand) -> None:
    shelf = bar / "price-list-shelf.yaml"
    _change(shelf, ("      gin-40: Dry gin 40", "      gin-4o: Dry gin 40"), ("gin-40: Gin, ", ""))
    for command in ("prices", "check"):
        done = run_here(command, shelf)
        assert done.exit_code == 2
        assert "Did you mean 'gin-40'?" in " ".join(f"{done.stdout}{done.stderr}".split())
        assert "price_lists.0.items.gin-4o" in " ".join(f"{done.stdout}{done.stderr}".split())


@pytest.mark.parametrize("number", range(60))
def test_broken_shelves_and_lists_are_told_and_never_crash(
    number: int, bar: Path, run_here: RunCommand
) -> None:
    """A shelf file or its list, broken at random: an answer or a message, never a traceback."""
    chance = random.Random(f"list {number}")
    name = chance.choice(("price-list-shelf.yaml", "lists/north-cellar-october.csv", "lists/counted.csv"))
    text = (bar / name).read_text(encoding="utf-8")
    (bar / name).write_bytes(mutate(text, chance))
    for command in ("prices", "check"):
        done = run_here(command, bar / "price-list-shelf.yaml")
        assert (done.crash, done.exit_code in (0, 2)) == ("", True), done
        assert done.stdout if done.exit_code == 0 else f"{done.stdout}{done.stderr}".strip()


def test_the_screen_says_what_tax_is_asked(tmp_path: Path, run_here: RunCommand) -> None:
    (tmp_path / "list.csv").write_text("what,size,price,tax\nGin,70 cl,12.00,20 %\n", encoding="utf-8")
    (tmp_path / "plain.csv").write_text("what,size,price\nRum,70 cl,12.00\n", encoding="utf-8")
    columns = "columns: {product: what, pack: size, price: price"
    shelf = tmp_path / "shelf.yaml"
    shelf.write_text(
        "name: Taxed\ncurrency: EUR\ntax: {buying: 7 %}\nprice_lists:\n"
        f"  - {{file: list.csv, {columns}, tax_rate: tax}}, currency: EUR, items: {{gin-40: Gin}}}}\n"
        f"  - {{file: plain.csv, tax: with, {columns}}}, currency: EUR, items: {{white-rum-40: Rum}}}}\n",
        encoding="utf-8",
    )
    done = run_here("prices", shelf)
    assert (done.exit_code, done.stderr) == (0, "")
    rows = [line.split() for line in done.stdout.splitlines()]
    assert ["A2", "gin-40", "Gin", "70", "cl", "12.00", "EUR", "+", "20", "%"] in rows
    assert ["A2", "white-rum-40", "Rum", "70", "cl", "12.00", "EUR", "7", "%", "in", "it"] in rows


def test_whole_fruit_takes_its_price_and_tax_from_a_list(bar: Path) -> None:
    # A case of 40 at 32.00 is 0.80 apiece, 5 % tax on it where the shelf says 20; bought case by case.
    prices = bar / "lists" / "fruit.csv"
    prices.write_text("Article,Size,Net price,Tax\nGrapefruit,40 pieces,32.00,5 %\n", encoding="utf-8")
    lists = """
price_lists:
  - file: lists/fruit.csv
    supplier: fruit round
    currency: EUR
    columns: {product: Article, pack: Size, price: Net price, tax_rate: Tax}
    items: {whole-grapefruit: Grapefruit}
"""
    shelf = bar / "shelf.yaml"
    shelf.write_text(shelf.read_text(encoding="utf-8") + lists, encoding="utf-8")
    whole = load_shelf(shelf).whole["whole-grapefruit"]
    assert (whole.price.value, whole.supplier, whole.case_pieces, whole.tax_rate) == (
        0.8,
        "fruit round",
        40,
        0.05,
    )
    pantry = open_pantry(shelf, load_shelf(shelf).places)
    pack, price = pack_of_whole(pantry, pantry.shelf.whole["whole-grapefruit"], Thing(True, 0))  # type: ignore[union-attr]
    assert (pack.name, pack.size_kg) == ("case of 40 pieces", pytest.approx(40 * 0.38))
    assert (price.net, price.tax) == (pytest.approx(32.0), pytest.approx(1.6))


def test_a_house_bottle_stands_in_the_count(bar: Path) -> None:
    # 2.3 L of the aperitif are there: the menu makes as much less of it.
    before = plan_menu(bar / "menus" / "autumn.yaml")
    counted = bar / "lists" / "counted.csv"
    counted.write_text("Counted,Left,In\nAperitif,2.3,L\n", encoding="utf-8")
    lists = """
price_lists:
  - file: lists/counted.csv
    columns: {product: Counted, on_hand: Left, on_hand_unit: In}
    items: {damson-aperitif: Aperitif}
"""
    shelf = bar / "shelf.yaml"
    shelf.write_text(shelf.read_text(encoding="utf-8") + lists, encoding="utf-8")
    after = plan_menu(bar / "menus" / "autumn.yaml")
    made = [next(r for r in one.house if r.name == "damson-aperitif") for one in (before, after)]
    assert made[1].on_hand_l == pytest.approx(2.3)
    assert made[0].made_l - made[1].made_l == pytest.approx(2.3, abs=0.7)  # batches end on whole bottles


def test_one_price_that_is_missing_leaves_the_others(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_text(
        "currency: EUR\noffers: {vodka-40: {pack: 1 L, price: 10 EUR}}\n", encoding="utf-8"
    )
    (tmp_path / "drink.yaml").write_text(
        "drink: Two\nshelf: shelf.yaml\nmethod: built\n"
        "ingredients:\n  - vodka-40: 50 mL\n  - gin-40: 20 mL\n",
        encoding="utf-8",
    )
    record = pour_drink(tmp_path / "drink.yaml")
    assert record.price is None
    assert {line.ingredient: line.cost for line in record.lines} == {
        "vodka-40": pytest.approx(0.5),
        "gin-40": None,
    }
