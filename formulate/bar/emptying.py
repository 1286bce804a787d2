"""What a batch of another size takes in whole packs, and the nearest size that leaves none begun."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from formulate.bar.batch import Batch
from formulate.bar.packs import cheapest_by_weight, packs_on_offer
from formulate.bar.pantry import UnknownMassError
from formulate.errors import Note
from formulate.optimise.mip.packs import Thing
from formulate.quantity.document import HIDDEN, computed

__all__ = ["EmptyingSize", "PackCount", "emptying_size", "pack_notes", "packs_for"]

USED_UP = 1e-4
"""A pack counts as used up when this share of it, or less, is left or missing."""


@dataclass(frozen=True, slots=True)
class PackCount:
    """Packs of one thing.

    Attributes
    ----------
    ingredient, pack : str
    packs : int
    size_kg, used_kg : float
        Of one pack; in the batch.
    """

    ingredient: str
    pack: str
    packs: int
    size_kg: float = field(metadata=HIDDEN)
    used_kg: float

    @property
    @computed(after="used_kg")
    def left_kg(self) -> float:
        """What is over of the last pack; nothing where that is next to nothing."""
        left = self.packs * self.size_kg - self.used_kg
        return left if left > USED_UP * self.size_kg else 0.0


@dataclass(frozen=True, slots=True)
class EmptyingSize:
    """A size in which packs of one thing are used up.

    Attributes
    ----------
    ingredient, pack : str
    packs : int
    use_kg : float
        All that is in them.
    volume_l : float
        What that gives, bottled.
    """

    ingredient: str
    pack: str
    packs: int
    use_kg: float
    volume_l: float


def packs_for(batch: Batch) -> tuple[PackCount, ...]:
    """Count the packs that a batch takes, of what is sold in packs; nothing on hand is counted.

    Of several packs on sale it is the one that is cheapest by weight.

    Parameters
    ----------
    batch : Batch
    """
    found = []
    for ingredient, used in zip(batch.ingredients, batch.used_kg.tolist(), strict=True):
        if not used > 0.0:
            continue
        try:
            every = packs_on_offer(batch.pantry, ingredient, Thing(False, 0))
        except UnknownMassError:  # without a weight it cannot be counted, and `buy` says so
            continue
        pack = cheapest_by_weight([pack for pack, _ in every if not pack.loose])
        if pack is not None:
            count = max(math.ceil(used / pack.size_kg - USED_UP), 1)
            found.append(PackCount(ingredient.id, pack.name, count, pack.size_kg, used))
    return tuple(found)


def emptying_size(
    batch: Batch, packs: Sequence[PackCount], grown: Callable[[int, float], float | None]
) -> EmptyingSize | None:
    """Find the size nearest to that of a batch in which the packs of one thing are used up.

    Parameters
    ----------
    batch : Batch
    packs : sequence of PackCount
        Of it.
    grown : callable
        From a step and the factor it is scaled by to the volume bottled; None for a size that cannot be.

    Returns
    -------
    EmptyingSize or None
        None where nothing comes in packs, or what does goes into several steps.
    """
    ids = [ingredient.id for ingredient in batch.ingredients]
    here = float(batch.drink.volume_l)
    found = []
    for one in packs:
        steps = np.flatnonzero(batch.masses_kg[:, ids.index(one.ingredient)] > 0.0)
        if len(steps) != 1:
            continue
        for count in {one.packs, max(one.packs - 1, 1)}:
            use = count * one.size_kg
            volume = grown(int(steps[0]), use / one.used_kg)
            if volume is not None:
                found.append(EmptyingSize(one.ingredient, one.pack, count, use, volume))
    return min(found, key=lambda one: abs(one.volume_l - here), default=None)


def pack_notes(packs: Sequence[PackCount], nearest: EmptyingSize | None, volume_l: float) -> list[Note]:
    """Say what packs a size takes and leaves, and which size would leave none begun.

    Parameters
    ----------
    packs : sequence of PackCount
    nearest : EmptyingSize or None
    volume_l : float
        Of the batch.
    """
    if not packs:
        return []
    takes = ", ".join(
        f"{one.packs} x {one.pack} {one.ingredient}"
        f" ({f'{1000.0 * one.left_kg:.0f} g' if one.left_kg else 'nothing'} left)"
        for one in packs
    )
    notes = [Note("packs", f"From nothing on hand it takes {takes}.")]
    if nearest is None:
        return notes
    what = f"{nearest.packs} x {nearest.pack} {nearest.ingredient}"
    if abs(nearest.volume_l - volume_l) <= USED_UP * volume_l:
        return [*notes, Note("empties_packs", f"This size uses up {what}.")]
    text = (
        f"The nearest size that empties a pack is {nearest.volume_l:.2f} L, which uses up {what}: "
        f"--to 'use {1000.0 * nearest.use_kg:.1f} g of {nearest.ingredient}'."
    )
    return [*notes, Note("empties_packs", text)]
