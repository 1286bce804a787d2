"""The linear program while it is being solved: linearised at a point, or relaxed over a node.

Three relations of the blend are not linear: the volume of a liquor, the composition that a
cake shares with the liquor it came from, and what a step's own strength lets its plants give
up. `BlendProgram.linearise` writes their gradient at a point (the loop); `BlendProgram.relax`
writes bounds that hold for every recipe inside a node (the proof; see `tree.relaxation`). Both edit
the same live model, so each solve starts from the basis of the one before.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR
from formulate.optimise.highs import Engine
from formulate.optimise.layout import Assembly, Carry, UptakeRow
from formulate.optimise.linear import LinearResult
from formulate.optimise.point import Point, evaluate
from formulate.optimise.tolerances import ROUNDING, TINY
from formulate.optimise.tree.node import Interval, Node
from formulate.optimise.tree.relaxation import Relaxation, bound_ratio
from formulate.physics.components import ALCOHOL
from formulate.physics.mixture import partial_specific_volumes

__all__ = ["BlendProgram"]

FloatArray = NDArray[np.float64]

ELASTIC_PRICE = 10.0
"""Price of a violation of a limit's own size, in multiples of the cost of a litre."""


class BlendProgram:
    """One assembly held by the engine."""

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly
        self.engine = Engine(assembly.model)
        self._cost = assembly.model.cost
        self._relaxation = Relaxation(self.engine, assembly)
        self._relaxed = True
        self._ethanol_intervals: dict[int, Interval] = {}

    def linearise(self, point: Point, *, frozen: bool) -> None:
        """Write the relations at a point.

        Parameters
        ----------
        frozen : bool
            Keep the shares carried as they are at the point, a feasible start from anywhere;
            else write their exact gradient.
        """
        if self._relaxed:
            self._relaxation.lift()
            self._relaxed = False
        for number, interval in self._ethanol_intervals.items():
            block = self.assembly.streams[number].blocks[0]
            bound_ratio(self.engine, block.ethanol_rows, block.solvent, interval)
        run = point.run
        for row in self.assembly.volumes:
            liquor = (run.bottled if row.of_bottle else run.gross[row.step])[:LIQUOR]
            volumes = partial_specific_volumes(liquor, check=False)[self.assembly.liquor]
            self.engine.set_coefficients(row.low_row, row.columns, volumes)
            target = 1.0 if row.of_bottle else 0.0
            self.engine.set_row_limits(row.low_row, target, target)
        for uptake in self.assembly.uptakes:
            self._linearise_uptake(uptake, point)
        for carry in self.assembly.carries:
            self._linearise_carry(carry, point, frozen)

    @property
    def ethanol_intervals(self) -> Mapping[int, Interval]:
        """Intervals of ethanol fraction that streams are kept within in the loop."""
        return self._ethanol_intervals

    def confine_ethanol(self, intervals: Mapping[int, Interval]) -> None:
        """Keep streams within an interval of ethanol fraction in the loop; an empty map frees them.

        Between two breakpoints of a strength table everything is smooth; across one the loop would see
        only one of two slopes.
        """
        for number in self._ethanol_intervals:
            for row in self.assembly.streams[number].blocks[0].ethanol_rows:
                self.engine.set_row_limits(row, -np.inf, np.inf)
        self._ethanol_intervals = dict(intervals)

    def relax(self, node: Node) -> None:
        """Write bounds on the relations that hold for every recipe in a node."""
        self._relaxation.write(node)
        self._relaxed = True

    def solve(self, cutoff: float = np.inf) -> LinearResult:
        """Solve as it stands; `cutoff` stops early once the optimum is certainly above it."""
        return self.engine.solve(cutoff)

    def set_cost(self, cost: FloatArray) -> None:
        """Take another cost from now on."""
        self._cost = cost
        self.engine.set_cost(cost)

    def set_elastic(self, price_per_l: float | None) -> None:
        """Let the limits on the bottle and the volumes be missed at a price, or close them with None."""
        is_open = price_per_l is not None
        upper = np.inf if is_open else 0.0
        cost = self._cost.copy()
        for elastic in self.assembly.elastics:
            if not elastic.soft:
                cost[[elastic.short, elastic.over]] = ELASTIC_PRICE * (price_per_l or 0.0) / elastic.scale
                self.engine.set_column_bounds(elastic.short, 0.0, upper)
                self.engine.set_column_bounds(elastic.over, 0.0, upper)
        for row in self.assembly.volumes:
            cost[[row.short, row.over]] = ELASTIC_PRICE * (price_per_l or 0.0)
            self.engine.set_coefficients(row.low_row, (row.short, row.over), np.array([1.0, -1.0]))
            self.engine.set_column_bounds(row.short, 0.0, upper)
            self.engine.set_column_bounds(row.over, 0.0, upper)
        self.engine.set_cost(cost if is_open else self._cost)

    def set_trust(self, point: Point | None, radius: float) -> None:
        """Keep the step totals within `radius` kg per litre of a point, or anywhere with None."""
        occurring = self.assembly.occurring
        for step, (gross, carried) in enumerate(zip(self.assembly.gross, self.assembly.carried, strict=True)):
            blocks = [(gross, None if point is None else point.run.gross[step][occurring])]
            if carried is not gross:
                blocks.append((carried, None if point is None else point.run.carried[step][occurring]))
            for columns, centre in blocks:
                for number in range(len(self.assembly.liquor)):
                    middle = None if centre is None else float(centre[number])
                    lower = 0.0 if middle is None else max(middle - radius, 0.0)
                    upper = np.inf if middle is None else max(middle + radius, radius)
                    self.engine.set_column_bounds(int(columns[number]), lower, upper)

    def objective(self, point: Point) -> float:
        """Return what is minimised at a point, what breaks ties included."""
        unknowns = self.assembly.problem.unknowns
        tie_break = self._cost[:unknowns] - self.assembly.cost[:unknowns]
        return point.cost + float(tie_break @ point.columns)

    def point(self, result: LinearResult) -> Point:
        """Run the masses of a linear answer through the exact blend model."""
        unknowns = self.assembly.problem.unknowns
        columns = np.maximum(result.values[:unknowns], 0.0)
        purchases = np.maximum(result.values[self.assembly.purchases], 0.0)
        return evaluate(self.assembly, columns, float(result.values[self.assembly.batches]), purchases)

    def _linearise_uptake(self, row: UptakeRow, point: Point) -> None:
        engine = self.engine
        water, ethanol = (float(point.run.gross[row.step][index]) for index in ALCOHOL)
        solvent = max(water + ethanol, TINY)
        fraction = ethanol / solvent
        shares = np.array([float(table.share(fraction)) for table in row.tables])
        engine.set_coefficients(row.sum_row, row.parts, shares)
        smooth = self._ethanol_intervals.get(
            self.assembly.stream_numbers[row.step, False], Interval(0.0, 1.0)
        )
        inside = min(max(fraction, smooth.lower + ROUNDING), smooth.upper - ROUNDING)
        slopes = np.array([table.slope(inside) for table in row.tables])
        steepness = float(slopes @ (row.amounts @ point.columns[row.columns]))
        by_alcohol = steepness / solvent * np.array([-fraction, 1.0 - fraction])
        engine.set_coefficients(row.sum_row, row.alcohol, by_alcohol)
        engine.set_coefficients(row.sum_row, row.given, np.zeros(len(row.given)))
        engine.set_row_limits(row.sum_row, 0.0, 0.0)

    def _linearise_carry(self, carry: Carry, point: Point, frozen: bool) -> None:
        engine, occurring = self.engine, self.assembly.occurring
        gross = point.run.gross[carry.step][occurring]
        carried = point.run.carried[carry.step][occurring]
        # Ethanol or any solute is carried in the liquor's own share; water may have a rinse on top.
        many, water = len(self.assembly.liquor), self.assembly.water
        liquor = gross[:many].sum()
        undiluted = np.delete(gross[:many], water).sum()
        if carry.rinse is not None and undiluted > 0.0:
            share = np.delete(carried[:many], water).sum() / undiluted
        else:
            share = carried[:many].sum() / liquor if liquor > 0.0 else carry.share_largest
        share = float(np.clip(share, carry.share_smallest, carry.share_largest))
        for number, row in enumerate(carry.low_rows):
            total = 0.0 if frozen else float(gross[number])
            places = carry.gross[number], carry.share, carry.beyond[number]
            engine.set_coefficients(row, places, np.array([-share, -total, 0.0]))
            engine.set_row_limits(row, -share * total, -share * total)
        limit = np.inf if frozen else 0.0
        engine.set_row_limits(carry.sum_row, -limit, limit)
