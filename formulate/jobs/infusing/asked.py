"""What a person asks of `infuse`: limits, a probe reading, temperatures, read from text."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import partial

from formulate.errors import FormulateError, RangeError
from formulate.files.infusing import ProbeText, parse_probe, parse_temperature
from formulate.jobs.infusing.plan_table import WARM_WITHIN_K, PlanLimits
from formulate.physics.warming import clock_from_probe
from formulate.quantity import Dimension, parse_quantity
from formulate.quantity.words import read_option

__all__ = ["Probe", "read_limits", "read_probe", "read_temperature"]


@dataclass(frozen=True, slots=True)
class Probe:
    """What a probe reading says about the jar.

    Attributes
    ----------
    reading_c, time_h, bath_c : float
        As given.
    remaining_h, latest_remaining_h : float
        From the reading until the middle is within 2 K of the bath: for a still jar, and at the latest.
    time_constant_h : float
    """

    reading_c: float
    time_h: float
    bath_c: float
    remaining_h: float
    latest_remaining_h: float
    time_constant_h: float


def read_limits(
    drawn: str | None = None,
    harsh: str | None = None,
    colour_left: str | None = None,
    pectin_left: str | None = None,
    hottest: str | None = None,
) -> PlanLimits:
    """Read the limits a command was given.

    Parameters
    ----------
    drawn, harsh, colour_left : str or None
        Shares such as ``80 %``.
    pectin_left : str or None
        Such as ``0.3 g/L``.
    hottest : str or None
        Such as ``60 °C``.

    Raises
    ------
    FormulateError
        Naming the option.
    """
    limits = PlanLimits()
    given: dict[str, float] = {}
    for option, name, text, dimension in (
        ("--drawn", "drawn", drawn, Dimension.SHARE),
        ("--harsh", "harsh", harsh, Dimension.SHARE),
        ("--colour-left", "colour_left", colour_left, Dimension.SHARE),
        ("--pectin-left", "pectin_left_g_l", pectin_left, Dimension.MASS_CONCENTRATION),
    ):
        if text is not None:
            given[name] = read_option(option, text, partial(parse_quantity, dimension=dimension))
    if hottest is not None:
        given["hottest_c"] = read_temperature("--hottest", hottest)
    return replace(limits, **given)


def read_temperature(option: str, text: str) -> float:
    """Read a temperature a command was given.

    Raises
    ------
    FormulateError
        Naming the option.
    """
    return read_option(option, text, parse_temperature)


def read_probe(text: str | None, bath: str | None, start_c: float) -> Probe | None:
    """Read a probe reading and work out when the jar is warm.

    Parameters
    ----------
    text : str or None
        Such as ``35 °C after 20 min``.
    bath : str or None
        Temperature of the bath.
    start_c : float

    Raises
    ------
    FormulateError
        If one stands without the other, or the reading does not lie between start and bath.
    """
    if text is None and bath is None:
        return None
    if text is None or bath is None:
        there, missing = ("--bath", "--probe") if text is None else ("--probe", "--bath")
        raise FormulateError(f"{there} needs {missing}: what the probe showed, and how warm the bath is.")
    reading: ProbeText = read_option("--probe", text, parse_probe)
    bath_c = read_temperature("--bath", bath)
    low, high = sorted((start_c, bath_c))
    if not low < reading.reading_c < high:
        raise FormulateError(
            f"--probe: {reading.reading_c:g} °C does not lie between the start ({start_c:g} °C) and the bath "
            f"({bath_c:g} °C). Check --start and --bath."
        )
    nearly = bath_c - math.copysign(min(WARM_WITHIN_K, (high - low) / 2.0), bath_c - start_c)
    try:
        clock = clock_from_probe(reading.reading_c, reading.time_h, bath_c, start_c, nearly)
    except RangeError as error:
        raise FormulateError(f"--probe: {error}") from None
    return Probe(
        reading.reading_c,
        reading.time_h,
        bath_c,
        clock.remaining_h,
        clock.latest_remaining_h,
        clock.time_constant_h,
    )
