"""Field types: what a person types on one side, canonical floats and frozen records on the other.

In Python the canonical value is accepted as well as text; from a file (validation context
``from_file``) only what a person may write, so a bare number never takes a unit by default.
"""

from __future__ import annotations

import datetime
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
    "IS_THIS_MEANT",
    "AmountText",
    "BitternessValue",
    "CostLimits",
    "Currency",
    "Day",
    "Id",
    "Meant",
    "PackText",
    "PlainNumber",
    "Price",
    "ShareBand",
    "Text",
    "Tuple",
    "Wage",
    "Work",
    "did_you_mean",
    "from_file",
    "work_money",
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

MassFractionBand = Annotated[
    Band, _band(Dimension.MASS_FRACTION), written("4.4 to 5.6 % w/w", units=Dimension.MASS_FRACTION)
]
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


def _date(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        try:
            return datetime.date.fromisoformat(value)
        except ValueError:
            pass
    raise ValueError(f"must be a day written year-month-day, got {shown(value)}. Write e.g. 2027-01-31.")


Day = Annotated[datetime.date, BeforeValidator(_date), written("2027-01-31")]


_PER_HOUR = ("/h", "/hour", " per h", " per hour", " an hour")


def _work(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    try:
        hours = parse_quantity(value, Dimension.TIME)
    except UnitError:
        try:
            return parse_money(value)
        except UnitError as error:
            if re.search("[A-Z]{3}", str(value)):
                raise
            message = f"work is money or time, got {shown(value)}. Write e.g. 12 EUR or 45 min."
            raise ValueError(message) from error
    if not hours > 0.0:
        raise ValueError(f"must be above zero, got {shown(value)}. Write e.g. 45 min, or delete the line.")
    return hours


def _wage(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    text = str(value).strip()
    for ending in _PER_HOUR:
        if text.lower().endswith(ending):
            return parse_money(text[: -len(ending)])
    raise ValueError(f"is money for an hour, got {shown(value)}. Write e.g. 18 EUR/h.")


def _a_wage(value: Money) -> Money:
    if value.per is not None or value.value <= 0.0:
        raise ValueError(f"is money above zero for an hour, got {shown(value.text)}. Write e.g. 18 EUR/h.")
    return value


Work = Annotated[Money | float, BeforeValidator(_work), written("12 EUR", "45 min")]
"""Money, or hours of work that a wage turns into money."""
Wage = Annotated[Money, BeforeValidator(_wage), AfterValidator(_a_wage), written("18 EUR/h")]


def work_money(work: Money | float | None, wage: Money | None) -> float:
    """Return what work costs; hours without a wage cost nothing.

    Parameters
    ----------
    work : Money, float or None
        Hours where it is a number.
    wage : Money or None
        Of an hour.
    """
    if work is None:
        return 0.0
    if isinstance(work, float):
        return 0.0 if wage is None else work * wage.value
    return work.value


IS_THIS_MEANT = "Is this meant? Then write `meant: true` beside it."
"""The end of a question about what no bar means."""

Meant = Annotated[
    bool, Field(description="What looks like a slip of typing here is meant; true where a command asks.")
]
