"""Plain text of at most 80 columns: tables, bullets and paragraphs, for records of measuring."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from formulate.errors import VESSEL_TOO_SMALL, Note

if TYPE_CHECKING:
    from formulate.blend.flavour import FlavourPart
    from formulate.describe.records import BarMeasure

__all__ = [
    "AT",
    "WIDTH",
    "flavour_line",
    "flavour_short",
    "grouped_table",
    "measured_at",
    "notes_text",
    "paragraph",
    "shortened",
    "table_text",
    "too_small_lines",
]

WIDTH = 80
LEADING_FLAVOURS, MOST_FLAVOURS = 3, 4
"""Flavours named on a first screen; named beside the one that leads."""
AT = "Volumes are at 20 °C."


def table_text(rows: Sequence[Sequence[str]], right: Iterable[int] = ()) -> list[str]:
    """Lay out rows in columns two blanks apart.

    Parameters
    ----------
    rows : sequence of sequence of str
        The first is the head.
    right : iterable of int
        Columns set to the right.
    """
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    to_right = set(right)
    return [
        "  ".join(
            cell.rjust(width) if column in to_right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def grouped_table(
    head: Sequence[str], groups: Iterable[tuple[str, Sequence[Sequence[str]]]], right: Iterable[int] = ()
) -> list[str]:
    """Lay out groups of rows in one set of columns, each group under its heading.

    Parameters
    ----------
    groups : iterable of (str, sequence of rows)
        Heading and rows.
    right : iterable of int
        Columns set to the right.
    """
    rows, headings = [head], {}
    for heading, group in groups:
        headings[len(rows)] = heading
        rows += group
    lines: list[str] = []
    for number, line in enumerate(table_text(rows, right)):
        if number in headings:
            lines.append(headings[number][:WIDTH])
        lines.append(line)
    return lines


def shortened(text: str, longest: int) -> str:
    """Cut a long name off where a column ends."""
    return text if len(text) <= longest else f"{text[: longest - 3]}..."


def measured_at(measures: Iterable[BarMeasure]) -> list[str]:
    """Say at which temperature the measures of a table hold; nothing where it has none."""
    return [AT] if any(measure.has_volume for measure in measures) else []


def paragraph(text: str, *, first: str = "", rest: str | None = None) -> list[str]:
    """Wrap a text by words."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=first if rest is None else rest,
        break_on_hyphens=False,
        break_long_words=False,
    )


def too_small_lines(notes: Iterable[Note]) -> list[str]:
    """Say what does not fit its vessel: it makes the exit code 4, so it is told first."""
    return [line for note in notes if note.code == VESSEL_TOO_SMALL for line in paragraph(note.text)]


def notes_text(title: str, notes: Iterable[Note]) -> list[str]:
    """List remarks under a title; nothing for none."""
    lines: list[str] = []
    for note in notes:
        source = f" [{note.source}]" if note.source and note.code != "ingredient" else ""
        lines += paragraph(f"{note.text}{source}", first="  · ", rest="    ")
    return ["", title, *lines] if lines else []


def flavour_line(parts: Sequence[FlavourPart]) -> str:
    """Say who leads the flavour of a drink and how it is shared; empty where nothing in it has a dose."""
    if not parts:
        return ""
    lead, *others = parts
    if not others:
        return f"Flavour, a measure of ours: all {lead.ingredient}, {lead.usual_doses:.2g} usual doses."
    what = f"Flavour, a measure of ours: {lead.ingredient} leads with {lead.usual_doses:.2g} usual doses"
    shares = [f"{part.ingredient} {_per_cent(part.share)}" for part in others[:MOST_FLAVOURS]]
    if rest := sum(part.share for part in others[MOST_FLAVOURS:]):
        shares.append(f"{len(others) - MOST_FLAVOURS} more {_per_cent(rest)}")
    return f"{what}, {_per_cent(lead.share)} of it; {', '.join(shares)}."


def flavour_short(parts: Sequence[FlavourPart]) -> str:
    """Say the same in a line: who leads and how it is shared; empty where nothing in it has a dose."""
    if len(parts) < 2:
        return ""
    named = [f"{part.ingredient} {_per_cent(part.share)}" for part in parts[:LEADING_FLAVOURS]]
    rest = len(parts) - LEADING_FLAVOURS
    return f"Flavour: {', '.join(named)}{f', {rest} more' if rest > 0 else ''}."


def _per_cent(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100.0 * share:.0f} %"
