"""Words of a sentence that figures, names and times are put into."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import TypeVar

from formulate.errors import UnitError

__all__ = ["day_text", "duration", "listed", "read_given", "read_option"]

T = TypeVar("T")


def day_text(day: date) -> str:
    """Write a day as one says it: ``Tue 3 Nov``."""
    return f"{day:%a} {day.day} {day:%b}"


def listed(names: Sequence[str]) -> str:
    """Join names as one says them; at least one."""
    if len(names) == 1:
        return names[0]
    return f"{', '.join(names[:-1])} and {names[-1]}"


def read_option(name: str, text: str, read: Callable[[str], T]) -> T:
    """Read the text of an option.

    Parameters
    ----------
    name : str
        Such as ``--room``.
    text : str
        As typed.
    read : callable
        What reads it.

    Raises
    ------
    UnitError
        As `read`, with the option before it.
    """
    try:
        return read(text)
    except UnitError as error:
        raise UnitError(f"{name}: {error}") from None


def read_given(name: str, text: str | None, read: Callable[[str], T]) -> T | None:
    """Read the text of an option that may be left out; None where it was.

    Raises
    ------
    UnitError
        See `read_option`.
    """
    return None if text is None else read_option(name, text, read)


def duration(time_h: float) -> str:
    """Write a time: minutes, hours and minutes, or days and hours.

    Returns
    -------
    str
        Such as ``35 min``, ``1 h 35``, ``4 d 2 h`` or ``10 days``.
    """
    minutes = round(time_h * 60.0)
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 2880:
        hours, rest = divmod(minutes, 60)
        return f"{hours} h {rest:02d}" if rest else f"{hours} h"
    days, rest = divmod(round(minutes / 60), 24)
    return f"{days} d {rest} h" if rest else f"{days} days"
