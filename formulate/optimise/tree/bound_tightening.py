"""Bound tightening (OBBT): how narrow a node may be taken without losing a recipe worth having.

Each interval of a node is a ratio of two sums of masses. Its greatest value over the linear relaxation
of the node, among recipes no dearer than the best one known, bounds it for every recipe worth
having. A ratio is pushed up by Dinkelbach's way: at a trial ratio r the greatest
``part - r * whole`` says how far any recipe is above it, and where to try next.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.highs import Engine
from formulate.optimise.layout import Assembly
from formulate.optimise.linear import LinearModel, LinearStatus
from formulate.optimise.tolerances import LEAST_DENOMINATOR, RATIO_CONVERGED, SUM_ERROR
from formulate.optimise.tree.node import BRANCHING_VARIABLES, Interval, Node
from formulate.optimise.tree.relaxation import Relaxation

__all__ = ["BoundTightening", "LinearBounds", "Ratio", "ratios_of", "tighten_over", "with_cost_row"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]

MOST_STEPS = 5
"""Of Dinkelbach's way, for each end of an interval."""

LEAST_WORTH = 0.1
"""An end is not looked at when a recipe of the relaxation stands within this part of the width of it."""

ANOTHER_ROUND = 0.8
"""All intervals are looked at once more when one of them fell below this share of its width."""


def with_cost_row(model: LinearModel, cutoff: float) -> LinearModel:
    """Add the cost as a row with a limit, the last one.

    Parameters
    ----------
    cutoff : float
        Per litre; infinite for none.
    """
    counted = np.flatnonzero(model.cost).astype(np.int32)
    return replace(
        model,
        row_lower=np.append(model.row_lower, -np.inf),
        row_upper=np.append(model.row_upper, cutoff),
        starts=np.append(model.starts, model.starts[-1] + len(counted)).astype(np.int32),
        indices=np.concatenate([model.indices, counted]),
        values=np.concatenate([model.values, model.cost[counted]]),
    )


class Ratio(NamedTuple):
    """An interval of a node as a ratio: weighted columns to one column."""

    variable: str
    number: int
    columns: IntArray
    weights: FloatArray
    denominator: int


