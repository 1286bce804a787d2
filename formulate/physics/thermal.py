"""A whole drink away from 20 degrees Celsius, and the glass of the hydrometer in it.

Ethanol-water and sucrose-water follow their own published formulas. A whole drink's expansion joins
the two by an assumption that no measurement was read for; it says so where it is used.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from formulate.physics.coefficients import (
    OIML_WARMEST_C,
    SPS4_COLDEST_C,
    SPS4_HIGHEST_MASS_FRACTION,
)
from formulate.physics.components import COMPONENTS, ETHANOL, FIRST_SUGAR, WATER
from formulate.physics.density import density_ethanol_water, density_sucrose_water, density_water
from formulate.physics.mixture import dissolved_mass_fraction, volume_l
from formulate.physics.numerics import Array, checked
from formulate.physics.solutes import SUCROSE_WATER_KG_M3

__all__ = ["GLASS_CUBIC_EXPANSION_PER_K", "density_mixture_kg_m3"]

# Cubic expansion of the soda-lime glass of hydrometers; the value standards commonly use, from memory.
GLASS_CUBIC_EXPANSION_PER_K = 25e-6
JOINED = "the joined formulas (OIML R 22 and ICUMSA SPS-4)"


def density_mixture_kg_m3(masses_kg: Any, temperature_c: float = 20.0) -> Any:
    """Density of a whole drink at a temperature: an estimate away from 20 degrees Celsius.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `mixture.COMPONENTS`.
    temperature_c : float, default 20
        0 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray, shape (...)
        kg/m3.

    Raises
    ------
    RangeError
        As `mixture.volume_l`, no mass at all, or the temperature outside the range.

    Notes
    -----
    Assumption, not validated: the volume at 20 degrees Celsius, plus what ethanol-water gains by
    OIML R 22, plus what the solutes gain if all behave as sucrose does in water by SPS-4 at the same
    dissolved fraction. Exact in both binary limits to 0.002 kg/m3.
    """
    name = "density_mixture_kg_m3"
    temperature = checked(
        float(temperature_c), SPS4_COLDEST_C, OIML_WARMEST_C, f"{name}: temperature_c", "°C", JOINED
    )
    masses = np.asarray(masses_kg, dtype=np.float64)
    at_20 = np.atleast_1d(np.asarray(volume_l(masses), dtype=np.float64)).ravel()
    rows = masses.reshape(-1, len(COMPONENTS))
    checked(rows.sum(axis=1), 1e-12, np.inf, f"{name}: total mass", "kg", "a mixture that exists")
    base = rows[:, WATER] + rows[:, ETHANOL]
    spirit = np.divide(rows[:, ETHANOL], base, out=np.zeros_like(base), where=base > 0.0)
    dissolved = np.asarray(dissolved_mass_fraction(rows), dtype=np.float64)
    np.minimum(dissolved, SPS4_HIGHEST_MASS_FRACTION, out=dissolved)
    warmed = np.full_like(spirit, temperature)
    grown = 1.0 / density_ethanol_water(spirit, warmed) - 1.0 / density_ethanol_water(spirit)
    volume = at_20 + 1000.0 * base * grown

    # The sucrose solution of the same dissolved fraction, less its own water, is the sugar's share:
    # w phi(w, t) = 1/rho - (1 - w)/rho_water. Total mass times that is the solutes' volume.
    total = base + rows[:, FIRST_SUGAR:].sum(axis=1)
    water = density_water(temperature)
    share = 1.0 / density_sucrose_water(dissolved, warmed) - (1.0 - dissolved) / water
    share_20 = 1.0 / density_sucrose_water(dissolved) - (1.0 - dissolved) / SUCROSE_WATER_KG_M3
    volume = volume + 1000.0 * total * (share - share_20)
    density: Array = 1000.0 * total / volume
    shape = np.shape(masses_kg)[:-1]
    return float(density[0]) if shape == () else density.reshape(shape)
