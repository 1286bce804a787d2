"""Ties, told: where another ingredient would do the same for the same money."""

from __future__ import annotations

from formulate.errors import Note
from formulate.optimise.answer import Answer
from formulate.optimise.ties import ties_of

__all__ = ["tie_notes"]


def tie_notes(answer: Answer) -> list[Note]:
    """Say which unused ingredients could stand in for a used one at the same cost.

    Parameters
    ----------
    answer : Answer
    """
    ids = answer.problem.chain.materials.ids
    notes = []
    for tie in ties_of(answer):
        first = "; the one listed first was used" if tie.used < tie.other else ""
        text = f"{ids[tie.other]} could stand in for {ids[tie.used]} at the same cost{first}."
        notes.append(Note("tie", text))
    return notes
