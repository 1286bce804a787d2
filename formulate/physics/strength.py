"""Alcohol by volume, by mass and by US proof, and the water that reduces a spirit.

All for sugar-free ethanol and water, by OIML R 22; a whole drink's strength is in `mixture`.
Strength at 60 degrees Fahrenheit differs from that at 20 degrees Celsius by 0.05 to 0.07 % vol,
so the two are converted through the composition and never by a factor.
"""

from __future__ import annotations

import numpy as np

from formulate.physics.coefficients import OIML, OIML_COLDEST_C, OIML_WARMEST_C
from formulate.physics.density import density_ethanol_water, ethanol_water_polynomial
from formulate.physics.numerics import Array, Number, as_given, checked, horner_broadcast, solve_increasing

__all__ = ["SIXTY_FAHRENHEIT_C", "abv_60f_from_abv_20c", "abv_from_mass_fraction", "mass_fraction_from_abv"]

SIXTY_FAHRENHEIT_C = (60.0 - 32.0) * 5.0 / 9.0


def abv_from_mass_fraction(mass_fraction: Number, temperature_c: Number | float = 20.0) -> Number:
    """Strength by volume of ethanol and water.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g, 0 to 1.
    temperature_c : float or ndarray, default 20
        Temperature of both volumes, -20 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        % vol, exactly 100 for pure ethanol.

    Raises
    ------
    RangeError
        Outside the range, or NaN.

    Notes
    -----
    100 p rho(p, t)/rho(1, t), densities by OIML R 22.
    """
    fraction = checked(mass_fraction, 0.0, 1.0, "abv_from_mass_fraction: mass_fraction", "g/g", OIML)
    temperature = _temperature("abv_from_mass_fraction", temperature_c)
    density: Array = np.asarray(density_ethanol_water(fraction, temperature))
    pure: Array = np.asarray(density_ethanol_water(np.ones_like(temperature), temperature))
    # A fraction a hair below 1 may round to a hair above 100.
    return as_given(np.minimum(100.0 * fraction * (density / pure), 100.0), mass_fraction)


def _temperature(function: str, temperature_c: object) -> Array:
    return checked(temperature_c, OIML_COLDEST_C, OIML_WARMEST_C, f"{function}: temperature_c", "°C", OIML)


def mass_fraction_from_abv(abv_pct: Number, temperature_c: Number | float = 20.0) -> Number:
    """Mass fraction of the ethanol-water mixture of this strength.

    Parameters
    ----------
    abv_pct : float or ndarray
        % vol, 0 to 100.
    temperature_c : float or ndarray, default 20
        Temperature of both volumes, -20 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        Ethanol, g/g.

    Raises
    ------
    RangeError
        Outside the range, or NaN.

    Notes
    -----
    Inverse of `abv_from_mass_fraction`, by Newton's steps inside a bracket, to about 1e-13.
    """
    abv = checked(abv_pct, 0.0, 100.0, "mass_fraction_from_abv: abv_pct", "% vol", OIML)
    temperature = _temperature("mass_fraction_from_abv", temperature_c)
    abv, temperature = np.broadcast_arrays(abv, temperature)
    coefficients = ethanol_water_polynomial(temperature)
    rises = [power * c for power, c in enumerate(coefficients)][1:]
    pure = horner_broadcast(coefficients, np.ones_like(temperature))

    def evaluate(fraction: Array) -> tuple[Array, Array]:
        density = horner_broadcast(coefficients, fraction)
        slope = horner_broadcast(rises, fraction)
        return 100.0 * fraction * (density / pure), 100.0 * (density + fraction * slope) / pure

    return as_given(solve_increasing(evaluate, abv, 0.0, 1.0, abv / 100.0), abv_pct)


def abv_60f_from_abv_20c(abv_pct: Number) -> Number:
    """Strength at 60 degrees Fahrenheit of a spirit whose strength at 20 degrees Celsius is known.

    Parameters
    ----------
    abv_pct : float or ndarray
        % vol at 20 degrees Celsius, 0 to 100.

    Returns
    -------
    float or ndarray
        % vol with both volumes at 60 degrees Fahrenheit.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    checked(abv_pct, 0.0, 100.0, "abv_60f_from_abv_20c: abv_pct", "% vol", OIML)
    fraction: Array = np.asarray(mass_fraction_from_abv(abv_pct))
    return as_given(abv_from_mass_fraction(fraction, SIXTY_FAHRENHEIT_C), abv_pct)
