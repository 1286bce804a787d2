"""Dates of offers: a price that ran out is left out while another holds; where none does that is said."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from conftest import RunCommand
from test_menu import DRINK, MENU, SHELF

from formulate.describe.menu_record import MenuRecord
from formulate.errors import SpecError
from formulate.jobs.menu import plan_menu
from formulate.jobs.pour import pour_drink

TODAY = date(2026, 11, 27)


def _plan(folder: Path, shelf: str, today: date = TODAY) -> MenuRecord:
    for name, text in (("shelf", shelf), ("drink", DRINK), ("menu", MENU)):
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return plan_menu(folder / "menu.yaml", today=today)


def _near_until(day: str) -> str:
    return SHELF.replace("price: 10 EUR", f"price: 10 EUR, until: {day}")


def test_a_price_holds_on_its_last_day_and_not_after(tmp_path: Path) -> None:
    # 3 L: five bottles 50.00 while their price holds; then only the case at 54.00 is left
    held = _plan(tmp_path, _near_until("2026-11-27"))
    assert (held.total, {line.supplier for line in held.lines}) == (50.0, {"near"})
    past = _plan(tmp_path, _near_until("2026-11-26"))
    assert (past.total, {line.supplier for line in past.lines}) == (54.0, {"far"})
    (note,) = [note for note in past.notes if note.code == "offer_past"]
    assert note.text == "vodka-40: the price from near ran out on 2026-11-26; it is left out."
    assert "offer_past" not in {note.code for note in held.notes}


def test_where_none_holds_the_old_price_is_counted_on_and_said(tmp_path: Path) -> None:
    shelf = _near_until("2026-10-01").replace("price: 54 EUR", "price: 54 EUR, until: 2026-09-01")
    record = _plan(tmp_path, shelf)
    assert record.total == 50.0
    texts = [note.text for note in record.notes if note.code == "price_past"]
    assert len(texts) == 2
    assert all("ask before you order" in text for text in texts)


def test_what_is_on_hand_counts_though_its_price_ran_out(tmp_path: Path) -> None:
    shelf = _near_until("2026-10-01, on_hand: 5 bottles")
    assert _plan(tmp_path, shelf).total == 0.0


def test_an_old_price_is_told(tmp_path: Path) -> None:
    # seen 2026-05-01: 210 days before
    shelf = SHELF.replace("price: 10 EUR", "price: 10 EUR, seen: 2026-05-01")
    (note,) = [note for note in _plan(tmp_path, shelf).notes if note.code == "price_old"]
    assert "seen on 2026-05-01. Ask whether it holds" in note.text
    assert "price_old" not in {note.code for note in _plan(tmp_path, shelf, date(2026, 6, 1)).notes}


def test_every_job_keeps_to_the_dates(tmp_path: Path) -> None:
    _plan(tmp_path, SHELF)
    # by use the case is cheaper: 54 / 4.2 L x 60 mL
    assert _cost(tmp_path) == pytest.approx(54.0 / 4.2 * 0.06)
    (tmp_path / "shelf.yaml").write_text(
        SHELF.replace("price: 54 EUR", "price: 54 EUR, until: 2026-11-01"), encoding="utf-8"
    )
    assert _cost(tmp_path) == pytest.approx(10.0 / 0.7 * 0.06)


def _cost(folder: Path) -> float:
    record = pour_drink(folder / "drink.yaml", today=TODAY)
    assert record.price is not None
    return record.price.cost


def test_solve_and_buy_tell_of_a_price_that_ran_out(bar: Path, run_here: RunCommand) -> None:
    shelf = bar / "shelf.yaml"
    text = shelf.read_text(encoding="utf-8")
    dated = text.replace("price: 9.40 EUR, supplier", "price: 9.40 EUR, until: 2020-01-31, supplier")
    assert dated != text
    shelf.write_text(dated, encoding="utf-8")
    for command in (("solve", "--why"), ("buy",)):
        done = run_here(*command, bar / "bottles/damson-aperitif.yaml")
        assert done.exit_code == 0
        assert "ran out on 2020-01-31" in done.stdout


def test_dates_that_cannot_be(tmp_path: Path) -> None:
    wrong = _near_until("2026-10-01, seen: 2026-10-02")
    with pytest.raises(SpecError, match=r"until: before the day it was seen, 2026-10-02, got 2026-10-01"):
        _plan(tmp_path, wrong)
    with pytest.raises(SpecError, match="must be a day written year-month-day, got soon"):
        _plan(tmp_path, _near_until("soon"))
