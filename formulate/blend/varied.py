"""The same batch many times over, each a little otherwise: other lots, other hands, another day.

The forward model of `chain`, where each run may have its own contents, cakes, speeds and warmth. Ten thousand
runs are one pass over arrays; a run with nothing changed gives what `Chain.run` gives.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import Chain, ethanol_fraction
from formulate.blend.materials import LIQUOR
from formulate.blend.uptake import COLOUR, StrengthTable
from formulate.physics.components import ACIDS, ETHANOL, INDEX, SUGARS, WATER
from formulate.physics.extraction import STIRRED_FASTER
from formulate.physics.kinetics import anthocyanin_left, factor_unchecked
from formulate.physics.strength import abv_from_mass_fraction

__all__ = ["GROUPS", "Varied", "VariedRun", "run_varied"]

FloatArray = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]

GROUPS: Mapping[str, tuple[int, ...]] = {
    "sugar": tuple(INDEX[name] for name in SUGARS),
    "acid": tuple(INDEX[name] for name in ACIDS),
    "spirit": (ETHANOL,),
}
"""What of an ingredient may be more or less than usual, water making up for it."""


@dataclass(frozen=True)
class Varied:
    """What differs from run to run; all arrays begin with the runs.

    Attributes
    ----------
    content : mapping of (group, ingredient) to ndarray, shape (runs,)
        Factors on a group of `GROUPS`; ingredients by position.
    given : mapping of (activity, ingredient) to ndarray
        Factors on what an ingredient gives of a carried activity, by position after the liquor.
    speed : mapping of ingredient to ndarray
        Factors on its time constant.
    kept : mapping of ingredient to ndarray
        Factors on the liquor its cake keeps.
    lost : ndarray or None
        Added to the share lost in every straining step.
    warmer_k : ndarray or None
        Added to the temperature of every step that has one.
    longer : ndarray or None
        Factor on the time of every such step.
    """

    content: Mapping[tuple[str, int], FloatArray] = field(default_factory=dict)
    given: Mapping[tuple[int, int], FloatArray] = field(default_factory=dict)
    speed: Mapping[int, FloatArray] = field(default_factory=dict)
    kept: Mapping[int, FloatArray] = field(default_factory=dict)
    lost: FloatArray | None = None
    warmer_k: FloatArray | None = None
    longer: FloatArray | None = None


@dataclass(frozen=True)
class VariedRun:
    """What the runs did.

    Attributes
    ----------
    carried : ndarray, shape (runs, steps, carried)
        What leaves each step, kg.
    kept_kg : ndarray, shape (runs, steps)
        Liquor the cake holds when it is pressed out.
    solids_kg : ndarray, shape (runs, steps)
        Dry solids in it.
    gross : ndarray, shape (runs, steps, carried)
        All that is dissolved before it is strained.
    """

    carried: FloatArray
    kept_kg: FloatArray
    solids_kg: FloatArray
    gross: FloatArray

    @property
    def bottled(self) -> FloatArray:
        """What is bottled, shape (runs, carried)."""
        result: FloatArray = self.carried[:, -1, :]
        return result


def run_varied(chain: Chain, masses_kg: FloatArray, varied: Varied, runs: int) -> VariedRun:
    """Run a batch many times.

    Parameters
    ----------
    chain : Chain
    masses_kg : ndarray, shape (steps, n) or (runs, steps, n)
        Weighed in, the same for all or each its own.
    varied : Varied
    runs : int
    """
    materials = chain.materials
    steps, count = len(chain.steps), len(materials.ids)
    masses = np.broadcast_to(np.asarray(masses_kg, dtype=float), (runs, steps, count))
    dissolved = _dissolved(materials.content, masses, varied)
    kept = _kept(chain, masses, varied)
    solids = masses @ materials.solids
    gross = np.empty((runs, steps, len(materials.carried)))
    carried = np.empty_like(gross)
    held = np.empty((runs, steps))
    flowing = np.zeros((runs, len(materials.carried)))
    for position, step in enumerate(chain.steps):
        here = gross[:, position, :]
        here[:, :LIQUOR] = flowing[:, :LIQUOR] + dissolved[:, position, :]
        given, left = _given(chain, position, masses[:, position, :], varied, here)
        here[:, LIQUOR:] = left * (flowing[:, LIQUOR:] + given)
        liquor = here[:, :LIQUOR].sum(axis=-1)
        wetting = 1.0 + step.rinse_kg_per_kg
        held[:, position] = kept[:, position] / wetting
        strained = liquor - held[:, position]
        loss = np.full(runs, step.loss_fraction)
        if varied.lost is not None and step.strains:
            loss = loss + np.where(solids[:, position] > 0.0, varied.lost, 0.0)
        leaving = (1.0 - loss) * strained - step.fixed_loss_kg
        share = np.divide(leaving, liquor, out=np.zeros_like(liquor), where=liquor > 0.0)
        flowing = here * share[:, None]
        flowing[:, WATER] += kept[:, position] * step.rinse_kg_per_kg**2 / wetting
        carried[:, position, :] = flowing
    return VariedRun(carried, held, solids, gross)


def _dissolved(content: FloatArray, masses: FloatArray, varied: Varied) -> FloatArray:
    dissolved: FloatArray = masses @ content[:, :LIQUOR]
    for (group, ingredient), factor in varied.content.items():
        columns = list(GROUPS[group])
        more = (factor - 1.0)[:, None] * masses[:, :, ingredient]
        usual = content[ingredient, columns]
        for column, share in zip(columns, usual, strict=True):
            if share:
                dissolved[:, :, column] += more * share
        dissolved[:, :, WATER] -= more * usual.sum()
    return dissolved


def _kept(chain: Chain, masses: FloatArray, varied: Varied) -> FloatArray:
    kept: FloatArray = (masses * chain.retentions).sum(axis=-1)
    for ingredient, factor in varied.kept.items():
        kept += masses[:, :, ingredient] * chain.retentions[:, ingredient] * (factor - 1.0)[:, None]
    return kept


def _given(
    chain: Chain, position: int, masses: FloatArray, varied: Varied, liquor: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the activities given up in a step, and the share of each that outlasts its heat."""
    materials, step = chain.materials, chain.steps[position]
    content, names = materials.content[:, LIQUOR:], materials.carried[LIQUOR:]
    left = np.ones((len(masses), len(names)))
    given = np.zeros((len(masses), len(names)))
    timed = step.time_h is not None and step.temperature_c is not None
    hours = warmth = np.zeros(len(masses))
    if step.time_h is not None and step.temperature_c is not None:
        hours = np.full(len(masses), step.time_h) * (1.0 if varied.longer is None else varied.longer)
        warmth = np.full(len(masses), step.temperature_c) + (
            0.0 if varied.warmer_k is None else varied.warmer_k
        )
        if COLOUR in names:
            left[:, names.index(COLOUR)] = anthocyanin_left(hours, np.clip(warmth, -25.0, 100.0))
    here = np.flatnonzero((masses != 0.0).any(axis=0))
    strength: FloatArray | None = None
    shares: dict[Points, FloatArray] = {}
    for row in map(int, here):
        reached: dict[tuple[float, float, float, float], FloatArray] = {}
        for column in map(int, np.flatnonzero(content[row])):
            amount = masses[:, row] * content[row, column]
            if (column, row) in varied.given:
                amount = amount * varied.given[column, row]
            kinetics = materials.kinetics[row][column] if materials.kinetics else None
            if timed and kinetics is not None:
                key = (
                    kinetics.time_constant_h,
                    kinetics.reference_c,
                    kinetics.activation_kj_mol,
                    kinetics.wash_share,
                )
                if key not in reached:
                    slower = varied.speed.get(row, 1.0) / (STIRRED_FASTER if step.stirred else 1.0)
                    rate = factor_unchecked(warmth, kinetics.reference_c, kinetics.activation_kj_mol)
                    done = -np.expm1(-rate * hours / (kinetics.time_constant_h * slower))
                    reached[key] = kinetics.wash_share + (1.0 - kinetics.wash_share) * done
                amount = amount * reached[key]
                points = kinetics.equilibrium
                if points not in shares:
                    if strength is None:
                        fraction = np.clip(ethanol_fraction(liquor[:, :LIQUOR]), 0.0, 1.0)
                        strength = np.asarray(abv_from_mass_fraction(fraction))
                    shares[points] = StrengthTable(points).share_at(strength)
                amount = amount * shares[points]
            given[:, column] += amount
    return given, left
