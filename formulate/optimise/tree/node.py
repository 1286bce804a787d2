"""A node of the tree: a part of the space of recipes, given by intervals of what the nonlinear terms need."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from formulate.blend.chain import ethanol_fraction
from formulate.optimise.layout import Assembly
from formulate.optimise.tolerances import ROUNDING, TINY

__all__ = ["BRANCHING_VARIABLES", "Interval", "Node", "root_node"]

BRANCHING_VARIABLES = ("ethanol", "solute", "share", "dose", "potency")
"""The names of a node's intervals."""

SOLUTE_LARGEST = 0.85
"""End of the published density range for sugar, by mass (ICUMSA SPS-4)."""


class Interval(NamedTuple):
    """An interval of a fraction."""

    lower: float
    upper: float

    @property
    def width(self) -> float:
        """Upper less lower."""
        return self.upper - self.lower


@dataclass(frozen=True)
class Node:
    """A part of the space of recipes.

    Attributes
    ----------
    ethanol : tuple of Interval
        Per stream, ethanol in ethanol plus water, by mass.
    solute : tuple of Interval
        Per stream, dissolved solids in the liquor, by mass.
    share : tuple of Interval
        Per carry, the share of liquor carried over.
    dose : tuple of Interval
        Per uptake and table of strength, what is given per kilogram of water and ethanol.
    potency : tuple of Interval
        Per `Potency` of the assembly, the activity per kilogram of liquor.
    """

    ethanol: tuple[Interval, ...]
    solute: tuple[Interval, ...]
    share: tuple[Interval, ...]
    dose: tuple[Interval, ...] = ()
    potency: tuple[Interval, ...] = ()

    def intervals(self, variable: str) -> tuple[Interval, ...]:
        """Return the intervals of one of `BRANCHING_VARIABLES`."""
        intervals: tuple[Interval, ...] = getattr(self, variable)
        return intervals

    def with_interval(self, variable: str, number: int, interval: Interval) -> Node:
        """Return the same node with one interval in place of another."""
        intervals = self.intervals(variable)
        return replace(self, **{variable: (*intervals[:number], interval, *intervals[number + 1 :])})


def root_node(assembly: Assembly) -> Node:
    """Return a node that holds every recipe."""
    fractions = ethanol_fraction(assembly.problem.chain.materials.content)
    strongest = float(min(fractions.max(initial=0.0) + TINY, 1.0))
    streams = len(assembly.streams)
    return Node(
        ethanol=(Interval(0.0, strongest),) * streams,
        solute=(Interval(0.0, SOLUTE_LARGEST),) * streams,
        share=tuple(Interval(0.0, carry.share_largest) for carry in assembly.carries),
        dose=tuple(
            Interval(0.0, float(largest) * (1.0 + ROUNDING))
            for row in assembly.uptakes
            for largest in row.largest_doses
        ),
        potency=(Interval(0.0, np.inf),) * len(assembly.potencies),
    )
