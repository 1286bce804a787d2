"""Reading workbooks (Office Open XML): the one door to the library for them on the way in.

The library gives every value. It is handed only the parts that hold them, unpacked here within bounds, for it
has none of its own. What a table of values leaves out (how numbers are shown, errors, formulas saved without
a result) is read from the tags of the rows that are asked for. Nothing is run or followed.
"""

from __future__ import annotations

import contextlib
import io
import posixpath
import re
import zipfile
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING
from xml.parsers import expat

from formulate.files.fields import did_you_mean
from formulate.files.tables import Mark, Range, Row, TableError, number_of

if TYPE_CHECKING:
    from python_calamine import CalamineSheet

__all__ = ["BookTable", "open_sheet", "open_sheets"]

LARGEST_UNPACKED_BYTES = 100_000_000
MOST_PARTS = 10_000
MOST_SETTINGS = 100_000
"""Sheets, links or styles: a workbook has at most 65 490 cell formats as spreadsheets implement it."""
MOST_TAGS = 8_000_000
"""Some 300 000 rows of five cells."""
MOST_CELLS = 5_200_000
"""The library holds a sheet as a full rectangle: so many, blank ones too, are some 160 MB."""
FIRST_OWN_FORMAT = 164
PERCENT_FORMATS = {9: "0%", 10: "0.00%"}
"""Number formats below the first own one are built in (ECMA-376 part 1, 18.8.30); their currency is that of
the computer."""
ODS_ENDING = ".ods"
_CONTENT = "[Content_Types].xml"
_ENTRY = b"PK\x01\x02"
"""Begins each entry of a package's directory."""
_REFERENCE = re.compile(r"([A-Za-z]+)([0-9]+)")
_ODD_PLACE = re.compile(
    rb'<(?!c r="[A-Z]1?[0-9]{1,5}"|row r="1?[0-9]{1,5}"|/|[vtf]>|is>)(?:[^\s<>/:]*:)?(?:c|row)[\s/>]'
)
"""A row or cell that does not begin with a place in columns A to Z of rows up to 199 999: 26 x 199 999 cells
are fewer than the most that are read."""
_END_OF_TEXT = re.compile(rb"</(?:[^\s<>/:]*:)?si\s*>")
_WHOLE_NUMBER = re.compile(rb">\s*\+?([0-9]{1,7})\s*<")
_DAMAGED = (
    "is damaged and cannot be read. Open it in a spreadsheet and save it as .xlsx, or ask for it again."
)
_TOO_LARGE = "the workbook is too large unpacked. Keep what is needed of it."
_TOO_MANY = "the sheet has too many cells. Keep what is needed of it."


@dataclass(frozen=True)
class BookTable:
    """One sheet of a workbook: its values, its tags, and how its styles show numbers."""

    sheet: CalamineSheet = field(repr=False)
    tags: bytes = field(repr=False)
    formats: tuple[str, ...] = field(repr=False)
    name: str
    merged: tuple[Range, ...]
    how: str = "workbook"

    def rows(self) -> Iterator[Row]:
        """Give each row that has cells, from the first, with the values the workbook was saved with."""
        return _rows(self.sheet)

    def marks(self, rows: Collection[int]) -> dict[tuple[int, int], Mark]:
        """Look up what some rows hold beside their values.

        Raises
        ------
        TableError
            If the sheet is damaged.
        """
        try:
            return _Marks(self.formats, _tags_of(self.tags, rows)).found
        except (expat.ExpatError, ValueError, IndexError) as error:
            raise TableError(_DAMAGED) from error


def _rows(sheet: CalamineSheet) -> Iterator[Row]:
    first = (sheet.start or (0, 0))[1] + 1
    for number, values in enumerate(sheet.iter_rows(), start=1):
        cells = {column: value for column, value in enumerate(values, start=first) if value != ""}
        if cells:
            yield number, cells


def open_sheet(path: Path, sheet: str | None) -> BookTable:
    """Open one sheet of a workbook; `sheet` is needed where there are several.

    Raises
    ------
    TableError
        If it is no workbook, is damaged or larger than is read, or has no such sheet.
    """
    with _opened(path) as (parts, sheets, main):
        name = _sheet_of(list(sheets), sheet)
        return _tables(parts, main, {name: sheets[name]})[name]


def open_sheets(path: Path) -> dict[str, BookTable | PlainTable]:
    """Open every sheet with cells of a workbook, Office Open XML or OpenDocument.

    Raises
    ------
    TableError
        If it is no workbook, or is damaged or larger than is read.
    """
    if path.suffix.lower() == ODS_ENDING:
        return dict(_open_document(path))
    with _opened(path) as (parts, sheets, main):
        return dict(_tables(parts, main, sheets))


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[tuple[_Parts, dict[str, str], str]]:
    try:
        content = path.read_bytes()
        if len(content) > LARGEST_UNPACKED_BYTES or content.count(_ENTRY) > MOST_PARTS:
            raise TableError(_TOO_LARGE)
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = _Parts(packed)
            (main,) = parts.linked("", "/officeDocument").values()
            yield parts, _sheets(parts, main), main
    except (OSError, TableError):
        raise
    except Exception as error:  # what a damaged package can do to its readers has no list
        raise TableError(_DAMAGED) from error


