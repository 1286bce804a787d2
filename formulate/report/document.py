"""The one JSON document a command prints with `--json`: its answer, or what is wrong with what was asked."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from formulate.quantity.document import SCHEMA_VERSION, Record, problem_document

if TYPE_CHECKING:
    from formulate.jobs.check import CheckedFile

__all__ = ["dump", "error_document", "failed_document"]


_UNSEEN = re.compile(
    "[\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ud800-\udfff\ufeff\ufff9-\ufffb"
    "\U000e0000-\U000e007f]"
)
"""What JSON lets stand as it is and a terminal obeys or hides."""


def dump(*answers: Record | dict[str, Any]) -> str:
    """Write answers as the text of one document; of names that several have the last holds."""
    document: dict[str, Any] = {}
    for answer in answers:
        document |= answer.to_dict() if isinstance(answer, Record) else answer
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    return _UNSEEN.sub(_escaped, text)


def _escaped(unseen: re.Match[str]) -> str:
    return json.dumps(unseen[0])[1:-1]


def failed_document(status: str, text: str) -> dict[str, Any]:
    """Lay out that a question ended without an answer, and why."""
    return {"schema_version": SCHEMA_VERSION, "status": status, "message": text}


def error_document(error: Exception, checked: tuple[CheckedFile, ...] = ()) -> dict[str, Any]:
    """Lay out what is wrong with what was asked: each problem with its place, where it has one.

    Parameters
    ----------
    checked : tuple of CheckedFile
        Of several files, those that have no problem.
    """
    errors = [
        {name: value for name, value in problem_document(problem).items() if name != "cell" or value}
        for problem in getattr(error, "problems", ())
    ] or [{"path": None, "line": None, "column": None, "key": "", "text": str(error)}]
    document = {**failed_document("error", str(error)), "errors": errors}
    return document | ({"files": [file.to_dict() for file in checked]} if checked else {})
