"""What a person typed behind an option, read so that a mistake names the option."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from formulate.errors import UnitError

__all__ = ["read_given", "read_option"]

T = TypeVar("T")


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
