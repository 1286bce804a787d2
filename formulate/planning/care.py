"""What the drinks of a menu ask care of: their cautions told once, and the limits of the law they break."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from formulate.bar.serve import Serve
from formulate.describe.records import Note
from formulate.jobs.pour import pour_record
from formulate.rules.cautions import menu_cautions
from formulate.rules.standing import told_everywhere

__all__ = ["care_of"]


def care_of(serves: Sequence[Serve]) -> tuple[tuple[Note, ...], tuple[Note, ...], bool]:
    """Gather what each drink would be told with on its own.

    Parameters
    ----------
    serves : sequence of Serve
        The drinks of the menu, weighed out.

    Returns
    -------
    law : tuple of Note
        What the law has to say of a drink, with the drink's name before it.
    cautions : tuple of Note
        What guests must know first; what several drinks have in common is said once, with their names.
    broken : bool
        Whether any drink may not be served as it is.
    """
    law: list[Note] = []
    found: list[tuple[str, tuple[Note, ...]]] = []
    broken = False
    for serve in serves:
        record = pour_record(serve)
        name = serve.drink.name
        broken |= record.law.broken
        law += [replace(note, text=f"{name}: {note.text}") for note in told_everywhere(record.notes)]
        found.append((name, record.cautions))
    return tuple(law), menu_cautions(found), broken
