"""What an instrument shows: specific gravity, density, Plato, Brix, refractive index.

These are no units with a factor: SG 1.0425 is a density over that of water at the temperature printed
on the glass, Plato and Brix are the sucrose solution that would show the same. So a reading keeps its
scale, and `physics` turns it into kg/m3 or an index. A bare number is refused: 1.36 may be either.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from formulate.errors import UnitError
from formulate.quantity.numbers import split, text_of
from formulate.quantity.units import Dimension, factor, find_unit, shown

__all__ = [
    "Reading",
    "Scale",
    "parse_density_reading",
    "parse_refraction_reading",
    "parse_resolution",
    "parse_temperature_step",
]


class Scale(StrEnum):
    """What the number of a reading counts."""

    SPECIFIC_GRAVITY = "SG"
    DENSITY = "kg/m3"
    PLATO = "Plato"
    BRIX = "Brix"
    INDEX = "nD"


@dataclass(frozen=True, slots=True)
class Reading:
    """A number off a scale.

    Attributes
    ----------
    value : float
        In the words of the scale; a density in kg/m3.
    water_c, calibration_c : float
        Specific gravity only: temperature of the water it is over, and of the liquid, as printed on the
        glass. Other hydrometers count as true at 20 degrees Celsius.
    scale_said : bool
        Whether the two temperatures were typed, or 20/20 taken.
    text : str
        As typed.
    """

    value: float
    scale: Scale
    water_c: float = 20.0
    calibration_c: float = 20.0
    scale_said: bool = True
    text: str = field(default="", compare=False)


FURTHEST_OFF_K = 20
SIXTY_F_C = (60.0 - 32.0) * 5.0 / 9.0
_PRINTED: dict[str, tuple[float, float]] = {
    # as printed on the glass: temperature of the liquid over that of the water, degrees Celsius
    "20/20": (20.0, 20.0),
    "20/4": (20.0, 4.0),
    "15/15": (15.0, 15.0),
    "60/60": (SIXTY_F_C, SIXTY_F_C),
}
_GRAVITY = re.compile(
    r"(?:SG|sp\.? ?gr\.?|specific gravity)\s*(?P<before>[-+.0-9eE]+)"
    r"|(?P<after>[-+.0-9eE]+)\s*(?:SG|sp\.? ?gr\.?)",
    re.IGNORECASE,
)
_INDEX = re.compile(
    r"(?:n ?D(?:20)?|RI)\s*(?P<before>[-+.0-9eE]+)|(?P<after>[-+.0-9eE]+)\s*(?:n ?D(?:20)?|RI)", re.IGNORECASE
)
_DEGREES = re.compile(r"°?\s*(?P<name>plato|p|brix|bx)", re.IGNORECASE)
_DENSITY_EXAMPLE, _INDEX_EXAMPLE = "SG 1.0425", "31.2 Brix"
_DENSITY_FORMS = "SG 1.0425 20/20, SG 1.0425 60/60, 1042.5 kg/m3, 1.0425 g/mL, 10.6 Plato or 10.6 Brix"
_INDEX_FORMS = "31.2 Brix or nD 1.3625"


def _scale_of_degrees(unit: str) -> Scale | None:
    found = _DEGREES.fullmatch(unit)
    if found is None:
        return None
    return Scale.PLATO if found["name"].lower().startswith("p") else Scale.BRIX


def _typed(text: object, example: str, forms: str) -> str:
    """Return what was typed; a bare number has no scale."""
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        raise UnitError(f"the scale is missing, got {text!r}. Write {forms}.")
    return text_of(text, None, example)


def _refuse_decimal_comma(scale: re.Pattern[str], body: str, typed: str) -> None:
    """Refuse ``SG 1,0425``, which has no number the scale's own pattern would find."""
    if "," in body and scale.fullmatch(body.replace(",", ".")):
        raise UnitError(f"a decimal comma, got {shown(typed)}. Write {typed.replace(',', '.')}.")


def _number(text: str, typed: str, example: str) -> Fraction:
    number, rest = split(text, typed, example)
    if rest:
        raise UnitError(f"not one number, got {shown(typed)}. Write e.g. {example}.")
    if number <= 0:
        raise UnitError(f"must be above zero, got {shown(typed)}. Check the number.")
    return number


def _degrees(typed: str, example: str, forms: str) -> Reading:
    number, unit = split(typed, typed, example)
    if not unit:
        raise UnitError(f"the scale is missing, got {shown(typed)}. Write {forms}.")
    scale = _scale_of_degrees(unit)
    if scale is None:
        raise UnitError(f"not a scale for this, got {shown(typed)}. Write {forms}.")
    if number < 0:
        raise UnitError(
            f"below zero, got {shown(typed)}: a liquid lighter than water has no {scale}. "
            "Give its SG or its density."
        )
    return Reading(float(number), scale, text=typed)


