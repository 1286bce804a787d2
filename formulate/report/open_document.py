"""OpenDocument spreadsheets (ISO/IEC 26300) to fill in: text and figures, notes, lists to choose from."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from formulate.report.workbook import CREATOR, ROOM_ROWS, FillIn, Value, safe_text

__all__ = ["Sheet", "spreadsheet"]

MIME = "application/vnd.oasis.opendocument.spreadsheet"
SPACES = " ".join(
    f'xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for short, name in (
        ("office", "office"),
        ("table", "table"),
        ("text", "text"),
        ("style", "style"),
        ("fo", "xsl-fo-compatible"),
        ("meta", "meta"),
        ("manifest", "manifest"),
    )
)
EPOCH = (1980, 1, 1, 0, 0, 0)
"""No day in the file: the same folder gives the same bytes."""


class Sheet(NamedTuple):
    """A sheet to fill in; as `sheet_to_fill`."""

    name: str
    about: str
    heads: Sequence[FillIn]
    rows: Sequence[Sequence[Value]]
    example: Sequence[Value] | None = None


def spreadsheet(title: str, sheets: Sequence[Sheet]) -> bytes:
    """Write a spreadsheet."""
    lists: list[str] = []
    tables = "".join(_table(sheet, lists) for sheet in sheets)
    head = '<?xml version="1.0" encoding="UTF-8"?>'
    content = (
        f'{head}<office:document-content {SPACES} office:version="1.3"><office:automatic-styles>'
        '<style:style style:name="bold" style:family="table-cell">'
        '<style:text-properties fo:font-weight="bold"/></style:style>'
        '<style:style style:name="grey" style:family="table-cell">'
        '<style:text-properties fo:color="#767676" fo:font-style="italic"/></style:style>'
        "</office:automatic-styles><office:body>"
        f"<office:spreadsheet><table:content-validations>{''.join(lists)}</table:content-validations>"
        f"{tables}</office:spreadsheet></office:body></office:document-content>"
    )
    meta = (
        f'{head}<office:document-meta {SPACES} office:version="1.3"><office:meta>'
        f"<meta:initial-creator>{CREATOR}</meta:initial-creator>"
        f"<meta:keyword>{escape(safe_text(title))}</meta:keyword></office:meta></office:document-meta>"
    )
    parts = "".join(
        f'<manifest:file-entry manifest:full-path="{path}" manifest:media-type="{kind}"/>'
        for path, kind in (("/", MIME), ("content.xml", "text/xml"), ("meta.xml", "text/xml"))
    )
    manifest = f'{head}<manifest:manifest {SPACES} manifest:version="1.3">{parts}</manifest:manifest>'
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr(zipfile.ZipInfo("mimetype", EPOCH), MIME, zipfile.ZIP_STORED)
        for name, text in (("content.xml", content), ("meta.xml", meta), ("META-INF/manifest.xml", manifest)):
            packed.writestr(zipfile.ZipInfo(name, EPOCH), text, zipfile.ZIP_DEFLATED)
    return written.getvalue()


def _table(sheet: Sheet, lists: list[str]) -> str:
    names = [_list(head, lists) for head in sheet.heads]
    top = _row([_cell(sheet.name, "bold")]) + _row([_cell(sheet.about)])
    heads = _row([_cell(head.head, "bold", note=head.note) for head in sheet.heads])
    shown = list(sheet.rows) if sheet.example is None else [sheet.example]
    style = "" if sheet.example is None else "grey"
    body = "".join(
        _row([_cell(value, style, names[column]) for column, value in enumerate(row)]) for row in shown
    )
    room = ROOM_ROWS - len(shown)
    free = _row([_cell(None, "", name) for name in names], repeated=room) if any(names) else ""
    return f"<table:table table:name={quoteattr(sheet.name)}>{top}{heads}{body}{free}</table:table>"


def _list(head: FillIn, lists: list[str]) -> str:
    """Write what a column may be chosen from, and return its name."""
    if not head.choices:
        return ""
    name = f"list{len(lists)}"
    if head.choices.startswith('"'):
        words = ";".join(f'"{word}"' for word in head.choices.strip('"').split(","))
        among = f"of:cell-content-is-in-list({words})"
    else:
        where, _, cells = head.choices.partition("!")
        first, _, last = cells.partition(":")
        among = f"of:cell-content-is-in-list([${where}.{first}:{last}])"
    stops = "false" if head.offers else "true"
    lists.append(
        f"<table:content-validation table:name={quoteattr(name)} table:condition={quoteattr(among)} "
        f'table:allow-empty-cell="true" table:display-list="unsorted"><table:error-message '
        f'table:display="{stops}" table:message-type="stop"/></table:content-validation>'
    )
    return name


def _row(cells: Sequence[str], repeated: int = 1) -> str:
    often = f' table:number-rows-repeated="{repeated}"' if repeated > 1 else ""
    return f"<table:table-row{often}>{''.join(cells)}</table:table-row>"


def _cell(value: Value, style: str = "", chosen: str = "", note: str = "") -> str:
    marks = f' table:style-name="{style}"' if style else ""
    marks += f' table:content-validation-name="{chosen}"' if chosen else ""
    said = f"<office:annotation>{_paragraph(note)}</office:annotation>" if note else ""
    if value is None or value == "":
        return f"<table:table-cell{marks}>{said}</table:table-cell>"
    if isinstance(value, str):
        text = _paragraph(value)
        return f'<table:table-cell{marks} office:value-type="string">{said}{text}</table:table-cell>'
    return (
        f'<table:table-cell{marks} office:value-type="float" office:value="{value!r}">{said}'
        f"<text:p>{value:g}</text:p></table:table-cell>"
    )


def _paragraph(text: str) -> str:
    """Write a text; blanks at its beginning, or several in a row, are one in this format unless counted."""
    kept = re.sub(
        r"^ +|(?<= ) +", lambda found: f'<text:s text:c="{len(found[0])}"/>', escape(safe_text(text))
    )
    return f"<text:p>{kept}</text:p>"
