"""How far a worked-out figure may be off: doubts of different kinds put together.

A tool read to its division is off by anything up to it, evenly; a model's own doubt is taken as
normal. The sum of such things is neither, so the interval that holds 95 of 100 is worked out from
their distributions instead of taking twice the standard uncertainty (the propagation of
distributions of the GUM's first supplement, JCGM 101:2008).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import NormalDist

import numpy as np

from formulate.quantity.document import HIDDEN, computed, shown

__all__ = ["COVERED", "Doubt", "Figure", "figure_of"]

COVERED = 0.95
NORMAL_FACTOR = NormalDist().inv_cdf(0.5 + COVERED / 2.0)
GRID = 4001
NARROW = 3.0
"""A rectangle narrower than this many grid steps is counted among the normal ones."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One cause of doubt and what it does to a figure.

    Attributes
    ----------
    cause : str
        In plain words.
    effect : float
        In the unit of the figure: half the width if `even`, else the standard uncertainty. Either sign.
    even : bool
        Whether everything up to `effect` is equally likely.
    """

    cause: str
    effect: float = field(metadata=HIDDEN)
    even: bool

    @property
    @computed("standard_uncertainty", after="cause")
    def standard(self) -> float:
        """Standard uncertainty."""
        return abs(self.effect) / math.sqrt(3.0) if self.even else abs(self.effect)

    @property
    @computed("expanded_uncertainty", after="standard")
    def expanded(self) -> float:
        """Half the width of the interval that holds 95 of 100, if this were the only doubt."""
        return abs(self.effect) * (COVERED if self.even else NORMAL_FACTOR)


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure with its uncertainty.

    Attributes
    ----------
    given : bool
        Whether it was said by the person, not worked out.
    standard : float
        Standard uncertainty.
    expanded : float
        Half the width of the interval that holds the share `covers` of all.
    doubts : tuple of Doubt
        What it is made of, the largest first.
    """

    value: float
    given: bool = False
    standard: float = field(metadata=shown("standard_uncertainty"))
    expanded: float = field(metadata=shown("expanded_uncertainty"))
    covers: float = field(default=COVERED, init=False)
    doubts: tuple[Doubt, ...] = field(default=(), metadata=shown("causes"))

    @property
    @computed(after="expanded")
    def coverage_factor(self) -> float:
        """Standard uncertainties in the interval: 1.65 for one even doubt, 1.96 for normal ones."""
        return self.expanded / self.standard if self.standard > 0.0 else 2.0


def figure_of(value: float, doubts: Sequence[Doubt], *, given: bool = False) -> Figure:
    """Put the doubts about a figure together.

    Parameters
    ----------
    doubts : sequence of Doubt
        Independent of one another.
    """
    ordered = tuple(sorted(doubts, key=lambda doubt: -doubt.standard))
    standard = math.sqrt(math.fsum(doubt.standard**2 for doubt in ordered))
    return Figure(
        value=value,
        given=given,
        standard=standard,
        expanded=_half_width(ordered, standard),
        doubts=ordered,
    )


def _half_width(doubts: Sequence[Doubt], standard: float) -> float:
    """Half the width of the middle interval that holds `COVERED` of the sum of the doubts."""
    if standard <= 0.0:
        return 0.0
    grid = np.linspace(-6.0 * standard, 6.0 * standard, GRID)
    step = float(grid[1] - grid[0])
    widths = [abs(doubt.effect) for doubt in doubts if doubt.even and abs(doubt.effect) > NARROW * step]
    normal = math.sqrt(max(standard**2 - math.fsum(width**2 / 3.0 for width in widths), 0.0))
    if normal > step:
        density = np.exp(-0.5 * (grid / normal) ** 2)
    else:
        density = np.zeros(GRID)
        density[GRID // 2] = 1.0
    for width in widths:
        # The running mean over the rectangle, from the running sum, its ends read between grid points.
        total = np.concatenate(([0.0], np.cumsum(density)))
        edges = np.concatenate((grid - step / 2.0, [grid[-1] + step / 2.0]))
        density = np.interp(grid + width, edges, total) - np.interp(grid - width, edges, total)
    inside = np.cumsum(density) / density.sum()
    return float(np.interp(0.5 + COVERED / 2.0, inside, grid + step / 2.0))
