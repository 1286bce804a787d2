"""How rates change with temperature (Arrhenius' law): colour lost to heat, and coarse bitterness.

Anthocyanins are lost by the first order. The default, 0.009/h at 50 degrees Celsius with 80 kJ/mol, is the
published rate of a blueberry extract at pH 3 with a round activation energy from the middle of the
published 59 to 94 kJ/mol. Ascorbic acid and oxygen speed the loss, sugar and cold slow it. Coarse bitterness
is a working model that the house calibrates or switches off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.physics.numerics import Array, Number, as_given, checked

__all__ = [
    "ANTHOCYANIN_ACTIVATION_KJ_MOL",
    "ANTHOCYANIN_RATE_50C_PER_H",
    "COLDEST_C",
    "DEFAULT_HARSHNESS",
    "GAS_CONSTANT_J_MOL_K",
    "HIGHEST_ACTIVATION_KJ_MOL",
    "HOTTEST_C",
    "KITCHEN",
    "LONGEST_H",
    "Harshness",
    "activation",
    "anthocyanin_left",
    "anthocyanin_rate_per_h",
    "factor_unchecked",
    "harsh_share",
    "kitchen_hold",
    "kitchen_temperature",
    "kitchen_time",
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


REFERENCE_C = 50.0
ANTHOCYANIN_RATE_50C_PER_H = 0.009
ANTHOCYANIN_ACTIVATION_KJ_MOL = 80.0
LOSS = "the anthocyanin loss model"


def anthocyanin_rate_per_h(
    temperature_c: Number,
    k50_per_h: float = ANTHOCYANIN_RATE_50C_PER_H,
    activation_kj_mol: float = ANTHOCYANIN_ACTIVATION_KJ_MOL,
) -> Number:
    """Rate of anthocyanin loss.

    Parameters
    ----------
    temperature_c : float or ndarray
        -25 to 100 degrees Celsius; published rates cover 5 to 95.
    k50_per_h : float, default 0.009
        Rate at 50 degrees Celsius, 1e-9 to 1e3 1/h.
    activation_kj_mol : float, default 80
        0 to 1000 kJ/mol; published 59 to 94.

    Returns
    -------
    float or ndarray
        1/h, never falling with temperature.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "anthocyanin_rate_per_h"
    temperature = kitchen_temperature(name, temperature_c)
    rate = float(checked(k50_per_h, 1e-9, 1e3, f"{name}: k50_per_h", "1/h", LOSS))
    energy = activation(name, activation_kj_mol)
    return as_given(rate * factor_unchecked(temperature, REFERENCE_C, energy), temperature_c)


def anthocyanin_left(
    time_h: Number,
    temperature_c: Number | float,
    k50_per_h: float = ANTHOCYANIN_RATE_50C_PER_H,
    activation_kj_mol: float = ANTHOCYANIN_ACTIVATION_KJ_MOL,
) -> Number:
    """Share of the anthocyanin that is left.

    Parameters
    ----------
    time_h : float or ndarray
        0 h and up.
    temperature_c : float or ndarray
        Held for that time, -25 to 100 degrees Celsius.
    k50_per_h, activation_kj_mol : float
        As in `anthocyanin_rate_per_h`.

    Returns
    -------
    float or ndarray
        exp(-k t), 0 to 1, falling with time and temperature.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    time = kitchen_time("anthocyanin_left", time_h)
    temperature = np.asarray(temperature_c, dtype=np.float64)
    rate: Array = np.asarray(anthocyanin_rate_per_h(temperature, k50_per_h, activation_kj_mol))
    return as_given(np.exp(-rate * time), time_h)


MODEL = "the working model of coarse bitterness"


@dataclass(frozen=True, slots=True)
class Harshness:
    """How much of the bitterness is coarse after a reference time at a reference temperature.

    A WORKING MODEL of ours, with no published figure behind it: set it by tasting, or switch it off
    with None. Coarse (woody, tannic) matter follows fine bitterness at its own rate, and its higher
    activation energy makes a hot jar coarser than a cold one of equal strength. Two ends hold it: books
    steep 12 to 14 days at room temperature without harm, and at 75 to 80 °C an hour is coarse (common
    practice).

    Attributes
    ----------
    share_at_reference : float, default 0.05
        Of the bitterness, 0 to 0.99.
    reference_time_h : float, default 336
        Two weeks; 0.01 to 1e5 h.
    reference_c : float, default 20
        Degrees Celsius.
    activation_kj_mol : float, default 104
        What makes 15 % of it coarse in an hour at 77.5 degrees Celsius.

    Raises
    ------
    RangeError
        A number outside its range.
    """

    share_at_reference: float = 0.05
    reference_time_h: float = 336.0
    reference_c: float = 20.0
    activation_kj_mol: float = 104.0

    def __post_init__(self) -> None:
        checked(self.share_at_reference, 0.0, 0.99, "Harshness: share_at_reference", "", "a share below all")
        checked(self.reference_time_h, 0.01, 1e5, "Harshness: reference_time_h", "h", MODEL)
        checked(self.reference_c, COLDEST_C, HOTTEST_C, "Harshness: reference_c", "°C", KITCHEN)
        highest = HIGHEST_ACTIVATION_KJ_MOL
        checked(self.activation_kj_mol, 0.0, highest, "Harshness: activation_kj_mol", "kJ/mol", MODEL)


DEFAULT_HARSHNESS = Harshness()


def harsh_share(
    time_h: Number, temperature_c: Number | float, harshness: Harshness | None = DEFAULT_HARSHNESS
) -> Number:
    """Share of the bitterness that is coarse: a working model, see `Harshness`.

    Parameters
    ----------
    time_h : float or ndarray
        0 h and up.
    temperature_c : float or ndarray
        -25 to 100 degrees Celsius.
    harshness : Harshness or None
        None switches the model off.

    Returns
    -------
    float or ndarray
        1 - (1 - share_at_reference)^(f t/reference time), f the Arrhenius factor; 0 to 1, never falling
        with time or temperature; 0 when switched off.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    time, temperature = kitchen_hold("harsh_share", time_h, temperature_c)
    if harshness is None:
        return as_given(np.zeros(np.broadcast(time, temperature).shape), time_h)
    factor = factor_unchecked(temperature, harshness.reference_c, harshness.activation_kj_mol)
    slow = np.log1p(-harshness.share_at_reference) / harshness.reference_time_h
    return as_given(-np.expm1(slow * factor * time), time_h)
