"""Words of a sentence that figures and names are put into."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from formulate.errors import UnitError

__all__ = ["listed", "read_given", "read_option"]


T = TypeVar("T")


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
