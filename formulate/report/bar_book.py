"""A folder as one workbook: plain heads with notes, lists to choose from, an example where it is empty."""

from __future__ import annotations

from typing import TYPE_CHECKING

from formulate.report.workbook import FillIn, Value, new_book, saved, sheet_to_fill

if TYPE_CHECKING:
    from collections.abc import Sequence

    from formulate.describe.book_record import BarBook, Taken
    from formulate.files.book_layout import BookColumn, BookSheet
    from formulate.report.workbook import NewBook

__all__ = ["bar_document", "bar_workbook", "taken_text"]

EXAMPLE = "e.g. "
LISTS = "Lists"
WORDS = "in words"
FIRST_ROW = 4
"""Below the title, what the sheet is for, and the heads."""


def bar_workbook(record: BarBook) -> bytes:
    """Write the workbook that a bar fills in."""
    book = new_book(record.name)
    last = len(record.choices) + 1
    for rows in record.sheets:
        if rows.sheet is None:
            heads = [FillIn("file", 24), FillIn("key", 18), FillIn("as in a file", 90)]
            sheet_to_fill(
                book, "More", "What no other sheet is for, as it would stand in a file.", heads, rows.rows
            )
        elif rows.sheet.rows.name == "ONE":
            _read_down(book, rows.sheet, rows.rows)
        else:
            heads = _heads(rows.sheet, last)
            example = _example(rows.sheet, len(heads)) if not rows.rows else None
            sheet_to_fill(book, rows.sheet.name, rows.sheet.about, heads, rows.rows, example)
    sheet_to_fill(
        book,
        LISTS,
        "What can be chosen from: the name to write, and what it is. More with `formulate library`.",
        [FillIn("name", 30), FillIn("what it is", 60)],
        record.choices,
    )
    return saved(book)


def _read_down(book: NewBook, sheet: BookSheet, rows: Sequence[Sequence[Value]]) -> None:
    values = [row[0] for row in rows] if rows else [None] * len(sheet.columns)
    lines = [(column.head, value, column.note) for column, value in zip(sheet.columns, values, strict=True)]
    heads = [FillIn("what", 28), FillIn("here", 28, is_text=True), FillIn("for example", 44)]
    sheet_to_fill(book, sheet.name, sheet.about, heads, lines)


def _heads(sheet: BookSheet, last: int) -> list[FillIn]:
    heads = []
    if sheet.kind != "shelf":
        heads.append(FillIn("file", 22, "Which it belongs to: a short name in small letters, with hyphens."))
    if sheet.name_head:
        choices = (
            f"{LISTS}!$A${FIRST_ROW}:$A${last + FIRST_ROW}" if sheet.name_choices == "ingredients" else ""
        )
        heads.append(FillIn(sheet.name_head, 26, "A name from the list, or your own.", choices, offers=True))
    heads += [_head(column) for column in sheet.columns]
    heads.append(FillIn("more", 36, "Anything else, as in a file: {notes: keep it cold}."))
    if sheet.name_choices == "ingredients":
        name_at = "B" if sheet.kind != "shelf" else "A"
        heads.append(FillIn(WORDS, 34, lookup=(name_at, f"{LISTS}!$A:$B")))
    return heads


def _head(column: BookColumn) -> FillIn:
    choices = ""
    if column.choices == "vessels":
        choices = "Vessels!$A$4:$A$200"
    elif column.choices:
        choices = f'"{column.choices}"'
    unit = "currency of the bar" if column.unit == "money" else column.unit
    said = f"{column.note}\nA bare number is in {unit}." if unit else column.note
    return FillIn(
        column.head, column.width, said, choices, is_money=column.unit == "money", offers="!" in choices
    )


def _example(sheet: BookSheet, width: int) -> tuple[str | None, ...] | None:
    if not sheet.example:
        return None
    first, *others = sheet.example
    cells = [f"{EXAMPLE}{first}", *others]
    return (*cells, *[None] * (width - len(cells)))


def bar_document(record: BarBook) -> bytes:
    """Write the same as an OpenDocument spreadsheet."""
    from formulate.report.open_document import Sheet, spreadsheet

    sheets = []
    for rows in record.sheets:
        if rows.sheet is None:
            about = "What no other sheet is for, as it would stand in a file."
            heads = (FillIn("file", 24), FillIn("key", 18), FillIn("as in a file", 90))
            sheets.append(Sheet("More", about, heads, rows.rows))
        elif rows.sheet.rows.name == "ONE":
            values = [row[0] for row in rows.rows] or [None] * len(rows.sheet.columns)
            lines = tuple(
                (column.head, value, column.note)
                for column, value in zip(rows.sheet.columns, values, strict=True)
            )
            down = (FillIn("what", 28), FillIn("here", 28), FillIn("for example", 44))
            sheets.append(Sheet(rows.sheet.name, rows.sheet.about, down, lines))
        else:
            columns = tuple(one for one in _heads(rows.sheet, len(record.choices) + 1) if one.lookup is None)
            example = _example(rows.sheet, len(columns)) if not rows.rows else None
            sheets.append(Sheet(rows.sheet.name, rows.sheet.about, columns, rows.rows, example))
    names = (FillIn("name", 30), FillIn("what it is", 60))
    sheets.append(Sheet(LISTS, "What can be chosen from: the name to write.", names, record.choices))
    return spreadsheet(record.name, sheets)


def taken_text(record: Taken) -> str:
    """Say what became of each file."""
    lines = [f"{record.folder.as_posix()}:"]
    for what, names in (("new", record.new), ("changed", record.changed), ("as it was", record.same)):
        lines += [f"  {what:<10} {name}" for name in names]
    if record.only_there:
        lines.append(f"Not in the workbook, left alone: {', '.join(record.only_there)}.")
    return "\n".join(lines)
