"""How narrow a box may be taken without losing a recipe worth having.

Each range of a box is a ratio of two sums of masses. Its greatest value over the linear relaxation
of the box, among recipes no dearer than the best one known, bounds it for every recipe worth
having. A ratio is pushed up by Dinkelbach's way: at a trial ratio r the greatest
``part - r * whole`` says how far any recipe is above it, and where to try next.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.assembly import Assembly
from formulate.optimise.highs import Engine
from formulate.optimise.linear import LinearModel, LinearStatus
from formulate.optimise.tree.relaxation import RANGES, Box, Range, Relaxation

__all__ = ["Narrowing", "with_cost_row"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]

SLIP = 1e-8
"""What a sum in the answer of a linear program may be off by, kg per litre: ten times its tolerance."""

TURNS = 5
SETTLED = 1e-9

LEAST_WORTH = 0.1
"""An end is not looked at when a recipe of the relaxation stands within this part of the width of it."""

LEAST_WHOLE = 1e-5
"""Nothing is said of a ratio to less than this, kg per litre: the slip would drown it."""

ANOTHER_ROUND = 0.8
"""All ranges are looked at once more when one of them fell below this share of its width."""


def with_cost_row(model: LinearModel, cut_off: float) -> LinearModel:
    """Add the cost as a row with a limit, the last one.

    Parameters
    ----------
    model : LinearModel
    cut_off : float
        Per litre; infinite for none.

    Returns
    -------
    LinearModel
    """
    counted = np.flatnonzero(model.cost).astype(np.int32)
    return replace(
        model,
        row_lower=np.append(model.row_lower, -np.inf),
        row_upper=np.append(model.row_upper, cut_off),
        starts=np.append(model.starts, model.starts[-1] + len(counted)).astype(np.int32),
        indices=np.concatenate([model.indices, counted]),
        values=np.concatenate([model.values, model.cost[counted]]),
    )


class _Ratio(NamedTuple):
    """A range of a box as a ratio: weighted columns to one column."""

    name: str
    number: int
    columns: IntArray
    weights: FloatArray
    whole: int


class Narrowing:
    """Narrows boxes over their relaxation with the cost as a row.

    Parameters
    ----------
    model : LinearModel
        The rows of the assembly; what stands in the reserved ones does not matter.
    assembly : Assembly
    """

    def __init__(self, model: LinearModel, assembly: Assembly) -> None:
        self.engine = Engine(with_cost_row(model, np.inf), only_costs_change=True)
        self._relaxation = Relaxation(self.engine, assembly)
        self._cost_row = model.rows
        self._ratios = tuple(_ratios(assembly))
        self._least: dict[int, float] = {}
        self._empty = False
        self._seen: list[FloatArray] = []

    def narrowed(self, box: Box, cut_off: float, *, rounds: int = 1, until: float = np.inf) -> Box | None:
        """Narrow a box without losing a recipe below a cost.

        Parameters
        ----------
        box : Box
        cut_off : float
            Per litre; infinite to keep every recipe.
        rounds : int
            At most so many times over all ranges, each over the relaxation of the box so far.
        until : float
            Time on the monotonic clock to stop at; what was found by then is used.

        Returns
        -------
        Box or None
            None when there are no such recipes.
        """
        self._empty = False
        self.engine.set_row_limits(self._cost_row, -np.inf, cut_off)
        for _ in range(rounds):
            self._relaxation.write(box)
            self._seen.clear()
            if not self._least:
                # What holds for the first box holds for every part of it, and for every lower cost.
                self._least = {whole: self._least_of(whole) for whole in {r.whole for r in self._ratios}}
            kept = 1.0
            closer = {name: list(getattr(box, name)) for name in RANGES}
            for ratio in self._ratios:
                if self._empty or time.monotonic() > until:
                    break
                known = closer[ratio.name][ratio.number]
                found = self._narrowed(ratio, known)
                closer[ratio.name][ratio.number] = found
                if np.isfinite(found.width) and known.width > SLIP:
                    kept = min(kept, found.width / known.width)
            if self._empty:
                return None
            box = Box(**{name: tuple(ranges) for name, ranges in closer.items()})
            if kept > ANOTHER_ROUND:
                break
        return box

    def _narrowed(self, ratio: _Ratio, known: Range) -> Range:
        if not self._least[ratio.whole] > LEAST_WHOLE:
            return known
        upper = self._greatest(ratio, ratio.weights, known)
        lower = -self._greatest(ratio, -ratio.weights, Range(-known.upper, -known.lower))
        if lower > upper:  # by the slip alone, or because nothing is left
            lower = upper = (lower + upper) / 2.0
        return Range(lower, upper)

    def _greatest(self, ratio: _Ratio, weights: FloatArray, known: Range) -> float:
        """Bound a ratio from above: the trial at which nothing is to be gained over it is the bound."""
        best = known.upper
        enough = known.upper - LEAST_WORTH * known.width if np.isfinite(known.width) else np.inf
        trial = self._greatest_seen(ratio, weights)
        if not np.isfinite(trial):
            trial = known.upper if np.isfinite(known.upper) else 0.0
        for _ in range(TURNS):
            if trial >= enough and np.isfinite(enough) and self._seen:
                break
            gained = self._maximise(ratio, weights, trial)
            if not np.isfinite(gained):
                break
            best = min(best, trial + (max(gained, 0.0) + SLIP) / self._least[ratio.whole])
            values = self._seen[-1]
            if gained <= SETTLED or values[ratio.whole] <= 0.0:
                break
            trial = float(weights @ values[ratio.columns]) / float(values[ratio.whole])
        return best

    def _greatest_seen(self, ratio: _Ratio, weights: FloatArray) -> float:
        """Return the greatest ratio among the answers since the relaxation was written."""
        ratios = [
            float(weights @ values[ratio.columns]) / float(values[ratio.whole])
            for values in self._seen
            if values[ratio.whole] > LEAST_WHOLE
        ]
        return max(ratios, default=-np.inf)

    def _least_of(self, column: int) -> float:
        cost = np.zeros(self.engine.columns)
        cost[column] = 1.0
        least = self._minimise(cost)
        return least - SLIP if np.isfinite(least) else 0.0

    def _maximise(self, ratio: _Ratio, weights: FloatArray, trial: float) -> float:
        cost = np.zeros(self.engine.columns)
        cost[ratio.columns] = -weights
        cost[ratio.whole] += trial
        return -self._minimise(cost)

    def _minimise(self, cost: FloatArray) -> float:
        """Return the least value of a sum; infinite when it is not settled, and when nothing is left."""
        if self._empty:
            return np.inf
        self.engine.set_cost(cost)
        result = self.engine.solve()
        self._empty = result.status is LinearStatus.INFEASIBLE
        if result.status is not LinearStatus.OPTIMAL:
            return np.inf
        self._seen.append(result.values)
        return result.objective


def _ratios(assembly: Assembly) -> Iterator[_Ratio]:
    """Say of every range of a box which ratio it holds."""
    one = np.ones(1)
    blocks = [stream.blocks[0] for stream in assembly.streams]
    for number, block in enumerate(blocks):
        spirit = block.liquor[assembly.ethanol : assembly.ethanol + 1]
        yield _Ratio("ethanol", number, spirit, one, block.solvent)
        both = np.array([block.total, block.solvent], dtype=np.int32)
        yield _Ratio("solute", number, both, np.array([1.0, -1.0]), block.total)
    for number, carry in enumerate(assembly.carries):
        out = carry.carried[: len(assembly.liquor)]
        weights = np.ones(len(out))
        if carry.rinse is not None:
            out, weights = np.append(out, np.int32(carry.rinse)), np.append(weights, -1.0)
        block = blocks[assembly.stream_numbers[carry.step, False]]
        yield _Ratio("share", number, out, weights, block.total)
    given = [
        (row.step, row.parts[place : place + 1])
        for row in assembly.uptakes
        for place in range(len(row.parts))
    ]
    for number, (step, part) in enumerate(given):
        block = blocks[assembly.stream_numbers[step, False]]
        yield _Ratio("dose", number, part, one, block.solvent)
    for number, potency in enumerate(assembly.potencies):
        block = blocks[assembly.stream_numbers[potency.step, False]]
        yield _Ratio("potency", number, np.array([potency.total], dtype=np.int32), one, block.total)
