"""The linear program while it is being solved: linearised at a point, or relaxed over a box.

Three relations of the blend are not linear: the volume of a liquor, the composition that a
cake shares with the liquor it came from, and what a step's own strength lets its plants give
up. `LiveModel.linearise` writes their gradient at a point (the loop); `LiveModel.relax` writes
bounds that hold for every recipe inside a box (the proof; see `relax`). Both edit the same
live model, so each solve starts from the basis of the one before.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.optimise.assembly import Assembly, carried_room
from formulate.optimise.highs import Engine
from formulate.optimise.layout import Carry, Stream, UptakeRow
from formulate.optimise.linear import LinearResult
from formulate.optimise.problem import limit_value
from formulate.optimise.tree.relaxation import Box, Range, Relaxation
from formulate.physics.components import ALCOHOL
from formulate.physics.mixture import partial_specific_volumes, volume_l

__all__ = ["LiveModel", "Point", "between", "evaluate"]

FloatArray = NDArray[np.float64]

A_HAIR = 1e-9

SLIP_PRICE = 10.0
"""Price of a slip of its own size, in multiples of the cost of a litre."""


@dataclass(frozen=True)
class Point:
    """A recipe per litre bottled, run through the exact blend model.

    Attributes
    ----------
    columns : ndarray
        Unknown masses, kg per litre.
    batches : float
        Batches per litre.
    run : ChainRun
    purchases : ndarray
        What is bought for its parts, kg per litre.
    volume_l : float
        Exact volume bottled; 1 when the relation holds.
    volume_misses : tuple of float
        By how much each volume relation is missed, litres per litre.
    money : float
        Money for `columns` and `purchases`.
    cost : float
        What is minimised: money, unless it does not count, and what soft limits charge.
    violation : float
        Largest slip of any hard limit or volume, relative to its size.
    """

    columns: FloatArray
    batches: float
    run: ChainRun
    purchases: FloatArray
    volume_l: float
    volume_misses: tuple[float, ...]
    money: float
    cost: float
    violation: float

    @property
    def cost_per_l(self) -> float:
        """What is minimised, per litre really bottled."""
        return self.cost / self.volume_l


def evaluate(assembly: Assembly, columns: FloatArray, batches: float, purchases: FloatArray) -> Point:
    """Run masses through the exact blend model and measure what slips.

    Parameters
    ----------
    assembly : Assembly
    columns : ndarray, shape (unknowns,)
        kg per litre.
    batches : float
        Batches per litre.
    purchases : ndarray, shape (purchases,)
        kg per litre.

    Returns
    -------
    Point
    """
    problem = assembly.problem
    masses = problem.masses(columns)
    run = problem.chain.run(masses, batches)
    bottled = run.bottled
    volume = float(volume_l(bottled[:LIQUOR], check=False))
    by_ingredient = masses.sum(axis=0)
    misses = [volume - 1.0]
    slips = []
    money = float(columns @ problem.column_prices + purchases @ problem.purchase_prices)
    cost = money if problem.money_counts else 0.0
    for limit in problem.limits:
        slip = limit.slip(limit_value(limit, bottled, by_ingredient, batches, money))
        if limit.soft:
            cost += limit.slip_price * slip
        else:
            slips.append(slip / limit.scale)
    if problem.fill is not None:
        step = problem.fill.step
        contents = float(volume_l(run.gross[step, :LIQUOR], check=False))
        contents += SOLID_VOLUME_L_KG * float(masses[step] @ problem.chain.materials.solids)
        misses.append(contents - problem.fill.volume_l * batches)
    slips.append(-float(carried_room(problem.chain, run).min(initial=0.0)))
    if problem.purchases:
        bought = purchases @ problem.yields
        parts = problem.yields.any(axis=0)
        slips.append(float(np.maximum(by_ingredient - bought, 0.0)[parts].max(initial=0.0)))
    violation = max([*slips, *(abs(miss) for miss in misses)])
    return Point(columns, batches, run, purchases, max(volume, 1e-12), tuple(misses), money, cost, violation)


def between(assembly: Assembly, one: Point, other: Point, share: float) -> Point:
    """Mix two recipes: `share` of the way from one to the other.

    Parameters
    ----------
    assembly : Assembly
    one, other : Point
    share : float
        0 to 1.

    Returns
    -------
    Point
    """

    def mixed(here: FloatArray | float, there: FloatArray | float) -> FloatArray:
        return np.asarray(here + share * (np.asarray(there) - here), dtype=float)

    return evaluate(
        assembly,
        mixed(one.columns, other.columns),
        float(mixed(one.batches, other.batches)),
        mixed(one.purchases, other.purchases),
    )


class LiveModel:
    """One assembly held by the engine.

    Parameters
    ----------
    assembly : Assembly
    """

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly
        self.engine = Engine(assembly.model)
        self._cost = assembly.model.cost
        self._relaxation = Relaxation(self.engine, assembly)
        self._relaxed = True
        self._pieces: dict[int, Range] = {}

    def linearise(self, point: Point, *, frozen: bool) -> None:
        """Write the relations at a point.

        Parameters
        ----------
        point : Point
        frozen : bool
            Keep the shares carried as they are at the point, a feasible start from anywhere;
            else write their exact gradient.
        """
        if self._relaxed:
            self._relaxation.lift()
            self._relaxed = False
        for number, piece in self._pieces.items():
            self._confine_ethanol(self.assembly.streams[number], piece)
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
    def pieces(self) -> Mapping[int, Range]:
        """Ranges of ethanol fraction that streams are kept within in the loop."""
        return self._pieces

    def set_pieces(self, pieces: Mapping[int, Range]) -> None:
        """Keep streams within a range of ethanol fraction in the loop; an empty map frees them.

        Between two points of a strength table everything is smooth; across one the loop would see
        only one of two slopes.
        """
        for number in self._pieces:
            for row in self.assembly.streams[number].blocks[0].ethanol_rows:
                self.engine.set_row_limits(row, -np.inf, np.inf)
        self._pieces = dict(pieces)

    def relax(self, box: Box) -> None:
        """Write bounds on the relations that hold for every recipe in a box."""
        self._relaxation.write(box)
        self._relaxed = True

    def solve(self, cut_off: float = np.inf) -> LinearResult:
        """Solve as it stands; `cut_off` stops early once the optimum is certainly above it."""
        return self.engine.solve(cut_off)

    def set_cost(self, cost: FloatArray) -> None:
        """Take another cost from now on."""
        self._cost = cost
        self.engine.set_cost(cost)

    def set_elastic(self, price_per_l: float | None) -> None:
        """Let the limits on the bottle and the volumes slip at a price, or close them with None."""
        open_ = price_per_l is not None
        upper = np.inf if open_ else 0.0
        cost = self._cost.copy()
        for slip in self.assembly.slips:
            if not slip.soft:
                cost[[slip.short, slip.over]] = SLIP_PRICE * (price_per_l or 0.0) / slip.scale
                self.engine.set_column_bounds(slip.short, 0.0, upper)
                self.engine.set_column_bounds(slip.over, 0.0, upper)
        for row in self.assembly.volumes:
            cost[[row.short, row.over]] = SLIP_PRICE * (price_per_l or 0.0)
            self.engine.set_coefficients(row.low_row, (row.short, row.over), np.array([1.0, -1.0]))
            self.engine.set_column_bounds(row.short, 0.0, upper)
            self.engine.set_column_bounds(row.over, 0.0, upper)
        self.engine.set_cost(cost if open_ else self._cost)

    def set_trust(self, point: Point | None, radius: float) -> None:
        """Keep the step totals within `radius` kg per litre of a point, or anywhere with None."""
        live = self.assembly.live
        for step, (gross, carried) in enumerate(zip(self.assembly.gross, self.assembly.carried, strict=True)):
            blocks = [(gross, None if point is None else point.run.gross[step][live])]
            if carried is not gross:
                blocks.append((carried, None if point is None else point.run.carried[step][live]))
            for columns, centre in blocks:
                for number in range(len(self.assembly.liquor)):
                    middle = None if centre is None else float(centre[number])
                    lower = 0.0 if middle is None else max(middle - radius, 0.0)
                    upper = np.inf if middle is None else max(middle + radius, radius)
                    self.engine.set_column_bounds(int(columns[number]), lower, upper)

    def objective(self, point: Point) -> float:
        """Return what is minimised at a point, the hair that breaks ties included."""
        unknowns = self.assembly.problem.unknowns
        hair = self._cost[:unknowns] - self.assembly.cost[:unknowns]
        return point.cost + float(hair @ point.columns)

    def point(self, result: LinearResult) -> Point:
        """Run the masses of a linear answer through the exact blend model."""
        unknowns = self.assembly.problem.unknowns
        columns = np.maximum(result.values[:unknowns], 0.0)
        purchases = np.maximum(result.values[self.assembly.purchases], 0.0)
        return evaluate(self.assembly, columns, float(result.values[self.assembly.batches]), purchases)

    def _linearise_uptake(self, row: UptakeRow, point: Point) -> None:
        engine = self.engine
        water, ethanol = (float(point.run.gross[row.step][index]) for index in ALCOHOL)
        solvent = max(water + ethanol, 1e-12)
        fraction = ethanol / solvent
        shares = np.array([float(table.share(fraction)) for table in row.tables])
        engine.set_coefficients(row.sum_row, row.parts, shares)
        piece = self._pieces.get(self.assembly.stream_numbers[row.step, False], Range(0.0, 1.0))
        inside = min(max(fraction, piece.lower + A_HAIR), piece.upper - A_HAIR)
        slopes = np.array([table.slope(inside) for table in row.tables])
        steepness = float(slopes @ (row.amounts @ point.columns[row.columns]))
        by_alcohol = steepness / solvent * np.array([-fraction, 1.0 - fraction])
        engine.set_coefficients(row.sum_row, row.alcohol, by_alcohol)
        engine.set_coefficients(row.sum_row, row.given, np.zeros(len(row.given)))
        engine.set_row_limits(row.sum_row, 0.0, 0.0)

    def _linearise_carry(self, carry: Carry, point: Point, frozen: bool) -> None:
        engine, live = self.engine, self.assembly.live
        gross = point.run.gross[carry.step][live]
        carried = point.run.carried[carry.step][live]
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

    def _confine_ethanol(self, stream: Stream, ethanol: Range) -> None:
        block = stream.blocks[0]
        for row, fraction, limits in zip(
            block.ethanol_rows, ethanol, ((0.0, np.inf), (-np.inf, 0.0)), strict=True
        ):
            self.engine.set_coefficients(row, (block.solvent,), np.array([-fraction]))
            self.engine.set_row_limits(row, *limits)
