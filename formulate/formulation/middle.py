"""Aiming at the middle of each band instead of just inside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from formulate.formulation.bottle import Formulation
from formulate.optimise.problem import Limit, Over

__all__ = ["narrowed"]

MIDDLE = 0.1
"""Share of a band, about its middle, that is aimed at."""


def narrowed(aims: Formulation) -> Formulation:
    """Narrow every band with two ends to its middle, a tenth of it as wide; one-sided aims stay.

    Parameters
    ----------
    aims : Formulation
        What it asked stays known as `as_asked`.
    """

    def narrow(limit: Limit) -> Limit:
        if not _is_band(limit):
            return limit
        middle, half = (limit.lower + limit.upper) / 2.0, MIDDLE * (limit.upper - limit.lower) / 2.0
        return replace(limit, lower=middle - half, upper=middle + half)

    problem = aims.problem
    return replace(
        aims, problem=problem.asking([narrow(limit) for limit in problem.limits]), as_asked=problem.limits
    )


def _is_band(limit: Limit) -> bool:
    return (
        limit.is_target
        and limit.over is not Over.COST
        and bool(np.isfinite([limit.lower, limit.upper]).all())
        and limit.upper > limit.lower
    )
