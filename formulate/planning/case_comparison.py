"""Cases held against the files as they are, and many of them together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formulate.describe.suppose_record import SHORT, CaseRecord, Move, Spread, Supposed, Telling
from formulate.errors import FORBIDDING, Note
from formulate.files.scenarios import ALL_DRINKS, Scenarios
from formulate.planning.cases import Case, texts_of
from formulate.planning.subjects import Subject

__all__ = ["rank_correlation", "supposed_record"]

MOVED_SHARE, MOVED_LEAST = 5e-3, 5e-3
"""What changes by less than half a per cent, or by less than 5 mg a litre or half a cent, stays as it is."""
LOW, HIGH = 0.05, 0.95


def _compared(case: Case, outcome: Mapping[str, Any], as_it_is: Mapping[str, Any]) -> CaseRecord:
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


def _spread(kind: str, cases: Sequence[Case], records: Sequence[CaseRecord]) -> Spread:
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


def supposed_record(
    scenarios: Scenarios,
    subject: Subject,
    day: date,
    as_it_is: dict[str, Any],
    cases: Sequence[Case],
    outcomes: Sequence[dict[str, Any]],
) -> Supposed:
    """Hold every case against the files as they are, and tell of grids and draws together.

    Parameters
    ----------
    as_it_is : dict
        Outcome of the files as they are.
    outcomes : sequence of dict
        One per case.
    """
    records = [_compared(case, outcome, as_it_is) for case, outcome in zip(cases, outcomes, strict=True)]
    spreads = []
    for kind in ("grid", "draw"):
        here = [number for number, case in enumerate(cases) if case.kind == kind]
        if here:
            spreads.append(_spread(kind, [cases[n] for n in here], [records[n] for n in here]))
    return Supposed(
        name=scenarios.name,
        about=subject.file.name,
        is_menu=scenarios.menu is not None,
        currency=subject.pantry.currency,
        day=day,
        as_it_is=as_it_is,
        cases=tuple(records),
        spreads=tuple(spreads),
        notes=tuple(_notes(scenarios, as_it_is, records)),
    )


def _law_notes(as_it_is: dict[str, Any], records: Sequence[CaseRecord]) -> list[Note]:
    """Say what is lifted and whose law counts, and which case leads a drink over a limit."""
    now = as_it_is.get("law", [])
    notes = [Note(code, text, source) for code, text, source in now]
    for record in records:
        broken = [said for said in record.outcome.get("law", []) if said[0] in FORBIDDING and said not in now]
        notes += [Note(code, f"{record.name}: {text}", source) for code, text, source in broken[:1]]
    return notes


def _notes(scenarios: Scenarios, as_it_is: dict[str, Any], records: Sequence[CaseRecord]) -> list[Note]:
    notes = _law_notes(as_it_is, records)
    if as_it_is["figure"] is None:
        command = "menu" if scenarios.menu is not None else "solve"
        text = f"As it is there is nothing to hold cases against: `formulate {command}` says why."
        notes.append(Note("nothing_as_it_is", text))
    if scenarios.draws is not None:
        text = (
            "Draws take every value of a range as equally likely, and each thing by itself. Prices that "
            "rise together make the ends more frequent than shown."
        )
        notes.append(Note("drawn_each_by_itself", text))
    if any(changes.gone for changes in scenarios.cases.values()) and scenarios.menu is not None:
        text = "What is gone cannot be bought; what stands on the shelf of it is used up."
        notes.append(Note("gone_is_not_bought", text))
    without = {name for name, changes in scenarios.cases.items() if changes.gone}
    if any(record.name in without and record.outcome["figure"] is None for record in records):
        text = "Nothing is put in the place of what is gone: `formulate reformulate` looks for stand-ins."
        notes.append(Note("no_stand_ins", text))
    if any(record.outcome.get("too_dear") for record in records):
        text = (
            "Limits on the cost are looked at afterwards: a recipe above its limit is shown with what it "
            "would cost."
        )
        notes.append(Note("cost_looked_at_afterwards", text))
    if scenarios.menu is None:
        text = "Cost counts what is used, not whole packs, at the cheapest offer on the shelf."
        notes.append(Note("priced_by_use", text))
    else:
        text = "House bottles that are bottle files are solved again in each case; recipes stay as they are."
        notes.append(Note("bottles_again", text))
    return notes
