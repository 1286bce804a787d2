"""What a drink is measured in, and how many are sold.

Jigger volumes, dashes, drops, parts and pieces; the weighed melt; ``60 per week``, ``12 ± 3 per day``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import Literal, cast

from formulate.errors import UnitError
from formulate.quantity.numbers import split, text_of
from formulate.quantity.units import Dimension, factor, find_unit, shown

__all__ = ["Forecast", "Melt", "Pour", "PourUnit", "parse_forecast", "parse_melt", "parse_pour"]

_EXAMPLE = "45 mL, 2 cl, 1.5 fl oz, 2 dashes, 3 drops, 2 parts, 8 g or 1 piece"
_MELT_EXAMPLE = "28 g or 35 %"


class PourUnit(StrEnum):
    """What the number of a `Pour` counts."""

    VOLUME = "L"
    MASS = "kg"
    DASHES = "dashes"
    DROPS = "drops"
    PARTS = "parts"
    PIECES = "pieces"


_COUNTED = {
    "dash": PourUnit.DASHES,
    "dashes": PourUnit.DASHES,
    "drop": PourUnit.DROPS,
    "drops": PourUnit.DROPS,
    "part": PourUnit.PARTS,
    "parts": PourUnit.PARTS,
    "pieces": PourUnit.PIECES,
}
_SPOONS = re.compile(r"\b(?:bar ?spoons?|bsp|tsp|tbsp|spoons?|cups?|splash(?:es)?|jiggers?|shots?)\b", re.I)


@dataclass(frozen=True, slots=True)
class Pour:
    """How much of something goes into one drink: `value` counted in `unit`."""

    value: float
    unit: PourUnit
    text: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Melt:
    """Ice melted into a drink: `value` kg, or as a share of the volume poured over the ice."""

    value: float
    is_share: bool
    text: str = field(default="", compare=False)


def _above_zero(number: Fraction, typed: str) -> Fraction:
    if not number > 0:
        raise UnitError(f"must be above zero, got {shown(typed)}. Check the number, or delete the line.")
    return number


def parse_pour(text: object) -> Pour:
    """Read an amount in a drink: ``45 mL``, ``1.5 fl oz``, ``2 dashes``, ``2 parts``, ``1 piece``.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, _EXAMPLE)
    got = shown(typed)
    number, unit = split(typed, typed, _EXAMPLE)
    _above_zero(number, typed)
    if not unit:
        raise UnitError(f"the unit is missing, got {got}. Write e.g. {_EXAMPLE}.")
    if unit == "oz":
        raise UnitError(f"oz is a weight, got {got}. Write fl oz for a pour, or grams for a weight.")
    counted = _COUNTED.get(unit.lower())
    if counted is not None:
        return Pour(float(number), counted, typed)
    for dimension, kind in ((Dimension.VOLUME, PourUnit.VOLUME), (Dimension.MASS, PourUnit.MASS)):
        name = find_unit(unit, dimension)
        if name is not None:
            return Pour(float(number * factor(dimension, name)), kind, typed)
    if _SPOONS.search(unit):
        raise UnitError(f"{shown(unit)} has no agreed size, got {got}. Measure yours once and give mL.")
    raise UnitError(f"not an amount in a drink, got {got}. Write e.g. {_EXAMPLE}.")


