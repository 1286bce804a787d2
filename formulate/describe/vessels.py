"""What is said of vessels: too full, too small, which one would do."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from formulate.bar.batch import BarBatch
from formulate.bar.pantry import Pantry
from formulate.bar.vessels import FillRecord, contents_l, fills_of, vessels_l
from formulate.errors import VESSEL_TOO_SMALL, Note

__all__ = [
    "FULL",
    "NO_VESSEL_LARGE_ENOUGH",
    "TOLD",
    "fill_notes",
    "filled_text",
    "fitting_notes",
    "tight_notes",
    "too_large",
]

FULL = 0.9
"""Fuller than this a vessel leaves no room to stir (common practice)."""
NO_VESSEL_LARGE_ENOUGH = "no_vessel_large_enough"
TOLD = frozenset({"vessel", VESSEL_TOO_SMALL, NO_VESSEL_LARGE_ENOUGH})
"""Codes of what is said of vessels."""


def fill_notes(batch: BarBatch, *, filled: int | None = None) -> list[Note]:
    """Say what does not fit: the vessel that a step names, or any on the shelf where it names none.

    Parameters
    ----------
    filled : int, optional
        Position of a step that was asked to fill a vessel: that one fits.
    """
    vessels = vessels_l(batch.pantry)
    notes = []
    for fill in fills_of(batch, batch.pantry):
        notes += tight_notes(fill, batch.pantry)
    unnamed = [
        (contents_l(batch.run, position), step.name)
        for position, step in enumerate(batch.specs)
        if step.vessel not in vessels and position != filled
    ]
    if unnamed:
        most_l, name = max(unnamed, key=lambda step: step[0])
        notes += too_large(f"`{name}`", most_l, batch.pantry)
    return notes


def tight_notes(fill: FillRecord, pantry: Pantry, what: str = "") -> list[Note]:
    """Say of a vessel that somebody named that it is too small or leaves no room; nothing where it does.

    Parameters
    ----------
    pantry : Pantry
        Whose other vessels are offered instead.
    what : str
        What fills it, to begin a sentence with; the step if not given.
    """
    vessels = vessels_l(pantry)
    if fill.too_small:
        largest = ", the largest vessel on the shelf," if fill.vessel == _largest(vessels) else ""
        text = (
            f"{what or f'`{fill.step}`'} needs {_needs(fill.volume_l)} and does not fit: "
            f"{fill.vessel}{largest} holds {fill.holds_l:g} L. "
            f"{_instead(fill.volume_l, fill.vessel, vessels)}"
        )
        return [Note(VESSEL_TOO_SMALL, text)]
    if fill.share > FULL:
        return [Note("vessel", f"{filled_text(fill, what)} That leaves no room to stir.")]
    return []


def fitting_notes(fills: Sequence[FillRecord], what: str = "") -> list[Note]:
    """Say how full each vessel gets that leaves room: of the others `tight_notes` tells."""
    return [Note("vessel", filled_text(fill, what)) for fill in fills if fill.share <= FULL]


def too_large(what: str, litres: float, pantry: Pantry) -> list[Note]:
    """Say that no vessel on the shelf holds something with room to stir; nothing where one does.

    Parameters
    ----------
    what : str
        What has to fit, to begin a sentence with.
    """
    vessels = vessels_l(pantry)
    largest = _largest(vessels)
    if not largest or litres <= FULL * vessels[largest]:
        return []
    text = (
        f"{what} needs {_needs(litres)}; the largest vessel on the shelf, {largest}, holds "
        f"{vessels[largest]:g} L. {_instead(litres, largest, vessels)}"
    )
    return [Note(NO_VESSEL_LARGE_ENOUGH, text)]


def filled_text(fill: FillRecord, what: str = "") -> str:
    """Say how full a vessel gets."""
    return (
        f"{what or f'`{fill.step}`'} fills {fill.vessel} to {fill.volume_l:.2f} of {fill.holds_l:g} L "
        f"({fill.share * 100:.0f} %), solids and all."
    )


def _largest(vessels: Mapping[str, float]) -> str:
    return max(vessels, key=lambda name: vessels[name], default="")


def _needs(litres: float) -> str:
    return f"{litres / FULL:.2f} L with room to stir ({litres:.2f} L, solids and all)"


def _instead(litres: float, named: str, vessels: Mapping[str, float]) -> str:
    """Say what to do: take the smallest vessel that holds it, else several batches in the largest."""
    enough = [name for name in vessels if FULL * vessels[name] >= litres]
    if enough:
        name = min(enough, key=lambda vessel: vessels[vessel])
        return f"It fits {name} ({vessels[name]:g} L)."
    largest = _largest(vessels)
    batches = math.ceil(litres / (FULL * vessels[largest]) - 1e-9)
    where = "" if named == largest else f" in {largest} ({vessels[largest]:g} L), the largest on the shelf"
    return f"Make it in {batches} batches{where}."