def _tables(parts: _Parts, main: str, sheets: Mapping[str, str]) -> dict[str, BookTable]:
    from python_calamine import load_workbook

    tags = {name: parts.read(part) for name, part in sheets.items()}
    texts = b"".join(parts.read(part) for part in parts.linked(main, "/sharedStrings").values())
    styles = b"".join(parts.read(part) for part in parts.linked(main, "/styles").values())
    for one in tags.values():
        _refuse_sprawl(one, texts)
    formats = _formats(styles)
    book = load_workbook(parts.packed_anew())
    found = {}
    for name in sheets:
        values = book.get_sheet_by_name(name)
        merged = tuple(
            Range(first[0] + 1, first[1] + 1, last[0] + 1, last[1] + 1)
            for first, last in values.merged_cell_ranges or ()
        )
        found[name] = BookTable(values, tags[name], formats, name, merged)
    return found


@dataclass(frozen=True)
class PlainTable:
    """One sheet of an OpenDocument workbook: its values alone."""

    sheet: CalamineSheet = field(repr=False)
    name: str

    def rows(self) -> Iterator[Row]:
        """Give each row that has cells, from the first, with the values the workbook was saved with."""
        return _rows(self.sheet)


def _open_document(path: Path) -> dict[str, PlainTable]:
    from python_calamine import load_workbook

    try:
        content = path.read_bytes()
        if len(content) > LARGEST_UNPACKED_BYTES or content.count(_ENTRY) > MOST_PARTS:
            raise TableError(_TOO_LARGE)
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            every = packed.infolist()
            if sum(part.file_size for part in every) > LARGEST_UNPACKED_BYTES:
                raise TableError(_TOO_LARGE)
            with packed.open("content.xml") as opened:
                _refuse_repeats(opened.read(LARGEST_UNPACKED_BYTES))
        book = load_workbook(io.BytesIO(content))
        return {name: PlainTable(book.get_sheet_by_name(name), name) for name in book.sheet_names}
    except (OSError, TableError):
        raise
    except Exception as error:  # what a damaged package can do to its readers has no list
        raise TableError(_DAMAGED) from error


