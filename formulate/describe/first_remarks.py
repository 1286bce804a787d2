"""What a first screen says beside the figures: the few remarks that matter most, and the work in one line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from formulate.errors import VESSEL_TOO_SMALL, Note
from formulate.files.infusing import plan_text
from formulate.files.remarks import remark_ranks
from formulate.files.steps import StepSpec
from formulate.quantity.words import listed

__all__ = ["MOST_AT_FIRST", "first_remarks", "work_text"]

MOST_AT_FIRST = 3

PRESSING = 2
"""Up to this rank a remark stands on the first screen however much is said of guests."""

ROOM = 4
"""Lines of care beside which all three have room; two lines more cost a remark."""


def first_remarks(notes: Iterable[Note], *, beside: int = 0) -> tuple[Note, ...]:
    """Pick what a cook must read first: at most three, the most harmful first, each said once.

    Parameters
    ----------
    notes : iterable of Note
        All there are, in the order they are told in full.
    beside : int, default 0
        Lines of care on the same screen: guests come first, and a long screen is not read.
    """
    ranks = remark_ranks()
    by_code: dict[str, list[Note]] = {}
    for note in notes:
        if note.code not in ranks.standing and note.code != VESSEL_TOO_SMALL:
            by_code.setdefault(note.code, []).append(note)
    told = sorted((_together(alike) for alike in by_code.values()), key=lambda note: ranks.rank(note.code))
    pressing = sum(ranks.rank(note.code) <= PRESSING for note in told)
    room = max(1, MOST_AT_FIRST - max(0, beside - ROOM) // 2)
    return tuple(told[: min(MOST_AT_FIRST, max(room, pressing))])


def _together(alike: Sequence[Note]) -> Note:
    """Say once what is said of several things, where a remark has words for that."""
    first = alike[0]
    if len(alike) == 1 or not first.of_several:
        return first
    about = listed([name for note in alike for name in note.about])
    return replace(first, short=first.of_several.format(about=about))


def work_text(specs: Sequence[StepSpec]) -> str:
    """Say the work of a batch in one line: steps, how long and how warm, what it is strained through.

    Parameters
    ----------
    specs : sequence of StepSpec
        Defaults filled in.
    """
    parts = []
    for spec in specs:
        words = []
        if spec.enzyme is not None:
            words.append(f"enzyme {spec.enzyme.when}")
        if spec.time_h is not None and spec.temperature_c is not None:
            words.append(plan_text(spec.time_h, spec.temperature_c))
        if spec.separate:
            words += [name.replace("-", " ") for name in spec.separate]
        elif spec.strain:
            words.append("strain")
        parts.append(f"{spec.name} ({', '.join(words)})" if words else spec.name)
    return ", then ".join(parts)
