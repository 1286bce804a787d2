"""Writing workbooks (Office Open XML): the one door to the library for them on the way out.

Figures are numbers, sums are formulas that a spreadsheet works out again, and text is text whatever it starts
with: a name such as ``=HYPERLINK(...)`` is shown, never run. There are no macros, links or hidden parts.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, NamedTuple, TypeAlias
from xml.sax.saxutils import escape

from formulate.errors import FormulateError

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell.cell import Cell
    from openpyxl.styles import Font
    from openpyxl.worksheet.worksheet import Worksheet

    NewBook: TypeAlias = Workbook

__all__ = [
    "CREATOR",
    "Book",
    "Column",
    "FillIn",
    "Formula",
    "Page",
    "marked_copy",
    "new_book",
    "safe_text",
    "saved",
    "sheet_to_fill",
]

CREATOR = "formulate"
ACTIVE = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
"""What a text may start with that a spreadsheet, or one that reads it as .csv, takes for a formula."""
LONGEST_CELL = 32_767
"""Characters a cell holds (Office Open XML as spreadsheets implement it)."""

FORMATS = {
    "text": "@",
    "money": "#,##0.00",
    "price": "#,##0.00##",
    "grams": "#,##0.0#",
    "count": "#,##0",
    "amount": "#,##0.###",
    "share": "0.0%",
    "litres": "0.00",
}


class Formula(str):
    """A formula of ours, with its sign of equality; anything else is text."""

    __slots__ = ()


Value = str | float | int | Formula | None


class Column(NamedTuple):
    """A column: what stands at its head, how its figures are shown, and how wide it is in characters."""

    head: str
    kind: str = "text"
    width: int = 12


def safe_text(text: str) -> str:
    """Take out what a cell cannot hold: control characters, halves of characters, what is too long."""
    kept = "".join(one if one.isprintable() or one == " " else " " for one in text)
    return kept[:LONGEST_CELL]


@dataclass
class Page:
    """One sheet being written, from the top.

    Attributes
    ----------
    row : int
        The last one written.
    """

    sheet: Worksheet
    columns: tuple[Column, ...]
    row: int = 0

    @property
    def reference(self) -> str:
        """How formulas of other sheets name this one."""
        name = self.sheet.title
        return name if name.isalnum() else f"'{name}'"

    def title(self, text: str, *notes: str) -> None:
        """Write what the page is about, above its head."""
        self._cell(self._next(), 1, text).font = _font(bold=True, size=14)
        for note in notes:
            self._cell(self._next(), 1, note)
        self.row += 1

    def given(self, label: str, value: float | None, kind: str) -> str:
        """Write a figure that formulas below use, and return its place."""
        row = self._next()
        self._cell(row, 1, label)
        self._cell(row, 2, value, kind).font = _font(bold=True)
        return f"$B${row}"

    def head(self) -> None:
        """Write the head of the table; it stays in sight and on every printed page."""
        from openpyxl.styles import Alignment, Border, Side

        row = self._next()
        for column, one in enumerate(self.columns, start=1):
            cell = self._cell(row, column, one.head)
            cell.font = _font(bold=True)
            cell.border = Border(bottom=Side(style="medium"))
            cell.alignment = Alignment(
                horizontal="left" if one.kind == "text" else "right", vertical="bottom", wrap_text=True
            )
            self.sheet.column_dimensions[cell.column_letter].width = one.width
        self.sheet.freeze_panes = f"A{row + 1}"
        self.sheet.print_title_rows = f"{row}:{row}"

    def line(self, *values: Value, bold: bool = False, above: bool = False) -> int:
        """Write one row, and return its number.

        Parameters
        ----------
        values : str, float, Formula or None
            From the first column on.
        above : bool
            Draw a line above it, as over a sum.
        """
        from openpyxl.styles import Border, Side

        row = self._next()
        for column, value in enumerate(values, start=1):
            kind = self.columns[column - 1].kind
            cell = self._cell(row, column, value, kind)
            if bold:
                cell.font = _font(bold=True)
            if above:
                cell.border = Border(top=Side(style="thin"))
        return row

    def blank(self) -> None:
        """Leave a row free."""
        self.row += 1

    def _next(self) -> int:
        self.row += 1
        return self.row

    def _cell(self, row: int, column: int, value: Value, kind: str = "text") -> Cell:
        return fill_cell(self.sheet, row, column, value, kind)


def fill_cell(sheet: Worksheet, row: int, column: int, value: Value, kind: str = "text") -> Cell:
    """Write one cell: a formula of ours, a figure, or text that is never run."""
    cell: Cell = sheet.cell(row, column)  # type: ignore[assignment]
    if isinstance(value, Formula):
        cell.value = str(value)
    elif isinstance(value, str):
        text = safe_text(value)
        if not text:
            return cell
        cell.value = text
        cell.data_type = "s"
        if value.startswith(ACTIVE) or text.lstrip().startswith(ACTIVE):
            cell.quotePrefix = True
    elif value is not None:
        cell.value = float(value)
    if not isinstance(value, str) or isinstance(value, Formula):
        cell.number_format = FORMATS[kind]
    return cell


class FillIn(NamedTuple):
    """A column that a person fills in.

    Attributes
    ----------
    head : str
    width : int
        In characters.
    note : str
        Shown beside the head.
    choices : str
        Range or quoted words to choose from; empty for none.
    is_money, is_text : bool
    offers : bool
        Whether something else than the choices may be typed too.
    lookup : (str, str) or None
        Column with a name, and the range it is looked up in: the cell shows what it is.
    """

    head: str
    width: int = 14
    note: str = ""
    choices: str = ""
    is_money: bool = False
    is_text: bool = False
    offers: bool = False
    lookup: tuple[str, str] | None = None


ROOM_ROWS = 1000
"""So far down there are lists to choose from."""
LOOKED_UP_BELOW = 60
"""Rows below the last filled one that look a name up by themselves."""


def new_book(title: str) -> NewBook:
    """Start a workbook that a person fills in."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    book.properties.creator = CREATOR
    book.properties.title = safe_text(title)
    book.calculation.fullCalcOnLoad = True  # whoever opens it works the sums out himself
    return book


