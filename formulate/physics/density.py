"""Densities of ethanol-water and sucrose-water, and the specific volume the solver bends around.

Ethanol-water is the general formula of OIML R 22 (1975), law in Council Directive 76/766/EEC;
it agrees with handbook tables to 0.04 kg/m3 at 20 degrees Celsius. Sucrose-water is ICUMSA SPS-4
(Bubnik, Kadlec, Urban, Bruhns, Sugar Technologists Manual, 1995); its stated range is from memory.
Pure water differs by 0.002 kg/m3 between the two, and each keeps its own. How the specific volume of
ethanol-water bends is bounded rigorously, for proofs of a lower bound.
"""

from __future__ import annotations

from functools import cache
from math import comb

import numpy as np

from formulate.errors import RangeError
from formulate.physics.coefficients import (
    OIML,
    OIML_A,
    OIML_BY_POWER,
    OIML_COLDEST_C,
    OIML_WARMEST_C,
    SPS4,
    SPS4_BY_POWER,
    SPS4_COLDEST_C,
    SPS4_HIGHEST_MASS_FRACTION,
    SPS4_WARMEST_C,
    WATER_DENOMINATOR,
    WATER_NUMERATOR,
)
from formulate.physics.numerics import Array, Number, as_given, checked, horner, horner_broadcast

__all__ = [
    "curvature_cells",
    "density_ethanol_water",
    "density_slope_ethanol_water",
    "density_sucrose_water",
    "density_water",
    "specific_volume_curvature_bounds",
    "specific_volume_ethanol_water",
]


def _oiml_inputs(name: str, mass_fraction: object, temperature_c: object) -> tuple[Array, Array]:
    fraction = checked(mass_fraction, 0.0, 1.0, f"{name}: mass_fraction", "g/g", OIML)
    temperature = checked(temperature_c, OIML_COLDEST_C, OIML_WARMEST_C, f"{name}: temperature_c", "°C", OIML)
    return fraction, temperature


STRENGTH_TEMPERATURE_C = 20.0


def ethanol_water_polynomial(temperature: Array) -> list[Array]:
    """Collapse OIML R 22 at fixed temperatures to a polynomial in the mass fraction; nothing checked."""
    if temperature.ndim == 0 and temperature == STRENGTH_TEMPERATURE_C:
        return _polynomial_at_20()
    from_20 = temperature - 20.0
    return [horner(row, from_20) for row in OIML_BY_POWER]


@cache
def _polynomial_at_20() -> list[Array]:
    """Strength at 20 degrees Celsius is asked for so often that its polynomial is kept."""
    return [horner(row, np.array(0.0)) for row in OIML_BY_POWER]


def density_ethanol_water(mass_fraction: Number, temperature_c: Number | float = 20.0) -> Number:
    """Density of ethanol and water.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g of ethanol plus water, 0 to 1.
    temperature_c : float or ndarray, default 20
        -20 to 40 degrees Celsius. The formula covers this whole rectangle; in its cold watery
        corner the liquid would be frozen, which is not checked.

    Returns
    -------
    float or ndarray
        kg/m3.

    Raises
    ------
    RangeError
        Outside the range, or NaN.

    Notes
    -----
    Source: OIML R 22 (1975), general formula.
    """
    fraction, temperature = _oiml_inputs("density_ethanol_water", mass_fraction, temperature_c)
    return as_given(horner_broadcast(ethanol_water_polynomial(temperature), fraction), mass_fraction)


