"""What each target could be on its own, told beside the clash of limits that leaves no recipe."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from formulate.describe.records import DrinkRecord
from formulate.report.numbers import band_text, target_value

if TYPE_CHECKING:
    from formulate.optimise.diagnose import Explanation, Reach

__all__ = ["nearest_heading", "reach_lines"]


def nearest_heading(record: DrinkRecord) -> list[str]:
    """Say that no recipe meets every limit, and which targets the nearest one misses.

    Parameters
    ----------
    record : DrinkRecord
        Of the nearest recipe, with the targets as asked.
    """
    lines = ["No recipe meets every limit; this one comes nearest."]
    for target in record.targets:
        slack = 1e-6 * max(abs(target.value), 1.0)
        low = target.lower is not None and target.value < target.lower - slack
        high = target.upper is not None and target.value > target.upper + slack
        if low or high:
            value = f"{target_value(target.target, target.value)} {target.unit}".rstrip()
            asked = band_text(target.target, target.lower, target.upper)
            lines.append(f"  {target.target} is too {'low' if low else 'high'}: {value}, asked {asked}")
    return lines


def reach_lines(explanation: Explanation) -> list[str]:
    """List the targets with the range each could take, the other targets left out.

    Returns
    -------
    list of str
        Empty where nothing is known of any.
    """
    rows = [(reach.limit.origin.name, text) for reach in explanation.reach if (text := _range_text(reach))]
    if not rows:
        return []
    width = max(len(name) for name, _ in rows)
    lines = [f"  {name.ljust(width)}  {text}" for name, text in rows]
    return ["With the other targets left out, the ingredients listed could give:", *lines]


def _range_text(reach: Reach) -> str:
    """Write a range, rounded inward so that both ends can really be reached."""
    name, unit = reach.limit.origin.name, reach.limit.unit
    low = None if reach.lowest is None else _inward(name, max(reach.lowest, 0.0), math.ceil)
    high = None if reach.highest is None else _inward(name, reach.highest, math.floor)
    if low is not None and high is not None:
        if float(low) > float(high):  # a single value, lost between two roundings
            return f"{target_value(name, reach.lowest or 0.0)} {unit}".rstrip()
        return f"{low} to {high} {unit}".rstrip()
    if low is not None:
        return f"{low} {unit} and more".replace("  ", " ")
    return "" if high is None else f"up to {high} {unit}".rstrip()


def _inward(name: str, value: float, toward: Callable[[float], int]) -> str:
    shown = target_value(name, value)
    digits = len(shown.partition(".")[2])
    # Rounding inward must not take away much of what there is: 12.1 g/L is not "13 and more".
    while digits < 2 and abs(_to(value, digits, toward) - value) > 0.02 * abs(value):
        digits += 1
    return f"{_to(value, digits, toward):.{digits}f}"


def _to(value: float, digits: int, toward: Callable[[float], int]) -> float:
    up = toward is math.ceil
    whole: int = toward(value * 10**digits - (1e-6 if up else -1e-6))
    return whole / float(10**digits)
