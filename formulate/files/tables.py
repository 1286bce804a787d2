"""Tables in files that others made: text files with separators, and workbooks, row by row.

What is read is never guessed at twice: a text is UTF-8 (with or without a mark), UTF-16 with a mark, or else
Windows-1252, and the table says which. A workbook is read by `formulate.files.workbook`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

__all__ = ["Mark", "Range", "Table", "TableError", "cell_name", "letters_of", "number_of"]


Row = tuple[int, Mapping[int, object]]
"""Number of a row and its cells that hold something, by column; all counted from 1."""


class TableError(ValueError):
    """A file is no table that can be read; the text says why and what to do.

    Parameters
    ----------
    about : str
        What of the list in the shelf file it is about: ``file``, ``sheet`` or ``separator``.
    """

    def __init__(self, message: str, about: str = "file") -> None:
        self.about = about
        super().__init__(message)


@dataclass(frozen=True, slots=True)
class Range:
    """Cells that were merged into one: rows and columns from 1, both ends in it."""

    first_row: int
    first_column: int
    last_row: int
    last_column: int

    def holds(self, row: int, column: int) -> bool:
        """Tell whether a cell is one of them."""
        return self.first_row <= row <= self.last_row and self.first_column <= column <= self.last_column

    def __str__(self) -> str:
        return f"{cell_name(self.first_row, self.first_column)}:{cell_name(self.last_row, self.last_column)}"


@dataclass(frozen=True, slots=True)
class Mark:
    """What a cell of a workbook holds beside its value.

    Attributes
    ----------
    shown_as : str
        How its number is shown; empty where the workbook does not say so itself.
    error : str
        What the spreadsheet found wrong, as ``#REF!``; empty for nothing.
    no_result : bool
        A formula whose result was not saved with it.
    """

    shown_as: str = ""
    error: str = ""
    no_result: bool = False


class Table(Protocol):
    """Rows of a file, and how they were read."""

    @property
    def name(self) -> str:
        """Name of the sheet; empty for a text file."""

    @property
    def how(self) -> str:
        """How it was read, in words."""

    @property
    def merged(self) -> Sequence[Range]:
        """Cells that were merged."""

    def rows(self) -> Iterator[Row]:
        """Give each row from the first; blank ones may be left out."""

    def marks(self, rows: Collection[int]) -> Mapping[tuple[int, int], Mark]:
        """Look up by row and column what some rows hold beside their values."""


def letters_of(column: int) -> str:
    """Return the letters of a column counted from 1."""
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def number_of(letters: str) -> int:
    """Count a column of letters from 1."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - 64
    return number


def cell_name(row: int, column: int, sheet: str = "") -> str:
    """Name a cell as spreadsheets do: ``Prices!C14``, ``'North cellar'!C14`` or ``C14``."""
    place = f"{letters_of(column)}{row}"
    if not sheet:
        return place
    plain = sheet.isalnum() and not sheet[0].isdigit()
    quoted = sheet if plain else "'" + sheet.replace("'", "''") + "'"
    return f"{quoted}!{place}"
