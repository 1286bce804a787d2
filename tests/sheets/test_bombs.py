"""Workbooks made to fill a memory or a day: each is refused in two seconds and 300 MB."""

from __future__ import annotations

import json
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import ROOT
from making import book_file, long_book, shelf_file

from formulate.errors import SpecError
from formulate.files.listed_shelf import load_shelf

REFUSED_WITHIN_S = 2.0
REFUSED_WITHIN_MB = 300.0
SHEET = "xl/worksheets/sheet1.xml"
TEXTS = "xl/sharedStrings.xml"
LINKS = "xl/_rels/workbook.xml.rels"
Parts = dict[str, bytes]

READ = r"""
import json, re, sys, time
from pathlib import Path
from formulate.errors import SpecError
from formulate.files.listed_shelf import load_shelf
began, told = time.process_time(), "read"
try:
    load_shelf(sys.argv[1])
except SpecError as error:
    told = error.problems[0].message
took = time.process_time() - began
status = Path("/proc/self/status")
peak_kb = re.search(r"VmHWM:\s*(\d+)", status.read_text())[1] if status.exists() else 0
print(json.dumps([told, took, int(peak_kb) / 1024]))
"""


def _parts(path: Path) -> Parts:
    with zipfile.ZipFile(book_file(path, above=0)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def _cells(parts: Parts, cells: bytes) -> Parts:
    return parts | {SHEET: parts[SHEET].replace(b"</sheetData>", cells + b"</sheetData>")}


def _value(place: str, value: str = "1", kind: str = "n") -> bytes:
    where = f' r="{place}"' if place else ""
    return f'<c{where} t="{kind}"><v>{value}</v></c>'.encode()


def _written(path: Path, parts: Parts, method: int = zipfile.ZIP_DEFLATED) -> None:
    with zipfile.ZipFile(path, "w", method) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)


def _unpacks_to_much_more(path: Path) -> None:
    _written(path, _parts(path))
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as packed, packed.open("xl/more.xml", "w") as more:
        for _ in range(200):
            more.write(bytes(1_000_000))


def _says_it_is_small(path: Path) -> None:
    parts = _cells(_parts(path), b" " * 150_000_000)
    _written(path, parts)
    raw = path.read_bytes()
    size = len(parts[SHEET]).to_bytes(4, "little")
    assert raw.count(size) == 2, "in its own head and in the directory"
    path.write_bytes(raw.replace(size, (4000).to_bytes(4, "little")))


def _far_corner(path: Path) -> None:
    _written(path, _cells(_parts(path), b"<row>" + _value("XFD1048576") + b"</row>"))


def _far_corner_in_prefixed_tags(path: Path) -> None:
    cells = b"<x:row><x:c s='0' r = 'XFD1048576'><x:v>1</x:v></x:c></x:row>"
    parts = _cells(_parts(path), cells)
    parts[SHEET] = parts[SHEET].replace(b"<worksheet ", b'<worksheet xmlns:x="urn:x" ')
    _written(path, parts)


def _places_that_follow_from_order(path: Path) -> None:
    row = b"<row>" + b"".join([_value("")] * 16_384) + b"</row>"
    _written(path, _cells(_parts(path), b'<row r="1048575"/>' + row))


def _with_texts(parts: Parts, texts: list[bytes]) -> Parts:
    """Add the part that cells take their texts from by number."""
    kind = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings"
    link = b'<Relationship Id="texts" Type="%s" Target="sharedStrings.xml"/></Relationships>' % kind
    namespace = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    every = b"".join(b"<si><t>%s</t></si>" % text for text in texts)
    return parts | {
        LINKS: parts[LINKS].replace(b"</Relationships>", link),
        TEXTS: b'<sst xmlns="%s">%s</sst>' % (namespace, every),
    }


def _one_long_text_in_every_cell(path: Path) -> None:
    rows = [b'<row r="%d">%s</row>' % (row, _value(f"A{row}", "1", "s")) for row in range(9, 99_999)]
    parts = _with_texts(_cells(_parts(path), b"".join(rows)), [b"short", b"x" * 30_000])
    _written(path, parts)


