"""Field types: what a person types on one side, canonical floats and frozen records on the other.

In Python the canonical value is accepted as well as text; from a file (validation context
``from_file``) only what a person may write, so a bare number never takes a unit by default.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Annotated, Any, TypeVar

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    PlainSerializer,
    Strict,
    ValidationInfo,
    WithJsonSchema,
)

from formulate.errors import UnitError
from formulate.files.frozen import FrozenMap
from formulate.quantity import (
    Amount,
    Band,
    Dimension,
    Money,
    MoneyBand,
    accepted_units,
    parse_amount,
    parse_band,
    parse_money,
    parse_money_band,
    parse_pack,
    parse_quantity,
)
from formulate.quantity.units import shown as shortened

__all__ = [
    "AmountText",
    "BitternessValue",
    "CostLimits",
    "Currency",
    "Id",
    "PackText",
    "PlainNumber",
    "Price",
    "ShareBand",
    "Text",
    "Tuple",
    "did_you_mean",
    "from_file",
]

T = TypeVar("T")
_FROM_FILE = "from_file"
FILE_CONTEXT = {_FROM_FILE: True}


def from_file(info: ValidationInfo) -> bool:
    """Tell whether the value under validation was typed by a person."""
    return bool(info.context and info.context.get(_FROM_FILE))


def did_you_mean(name: str, known: Iterable[str], *, list_up_to: int = 12) -> str:
    """Say the nearest known name, and all of them when they are few; empty if nothing helps."""
    names = sorted(set(known))
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    # Typed in capitals it may share no letter with the name meant.
    near = near or difflib.get_close_matches(name.lower(), names, n=1, cutoff=0.6)
    parts = [f"Did you mean '{near[0]}'?"] if near else []
    if 0 < len(names) <= list_up_to and not (len(names) == 1 and near):
        parts.append(f"Known here: {', '.join(names)}.")
    return " ".join(parts)


def shown(value: object) -> str:
    """Name a value for a message: short text as typed, containers by kind."""
    if isinstance(value, (dict, Mapping)):
        return "a map"
    if isinstance(value, (list, tuple)):
        return "a list"
    if isinstance(value, bool):
        return str(value).lower()
    return shortened(value)


def _parsed_by(parse: Callable[[object], object]) -> BeforeValidator:
    def read(value: object, info: ValidationInfo) -> object:
        if isinstance(value, str) or from_file(info):
            return parse(value)
        return value

    return BeforeValidator(read)


def _quantity(dimension: Dimension) -> BeforeValidator:
    return _parsed_by(lambda value: parse_quantity(value, dimension))


def _band(dimension: Dimension) -> BeforeValidator:
    return _parsed_by(lambda value: parse_band(value, dimension))


LIGHTEST_KG_M3, HEAVIEST_KG_M3 = 600.0, 3000.0
"""Densities a thing in a kitchen may have: ethanol has 789, salt 2165, sand 2650 (from memory)."""


LEAST_KG_OR_L = 1e-4
"""Least a batch, a vessel or a bottle holds: a tenth of a millilitre."""


def _vessel(value: object) -> float:
    volume_l = parse_quantity(value, Dimension.VOLUME)
    if volume_l < LEAST_KG_OR_L:
        raise UnitError(f"less than a drop, got {shown(value)}. Check the number and the unit.")
    return volume_l


def _density(value: object) -> float:
    density_kg_m3 = parse_quantity(value, Dimension.DENSITY)
    if LIGHTEST_KG_M3 <= density_kg_m3 <= HEAVIEST_KG_M3:
        return density_kg_m3
    for factor, unit in ((1000.0, "g/mL"), (0.001, "kg/m3")):
        if LIGHTEST_KG_M3 <= density_kg_m3 * factor <= HEAVIEST_KG_M3:
            number = density_kg_m3 if unit == "g/mL" else density_kg_m3 * factor
            advice = f"Did you mean {number:.6g} {unit}?"
            break
    else:
        advice = "Water is 998 kg/m3 or 0.998 g/mL: check the number and the unit."
    raise UnitError(
        f"a density is {LIGHTEST_KG_M3:g} to {HEAVIEST_KG_M3:g} kg/m3, got {shown(value)}. {advice}"
    )


def written(*examples: str, units: Dimension | None = None) -> WithJsonSchema:
    schema: dict[str, Any] = {"type": "string", "minLength": 1, "examples": list(examples)}
    if units is not None:
        schema["description"] = f"{units.value}; units: {', '.join(accepted_units(units))}"
    return WithJsonSchema(schema)


def _check_id(value: str) -> str:
    if not re.fullmatch(r"[a-z0-9]+(?:-[a-z0-9]+)*", value):
        near = re.sub(r"[^a-z0-9]+", "-", value.lower()).strip("-") or "vodka-40"
        raise ValueError(
            f"a name is small letters, digits and single hyphens, got {shown(value)}. Write {near}."
        )
    return value


def _plain_number(value: object, info: ValidationInfo) -> object:
    if isinstance(value, str) and from_file(info):
        return parse_quantity(value, Dimension.RATIO)
    return value


QUININE_HYDROCHLORIDE = 200_000
"""Its bitterness value, set by Ph. Eur. 2.8.15: no plant or drink comes near it."""


def _bitterness_value(value: object, info: ValidationInfo) -> object:
    number = _plain_number(value, info)
    if isinstance(number, (int, float)) and not isinstance(number, bool) and number > QUININE_HYDROCHLORIDE:
        raise ValueError(
            f"more bitter than quinine itself, which is {QUININE_HYDROCHLORIDE}, got {shown(value)}. "
            "Check the zeros."
        )
    return number


def _needs_band(band: Band) -> Band:
    if band.plain:
        raise ValueError(
            f"a single value without limits, got {shown(band.text)}. "
            f"Write a range, at least, at most or exactly {shown(band.text)}."
        )
    return band


def _check_currency(value: str) -> str:
    if not re.fullmatch(r"[A-Z]{3}", value):
        raise ValueError(f"a currency is three capital letters, got {shown(value)}. Write e.g. EUR.")
    return value


Text = Annotated[str, Field(min_length=1)]
Currency = Annotated[
    str, AfterValidator(_check_currency), WithJsonSchema({"type": "string", "pattern": "^[A-Z]{3}$"})
]
Id = Annotated[
    str,
    AfterValidator(_check_id),
    WithJsonSchema({"type": "string", "pattern": "^[a-z0-9]+(-[a-z0-9]+)*$"}),
]
Tuple = Annotated[tuple[T, ...], Strict(False)]
FrozenDict = Annotated[Mapping[str, T], Strict(False), AfterValidator(FrozenMap), PlainSerializer(dict)]
PlainNumber = Annotated[float, BeforeValidator(_plain_number), WithJsonSchema({"type": "number"})]
BitternessValue = Annotated[
    float,
    BeforeValidator(_bitterness_value),
    WithJsonSchema({"type": "number", "maximum": QUININE_HYDROCHLORIDE}),
]

MassKg = Annotated[float, _quantity(Dimension.MASS), written("320 g", units=Dimension.MASS)]
VolumeL = Annotated[float, _quantity(Dimension.VOLUME), written("70 cl", units=Dimension.VOLUME)]
VesselL = Annotated[
    float, _parsed_by(_vessel), Field(ge=LEAST_KG_OR_L), written("70 cl", units=Dimension.VOLUME)
]
StrengthPctVol = Annotated[
    float, _quantity(Dimension.STRENGTH), written("40 % vol", units=Dimension.STRENGTH)
]
ConcentrationGL = Annotated[
    float, _quantity(Dimension.MASS_CONCENTRATION), written("5 g/L", units=Dimension.MASS_CONCENTRATION)
]
MassFraction = Annotated[
    float, _quantity(Dimension.MASS_FRACTION), written("1.6 % w/w", units=Dimension.MASS_FRACTION)
]
Share = Annotated[float, _quantity(Dimension.SHARE), written("90 %", units=Dimension.SHARE)]
DensityKgM3 = Annotated[
    float,
    _parsed_by(_density),
    Field(ge=LIGHTEST_KG_M3, le=HEAVIEST_KG_M3),
    written("1064 kg/m3", units=Dimension.DENSITY),
]
RetentionKgPerKg = Annotated[
    float, _quantity(Dimension.RETENTION), written("1.5 kg/kg", units=Dimension.RETENTION)
]
TimeH = Annotated[float, _quantity(Dimension.TIME), written("24 h", "90 min", units=Dimension.TIME)]
TemperatureC = Annotated[
    float, _quantity(Dimension.TEMPERATURE), written("50 °C", "120 °F", units=Dimension.TEMPERATURE)
]
ContentGPerKg = Annotated[float, _quantity(Dimension.CONTENT), written("1.4 mg/g", units=Dimension.CONTENT)]

StrengthBand = Annotated[Band, _band(Dimension.STRENGTH), written("22 ± 0.3 % vol", units=Dimension.STRENGTH)]
ConcentrationBand = Annotated[
    Band,
    _band(Dimension.MASS_CONCENTRATION),
    written("180 ± 5 g/L", "5 to 7 g/L", "at most 10 mg/L", units=Dimension.MASS_CONCENTRATION),
]
ShareBand = Annotated[
    Band, _band(Dimension.SHARE), AfterValidator(_needs_band), written("30 to 60 %", units=Dimension.SHARE)
]
Price = Annotated[Money, _parsed_by(parse_money), written("11.20 EUR", "4.20 EUR/kg", "16 EUR/L")]
CostLimits = Annotated[MoneyBand, _parsed_by(parse_money_band), written("at most 9.50 EUR/L")]
AmountText = Annotated[
    Amount,
    _parsed_by(parse_amount),
    written("500 g", "250 g per L bottled", "70 cl", "5 %", "2 bottles", "3 pieces"),
]
PackText = Annotated[Amount, _parsed_by(parse_pack), written("70 cl", "1 kg", "6 pieces", "6 x 70 cl")]
