"""Flavour in usual doses: who leads a drink, and how its flavour is shared.

A working measure of our own, no standard: the dose that is drawn out, over the usual dose of that plant or
fruit. A leaf of wormwood and a kilogram of damsons are so told in one figure. What a step's time and warmth
draw counts; what its strength does is left out, so that the measure adds up over a recipe.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import kinetics_of
from formulate.physics.extraction import approach

if TYPE_CHECKING:
    from formulate.blend.batch import Batch
    from formulate.blend.chain import Step
    from formulate.files.ingredient import Ingredient

__all__ = ["FlavourPart", "flavour_of", "flavour_per_kg"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FlavourPart:
    """What one ingredient brings of the flavour of a drink.

    Attributes
    ----------
    usual_doses : float
        Drawn out, over its usual dose.
    share : float
        Of the flavour of the drink, 0 to 1.
    """

    ingredient: str
    usual_doses: float
    share: float


def flavour_per_kg(ingredients: Sequence[Ingredient], steps: Sequence[Step], kind: str | None) -> FloatArray:
    """Return the usual doses that a kilogram per litre bottled of each ingredient gives in each step.

    Parameters
    ----------
    kind : str or None
        `concentrate`, or None for a drink by the glass.

    Returns
    -------
    ndarray, shape (steps, n)
        0 for what has no dose.
    """
    usual = np.array(
        [
            0.0 if (dose := ingredient.dose) is None else 1000.0 / dose.range_for(kind).usual_g_l
            for ingredient in ingredients
        ]
    )
    drawn = np.ones((len(steps), len(ingredients)))
    for row, step in zip(drawn, steps, strict=True):
        if step.time_h is None or step.temperature_c is None:
            continue
        for number, ingredient in enumerate(ingredients):
            kinetics = kinetics_of(ingredient)
            if kinetics is not None:
                row[number] = float(approach(step.time_h, step.temperature_c, kinetics))
    per_kg: FloatArray = drawn * usual
    return per_kg


def flavour_of(batch: Batch, kind: str | None) -> tuple[FlavourPart, ...]:
    """Say who brings the flavour of a drink, who leads first.

    Parameters
    ----------
    kind : str or None
        See `flavour_per_kg`.

    Returns
    -------
    tuple of FlavourPart
        Empty where nothing in it has a dose.
    """
    per_kg = flavour_per_kg(batch.ingredients, batch.chain.steps, kind)
    doses = (batch.masses_kg * per_kg).sum(axis=0) / batch.volume_l
    total = float(doses.sum())
    parts = [
        FlavourPart(ingredient.id, float(dose), float(dose) / total)
        for ingredient, dose in zip(batch.ingredients, doses, strict=True)
        if dose > 0.0
    ]
    return tuple(sorted(parts, key=lambda part: -part.usual_doses))
