"""Standards as text and as JSON: no row without its source, and a word where nobody verified it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.report.plain import paragraph, table_text

if TYPE_CHECKING:
    from formulate.jobs.standards import SubjectRecord

__all__ = ["rules_text", "subjects_text"]

NOT_ADVICE = "Not legal advice: tables age. Ask your local code and a licensed professional."


def subjects_text(subjects: Sequence[SubjectRecord]) -> str:
    """List the subjects with how many rules each holds."""
    rows = [["subject", "rules", "not verified"]]
    rows += [[one.name, str(len(one.rows)), str(one.unverified or "")] for one in subjects]
    lines = table_text(rows, right=(1, 2))
    how = "Show one with `standards SUBJECT`, or all on a substance, plant or name with `standards thujone`."
    return "\n".join([*lines, "", *paragraph(f"{how} {NOT_ADVICE}")])


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
