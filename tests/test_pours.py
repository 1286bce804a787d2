"""Amounts of a drink file as typed."""

from __future__ import annotations

import pytest

from formulate.errors import UnitError
from formulate.quantity.changes import parse_price_range
from formulate.quantity.pours import Melt, Pour, PourUnit, parse_forecast, parse_melt, parse_pour


@pytest.mark.parametrize(
    ("typed", "value", "unit"),
    [
        ("45 mL", 0.045, PourUnit.VOLUME),
        ("4.5 cl", 0.045, PourUnit.VOLUME),
        ("1.5 fl oz", 0.0443602943, PourUnit.VOLUME),  # NIST Handbook 44: 29.5735296 mL
        ("2 dashes", 2.0, PourUnit.DASHES),
        ("1 dash", 1.0, PourUnit.DASHES),
        ("3 drops", 3.0, PourUnit.DROPS),
        ("2.5 parts", 2.5, PourUnit.PARTS),
        ("1 piece", 1.0, PourUnit.PIECES),
        ("8 g", 0.008, PourUnit.MASS),
    ],
)
def test_pour(typed: str, value: float, unit: PourUnit) -> None:
    pour = parse_pour(typed)
    assert pour == Pour(pytest.approx(value, rel=1e-8), unit)
    assert pour.text == typed


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("2 oz", "Write fl oz for a pour"),
        ("1 barspoon", "no agreed size"),
        ("1 splash", "no agreed size"),
        ("45", "the unit is missing"),
        ("0 mL", "must be above zero"),
        ("-3 mL", "must be above zero"),
        ("a dash", "no number found"),
        ("45 % vol", "not an amount in a drink"),
        (45, "the unit is missing"),
        (None, "must be a quantity"),
    ],
)
def test_what_is_no_pour_is_refused(typed: object, words: str) -> None:
    with pytest.raises(UnitError, match=words):
        parse_pour(typed)


@pytest.mark.parametrize(
    ("typed", "value", "is_share"),
    [("28 g", 0.028, False), ("28 mL", 0.028, False), ("35 %", 0.35, True), ("0 g", 0.0, False)],
)
def test_melt(typed: str, value: float, is_share: bool) -> None:
    assert parse_melt(typed) == Melt(pytest.approx(value), is_share)


@pytest.mark.parametrize("typed", ["400 %", "-3 g", "3 dashes", "28"])
def test_what_is_no_melt_is_refused(typed: str) -> None:
    with pytest.raises(UnitError):
        parse_melt(typed)


def test_a_week_of_days_that_vary_each_by_itself() -> None:
    # By hand: five days of 12 are 60; independent spreads add as squares, so 3 each come to 3 x 5^0.5.
    assert parse_forecast("12 ± 3 per day").per_week(5) == (60.0, pytest.approx(6.7082039))
    assert parse_forecast("60 ± 15 per week").per_week(5) == (60.0, 15.0)


@pytest.mark.parametrize("typed", ["4.80 EUR/kg", "at most 6 EUR/kg", "6 to 6 EUR/kg", "6 to 4 EUR/kg"])
def test_a_range_of_prices_has_two_ends(typed: str) -> None:
    assert parse_price_range("4 to 6 EUR/kg") == parse_price_range("5 ± 1 EUR/kg")
    with pytest.raises(UnitError):
        parse_price_range(typed)
