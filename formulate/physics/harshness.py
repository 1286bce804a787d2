"""Coarse bitterness: a working model that the house calibrates or switches off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.physics.arrhenius import (
    COLDEST_C,
    HIGHEST_ACTIVATION_KJ_MOL,
    HOTTEST_C,
    KITCHEN,
    factor_unchecked,
    kitchen_hold,
)
from formulate.physics.ranges import Number, as_given, checked

__all__ = ["DEFAULT_HARSHNESS", "Harshness", "harsh_share"]

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
