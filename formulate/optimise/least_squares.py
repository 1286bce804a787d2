"""Weighted least squares with what was believed before, through SciPy's trust region.

Each datum and each belief is one row in units of its own standard uncertainty. At the answer the inverse of
their information is the covariance of the unknowns (linear there); with no beliefs and equal unknown weights
it is scaled by what the data scatter, as certified reference fits are.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.errors import FormulateError

__all__ = ["Fit", "chance_of_misfit", "fit_least_squares"]

FloatArray = NDArray[np.float64]

TIGHT = 1e-10
MOST_CALLS = 4000
POLISHED = 10
"""Gauss-Newton steps at the end: they bring the last digits that the trust region's tests leave."""
NUDGE = float(np.cbrt(np.finfo(float).eps))


@dataclass(frozen=True)
class Fit:
    """A fit that converged.

    Attributes
    ----------
    values : ndarray, shape (p,)
    covariance : ndarray, shape (p, p)
        Of the unknowns, data and beliefs of known size.
    residuals : ndarray, shape (n,)
        Data less fit, in standard uncertainties of each.
    jacobian : ndarray, shape (n, p)
        Change of the residuals.
    misfit : float
        Sum of squares, beliefs included.
    """

    values: FloatArray
    covariance: FloatArray
    residuals: FloatArray
    jacobian: FloatArray
    misfit: float

    @property
    def scatter(self) -> float:
        """Standard deviation of the residuals, p unknowns spent; for data whose weights are not known."""
        return float(np.sqrt(self.residuals @ self.residuals / (len(self.residuals) - len(self.values))))

    @property
    def scaled(self) -> FloatArray:
        """Standard uncertainties of the unknowns by that scatter, shape (p,)."""
        found: FloatArray = self.scatter * np.sqrt(np.diag(self.covariance))
        return found


def fit_least_squares(
    residuals: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    *,
    believed: FloatArray | None = None,
    doubt: FloatArray | None = None,
    jacobian: Callable[[FloatArray], FloatArray] | None = None,
) -> Fit:
    """Find the unknowns that fit data and beliefs best.

    Parameters
    ----------
    residuals : callable
        Unknowns of shape (p,) to misses of shape (n,), each in its own standard uncertainty.
    start : ndarray, shape (p,)
    believed, doubt : ndarray, shape (p,), optional
        What was believed of each before, and its standard uncertainty; infinite for nothing.
    jacobian : callable, optional
        Shape (n, p); central differences if not given.

    Raises
    ------
    FormulateError
        If it does not settle, or the data say nothing of an unknown that nothing was believed of.
    """
    from scipy.optimize import least_squares

    start = np.asarray(start, dtype=float)
    centre = start if believed is None else np.asarray(believed, dtype=float)
    weight = np.zeros(len(start)) if doubt is None else 1.0 / np.asarray(doubt, dtype=float)
    held = np.flatnonzero(weight)
    pull = np.diag(weight)[held]

    def slopes(values: FloatArray) -> FloatArray:
        return jacobian(values) if jacobian is not None else _differences(residuals, values)

    def every(values: FloatArray) -> FloatArray:
        return np.concatenate([residuals(values), pull @ (values - centre)])

    def every_slope(values: FloatArray) -> FloatArray:
        return np.concatenate([slopes(values), pull])

    found = least_squares(
        every,
        start,
        jac=every_slope,
        x_scale="jac",
        ftol=TIGHT,
        xtol=TIGHT,
        gtol=TIGHT,
        max_nfev=MOST_CALLS,
    )
    values = np.asarray(found.x, dtype=float)
    if not np.isfinite(found.cost) or found.status <= 0:
        raise FormulateError("The fit did not settle. Look for a slip in what was weighed or read.")
    for _ in range(POLISHED):
        step = np.linalg.lstsq(every_slope(values), -every(values), rcond=None)[0]
        moved = values + step
        if (abs(step) <= 1e-14 * abs(values)).all():
            break
        if not (every(moved) @ every(moved)) <= every(values) @ every(values):
            break
        values = moved
    slope = every_slope(values)
    information = slope.T @ slope
    size = np.sqrt(np.diag(information))
    if not (size > 0.0).all():
        raise FormulateError("The data say nothing of one of the unknowns.")
    # Scaled to a diagonal of one first: unknowns may lie ten powers of ten apart.
    covariance = np.linalg.inv(information / np.outer(size, size)) / np.outer(size, size)
    rest = residuals(values)
    whole = every(values)
    return Fit(values, covariance, rest, slope[: len(rest)], float(whole @ whole))


def _differences(residuals: Callable[[FloatArray], FloatArray], values: FloatArray) -> FloatArray:
    columns = []
    for index, value in enumerate(values):
        nudge = NUDGE * (abs(value) or 1.0)
        high, low = values.copy(), values.copy()
        high[index] += nudge
        low[index] -= nudge
        columns.append((residuals(high) - residuals(low)) / (high[index] - low[index]))
    return np.stack(columns, axis=1)


def chance_of_misfit(misfit: float, data: int) -> float:
    """Return how often data that fit their doubts would lie at least so far off, 0 to 1.

    Parameters
    ----------
    misfit : float
        Sum of squares, beliefs included.
    data : int
        How many data; each unknown takes one up and its belief gives one back.
    """
    from scipy.special import gammaincc

    return float(gammaincc(data / 2.0, misfit / 2.0))
