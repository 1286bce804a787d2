"""A batch as a chain of steps, run forwards.

For each step, in kilograms::

    gross   = what was carried over + what dissolves of the ingredients added here
    kept    = sum of mass x retention x factor of the straining   (liquor left in the cake)
    carried = (1 - loss) * (liquor - kept) - fixed loss           (leaves the step)

The cake keeps liquor of the step's own composition, so every component is carried in the
same proportion. What is added after the press is not lost in the cake. Bitterness and other
activities come out by time, temperature and strength (`uptake`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, Materials
from formulate.blend.uptake import Uptake, uptake_of
from formulate.physics.components import ETHANOL, WATER

__all__ = ["Chain", "ChainRun", "Step", "ethanol_fraction"]

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
    cake_factor : float
        What the cake keeps, relative to the ingredients' own retention.
    dried_factor : float or None
        The same for dried plants; None for as the others.
    rinse_kg_per_kg : float
        Water the pressed cake is wetted with and pressed again, per kg of liquor it holds.
    time_h, temperature_c : float or None
        How long and how warm it infuses; None counts as infused to the end.
    stirred : bool
        Whether it is kept moving.
    """

    name: str
    loss_fraction: float = 0.0
    fixed_loss_kg: float = 0.0
    strains: bool = True
    cake_factor: float = 1.0
    dried_factor: float | None = None
    rinse_kg_per_kg: float = 0.0
    time_h: float | None = None
    temperature_c: float | None = None
    stirred: bool = False


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
        Liquor left in the cake, rinse water in it included.
    rinse_kg : ndarray, shape (..., steps)
        Water used to rinse cakes.
    lost_kg : ndarray, shape (..., steps)
        Liquor lost to sieves and vessels.
    solids_kg : ndarray, shape (..., steps)
        Dry solids left in the cake.
    """

    gross: FloatArray
    carried: FloatArray
    kept_kg: FloatArray
    rinse_kg: FloatArray
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

    @cached_property
    def uptakes(self) -> tuple[Uptake, ...]:
        """What the ingredients give up, step by step."""
        return tuple(uptake_of(step, self.materials) for step in self.steps)

    @cached_property
    def retentions(self) -> FloatArray:
        """Liquor kept per kilogram as bought, shape (steps, n): by what each step strains through."""
        materials = self.materials
        dried = (
            np.asarray(materials.dried, dtype=bool)
            if len(materials.dried)
            else np.zeros(len(materials.ids), bool)
        )
        rows = []
        for step in self.steps:
            of_dried = step.cake_factor if step.dried_factor is None else step.dried_factor
            rows.append(materials.retention * np.where(dried, of_dried, step.cake_factor))
        return np.array(rows)

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
        dissolved = masses_kg @ self.materials.content[:, :LIQUOR]
        kept = (masses_kg * self.retentions).sum(axis=-1)
        rinse = kept * np.array([step.rinse_kg_per_kg for step in self.steps])
        solids = masses_kg @ self.materials.solids
        gross = np.empty((*kept.shape, self.materials.content.shape[1]))
        carried, lost = np.empty_like(gross), np.empty_like(kept)
        flowing = np.zeros_like(gross[..., 0, :])
        for position, (step, uptake) in enumerate(zip(self.steps, self.uptakes, strict=True)):
            here = gross[..., position, :]
            here[..., :LIQUOR] = flowing[..., :LIQUOR] + dissolved[..., position, :]
            given = uptake.added(masses_kg[..., position, :], ethanol_fraction(here))
            here[..., LIQUOR:] = uptake.left * (flowing[..., LIQUOR:] + given)
            liquor = here[..., :LIQUOR].sum(axis=-1)
            # A rinse of r times what the cake holds mixes with it; pressed again, 1/(1 + r) of the
            # liquor stays and r^2/(1 + r) of the cake's hold comes out as water.
            wetting = 1.0 + step.rinse_kg_per_kg
            strained = liquor - kept[..., position] / wetting
            leaving = (1.0 - step.loss_fraction) * strained - step.fixed_loss_kg * np.asarray(batches)
            share = np.divide(leaving, liquor, out=np.zeros_like(liquor), where=liquor > 0.0)
            flowing = here * share[..., None]
            flowing[..., WATER] += kept[..., position] * step.rinse_kg_per_kg**2 / wetting
            carried[..., position, :] = flowing
            # An empty step loses nothing, whatever a full one leaves in its vessel.
            lost[..., position] = np.where(liquor > 0.0, strained - leaving, 0.0)
        return ChainRun(gross, carried, kept, rinse, lost, solids)


def ethanol_fraction(liquor: FloatArray) -> FloatArray:
    """Return the mass fraction of ethanol in ethanol and water, 0 where there is neither.

    Parameters
    ----------
    liquor : ndarray, shape (..., at least 15)
    """
    ethanol = liquor[..., ETHANOL]
    solvent = ethanol + liquor[..., WATER]
    return np.divide(ethanol, solvent, out=np.zeros_like(solvent), where=solvent > 0.0)
