"""How much of their bitterness and other activities plants give up in a step.

What an ingredient gives is its content, times how far the step's time and temperature bring
it (which does not depend on the recipe), times what the strength of the infusing liquor
allows (which does). So each activity of a step is a sum over a few tables of strength of
``table(strength) * amount``, where the amounts are plain sums over the masses.

Strength here is that of the ethanol and water alone, sugar aside: what dissolves a plant is
the solvent. A step without a time counts as infused to the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, Materials
from formulate.physics.components import ETHANOL_KG_L
from formulate.physics.density import density_slope_ethanol_water
from formulate.physics.extraction import DOUBT_FACTOR, TRIED_DOUBT_FACTOR, Kinetics, approach, stirred
from formulate.physics.kinetics import anthocyanin_left
from formulate.physics.strength import abv_from_mass_fraction, mass_fraction_from_abv

if TYPE_CHECKING:
    from formulate.blend.chain import Step

__all__ = ["StrengthTable", "Uptake", "drawn_range", "uptake_of"]

FloatArray = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]

COLOUR = "anthocyanin"
"""The attribute that heat destroys."""


STRENGTH_BEND = 200.0
"""More than % vol bends with ethanol fraction anywhere: its second derivative runs from -184 to -30."""

A_HAIR = 1e-12
"""Far more than the points of a table are off by rounding, far less than a share that matters."""


class Lines(NamedTuple):
    """Two parallel lines in the ethanol fraction that hold a table between them.

    Attributes
    ----------
    low, high : float
        Values at a fraction of 0.
    """

    slope: float
    low: float
    high: float


@dataclass(frozen=True)
class StrengthTable:
    """What strength does to extraction: straight lines between points, held beyond them."""

    points: Points

    @cached_property
    def _columns(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The points' strengths, their shares, and the ethanol fractions of those strengths."""
        strengths, shares = (np.array(column, dtype=float) for column in zip(*self.points, strict=True))
        return strengths, shares, np.asarray(mass_fraction_from_abv(strengths))

    def share(self, ethanol_fraction: FloatArray | float) -> FloatArray:
        """Return the share at a mass fraction of ethanol in ethanol and water."""
        return self.share_at(_strengths(ethanol_fraction))

    def share_at(self, strength_pct_vol: FloatArray | float) -> FloatArray:
        """Return the share at a strength of ethanol and water alone, % vol."""
        strengths, shares, _ = self._columns
        return np.asarray(np.interp(strength_pct_vol, strengths, shares), dtype=float)

    def slope(self, ethanol_fraction: float) -> float:
        """Return the change of the share per unit of ethanol fraction."""
        fraction = min(max(ethanol_fraction, 0.0), 1.0)
        strengths, shares, _ = self._columns
        slopes = np.concatenate(([0.0], np.diff(shares) / np.diff(strengths), [0.0]))
        by_strength = float(slopes[np.searchsorted(strengths, _strength(fraction), side="right")])
        return by_strength * 100.0 * _pure_density_slope(fraction) / (1000.0 * ETHANOL_KG_L)

    def lines(self, lower: float, upper: float) -> Lines:
        """Return lines that hold the table between them for ethanol fractions in an interval.

        The chord is shifted by how far the table strays from it at its points. Between two of them
        the share bends with strength, which is concave in the ethanol fraction: a rising piece lies
        on or above its own chord, a falling one on or below, by no more than the bound on the
        curvature times the width of the piece squared over eight.
        """
        ends = [float(self.share(lower)), float(self.share(upper))]
        width = upper - lower
        slope = (ends[1] - ends[0]) / width if width > 0.0 else 0.0
        base = ends[0] - slope * lower
        low = high = 0.0
        strengths, shares, fractions = self._columns
        inside = range(
            int(np.searchsorted(fractions, lower, "right")), int(np.searchsorted(fractions, upper))
        )
        at, stray = lower, 0.0
        for number in range(inside.start, inside.stop + 1):
            last = number == inside.stop
            to = upper if last else float(fractions[number])
            astray = 0.0 if last else float(shares[number]) - (base + slope * to)
            steepness = 0.0
            if 0 < number < len(strengths):
                rise, run = shares[number] - shares[number - 1], strengths[number] - strengths[number - 1]
                steepness = float(rise / run)
            bend = abs(steepness) * STRENGTH_BEND * (to - at) ** 2 / 8.0
            low = min(low, astray, min(stray, astray) - (bend if steepness < 0.0 else 0.0))
            high = max(high, astray, max(stray, astray) + (bend if steepness > 0.0 else 0.0))
            at, stray = to, astray
        # A hair for rounding, in the ends of the interval and in the points' own fractions.
        return Lines(slope, base + low - A_HAIR, base + high + A_HAIR)

    def bounds(self, lower: float, upper: float) -> tuple[float, float]:
        """Return the least and greatest share for ethanol fractions in an interval."""
        ends = [float(self.share(lower)), float(self.share(upper))]
        low, high = _strength(lower), _strength(upper)
        inside = [share for strength, share in self.points if low < strength < high]
        return min([*ends, *inside]), max([*ends, *inside])


