"""Aiming at the middle of each band instead of just inside it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from formulate.describe.records import Note, TargetRecord
from formulate.describe.telling import listed
from formulate.formulation.bottle import Formulation
from formulate.optimise.problem import Limit, Over

__all__ = ["at_the_edge", "in_the_middle", "narrowed", "targets_as_asked"]

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


def targets_as_asked(formulation: Formulation, targets: tuple[TargetRecord, ...]) -> tuple[TargetRecord, ...]:
    """Show what was asked of each target, not the narrower band that was aimed at."""
    asked = {limit.origin.name: limit for limit in formulation.as_asked if limit.is_target}
    return tuple(
        replace(
            target,
            lower=_known(asked[target.target].lower * asked[target.target].display),
            upper=_known(asked[target.target].upper * asked[target.target].display),
            binding=target.binding and not _is_band(asked[target.target]),
            shadow_price=None if _is_band(asked[target.target]) else target.shadow_price,
        )
        if target.target in asked
        else target
        for target in targets
    )


def at_the_edge(targets: tuple[TargetRecord, ...]) -> list[Note]:
    """Say that the cheapest recipe stands at the edge of bands, and how to have it in the middle."""
    names = [
        target.target
        for target in targets
        if target.binding
        and target.lower is not None
        and target.upper is not None
        and target.upper > target.lower
    ]
    if not names:
        return []
    text = (
        f"The cheapest recipe stands at the edge of what you allow in {listed(names)}: a slip in weighing or "
        "another lot puts it out. `--middle` aims at the middle of each band."
    )
    return [Note("at_the_edge", text)]


def in_the_middle() -> list[Note]:
    """Say that the middle of each band was aimed at, and what is proved of it."""
    text = "Aimed at the middle of each band: no cheaper recipe lies in the middle tenth of them all."
    return [Note("in_the_middle", text)]


def _is_band(limit: Limit) -> bool:
    return (
        limit.is_target
        and limit.over is not Over.COST
        and bool(np.isfinite([limit.lower, limit.upper]).all())
        and limit.upper > limit.lower
    )


def _known(value: float) -> float | None:
    return value if np.isfinite(value) else None
