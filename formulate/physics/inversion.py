"""The inverse of an increasing function: Newton's steps, kept inside a shrinking bracket."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from formulate.physics.ranges import Array

__all__ = ["solve_increasing"]

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
