"""One batch: what is weighed in, and what the forward model makes of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import Chain, ChainRun
from formulate.blend.materials import LIQUOR
from formulate.blend.profile import Profile, profile
from formulate.blend.steps import LEAST_SHOWN_KG_L
from formulate.files.ingredient import Ingredient
from formulate.files.steps import StepSpec
from formulate.physics.mixture import strength_pct_vol, volume_l

__all__ = ["Batch"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Batch:
    """What goes into each step; what comes out is worked out when it is first asked for.

    Attributes
    ----------
    ingredients : tuple of Ingredient
        n of them, measured bitterness put in.
    specs : tuple of StepSpec
        One per step, as the file writes them with defaults filled in.
    chain : Chain
        The same steps and ingredients as numbers, with every attribute that is followed.
    masses_kg : ndarray, shape (steps, n)
        As bought.
    measured : frozenset of str
        Ids whose bitterness somebody measured for this lot.
    """

    ingredients: tuple[Ingredient, ...]
    specs: tuple[StepSpec, ...]
    chain: Chain
    masses_kg: FloatArray
    measured: frozenset[str] = frozenset()

    @cached_property
    def run(self) -> ChainRun:
        """What happens in each step."""
        return self.chain.run(self.masses_kg)

    @cached_property
    def drink(self) -> Profile:
        """What is bottled; raises `RangeError` outside the range of the density model."""
        return profile(self.bottled, self.chain.materials)

    @property
    def bottled(self) -> FloatArray:
        """Mass of each carried quantity in the bottle, shape (carried,)."""
        return self.run.bottled

    @property
    def volume_l(self) -> float:
        """Litres bottled."""
        return float(self.drink.volume_l)

    @property
    def used_kg(self) -> FloatArray:
        """Mass of each ingredient in all steps, shape (n,)."""
        used: FloatArray = self.masses_kg.sum(axis=0)
        return used

    @property
    def weighed_kg(self) -> FloatArray:
        """The masses with what is too little to be anything left out, shape (steps, n)."""
        return np.where(self.masses_kg > LEAST_SHOWN_KG_L * self.volume_l, self.masses_kg, 0.0)

    @property
    def used(self) -> tuple[str, ...]:
        """Ids of what is weighed in, in the order of the work."""
        rows, columns = np.nonzero(self.weighed_kg)
        del rows
        return tuple(dict.fromkeys(self.ingredients[column].id for column in columns))

    def holdings(self) -> Iterator[tuple[Ingredient, float]]:
        """List what goes in, in the order of the file, with its mass in all steps."""
        for ingredient, mass in zip(self.ingredients, self.used_kg, strict=True):
            if mass > 0.0:
                yield ingredient, float(mass)

    def liquor_kg(self, position: int) -> FloatArray:
        """Return the liquor of a step before it is strained, shape (15,)."""
        liquor: FloatArray = self.run.gross[position, :LIQUOR]
        return liquor

    def liquor_l(self, position: int) -> float:
        """Return the volume of that liquor; 0 where there is none."""
        liquor = self.liquor_kg(position)
        return float(volume_l(liquor, check=False)) if liquor.sum() > 0.0 else 0.0

    def liquor_pct_vol(self, position: int) -> float:
        """Return the strength of that liquor; 0 where there is none."""
        liquor = self.liquor_kg(position)
        return float(strength_pct_vol(liquor, check=False)) if liquor.sum() > 0.0 else 0.0
