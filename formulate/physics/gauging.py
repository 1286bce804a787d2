"""Backwards: from density and refractive index of a drink to its strength and sugar.

A drink is taken as ethanol, water and sucrose, with what else is known to be in it (acid as citric
acid, other solids) given in g/L. The forward models are those of `mixture`, `thermal` and
`refraction`; nothing new is fitted here but the temperature of the index.

Temperature of the index, an assumption: the specific refraction of a drink does not change with
temperature, so the index follows the density by Lorentz-Lorenz. That gives about nine tenths of the
known change of water and eleven tenths of that of ethanol near 20 degrees Celsius (handbook values, from
memory); `INDEX_TEMPERATURE_SHARE` is the share of the change that is doubted.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from formulate.errors import RangeError
from formulate.physics.coefficients import SPS4_HIGHEST_MASS_FRACTION
from formulate.physics.components import COMPONENTS, ETHANOL, ETHANOL_KG_L, FIRST_SUGAR, INDEX, WATER
from formulate.physics.density import density_sucrose_water
from formulate.physics.mixture import volume_and_partials, volume_l
from formulate.physics.numerics import Array, checked, horner
from formulate.physics.refraction import ICUMSA_FIT, refractive_index_mixture
from formulate.physics.solutes import index_from_refraction
from formulate.physics.thermal import density_mixture_kg_m3

__all__ = [
    "INDEX_TEMPERATURE_SHARE",
    "brix_at_temperature",
    "index_at_temperature",
    "index_of_brix_at_temperature",
    "masses_of_litre",
    "strength_and_sugar",
]

INDEX_TEMPERATURE_SHARE = 0.2
"""Largest share of a temperature correction of the index that is taken to be wrong (our assumption)."""

STRONGEST_PCT_VOL, SWEETEST_G_L = 100.0, 1200.0
NEWTON_STEPS = 40
CLOSE = 1e-11
NUDGE_PCT_VOL, NUDGE_G_L = 1e-3, 1e-2
LEAST_WATER_KG = 1e-9
MOST = float(np.finfo(np.float64).max)


def masses_of_litre(
    strength_pct_vol: Any, sugar_g_l: Any, acid_g_l: float = 0.0, solids_g_l: float = 0.0
) -> Any:
    """Masses in one litre at 20 degrees Celsius of a drink of this strength and sugar.

    Parameters
    ----------
    strength_pct_vol, sugar_g_l : float or ndarray, shape (...)
        % vol, and sucrose.
    acid_g_l, solids_g_l : float, default 0
        Acid as citric acid, and other dissolved solids.

    Returns
    -------
    ndarray, shape (..., 15)
        Kilograms, in the order of `components.COMPONENTS`; NaN where no water would be left to make it.

    Raises
    ------
    RangeError
        A strength or a content below zero, not finite or NaN.

    Notes
    -----
    The water is what fills the litre, found by Newton's steps on the volume, of which the partial
    volume of water is the exact slope.
    """
    name, source = "masses_of_litre", "what a litre can hold"
    for key, value, unit in (
        ("strength_pct_vol", strength_pct_vol, "% vol"),
        ("sugar_g_l", sugar_g_l, "g/L"),
        ("acid_g_l", acid_g_l, "g/L"),
        ("solids_g_l", solids_g_l, "g/L"),
    ):
        checked(value, 0.0, MOST, f"{name}: {key}", unit, source)
    return _masses_of_litre(strength_pct_vol, sugar_g_l, acid_g_l, solids_g_l)


def _masses_of_litre(strength_pct_vol: Any, sugar_g_l: Any, acid_g_l: float, solids_g_l: float) -> Array:
    """As `masses_of_litre`, unchecked: NaN gives NaN, as the search below needs it."""
    strength, sugar = np.broadcast_arrays(
        np.asarray(strength_pct_vol, dtype=np.float64), np.asarray(sugar_g_l, dtype=np.float64)
    )
    masses = np.zeros((*strength.shape, len(COMPONENTS)))
    masses[..., ETHANOL] = strength / 100.0 * ETHANOL_KG_L
    masses[..., FIRST_SUGAR] = sugar / 1000.0
    masses[..., INDEX["citric_acid"]] = acid_g_l / 1000.0
    masses[..., INDEX["other_soluble"]] = solids_g_l / 1000.0
    masses[..., WATER] = np.maximum(1.0 - masses[..., ETHANOL] / ETHANOL_KG_L - 0.6 * (sugar / 1000.0), 0.05)
    for _ in range(NEWTON_STEPS):
        volume, partials = volume_and_partials(masses, check=False)
        step = (1.0 - np.asarray(volume)) / partials[..., WATER]
        masses[..., WATER] = np.maximum(masses[..., WATER] + step, LEAST_WATER_KG)
        if np.all(np.abs(step) < 1e-14):
            break
    impossible = np.abs(np.asarray(volume_l(masses, check=False)) - 1.0) > 1e-9
    solutes = masses[..., FIRST_SUGAR:].sum(axis=-1)
    impossible |= solutes > SPS4_HIGHEST_MASS_FRACTION * masses.sum(axis=-1)
    masses[impossible] = np.nan
    return masses


def index_at_temperature(masses_kg: Any, temperature_c: float) -> Any:
    """Refractive index of a whole drink away from 20 degrees Celsius: an estimate.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
    temperature_c : float
        0 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray, shape (...)
        nD at the temperature of the drink.

    Raises
    ------
    RangeError
        As `thermal.density_mixture_kg_m3`.
    """
    index = np.asarray(refractive_index_mixture(masses_kg))
    if temperature_c == 20.0:
        return float(index) if index.ndim == 0 else index
    ratio = np.asarray(density_mixture_kg_m3(masses_kg, temperature_c)) / np.asarray(
        density_mixture_kg_m3(masses_kg)
    )
    found = _index_with_density(index, ratio)
    return float(found) if found.ndim == 0 else found


def _index_with_density(index: Array, density_ratio: Array) -> Array:
    """Lorentz-Lorenz at an unchanged specific refraction: the index when the density changes by a ratio."""
    square = index * index
    return index_from_refraction((square - 1.0) / (square + 2.0) * density_ratio, np.ones_like(index))


def index_of_brix_at_temperature(brix: Any, temperature_c: float) -> Any:
    """Index that the sugar solution of a Brix has at a temperature.

    Parameters
    ----------
    brix : float or ndarray
        % w/w sucrose, 0 to 85.
    temperature_c : float
        0 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        nD. A refractometer that corrects itself for temperature shows this Brix for this index.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    fraction = checked(brix, 0.0, 85.0, "index_of_brix_at_temperature: brix", "°Brix", "ICUMSA 1974") / 100.0
    ratio = np.asarray(density_sucrose_water(fraction, temperature_c)) / np.asarray(
        density_sucrose_water(fraction)
    )
    found = _index_with_density(horner(ICUMSA_FIT, fraction), ratio)
    return float(found) if found.ndim == 0 else found


