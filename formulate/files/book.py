"""A folder of files in one workbook: each file as a tree with the cell of every value, and rows from trees.

``bar.xlsx/menus/autumn.yaml`` is a file of it wherever a path may stand. What `book_layout` says is the only
place that knows sheets and columns; this reads and writes by it, and loses nothing on the way: a value that a
cell would not give back as it was stands under ``more``, as it would in a file.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from os import PathLike
from os.path import normpath
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from formulate.errors import SourceLocation, SpecError, SpecProblem
from formulate.files.book_layout import (
    SHEET_OF_REST,
)
from formulate.files.book_reader import BookReader, Grid
from formulate.files.book_sheets import SHEETS
from formulate.files.located import Document, load_document, note_file
from formulate.files.tables import TableError
from formulate.files.workbook import open_sheets

__all__ = [
    "BOOK_ENDINGS",
    "Book",
    "InBook",
    "beside_book",
    "document_of",
    "in_book",
    "is_book",
    "read_book",
    "several_in",
]

BOOK_ENDINGS = (".xlsx", ".ods")
NAMED = 8
if TYPE_CHECKING:
    _Path = Path
else:
    _Path = type(Path())


class InBook(_Path):
    """A file that stands in a workbook.

    Parameters
    ----------
    book : Path
    inner : str
        Its path within, with forward slashes.
    """

    book: Path
    inner: str

    def __new__(cls, book: Path, inner: str) -> Self:
        """Name a file of a workbook."""
        text = f"{book.as_posix()}/{inner}"
        made = super().__new__(cls, text)
        if sys.version_info >= (3, 12):
            super(InBook, made).__init__(text)
        made.book, made.inner = book, inner
        return made

    def __init__(self, book: Path, inner: str) -> None:
        """Made already."""

    def __reduce__(self) -> tuple[Any, ...]:
        return InBook, (self.book, self.inner)

    @property
    def parent(self) -> Path:  # type: ignore[override]  # a plain path: no folder stands in a workbook
        """Folder, as a plain path."""
        return Path(f"{self.book.as_posix()}/{self.inner}").parent

    def with_segments(self, *pathsegments: str | PathLike[str]) -> Path:
        """Make a plain path."""
        return Path(*pathsegments)

    def exists(self, *, follow_symlinks: bool = True) -> bool:
        """Say whether the workbook has it."""
        del follow_symlinks
        return self.inner in read_book(self.book).files

    def is_file(self, *, follow_symlinks: bool = True) -> bool:
        """Say that it is none of its own."""
        del follow_symlinks
        return False

    def resolve(self, strict: bool = False) -> Self:
        """Stay as it is."""
        del strict
        return self


def is_book(path: Path) -> bool:
    """Tell whether a path is a workbook."""
    return path.suffix.lower() in BOOK_ENDINGS and path.is_file()


def in_book(path: Path) -> Path:
    """Return the file of a workbook that a path names; the path itself where it names none."""
    if isinstance(path, InBook):
        return path
    for folder in path.parents:
        if is_book(folder):
            return InBook(folder, normpath(path.relative_to(folder)).replace("\\", "/"))
    return path


def beside_book(path: InBook, other: str) -> Path:
    """Resolve a path written in a file of a workbook: in the workbook, else beside the workbook itself."""
    inner = normpath(Path(path.inner).parent / other).replace("\\", "/")
    if inner in read_book(path.book).files or inner.endswith((".yaml", ".yml")):
        return InBook(path.book, inner)
    return path.book.parent / inner


def document_of(path: Path) -> Document:
    """Read a file, in a workbook or by itself.

    Raises
    ------
    SpecError
        If it cannot be read, or the workbook has no such file or something wrong in it.
    """
    path = in_book(path)
    if is_book(path):
        raise SpecError(
            [_whole(path, f"is a workbook of several files. {_named(path, read_book(path).files)}")]
        )
    if not isinstance(path, InBook):
        return load_document(path)
    book = read_book(path.book)
    if path.inner not in book.files:
        kind = path.inner.partition("/")[0]
        like = [name for name in book.files if name.partition("/")[0] == kind] or list(book.files)
        raise SpecError([_whole(path.book, f"has no {path.inner} in it. {_named(path.book, like)}")])
    return book.files[path.inner]


def _named(path: Path, names: Iterable[str]) -> str:
    """Say which files can be named, the first few of them."""
    several = [f"{path.as_posix()}/{name}" for name in names]
    more = f" and {len(several) - NAMED} more" if len(several) > NAMED else ""
    return f"Name one: {', '.join(several[:NAMED])}{more}." if several else "Nothing is filled in."


def several_in(path: Path, what: str, names: Iterable[str]) -> SpecError:
    """Say that a workbook has no file of a kind, or more than one."""
    return SpecError([_whole(path, f"has no {what} in it, or several. {_named(path, names)}")])


def _whole(path: Path, message: str) -> SpecProblem:
    return SpecProblem(SourceLocation(path.as_posix(), 1, 1), "", message)


@dataclass(frozen=True)
class Book:
    """A workbook that was read.

    Attributes
    ----------
    path : Path
    files : mapping of str to Document
        By path within; in the order of the sheets.
    """

    path: Path
    files: Mapping[str, Document]

    def of_kind(self, key: str) -> list[str]:
        """Return the files that have a key at their top."""
        return [name for name, document in self.files.items() if key in document.data]


def read_book(path: Path) -> Book:
    """Read a workbook: all of it, or nothing.

    Raises
    ------
    SpecError
        With every cell that is wrong.
    """
    try:
        stat = path.stat()
    except OSError as error:
        raise SpecError([_whole(path, "no such file. Check the name.")]) from error
    note_file(path)
    return _read_book(path, stat.st_mtime_ns, stat.st_size)


@lru_cache(maxsize=8)
def _read_book(path: Path, changed: int, size: int) -> Book:
    del changed, size
    try:
        tables = open_sheets(path)
    except (TableError, OSError) as error:
        raise SpecError([_whole(path, str(error))]) from error
    reader = BookReader(path)
    for sheet in SHEETS:
        if sheet.name in tables:
            reader.read(sheet, Grid(tables[sheet.name]))
    if SHEET_OF_REST in tables:
        reader.read_rest(Grid(tables[SHEET_OF_REST]))
    documents = reader.documents()
    return Book(path, {inner: replace(one, path=InBook(path, inner)) for inner, one in documents.items()})