@lru_cache(maxsize=4096)
def _strength(ethanol_fraction: float) -> float:
    """Strength at 20 degrees Celsius: a proof asks for the ends of the same intervals time and again."""
    return float(abv_from_mass_fraction(min(max(ethanol_fraction, 0.0), 1.0)))


@lru_cache(maxsize=4096)
def _pure_density_slope(ethanol_fraction: float) -> float:
    """Change of the mass of ethanol in a volume per unit of fraction, kg/m3: all tables ask at once."""
    density, by_fraction = density_slope_ethanol_water(ethanol_fraction)
    return float(density) + ethanol_fraction * float(by_fraction)


def _strengths(ethanol_fraction: FloatArray | float) -> FloatArray | float:
    """Strength at 20 degrees Celsius, % vol, of one fraction or of many."""
    if np.ndim(ethanol_fraction) == 0:
        return _strength(float(ethanol_fraction))
    fraction = np.clip(np.asarray(ethanol_fraction, dtype=float), 0.0, 1.0)
    return np.asarray(abv_from_mass_fraction(fraction))


@dataclass(frozen=True)
class Uptake:
    """What the ingredients give up in one step.

    Attributes
    ----------
    free : ndarray, shape (n, activities)
        Given whatever the strength, per kg as bought.
    tables : tuple of StrengthTable
        The tables of strength that occur in this step.
    bound : ndarray, shape (tables, n, activities)
        Given at a table's share of 1, per kg as bought.
    left : ndarray, shape (activities,)
        Share of each activity that survives the step's heat, what flows in included.
    """

    free: FloatArray
    tables: tuple[StrengthTable, ...]
    bound: FloatArray
    left: FloatArray

    @property
    def reached(self) -> FloatArray:
        """What is given at the best strength, per kg as bought, shape (n, activities)."""
        return self.free + self.bound.sum(axis=0) if len(self.tables) else self.free

    def added(self, masses_kg: FloatArray, ethanol_fraction: FloatArray) -> FloatArray:
        """Return the activities given up, shape (..., activities).

        Parameters
        ----------
        masses_kg : ndarray, shape (..., n)
        ethanol_fraction : ndarray, shape (...)
            Of the liquor in the step, ethanol in ethanol and water.
        """
        total = masses_kg @ self.free
        if not self.tables:
            return total
        strength = _strengths(ethanol_fraction)
        for table, bound in zip(self.tables, self.bound, strict=True):
            total = total + table.share_at(strength)[..., None] * (masses_kg @ bound)
        return total


def uptake_of(step: Step, materials: Materials) -> Uptake:
    """Work out what a step's time and temperature do to each ingredient."""
    content = materials.content[:, LIQUOR:]
    names = materials.carried[LIQUOR:]
    left = np.ones(len(names))
    if step.time_h is None or step.temperature_c is None:
        return Uptake(content, (), np.zeros((0, *content.shape)), left)
    if COLOUR in names:
        left[names.index(COLOUR)] = float(anthocyanin_left(step.time_h, step.temperature_c))
    free = content.copy()
    bound: dict[Points, FloatArray] = {}
    for row, kinetics_by_activity in enumerate(materials.kinetics):
        for column, kinetics in enumerate(kinetics_by_activity):
            if kinetics is None or not content[row, column]:
                continue
            moved = stirred(kinetics) if step.stirred else kinetics
            given = content[row, column] * float(approach(step.time_h, step.temperature_c, moved))
            if _is_flat(kinetics.equilibrium):
                free[row, column] = given * kinetics.equilibrium[0][1]
                continue
            free[row, column] = 0.0
            bound.setdefault(kinetics.equilibrium, np.zeros_like(content))[row, column] = given
    tables = tuple(StrengthTable(points) for points in bound)
    stacked = np.array(list(bound.values())).reshape(len(tables), *content.shape)
    return Uptake(free, tables, stacked, left)


def drawn_range(step: Step, kinetics: Kinetics | None) -> tuple[float, float]:
    """Return how much less and more a plant may give than calculated, as factors, for doubt in its speed.

    Parameters
    ----------
    step : Step
        One without a time leaves no doubt.
    kinetics : Kinetics or None
        None for what needs no extracting.
    """
    if kinetics is None or step.time_h is None or step.temperature_c is None:
        return 1.0, 1.0
    factor = TRIED_DOUBT_FACTOR if kinetics.confidence == "measured here" else DOUBT_FACTOR
    usual = stirred(kinetics) if step.stirred else kinetics
    drawn = float(approach(step.time_h, step.temperature_c, usual))
    if not drawn > 0.0:
        return 1.0, 1.0
    slow, fast = (
        float(approach(step.time_h, step.temperature_c, replace(usual, time_constant_h=hours)))
        for hours in (usual.time_constant_h * factor, usual.time_constant_h / factor)
    )
    return slow / drawn, fast / drawn


def _is_flat(points: Sequence[tuple[float, float]]) -> bool:
    return len({share for _, share in points}) == 1
