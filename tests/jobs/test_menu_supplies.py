"""Bottles, corks and straws, work in minutes, several vessels, plants that fade: all by hand."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import jsonschema
import pytest
from conftest import ROOT, RunCommand
from test_menu import DRINK, HOUSE_DRINK, LIQUEUR, MENU, SHELF

from formulate.describe.menu_record import MenuRecord
from formulate.errors import SpecError
from formulate.files.located import load_document
from formulate.files.schema import Kind, json_schema
from formulate.jobs.menu import plan_menu
from formulate.jobs.pour import pour_drink

SUPPLIES = """\
supplies:
  flask: {pack: 6 pieces, price: 4.80 EUR, supplier: yard, on_hand: 3 pieces}
  label:
    - {pack: 10 pieces, price: 2 EUR, supplier: press}
    - {pack: 100 pieces, price: 6 EUR, supplier: press}
  straw: {pack: 50 pieces, price: 1.50 EUR}
  filter: {pack: 4 pieces, price: 1 EUR}
"""


def _write(folder: Path, shelf: str, drink: str, menu: str) -> Path:
    for name, text in (("shelf", shelf), ("drink", drink), ("menu", menu), ("liqueur", LIQUEUR)):
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder / "menu.yaml"


def _menu(folder: Path, house: str, sold: str = "140 per week", shelf: str = SHELF + SUPPLIES) -> MenuRecord:
    menu = MENU.replace("50 per week", sold) + f"house:\n  liqueur: {house}\n"
    return plan_menu(_write(folder, shelf, HOUSE_DRINK, menu))


def test_bottles_labels_and_filters_by_hand(tmp_path: Path) -> None:
    # 140 x 50 mL = 7.0 L in a jar of 5 L four fifths full: two batches. Bottles of 50 cl: 14, where both
    # batches end on whole bottles; 3 are there: 11, two packs of six. Labels two each, 28: three packs of ten
    # and more at 6.00, a hundred at 6.00. Filters three a batch: 6, two packs.
    filled = "bottled: {size: 50 cl, takes: [flask, label, label]}"
    record = _menu(tmp_path, f"{{vessel: jar, {filled}, each_batch: [filter, filter, filter]}}")
    taken = {line.name: (line.packs, line.pack, line.cost) for line in record.lines}
    assert taken["flask"] == (2, "6 pieces", 9.6)
    assert taken["label"] == (1, "100 pieces", 6.0)
    assert taken["filter"] == (2, "4 pieces", 2.0)
    stock = {row.name: row for row in record.stock}
    assert stock["flask"].in_pieces
    assert stock["flask"].on_hand_kg == 3.0
    assert stock["flask"].left_kg == pytest.approx(3 + 12 - 14)
    for row in record.calendar:
        assert row.bottles is not None
        assert row.each_l == pytest.approx(0.5 * row.bottles)
    assert sum(row.batches for row in record.calendar) == 2


def test_what_stands_on_a_glass_is_bought_by_the_pack(tmp_path: Path) -> None:
    # 2 straws for each of 70 drinks, 4 % waste: 145.6, three packs of 50 at 1.50. A drink takes 2 x 0.03.
    shelf = SHELF + SUPPLIES + "service: {waste: 4 %}\n"
    drink = DRINK + "garnish:\n  - straw: 2 pieces\n"
    record = plan_menu(_write(tmp_path, shelf, drink, MENU.replace("50 per", "70 per")))
    (line,) = [line for line in record.lines if line.name == "straw"]
    assert (line.packs, line.cost) == (3, 4.5)
    poured = pour_drink(tmp_path / "drink.yaml")
    assert poured.price is not None
    assert poured.price.garnish == pytest.approx(0.06)
    assert not poured.allergens


def test_work_in_minutes_by_hand(tmp_path: Path, run_here: RunCommand) -> None:
    # two batches of 45 min at 18 EUR an hour: 2 x 13.50
    shelf = SHELF + SUPPLIES + "wage: 18 EUR/h\n"
    record = _menu(tmp_path, "{vessel: jar, labour: 45 min}", shelf=shelf)
    assert (record.labour, record.labour_h) == (27.0, pytest.approx(1.5))
    told = run_here("menu", "--all", tmp_path / "menu.yaml").stdout
    assert "Work on the batches: 27.00 EUR (1 h 30)." in told
    assert json.loads(run_here("menu", tmp_path / "menu.yaml", "--json").stdout)["cost"]["labour_h"] == 1.5


def test_work_on_what_the_shelf_makes_counts_by_the_wage(bar: Path) -> None:
    # 24 min at 20 EUR an hour are 8 EUR, however they are given
    prices = []
    for labour in ("8 EUR", "24 min"):
        shelf = (bar / "shelf.yaml").read_text(encoding="utf-8").replace("wage: 18", "wage: 20")
        (bar / "shelf.yaml").write_text(
            shelf.replace("made: 2026-10-12,", f"labour: {labour}, made: 2026-10-12,"), encoding="utf-8"
        )
        record = pour_drink(bar / "drinks/amber-hour.yaml")
        assert record.price is not None
        prices.append(record.price.cost)
        (bar / "shelf.yaml").write_text(shelf, encoding="utf-8")
    assert prices[0] == pytest.approx(prices[1])


def test_the_vessel_that_saves_a_batch_is_taken(tmp_path: Path) -> None:
    # 7 L: two batches in a jar of 5 L (4 L each), or one in the pot of 10 L; each batch costs 10.00
    shelf = SHELF.replace("{jar: 5 L}", "{jar: 5 L, pot: 10 L}") + SUPPLIES
    record = _menu(tmp_path, "{vessel: [jar, pot], labour: 10 EUR}", shelf=shelf)
    assert [(row.vessel, row.batches) for row in record.calendar] == [("pot", 1)]
    assert record.labour == 10.0
    # 11 L a week in pots that take the whole week: 8 L from one, the rest from the jar
    both = _menu(tmp_path, "{vessel: [jar, pot], takes: 7 days}", "220 per week", shelf)
    assert both.status == "optimal"
    assert {row.vessel for row in both.calendar} == {"jar", "pot"}
    assert sum(row.each_l * row.batches for row in both.calendar) == pytest.approx(11.0, abs=0.01)
    # what goes in a week is counted once, not once for each vessel
    (sugar,) = [row for row in both.stock if row.name == "white-sugar"]
    (alone,) = [
        row for row in _menu(tmp_path, "{}", "220 per week", shelf).stock if row.name == "white-sugar"
    ]
    assert sugar.per_week_kg == pytest.approx(alone.per_week_kg)


@pytest.mark.parametrize(
    ("house", "shelf", "words"),
    [
        (
            "{vessel: [jar, jug]}",
            SHELF,
            r"menu\.yaml:7:27: house\.liqueur\.vessel\.1: no vessel called 'jug'",
        ),
        ("{vessel: [jar, jar]}", SHELF, "'jar' is listed twice"),
        ("{bottled: {size: 50 cl, takes: [flsk]}}", SHELF + SUPPLIES, "no supply called 'flsk'.*'flask'"),
        ("{bottled: {size: 50 cl, takes: [flask]}}", SHELF, "Add it under `supplies:` there"),
        ("{bottled: {size: 50 cl, takes: []}}", SHELF + SUPPLIES, "takes"),
        ("{each_batch: [filter]}", SHELF + SUPPLIES, "each_batch: needs a vessel"),
        ("{vessel: jar, labour: 45 min}", SHELF, r"work in minutes needs a wage\. Add `wage: 18 EUR/h`"),
        ("{vessel: jar, labour: 0 min}", SHELF, "must be above zero"),
        ("{vessel: jar, labour: 45}", SHELF, "45"),
        ("{}", SHELF + "wage: 18 EUR\n", r"is money for an hour, got 18 EUR\. Write e\.g\. 18 EUR/h"),
        ("{}", SHELF + "wage: 18 GBP/h\n", "not the currency of this shelf"),
        ("{}", SHELF + "wage: 0 EUR/h\n", "above zero for an hour"),
        ("{}", SHELF + "supplies: {flask: {price: 2 EUR/kg}}\n", "is bought by the pack, got 2 EUR/kg"),
        ("{}", SHELF + "supplies: {flask: {pack: 1 kg, price: 2 EUR}}\n", "is counted in pieces, got 1 kg"),
        ("{}", SHELF + "supplies: {gin-40: {pack: 6 pieces, price: 2 EUR}}\n", "'gin-40' is an ingredient"),
        ("{}", SHELF + "supplies: {vodka-40: {pack: 6 pieces, price: 2 EUR}}\n", "is under offers too"),
        (
            "{}",
            SHELF + "supplies: {flask: {pack: 6 pieces, price: 2 GBP}}\n",
            "not the currency of this shelf",
        ),
    ],
)
def test_what_is_refused(tmp_path: Path, house: str, shelf: str, words: str) -> None:
    with pytest.raises(SpecError, match=words):
        _menu(tmp_path, house, shelf=shelf)


def test_a_supply_is_not_drunk(tmp_path: Path) -> None:
    drink = DRINK.replace("  - vodka-40: 60 mL", "  - vodka-40: 60 mL\n  - straw: 1 piece")
    with pytest.raises(SpecError, match=r"'straw' is a supply and is not drunk\. Put it under `garnish:`"):
        plan_menu(_write(tmp_path, SHELF + SUPPLIES, drink, MENU))
    grams = DRINK + "garnish:\n  - straw: 3 g\n"
    with pytest.raises(SpecError, match="a supply is counted in pieces"):
        plan_menu(_write(tmp_path, SHELF + SUPPLIES, grams, MENU))


ROOTS = """\
currency: EUR
vessels: {jar: 5 L}
offers:
  vodka-40: {pack: 70 cl, price: 10 EUR}
  lemon-balm:
    - {pack: 100 g, price: 6 EUR}
    - {pack: 1 kg, price: 20 EUR}
  white-sugar: {pack: 1 kg, price: 1 EUR}
