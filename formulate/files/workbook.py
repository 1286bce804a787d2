"""Reading workbooks (Office Open XML): the one door to the library for them on the way in.

The library opens the package, finds the sheet, its texts and its styles. The rows are read in a stream of
tags, only the columns asked for: 100 000 rows take seconds and little memory, and the same stream sees what
a table of values does not show, merged cells and formulas saved without a result. Nothing is run or followed.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.parsers import expat

from formulate.files.fields import did_you_mean
from formulate.files.tables import NoResult, Range, Row, TableError, number_of

if TYPE_CHECKING:
    from openpyxl import Workbook

__all__ = ["BookTable", "open_sheet"]

LARGEST_UNPACKED_BYTES = 1_000_000_000
BYTES_AT_ONCE = 1 << 16
FIRST_OWN_FORMAT = 164
"""Number formats below are built in (ECMA-376 part 1, 18.8.30); their currency is that of the computer."""
PERCENT_FORMATS = (9, 10)
_REFERENCE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})")
_DAMAGED = (
    "is damaged and cannot be read. Open it in a spreadsheet and save it as .xlsx, or ask for it again."
)


@dataclass(frozen=True)
class BookTable:
    """One sheet of a workbook."""

    book: Workbook = field(repr=False)
    name: str
    how: str = "workbook"
    merged: list[Range] = field(default_factory=list)

    def rows(self, columns: frozenset[int] | None = None) -> Iterator[Row]:
        """Give each row that has cells, from the first, with the values the workbook was saved with.

        Raises
        ------
        TableError
            If the sheet is damaged.
        """
        stream = _Stream(self.book, self.name, columns)
        try:
            sheet: Any = self.book[self.name]
            with sheet._get_source() as source:
                yield from stream.rows(source)
        except Exception as error:  # what a damaged package can do to its readers has no list
            raise TableError(_DAMAGED) from error
        self.merged[:] = stream.merged

    def shown_as(self, style: int) -> str:
        """Return how a style shows numbers, where the workbook says so itself; else nothing."""
        from openpyxl.cell.read_only import ReadOnlyCell

        cell = ReadOnlyCell(self.book[self.name], 1, 1, 0, "n", style)
        number = cell.style_array.numFmtId
        return str(cell.number_format) if number >= FIRST_OWN_FORMAT or number in PERCENT_FORMATS else ""

    def close(self) -> None:
        """Let go of the file."""
        self.book.close()


def open_sheet(path: Path, sheet: str | None) -> BookTable:
    """Open one sheet of a workbook.

    Parameters
    ----------
    path : Path
    sheet : str or None
        Needed where there are several.

    Raises
    ------
    TableError
        If it is no workbook, is damaged, or has no such sheet.
    """
    import zipfile

    from openpyxl import load_workbook

    try:
        with zipfile.ZipFile(path) as packed:
            if sum(part.file_size for part in packed.infolist()) > LARGEST_UNPACKED_BYTES:
                raise TableError("the workbook is too large unpacked. Keep what is needed of it.")
            if "[Content_Types].xml" not in packed.namelist():
                raise TableError("is packed like a workbook but is none. Save it as .xlsx, or as .csv.")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = load_workbook(path, read_only=True, data_only=True, keep_links=False)
        names = [one.title for one in book.worksheets]
    except TableError:
        raise
    except Exception as error:  # what a damaged package can do to its readers has no list
        raise TableError(_DAMAGED) from error
    try:
        return BookTable(book, _sheet_of(names, sheet))
    except TableError:
        book.close()
        raise


def _sheet_of(names: list[str], sheet: str | None) -> str:
    """Choose the sheet that is meant."""
    if not names:
        raise TableError("has no sheet with cells. Check the file.")
    if sheet is None and len(names) > 1:
        raise TableError(f"has several sheets: {', '.join(names)}. Add `sheet: {names[0]}`.")
    if sheet is not None and sheet not in names:
        hint = did_you_mean(sheet, names)
        raise TableError(f"has no sheet called '{sheet}'. {hint}".rstrip(), "sheet")
    return sheet or names[0]


class _Stream:
    """Reads the tags of a sheet (ECMA-376 part 1, 18.3.1) and keeps the cells of some columns."""

    def __init__(self, book: Any, name: str, columns: frozenset[int] | None) -> None:
        self.book, self.columns = book, columns
        self.texts = book[name]._shared_strings
        self.dates: frozenset[int] = frozenset(book._date_formats)
        self.merged: list[Range] = []
        self.done: list[Row] = []
        self.letters: dict[str, int] = {}
        self.row = self.column = 0
        self.values: dict[int, object] = {}
        self.styles: dict[int, int] = {}
        self.kind = ""
        self.style = 0
        self.inside = self.formula = self.phonetic = False
        self.text: list[str] = []
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end

    def rows(self, source: Any) -> Iterator[Row]:
        while some := source.read(BYTES_AT_ONCE):
            self.parser.Parse(some, False)
            yield from self.done
            self.done = []
        self.parser.Parse(b"", True)
        yield from self.done

    def _start(self, tag: str, given: dict[str, str]) -> None:
        name = tag.rpartition(":")[2] if ":" in tag else tag
        if name == "c":
            self._cell(given)
        elif name in ("v", "t"):
            if self.inside and not self.phonetic:
                self.parser.CharacterDataHandler = self.text.append
        elif name == "row":
            self.row = int(given.get("r", self.row + 1))
            self.column = 0
            self.values, self.styles = {}, {}
        elif name == "f":
            self.formula = True
        elif name == "rPh":
            self.phonetic = True
        elif name == "mergeCell":
            self._merge(given.get("ref", ""))

    def _end(self, tag: str) -> None:
        name = tag.rpartition(":")[2] if ":" in tag else tag
        if name in ("v", "t"):
            self.parser.CharacterDataHandler = None
        elif name == "c":
            if self.inside:
                self._keep()
                self.inside = False
        elif name == "row":
            if self.values:
                self.done.append((self.row, self.values, self.styles))
        elif name == "rPh":
            self.phonetic = False

    def _cell(self, given: dict[str, str]) -> None:
        letters = given.get("r", "").rstrip("0123456789")
        if letters:
            column = self.letters.get(letters) or self.letters.setdefault(letters, number_of(letters))
        else:
            column = self.column + 1
        self.column = column
        if self.columns is None or column in self.columns:
            self.inside, self.formula = True, False
            self.kind, self.style = given.get("t", "n"), int(given.get("s", 0))
            self.text = []

    def _keep(self) -> None:
        text = "".join(self.text)
        if text:
            self.values[self.column] = self._value(text)
            self.styles[self.column] = self.style
        elif self.formula:
            self.values[self.column] = NoResult()

    def _value(self, text: str) -> object:
        if self.kind == "s":
            return self.texts[int(text)]
        if self.kind == "b":
            return text.strip() == "1"
        if self.kind not in ("n", "d"):
            return text
        from openpyxl.utils.datetime import from_excel, from_ISO8601

        if self.kind == "d":
            return from_ISO8601(text)  # type: ignore[no-untyped-call]
        number = float(text) if "." in text or "e" in text.lower() else int(text)
        if self.style not in self.dates:
            return number
        try:
            return from_excel(number, self.book.epoch)
        except (OverflowError, ValueError):
            return "#VALUE!"

    def _merge(self, text: str) -> None:
        first, last = (_REFERENCE.fullmatch(end) for end in (text.partition(":")[0], text.rpartition(":")[2]))
        if first and last:
            self.merged.append(Range(int(first[2]), number_of(first[1]), int(last[2]), number_of(last[1])))
