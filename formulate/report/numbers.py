"""How figures are rounded for a person: no digit that nobody could confirm."""

from __future__ import annotations

import math

from formulate.files.measures import COST, measure_of

__all__ = ["band_text", "grams", "kilograms", "money", "percent", "proved", "target_value"]

MOST_DIGITS = 4
A_HAIR = 1e-6
"""A figure short of its bound by such a share of it meets it: the solver's own slack is less."""


def grams(mass_kg: float, *, down: bool = False) -> str:
    """Write a mass as a kitchen balance shows it: 0.1 g up to 200 g, then whole grams; 0.01 g below 2 g.

    Parameters
    ----------
    down : bool
        Round down, for what must not be more; else to the nearest.
    """
    mass = mass_kg * 1000.0
    digits = 2 if mass < 1.9995 else 1 if mass < 199.95 else 0
    if down:
        # A hair of room: what a balance weighed in whole steps is shown as those steps.
        mass = math.floor(mass * 10**digits + 1e-6) / 10**digits
    return f"{mass:.{digits}f}"


def kilograms(mass_kg: float, *, down: bool = False) -> str:
    """Write a mass of a large batch in kilograms, as fine as `grams` would: 0.1 g below 200 g."""
    digits = 4 if mass_kg < 0.19995 else 3
    if down:
        mass_kg = math.floor(mass_kg * 10**digits + 1e-6) / 10**digits
    return f"{mass_kg:.{digits}f}"


def money(amount: float) -> str:
    """Write money to the cent; a negative nothing is nothing."""
    text = f"{amount:.2f}"
    return "0.00" if text == "-0.00" else text


def percent(share: float) -> str:
    """Write a small share as a percentage with one significant digit, rounded up; 0.001 at the least."""
    if share <= 0.0:
        return "0"
    value = share * 100.0
    digits = 0
    while digits < 3 and value < 10.0**-digits * 0.99999:
        digits += 1
    step = 10.0**-digits
    rounded = step * -(-value * (1 - 1e-9) // step)
    return f"{rounded:.{digits}f}"


def proved(gap: float) -> str:
    """Say that a gap is closed, and to how much where it is not closed wholly."""
    return "proved" if gap <= 0.0 else f"proved to {percent(gap)} %"


def target_value(target: str, value: float, lower: float | None = None, upper: float | None = None) -> str:
    """Write the value of a target with the digits its kind deserves, or more, to stand where it is.

    Parameters
    ----------
    lower, upper : float, optional
        Ends of the band it is shown beside: what meets them is not rounded to where it would not, nor what
        misses one to where it would.
    """
    digits = measure_of(target).digits
    shown = f"{value:.{digits}f}" if digits is not None else f"{value:.3g}"
    ends = [(bound, sign) for bound, sign in ((lower, 1.0), (upper, -1.0)) if bound is not None]
    for more in range(len(shown.partition(".")[2]) + 1, MOST_DIGITS + 1):
        if all(_same_side(target, float(shown), value, bound, sign) for bound, sign in ends):
            break
        shown = f"{value:.{more}f}"
    return shown


def _same_side(target: str, shown: float, value: float, bound: float, sign: float) -> bool:
    """Say whether a figure as shown meets a bound as shown just where the figure meets the bound."""
    if math.isinf(bound):
        return True
    meets = sign * (value - bound) >= -A_HAIR * max(abs(bound), 1.0)
    return (sign * (shown - float(_end_text(target, bound))) >= -A_HAIR) == meets


def _end_text(target: str, value: float) -> str:
    """Write one end of a band."""
    if target == COST:
        return money(value)
    digits = measure_of(target).digits
    shown = f"{value:.{3 if digits is None else max(digits, 2)}f}".rstrip("0").rstrip(".")
    return shown or "0"


def band_text(target: str, lower: float | None, upper: float | None) -> str:
    """Write a band in words."""

    def text(value: float) -> str:
        return _end_text(target, value)

    if lower is None:
        return "" if upper is None else f"at most {text(upper)}"
    if upper is None:
        return f"at least {text(lower)}"
    return f"exactly {text(lower)}" if lower == upper else f"{text(lower)} to {text(upper)}"
