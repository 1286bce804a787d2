"""Cautions on the screen: a handful in short, all of them in full where asked, and the same for JSON."""

from __future__ import annotations

from collections.abc import Sequence

from formulate.describe.records import ADVICE
from formulate.errors import Note
from formulate.report.plain import paragraph

__all__ = ["SHOWN_AT_FIRST", "caution_lines"]

SHOWN_AT_FIRST = 5
"""More than this is a wall of text; what guests must know, and fire, poison and burst glass, is never cut."""

GRAVE = 1
"""Fire, poison, burst glass."""

OTHERS_AT_LEAST = 2
"""So many of the others are shown however many are about guests."""

IN_FULL_ONLY = 4
"""From this rank on a caution is good to know once, not on every screen."""


def caution_lines(cautions: Sequence[Note], *, in_full: bool = False, title: str = "Take care") -> list[str]:
    """Lay out cautions: all that guests must know, then the most serious of the others.

    Parameters
    ----------
    cautions : sequence of Note
    in_full : bool, default False
        All of them with text, source and place; else a line each of the first few.
    title : str
    """
    if not cautions:
        return []
    shown = cautions if in_full else _at_first(cautions)
    lines = ["", title]
    for note in shown:
        lines += paragraph(_full(note) if in_full else note.short or note.text, first="  · ", rest="    ")
    hidden = len(cautions) - len(shown)
    if hidden:
        lines.append(f"  and {hidden} more: add --cautions")
    return [*lines, f"  {ADVICE}"]


def _at_first(cautions: Sequence[Note]) -> list[Note]:
    guests = [note for note in cautions if note.for_guests]
    others = [note for note in cautions if not note.for_guests and note.rank < IN_FULL_ONLY]
    grave = sum(note.rank == GRAVE for note in others)
    return [*guests, *others[: max(grave, SHOWN_AT_FIRST - len(guests), OTHERS_AT_LEAST)]]


def _full(note: Note) -> str:
    if note.code == "ingredient":
        return note.text
    return f"{note.place.capitalize()}: {note.text} [{note.source}]"
