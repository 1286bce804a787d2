"""Figures as lists write them: read in one way, or refused."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import UnitError
from formulate.quantity import AmountBasis, parse_pack
from formulate.quantity.amounts import to_cents
from formulate.quantity.listed import (
    DecimalSign,
    parse_listed_amount,
    parse_listed_money,
    parse_listed_number,
)

NUMBERS: list[tuple[str, DecimalSign | None, str]] = [
    # SI brochure 9, 5.4.4: either sign may part the decimals, and thousands are grouped by a thin blank;
    # the other habits are common practice of the countries that write them.
    ("1.234,50", None, "1234.50"),
    ("1 234,50", None, "1234.50"),
    ("1\u00a0234,50", "comma", "1234.50"),
    ("1\u202f234,50", None, "1234.50"),
    ("1\u2009234.50", "dot", "1234.50"),
    ("1'234.50", None, "1234.50"),
    ("1\u2019234.50", None, "1234.50"),
    ("1,234.50", None, "1234.50"),
    ("12,5", None, "12.5"),
    ("12.5", None, "12.5"),
    ("0,700", None, "0.7"),
    ("1,234", "dot", "1234"),
    ("1,234", "comma", "1.234"),
    ("1.234", "comma", "1234"),
    ("1.234.567", None, "1234567"),
    ("1234,567", None, "1234.567"),
    ("\u22122,00", None, "-2"),
    (",5", None, "0.5"),
    ("9", None, "9"),
]


@pytest.mark.parametrize(("text", "decimal", "value"), NUMBERS)
def test_numbers_that_can_be_read_in_one_way_only(text: str, decimal: DecimalSign | None, value: str) -> None:
    assert parse_listed_number(text, decimal) == Fraction(value)


REFUSED: list[tuple[str, DecimalSign | None, str]] = [
    ("1,234", None, "may be 1.234 or 1234"),
    ("1.000", None, "may be 1.000 or 1000"),
    ("9.40", "comma", "a decimal dot where the list has decimal commas"),
    ("9,40", "dot", "a decimal comma where the list has decimal dots"),
    ("1.234.50", None, "not grouped by thousands"),
    ("12 34", None, "not grouped by thousands"),
    ("01.234,5", None, "not grouped by thousands"),
    ("9.40-", None, "no number"),
    ("(9.40)", None, "no number"),
    ("", None, "no number, got nothing"),
    ("..", None, "no number"),
    ("1,", None, "no number"),
    ("٣", None, "no number"),
]


@pytest.mark.parametrize(("text", "decimal", "words"), REFUSED)
def test_numbers_that_can_be_read_in_two_ways_are_refused(
    text: str, decimal: DecimalSign | None, words: str
) -> None:
    with pytest.raises(UnitError, match=words.replace(".", r"\.")):
        parse_listed_number(text, decimal)


GROUPS = {"dot": (",", " ", "\u00a0", "\u202f", "'", ""), "comma": (".", " ", "\u00a0", "\u202f", "'", "")}


@given(
    st.integers(0, 10**9),
    st.integers(0, 5),
    st.sampled_from(["dot", "comma"]),
    st.integers(0, 5),
    st.booleans(),
)
def test_a_number_written_by_either_habit_is_read_back_exactly(
    digits: int, decimals: int, decimal: DecimalSign, group: int, below: bool
) -> None:
    value = Decimal(digits).scaleb(-decimals) * (-1 if below else 1)
    whole, _, rest = f"{abs(value):,f}".partition(".")
    mark = "." if decimal == "dot" else ","
    text = whole.replace(",", GROUPS[decimal][group]) + (mark + rest if rest else "")
    assert parse_listed_number(f"{'-' if below else ''}{text}", decimal) == Fraction(value)


@given(st.text(alphabet="0123456789.,' -+€\u00a0x", max_size=14))
def test_what_is_read_without_being_told_is_what_one_of_the_two_habits_gives(text: str) -> None:
    try:
        value = parse_listed_number(text)
    except UnitError:
        return
    told: list[Fraction] = []
    for decimal in ("dot", "comma"):
        try:
            told.append(parse_listed_number(text, decimal))  # type: ignore[arg-type]
        except UnitError:
            continue
    assert set(told) == {value}, "both habits, where both can read it, agree"


@pytest.mark.parametrize(
    ("text", "value", "per"),
    [
        ("9,40 €", "9.40", None),
        ("€9.40", "9.40", None),
        ("EUR 9.40/kg", "9.40", "kg"),
        ("9,40 €/l", "9.40", "L"),
        ("0,94 EUR per 100", None, None),
        ("3.20 EUR/g", "3200", "kg"),
        ("1.234,50 EUR", "1234.50", None),
        ("-9", "-9", None),
        ("$3", None, None),
        ("9.40 SEK", None, None),
        ("on request", None, None),
        ("9,40 kr", None, None),
    ],
)
def test_prices_in_the_currency_that_is_meant(text: str, value: str | None, per: str | None) -> None:
    if value is None:
        with pytest.raises(UnitError):
            parse_listed_money(text, "EUR")
    else:
        assert parse_listed_money(text, "EUR") == (Fraction(value), per)


@pytest.mark.parametrize(
    ("text", "unit", "value", "basis", "count"),
    [
        ("70 cl", "", 0.7, AmountBasis.VOLUME, 1),
        ("0,7 l", "", 0.7, AmountBasis.VOLUME, 1),
        ("6x0,7 L", "", 4.2, AmountBasis.VOLUME, 6),
        ("12 × 70cl", "", 8.4, AmountBasis.VOLUME, 12),
        ("0,7", "L", 0.7, AmountBasis.VOLUME, 1),
        ("750ML", "", 0.75, AmountBasis.VOLUME, 1),
        ("25 kg", "", 25.0, AmountBasis.MASS, 1),
        ("3 pcs", "", 3.0, AmountBasis.PIECES, 1),
        ("4 btl.", "", 4.0, AmountBasis.BOTTLES, 1),
    ],
)
def test_sizes_and_stock(text: str, unit: str, value: float, basis: AmountBasis, count: int) -> None:
    amount = parse_listed_amount(text, unit)
    assert (amount.value, amount.basis, amount.count) == (value, basis, count)


@pytest.mark.parametrize("text", ["70", "1 crate", "1.000 g", "6 x 2 bottles", "-1 kg", "kg"])
def test_sizes_that_say_no_amount_are_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse_listed_amount(text)


def test_a_case_on_the_shelf_is_its_bottles_together() -> None:
    case = parse_pack("6 x 70 cl")
    assert (case.value, case.basis, case.count, case.text) == (4.2, AmountBasis.VOLUME, 6, "6 x 70 cl")
    with pytest.raises(UnitError, match="not the size of a pack"):
        parse_pack("6 x 2 bottles")


@pytest.mark.parametrize(
    ("amount", "cents"),
    [(1.005, 1.01), (0.095, 0.10), (2.675, 2.68), (-1.005, -1.01), (1.0049, 1.0), (0.0, 0.0), (178.6, 178.6)],
)
def test_half_a_cent_is_rounded_away_from_nothing(amount: float, cents: float) -> None:
    """As money is rounded on a bill: EU Council Regulation 1103/97 article 5, half up (from memory)."""
    assert to_cents(amount) == cents
