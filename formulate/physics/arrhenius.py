"""How rates change with temperature: Arrhenius' law, and a temperature profile as time at one temperature."""

from __future__ import annotations

import numpy as np

from formulate.errors import FormulateError
from formulate.physics.ranges import Array, Number, as_given, checked

__all__ = [
    "COLDEST_C",
    "GAS_CONSTANT_J_MOL_K",
    "HIGHEST_ACTIVATION_KJ_MOL",
    "HOTTEST_C",
    "KITCHEN",
    "LONGEST_H",
    "activation",
    "arrhenius_factor",
    "factor_unchecked",
    "kitchen_hold",
    "kitchen_temperature",
    "kitchen_time",
    "two_point_activation_kj_mol",
]

GAS_CONSTANT_J_MOL_K = 8.314462618  # SI 2019, exact product of the Boltzmann and Avogadro constants
KELVIN_AT_0_C = 273.15
# A freezer to a boiling pan. The law itself has no such ends; no rate in this package was measured outside.
COLDEST_C, HOTTEST_C = -25.0, 100.0
LONGEST_H = 1e6
HIGHEST_ACTIVATION_KJ_MOL = 1000.0
KITCHEN = "kitchen work (freezer to boiling pan)"


def kitchen_temperature(function: str, temperature_c: object, name: str = "temperature_c") -> Array:
    """Return a temperature as an array, refusing what no kitchen holds (RangeError)."""
    return checked(temperature_c, COLDEST_C, HOTTEST_C, f"{function}: {name}", "°C", KITCHEN)


def kitchen_time(function: str, time_h: object, name: str = "time_h") -> Array:
    """Return a time as an array, refusing negative and endless ones (RangeError)."""
    return checked(time_h, 0.0, LONGEST_H, f"{function}: {name}", "h", "kitchen times (0 and up)")


def kitchen_hold(function: str, time_h: object, temperature_c: object) -> tuple[Array, Array]:
    """Return how long and how warm something is held, as `kitchen_time` and `kitchen_temperature` do."""
    return kitchen_time(function, time_h), kitchen_temperature(function, temperature_c)


def activation(function: str, activation_kj_mol: object) -> float:
    """Return an activation energy as a float, refusing negative ones: hotter is never slower (RangeError)."""
    name = f"{function}: activation_kj_mol"
    highest = HIGHEST_ACTIVATION_KJ_MOL
    return float(checked(activation_kj_mol, 0.0, highest, name, "kJ/mol", "activation energies"))


def factor_unchecked(temperature: Array, reference_c: float, activation_kj_mol: float) -> Array:
    """Rate over the rate at the reference; nothing checked."""
    inverse = 1.0 / (reference_c + KELVIN_AT_0_C) - 1.0 / (temperature + KELVIN_AT_0_C)
    return np.asarray(np.exp(activation_kj_mol * 1000.0 / GAS_CONSTANT_J_MOL_K * inverse))


def arrhenius_factor(temperature_c: Number, reference_c: float, activation_kj_mol: float) -> Number:
    """Rate at a temperature over the rate at the reference.

    Parameters
    ----------
    temperature_c : float or ndarray
        -25 to 100 degrees Celsius.
    reference_c : float
        Where the factor is 1, -25 to 100 degrees Celsius.
    activation_kj_mol : float
        0 to 1000 kJ/mol. 30 is about x 1.5 per 10 K near 20 degrees Celsius, 80 about x 3.

    Returns
    -------
    float or ndarray
        exp(Ea/R (1/Tref - 1/T)), without unit, never falling with temperature.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    temperature = kitchen_temperature("arrhenius_factor", temperature_c)
    reference = float(kitchen_temperature("arrhenius_factor", reference_c, "reference_c"))
    energy = activation("arrhenius_factor", activation_kj_mol)
    return as_given(factor_unchecked(temperature, reference, energy), temperature_c)


def two_point_activation_kj_mol(rate_cold: float, cold_c: float, rate_hot: float, hot_c: float) -> float:
    """Activation energy of the Arrhenius line through two rates.

    Parameters
    ----------
    rate_cold, rate_hot : float
        Above 0, in one unit; half-lives or time constants give the same as 1/time.
    cold_c, hot_c : float
        Their temperatures, -25 to 100 degrees Celsius, the second the higher.

    Returns
    -------
    float
        kJ/mol; negative when the hot rate is the lower one, for the caller to refuse or explain.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    FormulateError
        The temperatures are not in rising order.

    Notes
    -----
    Two points have no scatter: an error of 10 % in one rate over 30 K near 35 degrees Celsius moves the
    result by about 2.5 kJ/mol. A published line fitted through more temperatures may differ by more.
    """
    name = "two_point_activation_kj_mol"
    cold = float(kitchen_temperature(name, cold_c, "cold_c"))
    hot = float(kitchen_temperature(name, hot_c, "hot_c"))
    if not hot > cold:
        raise FormulateError(f"{name}: hot_c {hot:g} °C must lie above cold_c {cold:g} °C.")
    smallest, largest = 1e-12, 1e12
    first = float(checked(rate_cold, smallest, largest, f"{name}: rate_cold", "", "rates above 0"))
    second = float(checked(rate_hot, smallest, largest, f"{name}: rate_hot", "", "rates above 0"))
    inverse = 1.0 / (cold + KELVIN_AT_0_C) - 1.0 / (hot + KELVIN_AT_0_C)
    return float(GAS_CONSTANT_J_MOL_K * np.log(second / first) / inverse / 1000.0)
