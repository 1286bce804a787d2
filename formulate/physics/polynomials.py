"""Polynomials by Horner's rule: the same additions and products for floats and for arrays."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from formulate.physics.ranges import Array

__all__ = ["derivative", "horner", "horner_broadcast"]


def horner(coefficients: Sequence[float], x: Array) -> Array:
    """Evaluate c0 + c1 x + c2 x**2 + ... in place, one array of scratch.

    Parameters
    ----------
    coefficients : sequence of float
        In ascending order of the power.
    x : ndarray

    Returns
    -------
    ndarray
        Shape of `x`, 0-d included.
    """
    if x.size == 1:
        # One number is reckoned ten times faster in plain floats, to the same last bit.
        return np.full(x.shape, float(_of_one(coefficients, x.item())))
    result = np.full(x.shape, coefficients[-1])
    for coefficient in coefficients[-2::-1]:
        result *= x
        result += coefficient
    return result


def horner_broadcast(coefficients: Sequence[Array], x: Array) -> Array:
    """As `horner`, with coefficients that are arrays themselves and broadcast against `x`."""
    if x.ndim == 0 and all(c.ndim == 0 for c in coefficients):
        return np.asarray(_of_one([float(c) for c in coefficients], x.item()))
    result = coefficients[-1] + np.zeros_like(x)
    for coefficient in coefficients[-2::-1]:
        result = result * x + coefficient
    return result


def _of_one(coefficients: Sequence[float], x: float) -> float:
    result = coefficients[-1]
    for coefficient in coefficients[-2::-1]:
        result = result * x + coefficient
    return result


def derivative(coefficients: Sequence[float]) -> tuple[float, ...]:
    """Return the coefficients of the derivative, ascending; a constant gives (0.0,)."""
    return tuple(power * c for power, c in enumerate(coefficients))[1:] or (0.0,)
