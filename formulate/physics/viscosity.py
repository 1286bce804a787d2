"""How thick a drink pours.

Sucrose in water follows Genotelle's formula, ethanol and water a handbook table, both from memory; a drink
joins the two by a rule of ours that no measurement was read for.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from formulate.physics.components import ETHANOL, WATER
from formulate.physics.mixture import dissolved_mass_fraction
from formulate.physics.ranges import Array, Number, as_given, checked

__all__ = ["VISCOSITY_UNCERTAINTY_SHARE", "viscosity_ethanol_water_mpa_s", "viscosity_mpa_s"]

GENOTELLE = "Genotelle's formula (from memory)"
GENOTELLE_HIGHEST_MASS_FRACTION = 0.75
COLDEST_TABLE_C, WARMEST_TABLE_C = 0.0, 40.0
# Rows by temperature, columns by mass fraction of ethanol, mPa s: Bingham's measurements as older handbooks
# print them, from memory. Newer tables differ by up to 5 % near the maximum.
TEMPERATURES_C = np.array([0.0, 5.0, 10.0, 20.0, 30.0, 40.0])
FRACTIONS = np.linspace(0.0, 1.0, 11)
TABLE = np.array(
    [
        [1.792, 3.311, 5.319, 6.94, 7.14, 6.58, 5.75, 4.762, 3.690, 2.732, 1.773],
        [1.519, 2.577, 4.065, 5.29, 5.59, 5.26, 4.63, 3.906, 3.125, 2.309, 1.623],
        [1.308, 2.179, 3.165, 4.05, 4.39, 4.18, 3.77, 3.268, 2.710, 2.101, 1.466],
        [1.002, 1.538, 2.183, 2.71, 2.91, 2.87, 2.67, 2.370, 2.008, 1.610, 1.200],
        [0.798, 1.160, 1.553, 1.87, 2.02, 2.02, 1.93, 1.767, 1.531, 1.279, 1.003],
        [0.653, 0.907, 1.160, 1.368, 1.482, 1.499, 1.447, 1.344, 1.203, 1.035, 0.834],
    ]
)
SPIRIT_TABLE = "the ethanol-water viscosity table (older handbooks, from memory)"
# Of a whole drink: our assumption, as no measured ternary was read.
VISCOSITY_UNCERTAINTY_SHARE = 0.25


def _table_temperature(function: str, temperature_c: object) -> Array:
    name = f"{function}: temperature_c"
    return checked(temperature_c, COLDEST_TABLE_C, WARMEST_TABLE_C, name, "°C", SPIRIT_TABLE)


def _genotelle(fraction: Array, temperature: Array) -> Array:
    """Viscosity of sucrose in water, mPa s: Genotelle's formula (Mathlouthi and Genotelle 1995; from memory).

    Within 4 % of handbook values from memory at 20 to 30 degrees Celsius and 0 to 60 %; some 8 % too thick at
    5 degrees Celsius and 40 %.
    """
    percent = 100.0 * fraction
    moles = percent / (1900.0 - 18.0 * percent)
    thermal = (30.0 - temperature) / (91.0 + temperature)
    exponent = 22.46 * moles - 0.114 + thermal * (1.1 + 43.1 * moles**1.25)
    return np.asarray(10.0**exponent)


def _spirit(fraction: Array, temperature: Array) -> Array:
    """Linear in the logarithm over both the table's axes; nothing checked."""
    fraction, temperature = np.broadcast_arrays(fraction, temperature)
    row = np.clip(np.searchsorted(TEMPERATURES_C, temperature, side="right") - 1, 0, len(TABLE) - 2)
    column = np.clip(np.searchsorted(FRACTIONS, fraction, side="right") - 1, 0, len(FRACTIONS) - 2)
    down = (temperature - TEMPERATURES_C[row]) / (TEMPERATURES_C[row + 1] - TEMPERATURES_C[row])
    right = (fraction - FRACTIONS[column]) / (FRACTIONS[column + 1] - FRACTIONS[column])
    logs = np.log(TABLE)
    upper = logs[row, column] * (1.0 - right) + logs[row, column + 1] * right
    lower = logs[row + 1, column] * (1.0 - right) + logs[row + 1, column + 1] * right
    return np.asarray(np.exp(upper * (1.0 - down) + lower * down))


def viscosity_ethanol_water_mpa_s(mass_fraction: Number, temperature_c: Number | float = 20.0) -> Number:
    """Viscosity of ethanol and water, most near 40 % by weight.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g, 0 to 1.
    temperature_c : float or ndarray, default 20
        0 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        mPa s, interpolated in the logarithm.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "viscosity_ethanol_water_mpa_s"
    fraction = checked(mass_fraction, 0.0, 1.0, f"{name}: mass_fraction", "g/g", SPIRIT_TABLE)
    return as_given(_spirit(fraction, _table_temperature(name, temperature_c)), mass_fraction)


def viscosity_mpa_s(masses_kg: Any, temperature_c: float = 20.0) -> Any:
    """Viscosity of a whole drink, to about a quarter either way.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `mixture.COMPONENTS`, ethanol or water among them.
    temperature_c : float, default 20
        0 to 40 degrees Celsius; 5 is the fridge.

    Returns
    -------
    float or ndarray, shape (...)
        mPa s. Water at 20 degrees Celsius is 1.0, single cream about 10 to 20 (from memory).

    Raises
    ------
    RangeError
        More than 75 % dissolved, negative masses, nothing in it, or a temperature outside.

    Notes
    -----
    A rule of ours: Genotelle's viscosity at the overall share of dissolved matter, times that of the spirit
    without it over that of water. Exact in the limit of sucrose in water, 3.6 % low in that of spirit (where
    the formula misses water at 20 degrees Celsius by as much). All dissolved matter counts as
    sucrose: glucose and fructose are somewhat thinner. Pectin, gums and egg are not in it and
    thicken far more.
    """
    name = "viscosity_mpa_s"
    masses = np.asarray(masses_kg, dtype=np.float64)
    dissolved: Array = np.asarray(dissolved_mass_fraction(masses))
    highest = GENOTELLE_HIGHEST_MASS_FRACTION
    checked(dissolved, 0.0, highest, f"{name}: dissolved share", "g/g", GENOTELLE)
    temperature = _table_temperature(name, temperature_c)
    ethanol, liquid = masses[..., ETHANOL], masses[..., ETHANOL] + masses[..., WATER]
    checked(liquid, 1e-12, float("inf"), f"{name}: ethanol plus water", "kg", "drinks")
    spirit = _spirit(ethanol / liquid, temperature) / _spirit(np.zeros(()), temperature)
    return as_given(_genotelle(dissolved, temperature) * spirit, 0.0)
