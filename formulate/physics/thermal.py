"""Away from 20 degrees Celsius: volumes, hydrometers, and the strength a density stands for.

Ethanol-water and sucrose-water follow their own published formulas. A whole drink's expansion joins
the two by an assumption that no measurement was read for; it says so where it is used.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from formulate.physics.coefficients import (
    OIML,
    OIML_COLDEST_C,
    OIML_WARMEST_C,
    SPS4_COLDEST_C,
    SPS4_HIGHEST_MASS_FRACTION,
)
from formulate.physics.components import COMPONENTS, ETHANOL, FIRST_SUGAR, WATER
from formulate.physics.density import (
    density_ethanol_water,
    density_slopes_ethanol_water,
    density_slopes_sucrose_water,
    density_water,
    ethanol_water_polynomial,
)
from formulate.physics.inversion import solve_increasing
from formulate.physics.mixture import dissolved_mass_fraction, volume_l
from formulate.physics.polynomials import horner_broadcast
from formulate.physics.ranges import Array, Number, as_given, checked
from formulate.physics.solutes import SUCROSE_WATER_KG_M3
from formulate.physics.strength import abv_from_mass_fraction

__all__ = [
    "GLASS_CUBIC_EXPANSION_PER_K",
    "abv_from_density",
    "density_from_hydrometer",
    "density_from_specific_gravity",
    "density_mixture_kg_m3",
    "hydrometer_reading_at_20c",
    "mass_fraction_from_density",
    "thermal_expansion_ethanol_water",
    "thermal_expansion_mixture",
    "thermal_expansion_sucrose_water",
    "volume_at_20c",
    "volume_correction_factor",
]

# Cubic expansion of the soda-lime glass of hydrometers; the value standards commonly use, from memory.
GLASS_CUBIC_EXPANSION_PER_K = 25e-6
# Between these every density names one strength: at each temperature density falls with ethanol.
COLDEST_INVERSE_C = 0.0
LIGHTEST_READING_KG_M3, HEAVIEST_READING_KG_M3 = 750.0, 1500.0
HYDROMETERS = "density hydrometers (common practice)"
JOINED = "the joined formulas (OIML R 22 and ICUMSA SPS-4)"


def volume_correction_factor(
    mass_fraction: Number, temperature_c: Number | float, reference_c: float = 20.0
) -> Number:
    """Volume at the reference temperature of one volume of spirit measured at another.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g, 0 to 1.
    temperature_c : float or ndarray
        Of the measured volume, -20 to 40 degrees Celsius.
    reference_c : float, default 20
        -20 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        Without unit; below 1 for a warm spirit.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    name = "volume_correction_factor"
    fraction = checked(mass_fraction, 0.0, 1.0, f"{name}: mass_fraction", "g/g", OIML)
    temperature = checked(temperature_c, OIML_COLDEST_C, OIML_WARMEST_C, f"{name}: temperature_c", "°C", OIML)
    checked(reference_c, OIML_COLDEST_C, OIML_WARMEST_C, f"{name}: reference_c", "°C", OIML)
    warm: Array = np.asarray(density_ethanol_water(fraction, temperature))
    reference: Array = np.asarray(density_ethanol_water(fraction, float(reference_c)))
    return as_given(warm / reference, mass_fraction)


def volume_at_20c(volume: Number, temperature_c: Number | float, mass_fraction: Number | float) -> Number:
    """Volume at 20 degrees Celsius of a sugar-free spirit measured at another temperature.

    Parameters
    ----------
    volume : float or ndarray
        Any unit, 0 or more.
    temperature_c : float or ndarray
        Of the measured volume, -20 to 40 degrees Celsius.
    mass_fraction : float or ndarray
        Ethanol, g/g, 0 to 1.

    Returns
    -------
    float or ndarray
        In the unit of `volume`.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    largest = float(np.finfo(np.float64).max)
    measured = checked(volume, 0.0, largest, "volume_at_20c: volume", "", "volumes (finite, not negative)")
    fraction, temperature = np.broadcast_arrays(
        np.asarray(mass_fraction, dtype=np.float64), np.asarray(temperature_c, dtype=np.float64)
    )
    factor: Array = np.asarray(volume_correction_factor(fraction, temperature))
    return as_given(measured * factor, volume)


def thermal_expansion_ethanol_water(mass_fraction: Number, temperature_c: Number | float = 20.0) -> Number:
    """Cubic expansion coefficient of ethanol and water.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g, 0 to 1.
    temperature_c : float or ndarray, default 20
        -20 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        1/K, the exact slope of OIML R 22.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    density, _, by_temperature = density_slopes_ethanol_water(mass_fraction, temperature_c)
    return as_given(-by_temperature / density, mass_fraction)


