"""What is supposed of a supplier, and of drinks taken off or swapped: by hand, within what it can be."""

from __future__ import annotations

from pathlib import Path

import pytest
from supposed import write_bar

from formulate.errors import SpecError
from formulate.jobs.menu import plan_menu
from formulate.jobs.suppose import suppose

SHELF = """\
currency: EUR
least_order: {near: 30 EUR}
offers:
  vodka-40: [{pack: 1 L, price: 10 EUR, supplier: near}, {pack: 1 L, price: 12 EUR, supplier: far}]
  gin-40: {pack: 1 L, price: 16 EUR, supplier: near}
"""
DRINK = "drink: Of {0}\nshelf: shelf.yaml\nmethod: built\ningredients: [{0}: 50 mL]\nprice: 9 EUR\n"
MENU = """\
menu: Test
shelf: shelf.yaml
for: 2 weeks
drinks:
  - {drink: vodka.yaml, sells: 50 per week}
  - {drink: gin.yaml, sells: 30 per week}
"""
FILES = {"shelf": SHELF, "menu": MENU, "vodka": DRINK.format("vodka-40"), "gin": DRINK.format("gin-40")}


def test_a_supplier_grows_dearer_and_drinks_come_and_go(tmp_path: Path) -> None:
    # 5 L of vodka and 3 of gin: 50.00 and 48.00 from near, 98.00. With 30 % more it is 127.40 at the most:
    # vodka moves to far at 60.00 (13.00 for 10.00 there), gin at 20.80 is 62.40: 122.40, 24.40 more.
    cases = """\
cases:
  dear: {prices: {near: +30 %}}
  no gin drink: {off: [gin]}
  vodka for gin: {swap: {gin: vodka-too.yaml}}
"""
    too = FILES["vodka"].replace("Of vodka-40", "Too")
    record = suppose(write_bar(tmp_path, cases, about="menu", **FILES, **{"vodka-too": too}))
    totals = {one.name: one.outcome["total"] for one in record.cases}
    assert record.as_it_is["total"] == 98.0
    assert totals == pytest.approx({"dear": 122.4, "no gin drink": 50.0, "vodka for gin": 80.0})
    bill = plan_menu(tmp_path / "menu.yaml")
    near = sum(line.cost for line in bill.lines if line.supplier == "near")
    assert 0.0 < totals["dear"] - bill.total <= 0.3 * near


def test_a_supplier_moves_by_a_share_and_drinks_are_known(tmp_path: Path) -> None:
    for cases, words in (
        ("cases: {a: {prices: {near: 5 EUR}}}\n", "all prices of near move by a share, got '5 EUR'"),
        ("cases: {a: {prices: {nere: +5 %}}}\n", "no price for 'nere' on the shelf"),
        ("cases: {a: {off: [rum]}}\n", "no drink of that file on the menu"),
        ("cases: {a: {swap: {rum: gin.yaml}}}\n", "no drink of that file on the menu"),
    ):
        with pytest.raises(SpecError, match=words):
            suppose(write_bar(tmp_path, cases, about="menu", **FILES))
