"""What the law says to a drink in the glass; what a house bottle's file lifts is lifted in its drinks too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from formulate.bar.pantry import Pantry
from formulate.bar.permitted import Rules
from formulate.bar.serve import Serve
from formulate.errors import Note
from formulate.files.lifted import Lifted
from formulate.rules.records import CapRecord, LawRecord
from formulate.rules.standing import law_notes, law_of, rule_notes

__all__ = ["glass_law"]


def glass_law(serve: Serve) -> tuple[LawRecord, list[Note]]:
    """Hold the drink in the glass against the limits on restricted substances; the glass is the serve.

    A limit that a house bottle lifts stays lifted as long as everything else in the glass keeps it.

    Parameters
    ----------
    serve : Serve

    Returns
    -------
    LawRecord
    list of Note
        What is broken, then what is lifted and in which bottle, then whose law counts.
    """
    shelf = serve.pantry.shelf
    volume_l = float(serve.profile().volume_l)
    used = serve.masses_kg.sum(axis=0)
    used[-1] += serve.melt.mass_kg
    poured = [one.id for one, mass in zip(serve.ingredients, used, strict=True) if mass > 0.0]
    lifts = {name: list(dict.fromkeys(_lifted(name, serve.pantry))) for name in poured}
    every = dict.fromkeys(one for found in lifts.values() for one in found)
    rules = Rules(None if shelf is None else shelf.jurisdiction, volume_l, True, tuple(every))
    law = law_of(rules, serve.chain.materials, used, serve.in_glass(), volume_l)
    law = replace(law, caps=tuple(_lifted_where_said(cap, lifts) for cap in law.caps))
    kept = replace(rules, lifted=())
    return law, [*law_notes(law, kept), *_lifted_notes(kept, lifts)]


def _lifted(name: str, pantry: Pantry) -> Iterator[Lifted]:
    """List what the file of a house-made thing lifts, and those of what is in it."""
    if pantry.shelf is None or name not in pantry.shelf.house_made:
        return
    batch = pantry.made(name).batch
    yield from batch.rules.lifted
    for ingredient, mass in zip(batch.ingredients, batch.used_kg, strict=True):
        if mass > 0.0:
            yield from _lifted(ingredient.id, batch.pantry)


def _lifted_where_said(cap: CapRecord, lifts: dict[str, list[Lifted]]) -> CapRecord:
    """Keep a limit that is over by what no bottle lifts it for."""
    lifting = {name for name, found in lifts.items() if any(one.limit == cap.rule for one in found)}
    rest = cap.value * sum(share for name, share in cap.brought_by if name not in lifting)
    return cap if rest <= cap.most else replace(cap, lifted=None)


def _lifted_notes(rules: Rules, lifts: dict[str, list[Lifted]]) -> Sequence[Note]:
    return [
        replace(note, text=f"In {name}: {note.text}")
        for name, found in lifts.items()
        for note in rule_notes(replace(rules, lifted=tuple(found)))
    ]
