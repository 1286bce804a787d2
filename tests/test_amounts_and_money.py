"""Amounts, money and limits on both: what a bar writes is read, and what is refused says what to write."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from formulate.errors import UnitError
from formulate.quantity import (
    Amount,
    AmountBasis,
    Money,
    MoneyBand,
    parse_amount,
    parse_amount_band,
    parse_money,
    parse_money_band,
)
from formulate.quantity.changes import parse_change
from formulate.quantity.listed import parse_listed_amount


@pytest.mark.parametrize(
    ("text", "value", "basis"),
    [
        ("500 g", 0.5, AmountBasis.MASS),
        ("2 oz", 0.05669904625, AmountBasis.MASS),
        ("250 g per L bottled", 0.25, AmountBasis.MASS_PER_LITRE),
        ("250 g/L bottled", 0.25, AmountBasis.MASS_PER_LITRE),
        ("40 g per L", 0.04, AmountBasis.MASS_PER_LITRE),
        ("1.2 g/L", 0.0012, AmountBasis.MASS_PER_LITRE),
        ("70 cl", 0.7, AmountBasis.VOLUME),
        ("30 mL per L bottled", 0.03, AmountBasis.VOLUME_PER_LITRE),
        ("5 %", 0.05, AmountBasis.SHARE_OF_MASS),
        ("5 % w/w", 0.05, AmountBasis.SHARE_OF_MASS),
        ("2 bottles", 2.0, AmountBasis.BOTTLES),
        ("1 bottle", 1.0, AmountBasis.BOTTLES),
        ("2.5 bottles", 2.5, AmountBasis.BOTTLES),
        ("3 pieces", 3.0, AmountBasis.PIECES),
    ],
)
def test_amounts(text: str, value: float, basis: AmountBasis) -> None:
    assert parse_amount(text) == Amount(value, basis)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("250", "the unit is missing, got 250. Write e.g. 500 g, 250 g per L bottled"),
        (250, "the unit is missing, got 250. Write e.g. 500 g"),
        ("-5 g", "must not be negative"),
        ("105 %", "more than the whole"),
        ("5 g/kg", "not an amount of an ingredient, got 5 g/kg."),
        ("5 L bottled", "not an amount of an ingredient, got 5 L bottled."),
        ("2 parts", "part is not a unit here, got 2 parts."),
        ("about 5 g", "Write 5 g."),
    ],
)
def test_amounts_refused_say_what_to_write(text: object, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_amount(text)
    assert message in str(caught.value)


def test_limits_on_amounts() -> None:
    band = parse_amount_band("at least 250 g per L bottled")
    assert (band.lower, band.upper, band.basis) == (0.25, None, AmountBasis.MASS_PER_LITRE)
    band = parse_amount_band("200 to 300 g")
    assert (band.lower, band.upper, band.basis) == (0.2, 0.3, AmountBasis.MASS)
    with pytest.raises(UnitError, match="both ends need the same kind of unit, got 5 g to 10 g/L"):
        parse_amount_band("5 g to 10 g/L")
    with pytest.raises(
        UnitError, match=r"an amount without a limit, got 5 g\. Write at least, at most or exactly 5 g\."
    ):
        parse_amount_band("5 g")


def test_money() -> None:
    assert parse_money("9.50 EUR/L") == Money(9.5, "EUR", "L")
    assert parse_money("4.20 EUR/kg") == Money(4.2, "EUR", "kg")
    assert parse_money("11.20 EUR") == Money(11.2, "EUR", None)
    assert parse_money("1 USD/lb") == Money(1 / 0.45359237, "USD", "kg")  # Handbook 44 pound
    assert parse_money("2 EUR/cl") == Money(200.0, "EUR", "L")
    assert parse_money_band("at most 9.50 EUR/L") == MoneyBand(None, 9.5, "EUR", "L")
    assert parse_money_band("40 to 50 EUR") == MoneyBand(40.0, 50.0, "EUR", None)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("9.50", "the currency is missing, got 9.50."),
        ("€9.50", "a currency is written as three capital letters, got €9.50."),
        ("9.50 eur", "a currency is written as three capital letters, got 9.50 eur."),
        ("9.50 EUR/bottle", "a price is per kg, per L or for the pack, got 9.50 EUR/bottle."),
        ("-1 EUR", "must not be negative, got -1 EUR."),
        ("9,50 EUR", "a decimal comma, got 9,50 EUR. Write 9.50 EUR."),
    ],
)
def test_money_refused_says_what_to_write(text: str, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_money(text)
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("9.50 EUR/L", "a cost needs a limit, got 9.50 EUR/L. Write at most 9.50 EUR/L."),
        ("5 EUR/L to 6 EUR/kg", "both ends need the same currency and unit"),
        ("about 9 EUR/L", "'about' is not a limit"),
    ],
)
def test_costs_refused_say_what_to_write(text: str, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_money_band(text)
    assert message in str(caught.value)


AT_THE_EDGE = [
    # what is read, and what lies just beyond it and is refused with these words
    (parse_amount, "0 g", Amount(0.0, AmountBasis.MASS), "-0.001 g", "must not be negative"),
    (parse_amount, "100 %", Amount(1.0, AmountBasis.SHARE_OF_MASS), "100.001 %", "more than the whole"),
    (parse_amount, "1000000 pieces", Amount(1e6, AmountBasis.PIECES), "1000001 pieces", "than any bar holds"),
    (parse_amount, "1000000 kg", Amount(1e6, AmountBasis.MASS), "1000001 kg", "than any bar holds"),
    (parse_amount, "1000000 L", Amount(1e6, AmountBasis.VOLUME), "1000001 L", "than any bar holds"),
    (parse_money, "0 EUR", Money(0.0, "EUR", None), "-0.01 EUR", "must not be negative"),
    (parse_listed_amount, "0 g", Amount(0.0, AmountBasis.MASS), "-1 g", "less than nothing"),
    (parse_change, "-99.999 %", -0.99999, "-100 %", "fall by all of itself"),
    (parse_change, "+10000 %", 100.0, "+10000.1 %", "a hundred times as much"),
    (parse_change, "0 %", 0.0, "5 %", "more or less is not said"),
]


@pytest.mark.parametrize(
    ("read", "last", "value", "beyond", "words"),
    AT_THE_EDGE,
    ids=lambda case: getattr(case, "__name__", str(case)),
)
def test_the_last_that_is_read_and_the_first_that_is_not(
    read: Callable[[str], object], last: str, value: object, beyond: str, words: str
) -> None:
    assert read(last) == value
    with pytest.raises(UnitError, match=words):
        read(beyond)


def test_a_unit_in_the_cell_and_another_beside_it_are_refused() -> None:
    assert parse_listed_amount("70 cl", "cl") == Amount(0.7, AmountBasis.VOLUME)
    assert parse_listed_amount("70", "cl") == Amount(0.7, AmountBasis.VOLUME)
    for unit in ("mL", "kg", "bottles"):
        with pytest.raises(UnitError, match=f"another unit than the one beside it, {unit}: got 70 cl"):
            parse_listed_amount("70 cl", unit)
