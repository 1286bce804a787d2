"""The closed lists of units, and the one door to the units library.

Decimal metric units are written out, because loading the units library takes 0.2 s and most files need
nothing else; a text is an expression in the library's own unit names. A test holds every row against
the library's own definitions and NIST Handbook 44, Appendix C.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from enum import StrEnum
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

from formulate.errors import UnitError

if TYPE_CHECKING:
    from pint import UnitRegistry

__all__ = [
    "AT_MOST_ONE",
    "EXAMPLES",
    "LARGEST_KG_OR_L",
    "Dimension",
    "accepted_units",
    "factor",
    "find_unit",
    "read_number",
    "refuse_unit",
    "shown",
    "unit_name",
]


class Dimension(StrEnum):
    """What a number measures; the comment gives the one unit used inside."""

    MASS = "mass"  # kg
    VOLUME = "volume"  # L
    MASS_CONCENTRATION = "mass per volume"  # g/L
    STRENGTH = "alcohol by volume"  # % vol
    MASS_FRACTION = "mass fraction"  # 0 to 1
    SHARE = "share"  # 0 to 1
    TEMPERATURE = "temperature"  # degC
    TIME = "time"  # h
    DENSITY = "density"  # kg/m3
    RETENTION = "liquor held per mass"  # kg/kg
    CONTENT = "mass per mass"  # g/kg
    RATIO = "ratio"  # plain number
    BITTERNESS = "bitterness value"  # plain number


_Factors = Mapping[str, Fraction | str]
_ONE = Fraction(1)


def _metric(**factors: str) -> dict[str, Fraction | str]:
    return {unit.replace("_per_", "/"): Fraction(value) for unit, value in factors.items()}


_UNITS: dict[Dimension, _Factors] = {
    Dimension.MASS: _metric(g="1/1000", kg="1", mg="1/1000000") | {"oz": "ounce", "lb": "pound"},
    Dimension.VOLUME: _metric(mL="1/1000", cl="1/100", dl="1/10", L="1")
    | {"fl oz": "us_fluid_ounce", "gal": "us_gallon"},
    Dimension.MASS_CONCENTRATION: _metric(
        g_per_L="1", mg_per_L="1/1000", kg_per_m3="1", g_per_mL="1000", mg_per_mL="1"
    )
    | {"g/100mL": Fraction(10), "oz/gal": "ounce / us_gallon", "lb/gal": "pound / us_gallon"},
    Dimension.STRENGTH: {"% vol": _ONE, "% v/v": _ONE, "% abv": _ONE},
    Dimension.MASS_FRACTION: {"% w/w": Fraction(1, 100), "g/100g": Fraction(1, 100)}
    | _metric(g_per_kg="1/1000", mg_per_g="1/1000", kg_per_kg="1", g_per_g="1"),
    Dimension.SHARE: {"%": Fraction(1, 100)},
    Dimension.TEMPERATURE: dict.fromkeys(("°C", "C", "degC"), _ONE)
    | dict.fromkeys(("°F", "F", "degF"), Fraction(5, 9)),
    Dimension.TIME: {"s": "second", "min": "minute", "h": _ONE, "days": "day", "weeks": "week"},
    Dimension.DENSITY: _metric(
        kg_per_m3="1", g_per_mL="1000", g_per_cm3="1000", kg_per_L="1000", g_per_L="1"
    ),
    Dimension.RETENTION: _metric(kg_per_kg="1", g_per_g="1"),
    Dimension.CONTENT: _metric(g_per_kg="1", mg_per_g="1", mg_per_kg="1/1000")
    | {"g/100g": Fraction(10), "% w/w": Fraction(10)},
    Dimension.RATIO: {"": _ONE},
    Dimension.BITTERNESS: {"": _ONE},
}

_DEFINITIONS = """\
kilo- = 1000 = k-
milli- = 1/1000 = m-
gram = [mass] = g
litre = [volume] = L
second = [time] = s
minute = 60 * second = min
hour = 60 * minute = h
day = 24 * hour
week = 7 * day
pound = 453.59237 * gram = lb
ounce = pound / 16 = oz
us_gallon = 3.785411784 * litre
us_fluid_ounce = us_gallon / 128
"""
_LIBRARY_UNIT = {
    Dimension.MASS: "kilogram",
    Dimension.VOLUME: "litre",
    Dimension.MASS_CONCENTRATION: "gram / litre",
    Dimension.TIME: "hour",
}
EXAMPLES = {
    Dimension.MASS: "500 g",
    Dimension.VOLUME: "70 cl",
    Dimension.MASS_CONCENTRATION: "30 g/L",
    Dimension.STRENGTH: "22 % vol",
    Dimension.MASS_FRACTION: "1.6 % w/w",
    Dimension.SHARE: "30 %",
    Dimension.TEMPERATURE: "20 °C",
    Dimension.TIME: "36 h",
    Dimension.DENSITY: "1064 kg/m3",
    Dimension.RETENTION: "1.5 kg/kg",
    Dimension.CONTENT: "1.4 mg/g",
    Dimension.RATIO: "8",
    Dimension.BITTERNESS: "25",
}

LARGEST_KG_OR_L = Fraction(10**6)
"""Ceiling of a mass, a volume or a count: a thousand tonnes is a slip of the unit."""
_CEILINGS = {
    Dimension.MASS: LARGEST_KG_OR_L,
    Dimension.VOLUME: LARGEST_KG_OR_L,
    # Quinine hydrochloride by Ph. Eur. 2.8.15.
    Dimension.BITTERNESS: Fraction(200_000),
}
AT_MOST_ONE = {
    Dimension.STRENGTH: Fraction(100),
    Dimension.MASS_FRACTION: _ONE,
    Dimension.SHARE: _ONE,
    Dimension.CONTENT: Fraction(1000),
}
_WORDS = {
    **dict.fromkeys(("gram", "grams", "gr"), "g"),
    **dict.fromkeys(("kilo", "kilos", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("ml", "millilitre", "millilitres", "milliliter", "milliliters"), "mL"),
    **dict.fromkeys(("l", "litre", "litres", "liter", "liters"), "L"),
    **dict.fromkeys(("ounce", "ounces"), "oz"),
    **dict.fromkeys(("pound", "pounds", "lbs"), "lb"),
    **dict.fromkeys(("gallon", "gallons"), "gal"),
    **dict.fromkeys(("floz",), "fl oz"),
    **dict.fromkeys(("sec", "second", "seconds"), "s"),
    **dict.fromkeys(("minute", "minutes", "mins"), "min"),
    **dict.fromkeys(("hour", "hours", "hr", "hrs"), "h"),
    **dict.fromkeys(("day", "d"), "days"),
    **dict.fromkeys(("week",), "weeks"),
    **dict.fromkeys(("bottle",), "bottles"),
    **dict.fromkeys(("piece",), "pieces"),
}
NO_UNIT_HERE = {
    "dash": "A dash has no agreed size: weigh ten and give grams; a drinks file takes it with its weight.",
    "drop": "A drop has no agreed size: weigh ten and give grams.",
    "part": "Parts belong in a drinks file: give g, mL or g per L bottled.",
    "tsp": "A spoon has no agreed size: give g or mL.",
    "tbsp": "A spoon has no agreed size: give g or mL.",
    "cup": "A cup has no agreed size: give g or mL.",
    "proof": "Give % vol at 20 °C; `solve --proof` shows proof US too.",
}


def accepted_units(dimension: Dimension) -> tuple[str, ...]:
    """List the spellings accepted for a dimension, the usual one first."""
    return tuple(_UNITS[dimension])


@cache
def _registry() -> UnitRegistry[Fraction]:
    # Own definitions instead of the library's file: 5 ms instead of 150 ms, and no unit we did not ask for.
    import pint

    registry: UnitRegistry[Fraction] = pint.UnitRegistry(None, non_int_type=Fraction)
    for line in _DEFINITIONS.splitlines():
        registry.define(line)
    return registry


@cache
def factor(dimension: Dimension, unit: str) -> Fraction:
    """Give the exact factor from a unit of the tables to the canonical unit."""
    entry = _UNITS[dimension][unit]
    if isinstance(entry, Fraction):
        return entry
    registry = _registry()
    magnitude = registry.Quantity(_ONE, entry).to(_LIBRARY_UNIT[dimension]).magnitude
    return Fraction(magnitude)


def shown(text: object) -> str:
    """Shorten what was typed for a message."""
    shown = " ".join(str(text).split())
    return shown if len(shown) <= 60 else shown[:57] + "..."


def unit_name(text: str) -> str:
    """Bring the spelling of a unit into the form of the tables, as far as it is known at all."""
    text = re.sub(r"\s*\bper\b\s*|\s*/\s*", "/", text.strip(), flags=re.IGNORECASE)
    text = re.sub(r"^%\s*", "% ", text).strip()
    text = re.sub(r"/100 (?=[A-Za-z])", "/100", text)
    text = re.sub(r"\bfl\.? ?oz\.?(?![A-Za-z])", "fl oz", text, flags=re.IGNORECASE)
    if "fl oz" in text or "gal" in text:
        text = " ".join(re.sub(r"\(?\bUS\b\)?", " ", text).split())
    return re.sub(r"[A-Za-z]+", lambda m: _WORDS.get(m[0].lower(), m[0]), text)


@cache
def _spellings(dimension: Dimension) -> dict[str, str]:
    return {unit.casefold(): unit for unit in _UNITS[dimension]}


def find_unit(unit: str, dimension: Dimension) -> str | None:
    """Find the table spelling of a unit, or None if the dimension does not accept it."""
    table = _UNITS[dimension]
    return unit if unit in table else _spellings(dimension).get(unit.casefold())


def _accepted_text(dimension: Dimension) -> str:
    return ", ".join(unit for unit in _UNITS[dimension] if unit)


def refuse_unit(unit: str, typed: str, dimension: Dimension) -> UnitError:
    """Say what is wrong with a unit that `dimension` does not accept."""
    got, example = shown(typed), EXAMPLES[dimension]
    if dimension in (Dimension.RATIO, Dimension.BITTERNESS):
        return UnitError(f"a {dimension} is a plain number without a unit, got {got}. Write e.g. {example}.")
    if not unit:
        return UnitError(
            f"the unit is missing, got {got}. Accepted: {_accepted_text(dimension)}; e.g. {example}."
        )
    if unit == "%":
        return UnitError(
            f"% alone does not say of what, got {got}. Write % vol for alcohol by volume or % w/w for mass "
            f"by mass; accepted here: {_accepted_text(dimension)}."
        )
    for word, advice in NO_UNIT_HERE.items():
        if re.search(rf"\b{word}(?:e?s)?\b", unit, re.IGNORECASE):
            return UnitError(f"{word} is not a unit here, got {got}. {advice}")
    # g/kg measures a content before it measures a mass fraction: "mass per mass" is the plainer name.
    plain_names = (Dimension.CONTENT, *(other for other in Dimension if other is not Dimension.CONTENT))
    others = [other for other in plain_names if find_unit(unit, other) is not None]
    if others:
        return UnitError(
            f"wrong kind of quantity, got {got} ({others[0]}); expected {dimension}, e.g. {example}."
        )
    near = difflib.get_close_matches(unit, [name for name in _UNITS[dimension] if name], n=1)
    hint = f" Did you mean {near[0]}?" if near else ""
    return UnitError(f"unknown unit {shown(unit)}, got {got}.{hint} Accepted: {_accepted_text(dimension)}.")


def read_number(number: Fraction, unit: str, typed: str, dimension: Dimension) -> Fraction:
    """Convert a number to the canonical unit, refusing what cannot be.

    Raises
    ------
    UnitError
        If the unit is not accepted or the number makes no sense in it.
    """
    name = find_unit(unit, dimension)
    if name is None:
        raise refuse_unit(unit, typed, dimension)
    if dimension is Dimension.TEMPERATURE:
        value = (number - 32) * Fraction(5, 9) if name.endswith("F") else number
        if value < Fraction("-273.15"):
            raise UnitError(f"colder than absolute zero, got {shown(typed)}. Check the number and the unit.")
        return value
    if number < 0:
        raise UnitError(f"must not be negative, got {shown(typed)}. Give zero or more.")
    value = number * factor(dimension, name)
    if dimension in AT_MOST_ONE and value > AT_MOST_ONE[dimension]:
        raise UnitError(f"more than the whole, got {shown(typed)}. Give at most 100 %.")
    if dimension in _CEILINGS and value > _CEILINGS[dimension]:
        bitter = dimension is Dimension.BITTERNESS
        what = "more bitter than quinine itself" if bitter else "more than any bar holds"
        check = "zeros" if bitter else "number and the unit"
        raise UnitError(f"{what}, got {shown(typed)}. Check the {check}.")
    return value
