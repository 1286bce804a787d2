"""Amounts of an ingredient and prices: reading them, the limits on them, and money to the cent."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Literal

from formulate.errors import UnitError
from formulate.quantity.bands import ABOUT, band_form, limits
from formulate.quantity.numbers import refuse_range, split, text_of
from formulate.quantity.units import LARGEST_KG_OR_L, NO_UNIT_HERE, Dimension, factor, find_unit, shown

__all__ = ["cents_adding_up", "to_cents"]


class AmountBasis(StrEnum):
    """What the number of an `Amount` counts."""

    MASS = "kg"
    MASS_PER_LITRE = "kg per L bottled"
    VOLUME = "L"
    VOLUME_PER_LITRE = "L per L bottled"
    SHARE_OF_MASS = "share of mass"
    BOTTLES = "bottles"
    PIECES = "pieces"


@dataclass(frozen=True, slots=True)
class Money:
    """A price: `value` in `currency` per kg, per L, or (None) per pack or in total."""

    value: float
    currency: str
    per: Literal["kg", "L"] | None = None
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class MoneyBand:
    """Limits on a price or a cost; `per` None means the whole batch."""

    lower: float | None
    upper: float | None
    currency: str
    per: Literal["kg", "L"] | None = None
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Amount:
    """How much of an ingredient: `value` counted on `basis`, in `count` units (6 in ``6 x 70 cl``)."""

    value: float
    basis: AmountBasis
    text: str = field(default="", compare=False)
    count: int = 1


@dataclass(frozen=True, slots=True)
class AmountBand:
    """Limits on an amount; both ends on the same basis."""

    lower: float | None
    upper: float | None
    basis: AmountBasis
    text: str = field(default="", compare=False)


def _read_money(number: Fraction, unit: str, typed: str) -> tuple[Fraction, str, Literal["kg", "L"] | None]:
    got = shown(typed)
    currency, slash, per = unit.partition("/")
    currency, per = currency.strip(), per.strip()
    if not currency:
        raise UnitError(f"the currency is missing, got {got}. Write e.g. 9.50 EUR or 9.50 EUR/L.")
    if not re.fullmatch(r"[A-Z]{3}", currency):
        raise UnitError(f"a currency is written as three capital letters, got {got}. Write e.g. 9.50 EUR.")
    if number < 0:
        raise UnitError(f"must not be negative, got {got}. Give zero or more.")
    if not slash:
        return number, currency, None
    mass, volume = find_unit(per, Dimension.MASS), find_unit(per, Dimension.VOLUME)
    if mass is not None:
        return number / factor(Dimension.MASS, mass), currency, "kg"
    if volume is not None:
        return number / factor(Dimension.VOLUME, volume), currency, "L"
    raise UnitError(
        f"a price is per kg, per L or for the pack, got {got}. For a pack, bottle or piece give its size as "
        f"pack: and write the price alone, e.g. 11.20 {currency}."
    )


def parse_money(text: object) -> Money:
    """Read a price such as ``9.50 EUR/L``, ``4.20 EUR/kg`` or ``11.20 EUR`` (per pack).

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, "9.50 EUR/L")
    refuse_range(typed)
    number, unit = split(typed, typed, "9.50 EUR/L")
    value, currency, per = _read_money(number, unit, typed)
    return Money(float(value), currency, per, typed)


