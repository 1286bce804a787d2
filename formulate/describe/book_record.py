"""A folder laid out for one workbook, and what was taken out of one."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from formulate.files.book_rows import SheetRows
from formulate.quantity.document import HIDDEN, Result

__all__ = ["BarBook", "Taken"]


@dataclass(frozen=True, kw_only=True)
class BarBook(Result):
    """A folder laid out for one workbook.

    Attributes
    ----------
    name : str
        Of the bar.
    files : tuple of str
        That stand in it.
    sheets : tuple of SheetRows
    choices : tuple of (str, str)
        Ids of what can be bought or used, and their names.
    """

    status: str = field(default="laid_out", init=False)
    name: str
    files: tuple[str, ...]
    sheets: tuple[SheetRows, ...] = field(metadata=HIDDEN)
    choices: tuple[tuple[str, str], ...] = field(metadata=HIDDEN)


@dataclass(frozen=True, kw_only=True)
class Taken(Result):
    """What `take` did with the files of a workbook.

    Attributes
    ----------
    new, changed, same : tuple of str
        Files by path within; of the changed ones, only what differs was written.
    only_there : tuple of str
        Files of the folder that the workbook does not have; they stay.
    folder : Path
    """

    status: str = field(default="taken", init=False)
    new: tuple[str, ...]
    changed: tuple[str, ...]
    same: tuple[str, ...]
    only_there: tuple[str, ...]
    folder: Path