def parse_density_reading(text: object) -> Reading:
    """Read what a hydrometer or a density meter shows.

    Parameters
    ----------
    text : str
        ``SG 1.0425`` (20/20 unless 60/60, 15/15 or 20/4 is added), ``1042.5 kg/m3``, ``1.0425 g/mL``,
        ``10.6 Plato`` or, for a sugar spindle, ``10.6 Brix``.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = _typed(text, _DENSITY_EXAMPLE, _DENSITY_FORMS)
    printed = re.search(
        r"\(?\s*([0-9]+(?:\.[0-9]+)?\s*/\s*[0-9]+(?:\.[0-9]+)?)\s*°?\s*[CF]?\s*\)?\s*$", typed
    )
    body = typed[: printed.start()].strip() if printed else typed
    _refuse_decimal_comma(_GRAVITY, body, typed)
    gravity = _GRAVITY.fullmatch(body)
    if gravity:
        name = re.sub(r"\s", "", printed[1]) if printed else "20/20"
        if name not in _PRINTED:
            known = ", ".join(_PRINTED)
            raise UnitError(f"no hydrometer scale called {name}, got {shown(typed)}. Known: {known}.")
        liquid_c, water_c = _PRINTED[name]
        value = _number(gravity["before"] or gravity["after"], typed, _DENSITY_EXAMPLE)
        return Reading(
            float(value),
            Scale.SPECIFIC_GRAVITY,
            water_c,
            liquid_c,
            scale_said=printed is not None,
            text=typed,
        )
    number, unit = split(typed, typed, _DENSITY_EXAMPLE)
    name_of_unit = find_unit(unit, Dimension.DENSITY) if unit else None
    if name_of_unit is not None:
        if number <= 0:
            raise UnitError(f"must be above zero, got {shown(typed)}. Check the number.")
        return Reading(float(number * factor(Dimension.DENSITY, name_of_unit)), Scale.DENSITY, text=typed)
    return _degrees(typed, _DENSITY_EXAMPLE, _DENSITY_FORMS)


def parse_refraction_reading(text: object) -> Reading:
    """Read what a refractometer shows.

    Parameters
    ----------
    text : str
        ``31.2 Brix`` or ``nD 1.3625``.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = _typed(text, _INDEX_EXAMPLE, _INDEX_FORMS)
    _refuse_decimal_comma(_INDEX, typed, typed)
    index = _INDEX.fullmatch(typed)
    if index:
        value = _number(index["before"] or index["after"], typed, "nD 1.3625")
        return Reading(float(value), Scale.INDEX, text=typed)
    reading = _degrees(typed, _INDEX_EXAMPLE, _INDEX_FORMS)
    if reading.scale is Scale.PLATO:
        raise UnitError(f"Plato is a scale of density, got {shown(typed)}. Write {_INDEX_FORMS}.")
    return reading


def parse_resolution(text: object, scale: Scale) -> float:
    """Read the smallest division of a tool, on the scale of its reading.

    Parameters
    ----------
    text : str
        Such as ``0.002 SG``, ``0.5 kg/m3``, ``0.2 Brix`` or ``0.0002 nD``.
    scale : Scale
        Of the reading it belongs to.

    Raises
    ------
    UnitError
        If it is no step, or one of another scale.
    """
    example = {
        "SG": "0.002 SG",
        "kg/m3": "1 kg/m3",
        "Plato": "0.5 Plato",
        "Brix": "0.2 Brix",
        "nD": "0.0002 nD",
    }
    typed = text_of(text, None, example[scale])
    if not isinstance(text, str):
        raise UnitError(f"the scale is missing, got {shown(text)}. Write e.g. {example[scale]}.")
    if scale in (Scale.BRIX, Scale.INDEX, Scale.PLATO) and (
        scale is not Scale.INDEX or not _INDEX.fullmatch(typed)
    ):
        reading = _degrees(typed, example[scale], f"e.g. {example[scale]}")
    elif scale is Scale.INDEX:
        reading = parse_refraction_reading(typed)
    else:
        reading = parse_density_reading(typed)
    if reading.scale is not scale:
        raise UnitError(f"not the scale of the reading, got {shown(typed)}. Write e.g. {example[scale]}.")
    if not reading.value > 0:
        raise UnitError(f"a step must be above zero, got {shown(typed)}. Write e.g. {example[scale]}.")
    return reading.value


def parse_temperature_step(text: object) -> float:
    """Read how far a thermometer may be off, in kelvin: ``1 °C`` or ``2 °F``.

    Raises
    ------
    UnitError
        If it is no step of temperature.
    """
    typed = text_of(text, Dimension.TEMPERATURE, "1 °C")
    number, unit = split(typed, typed, "1 °C")
    name = find_unit(unit, Dimension.TEMPERATURE)
    if name is None or number < 0:
        raise UnitError(f"not how far a thermometer may be off, got {shown(typed)}. Write e.g. 1 °C.")
    kelvin = number * factor(Dimension.TEMPERATURE, name)
    if kelvin > FURTHEST_OFF_K:
        raise UnitError(
            f"a thermometer that far off tells nothing, got {shown(typed)}. Give at most {FURTHEST_OFF_K} °C."
        )
    return float(kelvin)