def density_slope_ethanol_water(
    mass_fraction: Number, temperature_c: Number | float = 20.0
) -> tuple[Number, Number]:
    """Density of ethanol and water with its slope by the fraction.

    Parameters
    ----------
    mass_fraction, temperature_c : float or ndarray
        As for `density_ethanol_water`.

    Returns
    -------
    density, by_fraction : float or ndarray
        kg/m3, and kg/m3 per unit mass fraction.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    fraction, temperature = _oiml_inputs("density_slope_ethanol_water", mass_fraction, temperature_c)
    coefficients = ethanol_water_polynomial(temperature)
    rises = [power * c for power, c in enumerate(coefficients)][1:]
    return (
        as_given(horner_broadcast(coefficients, fraction), mass_fraction),
        as_given(horner_broadcast(rises, fraction), mass_fraction),
    )


def _water(temperature: Array) -> Array:
    return np.asarray(horner(WATER_NUMERATOR, temperature) / horner(WATER_DENOMINATOR, temperature))


def density_water(temperature_c: Number) -> Number:
    """Density of water, the Kell-type formula inside ICUMSA SPS-4.

    Parameters
    ----------
    temperature_c : float or ndarray
        0 to 80 degrees Celsius.

    Returns
    -------
    float or ndarray
        kg/m3; 998.2031 at 20 degrees Celsius (OIML R 22 has 998.2012, IAPWS-95 998.2072).

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    temperature = checked(
        temperature_c, SPS4_COLDEST_C, SPS4_WARMEST_C, "density_water: temperature_c", "°C", SPS4
    )
    return as_given(_water(temperature), temperature_c)


def density_sucrose_water(mass_fraction: Number, temperature_c: Number | float = 20.0) -> Number:
    """Density of sucrose in water.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Sucrose, g/g of solution, 0 to 0.85.
    temperature_c : float or ndarray, default 20
        0 to 80 degrees Celsius.

    Returns
    -------
    float or ndarray
        kg/m3.

    Raises
    ------
    RangeError
        Outside the range, or NaN.

    Notes
    -----
    Source: ICUMSA SPS-4 (Bubnik et al. 1995); the stated range is from memory.
    """
    name = "density_sucrose_water"
    fraction = checked(mass_fraction, 0.0, SPS4_HIGHEST_MASS_FRACTION, f"{name}: mass_fraction", "g/g", SPS4)
    temperature = checked(temperature_c, SPS4_COLDEST_C, SPS4_WARMEST_C, f"{name}: temperature_c", "°C", SPS4)
    tau: Array = (temperature - 20.0) / 100.0
    excess = [np.zeros_like(tau), *(horner(row, tau) for row in SPS4_BY_POWER)]
    return as_given(_water(temperature) + horner_broadcast(excess, fraction), mass_fraction)


def specific_volume_ethanol_water(mass_fraction: Number) -> Number:
    """Specific volume of ethanol and water at 20 degrees Celsius.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g of ethanol plus water, 0 to 1.

    Returns
    -------
    float or ndarray
        L/kg, u = 1000/density.

    Raises
    ------
    RangeError
        Outside 0 to 1, or NaN.
    """
    fraction = checked(mass_fraction, 0.0, 1.0, "specific_volume_ethanol_water: mass_fraction", "g/g", OIML)
    return as_given(1000.0 / horner(OIML_A, fraction), mass_fraction)


# A power of two, so that a fraction times it is exact.
CELLS = 512
UNIT_ROUNDOFF = 2.0**-53


def specific_volume_curvature_bounds(lower: float, upper: float) -> tuple[float, float]:
    """Enclose d2u/dp2 of the ethanol-water specific volume over an interval, rigorously.

    Parameters
    ----------
    lower, upper : float
        Ends in mass fraction of ethanol, 0 <= lower <= upper <= 1.

    Returns
    -------
    smallest, largest : float
        L/kg; no value of the second derivative on the interval lies outside. The enclosure is
        that of the covering cells of width 1/512, so it does not shrink further inside one cell.

    Raises
    ------
    RangeError
        Ends outside 0 to 1, in the wrong order, or NaN.
    """
    if not 0.0 <= lower <= upper <= 1.0:
        name = "specific_volume_curvature_bounds"
        checked(lower, 0.0, 1.0, f"{name}: lower", "g/g", OIML)
        raise RangeError(f"{name}: upper", upper, lower, 1.0, "g/g", OIML)
    smallest, largest = _curvature_tables()
    # CELLS is a power of two: the products are exact and the covering cells are the right ones.
    first = min(int(lower * CELLS), CELLS - 1)
    last = min(int(upper * CELLS) + 1, CELLS)
    level = (last - first).bit_length() - 1
    second = last - (1 << level)
    return (
        min(smallest[level][first], smallest[level][second]),
        max(largest[level][first], largest[level][second]),
    )