def saved(book: NewBook) -> bytes:
    """Return the file."""
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def sheet_to_fill(
    book: NewBook,
    name: str,
    about: str,
    heads: Sequence[FillIn],
    rows: Sequence[Sequence[Value]],
    example: Sequence[Value] | None = None,
) -> None:
    """Add a sheet that a person fills in: what it is for, heads with notes, what is there, room for more.

    Parameters
    ----------
    example : sequence, optional
        A row in grey that shows how.
    """
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Border, Font, Side
    from openpyxl.worksheet.datavalidation import DataValidation

    sheet = book.create_sheet(name)
    fill_cell(sheet, 1, 1, name).font = _font(bold=True, size=14)
    fill_cell(sheet, 2, 1, about)
    head_row = 3
    for column, one in enumerate(heads, start=1):
        cell = fill_cell(sheet, head_row, column, one.head)
        cell.font = _font(bold=True)
        cell.border = Border(bottom=Side(style="medium"))
        cell.alignment = Alignment(vertical="bottom", wrap_text=True)
        sheet.column_dimensions[cell.column_letter].width = one.width
        if one.note:
            cell.comment = Comment(one.note, CREATOR, height=90, width=260)
        if one.choices:
            chosen = DataValidation(
                type="list", formula1=one.choices, allow_blank=True, showErrorMessage=not one.offers
            )
            sheet.add_data_validation(chosen)
            chosen.add(f"{cell.column_letter}{head_row + 1}:{cell.column_letter}{ROOM_ROWS}")
    shown = list(rows) if example is None else [example]
    for row, values in enumerate(shown, start=head_row + 1):
        for column, value in enumerate(values, start=1):
            cell = fill_cell(sheet, row, column, value, "price" if heads[column - 1].is_money else "amount")
            if example is not None:
                cell.font = Font(name="Calibri", size=11, italic=True, color="FF767676")
    for row in range(head_row + 1, head_row + 1 + len(shown) + LOOKED_UP_BELOW):
        for column, one in enumerate(heads, start=1):
            cell = sheet.cell(row, column)
            if one.lookup is not None:
                at, where = one.lookup
                cell.value = f'=IF({at}{row}="","",IFERROR(VLOOKUP({at}{row},{where},2,FALSE),""))'
                cell.font = Font(name="Calibri", size=11, color="FF767676")
            elif cell.value is None:
                cell.number_format = FORMATS["price"] if one.is_money else FORMATS["text"]
    sheet.freeze_panes = f"A{head_row + 1}"
    sheet.print_title_rows = f"{head_row}:{head_row}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


