"""What the formulas are made of: values refused outside a range, polynomials, inverses, sourced figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from formulate.errors import FormulateError, RangeError

__all__ = [
    "CONFIDENCES",
    "Array",
    "Figure",
    "Number",
    "as_given",
    "checked",
    "derivative",
    "horner",
    "horner_broadcast",
    "solve_increasing",
    "worst_outside",
]

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


def horner(coefficients: Sequence[float], x: Array) -> Array:
    """Evaluate c0 + c1 x + c2 x**2 + ... in place, one array of scratch.

    Parameters
    ----------
    coefficients : sequence of float
        In ascending order of the power.

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


STEP_TOLERANCE = 1e-14
MAXIMUM_STEPS = 60


def solve_increasing(
    evaluate: Callable[[Array], tuple[Array, Array]], target: Array, lower: float, upper: float, start: Array
) -> Array:
    """Solve f(x) = target element by element for a strictly increasing f.

    Parameters
    ----------
    evaluate : callable
        ``x -> (f(x), f'(x))`` on arrays.
    target : ndarray
        Values wanted; each must lie between f(lower) and f(upper).
    lower, upper : float
        Bracket of the answers.
    start : ndarray
        First guesses, shape of `target`; where f(start) equals the target, start is returned as it is.

    Returns
    -------
    ndarray
        Within 1e-14 of the root, or within the rounding noise of f where that is larger.
    """
    x = np.clip(start, lower, upper)
    low = np.full(x.shape, lower)
    high = np.full(x.shape, upper)
    # Each element stops on its own, so that it comes out the same alone and among others.
    done = np.zeros(x.shape, dtype=bool)
    for _ in range(MAXIMUM_STEPS):
        value, slope = evaluate(x)
        error = value - target
        low = np.where(error <= 0.0, x, low)
        high = np.where(error >= 0.0, x, high)
        newton = x - error / slope
        inside = (newton >= low) & (newton <= high)
        following = np.where(inside, newton, 0.5 * (low + high))
        following = np.where(done | (error == 0.0), x, following)
        done |= (np.abs(following - x) <= STEP_TOLERANCE) | (high - low <= STEP_TOLERANCE)
        x = following
        if np.all(done):
            break
    return x


# published: read in the source. derived: arithmetic on published figures. from memory: source named, not
# read. common practice: no single authority. assumption: ours, until somebody measures.
CONFIDENCES = ("published", "derived", "from memory", "common practice", "assumption", "measured here")


@dataclass(frozen=True, slots=True)
class Figure:
    """A range and its origin.

    Attributes
    ----------
    low, high : float
        Ends of the range, equal for a single value.
    unit : str
        Of both.
    source : str
        Where it comes from.
    confidence : str
        One of `CONFIDENCES`.

    Raises
    ------
    FormulateError
        Ends in the wrong order or not finite, or an unknown confidence.
    """

    low: float
    high: float
    unit: str
    source: str
    confidence: str

    def __post_init__(self) -> None:
        if not float("-inf") < self.low <= self.high < float("inf"):
            raise FormulateError(f"A range runs from low to high, got {self.low:g} to {self.high:g}.")
        if self.confidence not in CONFIDENCES:
            known = ", ".join(CONFIDENCES)
            raise FormulateError(f"Unknown confidence {self.confidence!r}. Known: {known}.")

    @property
    def middle(self) -> float:
        """Half way between the ends."""
        return 0.5 * (self.low + self.high)
