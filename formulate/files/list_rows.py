"""From a price list to offers: which rows are ours, what stands in them, and what is wrong with it and where.

A row that is asked for counts whole or not at all; what nobody asked for is only counted.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice
from pathlib import Path

from formulate.errors import SourceLocation, SpecProblem
from formulate.files.disk import resolved
from formulate.files.fields import did_you_mean
from formulate.files.issues import KeyPath, Places, printable
from formulate.files.list_cells import Head, RowCells, RowValues, cell_text
from formulate.files.located import note_file
from formulate.files.price_list import PriceList, column_letters, same_text
from formulate.files.sheets import open_table
from formulate.files.tables import Row, Table, TableError, cell_name, letters_of, number_of

__all__ = ["ListRow", "ListedRows", "read_list"]

HEAD_WITHIN = 100
"""A head stands among so many rows from the top."""
NEAREST_AMONG = 200
LISTS_KEPT = 64


@dataclass(frozen=True, slots=True)
class ListRow:
    """A row that was asked for, read.

    Attributes
    ----------
    name : str
        Our id.
    product : str
        As the list writes it.
    place : SourceLocation
        Of its product cell.
    """

    name: str
    product: str
    place: SourceLocation
    values: RowValues


@dataclass(frozen=True)
class ListedRows:
    """A list, read.

    Attributes
    ----------
    file : str
        As the shelf's own path with the list's beside it.
    sheet : str
        Empty for a text file.
    how : str
        How the file was read, in words.
    rows : tuple of ListRow
        Asked for and right, from the top.
    unused : int
        Rows with something in them that nobody asked for.
    problems : tuple of SpecProblem
        What is wrong; with any, nothing of the list is to be used.
    """

    file: str
    sheet: str
    how: str
    rows: tuple[ListRow, ...]
    unused: int
    problems: tuple[SpecProblem, ...]


def read_list(given: PriceList, number: int, places: Places, path: Path, currency: str) -> ListedRows:
    """Read one price list of a shelf.

    Parameters
    ----------
    number : int
        Which one of the shelf, from 0.
    places : Places
        Of the shelf file.
    path : Path
        Of the list.
    currency : str
        Of the shelf.

    Returns
    -------
    ListedRows
        With everything that is wrong; nothing is raised.
    """
    try:
        stamp = path.stat()
        note_file(path)
        read = _as_it_stands(given, resolved(path), currency, stamp.st_mtime_ns, stamp.st_size)
    except OSError:
        read = _as_it_is(given, path, currency)
    file = path.as_posix()
    at_keys = tuple(
        places.problem(("price_lists", number, *_known(places, number, key)), f"{file}: {message}")
        for key, message in read.at_keys
    )
    in_cells = tuple(
        replace(problem, location=replace(problem.location, file=file))
        for problem in read.in_cells
        if problem.location is not None
    )
    rows = tuple(replace(row, place=replace(row.place, file=file)) for row in read.rows)
    return ListedRows(file, read.sheet, read.how, rows, read.unused, (*at_keys, *in_cells))


def _known(places: Places, number: int, key: KeyPath) -> KeyPath:
    """Return the way to a value of a list in the shelf file; one product alone has no number."""
    return key if ("price_lists", number, *key) in places.values else key[:-1] if len(key) > 2 else key


@dataclass(frozen=True)
class _Read:
    """A list as it stands: problems of its cells, and of keys in the shelf file that names it."""

    sheet: str
    how: str
    rows: tuple[ListRow, ...]
    unused: int
    in_cells: tuple[SpecProblem, ...]
    at_keys: tuple[tuple[KeyPath, str], ...]


@lru_cache(maxsize=LISTS_KEPT)
def _as_it_stands(given: PriceList, path: Path, currency: str, changed_ns: int, size: int) -> _Read:
    """Read a list once until it changes: a menu opens its shelf for each of its bottles."""
    del changed_ns, size
    return _as_it_is(given, path, currency)


def _as_it_is(given: PriceList, path: Path, currency: str) -> _Read:
    try:
        return _Reader(given, path, currency).read()
    except TableError as error:
        return _Read("", "", (), 0, (), (((error.about,), str(error)),))


class _Reader:
    def __init__(self, given: PriceList, path: Path, currency: str) -> None:
        self.given, self.path, self.currency = given, path, currency
        self.problems: list[SpecProblem] = []
        self.at_keys: list[tuple[KeyPath, str]] = []
        self.sheet = ""
        self.wanted = {
            same_text(item.product): (name, index, item)
            for name, items in given.items.items()
            for index, item in enumerate(items)
        }

    def read(self) -> _Read:
        tables = open_table(self.path, self.given.sheet, self.given.separator)
        table, head = self._table_and_head(tables)
        self.sheet = table.name
        found: dict[str, list[Row]] = {key: [] for key in self.wanted}
        others: list[str] = []
        product = head.columns["product"]
        for row in table.rows():
            text = cell_text(row[1].get(product)) if row[0] > head.row else ""
            mine = found.get(same_text(text)) if text else None
            if mine is not None:
                mine.append(row)
            elif text:
                others.append(text)
        rows = self._rows(table, head, found)
        missing = [key for key, met in found.items() if not met]
        if missing:
            self._missing(missing, others)
        problems = tuple(dict.fromkeys(self.problems))
        return _Read(table.name, table.how, rows, len(others), problems, tuple(self.at_keys))

    def _table_and_head(self, tables: tuple[Table, ...]) -> tuple[Table, Head]:
        """Find the head; of the ways to part a text file the one under which there is one."""
        heads: list[tuple[Table, Head]] = []
        refused: list[tuple[float, TableError]] = []
        for table in tables:
            try:
                heads.append((table, self._head(table)))
            except _HeadError as error:
                refused.append((error.met, error))
            except TableError as error:
                refused.append((0.5, error))  # says more than a way to part cells under which nothing fits
        if not heads:
            raise max(refused, key=lambda one: one[0])[1]
        widest = max(head.filled for _, head in heads)
        widest_heads = [(table, head) for table, head in heads if head.filled == widest]
        if len(heads) > 1 and (len(widest_heads) > 1 or widest <= 1):
            raise TableError(
                "what parts its cells is not plain. Add `separator: semicolon`, comma or tab.", "file"
            )
        return widest_heads[0]

    def _head(self, table: Table) -> Head:
        named = self.given.columns.named()
        by_letter = {
            field: number_of(name) for field, text in named.items() if (name := column_letters(text))
        }
        by_text = {field: same_text(text) for field, text in named.items() if field not in by_letter}
        top = [row for row in islice(table.rows(), HEAD_WITHIN) if row[0] <= HEAD_WITHIN]
        width = max((len(cells) for _, cells in top), default=0)
        if width == 0:
            raise TableError(
                "the sheet is empty. Check which one is meant." if table.name else "it is empty."
            )
        if not by_text:
            return Head(by_letter, 0, width, 0)
        best, most = top[0], -1
        for row in top:
            texts = {column: same_text(cell_text(cell)) for column, cell in row[1].items()}
            met = sum(text in texts.values() for text in by_text.values())
            if met > most:
                best, most = row, met
            if met == len(by_text):
                return self._head_at(table, row[0], texts, by_letter, by_text)
        there = [cell_text(cell) for cell in best[1].values()]
        same = {same_text(text) for text in there}
        missing = [named[field] for field, text in by_text.items() if text not in same]
        near = did_you_mean(missing[0], there, list_up_to=0)
        where = f"Row {best[0]} has {', '.join(there[:12])}." if most > 0 else ""
        heads = f"head{'s' if len(missing) > 1 else ''} {', '.join(f'{one!r}' for one in missing)}"
        parts = [f"no row among the first {HEAD_WITHIN} has the {heads}.", where, near]
        advice = "Write it as it stands there, or as `column C`."
        raise _HeadError(" ".join([*filter(None, parts), advice]), most)

    def _head_at(
        self,
        table: Table,
        row: int,
        texts: dict[int, str],
        by_letter: dict[str, int],
        by_text: dict[str, str],
    ) -> Head:
        columns = dict(by_letter)
        for field, text in by_text.items():
            met = [column for column, there in texts.items() if there == text]
            if len(met) > 1:
                names = " and ".join(cell_name(row, column, table.name) for column in met)
                raise _HeadError(
                    f"the head '{getattr(self.given.columns, field)}' stands twice, in {names}. "
                    f"Write `column {letters_of(met[0])}` for the one meant.",
                    len(by_text),
                )
            columns[field] = met[0]
        return Head(columns, row, len(texts), max(texts))

    def _rows(self, table: Table, head: Head, found: Mapping[str, list[Row]]) -> tuple[ListRow, ...]:
        self._refuse_merged_head(head, table)
        read: list[ListRow] = []
        marks = table.marks([row[0] for rows in found.values() for row in rows])
        for key, rows in found.items():
            name, _, item = self.wanted[key]
            if len(rows) > 1:
                product = head.columns["product"]
                where = [cell_name(row[0], product, table.name) for row in rows]
                for row, here in zip(rows, where, strict=True):
                    others = ", ".join(other for other in where if other != here)
                    message = f"'{item.product}' stands in {others} too. Which one holds? Keep one row."
                    self._refuse(name, row[0], product, message)
                continue
            for row in rows:
                merged = table.merged if table.name else None
                cells = RowCells(self.given, self.currency, head, item, row, marks, merged)
                values = cells.read()
                if values is not None:
                    place = self.place(row[0], head.columns["product"])
                    read.append(ListRow(name, item.product, place, values))
                for refused in cells.refused:
                    column = head.columns.get(refused.field, head.columns["product"])
                    self._refuse(name, row[0], column, str(refused))
        return tuple(sorted(read, key=lambda one: one.place.line))

    def _refuse_merged_head(self, head: Head, table: Table) -> None:
        for field, column in head.columns.items():
            for merged in table.merged:
                if merged.holds(head.row, column) and merged.last_column > merged.first_column:
                    raise _HeadError(
                        f"the head of {field} is merged over {merged} and may mean each column under it. "
                        f"Write `column {letters_of(column)}` for the one meant.",
                        len(head.columns),
                    )

    def place(self, row: int, column: int) -> SourceLocation:
        return SourceLocation(self.path.as_posix(), row, column, cell_name(row, column, self.sheet))

    def _refuse(self, name: str, row: int, column: int, message: str) -> None:
        self.problems.append(SpecProblem(self.place(row, column), name, printable(message)))

    def _missing(self, keys: list[str], others: list[str]) -> None:
        for key in keys:
            name, index, item = self.wanted[key]
            where = f" in sheet {self.sheet}" if self.sheet else ""
            message = f"no row for '{item.product}'{where}. {_nearest(item.product, others)}"
            self.at_keys.append((("items", name, index), message))


class _HeadError(TableError):
    """No head; `met` is how much of it was there."""

    def __init__(self, message: str, met: int) -> None:
        self.met = met
        super().__init__(message, "columns")


def _nearest(product: str, others: list[str]) -> str:
    """Say which product of the list is written most alike; only those that share words are looked at."""
    words = set(same_text(product).split())
    ranked = sorted(
        {other for other in others if words & set(same_text(other).split())},
        key=lambda other: (-len(words & set(same_text(other).split())), len(other), other),
    )
    near = difflib.get_close_matches(product, ranked[:NEAREST_AMONG], n=1, cutoff=0.5)
    return f"Nearest there: '{near[0]}'." if near else "Write it as it stands there."
