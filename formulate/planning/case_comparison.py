"""Cases held against the files as they are, and many of them together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formulate.describe.suppose_record import SHORT, CaseRecord, Move, Spread, Telling
from formulate.files.scenarios import ALL_DRINKS
from formulate.planning.cases import Case, texts_of

__all__ = ["compared", "rank_correlation", "spread_of"]

MOVED_SHARE, MOVED_LEAST = 5e-3, 5e-3
"""What changes by less than half a per cent, or by less than 5 mg a litre or half a cent, stays as it is."""
LOW, HIGH = 0.05, 0.95


def compared(case: Case, outcome: Mapping[str, Any], as_it_is: Mapping[str, Any]) -> CaseRecord:
    """Hold one case against the files as they are."""
    now, before = outcome["figure"], as_it_is["figure"]
    difference = None if now is None or before is None else float(f"{now - before:.9g}")
    moves: tuple[Move, ...] = ()
    if now is not None and before is not None:
        moves = _moves(as_it_is["uses"], outcome["uses"])
    return CaseRecord(
        name=case.name,
        kind=case.kind,
        changes=texts_of(case),
        difference=difference,
        outcome=outcome,
        moves=moves,
    )


def _moves(before: Mapping[str, float], now: Mapping[str, float]) -> tuple[Move, ...]:
    moves = [Move(name, before.get(name, 0.0), now.get(name, 0.0)) for name in {**before, **now}]
    moves = [
        move
        for move in moves
        if abs(move.now - move.before) > max(MOVED_SHARE * max(move.before, move.now), MOVED_LEAST)
    ]
    return tuple(sorted(moves, key=lambda move: -abs(move.now - move.before)))


def spread_of(kind: str, cases: Sequence[Case], records: Sequence[CaseRecord]) -> Spread:
    """Tell of many cases together.

    Parameters
    ----------
    cases : sequence of Case
        All of this kind.
    records : sequence of CaseRecord
        Of the same cases.
    """
    figures = np.array(
        [np.nan if record.outcome["figure"] is None else record.outcome["figure"] for record in records]
    )
    has_answer = np.isfinite(figures)
    ends: list[float | None] = [None] * 5
    if has_answer.any():
        quantiles = np.quantile(figures[has_answer], [0.0, LOW, 0.5, HIGH, 1.0])
        ends = [float(f"{value:.9g}") for value in quantiles]
    return Spread(
        kind,
        len(records),
        int((~has_answer).sum()),
        sum(bool(record.outcome.get("too_dear")) for record in records),
        sum(record.outcome["status"] == SHORT for record in records),
        *(ends[0], ends[1], ends[2], ends[3], ends[4]),
        _telling([case for case, here in zip(cases, has_answer, strict=True) if here], figures[has_answer]),
    )


def _telling(cases: Sequence[Case], figures: NDArray[np.float64]) -> tuple[Telling, ...]:
    columns: dict[str, list[float]] = {}
    for case in cases:
        for name, change in case.prices:
            columns.setdefault(name, []).append(change.price.value if change.price else change.share)
        for name, share in case.demand:
            columns.setdefault("demand" if name == ALL_DRINKS else f"{name} sold", []).append(share)
    telling = [
        Telling(name, float(f"{correlation:.6g}"))
        for name, values in columns.items()
        if len(values) == len(figures)
        and (correlation := rank_correlation(np.array(values), figures)) is not None
    ]
    return tuple(sorted(telling, key=lambda each: -abs(each.rank_correlation)))


def rank_correlation(values: NDArray[np.float64], other: NDArray[np.float64]) -> float | None:
    """Return Spearman's rank correlation, equal values sharing the middle of their ranks.

    Returns
    -------
    float or None
        None where either does not vary.
    """
    if len(values) < 2 or np.ptp(values) == 0.0 or np.ptp(other) == 0.0:
        return None
    return float(np.corrcoef(_ranks(values), _ranks(other))[0, 1])


def _ranks(values: NDArray[np.float64]) -> NDArray[np.float64]:
    _, places, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    ranks: NDArray[np.float64] = (last - (counts - 1) / 2.0)[places]
    return ranks
