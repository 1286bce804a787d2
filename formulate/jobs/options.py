"""Texts typed after the options of a command, each read in one way."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

from formulate.bar.changed import _COUNTED, Circumstances
from formulate.describe.infuse_record import PlanLimits, Probe
from formulate.errors import FormulateError, RangeError, UnitError
from formulate.files.infusing import PlanText, ProbeText, parse_plan, parse_probe, parse_temperature
from formulate.physics.warming import clock_from_probe
from formulate.planning.infusion_plans import WARM_WITHIN_K
from formulate.quantity.amounts import Amount, Money, parse_amount, parse_money
from formulate.quantity.bands import parse_quantity
from formulate.quantity.units import Dimension
from formulate.quantity.words import read_option

__all__ = [
    "Texts",
    "read_circumstances",
    "read_leftover",
    "read_limits",
    "read_plan",
    "read_probe",
    "read_temperature",
]


Texts = Sequence[str] | Mapping[str, str]
"""What is said of ingredients: ``damson: 300 g`` each, or the same as a map."""


def read_circumstances(
    without: Sequence[str] = (),
    short: Texts = (),
    prices: Texts = (),
    lots: Texts = (),
) -> Circumstances:
    """Read what was typed.

    Parameters
    ----------
    without : sequence of str
        Ids.
    short, prices, lots : sequence of str, or mapping
        Such as ``damson: 300 g``, ``damson: 12 EUR/kg``, ``gentian-root: 15000``.

    Raises
    ------
    FormulateError
        With the option and what was typed.
    """
    return Circumstances(
        tuple(dict.fromkeys(without)),
        tuple((name, _left(text)) for name, text in _pairs("--short", short, "damson: 300 g")),
        tuple((name, _price(text)) for name, text in _pairs("--price", prices, "damson: 12 EUR/kg")),
        tuple((name, _bitterness(text)) for name, text in _pairs("--lot", lots, "gentian-root: 15000")),
    )


def _pairs(option: str, texts: Texts, example: str) -> list[tuple[str, str]]:
    if isinstance(texts, Mapping):
        return [(name, str(text)) for name, text in texts.items()]
    pairs = []
    for text in texts:
        name, colon, value = text.partition(":")
        if not colon or not value.strip():
            raise FormulateError(f"{option}: what and how much, got '{text}'. Write '{example}'.")
        pairs.append((name.strip(), value.strip()))
    return pairs


def _left(text: str) -> Amount:
    amount = read_option("--short", text, parse_amount)
    if amount.basis not in _COUNTED:
        raise FormulateError(
            f"--short: how much is left in all, got '{text}'. Write e.g. 300 g or 2 bottles."
        )
    return amount


def _price(text: str) -> Money:
    return read_option("--price", text, parse_money)


def _bitterness(text: str) -> float:
    value = read_option("--lot", text, lambda typed: parse_quantity(typed, Dimension.BITTERNESS))
    if not value > 0.0:
        raise FormulateError(f"--lot: a bitterness value per gram above zero, got '{text}'.")
    return value


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


def read_plan(text: str | None, step: str | None = None) -> PlanText | None:
    """Read the plan a command was given.

    Parameters
    ----------
    text : str or None
        None where none was given.
    step : str or None
        The step it was given for.

    Raises
    ------
    FormulateError
        If it cannot be read, or a step is named without a plan.
    """
    if text is None:
        if step is not None:
            raise FormulateError("--step says where a plan goes. Give --infuse with it, or leave it out.")
        return None
    return read_option("--infuse", text, parse_plan)


def read_leftover(text: str) -> float:
    """Read what an unused rest of a pack is still worth.

    Parameters
    ----------
    text : str
        A share of its price, such as ``50 %``.

    Raises
    ------
    UnitError
        If it is no share, or more than all.
    """
    share = read_option("--leftover", text, lambda typed: parse_quantity(typed, Dimension.SHARE))
    if share > 1.0:
        raise UnitError(f"--leftover: a rest is worth at most 100 % of its price, got {text}.")
    return share
