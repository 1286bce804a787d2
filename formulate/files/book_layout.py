"""How the files of a folder stand in one workbook: which sheet, which row, which column.

Data only. A sheet holds one kind of file, or one list or map of such a file; each column is a key of that
file. What no column is for stands in the last one, ``more``, or on the sheet of that name, as in a file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

__all__ = [
    "FILE",
    "MORE",
    "SHEET_OF_REST",
    "BookColumn",
    "BookSheet",
    "Form",
    "Kind",
    "Rows",
    "folder_of",
]

Kind = str

FILE, MORE = "file", "more"
"""Heads of the first column of what belongs to a file, and of the last."""
SHEET_OF_REST = "More"
EXAMPLE = "e.g. "
"""Begins the first cell of a row that only shows how."""


class Form(Enum):
    """What a cell holds."""

    TEXT = "text"
    YES = "yes"
    """`yes` for true, `no` for false, nothing for unsaid."""
    NUMBER = "number"
    """A number without a unit."""
    NAMES = "names"
    """Names with commas between; always a list in the file."""
    NAME_OR_NAMES = "name or names"
    """One name alone, or several with commas between."""


class Rows(Enum):
    """How the rows of a sheet stand in a file."""

    FILE = "the file itself"
    ONE = "a map, one entry, read down"
    MAP = "a map of names to what is said of them"
    OFFERS = "a map of names to one thing or a list of things"
    ITEMS = "a list of names, with what is said of them"
    MAPS = "a list of maps"


@dataclass(frozen=True, slots=True)
class BookColumn:
    """A column.

    Attributes
    ----------
    head : str
        As it stands above it.
    key : tuple of str
        Way to the value within the row's entry; empty for the value of a map with nothing else.
    note : str
        What goes in, with an example.
    unit : str
        What a bare number means; ``money`` for the currency of the shelf.
    form : Form
    choices : str
        Name of a list to choose from, or words with commas between; empty for any text.
    width : int
    """

    head: str
    key: tuple[str, ...]
    note: str = ""
    unit: str = ""
    form: Form = Form.TEXT
    choices: str = ""
    width: int = 14


@dataclass(frozen=True, slots=True)
class BookSheet:
    """A sheet.

    Attributes
    ----------
    name : str
    kind : str
        Of the files its rows belong to.
    at : tuple of str
        Way to its list or map in such a file; empty for the file itself.
    rows : Rows
    name_head : str
        Head of the column with the name of an entry; empty where entries have none.
    name_choices : str
    columns : tuple of BookColumn
    about : str
        What the sheet is for.
    example : tuple of str
        A row of it, shown in grey on an empty sheet.
    """

    name: str
    kind: Kind
    at: tuple[str, ...]
    rows: Rows
    columns: tuple[BookColumn, ...]
    about: str
    name_head: str = ""
    name_choices: str = ""
    example: tuple[str, ...] = ()

    @property
    def heads(self) -> tuple[str, ...]:
        """Every head from the first column on."""
        file = () if self.kind == "shelf" else (FILE,)
        name = (self.name_head,) if self.name_head else ()
        more = () if self.rows is Rows.ONE else (MORE,)
        return (*file, *name, *(column.head for column in self.columns), *more)


FOLDERS: Mapping[Kind, str] = {
    "bottle": "bottles",
    "recipe": "recipes",
    "drink": "drinks",
    "menu": "menus",
    "trial": "trials",
}


def folder_of(kind: Kind) -> str:
    """Name the folder that files of a kind stand in."""
    return FOLDERS.get(kind, "")
