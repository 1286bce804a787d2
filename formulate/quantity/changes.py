"""What may become otherwise: ``+20 %``, a new price, and ranges to draw from such as ``4 to 6 EUR/kg``."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from formulate.errors import UnitError
from formulate.quantity.amounts import Money, parse_money, parse_money_band
from formulate.quantity.numbers import split, text_of
from formulate.quantity.units import shown

__all__ = [
    "ChangeRange",
    "PriceChange",
    "parse_change",
    "parse_change_range",
    "parse_price_change",
    "parse_price_range",
]

_EXAMPLE = "+20 %"
_RANGE_EXAMPLE = "-10 to +30 %"
_PRICE_RANGE_EXAMPLE = "4.80 ± 0.90 EUR/kg"
LARGEST_SHARE = 100.0
"""A hundred times as much: beyond it a percent sign was a slip."""


@dataclass(frozen=True, slots=True)
class PriceChange:
    """A price that moves: by a share of itself, or to a price in its place.

    Attributes
    ----------
    share : float
        0.2 for a fifth more; 0 where `price` is given.
    text : str
        As typed (not compared).
    """

    share: float = 0.0
    price: Money | None = None
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class ChangeRange:
    """A range that values are drawn from.

    Attributes
    ----------
    lower, upper : float
        Shares, or prices in `currency` per `per`.
    currency : str
        Empty for shares.
    text : str
        As typed (not compared).
    """

    lower: float
    upper: float
    currency: str = ""
    per: Literal["kg", "L"] | None = None
    text: str = field(default="", compare=False)


def parse_change(text: object) -> float:
    """Read ``+20 %`` or ``-5 %`` as a share.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, _EXAMPLE)
    return float(_signed(typed, typed, _EXAMPLE))


def parse_price_change(text: object) -> PriceChange:
    """Read ``+20 %``, or a price in place of the one there is.

    Raises
    ------
    UnitError
        See `parse_change` and `parse_money`.
    """
    typed = text_of(text, None, "+20 % or 6.20 EUR/kg")
    if "%" in typed:
        return PriceChange(share=parse_change(typed), text=typed)
    return PriceChange(price=parse_money(typed), text=typed)


def parse_change_range(text: object) -> ChangeRange:
    """Read ``-10 to +30 %`` or ``±20 %``.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, _RANGE_EXAMPLE)
    got = shown(typed)
    if typed.startswith("±"):
        # The sign stands for both: what follows is read as the upper end.
        upper = _signed(f"+{typed[1:].strip()}", typed, _RANGE_EXAMPLE)
        lower = -upper
    else:
        ends = re.split(r"(?i)\s+to\s+", typed)
        if len(ends) != 2:
            raise UnitError(f"a range has two ends, got {got}. Write e.g. {_RANGE_EXAMPLE} or ±20 %.")
        first = ends[0] if "%" in ends[0] else f"{ends[0]} %"
        lower, upper = (_signed(end, typed, _RANGE_EXAMPLE) for end in (first, ends[1]))
    if not lower < upper:
        raise UnitError(f"the lower end is not below the upper end, got {got}. Write e.g. {_RANGE_EXAMPLE}.")
    if lower <= -1:
        raise UnitError(f"nothing can fall by all of itself or more, got {got}. Write e.g. {_RANGE_EXAMPLE}.")
    return ChangeRange(float(lower), float(upper), text=typed)


def parse_price_range(text: object) -> ChangeRange:
    """Read ``4.80 ± 0.90 EUR/kg``, ``4 to 6 EUR/kg``, or a range of shares.

    Raises
    ------
    UnitError
        See `parse_change_range` and `parse_money_band`.
    """
    typed = text_of(text, None, _PRICE_RANGE_EXAMPLE)
    got = shown(typed)
    if "%" in typed:
        return parse_change_range(typed)
    if "±" not in typed and not re.search(r"(?i)\s+to\s+", typed):
        raise UnitError(f"a range has two ends, got {got}. Write e.g. {_PRICE_RANGE_EXAMPLE} or ±20 %.")
    band = parse_money_band(typed)
    if band.lower is None or band.upper is None or not band.lower < band.upper:
        raise UnitError(f"a range has two ends, got {got}. Write e.g. {_PRICE_RANGE_EXAMPLE} or ±20 %.")
    return ChangeRange(band.lower, band.upper, band.currency, band.per, typed)


def _signed(part: str, typed: str, example: str) -> Fraction:
    number, unit = split(part.strip(), typed, example)
    got = shown(typed)
    if unit != "%":
        raise UnitError(f"how much more or less is said in %, got {got}. Write e.g. {example}.")
    if number and not part.strip().startswith(("+", "-")):
        raise UnitError(f"more or less is not said, got {got}. Write e.g. +{part} or -{part}.")
    share = number / 100
    if share <= -1:
        raise UnitError(f"nothing can fall by all of itself or more, got {got}. Write e.g. {example}.")
    if share > LARGEST_SHARE:
        raise UnitError(f"more than a hundred times as much, got {got}. Check the number.")
    return share
