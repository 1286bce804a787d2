"""A menu by the day: when things come and are ready, orders that suppliers take, plans recounted by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from formulate.describe.menu_record import MenuRecord
from formulate.jobs.menu import plan_menu

SHELF = """\
currency: EUR
vessels: {jar: 5 L}
least_order: {north cellar: 150 EUR}
offers:
  gin-40: {pack: 70 cl, price: 16 EUR, supplier: north cellar}
  sweet-vermouth-15: {pack: 1 L, price: 9 EUR, supplier: north cellar}
  vodka-40: {pack: 70 cl, price: 10 EUR, supplier: far}
  white-sugar: {pack: 1 kg, price: 1 EUR, supplier: far}
"""
GIN = """\
drink: Gin
shelf: shelf.yaml
method: built
ingredients:
  - gin-40: 70 mL
price: 9 EUR
"""
VERMOUTH = GIN.replace("drink: Gin", "drink: Vermouth").replace("gin-40: 70 mL", "sweet-vermouth-15: 60 mL")
LIQUEUR = """\
recipe: House liqueur
shelf: shelf.yaml
ingredients:
  - vodka-40: {amount: 700 mL}
  - white-sugar: {amount: 200 g}
"""
SWEET = """\
drink: Sweet
shelf: shelf.yaml
method: built
house: {liqueur: liqueur.yaml}
ingredients:
  - liqueur: 50 mL
"""
FILES = {"shelf": SHELF, "gin": GIN, "vermouth": VERMOUTH, "liqueur": LIQUEUR, "sweet": SWEET}


def _plan(folder: Path, menu: str, **files: str) -> MenuRecord:
    for name, text in (FILES | files | {"menu": menu}).items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return plan_menu(folder / "menu.yaml")


def _orders(record: MenuRecord) -> dict[str, dict[str, int | None]]:
    orders: dict[str, dict[str, int | None]] = {}
    for line in record.lines:
        orders.setdefault(line.day.text, {})[line.name] = line.packs
    return orders


def test_what_keeps_fills_a_least_order_in_any_week(tmp_path: Path) -> None:
    # 20 gins a week for two weeks, 1.4 L, two bottles a week; 100 vermouths in the second week, 6 L,
    # which keeps for one week. 4 x 16 = 64 and 6 x 9 = 54: neither is an order of 150.00, so the two
    # weeks are one order if they can be. The vermouth cannot come before its week. With the gin of both
    # weeks (64.00) the order of the second week would be 118.00, and the first week needs two of its
    # bottles anyway. The least for two orders is 300.00; where the two bottles of the first week are
    # there, one order of 118.00 is filled up to 150.00 at the least: 2 x 16 + 6 x 9 = 86, and 64 more.
    # In sixteens and nines that is 4 x 16 = 64: 150.00 itself, of which the gin keeps and no vermouth
    # is wasted.
    menu = """\
menu: Test
shelf: shelf.yaml
from: 2 November 2026
for: 2 weeks
drinks:
  - {drink: gin.yaml, sells: 20 per week}
  - {drink: vermouth.yaml, sells: "0 per week, week 2: 100"}
pars:
  gin-40: {on_hand: 2 bottles, lead_time: 3 days}
  sweet-vermouth-15: {keeps: 7 days}
"""
    record = _plan(tmp_path, menu)
    assert _orders(record) == {"Mon 9 Nov": {"gin-40": 6, "sweet-vermouth-15": 6}}
    assert record.total == 150.0
    assert record.status == "optimal"
    assert {row.name: round(row.spoiled_kg, 6) for row in record.stock}["sweet-vermouth-15"] == 0.0
    assert {line.order_by.text for line in record.lines} == {"Fri 6 Nov"}
    assert any("comes to the least order" in rule for rule in record.rules)


def test_a_batch_is_poured_when_it_is_ready(tmp_path: Path) -> None:
    # 70 a week x 50 mL: 0.5 L a day. A batch takes 7 days; with nothing there it must be begun a week before.
    menu = """\
