"""What a kilogram of each ingredient brings of something, for limits on shares."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import BITTERNESS, Materials
from formulate.files.ingredient import Ingredient
from formulate.physics.mixture import ACIDS, CITRIC_EQUIVALENT, INDEX, SUGARS

__all__ = ["brought"]

FloatArray = NDArray[np.float64]


def brought(of: str, materials: Materials, ingredients: Sequence[Ingredient]) -> FloatArray | None:
    """Return what a kilogram of each ingredient brings of something.

    Parameters
    ----------
    of : str
        `mass`, `bitterness`, `sugar`, `acid`, or the name of an attribute.
    materials : Materials
    ingredients : sequence of Ingredient
        The same n of them.

    Returns
    -------
    ndarray, shape (n,), or None
        None when nobody says how much of it any of them brings.
    """
    content = materials.content
    if of == "mass":
        return np.ones(len(content))
    if of == "bitterness":
        return np.array(content[:, materials.column(BITTERNESS)])
    if of == "sugar":
        return np.array(content[:, [INDEX[name] for name in SUGARS]].sum(axis=1))
    if of == "acid":
        equivalents = np.array([CITRIC_EQUIVALENT[name] for name in ACIDS])
        return np.array(content[:, [INDEX[name] for name in ACIDS]] @ equivalents)
    values = np.array([ingredient.attributes.get(of, 0.0) for ingredient in ingredients])
    return values if values.any() else None
