"""Files laid out as rows of a workbook: nothing is lost, what fits no cell stands as in a file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from os.path import normpath
from typing import Any

from formulate.files.book_cells import Cell, cell_of
from formulate.files.book_layout import EXAMPLE, FILE, FOLDERS, BookSheet, Rows, folder_of
from formulate.files.book_sheets import SHEETS
from formulate.files.editing import in_one_line

__all__ = ["HAS_SHELF", "NONE", "REST_HEADS", "SHELF", "SheetRows", "as_text", "inner_path", "rows_of"]

NONE = "-"
"""Stands where a file says nothing though the workbook has a usual value."""
SHELF = "shelf.yaml"
LONGEST_CELL = 32_000
HAS_SHELF = frozenset({"bottle", "drink", "menu"})
"""Kinds of file that name the shelf of the workbook unless they say otherwise."""


def inner_path(kind: str, typed: str) -> str:
    """Return the path within of a file as its rows name it."""
    if "/" in typed:
        return normpath(f"{typed}.yaml").replace("\\", "/")
    return f"{folder_of(kind)}/{typed}.yaml"


def _named(kind: str, inner: str) -> str:
    """Name a file as its rows do; the other way round of `inner_path`."""
    folder, _, name = inner.rpartition("/")
    stem = name.removesuffix(".yaml")
    if folder == folder_of(kind):
        return stem
    return f"{folder or '.'}/{stem}"


@dataclass(frozen=True)
class SheetRows:
    """What stands on one sheet.

    Attributes
    ----------
    sheet : BookSheet or None
        None for the sheet of the rest.
    rows : tuple of tuple
        Cells of each, as the heads have them; of a map read down its values alone.
    """

    sheet: BookSheet | None
    rows: tuple[tuple[Cell, ...], ...]


REST_HEADS = (FILE, "key", "as in a file")


def rows_of(files: Mapping[str, tuple[str, Mapping[str, Any], str]]) -> tuple[SheetRows, ...]:
    """Lay files out in rows.

    Parameters
    ----------
    files : mapping of str to (kind, tree, text)
        By path within the folder, forward slashes.
    """
    rows: dict[str, list[tuple[Cell, ...]]] = {sheet.name: [] for sheet in SHEETS}
    rest: list[tuple[Cell, ...]] = []
    shelf = files.get(SHELF, ("", {}, ""))[1]
    currency = str(shelf.get("currency", ""))
    for inner, (kind, tree, text) in files.items():
        if kind not in (*FOLDERS, "shelf") or (kind == "shelf" and inner != SHELF):
            plain = all(line.isprintable() and len(line) < LONGEST_CELL for line in text.splitlines())
            rest += [(inner, None, line) for line in (text if plain else as_text(tree)).splitlines()]
            continue
        left = dict(tree)
        for sheet in SHEETS:
            if sheet.kind == kind and sheet.at and sheet.at[0] in left:
                made = _child_rows(sheet, inner, left[sheet.at[0]], currency)
                if made is not None:
                    rows[sheet.name] += made
                    del left[sheet.at[0]]
        whole = next(sheet for sheet in SHEETS if sheet.kind == kind and not sheet.at)
        if kind == "shelf":
            cells, more = _cells(whole, left, currency)
            rows[whole.name] = [(cell,) for cell in cells]
            rest += [(inner, key, in_one_line(value)) for key, value in more.items()]
            continue
        if kind in HAS_SHELF:
            usual = f"{'../' * inner.count('/')}{SHELF}"
            left["shelf"] = left.get("shelf", NONE)
            if left["shelf"] == usual:
                del left["shelf"]
        cells, more = _cells(whole, left, currency)
        rows[whole.name].append((_named(kind, inner), *cells, in_one_line(more) if more else None))
    made_rows = [SheetRows(sheet, tuple(rows[sheet.name])) for sheet in SHEETS]
    return (*made_rows, SheetRows(None, tuple(rest)))


def as_text(tree: Mapping[str, Any]) -> str:
    """Write a file anew: a key a line, what a map or a list holds a line each."""
    lines = []
    for key, value in tree.items():
        if isinstance(value, dict) and value:
            lines.append(f"{key}:")
            lines += [f"  {in_one_line(name)}: {in_one_line(item)}" for name, item in value.items()]
        elif isinstance(value, list) and value:
            lines.append(f"{key}:")
            lines += [f"  - {_item(item)}" for item in value]
        else:
            lines.append(f"{key}: {in_one_line(value)}")
    return "\n".join(lines) + "\n"


def _item(value: Any) -> str:
    if isinstance(value, dict) and len(value) == 1:
        name, inside = next(iter(value.items()))
        return f"{in_one_line(name)}: {in_one_line(inside)}"
    return in_one_line(value)


def _child_rows(sheet: BookSheet, inner: str, value: Any, currency: str) -> list[tuple[Cell, ...]] | None:
    """Lay a list or a map out in rows; None where it is no such thing."""
    file = () if sheet.kind == "shelf" else (_named(sheet.kind, inner),)
    made: list[tuple[Cell, ...]] = []
    for name, entry in _entries(sheet, value):
        if entry is None:
            return None
        cells, more = _cells(sheet, entry, currency)
        named = (name,) if sheet.name_head else ()
        if sheet.name_head and (name != name.strip() or not name.isprintable() or name.startswith(EXAMPLE)):
            return None
        made.append((*file, *named, *cells, in_one_line(more) if more else None))
    return made or None


def _stands_in_a_cell(name: str) -> bool:
    return name == name.strip() and name.isprintable() and not name.startswith(EXAMPLE)


def _entries(sheet: BookSheet, value: Any) -> Iterator[tuple[str, dict[str, Any] | None]]:
    """Give each entry with its name; None for one that is no such thing."""
    if sheet.rows is Rows.MAPS and isinstance(value, list):
        yield from (("", one if isinstance(one, dict) else None) for one in value)
    elif sheet.rows is Rows.ITEMS and isinstance(value, list):
        for one in value:
            if isinstance(one, str):
                yield one, {}
            elif isinstance(one, dict) and len(one) == 1:
                name, inside = next(iter(one.items()))
                if sheet.kind == "drink" and isinstance(inside, str):
                    inside = {"amount": inside}
                yield name, ({} if inside is None else inside if isinstance(inside, dict) else None)
            else:
                yield "", None
    elif sheet.rows in (Rows.MAP, Rows.OFFERS) and isinstance(value, dict):
        for name, inside in value.items():
            if not sheet.columns[0].key:
                yield name, ({"": inside} if isinstance(inside, str) else None)
            elif isinstance(inside, list) and sheet.rows is Rows.OFFERS:
                yield from ((name, one if isinstance(one, dict) else None) for one in inside)
            else:
                yield name, inside if isinstance(inside, dict) else None
    else:
        yield "", None


def _cells(sheet: BookSheet, entry: Mapping[str, Any], currency: str) -> tuple[list[Cell], dict[str, Any]]:
    """Return the cells of an entry, and what of it stands in none."""
    more: dict[str, Any] = _copy(entry)
    cells: list[Cell] = []
    for column in sheet.columns:
        key = column.key or ("",)
        inside: Any = more
        for part in key[:-1]:
            inside = inside.get(part) if isinstance(inside, dict) else None
        value = inside.get(key[-1]) if isinstance(inside, dict) else None
        cell = None if value is None else cell_of(column, value, currency)
        cells.append(cell)
        if cell is not None:
            del inside[key[-1]]
            if len(key) > 1 and not inside:
                del more[key[0]]
    return cells, more


def _copy(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _copy(item) for key, item in value.items()}
    return [_copy(item) for item in value] if isinstance(value, list) else value
