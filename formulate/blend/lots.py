"""How far the figures of a plant can be trusted, and what weak and strong lots of it make of a drink."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import Chain
from formulate.blend.materials import BITTERNESS
from formulate.blend.profile import Profile
from formulate.files.ingredient import Bitterness, Ingredient

__all__ = ["CONFIDENCES", "bitterness_range", "perhaps_bitter", "with_measured"]

FloatArray = NDArray[np.float64]

CONFIDENCES: tuple[Literal["from memory", "common practice", "published", "measured here"], ...] = (
    "from memory",
    "common practice",
    "published",
    "measured here",
)
"""How far a figure can be trusted, the weakest first."""
_PERHAPS_BITTER = frozenset({"root", "bark", "herb", "flower", "spice", "citrus", "other"})


LOT_FACTOR = 2.0
"""A plant lot may be this many times weaker or stronger than its usual value (common practice)."""


def bitterness_range(
    chain: Chain,
    ingredients: Sequence[Ingredient],
    masses_kg: FloatArray,
    drink: Profile,
    measured: Sequence[str],
) -> tuple[float, float] | None:
    """Give the range of weak to strong lots of the same plants; None when nothing is bitter.

    Each plant's own published low and high value is used, else half and twice the usual one.
    """
    column = chain.materials.column(BITTERNESS)
    parts = masses_kg.sum(axis=0) * chain.materials.content[:, column]
    if not parts.sum() > 0.0:
        return None
    low = high = 0.0
    for part, ingredient in zip(parts, ingredients, strict=True):
        bitter = ingredient.bitterness
        if bitter is None or ingredient.id in measured or not bitter.value:
            low, high = low + part, high + part
            continue
        low += part * (bitter.low / bitter.value if bitter.low else 1.0 / LOT_FACTOR)
        high += part * (bitter.high / bitter.value if bitter.high else LOT_FACTOR)
    value = float(drink.bitterness_value)
    return value * low / parts.sum(), value * high / parts.sum()


def perhaps_bitter(ingredients: Sequence[Ingredient], used: Sequence[str]) -> list[str]:
    """List the ids of plants used whose kind is often bitter, but which have no bitterness figure."""
    return [
        ingredient.id
        for ingredient in ingredients
        if ingredient.id in used and ingredient.bitterness is None and ingredient.family in _PERHAPS_BITTER
    ]


def with_measured(ingredient: Ingredient, measured: float | None) -> Ingredient:
    """Return an ingredient with the bitterness somebody measured in place of the usual one."""
    if measured is None:
        return ingredient
    extracted = ingredient.bitterness.extracted if ingredient.bitterness else 0.9
    value = Bitterness(value=measured, low=None, high=None, extracted=extracted)
    return ingredient.model_copy(update={"bitterness": value})
