"""Lists for the tests, made as suppliers make them: workbooks and text files, whole and spoilt."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

HEAD = ("No.", "Article", "Size", "Net price", "Stock")
ROWS: list[tuple[Any, ...]] = [
    (1040, "Vodka grain 40", "70 cl", 9.40, "4 bottles"),
    (1052, "Dry gin 40", "70 cl", 15.90, None),
    (1306, "Neutral spirit 96", "1 L", 23.50, "0.5 L"),
    (2201, "Vermouth sweet 15", "1 L", 9.80, None),
]
SHELF = """\
name: A shelf with a list
currency: EUR
offers:
  white-sugar: {{pack: 1 kg, price: 1.15 EUR, supplier: harbour supplies}}
price_lists:
  - file: {file}
    supplier: north cellar
    columns: {{product: Article, pack: Size, price: Net price, on_hand: Stock}}
    currency: EUR
    items: {{vodka-40: Vodka grain 40, gin-40: Dry gin 40}}
{more}"""

Spoil = Callable[[Any], None]


def shelf_file(folder: Path, file: str, more: str = "") -> Path:
    """Write a shelf that asks for two rows of a list beside it."""
    path = folder / "shelf.yaml"
    path.write_text(SHELF.format(file=file, more=more), encoding="utf-8")
    return path


def book_file(
    path: Path,
    spoil: Spoil | None = None,
    rows: Sequence[tuple[Any, ...]] = ROWS,
    sheet: str = "Prices",
    above: int = 2,
) -> Path:
    """Write a workbook with some rows above its head, and let it be spoilt."""
    from openpyxl import Workbook

    book = Workbook()
    page = book.worksheets[0]
    page.title = sheet
    for _ in range(above):
        page.append(["North cellar, prices"])
    for row in (HEAD, *rows):
        page.append(list(row))
    if spoil is not None:
        spoil(page)
    book.save(path)
    return path


def text_file(path: Path, separator: str = ";", coding: str = "utf-8", decimal: str = ",") -> Path:
    """Write the same rows as a text file, numbers with a decimal comma."""

    def cell(value: Any) -> str:
        return f"{value:.2f}".replace(".", decimal) if isinstance(value, float) else str(value or "")

    lines = [separator.join(f'"{cell(one)}"' for one in row) for row in (HEAD, *ROWS)]
    path.write_bytes("\r\n".join(["Café prices €", *lines, ""]).encode(coding))
    return path


def long_book(path: Path, rows: int) -> Path:
    """Write a workbook of many rows, quicker than a library would."""
    book_file(path, rows=[], above=0)
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    cells = "".join(
        f'<row r="{row}"><c r="A{row}"><v>{row}</v></c>'
        f'<c r="B{row}" t="inlineStr"><is><t>Thing {row}, grain 40</t></is></c>'
        f'<c r="C{row}" t="inlineStr"><is><t>70 cl</t></is></c>'
        f'<c r="D{row}"><v>{5 + row % 1000 / 100}</v></c>'
        f'<c r="E{row}"><v>{row % 40}</v></c></row>'
        for row in range(2, rows + 2)
    )
    name = "xl/worksheets/sheet1.xml"
    parts[name] = parts[name].replace(b"</sheetData>", cells.encode() + b"</sheetData>")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for part, content in parts.items():
            packed.writestr(part, content)
    return path