def _refuse_repeats(xml: bytes) -> None:
    """Refuse cells that hold something and are are repeated too often (OpenDocument 1.3)."""
    rows, cells, total = [1], [1], [0]

    def start(tag: str, given: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if name == "table-row":
            rows[0] = int(given.get("table:number-rows-repeated", 1))
        elif name in ("table-cell", "covered-table-cell"):
            cells[0] = int(given.get("table:number-columns-repeated", 1))
        elif name == "p":
            total[0] += rows[0] * cells[0]
            if total[0] > MOST_CELLS:
                raise TableError(_TOO_MANY)

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.Parse(xml, True)


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


class _Parts:
    """The parts of a package, each read once and no further than it says it is long."""

    def __init__(self, packed: zipfile.ZipFile) -> None:
        every = packed.infolist()
        if sum(part.file_size for part in every) > LARGEST_UNPACKED_BYTES:
            raise TableError(_TOO_LARGE)
        self.packed = packed
        self.named = {part.filename.replace("\\", "/").lower(): part for part in every}
        if len(self.named) < len(every):
            raise TableError(_DAMAGED)  # two parts of one name: programs differ in which they take
        if _CONTENT.lower() not in self.named:
            raise TableError("is packed like a workbook but is none. Save it as .xlsx, or as .csv.")
        self.taken: dict[str, bytes] = {}
        self.read(_CONTENT)

    def linked(self, part: str, kind: str) -> dict[str, str]:
        """Return the parts of a kind that a part names, by their names for it (ECMA-376 part 2, 9.3)."""
        folder, name = posixpath.split(part)
        links = self.read(posixpath.join(folder, "_rels", f"{name}.rels"))
        return {
            link["Id"]: posixpath.normpath(posixpath.join("/", folder, link["Target"])).lstrip("/")
            for _, link in _started(links, "Relationship")
            if link["Type"].endswith(kind)
        }

    def read(self, name: str) -> bytes:
        """Unpack a part; nothing where there is none."""
        part = self.named.get(name.lower())
        if part is None:
            return b""
        if name not in self.taken:
            if part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
                raise TableError(_DAMAGED)  # no other way to pack is allowed (ECMA-376 part 2, annex B)
            with self.packed.open(part) as opened:
                self.taken[name] = opened.read(part.file_size)  # without a size all of it is unpacked at once
        return self.taken[name]

    def packed_anew(self) -> io.BytesIO:
        """Pack the parts that were read, so that nothing else is there to be unpacked."""
        anew = io.BytesIO()
        with zipfile.ZipFile(anew, "w") as package:
            for name, content in self.taken.items():
                package.writestr(name, content)
        anew.seek(0)
        return anew


def _started(xml: bytes, *wanted: str) -> list[tuple[str, dict[str, str]]]:
    """Return the tags of some names in a small part, in order, without prefixes; none where it is missing."""
    met: list[tuple[str, dict[str, str]]] = []
    if not xml:
        return met

    def start(tag: str, given: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if name in wanted:
            met.append((name, given))
            if len(met) > MOST_SETTINGS:
                raise TableError(_DAMAGED)

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.Parse(xml, True)
    return met


def _sheets(parts: _Parts, main: str) -> dict[str, str]:
    """Return the part of each sheet with cells, by name, in the order of the workbook."""
    targets = parts.linked(main, "/worksheet")
    sheets = {}
    for _, given in _started(parts.read(main), "sheet"):
        link = next((value for key, value in given.items() if key.endswith(":id")), "")
        if link in targets:
            sheets[given["name"]] = targets[link]
    return sheets


def _formats(xml: bytes) -> tuple[str, ...]:
    """Return how each style shows numbers, where the workbook says so itself; else nothing."""
    own: dict[int, str] = dict(PERCENT_FORMATS)
    styles: list[int] = []
    for name, given in _started(xml, "numFmt", "cellXfs", "xf"):
        if name == "numFmt" and int(given["numFmtId"]) >= FIRST_OWN_FORMAT:
            own[int(given["numFmtId"])] = given["formatCode"]
        elif name == "cellXfs":
            styles.clear()  # those before are of named styles
        elif name == "xf":
            styles.append(int(given.get("numFmtId", 0)))
    return tuple(own.get(number, "") for number in styles)


def _refuse_sprawl(tags: bytes, texts: bytes) -> None:
    """Refuse what would grow in memory out of proportion to its size."""
    if b"\0" in tags:
        raise TableError(_DAMAGED)
    if tags.count(b"<") > MOST_TAGS:
        raise TableError(_TOO_MANY)
    if _ODD_PLACE.search(tags):
        _Extent(tags)
    lengths = [len(text) for text in _END_OF_TEXT.split(texts)]
    if max(lengths) * (tags.count(b"<") // 4) > LARGEST_UNPACKED_BYTES:
        repeated = (int(number) for number in _WHOLE_NUMBER.findall(tags))
        if sum(lengths[at] for at in repeated if at < len(lengths)) > LARGEST_UNPACKED_BYTES:
            raise TableError(_TOO_LARGE)


class _Extent:
    """Follows every place of a sheet, and stops where the rectangle over all of them grows too large."""

    def __init__(self, tags: bytes) -> None:
        self.row = self.column = self.last_row = self.last_column = 0
        self.at = 0
        parser = expat.ParserCreate()
        parser.StartElementHandler = self._start
        parser.Parse(tags, True)

    def _start(self, tag: str, given: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if name == "row":
            self.row, self.column = int(given.get("r", self.row + 1)), 0
        elif name == "c":
            place = _REFERENCE.fullmatch(given.get("r", ""))
            self.column = number_of(place[1].upper()) if place else self.column + 1
            self.at = int(place[2]) if place else self.row
        elif name in ("v", "is"):  # a cell that holds something
            self.last_row = max(self.last_row, self.at)
            self.last_column = max(self.last_column, self.column)
            if self.last_row * self.last_column > MOST_CELLS:
                raise TableError(_TOO_MANY)


def _tags_of(tags: bytes, rows: Collection[int]) -> bytes:
    """Cut some rows out of a sheet; the whole of it where they are not written as usual."""
    found, end = [b"<rows>"], 0
    for row in sorted(rows):
        start = tags.find(b'<row r="%d"' % row, end)
        end = tags.find(b"</row>", start) + len(b"</row>")
        if start < 0 or end < start:
            return tags
        found.append(tags[start:end])
    return b"".join([*found, b"</rows>"])


class _Marks:
    """Reads the tags of rows (ECMA-376 part 1, 18.3.1) for what stands beside the values of their cells."""

    def __init__(self, formats: tuple[str, ...], tags: bytes) -> None:
        self.formats = formats
        self.found: dict[tuple[int, int], Mark] = {}
        self.row = self.column = self.style = 0
        self.kind, self.formula = "", False
        self.text: list[str] = []
        self.parser = expat.ParserCreate()
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.Parse(tags, True)

    def _start(self, tag: str, given: dict[str, str]) -> None:
        name = tag.rpartition(":")[2]
        if name == "row":
            self.row, self.column = int(given.get("r", self.row + 1)), 0
        elif name == "c":
            letters = given.get("r", "").rstrip("0123456789")
            self.column = number_of(letters) if letters else self.column + 1
            self.kind, self.style = given.get("t", "n"), int(given.get("s", 0))
            self.formula, self.text = False, []
        elif name == "f":
            self.formula = True
        elif name == "v":
            self.parser.CharacterDataHandler = self.text.append

    def _end(self, tag: str) -> None:
        name = tag.rpartition(":")[2]
        if name == "v":
            self.parser.CharacterDataHandler = None
        elif name == "c":
            text = "".join(self.text)
            shown = self.formats[self.style] if self.style < len(self.formats) else ""
            error = text.strip() if self.kind == "e" else ""
            self.found[self.row, self.column] = Mark(shown, error, self.formula and not text)
