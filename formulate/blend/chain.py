"""A batch as a chain of steps, run forwards.

For each step, in kilograms::

    gross   = what was carried over + what dissolves of the ingredients added here
    kept    = sum of mass x retention                     (liquor left in the cake)
    carried = (1 - loss) * (liquor - kept) - fixed loss   (leaves the step)

The cake keeps liquor of the step's own composition, so every component is carried in the
same proportion. What is added after the press is not lost in the cake.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, Materials

__all__ = ["Chain", "ChainRun", "Step"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work.

    Attributes
    ----------
    name : str
        As the person named it.
    loss_fraction : float
        Share of the strained liquor lost to sieves, filters and vessels, 0 to 1.
    fixed_loss_kg : float
        Liquor lost per batch whatever its size, in kg.
    strains : bool
        Whether solids are taken out at the end of the step.
    """

    name: str
    loss_fraction: float = 0.0
    fixed_loss_kg: float = 0.0
    strains: bool = True


@dataclass(frozen=True)
class ChainRun:
    """What a batch did, step by step; leading axes as the masses had, then steps.

    Attributes
    ----------
    gross : ndarray, shape (..., steps, carried)
        Everything dissolved in each step before it is strained, kg.
    carried : ndarray, shape (..., steps, carried)
        What leaves each step, kg. The last one is bottled.
    kept_kg : ndarray, shape (..., steps)
        Liquor left in the cake.
    lost_kg : ndarray, shape (..., steps)
        Liquor lost to sieves and vessels.
    solids_kg : ndarray, shape (..., steps)
        Dry solids left in the cake.
    """

    gross: FloatArray
    carried: FloatArray
    kept_kg: FloatArray
    lost_kg: FloatArray
    solids_kg: FloatArray

    @property
    def bottled(self) -> FloatArray:
        """What is bottled, shape (..., carried)."""
        result: FloatArray = self.carried[..., -1, :]
        return result


@dataclass(frozen=True)
class Chain:
    """Ingredients and the steps they go through.

    Attributes
    ----------
    materials : Materials
        n ingredients.
    steps : tuple of Step
        At least one.
    """

    materials: Materials
    steps: tuple[Step, ...]

    def run(self, masses_kg: FloatArray, batches: FloatArray | float = 1.0) -> ChainRun:
        """Run one batch, or many at once.

        Parameters
        ----------
        masses_kg : ndarray, shape (..., steps, n)
            Mass of each ingredient added in each step, as bought.
        batches : float or ndarray, shape (...)
            How many batches the masses stand for; scales the fixed losses. 0.2 says that the
            masses are one fifth of a batch.

        Returns
        -------
        ChainRun
            Where a cake would keep more than there is, what is carried is negative; the
            caller decides what to say about it.
        """
        masses_kg = np.asarray(masses_kg, dtype=float)
        added = masses_kg @ self.materials.content
        kept = masses_kg @ self.materials.retention
        solids = masses_kg @ self.materials.solids
        gross, carried, lost = np.empty_like(added), np.empty_like(added), np.empty_like(kept)
        flowing = np.zeros_like(added[..., 0, :])
        for position, step in enumerate(self.steps):
            gross[..., position, :] = flowing + added[..., position, :]
            liquor = gross[..., position, :LIQUOR].sum(axis=-1)
            strained = liquor - kept[..., position]
            leaving = (1.0 - step.loss_fraction) * strained - step.fixed_loss_kg * np.asarray(batches)
            share = np.divide(leaving, liquor, out=np.zeros_like(liquor), where=liquor > 0.0)
            flowing = gross[..., position, :] * share[..., None]
            carried[..., position, :] = flowing
            lost[..., position] = strained - leaving
        return ChainRun(gross=gross, carried=carried, kept_kg=kept, lost_kg=lost, solids_kg=solids)