menu: Test
shelf: shelf.yaml
from: 2 November 2026
for: 2 weeks
drinks: [{drink: sweet.yaml, sells: 70 per week}]
house: {liqueur: {vessel: jar, takes: 7 days}}
"""
    record = _plan(tmp_path, menu)
    first = record.calendar[0]
    assert (first.begin.text, first.ready.text) == ("Mon 26 Oct", "Mon 2 Nov")
    # Begun on the first day nothing can be poured in the first week but what is there: 1.0 L, two days.
    late = menu.replace("house: {liqueur: {", "prepare: 0 weeks\nhouse: {liqueur: {on_hand: 1 L, ")
    record = _plan(tmp_path, late)
    assert record.status == "short"
    assert record.house[0].short_l == pytest.approx(3.5 - 1.0)
    assert (record.calendar[0].begin.text, record.calendar[0].ready.text) == ("Mon 2 Nov", "Mon 9 Nov")


def test_two_batches_follow_each_other_day_by_day(tmp_path: Path) -> None:
    # 8 L in the week, 4 at most in the jar, three days each: the second is begun when the first is out.
    menu = """\
menu: Test
shelf: shelf.yaml
from: 2 November 2026
for: 1 week
prepare: 0 weeks
drinks: [{drink: sweet.yaml, sells: 160 per week}]
house: {liqueur: {vessel: jar, takes: 3 days, on_hand: 4 L}}
"""
    record = _plan(tmp_path, menu)
    assert record.status == "optimal"
    # 8/7 L a day: 4 L last for three days and a half, so the batch must be there on the fourth.
    assert [row.ready.text for row in record.calendar] == ["Thu 5 Nov"]
    more = _plan(tmp_path, menu.replace("160", "200"))
    # 10/7 L a day: 4 L last until Wednesday, 4 more until Saturday: 2 L in a second batch, begun on Thursday.
    assert [row.begin.text for row in more.calendar] == ["Mon 2 Nov", "Thu 5 Nov"]


def test_nothing_is_made_to_be_thrown_away(tmp_path: Path) -> None:
    # Sugar and vodka are there for nothing; what is made is what is poured, though a batch could be larger.
    menu = """\
