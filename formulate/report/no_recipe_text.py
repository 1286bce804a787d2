"""What each target could be on its own, told beside the clash of limits that leaves no recipe."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from formulate.describe.records import DrinkRecord
from formulate.files.measures import BITTERNESS, COST
from formulate.report.numbers import band_text, target_value
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.optimise.diagnose import ClashMember, Explanation, Reach
    from formulate.optimise.problem import Limit

__all__ = ["asked_text", "move_text", "moved_target", "nearest_heading", "reach_lines"]


@on_screen
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
            reached = target_value(target.target, target.value, target.lower, target.upper)
            value = f"{reached} {target.unit}".rstrip()
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


def asked_text(member: ClashMember) -> str:
    """Say what a limit of a clash asks."""
    word = "at least" if member.is_lower else "at most"
    if member.bound != member.bound:
        return member.limit.origin.text
    value = target_value(member.limit.origin.name, member.bound)
    if member.limit.origin.name == COST:
        return f"{word} {value} {member.limit.unit}"
    asked = f"{word} {_precise(member.bound, value)} {member.limit.unit}".rstrip()
    # A word such as `firm` is not seen to be a number.
    by_word = member.limit.origin.name == BITTERNESS and not re.search(r"\d", member.limit.origin.text)
    return f"{asked} (`{member.limit.origin.text}`)" if by_word else asked


def _precise(value: float, shown: str) -> str:
    """Give a limit with the digits it was typed with, not fewer."""
    return shown if abs(float(shown) - value) < 1e-9 * max(abs(value), 1.0) else f"{value:.6g}"


def move_text(member: ClashMember) -> str:
    """Say how far a limit would have to move on its own; empty where that is not known."""
    if member.reachable is None or member.reachable != member.reachable:
        return ""
    name, unit = member.limit.origin.name, member.limit.unit
    way = "down to" if member.is_lower else "up to"
    value = _outward(member)
    step = abs(float(value) - member.bound)  # of the figure shown, so that the two add up
    return f"{name} {way} {value} {unit} (moves by {step:.4g})".replace("  ", " ")


def _outward(member: ClashMember) -> str:
    """Round a reachable value so that it can really be reached."""
    value = member.reachable or 0.0
    digits = 2 if abs(value) < 100 else 1
    scaled = value * 10**digits
    rounded = math.floor(scaled + 1e-6) if member.is_lower else math.ceil(scaled - 1e-6)
    return f"{rounded / 10**digits:.{digits}f}"


def moved_target(member: ClashMember, limits: Iterable[Limit]) -> str:
    """Write a target of the file as it would be typed when moved just far enough.

    Parameters
    ----------
    member : ClashMember
    limits : iterable of Limit
        Of the question, with both sides.

    Returns
    -------
    str
        Empty for what is no target with a plain figure, or where no such move is known.
    """
    limit, name = member.limit, member.limit.origin.name
    if not limit.is_target or name != limit.origin.measure or name == BITTERNESS or not move_text(member):
        return ""
    moved, unit = _outward(member), limit.unit
    whole = next((one for one in limits if one.is_target and one.origin.name == name), limit)
    other = (whole.upper if member.is_lower else whole.lower) * limit.display
    if not math.isfinite(other) or other <= 0.0:
        return f"{'at least' if member.is_lower else 'at most'} {moved} {unit}"
    low, high = (moved, f"{other:g}") if member.is_lower else (f"{other:g}", moved)
    return f"{low} to {high} {unit}"
