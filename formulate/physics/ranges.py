"""Refusing what lies outside a published range, and giving back the kind that came in."""

from __future__ import annotations

from typing import Any, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from formulate.errors import RangeError

__all__ = ["Array", "Number", "as_given", "checked", "worst_outside"]

Array = NDArray[np.float64]
Number = TypeVar("Number", float, NDArray[np.float64])


def checked(value: Any, lower: float, upper: float, name: str, unit: str, source: str) -> Array:
    """Return `value` as a float array, or refuse it.

    Parameters
    ----------
    value : float or array_like
        What was asked.
    lower, upper : float
        The published range, ends included.
    name, unit, source : str
        For the error: the function and its input, the unit, where the range comes from.

    Returns
    -------
    ndarray
        Same shape as `value` (0-d for a float).

    Raises
    ------
    RangeError
        A value lies outside or is NaN; the worst one is reported, the first of equals.
    """
    array = np.asarray(value, dtype=np.float64)
    if array.ndim == 0:
        inside = lower <= float(array) <= upper
    else:
        # A NaN makes both comparisons false, so it is refused without a pass of its own.
        inside = array.size == 0 or bool(array.min() >= lower and array.max() <= upper)
    if not inside:
        raise RangeError(name, worst_outside(array, lower, upper), lower, upper, unit, source)
    return array


def worst_outside(array: Array, lower: float, upper: float) -> float:
    """Return the first of the values furthest outside the range; a NaN is worse than any number."""
    flat = array.ravel()
    excess = np.maximum(lower - flat, flat - upper)
    excess[np.isnan(flat)] = np.inf
    return float(flat[int(np.argmax(excess))])


def as_given(result: Any, like: Number) -> Number:  # noqa: ARG001 - `like` only carries the type
    """Turn a 0-d result into a float; leave arrays alone."""
    return cast(Number, float(result) if np.ndim(result) == 0 else result)
