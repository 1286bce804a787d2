"""The standards that travel with the package: how rows are read, and what is said of unverified ones."""

from __future__ import annotations

from datetime import date

import pytest

from formulate.errors import SpecError
from formulate.files.located import load_document
from formulate.files.standards import Row, Standard, read_rows

GOOD = """\
about: Two rules.
rows:
  - id: seen-rule
    says: No more than ten.
    jurisdiction: EU
    source: Act 1
    seen: 2026-11-25
    confidence: published
  - id: remembered-rule
    says: No more than eleven.
    jurisdiction: [US, UK]
    source: Act 2
    seen: never
    confidence: from memory
"""


def rows(text: str) -> Standard[Row]:
    return read_rows(load_document(text, "two-rules.yaml"), Row)


def test_rows_keep_their_order_their_place_and_their_provenance() -> None:
    standard = rows(GOOD)
    assert [row.id for row in standard.rows] == ["seen-rule", "remembered-rule"]
    assert str(standard.place("remembered-rule")) == "two-rules.yaml:9:5"
    first, second = standard.rows
    assert (first.seen, first.verified) == (date(2026, 11, 25), True)
    assert first.provenance == "Act 1 (seen by 2026-11-25)"
    assert (second.seen, second.verified) == (None, False)
    assert second.provenance == "Act 2 (from memory, not verified)"


def test_published_but_never_seen_is_told_as_such() -> None:
    row = rows(GOOD.replace("seen: 2026-11-25", "seen: never"))["seen-rule"]
    assert not row.verified
    assert row.provenance == "Act 1 (published, copy not seen, not verified)"


@pytest.mark.parametrize(
    ("jurisdiction", "ids"),
    [
        ("EU", ["seen-rule"]),
        ("US", ["remembered-rule"]),
        ("UK", ["remembered-rule"]),
        (None, ["seen-rule", "remembered-rule"]),
    ],
)
def test_without_a_jurisdiction_every_rule_counts(jurisdiction: str | None, ids: list[str]) -> None:
    assert [row.id for row in rows(GOOD).holding_in(jurisdiction)] == ids


def test_all_that_is_wrong_is_told_at_once_with_its_place() -> None:
    text = (
        GOOD.replace("seen: never", "seen: last year")
        .replace("confidence: published", "confidence: rumour")
        .replace("id: remembered-rule", "id: remembered-rule\n    cap: 3")
    )
    with pytest.raises(SpecError) as caught:
        rows(text)
    told = [str(problem).splitlines()[0] for problem in caught.value.problems]
    assert len(told) == 3
    assert told[0].startswith("two-rules.yaml:8:17: rows.0.confidence: unknown word, got rumour.")
    assert told[1].startswith("two-rules.yaml:10:5: rows.1.cap: unknown key 'cap'.")
    assert told[2] == (
        "two-rules.yaml:14:11: rows.1.seen: must be a day, or never, got last year. Write e.g. 2026-11-25."
    )


def test_an_id_given_twice_is_refused() -> None:
    with pytest.raises(SpecError, match="'seen-rule' is given twice, first in line 3"):
        rows(GOOD.replace("remembered-rule", "seen-rule"))
