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
    OIML_A_CURVATURE,
    OIML_A_SLOPE,
    OIML_BY_POWER,
    OIML_BY_POWER_SLOPE,
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
from formulate.physics.inversion import solve_increasing
from formulate.physics.polynomials import derivative, horner, horner_broadcast
from formulate.physics.ranges import Array, Number, as_given, checked

__all__ = [
    "density_ethanol_water",
    "density_slopes_ethanol_water",
    "density_slopes_sucrose_water",
    "density_sucrose_water",
    "density_water",
    "specific_volume_curvature_bounds",
    "specific_volume_derivatives_ethanol_water",
    "specific_volume_ethanol_water",
    "sucrose_g_l_from_specific_gravity",
    "sucrose_mass_fraction_from_density",
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


def density_slopes_ethanol_water(
    mass_fraction: Number, temperature_c: Number | float = 20.0
) -> tuple[Number, Number, Number]:
    """Density of ethanol and water with its two slopes.

    Parameters
    ----------
    mass_fraction, temperature_c : float or ndarray
        As for `density_ethanol_water`.

    Returns
    -------
    density, by_fraction, by_temperature : float or ndarray
        kg/m3, kg/m3 per unit mass fraction, kg/m3 per kelvin.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    fraction, temperature = _oiml_inputs("density_slopes_ethanol_water", mass_fraction, temperature_c)
    coefficients = ethanol_water_polynomial(temperature)
    rises = [power * c for power, c in enumerate(coefficients)][1:]
    from_20 = temperature - 20.0
    warmings = [horner(row, from_20) for row in OIML_BY_POWER_SLOPE]
    return (
        as_given(horner_broadcast(coefficients, fraction), mass_fraction),
        as_given(horner_broadcast(rises, fraction), mass_fraction),
        as_given(horner_broadcast(warmings, fraction), mass_fraction),
    )


def _water(temperature: Array) -> tuple[Array, Array]:
    """Density of water and its slope by temperature, Kell-type formula of SPS-4."""
    top, bottom = horner(WATER_NUMERATOR, temperature), horner(WATER_DENOMINATOR, temperature)
    density = top / bottom
    slope = (horner(derivative(WATER_NUMERATOR), temperature) - density * WATER_DENOMINATOR[1]) / bottom
    return density, slope


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
    return as_given(_water(temperature)[0], temperature_c)


def _sps4_inputs(name: str, mass_fraction: object, temperature_c: object) -> tuple[Array, Array]:
    fraction = checked(mass_fraction, 0.0, SPS4_HIGHEST_MASS_FRACTION, f"{name}: mass_fraction", "g/g", SPS4)
    temperature = checked(temperature_c, SPS4_COLDEST_C, SPS4_WARMEST_C, f"{name}: temperature_c", "°C", SPS4)
    return fraction, temperature


def _sps4(fraction: Array, temperature: Array) -> tuple[Array, Array, Array]:
    """Density of sucrose-water with its slopes by fraction and by temperature; nothing checked."""
    water, water_slope = _water(temperature)
    tau = (temperature - 20.0) / 100.0
    zero = np.zeros_like(tau)
    coefficients = [zero, *(horner(row, tau) for row in SPS4_BY_POWER)]
    rises = [power * c for power, c in enumerate(coefficients)][1:]
    warmings = [zero, *(horner(derivative(row), tau) / 100.0 for row in SPS4_BY_POWER)]
    return (
        water + horner_broadcast(coefficients, fraction),
        horner_broadcast(rises, fraction),
        water_slope + horner_broadcast(warmings, fraction),
    )


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
    fraction, temperature = _sps4_inputs("density_sucrose_water", mass_fraction, temperature_c)
    return as_given(_sps4(fraction, temperature)[0], mass_fraction)


def density_slopes_sucrose_water(
    mass_fraction: Number, temperature_c: Number | float = 20.0
) -> tuple[Number, Number, Number]:
    """Density of sucrose in water with its two slopes.

    Parameters
    ----------
    mass_fraction, temperature_c : float or ndarray
        As for `density_sucrose_water`.

    Returns
    -------
    density, by_fraction, by_temperature : float or ndarray
        kg/m3, kg/m3 per unit mass fraction, kg/m3 per kelvin.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    fraction, temperature = _sps4_inputs("density_slopes_sucrose_water", mass_fraction, temperature_c)
    density, by_fraction, by_temperature = _sps4(fraction, temperature)
    return (
        as_given(density, mass_fraction),
        as_given(by_fraction, mass_fraction),
        as_given(by_temperature, mass_fraction),
    )


def sucrose_mass_fraction_from_density(density_kg_m3: Number, temperature_c: float = 20.0) -> Number:
    """Mass fraction of the sucrose-water solution that has this density (true Brix / 100).

    Parameters
    ----------
    density_kg_m3 : float or ndarray
        Between water and 85 % sucrose at that temperature.
    temperature_c : float, default 20
        0 to 80 degrees Celsius.

    Returns
    -------
    float or ndarray
        g/g.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    name = "sucrose_mass_fraction_from_density"
    highest = SPS4_HIGHEST_MASS_FRACTION
    ends, temperature = _sps4_inputs(name, np.array([0.0, highest]), float(temperature_c))
    lightest, heaviest = (float(end) for end in _sps4(ends, temperature)[0])
    density = checked(density_kg_m3, lightest, heaviest, f"{name}: density_kg_m3", "kg/m3", SPS4)

    def evaluate(fraction: Array) -> tuple[Array, Array]:
        value, slope, _ = _sps4(fraction, temperature)
        return value, slope

    start = highest * (density - lightest) / (heaviest - lightest)
    return as_given(solve_increasing(evaluate, density, 0.0, highest, start), density_kg_m3)


def sucrose_g_l_from_specific_gravity(specific_gravity_20_20: Number) -> Number:
    """Dry extract of a residue: sucrose g/L of the solution with this 20/20 specific gravity.

    Parameters
    ----------
    specific_gravity_20_20 : float or ndarray
        Density over that of water, both at 20 degrees Celsius; 1 to about 1.4485.

    Returns
    -------
    float or ndarray
        g/L at 20 degrees Celsius.

    Raises
    ------
    RangeError
        Outside the range, or NaN.

    Notes
    -----
    Definition: OIV-MA-AS2-03B (total dry extract); density from SPS-4 in place of its printed table.
    """
    water = density_water(20.0)
    heaviest = density_sucrose_water(SPS4_HIGHEST_MASS_FRACTION)
    gravity = checked(
        specific_gravity_20_20, 1.0, heaviest / water, "sucrose_g_l_from_specific_gravity", "", SPS4
    )
    # The end of the range may round to a hair above the heaviest density.
    density = np.clip(gravity * water, water, heaviest)
    fraction: Array = np.asarray(sucrose_mass_fraction_from_density(density))
    return as_given(fraction * density, specific_gravity_20_20)


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


def specific_volume_derivatives_ethanol_water(mass_fraction: Number) -> tuple[Number, Number, Number]:
    """Specific volume of ethanol and water at 20 degrees Celsius with two exact derivatives.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g of ethanol plus water, 0 to 1.

    Returns
    -------
    u, slope, curvature : float or ndarray
        L/kg; du/dp; d2u/dp2.

    Raises
    ------
    RangeError
        Outside 0 to 1, or NaN.
    """
    name = "specific_volume_derivatives_ethanol_water: mass_fraction"
    fraction = checked(mass_fraction, 0.0, 1.0, name, "g/g", OIML)
    density = horner(OIML_A, fraction)
    slope = horner(OIML_A_SLOPE, fraction)
    curvature = horner(OIML_A_CURVATURE, fraction)
    volume = 1000.0 / density
    return (
        as_given(volume, mass_fraction),
        as_given(-volume * slope / density, mass_fraction),
        as_given(volume * (2.0 * slope * slope - density * curvature) / (density * density), mass_fraction),
    )
