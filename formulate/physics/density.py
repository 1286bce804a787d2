"""Densities of ethanol-water and sucrose-water, and the specific volume the solver bends around.

Ethanol-water is the general formula of OIML R 22 (1975), law in Council Directive 76/766/EEC;
it agrees with handbook tables to 0.04 kg/m3 at 20 degrees Celsius. Sucrose-water is ICUMSA SPS-4
(Bubnik, Kadlec, Urban, Bruhns, Sugar Technologists Manual, 1995); its stated range is from memory.
Pure water differs by 0.002 kg/m3 between the two, and each keeps its own.
"""

from __future__ import annotations

from functools import cache

import numpy as np

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
from formulate.physics.curvature import specific_volume_curvature_bounds
from formulate.physics.polynomials import horner, horner_broadcast
from formulate.physics.ranges import Array, Number, as_given, checked

__all__ = [
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