def brix_at_temperature(refractive_index: float, temperature_c: float) -> float:
    """Brix that a self-correcting refractometer shows for an index at a temperature.

    Parameters
    ----------
    refractive_index : float
        nD at the temperature of the drink.
    temperature_c : float
        0 to 40 degrees Celsius.

    Returns
    -------
    float
        The inverse of `index_of_brix_at_temperature`, to 1e-10.

    Raises
    ------
    RangeError
        An index no sugar solution of 0 to 85 Brix has.
    """
    low, high = 0.0, 85.0
    ends = [float(index_of_brix_at_temperature(brix, temperature_c)) for brix in (low, high)]
    if not ends[0] <= refractive_index <= ends[1]:
        name = "brix_at_temperature: refractive_index"
        raise RangeError(name, refractive_index, ends[0], ends[1], "", "sugar solutions to 85 Brix")
    while high - low > 1e-11:
        middle = 0.5 * (low + high)
        below = float(index_of_brix_at_temperature(middle, temperature_c)) < refractive_index
        low, high = (middle, high) if below else (low, middle)
    return 0.5 * (low + high)


def _readings(
    strength: Array, sugar: Array, known: tuple[float, float], density_c: float, index_c: float
) -> tuple[Array, Array]:
    """Return density and index of many drinks at the temperatures they are read at."""
    masses = _masses_of_litre(strength, sugar, *known)
    fine = np.isfinite(masses[..., 0])
    density, index = np.full(fine.shape, np.nan), np.full(fine.shape, np.nan)
    if fine.any():
        density[fine] = density_mixture_kg_m3(masses[fine], density_c)
        index[fine] = index_at_temperature(masses[fine], index_c)
    return density, index