class LinearBounds:
    """How small and how large sums and ratios of columns can be over one linear program.

    Parameters
    ----------
    engine : Engine
        Of which only the costs change between two calls of `forget`.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.is_empty = False
        """Whether the program turned out to have no answer at all."""
        self._seen: list[FloatArray] = []

    def forget(self) -> None:
        """Begin anew, after something else than the costs has changed."""
        self.is_empty = False
        self._seen.clear()

    def least(self, column: int) -> float:
        """Bound a column from below; nothing where that is not settled."""
        cost = np.zeros(self.engine.columns)
        cost[column] = 1.0
        least = self._minimise(cost)
        return least - SUM_ERROR if np.isfinite(least) else 0.0

    def greatest(self, columns: IntArray, enough: float) -> float:
        """Bound a sum of columns from above; infinite where that is not settled or an answer has enough."""
        if any(float(values[columns].sum()) >= enough for values in self._seen):
            return np.inf
        cost = np.zeros(self.engine.columns)
        cost[columns] = -1.0
        return SUM_ERROR - self._minimise(cost)

    def interval(self, ratio: Ratio, known: Interval, least_denominator: float) -> Interval:
        """Tighten the interval of a ratio whose denominator has a bound from below."""
        if not least_denominator > LEAST_DENOMINATOR:
            return known
        upper = self._greatest(ratio, ratio.weights, known, least_denominator)
        mirrored = Interval(-known.upper, -known.lower)
        lower = -self._greatest(ratio, -ratio.weights, mirrored, least_denominator)
        if lower > upper:  # by the error alone, or because nothing is left
            lower = upper = (lower + upper) / 2.0
        return Interval(lower, upper)

    def _greatest(
        self, ratio: Ratio, weights: FloatArray, known: Interval, least_denominator: float
    ) -> float:
        """Bound a ratio from above: the trial at which nothing is to be gained over it is the bound."""
        best = known.upper
        enough = known.upper - LEAST_WORTH * known.width if np.isfinite(known.width) else np.inf
        trial = self._greatest_seen(ratio, weights)
        if not np.isfinite(trial):
            trial = known.upper if np.isfinite(known.upper) else 0.0
        for _ in range(MOST_STEPS):
            if trial >= enough and np.isfinite(enough) and self._seen:
                break
            gained = self._maximise(ratio, weights, trial)
            if not np.isfinite(gained):
                break
            best = min(best, trial + (max(gained, 0.0) + SUM_ERROR) / least_denominator)
            values = self._seen[-1]
            if gained <= RATIO_CONVERGED or values[ratio.denominator] <= 0.0:
                break
            trial = float(weights @ values[ratio.columns]) / float(values[ratio.denominator])
        return best

    def _greatest_seen(self, ratio: Ratio, weights: FloatArray) -> float:
        """Return the greatest ratio among the answers so far."""
        ratios = [
            float(weights @ values[ratio.columns]) / float(values[ratio.denominator])
            for values in self._seen
            if values[ratio.denominator] > LEAST_DENOMINATOR
        ]
        return max(ratios, default=-np.inf)

    def _maximise(self, ratio: Ratio, weights: FloatArray, trial: float) -> float:
        cost = np.zeros(self.engine.columns)
        cost[ratio.columns] = -weights
        cost[ratio.denominator] += trial
        return -self._minimise(cost)

    def _minimise(self, cost: FloatArray) -> float:
        """Return the least value of a sum; infinite when it is not settled, and when nothing is left."""
        if self.is_empty:
            return np.inf
        self.engine.set_cost(cost)
        result = self.engine.solve()
        self.is_empty = result.status is LinearStatus.INFEASIBLE
        if result.status is not LinearStatus.OPTIMAL:
            return np.inf
        self._seen.append(result.values)
        return result.objective


def tighten_over(
    bounds: LinearBounds,
    ratios: Sequence[Ratio],
    node: Node,
    least: dict[int, float],
    until: float = np.inf,
) -> Node | None:
    """Tighten every interval of a node once over one linear program.

    Parameters
    ----------
    bounds : LinearBounds
        Of a program that holds every recipe in the node that is worth having.
    ratios : sequence of Ratio
        All that the node has intervals of.
    least : dict of (int, float)
        Bounds of denominators from below. Empty at the root, where it is filled: what holds for the root
        holds for every part of it, and for every lower cost.
    until : float
        Time on the monotonic clock to stop at; what was reached by then is used.

    Returns
    -------
    Node or None
        None when there are no such recipes.
    """
    if not least:
        least |= {column: bounds.least(column) for column in {ratio.denominator for ratio in ratios}}
    for ratio in ratios:
        if bounds.is_empty or time.monotonic() > until:
            break
        known = node.intervals(ratio.variable)[ratio.number]
        tighter = bounds.interval(ratio, known, least[ratio.denominator])
        node = node.with_interval(ratio.variable, ratio.number, tighter)
    return None if bounds.is_empty else node


class BoundTightening:
    """Tightens nodes over their relaxation with the cost as a row.

    Parameters
    ----------
    model : LinearModel
        The rows of the assembly; what stands in the reserved ones does not matter.
    """

    def __init__(self, model: LinearModel, assembly: Assembly) -> None:
        self.engine = Engine(with_cost_row(model, np.inf), only_costs_change=True)
        self._ratios = ratios_of(assembly)
        self._bounds = LinearBounds(self.engine)
        self._relaxation = Relaxation(self.engine, assembly)
        self._cost_row = model.rows
        self._least: dict[int, float] = {}

    def tightened(self, node: Node, cutoff: float, *, rounds: int = 1, until: float = np.inf) -> Node | None:
        """Tighten a node without losing a recipe below a cost.

        Parameters
        ----------
        cutoff : float
            Per litre; infinite to keep every recipe.
        rounds : int
            At most so many times over all intervals, each over the relaxation of the node so far.
        until : float
            Time on the monotonic clock to stop at; what was reached by then is used.

        Returns
        -------
        Node or None
            None when there are no such recipes.
        """
        self.engine.set_row_limits(self._cost_row, -np.inf, cutoff)
        for _ in range(rounds):
            self._relaxation.write(node)
            self._bounds.forget()
            tighter = tighten_over(self._bounds, self._ratios, node, self._least, until)
            if tighter is None or _width_left(node, tighter) > ANOTHER_ROUND:
                return tighter
            node = tighter
        return node


def _width_left(node: Node, tighter: Node) -> float:
    """Return the share of its width that the interval has kept which lost most."""
    shares = [
        after.width / before.width
        for variable in BRANCHING_VARIABLES
        for before, after in zip(node.intervals(variable), tighter.intervals(variable), strict=True)
        if np.isfinite(after.width) and before.width > SUM_ERROR
    ]
    return min([1.0, *shares])


def ratios_of(assembly: Assembly) -> tuple[Ratio, ...]:
    """Say of every interval of a node which ratio it holds."""
    return tuple(_ratios(assembly))


def _ratios(assembly: Assembly) -> Iterator[Ratio]:
    itself = np.ones(1)
    blocks = [stream.blocks[0] for stream in assembly.streams]
    for number, block in enumerate(blocks):
        spirit = block.liquor[assembly.ethanol : assembly.ethanol + 1]
        yield Ratio("ethanol", number, spirit, itself, block.solvent)
        both = np.array([block.total, block.solvent], dtype=np.int32)
        yield Ratio("solute", number, both, np.array([1.0, -1.0]), block.total)
    for number, carry in enumerate(assembly.carries):
        out = carry.carried[: len(assembly.liquor)]
        weights = np.ones(len(out))
        if carry.rinse is not None:
            out, weights = np.append(out, np.int32(carry.rinse)), np.append(weights, -1.0)
        block = blocks[assembly.stream_numbers[carry.step, False]]
        yield Ratio("share", number, out, weights, block.total)
    parts = [
        (row.step, row.parts[place : place + 1])
        for row in assembly.uptakes
        for place in range(len(row.parts))
    ]
    for number, (step, part) in enumerate(parts):
        block = blocks[assembly.stream_numbers[step, False]]
        yield Ratio("dose", number, part, itself, block.solvent)
    for number, potency in enumerate(assembly.potencies):
        block = blocks[assembly.stream_numbers[potency.step, False]]
        yield Ratio("potency", number, np.array([potency.total], dtype=np.int32), itself, block.total)