def curvature_cells() -> tuple[Array, Array]:
    """Enclose d2u/dp2 on each of the 512 equal cells of 0 to 1.

    Returns
    -------
    smallest, largest : ndarray, shape (512,)
        L/kg.

    Notes
    -----
    On a cell of centre c and half-width h the density is its Taylor polynomial about c, exactly, as
    it has degree 11. Each coefficient is computed with a bound on its own rounding (every one of at
    most 40 roundings is at most the unit roundoff times the sum of magnitudes), the tail is bounded
    by the sum of magnitudes times powers of h, and u'' = 1000 (2 rho'^2 - rho rho'')/rho^3 follows
    by interval arithmetic with an outward relative slack of 1e-12, a thousand times its rounding.
    """
    half = 0.5 / CELLS
    centre = (np.arange(CELLS) + 0.5) / CELLS
    degree = len(OIML_A) - 1
    # Taylor coefficients of rho about the centres, and what they may be wrong by.
    taylor = np.zeros((degree + 1, CELLS))
    wrong = np.zeros((degree + 1, CELLS))
    for order in range(degree + 1):
        row = tuple(comb(power, order) * OIML_A[power] for power in range(order, degree + 1))
        taylor[order] = horner(row, centre)
        wrong[order] = 40.0 * UNIT_ROUNDOFF * horner([abs(c) for c in row], centre)

    def enclose(times_differentiated: int) -> tuple[Array, Array]:
        middle = np.zeros(CELLS)
        radius = np.zeros(CELLS)
        for order in range(times_differentiated, degree + 1):
            factor = 1.0
            for k in range(times_differentiated):
                factor *= order - k
            size = factor * half ** (order - times_differentiated)
            if order == times_differentiated:
                middle = factor * taylor[order]
                radius = factor * wrong[order]
            else:
                radius = radius + size * (np.abs(taylor[order]) + wrong[order])
        # The last product and the sum below round too: by a few units of the middle's last place.
        radius = radius * (1.0 + 1e-12) + 8.0 * UNIT_ROUNDOFF * np.abs(middle)
        return middle - radius, middle + radius

    density_low, density_high = enclose(0)
    slope_low, slope_high = enclose(1)
    bend_low, bend_high = enclose(2)
    # The slope is negative on every cell but one interval rule covers a change of sign too.
    square_high = np.maximum(slope_low * slope_low, slope_high * slope_high)
    square_low = np.where(
        slope_low * slope_high > 0.0, np.minimum(slope_low * slope_low, slope_high * slope_high), 0.0
    )
    products = np.stack([a * b for a in (density_low, density_high) for b in (bend_low, bend_high)])
    top_low = 2.0 * square_low - products.max(axis=0)
    top_high = 2.0 * square_high - products.min(axis=0)
    scale = np.abs(2.0 * square_high) + np.abs(products).max(axis=0)
    top_low = top_low - 1e-12 * scale
    top_high = top_high + 1e-12 * scale
    cubes = (1000.0 / density_high**3, 1000.0 / density_low**3)
    smallest = np.minimum(top_low * cubes[0], top_low * cubes[1])
    largest = np.maximum(top_high * cubes[0], top_high * cubes[1])
    return smallest - 1e-12 * np.abs(smallest), largest + 1e-12 * np.abs(largest)


@cache
def _curvature_tables() -> tuple[list[list[float]], list[list[float]]]:
    """Extremes over every run of 1, 2, 4 ... cells, so that a query is two look-ups."""
    low, high = curvature_cells()
    smallest, largest = [low], [high]
    width = 1
    while 2 * width <= CELLS:
        smallest.append(np.minimum(smallest[-1][:-width], smallest[-1][width:]))
        largest.append(np.maximum(largest[-1][:-width], largest[-1][width:]))
        width *= 2
    return [row.tolist() for row in smallest], [row.tolist() for row in largest]
