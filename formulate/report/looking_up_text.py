"""What is built in, and what a shelf takes from its price lists, as text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.report.plain import paragraph, shortened, table_text
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.errors import SpecProblem
    from formulate.files.standards import Row
    from formulate.jobs.price_lists import ListRecord, PriceListsRecord
    from formulate.jobs.standards import SubjectRecord

__all__ = ["price_lists_text", "rules_text", "subjects_text"]

NOT_ADVICE = "Not legal advice: tables age. Ask your local code and a licensed professional."


def subjects_text(subjects: Sequence[SubjectRecord], places: Sequence[str]) -> str:
    """Say of each subject, and of each law, how much was verified, and when last looked at.

    Parameters
    ----------
    places : sequence of str
        Jurisdictions that are told of.
    """
    head = ["rules", "verified", "from memory", "other", "looked at", "again by"]
    rows = [["subject", *head], *([one.name, *_standing(one.rows)] for one in subjects)]
    lines = table_text(rows, right=(1, 2, 3, 4))
    every = [row for one in subjects for row in one.rows]
    laws = [[place, *_standing([row for row in every if row.holds_in(place)])] for place in places]
    lines += ["", *table_text([["law", *head], *laws], right=(1, 2, 3, 4))]
    how = (
        "Verified: held against the published source, or a copy of it, on the day or before. Other: common "
        "practice, or arithmetic. Show a subject with `standards SUBJECT`, a law with `--in EU`, or all on a "
        "substance, plant or name with `standards thujone`."
    )
    return "\n".join([*lines, "", *paragraph(f"{how} {NOT_ADVICE}")])


def _standing(rows: Sequence[Row]) -> list[str]:
    """Count rules by how far they can be trusted, with the latest look at one and the first that is due."""
    verified = [row for row in rows if row.verified]
    memory = sum(row.confidence == "from memory" for row in rows)
    looked = max((row.seen for row in verified if row.seen is not None), default=None)
    due = min((row.look_again for row in verified if row.look_again is not None), default=None)
    counts = (len(rows), len(verified), memory, len(rows) - len(verified) - memory)
    days = ("" if day is None else str(day) for day in (looked, due))
    return [*(str(count or "") for count in counts), *days]


def rules_text(subjects: Sequence[SubjectRecord]) -> str:
    """Show the rules of some subjects, one after the other."""
    lines: list[str] = []
    for subject in subjects:
        lines += [*([""] if lines else []), *paragraph(f"{subject.name}: {subject.about}")]
        for row in subject.rows:
            lines += ["", f"{row.id} ({', '.join(row.jurisdiction)})"]
            lines += paragraph(row.in_general, first="  ", rest="  ")
            lines += paragraph(row.provenance, first="  ", rest="  ")
    return "\n".join([*lines, "", *paragraph(NOT_ADVICE)])


LONGEST_PRODUCT = 24


@on_screen
def price_lists_text(record: PriceListsRecord) -> str:
    """List every row taken and every cell that cannot be used, list by list."""
    count = len(record.lists)
    lines = paragraph(f"{record.name}: {count} price list{'' if count == 1 else 's'}")
    if not record.lists:
        lines += paragraph("The shelf names none. Add `price_lists:` to read what a supplier sent.")
    for one in record.lists:
        lines += ["", *_list(one)]
    if record.between:
        lines += ["", "Between the lists and the shelf", *_problems(record.between)]
    if not record.right:
        lines += ["", *paragraph("Nothing is taken from a list in which something is wrong.")]
    return "\n".join(lines)


def _list(one: ListRecord) -> list[str]:
    who = f" from {one.supplier}" if one.supplier else ""
    sheet = f", sheet {one.sheet}" if one.sheet else ""
    lines = paragraph(f"{one.file}{who}{f' ({one.read_as}{sheet})' if one.read_as else ''}")
    if one.rows:
        rows = [("cell", "here", "in the list", "pack", "price", "tax", "on hand")]
        rows += [
            (
                row.cell_in_sheet,
                row.ingredient,
                shortened(" ".join(row.product.split()), LONGEST_PRODUCT),
                row.pack,
                row.price_text,
                row.tax_text,
                row.on_hand,
            )
            for row in one.rows
        ]
        filled = [at for at in range(len(rows[0])) if at < 3 or any(row[at] for row in rows[1:])]
        lines += table_text([[row[at] for at in filled] for row in rows])
    lines += _problems(one.problems)
    taken = f"{_rows(len(one.rows))} asked for and right"
    return [*lines, *paragraph(f"{taken}, {_rows(one.unused)} not used.")]


def _problems(problems: tuple[SpecProblem, ...]) -> list[str]:
    lines: list[str] = []
    for problem in problems:
        where = f"{problem.location}: " if problem.location else ""
        what = f"{problem.path}: " if problem.path else ""
        lines += paragraph(f"{where}{what}{problem.message}", first="  ! ", rest="    ")
    return lines


def _rows(count: int) -> str:
    return f"{count:,} row{'' if count == 1 else 's'}".replace(",", " ")
