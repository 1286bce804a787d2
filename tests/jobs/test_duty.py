"""Duty: which rate a strength pays, what it comes to by hand, and that it is in no price."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.errors import SpecError
from formulate.files.listed_shelf import load_shelf
from formulate.files.shelf import Shelf
from formulate.files.standards import load_rows
from formulate.files.trade_rows import DutyRow, ServeMeasureRow
from formulate.rules.duty import duty_note

TODAY = date(2026, 11, 27)


def test_a_proof_gallon_in_litres_of_pure_alcohol() -> None:
    # A US gallon is 231 cubic inches of 2.54 cm: 3.785412 L; at 50 % vol half of it is alcohol. 13.50 USD a
    # proof gallon. The EU's least is 550 EUR for a hectolitre.
    rows = {row.id: row for row in load_rows("duty", DutyRow).rows}
    gallon_l = 231.0 * 2.54**3 / 1000.0
    assert rows["us-full"].rate is not None
    assert rows["us-full"].rate.value == pytest.approx(13.50 / (0.5 * gallon_l), abs=0.005)
    assert rows["eu-least"].rate is not None
    assert rows["eu-least"].rate.value == pytest.approx(550.0 / 100.0)
    assert {row.id for row in rows.values() if row.rate is not None and not row.verified} == {"eu-least"}


@pytest.mark.parametrize(
    ("strength", "rate"),
    # HMRC, alcohol duty rates by strength: from 1 February 2026, and the year before.
    [
        *((22.0, "30.62 GBP"), (22.1, "33.99 GBP"), (8.5, "30.62 GBP"), (8.4, "26.61 GBP")),
        *((3.5, "26.61 GBP"), (3.4, "9.96 GBP"), (1.3, "9.96 GBP"), (1.2, None), (0.5, None)),
    ],
)
def test_the_rate_goes_by_strength(strength: float, rate: str | None) -> None:
    note = duty_note((strength,), None, None, "UK", TODAY)
    assert (None if note is None else rate in note.text) == (None if rate is None else True)
    if note is not None:
        assert note.source == "published"
        assert "Check locally" in note.text
        assert "licence" in note.text


@pytest.mark.parametrize(
    ("day", "rate"),
    [
        (date(2025, 1, 31), None),
        (date(2025, 2, 1), "29.54 GBP"),
        (date(2026, 1, 31), "29.54 GBP"),
        (date(2026, 2, 1), "30.62 GBP"),
    ],
)
def test_a_rate_is_told_on_the_days_it_holds(day: date, rate: str | None) -> None:
    note = duty_note((22.0,), None, None, "UK", day)
    assert (None if note is None else note.text.count(" GBP")) == (None if rate is None else 1)
    assert rate is None or (note is not None and rate in note.text)


def _shelf(folder: Path, duty: str) -> Shelf:
    path = folder / "shelf.yaml"
    path.write_text(f"currency: EUR\n{duty}\n", encoding="utf-8")
    return load_shelf(path)


def test_an_own_rate_goes_before_the_table(tmp_path: Path) -> None:
    # 5 L at 24 % vol hold 1.2 L of pure alcohol: 13.03 x 1.2 = 15.64
    shelf = _shelf(tmp_path, "duty: {rate: 13.03 EUR/L, seen: 2026-01-05}")
    note = duty_note((24.0,), 1.2, shelf, "EU", TODAY)
    assert note is not None
    assert "15.64 EUR for 1.20 L of it" in note.text
    assert "seen 2026-01-05" in note.text
    assert "5.50" not in note.text
    with pytest.raises(SpecError, match=r"shelf\.yaml:2:14: duty\.rate: is money per litre of pure alcohol"):
        _shelf(tmp_path, "duty: {rate: 13.03 EUR}")


def test_serve_measures() -> None:
    # UK 25 or 35 mL (from memory); 1.5 US fl oz of 29.5735 mL
    rows = {row.id: row.measures for row in load_rows("serve-measures", ServeMeasureRow).rows}
    assert rows["uk-spirits"] == pytest.approx((0.025, 0.035))
    assert rows["us-spirits"] == pytest.approx((1.5 * 0.0295735,), abs=5e-4)


@pytest.mark.parametrize(
    "arguments",
    [
        ["buy", "bottles/damson-aperitif.yaml"],
        ["label", "recipes/damson-aperitif.yaml"],
        ["menu", "menus/autumn.yaml"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_no_duty_enters_a_price(arguments: list[str], bar: Path, run_here: RunCommand) -> None:
    name, file = arguments
    plain = json.loads(run_here(name, bar / file, "--json").stdout)
    shelf = bar / "shelf.yaml"
    shelf.write_text("duty: {rate: 13 EUR/L}\n" + shelf.read_text(encoding="utf-8"), encoding="utf-8")
    taxed = json.loads(run_here(name, bar / file, "--json").stdout)
    for document, words in ((plain, "formulate standards duty"), (taxed, "your own rate")):
        (note,) = [one for one in document["warnings"] if one["code"] == "duty"]
        assert words in note["text"]
    assert taxed.get("cost") == plain.get("cost")
    assert taxed.get("total") == plain.get("total")


def test_a_drink_without_alcohol_hears_nothing_of_duty(run_here: RunCommand) -> None:
    document = json.loads(run_here("label", ROOT / "examples/recipes/quince-cordial.yaml", "--json").stdout)
    assert "duty" not in {note["code"] for note in document["warnings"]}
