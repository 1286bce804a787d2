"""Every row of the kitchen's tables against the function that claims to follow it."""

from __future__ import annotations

from collections import Counter

import pytest

from .kitchen_rows import COMPUTED, CONFIDENCES, FOLDER, ROW_COUNTS, rows
from .published_rows import Row

ALL = rows()


@pytest.mark.parametrize("row", ALL, ids=str)
def test_row(row: Row) -> None:
    computed = COMPUTED[row.quantity](row.arguments)
    assert computed == pytest.approx(row.value, rel=0.0, abs=row.tolerance), f"{row.source}. {row.reason}"


def test_every_row_of_every_file_is_a_case() -> None:
    lines = {}
    for path in FOLDER.iterdir():
        assert path.suffix == ".csv"
        lines[path.stem] = len(path.read_text(encoding="utf-8").splitlines()) - 1
    assert lines == ROW_COUNTS
    assert Counter(row.file for row in ALL) == ROW_COUNTS


def test_every_way_to_compute_is_used() -> None:
    assert {row.quantity for row in ALL} == set(COMPUTED)


def test_rows_are_whole() -> None:
    for row in ALL:
        assert row.source, row
        assert row.unit, row
        assert row.reason, row
        assert row.tolerance > 0.0, row
        assert row.confidence in CONFIDENCES, row
    assert len({(row.file, row.quantity, row.inputs) for row in ALL}) == len(ALL)


def test_how_many_rows_were_read_in_their_source() -> None:
    assert (sum(row.confidence == "published" for row in ALL), len(ALL)) == (50, 85)