menu: Test
shelf: shelf.yaml
for: 1 week
drinks: [{drink: sweet.yaml, sells: 14 per week}]
house: {liqueur: {vessel: jar, takes: 4 h, keeps: 1 day}}
"""
    shelf = SHELF.replace("supplier: far}", "supplier: far, on_hand: 20 kg}").replace(
        "price: 10 EUR, supplier: far, on_hand: 20 kg}", "price: 10 EUR, supplier: far, on_hand: 20 L}"
    )
    record = _plan(tmp_path, menu, shelf=shelf)
    (row,) = record.house
    assert (row.made_l, row.spoiled_l) == pytest.approx((14 * 0.05, 0.0))
    assert not record.lines
    # No batch below half a litre: a tenth is poured of each, 0.4 L thrown away on seven days, and told.
    record = _plan(tmp_path, menu.replace("vessel: jar", "vessel: jar, least_batch: 50 cl"), shelf=shelf)
    (row,) = record.house
    assert row.spoiled_l == pytest.approx(7 * 0.4)
    # 0.86363 kg of 700 mL vodka (10.00) and 200 g sugar (0.20) are 0.824 L: 12.4 a litre, within 1 %
    assert row.spoiled_worth == pytest.approx(2.8 * 10.2 / 0.824, rel=0.01)


PLAIN = """\
menu: Test
shelf: shelf.yaml
from: 2 November 2026
for: 2 weeks
drinks: [{drink: vermouth.yaml, sells: 70 per week}]
"""
FREE = SHELF.replace("least_order: {north cellar: 150 EUR}\n", "")


def test_a_week_and_a_day_may_sell_otherwise(tmp_path: Path) -> None:
    # 70 and 140 drinks, and 30 more on one evening; closed on Sundays and on 10 November: of six open days in
    # the second week five are left, 140 x 5/6. 60 mL each.
    menu = PLAIN.replace("70 per week", '"70 per week, week 2: 140"').replace(
        "drinks:", "closed: [Sunday, 10 November 2026]\ndrinks:"
    )
    menu += "events: [{on: 6 November 2026, drinks: {vermouth: 30}}]\n"
    record = _plan(tmp_path, menu, shelf=FREE)
    assert record.drinks[0].sold == pytest.approx(70 + 140 * 5 / 6 + 30)
    # Good for one day: it comes on each of the days open, no other; on the 6th 70/6 + 30 drinks, 2.5 L.
    daily = _plan(tmp_path, menu + "pars: {sweet-vermouth-15: {keeps: 1 day}}\n", shelf=FREE)
    days = {line.day.text: line.packs for line in daily.lines}
    assert "Sun 8 Nov" not in days
    assert "Tue 10 Nov" not in days
    assert (len(days), days["Fri 6 Nov"], days["Mon 9 Nov"]) == (11, 3, 2)


def test_suppliers_take_orders_and_come_on_their_days(tmp_path: Path) -> None:
    # 4.2 L a week that keeps for a week; they come on Thursdays, so Monday to Wednesday need the
    # Thursday before; ordered by the Tuesday before that with two days to go, and by the Monday before
    # with three.
    for lead, order_by in (("2 days", "Tue"), ("3 days", "Mon")):
        terms = f"{{orders_on: [Monday, Tuesday], delivers_on: Thursday, lead_time: {lead}}}"
        shelf = FREE + f"suppliers:\n  north cellar: {terms}\n"
        menu = PLAIN + "prepare: 1 week\npars: {sweet-vermouth-15: {keeps: 7 days}}\n"
        record = _plan(tmp_path, menu, shelf=shelf)
        assert [line.day.text for line in record.lines] == ["Thu 29 Oct", "Thu 5 Nov", "Thu 12 Nov"]
        # 0.6 L a day: 3 days, then 7, then 4 of the second week
        assert [line.packs for line in record.lines] == [2, 5, 3]
        assert {line.order_by.text[:3] for line in record.lines} == {order_by}


def test_carriage_is_paid_or_an_order_made_large_enough(tmp_path: Path) -> None:
    # 4.2 L for the week, five at 9.00: 45.00. Carriage 20.00, nothing from 60.00 on: seven at 63.00 cost less
    # than 65.00. With 15.00 five and the carriage cost 60.00.
    for carriage, packs, total in ((20, 7, 63.0), (15, 5, 60.0)):
        terms = f"{{carriage: {carriage} EUR, free_from: 60 EUR}}"
        shelf = FREE + f"suppliers:\n  north cellar: {terms}\n"
        record = _plan(tmp_path, PLAIN.replace("2 weeks", "1 week"), shelf=shelf)
        assert {line.name: line.packs for line in record.lines}["sweet-vermouth-15"] == packs
        assert record.total == total
        assert sum(line.cost for line in record.lines if line.name == "carriage") == total - 9.0 * packs


def test_a_price_from_so_many_packs_on(tmp_path: Path) -> None:
    # 8.4 L: nine at 9.00 are 81.00, ten at 8.00 are 80.00; from twelve on 96.00 would be more.
    for least, packs, total in ((10, 10, 80.0), (12, 9, 81.0)):
        cheap = f"{{pack: 1 L, price: 8 EUR, from_packs: {least}, supplier: north cellar}}"
        shelf = FREE.replace(
            "sweet-vermouth-15: {pack: 1 L, price: 9 EUR, supplier: north cellar}",
            f"sweet-vermouth-15: [{{pack: 1 L, price: 9 EUR, supplier: north cellar}}, {cheap}]",
        )
        record = _plan(tmp_path, PLAIN, shelf=shelf)
        assert sum(line.packs or 0 for line in record.lines) == packs
        assert record.total == total


def test_a_budget_spreads_what_keeps_over_the_weeks(tmp_path: Path) -> None:
    # Nine at 9.00 are 81.00; no more than 50.00 a week: five and four.
    record = _plan(tmp_path, PLAIN + "budget: 50 EUR\n", shelf=FREE)
    assert sorted(line.without_tax for line in record.lines) == [36.0, 45.0]
    assert len({line.day.week for line in record.lines}) == 2


def test_a_par_in_weeks_of_use_and_waste_by_family(tmp_path: Path) -> None:
    # 4.2 L a week, a tenth of wine wasted: 4.62; one week and a half of it is left.
    shelf = FREE + "service: {waste: 2 %, waste_of: {wine: 10 %}}\n"
    record = _plan(tmp_path, PLAIN + "pars: {sweet-vermouth-15: {par: 1.5 weeks}}\n", shelf=shelf)
    (row,) = record.stock
    assert row.litre_kg is not None
    assert row.par_kg / row.litre_kg == pytest.approx(1.5 * 4.62, rel=1e-6)
    assert row.left_kg / row.litre_kg == pytest.approx(17.0 - 2 * 4.62, rel=1e-6)
    price = record.drinks[0].price
    assert price is not None
    assert price.waste == pytest.approx(0.1 * 0.06 * 9.0)
