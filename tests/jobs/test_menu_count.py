"""The rest of a menu planned from a count: lots with their dates, what is on order, batches under way."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import RunCommand

from formulate.describe.menu_record import MenuRecord
from formulate.errors import SpecError
from formulate.jobs.menu import plan_menu

FILES = {
    "shelf": """\
currency: EUR
vessels: {jar: 5 L}
suppliers: {near: {lead_time: 2 days}}
offers:
  vodka-40: {pack: 1 L, price: 10 EUR, supplier: near}
  sweet-vermouth-15: {pack: 1 L, price: 9 EUR, supplier: near}
""",
    "rested": "recipe: Rested\nshelf: shelf.yaml\ningredients:\n  - vodka-40: {amount: 1 L}\n",
    "sweet": """\
drink: Sweet
shelf: shelf.yaml
method: built
house: {rested: rested.yaml}
ingredients:
  - rested: 100 mL
  - sweet-vermouth-15: 50 mL
""",
    "menu": """\
menu: Test
shelf: shelf.yaml
from: 2 November 2026
for: 2 weeks
drinks: [{drink: sweet.yaml, sells: 70 per week}]
house: {rested: {vessel: jar, takes: 3 days, keeps: 10 days}}
pars: {sweet-vermouth-15: {keeps: 14 days}}
""",
}


def _plan(folder: Path, count: str) -> MenuRecord:
    for name, text in (FILES | {"count": count}).items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return plan_menu(folder / "menu.yaml", count=folder / "count.yaml")


def test_the_rest_is_planned_from_what_was_counted(tmp_path: Path) -> None:
    # A week is left from Monday the 9th, 1 L of it and half a litre of vermouth a day. Of the batch of the
    # 1st 2 L are there, good through the 10th (ten days): Monday and Tuesday. 3 L more are ready on the 11th
    # and hold the jar until then: Wednesday to Friday. Begun on the 11th, 2 L are ready on Saturday.
    count = """\
count: 9 November 2026
on_hand: {vodka-40: 4 L, sweet-vermouth-15: 1 L}
lots: [{of: rested, amount: 2 L, since: 1 November 2026}]
on_order: [{of: sweet-vermouth-15, amount: 1 L, comes: 11 November 2026}]
begun: [{of: rested, gives: 3 L, ready: 11 November 2026, vessel: jar}]
"""
    record = _plan(tmp_path, count)
    assert record.status == "optimal"
    # two days of the lot, three of the batch under way; 2 L for the week's end, begun when the jar is free
    assert [row.begin.text for row in record.calendar] == ["Wed 11 Nov"]
    assert record.calendar[0].ready.text == "Sat 14 Nov"
    assert sum(row.each_l * row.batches for row in record.calendar) == pytest.approx(2.0, abs=1e-6)
    # 3.5 L of vermouth: 1 there, 1 on order, two bottles; ordered on the 9th they come on the 11th
    bought = [line for line in record.lines if line.name == "sweet-vermouth-15"]
    assert sum(line.packs or 0 for line in bought) == 2
    assert {(line.order_by.text, line.day.text) for line in bought} == {("Mon 9 Nov", "Wed 11 Nov")}
    assert all(line.name != "vodka-40" for line in record.lines)
    assert record.drinks[0].sold == pytest.approx(70.0)


def test_a_lot_is_not_poured_past_its_time(tmp_path: Path) -> None:
    # The same litres of a batch of 30 October are good through the 8th: nothing of them on the 9th.
    count = """\
count: 9 November 2026
on_hand: {vodka-40: 8 L, sweet-vermouth-15: 5 L}
lots: [{of: rested, amount: 2 L, since: 30 October 2026}]
"""
    record = _plan(tmp_path, count)
    # Begun on the 9th, ready on the 12th: three days of 1 L are short.
    assert record.status == "short"
    assert record.house[0].short_l == pytest.approx(3.0, abs=1e-6)
    fresh = _plan(tmp_path, count.replace("30 October", "4 November"))
    assert fresh.house[0].short_l == pytest.approx(1.0, abs=1e-6)


def test_a_count_is_asked_for_on_the_command_line(tmp_path: Path, run_here: RunCommand) -> None:
    count = "count: 9 November 2026\non_hand: {rested: 7 L, sweet-vermouth-15: 3.5 L}\n"
    record = _plan(tmp_path, count)
    assert (record.status, record.lines, record.calendar) == ("optimal", (), ())
    done = run_here("menu", tmp_path / "menu.yaml", "--from-count", tmp_path / "count.yaml", "--why")
    assert done.exit_code == 0
    assert "Nothing is ordered or begun before Mon 9 Nov" in " ".join(done.stdout.split())
    assert run_here("check", tmp_path / "count.yaml").exit_code == 0


@pytest.mark.parametrize(
    ("count", "words"),
    [
        ("count: 1 October 2026\n", "not a day of Test"),
        ("count: 9 November 2026\non_hand: {restd: 1 L}\n", "'restd' is not used on this menu. Did you mean"),
        (
            "count: 9 November 2026\non_order: [{of: vodka-40, amount: 1 L, comes: 3 November 2026}]\n",
            "before the day of the count",
        ),
        ("count: 9 November 2026\non_hand: {vodka-40: 20 %}\n", "not an amount on a shelf"),
        (
            "count: 9 November 2026\nbegun: [{of: rested, gives: 1 L, ready: 2026-11-11, vessel: jug}]\n",
            "no vessel called 'jug'",
        ),
    ],
)
def test_what_cannot_be_of_a_count(tmp_path: Path, count: str, words: str) -> None:
    with pytest.raises(SpecError, match=words):
        _plan(tmp_path, count)
