"""Every row of the published tables against the function that claims to follow it."""

from __future__ import annotations

from collections import Counter

import pytest

from .published_rows import COMPUTED, FOLDER, ROW_COUNTS, Row, rows

ALL = rows()
PUBLISHED = [row for row in ALL if row.confidence == "published"]
DERIVED = [row for row in ALL if row.confidence == "derived"]


def compare(row: Row) -> None:
    computed = COMPUTED[row.quantity](row.arguments)
    assert computed == pytest.approx(row.value, rel=0.0, abs=row.tolerance), f"{row.source}. {row.reason}"


@pytest.mark.parametrize("row", PUBLISHED, ids=str)
def test_published_value(row: Row) -> None:
    compare(row)


@pytest.mark.parametrize("row", DERIVED, ids=str)
def test_the_same_formula_worked_out_elsewhere(row: Row) -> None:
    """Values computed from the same formulas elsewhere: they prove that we copied well, nothing more."""
    compare(row)


def test_every_row_of_every_file_is_a_case() -> None:
    lines = {}
    for path in FOLDER.iterdir():
        assert path.suffix == ".csv"
        lines[path.stem] = len(path.read_text(encoding="utf-8").splitlines()) - 1
    assert lines == ROW_COUNTS
    assert Counter(row.file for row in [*PUBLISHED, *DERIVED]) == ROW_COUNTS
    assert len(PUBLISHED) > 0.4 * len(ALL)


def test_every_way_to_compute_is_used() -> None:
    assert {row.quantity for row in ALL} >= set(COMPUTED) - {"apparent_specific_volume_maltose"}


def test_rows_are_whole() -> None:
    for row in ALL:
        assert row.source, row
        assert row.unit, row
        assert row.reason, row
        assert row.tolerance > 0.0, row
    assert len({(row.file, row.quantity, row.inputs) for row in ALL}) == len(ALL)
