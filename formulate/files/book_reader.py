"""Rows of a workbook put together to files again, each value with the cell it stands in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from formulate.errors import SourceLocation, SpecError, SpecProblem
from formulate.files.book_cells import typed
from formulate.files.book_layout import EXAMPLE, FILE, MORE, BookColumn, BookSheet, Rows
from formulate.files.book_rows import HAS_SHELF, NONE, SHELF, inner_path
from formulate.files.book_sheets import SHEETS
from formulate.files.issues import KeyPath, Places, Span, printable
from formulate.files.located import Document, load_document
from formulate.files.tables import Mark, cell_name

__all__ = ["BookPlaces", "BookReader", "Grid"]

HEAD_WITHIN = 12
"""Rows from the top among which the head of a sheet is looked for."""


@dataclass(frozen=True, slots=True)
class BookPlaces(Places):
    """Places of a tree whose values stand in cells: each line of its text is one of them."""

    cells: tuple[tuple[int, int, str], ...] = ()

    def location(self, offset: int) -> SourceLocation:
        """Give the cell of a character offset."""
        line, _ = self._line_column(offset)
        if line >= len(self.cells):
            return SourceLocation(self.file, 1, 1)
        row, column, name = self.cells[line]
        return SourceLocation(self.file, row, column, name)

    def excerpt_at(self, start: int, end: int) -> str:
        """Show nothing: a cell is found by its name."""
        del start, end
        return ""


class Grid:
    """A sheet as rows of cells, with what its numbers look like."""

    def __init__(self, table: Any) -> None:
        self.name: str = table.name
        self.rows = dict(table.rows())
        marks = getattr(table, "marks", None)
        self.marks: Mapping[tuple[int, int], Mark] = {} if marks is None else marks(list(self.rows))
        self.knows_formats = marks is not None

    def head(self, first: str) -> tuple[int, dict[str, int]]:
        """Find the row of the heads, and the column of each; row 0 where there is none."""
        for row in sorted(self.rows)[:HEAD_WITHIN]:
            heads = {str(value).strip().lower(): column for column, value in self.rows[row].items()}
            if first in heads and len(heads) > 1:
                return row, heads
        return 0, {}


@dataclass
class _Tree:
    """A file being put together, with the cell of each value."""

    data: dict[str, Any] = field(default_factory=dict)
    text: list[str] = field(default_factory=list)
    cells: list[tuple[int, int, str]] = field(default_factory=list)
    at: list[tuple[KeyPath, int]] = field(default_factory=list)

    def note(self, path: KeyPath, typed: object, place: tuple[int, int, str]) -> None:
        self.text.append(" ".join(str(typed).split()))
        self.cells.append(place)
        self.at.append((path, len(self.text) - 1))

    def document(self, book: Path, inner: str) -> Document:
        starts = [0]
        for line in self.text:
            starts.append(starts[-1] + len(line) + 1)
        spans: dict[KeyPath, Span] = {}
        for path, number in self.at:
            spans[path] = (starts[number], starts[number] + len(self.text[number]))
        places = BookPlaces(
            file=book.as_posix(),
            text="\n".join(self.text) + "\n",
            values=spans,
            line_starts=tuple(starts[:-1]) or (0,),
            cells=tuple(self.cells),
        )
        return Document(self.data, places, Path(f"{book.as_posix()}/{inner}"))


class BookReader:
    """Puts the files of a workbook together, row by row."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.trees: dict[str, _Tree] = {}
        self.wanted: list[tuple[str, SourceLocation, BookSheet]] = []
        self.problems: list[SpecProblem] = []
        self.currency = ""
        self.homes: set[str] = set()
        self.whole: dict[str, Document] = {}

    def documents(self) -> dict[str, Document]:
        """Return the files, by path within.

        Raises
        ------
        SpecError
            With every cell that is wrong.
        """
        for inner, place, sheet in self.wanted:
            if inner not in self.homes:
                home = next(one.name for one in SHEETS if one.kind == sheet.kind and one.rows is Rows.FILE)
                self.problems.append(
                    SpecProblem(place, "", f"no row for '{Path(inner).stem}' on '{home}'. Add one.")
                )
        if self.problems:
            raise SpecError(self.problems)
        made = {inner: tree.document(self.path, inner) for inner, tree in self.trees.items() if tree.data}
        return made | self.whole

    def _refuse(self, grid: Grid, row: int, column: int, message: str) -> None:
        self.problems.append(SpecProblem(self._place(grid, row, column), "", printable(message)))

    def _place(self, grid: Grid, row: int, column: int) -> SourceLocation:
        return SourceLocation(self.path.as_posix(), row, column, cell_name(row, column, grid.name))

    def read(self, sheet: BookSheet, grid: Grid) -> None:
        """Read one sheet; the sheet of the bar comes first."""
        if sheet.rows is Rows.ONE:
            self._read_down(sheet, grid)
            return
        head, found = grid.head(sheet.heads[0])
        if not head:
            if grid.rows:
                self._refuse(grid, min(grid.rows), 1, f"no row of heads. It begins with '{sheet.heads[0]}'.")
            return
        missing = [name for name in sheet.heads if name.lower() not in found]
        if missing:
            self._refuse(grid, head, 1, f"no column headed '{missing[0]}'. Put it back; it may stay empty.")
            return
        columns = {name: found[name.lower()] for name in sheet.heads}
        for row in sorted(grid.rows):
            if row <= head or not grid.rows[row].keys() & set(columns.values()):
                continue
            first = str(grid.rows[row].get(columns[sheet.heads[0]], ""))
            if not first.startswith(EXAMPLE):
                self._read_row(sheet, grid, row, columns)

    def _read_down(self, sheet: BookSheet, grid: Grid) -> None:
        """Read a map whose heads stand in the first column and values in the second."""
        tree = self.trees.setdefault(SHELF, _Tree())
        known = {column.head: column for column in sheet.columns}
        for row in sorted(grid.rows):
            head = str(grid.rows[row].get(1, "")).strip().lower()
            if head in known and 2 in grid.rows[row]:
                column = known[head]
                value = self._value(column, grid, row, 2)
                if value is not None:
                    self._put(tree, (), tree.data, column.key, value, grid, row, 2)
        self.currency = str(tree.data.get("currency", ""))

    def _read_row(self, sheet: BookSheet, grid: Grid, row: int, columns: Mapping[str, int]) -> None:
        inner = SHELF
        if sheet.kind != "shelf":
            typed = self._text(grid, row, columns[FILE])
            if not typed:
                self._refuse(grid, row, columns[FILE], "which file this belongs to is missing. Fill it in.")
                return
            inner = inner_path(sheet.kind, typed)
        place = self._place(grid, row, columns[FILE] if sheet.kind != "shelf" else 1)
        if sheet.rows is Rows.FILE:
            if inner in self.trees:
                self._refuse(grid, row, columns[FILE], f"'{typed}' is there twice. Keep one row.")
                return
            self.homes.add(inner)
            tree = self.trees[inner] = _Tree()
            entry = self._entry(sheet, grid, row, columns, tree, ())
            tree.data = {**entry, **tree.data}
            if sheet.kind in HAS_SHELF:
                if tree.data.get("shelf") == NONE:
                    del tree.data["shelf"]
                else:
                    tree.data.setdefault("shelf", f"{'../' * inner.count('/')}{SHELF}")
            return
        tree = self.trees.setdefault(inner, _Tree())
        if sheet.kind != "shelf":
            self.wanted.append((inner, place, sheet))
        name = ""
        if sheet.name_head:
            name = self._text(grid, row, columns[sheet.name_head])
            if not name:
                self._refuse(grid, row, columns[sheet.name_head], "nothing stands here. Fill it in.")
                return
        self._read_entry(sheet, grid, row, columns, tree, name)

    def _read_entry(
        self, sheet: BookSheet, grid: Grid, row: int, columns: Mapping[str, int], tree: _Tree, name: str
    ) -> None:
        key = sheet.at[0]
        named = (
            row,
            columns.get(sheet.name_head, 1),
            cell_name(row, columns.get(sheet.name_head, 1), grid.name),
        )
        if sheet.rows in (Rows.ITEMS, Rows.MAPS):
            items = tree.data.setdefault(key, [])
            path: KeyPath = (key, len(items))
            tree.note(path, name, named)
            if sheet.rows is Rows.MAPS:
                items.append(self._entry(sheet, grid, row, columns, tree, path))
                return
            entry = self._entry(sheet, grid, row, columns, tree, (*path, name))
            tree.note((*path, name), name, named)
            items.append({name: entry} if entry else name)
            return
        things = tree.data.setdefault(key, {})
        path = (key, name)
        many = sheet.rows is Rows.OFFERS
        if name in things and not many:
            self._refuse(grid, row, named[1], f"'{name}' is there twice. Keep one row.")
            return
        before = things.get(name)
        if many and before is not None:
            if not isinstance(before, list):
                tree.at += [
                    ((key, name, 0, *at[2:]), line) for at, line in tree.at if at[:2] == path and len(at) > 2
                ]
                things[name] = before = [before]
            path = (*path, len(before))
        tree.note((key, name), name, named)
        entry = self._entry(sheet, grid, row, columns, tree, path)
        if not sheet.columns[0].key:
            things[name] = entry.get("", None)
        elif isinstance(before, list):
            before.append(entry)
        else:
            things[name] = entry

    def _entry(
        self,
        sheet: BookSheet,
        grid: Grid,
        row: int,
        columns: Mapping[str, int],
        tree: _Tree,
        path: KeyPath,
    ) -> dict[str, Any]:
        entry: dict[str, Any] = {}
        for column in sheet.columns:
            at = columns[column.head]
            value = self._value(column, grid, row, at)
            if value is not None:
                self._put(tree, path, entry, column.key or ("",), value, grid, row, at)
        at = columns[MORE]
        if text := self._text(grid, row, at):
            more = self._yaml(text, grid, row, at)
            if isinstance(more, dict):
                for key in more:
                    tree.note((*path, key), text, (row, at, cell_name(row, at, grid.name)))
                _join(entry, more)
            elif more is not None:
                self._refuse(grid, row, at, f"must be {{key: value}}, got {text}. Put it in {{}}.")
        return entry

    def _put(
        self,
        tree: _Tree,
        path: KeyPath,
        entry: dict[str, Any],
        key: tuple[str, ...],
        value: Any,
        grid: Grid,
        row: int,
        column: int,
    ) -> None:
        inside = entry
        for part in key[:-1]:
            inside = inside.setdefault(part, {})
        inside[key[-1]] = value
        place = (row, column, cell_name(row, column, grid.name))
        whole = path if key == ("",) else (*path, *key)
        tree.note(whole, value, place)
        for end in range(len(path) + 1, len(whole)):
            if whole[:end] not in [at for at, _ in tree.at]:
                tree.note(whole[:end], value, place)

    def _text(self, grid: Grid, row: int, column: int) -> str:
        value = grid.rows[row].get(column, "")
        if isinstance(value, float) and value.is_integer():
            return str(int(value))
        return str(value).strip()

    def _value(self, column: BookColumn, grid: Grid, row: int, at: int) -> Any:
        """Read a cell; None for an empty one, and for one that is refused."""
        value = grid.rows[row].get(at)
        mark = grid.marks.get((row, at), Mark())
        if mark.error or mark.no_result:
            what = mark.error or "a formula saved without its result"
            self._refuse(grid, row, at, f"{column.head}: {what}. Type the value.")
            return None
        try:
            return typed(column, value, self.currency, mark.shown_as, knows_formats=grid.knows_formats)
        except ValueError as error:
            self._refuse(grid, row, at, f"{column.head}: {error}")
            return None

    def _yaml(self, text: str, grid: Grid, row: int, column: int) -> Any:
        try:
            return load_document(f"value: {text}\n").data["value"]
        except SpecError as error:
            told = " ".join(problem.message for problem in error.problems)
            self._refuse(grid, row, column, f"cannot be read: {told}")
            return None

    def read_rest(self, grid: Grid) -> None:
        """Read whole files of other kinds, and keys of files that no sheet is for."""
        head, columns = grid.head(FILE)
        if not head:
            return
        whole: dict[str, list[str]] = {}
        for row in sorted(grid.rows):
            if row <= head:
                continue
            inner = self._text(grid, row, columns[FILE])
            key = self._text(grid, row, columns["key"])
            at = columns["as in a file"]
            text = str(grid.rows[row].get(at, ""))
            if not inner or inner.startswith(EXAMPLE):
                continue
            if not key:
                whole.setdefault(inner, []).append(text)
                continue
            tree = self.trees.setdefault(inner, _Tree())
            value = self._yaml(text, grid, row, at) if text else None
            if value is not None:
                tree.data[key] = value
                tree.note((key,), text, (row, at, cell_name(row, at, grid.name)))
        for inner, parts in whole.items():
            try:
                document = load_document("\n".join(parts) + "\n", f"{self.path.as_posix()}/{inner}")
            except SpecError as error:
                self.problems += error.problems
                continue
            self.whole[inner] = replace(document, path=Path(f"{self.path.as_posix()}/{inner}"))


def _join(entry: dict[str, Any], more: Mapping[str, Any]) -> None:
    for key, value in more.items():
        there = entry.get(key)
        if isinstance(there, dict) and isinstance(value, dict):
            _join(there, value)
        else:
            entry[key] = value