def thermal_expansion_sucrose_water(mass_fraction: Number, temperature_c: Number | float = 20.0) -> Number:
    """Cubic expansion coefficient of sucrose in water.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Sucrose, g/g, 0 to 0.85.
    temperature_c : float or ndarray, default 20
        0 to 80 degrees Celsius.

    Returns
    -------
    float or ndarray
        1/K, the exact slope of ICUMSA SPS-4.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    density, _, by_temperature = density_slopes_sucrose_water(mass_fraction, temperature_c)
    return as_given(-by_temperature / density, mass_fraction)


def _joined_volume(masses_kg: Any, temperature_c: float, function: str) -> tuple[Array, Array, Array]:
    """Volume at a temperature, its slope by temperature, and the total mass, one entry per mixture."""
    name = f"{function}: temperature_c"
    temperature = checked(float(temperature_c), SPS4_COLDEST_C, OIML_WARMEST_C, name, "°C", JOINED)
    masses = np.asarray(masses_kg, dtype=np.float64)
    at_20 = np.atleast_1d(np.asarray(volume_l(masses), dtype=np.float64)).ravel()
    rows = masses.reshape(-1, len(COMPONENTS))
    checked(rows.sum(axis=1), 1e-12, np.inf, f"{function}: total mass", "kg", "a mixture that exists")
    base = rows[:, WATER] + rows[:, ETHANOL]
    spirit = np.divide(rows[:, ETHANOL], base, out=np.zeros_like(base), where=base > 0.0)
    solutes = rows[:, FIRST_SUGAR:].sum(axis=1)
    dissolved = np.asarray(dissolved_mass_fraction(rows), dtype=np.float64)
    np.minimum(dissolved, SPS4_HIGHEST_MASS_FRACTION, out=dissolved)

    density_20: Array = np.asarray(density_ethanol_water(spirit))
    density, _, slope = density_slopes_ethanol_water(spirit, np.full_like(spirit, temperature))
    volume = at_20 + 1000.0 * base * (1.0 / density - 1.0 / density_20)
    warming = -1000.0 * base * slope / (density * density)

    # The sucrose solution of the same dissolved fraction, less its own water, is the sugar's share:
    # w phi(w, t) = 1/rho - (1 - w)/rho_water. Total mass times that is the solutes' volume.
    total = base + solutes
    syrup, _, syrup_slope = density_slopes_sucrose_water(dissolved, np.full_like(dissolved, temperature))
    syrup_20, _, _ = density_slopes_sucrose_water(dissolved)
    none = np.zeros(1)
    water, _, water_slope = density_slopes_sucrose_water(none, np.full_like(none, temperature))
    share = 1.0 / syrup - (1.0 - dissolved) / water
    share_20 = 1.0 / syrup_20 - (1.0 - dissolved) / SUCROSE_WATER_KG_M3
    volume = volume + 1000.0 * total * (share - share_20)
    share_slope = -syrup_slope / (syrup * syrup) + (1.0 - dissolved) * water_slope / (water * water)
    warming = warming + 1000.0 * total * share_slope
    return volume, warming, total


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
    volume, _, total = _joined_volume(masses_kg, temperature_c, "density_mixture_kg_m3")
    return _like_rows(1000.0 * total / volume, masses_kg)


def thermal_expansion_mixture(masses_kg: Any, temperature_c: float = 20.0) -> Any:
    """Cubic expansion coefficient of a whole drink: an estimate.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `mixture.COMPONENTS`.
    temperature_c : float, default 20
        0 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray, shape (...)
        1/K.

    Raises
    ------
    RangeError
        As `density_mixture_kg_m3`.

    Notes
    -----
    The slope of the volume in `density_mixture_kg_m3`: the two binaries' expansions weighted by the
    volumes they hold in the mixture. The weighting is an assumption, not validated.
    """
    volume, warming, _ = _joined_volume(masses_kg, temperature_c, "thermal_expansion_mixture")
    return _like_rows(warming / volume, masses_kg)


def _like_rows(result: Array, masses_kg: Any) -> Any:
    shape = np.shape(masses_kg)[:-1]
    return float(result[0]) if shape == () else result.reshape(shape)


def density_from_specific_gravity(specific_gravity: Number, reference_c: float = 20.0) -> Number:
    """Density in kg/m3 of a reading in specific gravity.

    Parameters
    ----------
    specific_gravity : float or ndarray
        Over water at the reference temperature, 0.75 to 1.5.
    reference_c : float, default 20
        Temperature of that water as printed on the instrument (20/20: 20; 60/60 F: 15.5556).

    Returns
    -------
    float or ndarray
        kg/m3 on the instrument's own scale; correct it with `density_from_hydrometer`.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    name = "density_from_specific_gravity: specific_gravity"
    gravity = checked(specific_gravity, 0.75, 1.5, name, "", HYDROMETERS)
    return as_given(gravity * density_water(float(reference_c)), specific_gravity)


