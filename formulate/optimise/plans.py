"""The least of something over a few bounded numbers, while margins stay at or above zero."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["least_within"]

FloatArray = NDArray[np.float64]

NEARLY = 1e-6
"""A margin this little below zero still counts; the caller rounds and checks again."""


def least_within(
    objective: Callable[[FloatArray], float],
    margins: Callable[[FloatArray], FloatArray],
    starts: Sequence[Sequence[float]],
    bounds: Sequence[tuple[float, float]],
) -> FloatArray | None:
    """Minimise a smooth function with SciPy's SLSQP from several starts.

    Parameters
    ----------
    objective : callable
        Takes the numbers, shape (n,), gives what is to be small.
    margins : callable
        Takes the numbers, gives how far each limit is kept, shape (m,); below zero is a breach.
        Best scaled to about 1.
    starts : sequence of sequence of float
        Where to begin, each of n numbers; moved inside the bounds.
    bounds : sequence of (lower, upper)
        n pairs with lower < upper.

    Returns
    -------
    ndarray, shape (n,), or None
        The best point found that keeps every limit; None when no start led to one, which proves nothing.
    """
    from scipy.optimize import NonlinearConstraint, minimize

    lower = np.array([low for low, _ in bounds])
    width = np.array([high - low for low, high in bounds])

    def back(scaled: FloatArray) -> FloatArray:
        return np.asarray(lower + width * np.clip(scaled, 0.0, 1.0))

    def cost(scaled: FloatArray) -> float:
        return objective(back(scaled))

    def kept(scaled: FloatArray) -> FloatArray:
        return margins(back(scaled))

    best: FloatArray | None = None
    least = np.inf
    for start in starts:
        inside = np.clip((np.asarray(start, dtype=float) - lower) / width, 0.0, 1.0)
        found = minimize(
            cost,
            inside,
            method="SLSQP",
            bounds=[(0.0, 1.0)] * len(bounds),
            constraints=NonlinearConstraint(kept, 0.0, np.inf),
            options={"maxiter": 60, "ftol": 1e-8},
        )
        point = back(np.asarray(found.x, dtype=float))
        value = objective(point)
        if value < least and float(np.min(margins(point), initial=np.inf)) >= -NEARLY:
            best, least = point, value
    return best
