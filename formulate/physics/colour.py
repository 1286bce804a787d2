"""Red fruit colour: what heat and time leave of the anthocyanins, and how red they look.

First-order loss with an Arrhenius rate. The default, 0.009/h at 50 degrees Celsius with 80 kJ/mol, is the
published rate of a blueberry extract at pH 3 with a round activation energy from the middle of the
published 59 to 94 kJ/mol. Ascorbic acid and oxygen speed the loss, sugar and cold slow it.
"""

from __future__ import annotations

import numpy as np

from formulate.physics.arrhenius import activation, factor_unchecked, kitchen_temperature, kitchen_time
from formulate.physics.ranges import Array, Number, as_given, checked

__all__ = [
    "ANTHOCYANIN_ACTIVATION_KJ_MOL",
    "ANTHOCYANIN_RATE_50C_PER_H",
    "anthocyanin_left",
    "anthocyanin_rate_per_h",
]

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