def density_from_hydrometer(
    reading_kg_m3: Number, temperature_c: Number | float, calibration_c: float = 20.0
) -> Number:
    """Density of a liquid at its own temperature from a glass density hydrometer's reading.

    Parameters
    ----------
    reading_kg_m3 : float or ndarray
        As read, 750 to 1500 kg/m3; convert specific gravity with `density_from_specific_gravity`.
    temperature_c : float or ndarray
        Of the liquid, 0 to 40 degrees Celsius.
    calibration_c : float, default 20
        Temperature at which the scale is true.

    Returns
    -------
    float or ndarray
        kg/m3 at `temperature_c`.

    Raises
    ------
    RangeError
        Outside the range, or NaN.

    Notes
    -----
    The glass displaces 25e-6 more per kelvin (common value, from memory), so a warm reading is high by
    that share. The liquid's own expansion is not in it: see `hydrometer_reading_at_20c`.
    """
    name = "density_from_hydrometer"
    reading = checked(
        reading_kg_m3,
        LIGHTEST_READING_KG_M3,
        HEAVIEST_READING_KG_M3,
        f"{name}: reading_kg_m3",
        "kg/m3",
        HYDROMETERS,
    )
    temperature = checked(
        temperature_c, SPS4_COLDEST_C, OIML_WARMEST_C, f"{name}: temperature_c", "°C", HYDROMETERS
    )
    calibration = checked(
        calibration_c, SPS4_COLDEST_C, OIML_WARMEST_C, f"{name}: calibration_c", "°C", HYDROMETERS
    )
    return as_given(
        reading / (1.0 + GLASS_CUBIC_EXPANSION_PER_K * (temperature - calibration)), reading_kg_m3
    )


def mass_fraction_from_density(density_kg_m3: Number, temperature_c: float = 20.0) -> Number:
    """Ethanol mass fraction of a sugar-free spirit of this density.

    Parameters
    ----------
    density_kg_m3 : float or ndarray
        True density at `temperature_c`, between pure ethanol and pure water.
    temperature_c : float, default 20
        0 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        g/g.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    name = "mass_fraction_from_density"
    temperature = checked(
        float(temperature_c), COLDEST_INVERSE_C, OIML_WARMEST_C, f"{name}: temperature_c", "°C", OIML
    )
    coefficients = ethanol_water_polynomial(temperature)
    rises = [power * c for power, c in enumerate(coefficients)][1:]
    heaviest, lightest = (float(horner_broadcast(coefficients, np.array(p))) for p in (0.0, 1.0))
    density = checked(density_kg_m3, lightest, heaviest, f"{name}: density_kg_m3", "kg/m3", OIML)

    # Density falls with ethanol, so it is its negative that rises.
    def evaluate(fraction: Array) -> tuple[Array, Array]:
        return -horner_broadcast(coefficients, fraction), -horner_broadcast(rises, fraction)

    start = (heaviest - density) / (heaviest - lightest)
    return as_given(solve_increasing(evaluate, -density, 0.0, 1.0, start), density_kg_m3)


def abv_from_density(density_kg_m3: Number, temperature_c: float = 20.0) -> Number:
    """Strength at 20 degrees Celsius of a sugar-free spirit from its density at a temperature.

    Parameters
    ----------
    density_kg_m3 : float or ndarray
        True density at `temperature_c`, between pure ethanol and pure water.
    temperature_c : float, default 20
        0 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        % vol at 20 degrees Celsius. For a sweetened drink it is only apparent: sugar hides alcohol.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    fraction: Array = np.asarray(mass_fraction_from_density(density_kg_m3, temperature_c))
    return as_given(abv_from_mass_fraction(fraction), density_kg_m3)


def hydrometer_reading_at_20c(
    reading_kg_m3: Number, temperature_c: float, calibration_c: float = 20.0
) -> Number:
    """Correct a hydrometer reading in a sugar-free spirit to 20 degrees Celsius.

    Parameters
    ----------
    reading_kg_m3 : float or ndarray
        As read at `temperature_c`, kg/m3.
    temperature_c : float
        Of the spirit, 0 to 40 degrees Celsius.
    calibration_c : float, default 20
        Temperature at which the scale is true.

    Returns
    -------
    float or ndarray
        True density of the same spirit at 20 degrees Celsius, kg/m3: what a hydrometer that is true at 20
        would show there, whatever temperature the scale read is true at.

    Raises
    ------
    RangeError
        Outside the range, no spirit of that density, or NaN.
    """
    true_density: Array = np.asarray(
        density_from_hydrometer(reading_kg_m3, float(temperature_c), calibration_c)
    )
    fraction: Array = np.asarray(mass_fraction_from_density(true_density, float(temperature_c)))
    return as_given(density_ethanol_water(fraction), reading_kg_m3)
