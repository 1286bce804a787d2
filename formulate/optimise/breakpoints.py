"""Breakpoints of the strength tables: the intervals of ethanol fraction between them, where all is smooth."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from formulate.blend.chain import ethanol_fraction
from formulate.optimise.layout import Assembly
from formulate.optimise.point import Point
from formulate.optimise.tree.node import Interval
from formulate.physics.strength import mass_fraction_from_abv

__all__ = ["smooth_intervals", "smooth_intervals_at"]

STRONGEST_PCT_VOL = 97.0


def smooth_intervals(assembly: Assembly, step: int) -> list[Interval]:
    """Split the ethanol fractions of a step at the breakpoints of its strength tables.

    Returns
    -------
    list of Interval
        From the weakest up, the first also where nothing has alcohol; those that no ingredient is strong
        enough for left out.
    """
    strengths = {
        strength
        for row in assembly.uptakes
        if row.step == step
        for table in row.tables
        for strength, _ in table.points
        if 0.0 < strength < STRONGEST_PCT_VOL
    }
    ends = [0.0, *(float(mass_fraction_from_abv(strength)) for strength in sorted(strengths)), 1.0]
    strongest = float(ethanol_fraction(assembly.problem.chain.materials.content).max(initial=0.0))
    return [Interval(low, high) for low, high in pairwise(ends) if low < strongest or low == 0.0]


def smooth_intervals_at(assembly: Assembly, point: Point) -> Mapping[int, Interval]:
    """Find the smooth interval that each infusing step of a recipe is in.

    Returns
    -------
    mapping of int to Interval
        By stream, as `BlendProgram.confine_ethanol` takes it.
    """
    intervals = {}
    for step in sorted({row.step for row in assembly.uptakes}):
        fraction = float(ethanol_fraction(point.run.gross[step]))
        below = [interval for interval in smooth_intervals(assembly, step) if interval.lower <= fraction]
        intervals[assembly.stream_numbers[step, False]] = max(below)
    return intervals
