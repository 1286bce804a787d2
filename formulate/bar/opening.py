"""A shelf over the library, ready to be used: with what works out the things the house makes."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from formulate.bar.house_made import make
from formulate.bar.meant import refuse_slips
from formulate.bar.pantry import Pantry, checked_shelf
from formulate.files.issues import Places
from formulate.files.library import Library
from formulate.files.shelf import Shelf

__all__ = ["open_pantry", "pantry_of"]


def open_pantry(shelf_path: Path | None, places: Places, today: date | None = None) -> Pantry:
    """Load the shelf a file names and put it over the built-in library.

    Parameters
    ----------
    shelf_path : Path or None
        As the file names it, made relative to the file.
    places : Places
        Of the file that names the shelf, to point at when it is missing.
    today : date, optional
        What the age of the stock is counted to; the day it is if not given.

    Raises
    ------
    SpecError
        If the shelf cannot be read, or says what no bar means.
    """
    if shelf_path is None:
        return pantry_of(None)
    pantry = pantry_of(checked_shelf(shelf_path, places, today), today)
    refuse_slips(pantry)
    return pantry


def pantry_of(shelf: Shelf | None, today: date | None = None) -> Pantry:
    """Put a shelf that was read over the built-in library.

    Parameters
    ----------
    today : date, optional
        As for `open_pantry`.
    """
    return Pantry(shelf, Library.built_in(), today=today, make=make)
