"""A price list as a spreadsheet program saved it: which kind of table a file is, told by its first bytes."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from formulate.files.disk import is_there
from formulate.files.tables import Mark, Range, Row, Table, TableError

__all__ = ["SEPARATORS", "TextTable", "open_table"]

SEPARATORS = {"semicolon": ";", "comma": ",", "tab": "\t"}
TEXT_ENDINGS = (".csv", ".txt", ".tsv")
BOOK_ENDINGS = (".xlsx", ".xlsm")
LARGEST_FILE_BYTES = 200_000_000
_PACKED = b"PK"
_COMPOUND = bytes.fromhex("d0cf11e0a1b11ae1")
"""First bytes of a compound file: an old .xls, or a workbook behind a password."""


@dataclass(frozen=True)
class TextTable:
    """A text file with separators."""

    text: str = field(repr=False)
    separator: str
    how: str
    name: str = ""
    merged: tuple[Range, ...] = ()

    def rows(self) -> Iterator[Row]:
        """Give each row from the first.

        Raises
        ------
        TableError
            Where a quote is not closed, or one stands where none may.
        """
        row = 0
        try:
            lines = csv.reader(io.StringIO(self.text, newline=""), delimiter=self.separator, strict=True)
            for row, cells in enumerate(lines, start=1):
                yield row, {at: cell for at, cell in enumerate(cells, start=1) if cell}
        except csv.Error:
            raise TableError(
                f'cannot be read after row {row}: a quote (") is not closed, or stands in a cell. Correct it.'
            ) from None

    def marks(self, rows: Collection[int]) -> dict[tuple[int, int], Mark]:
        """Return nothing: a text file shows what stands there."""
        del rows
        return {}


def open_table(path: Path, sheet: str | None, separator: str | None) -> tuple[Table, ...]:
    """Open a file as a table.

    Parameters
    ----------
    sheet : str or None
        Of a workbook that has several.
    separator : str or None
        Word for what parts the cells of a text file.

    Returns
    -------
    tuple of Table
        One for a workbook or where the separator is said; else one per separator it may be.

    Raises
    ------
    TableError
        If it is none, or not the one that was named.
    """
    ending = path.suffix.lower()
    try:
        if not is_there(path):
            raise TableError("no file there. Check the path.")
        if path.is_dir():
            raise TableError("this is a folder. Name a file in it.")
        if not path.is_file():
            raise TableError("this is a device or a pipe, not a file. Save the list as a file.")
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise TableError("the file is too large: more than 200 MB. Keep what is needed of it.")
        with path.open("rb") as opened:
            start = opened.read(8)
        if not start:
            raise TableError("the file is empty. Ask for it again.")
        if ending in BOOK_ENDINGS:
            if separator is not None:
                raise TableError("a workbook has no separator. Delete the line.", "separator")
            return (_book(path, sheet, start),)
        if ending not in TEXT_ENDINGS:
            raise TableError(
                f"no list that can be read, got {ending or 'no ending'}. Save it as .xlsx or .csv."
            )
        if start.startswith((_PACKED, _COMPOUND)):
            raise TableError("a workbook that is called a text file. Name it .xlsx, or save it as .csv.")
        if sheet is not None:
            raise TableError("a text file has no sheets. Delete the line.", "sheet")
        return _texts(path.read_bytes(), separator)
    except OSError as error:
        raise TableError(f"cannot be read ({error.strerror}). Check the permissions.") from None


def _book(path: Path, sheet: str | None, start: bytes) -> Table:
    if start.startswith(_COMPOUND):
        if "EncryptedPackage".encode("utf-16-le") in path.read_bytes():
            raise TableError("is behind a password. Save a copy without one.")
        raise TableError("is a workbook of the old kind (.xls). Save it as .xlsx.")
    if not start.startswith(_PACKED):
        raise TableError("is no workbook, whatever its ending says. Save it as .xlsx again, or as .csv.")
    from formulate.files.workbook import open_sheet

    return open_sheet(path, sheet)


def _texts(raw: bytes, separator: str | None) -> tuple[TextTable, ...]:
    text, coding = _decoded(raw)
    if "\0" in text:
        raise TableError("is no text: it holds characters of nothing (NUL). Save it as .csv again.")
    if not text.strip():
        raise TableError("the file is empty. Ask for it again.")
    first, rest, after = text.partition("\n")
    words = {mark: word for word, mark in SEPARATORS.items()}
    # Spreadsheets write such a first line to say it; it is no row of the list but counts as one.
    if first.strip().lower().startswith("sep=") and (mark := first.strip("\r\n")[4:5]) in words:
        text = f"{rest}{after}"
        separator = separator or words[mark]
    names = SEPARATORS if separator is None else {separator: SEPARATORS[separator]}
    return tuple(TextTable(text, mark, f"{coding}, {name}") for name, mark in names.items())


def _decoded(raw: bytes) -> tuple[str, str]:
    codings = [("utf-8-sig", "UTF-8"), ("cp1252", "Windows-1252")]
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        codings = [("utf-16", "UTF-16")]
    for coding, name in codings:
        try:
            return raw.decode(coding), name
        except UnicodeDecodeError:
            continue
    raise TableError("is neither UTF-8 nor Windows-1252 text. Save it as UTF-8.")
