"""Single solutes in water at 20 degrees Celsius: apparent specific volume, density, refractive index.

The fits are quadratics through the columns of the CRC Handbook of Chemistry and Physics, 102nd
edition, "Concentrative properties of aqueous solutions"; the worst miss of each fit against its
own column is carried beside it. Sucrose has its own, better formula (ICUMSA SPS-4).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.physics.coefficients import SPS4_EXCESS
from formulate.physics.density import density_water
from formulate.physics.numerics import Array, derivative, horner

__all__ = ["SOLUTES", "SPECIFIC_REFRACTION_WATER", "SoluteFit", "index_from_refraction"]

# Lorentz-Lorenz specific refraction of water, cm3/g: nD 1.33299 and 0.9982012 g/cm3 at 20 degrees Celsius.
SPECIFIC_REFRACTION_WATER = 0.2060605


@dataclass(frozen=True, slots=True)
class SoluteFit:
    """A solute's quadratics in its mass fraction w, and how far they may be trusted.

    Attributes
    ----------
    highest_mass_fraction : float
        End of the published column, g/g.
    volume : tuple of float
        c0, c1, c2 of the apparent specific volume, L/kg.
    refraction : tuple of float
        c0, c1, c2 of the apparent specific refraction, cm3/g.
    density_miss_kg_m3, index_miss : float
        The fit's worst miss against its own column.
    """

    highest_mass_fraction: float
    volume: tuple[float, float, float]
    refraction: tuple[float, float, float]
    density_miss_kg_m3: float
    index_miss: float


SOLUTES: dict[str, SoluteFit] = {
    "glucose": SoluteFit(0.60, (0.61900, 0.02518, 0.00376), (0.20739, -0.00246, -0.00088), 0.52, 1.7e-4),
    "fructose": SoluteFit(0.48, (0.60994, 0.02663, 0.00630), (0.20474, -0.00032, -0.00247), 0.07, 5e-5),
    "maltose": SoluteFit(0.60, (0.61859, -0.00529, 0.03370), (0.20919, -0.00564, 0.00271), 1.1, 2.6e-4),
    "citric_acid": SoluteFit(0.30, (0.59579, 0.00184, 0.04331), (0.19326, -0.01081, 0.00801), 0.14, 8e-5),
    "lactic_acid": SoluteFit(0.80, (0.78428, -0.00749, 0.04166), (0.21680, -0.00900, 0.00699), 0.75, 8e-5),
    "glycerol": SoluteFit(1.00, (0.77469, -0.01609, 0.03450), (0.22372, -0.00160, 0.00052), 0.23, 1.2e-4),
    "salt": SoluteFit(0.26, (0.29076, 0.36142, -0.34666), (0.15836, -0.00314, -0.01126), 0.09, 5e-5),
}


def index_from_refraction(specific_refraction: Array, density_g_cm3: Array) -> Array:
    """Refractive index from the Lorentz-Lorenz specific refraction (cm3/g) and density (g/cm3)."""
    product = specific_refraction * density_g_cm3
    return np.asarray(np.sqrt((1.0 + 2.0 * product) / (1.0 - product)))


# Q(w) of SPS-4 at 20 degrees Celsius: density = water + w Q(w).
SUCROSE_RISE = SPS4_EXCESS[0]
SUCROSE_RISE_SLOPE = derivative(SUCROSE_RISE)
SUCROSE_WATER_KG_M3 = density_water(20.0)


def sucrose_volume_unchecked(fraction: Array) -> Array:
    """Apparent specific volume of sucrose, L/kg, for a fraction already inside 0 to 0.85."""
    rise = horner(SUCROSE_RISE, fraction)
    density = fraction * rise
    density += SUCROSE_WATER_KG_M3
    density *= SUCROSE_WATER_KG_M3 / 1000.0
    top = fraction - 1.0
    top *= rise
    top += SUCROSE_WATER_KG_M3
    top /= density
    return top


def sucrose_volume_slope_unchecked(fraction: Array) -> Array:
    """Slope of `sucrose_volume_unchecked` by the fraction, L/kg."""
    water = SUCROSE_WATER_KG_M3
    rise, rise_slope = horner(SUCROSE_RISE, fraction), horner(SUCROSE_RISE_SLOPE, fraction)
    top = water - (1.0 - fraction) * rise
    top_slope = rise - (1.0 - fraction) * rise_slope
    density = water + fraction * rise
    density_slope = rise + fraction * rise_slope
    return np.asarray(1000.0 * (top_slope * density - top * density_slope) / (water * density * density))
