"""How far a bar's own tools can confirm a calculated strength.

A hydrometer and a handheld refractometer together give strength and sugar, each with the
tool's own step and the model's doubt about the refractive index of sweet spirit. The figure
is carried through the blend model at the drink in question.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR
from formulate.physics.mixture import INDEX, density_kg_m3, strength_pct_vol, sugar_g_l
from formulate.physics.refraction import refractive_index_mixture

__all__ = ["confirmable_strength_pct_vol"]

FloatArray = NDArray[np.float64]

HYDROMETER_KG_M3 = 1.0
"""Standard uncertainty of a glass hydrometer read by eye, half a division of 0.002 (common practice)."""

REFRACTOMETER_INDEX = 2.9e-4
"""Standard uncertainty of a handheld refractometer, 0.2 degrees Brix at 1.45e-3 each (common practice)."""

MODEL_INDEX = 2e-4
"""The model's own doubt about the index of sweet spirit (1.5e-4 to 3e-4, our estimate)."""

COVERAGE = 2.0
NUDGE_KG = 1e-4

NUDGES = ({"ethanol": 1.0}, {"sucrose": 0.8, "water": 0.2})
"""What is added to see how the figures answer: with a syrup, no drink is carried past the density range."""


def confirmable_strength_pct_vol(liquor: FloatArray) -> float | None:
    """Half-width, in % vol, to which density and refraction can confirm the strength of a drink.

    Parameters
    ----------
    liquor : ndarray, shape (15,)
        Component masses, kg.

    Returns
    -------
    float or None
        At twice the standard uncertainty; None for a drink without alcohol.
    """
    liquor = np.asarray(liquor[:LIQUOR], dtype=float) / liquor[:LIQUOR].sum()
    if liquor[INDEX["ethanol"]] <= 0.0:
        return None
    base = _figures(liquor)
    slopes = []
    for shares in NUDGES:
        nudged = liquor.copy()
        for name, share in shares.items():
            nudged[INDEX[name]] += share * NUDGE_KG
        slopes.append(_figures(nudged) - base)
    strength, sugar, density, index = np.array(slopes).T
    reading_by_figure = np.array([density, index]) @ np.linalg.inv(np.array([strength, sugar]))
    figure_by_reading = np.linalg.inv(reading_by_figure)
    doubts = np.array([HYDROMETER_KG_M3, np.hypot(REFRACTOMETER_INDEX, MODEL_INDEX)])
    return float(COVERAGE * np.hypot(*(figure_by_reading[0] * doubts)))


def _figures(liquor: FloatArray) -> FloatArray:
    return np.array(
        [strength_pct_vol(liquor), sugar_g_l(liquor), density_kg_m3(liquor), refractive_index_mixture(liquor)]
    )