def _nothing_but_cells(path: Path) -> None:
    row = b"<row>" + b"<c/>" * 10_000 + b"</row>"
    _written(path, _cells(_parts(path), row * 2_400))


def _two_parts_of_one_name(path: Path) -> None:
    parts = _parts(path)
    _written(path, parts)
    with zipfile.ZipFile(path, "a") as packed:
        packed.writestr(SHEET.upper(), parts[SHEET])


def _packed_in_a_way_that_is_not_allowed(path: Path) -> None:
    _written(path, _parts(path), zipfile.ZIP_LZMA)


def _many_parts(path: Path) -> None:
    _written(path, _parts(path) | {f"xl/{number}": b"" for number in range(30_000)})


BOMBS: list[tuple[Callable[[Path], None], str]] = [
    (_unpacks_to_much_more, "too large unpacked"),
    (_says_it_is_small, "damaged"),
    (_far_corner, "too many cells"),
    (_far_corner_in_prefixed_tags, "too many cells"),
    (_places_that_follow_from_order, "too many cells"),
    (_one_long_text_in_every_cell, "too large unpacked"),
    (_nothing_but_cells, "too many cells"),
    (_two_parts_of_one_name, "damaged"),
    (_packed_in_a_way_that_is_not_allowed, "damaged"),
    (_many_parts, "too large unpacked"),
]


@pytest.mark.parametrize(("make", "words"), BOMBS, ids=lambda case: getattr(case, "__name__", ""))
def test_a_bomb_is_refused_before_it_grows(make: Callable[[Path], None], words: str, tmp_path: Path) -> None:
    make(tmp_path / "list.xlsx")
    command = [sys.executable, "-c", READ, str(shelf_file(tmp_path, "list.xlsx"))]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True, cwd=ROOT)
    told, took_s, peak_mb = json.loads(done.stdout)
    assert words in told
    assert took_s < REFUSED_WITHIN_S
    assert peak_mb < REFUSED_WITHIN_MB


def test_a_formatted_cell_far_below_is_no_bomb(tmp_path: Path) -> None:
    """Spreadsheets leave such cells behind where somebody formatted whole columns."""
    ghosts = b'<row r="1048576">' + b"".join(
        f'<c r="{letter}1048576" s="0"/>'.encode() for letter in "ABCXYZ"
    )
    path = tmp_path / "list.xlsx"
    _written(path, _cells(_parts(path), ghosts + b"</row>"))
    assert load_shelf(shelf_file(tmp_path, "list.xlsx")).offers["vodka-40"][0].price.value == 9.40


def test_texts_that_many_cells_share_are_read(tmp_path: Path) -> None:
    """With one long text among them, so that the sum of all has to be worked out."""
    row = _value("B9", "0", "s") + _value("C9", "1", "s") + _value("D9", "2", "s")
    more = [b'<row r="%d">%s</row>' % (row, _value(f"A{row}", "3", "s")) for row in range(10, 900)]
    cells = b'<row r="9">' + row + b"</row>" + b"".join(more)
    texts = [b"Plum &amp; sloe 25", b"50 cl", b"7.30", b"x" * 30_000]
    _written(tmp_path / "list.xlsx", _with_texts(_cells(_parts(tmp_path / "list.xlsx"), cells), texts))
    path = shelf_file(tmp_path, "list.xlsx")
    path.write_text(path.read_text("utf-8").replace("gin-40: Dry gin 40", "sloe: Plum & sloe 25"), "utf-8")
    assert load_shelf(path).offers["sloe"][0].price.value == 7.30


def test_a_list_of_many_rows_is_none_either(tmp_path: Path) -> None:
    long_book(tmp_path / "list.xlsx", 30_000)
    with pytest.raises(SpecError, match="no row for 'Vodka grain 40'"):
        load_shelf(shelf_file(tmp_path, "list.xlsx"))