"""


def test_what_a_rest_of_a_fading_plant_is_worth_decides_for_the_small_pack(tmp_path: Path) -> None:
    # 4 weeks of 10 x 50 mL, about 4.7 g a week: 19 g. 100 g cost 6.00, a kilogram 20.00, 0.02 a gram. With a
    # rest of 981 g worth 95 % of that the kilogram came to 20 - 18.6 = 1.4, 100 g to 6 - 1.5 = 4.5. But cut
    # root is worth keeping 2 years and loses 5 to 10 % a year: of the rest 100 weeks' use counts, 470 g at
    # some 93 %: 20 - 8.3 = 11.7.
    (tmp_path / "liqueur.yaml").write_text(
        LIQUEUR.replace("white-sugar: {amount: 200 g}", "gentian-root: {amount: 6.6 g}"), encoding="utf-8"
    )
    shelf = ROOTS.replace("lemon-balm", "gentian-root")
    for name, text in (("shelf", shelf), ("drink", HOUSE_DRINK)):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    menu = MENU.replace("1 week", "4 weeks").replace("50 per", "10 per")
    (tmp_path / "menu.yaml").write_text(menu, encoding="utf-8")
    record = plan_menu(tmp_path / "menu.yaml", leftover_share=0.95)
    assert [line.pack for line in record.lines if line.name == "gentian-root"] == ["100 g"]
    # sugar does not fade: of it the kilogram is taken at once
    lasting = shelf.replace("gentian-root", "white-sugar").rsplit("  white-sugar", 1)[0]
    (tmp_path / "shelf.yaml").write_text(lasting, encoding="utf-8")
    (tmp_path / "liqueur.yaml").write_text(
        LIQUEUR.replace("white-sugar: {amount: 200 g}", "white-sugar: {amount: 6.6 g}"), encoding="utf-8"
    )
    record = plan_menu(tmp_path / "menu.yaml", leftover_share=0.95)
    assert [line.pack for line in record.lines if line.name == "white-sugar"] == ["1 kg"]


def test_a_powder_that_fades_is_bought_again(tmp_path: Path) -> None:
    # Ground gentian loses its glycosides three times as fast: of 7.5 % a year (middle of 5 to 10, common
    # practice) 0.925^(3 x 0.48) = 0.894 is left after 25 weeks of 26.
    (tmp_path / "liqueur.yaml").write_text(
        LIQUEUR.replace("white-sugar: {amount: 200 g}", "gentian-root: {amount: 6.6 g}"), encoding="utf-8"
    )
    shelf = ROOTS.replace("lemon-balm", "gentian-root")
    shelf += "stock: {gentian-root: {bought: 2026-11-01, stored: powder}}\n"
    for name, text in (("shelf", shelf), ("drink", HOUSE_DRINK)):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    menu = MENU.replace("1 week", "26 weeks").replace("50 per", "20 per")
    menu += "house: {liqueur: {keeps: 4 weeks}}\n"
    (tmp_path / "menu.yaml").write_text(menu, encoding="utf-8")

    def used_for_fresh() -> float:
        record = plan_menu(tmp_path / "menu.yaml", today=date(2026, 11, 1), seconds=10.0)
        (note,) = [note for note in record.notes if note.code == "fading"]
        assert "11 % of gentian-root" in note.text
        (row,) = [row for row in record.stock if row.name == "gentian-root"]
        bought = sum(line.amount_kg for line in record.lines if line.name == "gentian-root")
        return (bought - row.left_kg) / (26 * row.per_week_kg)

    # All at once. What the house makes keeps for four weeks: each week is made three weeks before, of what
    # has faded that much less; the first four weeks' at the start.
    (tmp_path / "shelf.yaml").write_text(
        shelf.replace("    - {pack: 100 g, price: 6 EUR}\n", ""), encoding="utf-8"
    )
    left = [0.925 ** (3.0 * week * 7.0 / 365.25) for week in range(26)]
    by_hand = 4.0 + sum(1.0 / left[week - 3] for week in range(4, 26))
    assert used_for_fresh() == pytest.approx(by_hand / 26.0, abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "file"), [("menu", "menus/autumn.yaml"), ("shelf", "shelf.yaml")], ids=["menu", "shelf"]
)
def test_the_examples_fit_the_schema_an_editor_uses(kind: Kind, file: str) -> None:
    schema = jsonschema.Draft202012Validator(json_schema(kind))
    data = load_document(ROOT / "examples" / file).data
    assert schema.is_valid(data)
    if kind == "menu":
        assert schema.is_valid({**data, "house": {"x": {"vessel": "jar-4l"}}})
        assert not schema.is_valid({**data, "house": {"x": {"vessel": 4}}})
    else:
        assert not schema.is_valid({**data, "supplies": {"cork": {"price": 3}}})
