"""What cannot be bought any more, as limits of a bottle's question."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from formulate.bar.pantry import Pantry
from formulate.files.ingredient import Ingredient
from formulate.optimise.problem import Limit, Origin, Over

__all__ = ["gone_limits", "most_of", "with_parts"]


def with_parts(pantry: Pantry, names: Iterable[str]) -> frozenset[str]:
    """Add to what is gone the parts of whole things among it that nobody else sells.

    Parameters
    ----------
    pantry : Pantry
    names : iterable of str
    """
    wholes = pantry.shelf.whole if pantry.shelf else {}
    gone = set(names)
    for name in tuple(gone):
        if name not in wholes:
            continue
        others = {part for other, whole in wholes.items() if other not in gone for part in whole.parts}
        gone |= {part for part in wholes[name].parts if part not in others and not pantry.offers(part)}
    return frozenset(gone)


def gone_limits(pantry: Pantry, ingredients: Sequence[Ingredient], volume_l: float | None) -> list[Limit]:
    """Limit what is gone to nothing, and what the house makes of it to what stands there.

    Parameters
    ----------
    pantry : Pantry
    ingredients : sequence of Ingredient
        Of the question.
    volume_l : float or None
        Size of the batch where it is known.
    """
    limits = []
    for index, ingredient in enumerate(ingredients if pantry.gone else ()):
        if ingredient.id in pantry.gone:
            limits.append(most_of(ingredient.id, index, 0.0, volume_l, f"{ingredient.id} is gone"))
        elif missing := _made_of_gone(pantry, ingredient.id):
            left = pantry.on_hand_kg(ingredient) or 0.0
            text = f"{missing} is gone and {1000.0 * left:.0f} g left of {ingredient.id}"
            limits.append(most_of(ingredient.id, index, left, volume_l, text))
    return limits


def _made_of_gone(pantry: Pantry, name: str) -> str:
    """Name something gone that a house-made thing is made of, through others too; empty for none."""
    if pantry.shelf is None or name not in pantry.shelf.house_made:
        return ""
    batch = pantry.made(name).batch
    for ingredient, mass in zip(batch.ingredients, batch.used_kg, strict=True):
        if mass > 0.0:
            found = (
                ingredient.id if ingredient.id in pantry.gone else _made_of_gone(batch.pantry, ingredient.id)
            )
            if found:
                return found
    return ""


def most_of(name: str, index: int, mass_kg: float, volume_l: float | None, text: str) -> Limit:
    """Limit one ingredient to a mass for the whole batch; nobody's wish."""
    per_litre = mass_kg / volume_l if volume_l is not None else 0.0
    shown = 1000.0 * volume_l if volume_l is not None and mass_kg > 0.0 else np.nan
    return Limit(
        over=Over.MASSES,
        indices=np.array([index], dtype=np.int32),
        weights=np.ones(1),
        lower=-np.inf,
        upper=per_litre,
        origin=Origin(name, text),
        unit="g",
        display=shown,
        batch_weight=0.0 if volume_l is not None else -mass_kg,
        firm=True,
    )
