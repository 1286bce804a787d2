"""Words of a sentence that figures, names and times are put into."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import TypeVar

from formulate.errors import UnitError

__all__ = ["day_text", "duration", "listed", "read_given", "read_option", "visible"]

T = TypeVar("T")

_BLANKS = frozenset(
    "\xa0\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"
)
_SHORT = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}


def visible(text: str, keep: str = "") -> str:
    """Write out by its code what would move a cursor, turn text around or stand there unseen.

    Parameters
    ----------
    text : str
    keep : str
        Characters that stay as they are, such as the ends of lines of a text of ours.
    """
    if text.isprintable():
        return text
    return "".join(
        one if one.isprintable() or one in _BLANKS or one in keep else _written_out(one) for one in text
    )


def _written_out(character: str) -> str:
    code = ord(character)
    if character in _SHORT:
        return _SHORT[character]
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


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
