"""What first screens have in common: which parts beyond them were asked for, and how each ends.

The answer of a command stands above; here come the few remarks that matter most, all that guests must know,
and the word that shows the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Flag, auto
from typing import TYPE_CHECKING

from formulate.describe.first_remarks import first_remarks
from formulate.errors import VESSEL_TOO_SMALL, Note
from formulate.report.plain import notes_text, paragraph
from formulate.report.rules_text import category_lines, caution_lines, guest_lines, law_lines

if TYPE_CHECKING:
    from formulate.rules.records import CategoryRecord, LawRecord

__all__ = ["SAID_FIRST", "More", "closing", "more_line", "rest"]


class More(Flag):
    """Parts of what is told beyond the first screen."""

    NONE = 0
    WHY = auto()
    LAW = auto()
    CAUTIONS = auto()
    ALL = WHY | LAW | CAUTIONS


SAID_FIRST = {"United Kingdom": "UK", "United States": "US", "WHO": "WHO"}
"""Whose standard drinks stand on a first screen, with their short names; the others under `--all`."""

OPTIONS = {"--why": More.WHY, "--law": More.LAW, "--cautions": More.CAUTIONS}


def closing(
    notes: Sequence[Note], cautions: Sequence[Note], more: More, *, last: Sequence[str] = ()
) -> list[str]:
    """Lay out what ends a first screen, above the line that says how to see more.

    Parameters
    ----------
    notes, cautions : sequence of Note
        All there are.
    more : More
        Cautions that are told in full further down are not told here.
    last : sequence of str
        Lines below the cautions, such as what it costs.
    """
    care = [] if More.CAUTIONS in more else guest_lines(cautions)
    lines = []
    for note in first_remarks(notes, beside=len(care)):
        lines += paragraph(note.short or note.text, first="  · ", rest="    ")
    return [*lines, *care, *last]


def more_line(more: More, *parts: str, cautions: Sequence[Note] = (), law: bool = True) -> str:
    """Say which options show the rest.

    Parameters
    ----------
    more : More
        What is shown already.
    parts : str
        Other options that show more, told first.
    cautions : sequence of Note
        How many there are is told beside their option.
    law : bool, default True
        Whether there is anything to tell of the law.
    """
    left = [name for name, part in OPTIONS.items() if part not in more and (law or part is not More.LAW)]
    told = [f"{name} ({len(cautions)})" if name == "--cautions" and cautions else name for name in left]
    return f"More: {', '.join([*parts, *told, '--all'])}."


def rest(
    notes: Sequence[Note],
    cautions: Sequence[Note],
    more: More,
    *,
    law: LawRecord | None = None,
    categories: Sequence[CategoryRecord] = (),
) -> list[str]:
    """Lay out the parts beyond the first screen that were asked for.

    Parameters
    ----------
    notes, cautions : sequence of Note
    more : More
    law : LawRecord, optional
    categories : sequence of CategoryRecord
    """
    lines: list[str] = []
    if More.WHY in more:
        lines += notes_text("Good to know", [note for note in notes if note.code != VESSEL_TOO_SMALL])
    if More.LAW in more:
        lines += [*law_lines(law), *category_lines(categories)]
    if More.CAUTIONS in more:
        lines += caution_lines(cautions, in_full=True)
    return lines
