"""How far the figures of a plant can be trusted, and what weak and strong lots of it make of a drink."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from math import exp, hypot, log
from typing import Literal

from formulate.blend.batch import Batch
from formulate.blend.materials import BITTERNESS, LIQUOR, class_of
from formulate.blend.uptake import drawn_range
from formulate.files.infusing import Drawn
from formulate.files.ingredient import Bitterness, Infusion, Ingredient

__all__ = [
    "CONFIDENCES",
    "bitterness_range",
    "content_range",
    "perhaps_bitter",
    "with_handling",
    "with_measured",
]

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


def bitterness_range(batch: Batch) -> tuple[float, float] | None:
    """Give the bitterness value by weak and strong lots of the same plants; None when nothing is bitter.

    Each plant's own published low and high value is used, else half and twice the usual one. In a step with a
    time the doubt in how fast it gives is joined to that, as of two things that have nothing to do with each
    other: their logarithms add as squares.
    """
    chain = batch.chain
    activity = chain.materials.column(BITTERNESS)
    values = chain.materials.content[:, activity]
    if not (batch.masses_kg @ values).any():
        return None
    usual = low = high = 0.0
    for step, uptake, masses in zip(chain.steps, chain.uptakes, batch.masses_kg, strict=True):
        given = uptake.reached[:, activity - LIQUOR] * masses
        for number, part in enumerate(given):
            if not part > 0.0:
                continue
            weak, strong = _lot_range(batch.ingredients[number], batch.measured)
            kinetics = chain.materials.kinetics[number][0] if chain.materials.kinetics else None
            slow, fast = drawn_range(step, kinetics)
            usual += part
            low += part * exp(-hypot(log(weak), log(slow)))
            high += part * exp(hypot(log(strong), log(fast)))
    value = float(batch.drink.bitterness_value)
    return value * low / usual, value * high / usual


def _lot_range(ingredient: Ingredient, measured: Collection[str]) -> tuple[float, float]:
    """Return how much weaker and stronger a lot may be than usual, as factors."""
    bitter = ingredient.bitterness
    if bitter is None or ingredient.id in measured or not bitter.value:
        return 1.0, 1.0
    return (
        bitter.low / bitter.value if bitter.low else 1.0 / LOT_FACTOR,
        bitter.high / bitter.value if bitter.high else LOT_FACTOR,
    )


def content_range(
    ingredient: Ingredient, held: Literal["water", "sugars", "acid"]
) -> tuple[float, float] | None:
    """Give how much less and more of something lots hold than usual, as factors by the published tables.

    None where no table was found, or where the usual lot holds none of it.

    Parameters
    ----------
    held : str
        Water, all sugars together, or all acids together.
    """
    band = ingredient.ranges.get(held)
    usual = {
        "water": ingredient.composition.get("water", 0.0),
        "sugars": ingredient.sugar_share,
        "acid": ingredient.acid_share,
    }[held]
    if band is None or band.lower is None or band.upper is None or not usual:
        return None
    return band.lower / usual, band.upper / usual


def perhaps_bitter(ingredients: Sequence[Ingredient], used: Sequence[str]) -> list[str]:
    """List the ids of plants used whose kind is often bitter, but which have no bitterness figure."""
    return [
        ingredient.id
        for ingredient in ingredients
        if ingredient.id in used and ingredient.bitterness is None and ingredient.family in _PERHAPS_BITTER
    ]


def with_handling(ingredient: Ingredient, cut: str | None, drawn: Drawn | None) -> Ingredient:
    """Return an ingredient as a file says it is cut, and as much as it gave in a jar of the bar's.

    Parameters
    ----------
    cut : str or None
        A key of `physics.extraction.CUTS`; None leaves it as it is.
    drawn : Drawn or None
        None leaves it as it is.
    """
    plant_class = class_of(ingredient)
    if plant_class is None or (cut is None and drawn is None):
        return ingredient
    known = ingredient.infusion or Infusion(like=plant_class)
    changed = {"cut": cut or known.cut, "drawn": drawn or known.drawn}
    return ingredient.model_copy(update={"infusion": known.model_copy(update=changed)})


def with_measured(ingredient: Ingredient, measured: float | None) -> Ingredient:
    """Return an ingredient with the bitterness somebody measured in place of the usual one."""
    if measured is None:
        return ingredient
    extracted = ingredient.bitterness.extracted if ingredient.bitterness else 0.9
    value = Bitterness(value=measured, low=None, high=None, extracted=extracted)
    return ingredient.model_copy(update={"bitterness": value})