def parse_melt(text: object) -> Melt:
    """Read what a bar weighed: ``28 g`` (or ``28 mL``) of melt in the drink, or ``35 %`` of what was poured.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, _MELT_EXAMPLE)
    number, unit = split(typed, typed, _MELT_EXAMPLE)
    if number < 0:
        raise UnitError(f"must not be negative, got {shown(typed)}. Give zero or more.")
    if unit == "%":
        if number > 300:
            raise UnitError(f"more than three times what was poured, got {shown(typed)}. Check the number.")
        return Melt(float(number / 100), True, typed)
    mass = find_unit(unit, Dimension.MASS)
    if mass is not None:
        return Melt(float(number * factor(Dimension.MASS, mass)), False, typed)
    volume = find_unit(unit, Dimension.VOLUME)
    if volume is not None:
        # What melts is water: a litre is weighed as a kilogram, 0.2 % more than at 20 °C.
        return Melt(float(number * factor(Dimension.VOLUME, volume)), False, typed)
    raise UnitError(f"not what melted, got {shown(typed)}. Write e.g. {_MELT_EXAMPLE} of what was poured.")


_FORECAST_EXAMPLE = "60 ± 15 per week"
_MOST = 1_000_000


@dataclass(frozen=True, slots=True)
class Forecast:
    """Drinks sold per day or week: `mean`, and in two of three such times within `spread` of it.

    `other_weeks` holds those that sell otherwise, from 1: week, mean and spread per the same.
    """

    mean: float
    spread: float
    per: Literal["day", "week"]
    text: str = field(default="", compare=False)
    other_weeks: tuple[tuple[int, float, float], ...] = ()

    def per_week(self, open_days: int, week: int | None = None) -> tuple[float, float]:
        """Return mean and spread for a usual week, or for one; the days of a week vary each by itself."""
        mean, spread = self.mean, self.spread
        for number, other_mean, other_spread in self.other_weeks:
            if number == week:
                mean, spread = other_mean, other_spread
        if self.per == "week":
            return mean, spread
        return mean * open_days, spread * float(open_days**0.5)


def parse_forecast(text: object) -> Forecast:
    """Read a forecast: ``60 ± 15 per week``, ``12 ± 3 per day``, ``110 ± 25 per week, week 3: 220``.

    A week that is another without a spread of its own keeps the usual share of it.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, _FORECAST_EXAMPLE)
    usual, *others = (part.strip() for part in typed.split(","))
    found = re.fullmatch(r"(?P<count>.+?)(?: per |/)(?P<per>day|week)", usual, re.IGNORECASE)
    if found is None:
        raise UnitError(
            f"per day or per week is missing, got {shown(typed)}. Write e.g. {_FORECAST_EXAMPLE}."
        )
    mean, spread = _count(found["count"], typed)
    other_weeks: dict[int, tuple[float, float]] = {}
    for part in others:
        other = re.fullmatch(r"weeks? (?P<first>[0-9]+)(?:(?: to |-)(?P<last>[0-9]+))?: (?P<count>.+)", part)
        if other is None:
            raise UnitError(
                f"after the comma weeks that sell otherwise, got {shown(part)}. "
                f"Write e.g. {_FORECAST_EXAMPLE}, week 3: 220."
            )
        first, last = int(other["first"]), int(other["last"] or other["first"])
        if not 1 <= first <= last:
            raise UnitError(f"weeks are counted from 1, got {shown(part)}. Write e.g. week 3: 220.")
        once, its_spread = _count(other["count"], typed)
        if its_spread is None:
            its_spread = (spread or 0.0) / mean * once if mean else 0.0
        for week in range(first, last + 1):
            if week in other_weeks:
                raise UnitError(f"week {week} is said twice, got {shown(typed)}. Keep one.")
            other_weeks[week] = (once, its_spread)
    per = cast("Literal['day', 'week']", found["per"].lower())
    weeks = tuple((week, *sold) for week, sold in other_weeks.items())
    return Forecast(mean, spread or 0.0, per, typed, weeks)


def _count(text: str, typed: str) -> tuple[float, float | None]:
    """Read a number of drinks and its spread; None where none is said."""
    got = shown(typed)
    count, _, spread = text.partition("±")
    numbers = []
    for part in (count, spread) if spread else (count,):
        number, unit = split(part.strip(), typed, _FORECAST_EXAMPLE)
        if unit.lower() not in ("", "drinks", "drink", "serves"):
            raise UnitError(f"drinks are counted, got {got}. Write e.g. {_FORECAST_EXAMPLE}.")
        if not 0 <= number <= _MOST:
            raise UnitError(f"not a number of drinks, got {got}. Write e.g. {_FORECAST_EXAMPLE}.")
        numbers.append(float(number))
    return numbers[0], numbers[1] if spread else None
