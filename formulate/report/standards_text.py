"""Standards as text and as JSON: no row without its source, and a word where nobody verified it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from formulate.report.document import SCHEMA_VERSION
from formulate.report.plain import paragraph, table_text

if TYPE_CHECKING:
    from formulate.jobs.standards import SubjectRecord

__all__ = ["rules_text", "standards_document", "subjects_text"]

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


def standards_document(subjects: Sequence[SubjectRecord]) -> dict[str, Any]:
    """Lay out subjects with their rules."""
    return {
        "schema_version": SCHEMA_VERSION,
        "status": "ok",
        "subjects": [
            {
                "subject": subject.name,
                "about": subject.about,
                "rules": [
                    {
                        **row.model_dump(mode="json", exclude_none=True),
                        "says": row.in_general,
                        "seen": None if row.seen is None else row.seen.isoformat(),
                        "verified": row.verified,
                        "place": place,
                    }
                    for row, place in zip(subject.rows, subject.places, strict=True)
                ],
            }
            for subject in subjects
        ],
    }
