"""What a label carries by law because of what is in the bottle, and the sizes it may be sold in."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from formulate.bar.restricted import held
from formulate.blend.batch import Batch
from formulate.errors import Note
from formulate.files.labelling import WineRow, bottle_sizes, label_words
from formulate.rules.categories import wine_volume_l

__all__ = ["size_notes", "word_notes"]

OF_WINE = 0.75
"""Share of the volume from which a drink is one of wine, as for aromatised wine (Reg. (EU) 251/2014)."""

SAME_SIZE = 1e-6
"""Relative."""


def word_notes(batch: Batch, jurisdiction: str | None) -> Iterator[Note]:
    """Say what words the label needs.

    Parameters
    ----------
    jurisdiction : str or None
        All for None.
    """
    for row in label_words().holding_in(jurisdiction):
        if not _is_for(row, batch):
            continue
        much = 1000.0 * sum(_g_l(name, batch) for name in row.brings)
        if row.brings and not row.is_reached(much / 1000.0):
            continue
        where = ", ".join(row.jurisdiction)
        held_here = "" if not row.brings or much == inf else f" (at worst {much:.3g} mg/L here)"
        yield Note(row.id.replace("-", "_"), f"{where}: {row.says}{held_here}", row.provenance)


def size_notes(batch: Batch, bottle_l: float, jurisdiction: str | None) -> Iterator[Note]:
    """Say so where a bottle is of a size that may not be sold packed.

    Parameters
    ----------
    bottle_l : float
        What it says it holds.
    jurisdiction : str or None
        All for None.
    """
    for row in bottle_sizes().holding_in(jurisdiction):
        inside = row.from_l * (1.0 - SAME_SIZE) <= bottle_l <= row.up_to_l * (1.0 + SAME_SIZE)
        listed = any(abs(size / bottle_l - 1.0) <= SAME_SIZE for size in row.sizes)
        if _is_for(row, batch) and inside and not listed:
            text = f"{', '.join(row.jurisdiction)}: {1000.0 * bottle_l:g} mL is no size for sale. {row.says}"
            yield Note("bottle_size", text, row.provenance)


def _is_for(row: WineRow, batch: Batch) -> bool:
    strength = float(batch.drink.strength_pct_vol)
    if row.strength is not None:
        low, high = row.strength.lower or 0.0, inf if row.strength.upper is None else row.strength.upper
        if not low * (1.0 - SAME_SIZE) <= strength <= high * (1.0 + SAME_SIZE):
            return False
    wine_l = sum(mass * wine_volume_l(ingredient) for ingredient, mass in batch.holdings())
    of_wine = wine_l / batch.volume_l >= OF_WINE * (1.0 - SAME_SIZE)
    return row.wine is None or of_wine is (row.wine == "only_wine")


def _g_l(name: str, batch: Batch) -> float:
    """Return what a litre holds of a substance at worst, grams; infinite where nobody knows."""
    return (
        sum(
            mass * (held(ingredient).get(name, 0.0) + ingredient.attributes.get(name, 0.0))
            for ingredient, mass in batch.holdings()
        )
        / batch.volume_l
    )