class Book:
    """A workbook being written."""

    def __init__(self, title: str, into: bytes | None = None) -> None:
        self.prefix = "" if into is None else RESULT
        self._values: dict[str, dict[str, object]] = {}
        if into is None:
            self._book = new_book(title)
        else:
            self._book, self._values = _opened(into)

    def page(self, name: str, columns: Sequence[Column]) -> Page:
        """Add a sheet, set to print across a landscape page."""
        sheet = self._book.create_sheet(f"{self.prefix}{name}")
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.fitToWidth = 1
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr.fitToPage = True
        sheet.oddFooter.center.text = "&A, &P / &N"
        return Page(sheet, tuple(columns))

    def content(self) -> bytes:
        """Return the file."""
        written = io.BytesIO()
        self._book.save(written)
        return _with_values(written.getvalue(), self._values) if self._values else written.getvalue()


RESULT = "Result "
"""Begins the name of each sheet written into a workbook that somebody filled in."""
_LOST = re.compile(r"xl/(?:charts|media|pivotTables|slicers)/|xl/vbaProject\.bin|xl/drawings/drawing")


def _opened(content: bytes) -> tuple[Workbook, dict[str, dict[str, object]]]:
    """Open a workbook without earlier results; also what its formulas last came to, by sheet and cell."""
    from openpyxl import load_workbook

    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        lost = [name for name in packed.namelist() if _LOST.match(name)]
    if lost:
        raise FormulateError(
            "the workbook holds pictures, charts or macros, which would be lost. Write the answer to a file "
            "of its own with --xlsx."
        )
    book = load_workbook(io.BytesIO(content))
    saved = load_workbook(io.BytesIO(content), data_only=True)
    for name in [name for name in book.sheetnames if name.startswith(RESULT)]:
        del book[name]
    values: dict[str, dict[str, object]] = {}
    for sheet in book.worksheets:
        found = {}
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f" and (value := saved[sheet.title][cell.coordinate].value) is not None:
                    found[cell.coordinate] = value
        values[sheet.title] = found
    book.calculation.fullCalcOnLoad = True
    return book, values


def _with_values(content: bytes, values: Mapping[str, Mapping[str, object]]) -> bytes:
    """Put what formulas last came to beside them again: the library writes formulas alone."""
    from openpyxl import load_workbook

    order = load_workbook(io.BytesIO(content), read_only=True).sheetnames
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as packed,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as anew,
    ):
        for item in packed.infolist():
            text = packed.read(item)
            number = re.fullmatch(r"xl/worksheets/sheet([0-9]+)\.xml", item.filename)
            if number and (known := values.get(order[int(number[1]) - 1])):
                text = _FORMULA.sub(partial(_valued, known=known), text.decode()).encode()
            anew.writestr(item, text)
    return out.getvalue()


_FORMULA = re.compile(r'<c r="([A-Z]+[0-9]+)"([^>]*)><f>(.*?)</f><v ?/?>(?:</v>)?</c>', re.DOTALL)


def _valued(cell: re.Match[str], known: Mapping[str, object]) -> str:
    value = known.get(cell[1])
    if value is None:
        return cell[0]
    kind = "" if isinstance(value, (int, float)) else ' t="str"'
    shown = str(value) if isinstance(value, (int, float)) else escape(safe_text(str(value)))
    return f'<c r="{cell[1]}"{cell[2]}{kind}><f>{cell[3]}</f><v>{shown}</v></c>'


def marked_copy(content: bytes, wrong: Sequence[tuple[str, str]]) -> bytes:
    """Copy a workbook with what is wrong marked: a thick frame and a note at each cell.

    Parameters
    ----------
    content : bytes
    wrong : sequence of (str, str)
        Cell by its name, such as ``Drinks!D7``, and what is wrong there.
    """
    from openpyxl import load_workbook
    from openpyxl.comments import Comment
    from openpyxl.styles import Border, PatternFill, Side

    book = load_workbook(io.BytesIO(content))
    frame = Side(style="thick", color="FFC00000")
    texts: dict[str, list[str]] = {}
    for cell, text in wrong:
        texts.setdefault(cell, []).append(text)
    for name, said in texts.items():
        sheet, _, at = name.rpartition("!")
        title = sheet.removeprefix("'").removesuffix("'").replace("''", "'")
        if title in book.sheetnames:
            cell = book[title][at]
            cell.border = Border(top=frame, bottom=frame, left=frame, right=frame)
            cell.fill = PatternFill("solid", fgColor="FFFFE0DC")
            cell.comment = Comment(safe_text(" ".join(said))[:1000], CREATOR, height=120, width=300)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def _font(*, bold: bool, size: int = 11) -> Font:
    from openpyxl.styles import Font

    return Font(name="Calibri", size=size, bold=bold)