def strength_and_sugar(
    density_kg_m3: Any,
    refractive_index: Any,
    *,
    density_temperature_c: float = 20.0,
    index_temperature_c: float = 20.0,
    acid_g_l: float = 0.0,
    solids_g_l: float = 0.0,
) -> tuple[Array, Array]:
    """Strength and sugar of the drink that has this density and this refractive index.

    Parameters
    ----------
    density_kg_m3, refractive_index : float or ndarray, shape (...)
        Each true at its own temperature.
    density_temperature_c, index_temperature_c : float, default 20
        0 to 40 degrees Celsius.
    acid_g_l, solids_g_l : float, default 0
        What else is known to be in it, per litre at 20 degrees Celsius.

    Returns
    -------
    strength_pct_vol, sugar_g_l : ndarray, shape (...)
        At 20 degrees Celsius; NaN where no drink has both. A drink without alcohol or without sugar comes
        out at 0 to the accuracy of the models; beyond them the answer may be a little below zero, to be
        judged by the caller's own uncertainty.

    Raises
    ------
    RangeError
        A reading or a content below zero, not finite or NaN, or a temperature outside the models'.

    Notes
    -----
    Newton's steps on two unknowns, halved where they leave what can be mixed. Below zero the forward model
    is continued by its slope at zero, so that a reading just outside is told from a reading far outside.
    """
    name, source = "strength_and_sugar", "readings"
    for key, value, unit in (
        ("density_kg_m3", density_kg_m3, "kg/m3"),
        ("refractive_index", refractive_index, ""),
        ("acid_g_l", acid_g_l, "g/L"),
        ("solids_g_l", solids_g_l, "g/L"),
    ):
        checked(value, 0.0, MOST, f"{name}: {key}", unit, source)
    density, index = np.broadcast_arrays(
        np.asarray(density_kg_m3, dtype=np.float64), np.asarray(refractive_index, dtype=np.float64)
    )
    shape = density.shape
    density, index = np.atleast_1d(density).ravel(), np.atleast_1d(index).ravel()
    known = (acid_g_l, solids_g_l)

    def evaluate(strength: Array, sugar: Array) -> tuple[Array, Array]:
        return _continued(strength, sugar, known, density_temperature_c, index_temperature_c)

    strength, sugar = np.full(density.shape, 20.0), np.full(density.shape, 100.0)
    here = _miss(evaluate(strength, sugar), density, index)
    best = np.abs(here).max(axis=0)
    for _ in range(NEWTON_STEPS):
        slopes = _slopes(evaluate, strength, sugar)
        determinant = slopes[0, 0] * slopes[1, 1] - slopes[0, 1] * slopes[1, 0]
        # `here` is scaled by 1000 kg/m3 and 1: see `_miss`.
        # Where the search has run against 100 % vol both slopes are nothing: a NaN, which no step follows.
        with np.errstate(divide="ignore", invalid="ignore"):
            move_strength = -(slopes[1, 1] * here[0] * 1000.0 - slopes[0, 1] * here[1]) / determinant
            move_sugar = -(slopes[0, 0] * here[1] - slopes[1, 0] * here[0] * 1000.0) / determinant
        step = np.ones_like(strength)
        moved = np.zeros(strength.shape, dtype=bool)
        for _ in range(12):
            trial_strength = strength + np.where(moved, 0.0, step * move_strength)
            trial_sugar = sugar + np.where(moved, 0.0, step * move_sugar)
            there = _miss(evaluate(trial_strength, trial_sugar), density, index)
            size = np.abs(there).max(axis=0)
            better = ~moved & np.isfinite(size) & (size < best)
            strength, sugar = np.where(better, trial_strength, strength), np.where(better, trial_sugar, sugar)
            here, best = np.where(better, there, here), np.where(better, size, best)
            moved |= better
            if moved.all():
                break
            step = np.where(moved, step, 0.5 * step)
        if not moved.any() or best.max() < CLOSE:
            break
    lost = ~(best < 1e-8)
    strength, sugar = np.where(lost, np.nan, strength), np.where(lost, np.nan, sugar)
    return strength.reshape(shape), sugar.reshape(shape)


def _miss(found: tuple[Array, Array], density: Array, index: Array) -> Array:
    return np.array([(found[0] - density) / 1000.0, found[1] - index])


def _slopes(evaluate: Callable[[Array, Array], tuple[Array, Array]], strength: Array, sugar: Array) -> Array:
    """Return slopes of density and index by strength and sugar, shape (2, 2, n), by central differences."""
    columns = []
    for by_strength, by_sugar in ((NUDGE_PCT_VOL, 0.0), (0.0, NUDGE_G_L)):
        up = np.array(evaluate(strength + by_strength, sugar + by_sugar))
        down = np.array(evaluate(strength - by_strength, sugar - by_sugar))
        columns.append((up - down) / (2.0 * (by_strength + by_sugar)))
    return np.stack(columns, axis=1)


def _continued(
    strength: Array, sugar: Array, known: tuple[float, float], density_c: float, index_c: float
) -> tuple[Array, Array]:
    """Return readings of drinks, continued straight below no alcohol and no sugar."""
    inside_strength = np.clip(strength, 0.0, STRONGEST_PCT_VOL)
    inside_sugar = np.clip(sugar, 0.0, SWEETEST_G_L)
    density, index = _readings(inside_strength, inside_sugar, known, density_c, index_c)
    at_rim = (density, index)
    for beyond, (by_strength, by_sugar) in (
        (np.minimum(strength, 0.0), (NUDGE_PCT_VOL, 0.0)),
        (np.minimum(sugar, 0.0), (0.0, NUDGE_G_L)),
    ):
        if not beyond.any():
            continue
        further = _readings(inside_strength + by_strength, inside_sugar + by_sugar, known, density_c, index_c)
        length = beyond / (by_strength + by_sugar)
        density = density + length * (further[0] - at_rim[0])
        index = index + length * (further[1] - at_rim[1])
    return density, index
