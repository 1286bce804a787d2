"""Single solutes in water at 20 degrees Celsius: apparent specific volume and refraction; sugars in a drink.

The fits are quadratics through the columns of the CRC Handbook of Chemistry and Physics, 102nd
edition, "Concentrative properties of aqueous solutions"; the worst miss of each fit against its
own column is carried beside it. Sucrose has its own, better formula (ICUMSA SPS-4).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.errors import RangeError
from formulate.physics.coefficients import SPS4_EXCESS, SPS4_HIGHEST_MASS_FRACTION
from formulate.physics.components import SUGARS
from formulate.physics.density import density_water
from formulate.physics.numerics import Array, derivative, horner

__all__ = [
    "MIXTURE_RANGE",
    "SOLUTES",
    "SPECIFIC_REFRACTION_WATER",
    "SoluteFit",
    "index_from_refraction",
    "sugar_volume_interval",
    "sugar_volume_slopes",
    "sugar_volumes",
]

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


FITTED_SUGARS = tuple(SOLUTES[name] for name in SUGARS[1:])
SUCROSE_VOLUME_AT_ENDS = tuple(
    float(sucrose_volume_unchecked(np.array(fit.highest_mass_fraction))) for fit in FITTED_SUGARS
)
MIXTURE_RANGE = "the mixture model (ICUMSA SPS-4)"
# Where the maltose parabola turns; the three others turn nowhere on 0 to 0.85.
MALTOSE_VERTEX = -SOLUTES["maltose"].volume[1] / (2.0 * SOLUTES["maltose"].volume[2])


def sugar_volumes(dissolved: Array) -> list[Array]:
    """Apparent specific volumes of the four sugars, beyond its own column each rising as sucrose does."""
    sucrose = sucrose_volume_unchecked(dissolved)
    volumes = [sucrose]
    for fit, at_end in zip(FITTED_SUGARS, SUCROSE_VOLUME_AT_ENDS, strict=True):
        volume = horner(fit.volume, np.minimum(dissolved, fit.highest_mass_fraction))
        # Sucrose's volume only rises, so this is nothing before the end of the column.
        volume += np.maximum(sucrose - at_end, 0.0)
        volumes.append(volume)
    return volumes


def sugar_volume_slopes(dissolved: Array) -> list[Array]:
    """Slopes of `sugar_volumes` by the dissolved fraction, L/kg."""
    sucrose = sucrose_volume_slope_unchecked(dissolved)
    sucrose = np.where(dissolved < SPS4_HIGHEST_MASS_FRACTION, sucrose, 0.0)
    own = [horner(derivative(fit.volume), dissolved) for fit in FITTED_SUGARS]
    ends = [fit.highest_mass_fraction for fit in FITTED_SUGARS]
    continued = [np.where(dissolved < end, slope, sucrose) for slope, end in zip(own, ends, strict=True)]
    return [sucrose, *continued]


def sugar_volume_interval(lower_w: float, upper_w: float) -> tuple[Array, Array]:
    """Enclose the apparent specific volumes of the four sugars over a range of dissolved fraction.

    Parameters
    ----------
    lower_w, upper_w : float
        Overall dissolved mass fraction, 0 <= lower_w <= upper_w <= 0.85.

    Returns
    -------
    smallest, largest : ndarray, shape (4,)
        L/kg in the order of `SUGARS`, as `volume_l` uses them, beyond their own columns too.

    Raises
    ------
    RangeError
        Ends outside the range, in the wrong order, or NaN.

    Notes
    -----
    Sucrose, glucose and fructose only rise on 0 to 0.85, so the ends decide; maltose falls to the vertex of
    its parabola and then rises. Beyond its column each is its end value plus a rise of sucrose. The slack of
    1e-13 covers rounding many times over.
    """
    highest = SPS4_HIGHEST_MASS_FRACTION
    if not 0.0 <= lower_w <= upper_w <= highest:
        name = "sugar_volume_interval"
        if not 0.0 <= lower_w <= highest:
            raise RangeError(f"{name}: lower_w", lower_w, 0.0, highest, "g/g", MIXTURE_RANGE)
        raise RangeError(f"{name}: upper_w", upper_w, lower_w, highest, "g/g", MIXTURE_RANGE)
    probes = np.array([lower_w, upper_w, min(max(MALTOSE_VERTEX, lower_w), upper_w)])
    volumes = np.array(sugar_volumes(probes))
    return volumes.min(axis=1) * (1.0 - 1e-13), volumes.max(axis=1) * (1.0 + 1e-13)
