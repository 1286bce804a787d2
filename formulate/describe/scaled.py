"""A recipe in another size as a record, and what is said of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.balances import steps_kg
from formulate.bar.batch import BarBatch
from formulate.bar.scaling import USED_UP, EmptyingSize, PackCount
from formulate.bar.vessels import FillRecord
from formulate.describe.records import DrinkRecord
from formulate.errors import Note
from formulate.files.measures import COST
from formulate.files.recipe import Recipe
from formulate.quantity.document import HIDDEN, Record, shown
from formulate.quantity.words import listed
from formulate.rules.law import law_of

__all__ = ["ScaledRecipe", "missed_notes", "missed_targets", "pack_notes", "scaling_notes"]

FloatArray = NDArray[np.float64]

SAME_PCT_VOL, SAME_G_L = 0.05, 0.5
"""The profile counts as kept within these."""
SAME_SHARE = 0.05
"""Rounding an ingredient by more than this share of it is told (working limit)."""


@dataclass(frozen=True)
class ScaledRecipe(Record):
    """A recipe in another size.

    Attributes
    ----------
    drink : DrinkRecord
        What a report shows, notes on the scaling first.
    recipe : Recipe
        The new one, weighed in grams.
    before_l, after_l : float
        Bottled.
    factors : tuple of (str, float)
        By how much each step was scaled.
    fills : tuple of FillRecord
        Vessels named by the recipe.
    missed : tuple of str
        Targets that the recipe met and that are off in this size.
    packs : tuple of PackCount
        What it takes of what is sold in packs.
    empties : EmptyingSize or None
        The nearest size that uses packs up.
    """

    drink: DrinkRecord = field(metadata=shown(""))
    recipe: Recipe = field(metadata=HIDDEN)
    before_l: float = field(metadata=shown("scaling.before_l"))
    after_l: float = field(metadata=shown("scaling.after_l"))
    factors: tuple[tuple[str, float], ...] = field(metadata=shown("scaling.factors", rows=("step", "factor")))
    fills: tuple[FillRecord, ...] = field(metadata=shown("scaling.vessels"))
    missed: tuple[str, ...] = field(default=(), metadata=HIDDEN)
    packs: tuple[PackCount, ...] = field(default=(), metadata=shown("scaling.packs"))
    empties: EmptyingSize | None = field(default=None, metadata=shown("scaling.empties_packs"))


def scaling_notes(before: BarBatch, after: BarBatch, factors: FloatArray) -> list[Note]:
    """Say what does not grow with the batch, and what weighing on the bar's balances does to it.

    Parameters
    ----------
    factors : ndarray, shape (steps + 1,)
        By how much each step was scaled and, last, what is bottled.
    """
    notes = []
    if np.ptp(factors) > 1e-9 * factors.max():
        parts: dict[str, list[str]] = {}
        for step, factor in zip(before.chain.steps, factors, strict=False):
            parts.setdefault(_share(factor), []).append(step.name)
        takes = ", ".join(
            f"{listed(names)} take{'s' if len(names) == 1 else ''} {part}" for part, names in parts.items()
        )
        bottles = _share(factors[-1])
        grows = "grow" if factors[-1] >= 1.0 else "shrink"
        notes.append(
            Note(
                "not_a_multiplier",
                f"What is lost once per batch does not {grows} with it: for {bottles} the bottles "
                f"{takes} the ingredients.",
            )
        )
    strength = float(after.drink.strength_pct_vol - before.drink.strength_pct_vol)
    sugar = float(after.drink.sugar_g_l - before.drink.sugar_g_l)
    if abs(strength) > SAME_PCT_VOL or abs(sugar) > SAME_G_L:
        notes.append(
            Note(
                "profile_moved",
                f"A fixed loss and a rinse in one step change its composition: strength moves by "
                f"{strength:+.2f} % vol and sugar by {sugar:+.1f} g/L. Put it right with `adjust`.",
            )
        )
    return [*notes, _weighing(after)]


def _weighing(batch: BarBatch) -> Note:
    """Round every mass to what the balances show, and say what that does."""
    balances = batch.pantry.shelf.balances if batch.pantry.shelf else ()
    step_kg = np.array([steps_kg(row, balances) for row in batch.masses_kg])
    rounded = np.round(batch.masses_kg / step_kg) * step_kg
    drink = replace(batch, masses_kg=rounded).drink
    strength = abs(float(drink.strength_pct_vol - batch.drink.strength_pct_vol))
    sugar = abs(float(drink.sugar_g_l - batch.drink.sugar_g_l))
    # Rounded up, so that it never moves further than is said.
    up = (math.ceil(strength * 100.0) / 100.0, math.ceil(sugar * 10.0) / 10.0)
    by = f"by at most {up[0]:.2f} % vol and {up[1]:.1f} g/L of sugar"
    rounded_off = np.divide(
        np.abs(rounded - batch.masses_kg),
        batch.masses_kg,
        out=np.zeros_like(rounded),
        where=batch.masses_kg > 0.0,
    )
    coarse = [
        (ingredient.id, float(rounded_off[step, column]))
        for step in range(len(rounded))
        for column, ingredient in enumerate(batch.ingredients)
        if batch.masses_kg[step, column] > 0.0 and rounded_off[step, column] > SAME_SHARE
    ]
    if broken := _law_broken(batch, rounded):
        return Note(
            "weighing",
            f"Rounded to the steps of your balances the drink would break the limit on {broken}: weigh what "
            "brings it on a finer balance, or round it down.",
        )
    if coarse:
        # A pinch that is rounded away moves neither strength nor sugar, but what it is there for.
        names = listed([f"{name} ({share * 100.0:.0f} %)" for name, share in coarse])
        return Note(
            "weighing",
            f"Rounded to the steps of your balances strength and sugar move {by}, but what there is little "
            f"of is off by much: {names}. A finer balance, a tincture or a larger batch helps.",
        )
    is_same = strength <= SAME_PCT_VOL and sugar <= SAME_G_L
    said = "stays the same" if is_same else "moves: weigh the small things on a finer balance"
    return Note("weighing", f"Rounded to the steps of your balances the drink {said} ({by}).")


def _share(factor: float) -> str:
    """Say how many times as much, as a kitchen would."""
    return f"{factor:.3g} times" if factor >= 1.0 else f"{factor * 100.0:.2g} % of"


def missed_targets(before: DrinkRecord, after: DrinkRecord) -> tuple[str, ...]:
    """Name the targets that the recipe met and the new size does not."""
    met = {target.target for target in before.targets if target.verdict == ""}
    return tuple(target.target for target in after.targets if target.verdict and target.target in met)


def missed_notes(missed: Sequence[str]) -> list[Note]:
    """Say what to do about targets that are off in this size."""
    if not missed:
        return []
    text = f"In this size {listed(missed)} is off target; in the recipe it was not. "
    text += (
        "What is lost once per batch costs more on a small one: make more, or give the target more room."
        if missed == (COST,)
        else "Solve the bottle file in this size instead."
    )
    return [Note("off_target", text)]


def _law_broken(batch: BarBatch, masses_kg: FloatArray) -> str:
    """Name what goes over a limit of the law by rounding that it kept before."""
    known = {cap.rule for cap in law_of(batch, batch.rules).over}
    after = law_of(replace(batch, masses_kg=masses_kg), batch.rules).over
    return ", ".join(dict.fromkeys(cap.substance for cap in after if cap.rule not in known))


def pack_notes(packs: Sequence[PackCount], nearest: EmptyingSize | None, volume_l: float) -> list[Note]:
    """Say what packs a size takes and leaves, and which size would leave none begun.

    Parameters
    ----------
    volume_l : float
        Of the batch.
    """
    if not packs:
        return []
    takes = ", ".join(
        f"{pack.packs} x {pack.pack} {pack.ingredient}"
        f" ({f'{1000.0 * pack.left_kg:.0f} g' if pack.left_kg else 'nothing'} left)"
        for pack in packs
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
