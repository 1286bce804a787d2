"""Writing workbooks (Office Open XML): the one door to the library for them on the way out.

Figures are numbers, sums are formulas that a spreadsheet works out again, and text is text whatever it starts
with: a name such as ``=HYPERLINK(...)`` is shown, never run. There are no macros, links or hidden parts.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.styles import Font
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["CREATOR", "Book", "Column", "Formula", "Page", "safe_text"]

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
        cell: Cell = self.sheet.cell(row, column)  # type: ignore[assignment]
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


class Book:
    """A workbook being written."""

    def __init__(self, title: str) -> None:
        from openpyxl import Workbook

        self._book = Workbook()
        self._book.remove(self._book.worksheets[0])
        self._book.properties.creator = CREATOR
        self._book.properties.title = safe_text(title)
        # Whoever opens it works the sums out himself.
        self._book.calculation.fullCalcOnLoad = True

    def page(self, name: str, columns: Sequence[Column]) -> Page:
        """Add a sheet, set to print across a landscape page."""
        sheet = self._book.create_sheet(name)
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
        return written.getvalue()


def _font(*, bold: bool, size: int = 11) -> Font:
    from openpyxl.styles import Font

    return Font(name="Calibri", size=size, bold=bold)
