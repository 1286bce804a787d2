"""A plan for infusing, and a probe reading, as a person types them: `3 h at 40 °C with enzyme`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from formulate.errors import UnitError
from formulate.files.steps import COLDEST_C, HOTTEST_C, LONGEST_H, EnzymeOrder
from formulate.quantity import Dimension, parse_quantity

__all__ = [
    "Drawn",
    "PlanText",
    "ProbeText",
    "drawn_text",
    "parse_drawn",
    "parse_plan",
    "parse_probe",
    "parse_temperature",
    "plan_text",
    "temperature_text",
    "time_text",
    "whole_plan_text",
]

PLAN_EXAMPLE = "3 h at 40 °C, or 90 min at 45 °C with enzyme before spirit"
DRAWN_EXAMPLE = "60 % after 3 h at 40 °C"
PROBE_EXAMPLE = "35 °C after 20 min"

LEAST_DRAWN, MOST_DRAWN = 0.01, 0.99
"""Nothing and all of it say nothing of how fast it goes."""

_PLAN = re.compile(
    r"(?P<time>.+?)\s+at\s+(?P<temperature>.+?)"
    r"(?:\s*,?\s+(?P<with>with|without)\s+enzyme(?:\s*,?\s+(?P<order>before|with)\s+(?:the\s+)?spirit)?)?"
)
_PROBE = re.compile(r"(?P<temperature>.+?)\s+after\s+(?P<time>.+)")


@dataclass(frozen=True, slots=True)
class PlanText:
    """How long and how warm a step infuses.

    Attributes
    ----------
    enzyme : bool or None
        None leaves the enzyme as the file has it.
    order : str or None
        ``before spirit`` or ``with spirit``; None leaves the order as the file has it.
    """

    time_h: float
    temperature_c: float
    enzyme: bool | None = None
    order: EnzymeOrder | None = None


@dataclass(frozen=True, slots=True)
class Drawn:
    """How much of what a plant gives came out in a jar that somebody tried.

    Attributes
    ----------
    share : float
        Above 0, below 1.
    """

    share: float
    time_h: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class ProbeText:
    """What a probe in the middle of the jar showed.

    Attributes
    ----------
    time_h : float
        After the jar went into the bath.
    """

    reading_c: float
    time_h: float


def parse_plan(text: object) -> PlanText:
    """Read a plan.

    Parameters
    ----------
    text : str
        Such as ``3 h at 40 °C``, ``90 min at 45 °C with enzyme before spirit``, ``2 days at 20 °C without
        enzyme``.

    Raises
    ------
    UnitError
        If it cannot be read, or no kitchen can do it.
    """
    found = _PLAN.fullmatch(" ".join(text.split())) if isinstance(text, str) else None
    if found is None or (found["with"] == "without" and found["order"]):
        raise UnitError(f"a plan is a time and a temperature, got {text!r}. Write e.g. {PLAN_EXAMPLE}.")
    order: EnzymeOrder | None = None
    if found["order"]:
        order = "before spirit" if found["order"] == "before" else "with spirit"
    return PlanText(
        _time(found["time"]),
        parse_temperature(found["temperature"]),
        None if found["with"] is None else found["with"] == "with",
        order,
    )


def parse_drawn(text: object) -> Drawn:
    """Read what came out in a jar, such as ``60 % after 3 h at 40 °C``.

    Raises
    ------
    UnitError
        If it cannot be read, or is nothing or all.
    """
    if not isinstance(text, str):
        raise UnitError(f"must be a share, a time and a temperature. Write e.g. {DRAWN_EXAMPLE}.")
    share_text, after, plan = " ".join(text.split()).partition(" after ")
    if not after:
        raise UnitError(
            f"must be a share, a time and a temperature, got {text!r}. Write e.g. {DRAWN_EXAMPLE}."
        )
    share, jar = parse_quantity(share_text, Dimension.SHARE), parse_plan(plan)
    if not LEAST_DRAWN <= share <= MOST_DRAWN or jar.time_h <= 0.0 or jar.enzyme is not None:
        raise UnitError(
            f"a share of {LEAST_DRAWN * 100:g} to {MOST_DRAWN * 100:g} % after some time, got {text!r}. "
            f"Write e.g. {DRAWN_EXAMPLE}."
        )
    return Drawn(share, jar.time_h, jar.temperature_c)


def drawn_text(drawn: Drawn) -> str:
    """Write what came out as `parse_drawn` reads it back."""
    return f"{drawn.share * 100:.6g} % after {plan_text(drawn.time_h, drawn.temperature_c)}"


def parse_probe(text: str) -> ProbeText:
    """Read a probe reading such as ``35 °C after 20 min``.

    Raises
    ------
    UnitError
        If it cannot be read.
    """
    found = _PROBE.fullmatch(" ".join(text.split()))
    if found is None:
        raise UnitError(f"a reading is a temperature and a time, got {text!r}. Write e.g. {PROBE_EXAMPLE}.")
    time_h = _time(found["time"])
    if time_h <= 0.0:
        raise UnitError(f"a reading needs a time above zero, got {text!r}. Write e.g. {PROBE_EXAMPLE}.")
    return ProbeText(parse_temperature(found["temperature"]), time_h)


def parse_temperature(text: str) -> float:
    """Read a temperature that a step may have, -20 to 100 degrees Celsius.

    Raises
    ------
    UnitError
        If it cannot be read, or is outside.
    """
    temperature_c = parse_quantity(text, Dimension.TEMPERATURE)
    if not COLDEST_C <= temperature_c <= HOTTEST_C:
        raise UnitError(
            f"a step may be {COLDEST_C:g} to {HOTTEST_C:g} °C, got {text!r}. Check the number and the unit."
        )
    return temperature_c


def plan_text(time_h: float, temperature_c: float) -> str:
    """Write a time and a temperature as `parse_plan` reads them back."""
    return f"{time_text(time_h)} at {temperature_text(temperature_c)}"


def whole_plan_text(plan: PlanText) -> str:
    """Write a plan, with what it says of the enzyme, as `parse_plan` reads it back."""
    text = plan_text(plan.time_h, plan.temperature_c)
    if plan.enzyme is None:
        return text
    order = "" if plan.order is None else f" {plan.order}"
    return f"{text} {'with' if plan.enzyme else 'without'} enzyme{order}"


def temperature_text(temperature_c: float) -> str:
    """Write a temperature as it is read back."""
    return f"{temperature_c:.6g} °C"


def time_text(time_h: float) -> str:
    """Write a time as it is read back: days where two or more are whole, else whole hours, else minutes."""
    minutes = round(time_h * 60.0)
    if abs(time_h * 60.0 - minutes) > 1e-6 or minutes == 0:
        return f"{time_h:.6g} h"
    if minutes % 1440 == 0 and minutes >= 2880:
        return f"{minutes // 1440} days"
    return f"{minutes // 60} h" if minutes % 60 == 0 else f"{minutes} min"


def _time(text: str) -> float:
    time_h = parse_quantity(text, Dimension.TIME)
    if time_h > LONGEST_H:
        raise UnitError(f"a step takes at most a year, got {text!r}. Check the number and the unit.")
    return time_h