def parse_money_band(text: object) -> MoneyBand:
    """Read limits on a cost such as ``at most 9.50 EUR/L``; without ``/L`` the whole batch is meant.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    example = "at most 9.50 EUR/L"
    typed = text_of(text, None, example)
    form, numbers = band_form(typed, example, f"Write e.g. {example}.")
    kinds = {_read_money(number, unit, typed)[1:] for number, unit in numbers}
    if form == "plain":
        raise UnitError(f"a cost needs a limit, got {shown(typed)}. Write at most {typed}.")
    if len(kinds) > 1:
        raise UnitError(
            f"both ends need the same currency and unit, got {shown(typed)}. Write e.g. {example}."
        )
    lower, upper = limits(form, numbers, typed, lambda number, unit: _read_money(number, unit, typed)[0])
    currency, per = kinds.pop()
    return MoneyBand(lower, upper, currency, per, typed)


_AMOUNT_EXAMPLE = "500 g, 250 g per L bottled, 70 cl, 5 % or 2 bottles"


def _no_more_than_a_bar_has(value: Fraction, typed: str) -> Fraction:
    if value > LARGEST_KG_OR_L:
        raise UnitError(f"more than any bar holds, got {shown(typed)}. Check the number and the unit.")
    return value


def _read_amount(number: Fraction, unit: str, typed: str) -> tuple[Fraction, AmountBasis]:
    got = shown(typed)
    if number < 0:
        raise UnitError(f"must not be negative, got {got}. Give zero or more.")
    if not unit:
        raise UnitError(f"the unit is missing, got {got}. Write e.g. {_AMOUNT_EXAMPLE}.")
    if unit in ("%", "% w/w"):
        if number > 100:
            raise UnitError(f"more than the whole, got {got}. Give at most 100 %.")
        return number / 100, AmountBasis.SHARE_OF_MASS
    if unit in ("bottles", "pieces"):
        return _no_more_than_a_bar_has(number, typed), AmountBasis(unit)
    top, slash, bottom = unit.partition("/")
    litres = find_unit(re.sub(r"\s*\bbottled$", "", bottom, flags=re.IGNORECASE), Dimension.VOLUME)
    for dimension, basis, basis_per_litre in (
        (Dimension.MASS, AmountBasis.MASS, AmountBasis.MASS_PER_LITRE),
        (Dimension.VOLUME, AmountBasis.VOLUME, AmountBasis.VOLUME_PER_LITRE),
    ):
        name = find_unit(top.strip(), dimension)
        if name is not None and not slash:
            return _no_more_than_a_bar_has(number * factor(dimension, name), typed), basis
        if name is not None and litres is not None:
            value = number * factor(dimension, name) / factor(Dimension.VOLUME, litres)
            return _no_more_than_a_bar_has(value, typed), basis_per_litre
    for word, advice in NO_UNIT_HERE.items():
        if re.search(rf"\b{word}(?:e?s)?\b", unit, re.IGNORECASE):
            raise UnitError(f"{word} is not a unit here, got {got}. {advice}")
    raise UnitError(f"not an amount of an ingredient, got {got}. Write e.g. {_AMOUNT_EXAMPLE}.")


def parse_amount(text: object) -> Amount:
    """Read how much of an ingredient.

    ``500 g``, ``250 g per L bottled``, ``70 cl``, ``5 %``, ``2 bottles`` or ``3 pieces``. Anything per litre,
    ``1.2 g/L`` too, is per litre bottled; ``%`` is a share of the mass of all ingredients.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, _AMOUNT_EXAMPLE)
    about = ABOUT.match(typed)
    if about:
        raise UnitError(
            f"'{about['word']}' says no number to work with, got {shown(typed)}. Write {about['rest']}."
        )
    refuse_range(typed)
    number, unit = split(typed, typed, _AMOUNT_EXAMPLE)
    value, basis = _read_amount(number, unit, typed)
    return Amount(float(value), basis, typed)


_CASE = re.compile(r"(?P<count>[1-9][0-9]{0,2}) ?[x×] ?(?P<each>[0-9.].*)")


def parse_pack(text: object) -> Amount:
    """Read the size of a pack: ``70 cl``, ``1 kg``, ``6 pieces``, or a case such as ``6 x 70 cl``.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, "70 cl or 6 x 70 cl")
    case = _CASE.fullmatch(typed)
    if case is None:
        return parse_amount(text)
    count, one = int(case["count"]), parse_amount(case["each"])
    if one.basis not in (AmountBasis.MASS, AmountBasis.VOLUME, AmountBasis.PIECES):
        raise UnitError(f"not the size of a pack, got {shown(typed)}. Write e.g. 6 x 70 cl.")
    return Amount(round(one.value * count, 12), one.basis, typed, count)


def parse_amount_band(text: object) -> AmountBand:
    """Read limits on an amount such as ``at least 250 g per L bottled``.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    example = "at least 250 g per L bottled"
    typed = text_of(text, None, example)
    form, numbers = band_form(typed, example, f"Write e.g. {example}.")
    bases = {_read_amount(number, unit, typed)[1] for number, unit in numbers}
    if form == "plain":
        raise UnitError(
            f"an amount without a limit, got {shown(typed)}. Write at least, at most or exactly {typed}."
        )
    if len(bases) > 1:
        raise UnitError(f"both ends need the same kind of unit, got {shown(typed)}. Write e.g. {example}.")
    lower, upper = limits(form, numbers, typed, lambda number, unit: _read_amount(number, unit, typed)[0])
    return AmountBand(lower, upper, bases.pop(), typed)


_CENT = Decimal("0.01")
DIGITS = 15
"""Decimal digits a double holds for certain (IEEE 754); spreadsheets round by them."""


def to_cents(amount: float) -> float:
    """Round money to the cent, half a cent away from nothing.

    Three packs at 0.335 are 1.005 and so 1.01, though the nearest double lies a hair below.
    """
    return float(_exact(amount).quantize(_CENT, ROUND_HALF_UP)) + 0.0


def cents_adding_up(amounts: Sequence[float], total: float) -> list[float]:
    """Round the parts of a sum to cents that add up to the sum as it is shown.

    Each is cut to the cent, and the cents still missing go to those of which most was cut off (the method of
    largest remainders); of equals the first.

    Parameters
    ----------
    amounts : sequence of float
        Not negative.
    total : float
        Their sum, in whole cents.
    """
    exact = [_exact(amount) for amount in amounts]
    cut = [amount.quantize(_CENT, ROUND_FLOOR) for amount in exact]
    missing = int((_exact(total) - sum(cut)) / _CENT)
    most_cut_off = sorted(range(len(exact)), key=lambda number: cut[number] - exact[number])
    for number in most_cut_off[: max(missing, 0)]:
        cut[number] += _CENT
    return [float(amount) for amount in cut]


def _exact(amount: float) -> Decimal:
    return Decimal(f"{amount:.{DIGITS}g}")
