"""Where each unknown and each row of a question stands in the linear program.

Columns, in this order::

    masses | batches per litre | per step: gross totals, carried totals, share carried | slips

"Totals" are the carried quantities that any ingredient brings at all. A step that loses
nothing has no carried block of its own: what is gross is carried. Rows that a nonlinear
relation rewrites at every pass are reserved here and filled in by `live`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.optimise.linear import LinearModel, RowBuilder
from formulate.optimise.problem import BlendProblem, Over
from formulate.physics.mixture import INDEX

__all__ = ["SHARE_SMALLEST", "Assembly", "Carry", "Slip", "Stream", "VolumeRow", "assemble"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]

SHARE_SMALLEST = 0.01
"""A step must carry at least this share of its liquor over: the cake may not drink it all."""


@dataclass(frozen=True)
class Carry:
    """A step whose carried totals are an unknown share of its gross totals.

    Attributes
    ----------
    step : int
    gross, carried : ndarray of int
        Columns of the totals, same order.
    share : int
        Column of the share carried.
    sum_row : int
        The exact row for the mass carried.
    low_rows, high_rows : ndarray of int
        One pair of reserved rows per total.
    share_largest : float
        What a cake that keeps nothing would leave: one less the loss.
    """

    step: int
    gross: IntArray
    carried: IntArray
    share: int
    sum_row: int
    low_rows: IntArray
    high_rows: IntArray
    share_largest: float


@dataclass(frozen=True)
class VolumeRow:
    """A volume that must come out at a given size.

    Attributes
    ----------
    step : int
    of_bottle : bool
        True for the bottle (one litre), False for a vessel.
    columns : ndarray of int
        Columns of the liquor totals.
    low_row, high_row : int
        Reserved rows for the under- and the over-estimate.
    short, over : int
        Columns by which it may slip while the loop is far away.
    """

    step: int
    of_bottle: bool
    columns: IntArray
    low_row: int
    high_row: int
    short: int
    over: int


@dataclass(frozen=True, slots=True)
class Slip:
    """Columns by which a limit may be missed: closed for a hard one but while the loop is far away.

    Attributes
    ----------
    short, over : int
    scale : float
        Size of the limit.
    soft : bool
        Whether it stays open, at the limit's own price.
    """

    short: int
    over: int
    scale: float
    soft: bool


@dataclass(frozen=True)
class Stream:
    """Liquor of one composition, and the reserved rows that keep it inside a box.

    Attributes
    ----------
    step : int
    blocks : tuple of ndarray of int
        Blocks of liquor columns that share the composition (gross and carried).
    ethanol_rows, solute_rows : tuple of (int, int)
        Per block, the rows for the least and the greatest fraction.
    """

    step: int
    blocks: tuple[IntArray, ...]
    ethanol_rows: tuple[tuple[int, int], ...]
    solute_rows: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Assembly:
    """A linear program with the map of its columns and rows."""

    problem: BlendProblem
    model: LinearModel
    live: IntArray
    """Which carried quantities occur at all."""
    liquor: IntArray
    """Which of `live` are mass of liquor, as components of `physics.mixture.COMPONENTS`."""
    batches: int
    gross: tuple[IntArray, ...]
    carried: tuple[IntArray, ...]
    carries: tuple[Carry, ...]
    volumes: tuple[VolumeRow, ...]
    streams: tuple[Stream, ...]
    limit_rows: IntArray
    slips: tuple[Slip, ...]
    ethanol: int = field(default=0)
    """Position of ethanol within `liquor`."""
    water: int = field(default=0)

    @property
    def cost(self) -> FloatArray:
        """The objective as money per litre."""
        return self.model.cost


def assemble(problem: BlendProblem) -> Assembly:
    """Lay a question out as a linear program.

    Parameters
    ----------
    problem : BlendProblem

    Returns
    -------
    Assembly
        The rows of nonlinear relations are reserved and open; see `live.LiveModel`.
    """
    return _Assembler(problem).assemble()


class _Assembler:
    """Builds one assembly; used once."""

    def __init__(self, problem: BlendProblem) -> None:
        self.problem = problem
        self.materials = problem.chain.materials
        self.rows = RowBuilder()
        self.slip_prices: list[tuple[int, float]] = []
        self.next_column = problem.unknowns + 1
        self.lower: list[FloatArray] = [np.zeros(problem.unknowns), np.array([problem.batch_bounds[0]])]
        self.upper: list[FloatArray] = [
            np.full(problem.unknowns, np.inf),
            np.array([problem.batch_bounds[1]]),
        ]
        occurring = np.flatnonzero((self.materials.content != 0.0).any(axis=0))
        always = [INDEX["water"], INDEX["ethanol"]]
        self.live = np.union1d(occurring, always).astype(np.int32)
        self.liquor = self.live[self.live < LIQUOR]
        self.in_liquor = np.arange(len(self.liquor))
        self.content = self.materials.content[np.ix_(problem.place_ingredient, self.live)]
        self.retention = self.materials.retention[problem.place_ingredient]

    def assemble(self) -> Assembly:
        problem = self.problem
        batches = problem.unknowns
        gross: list[IntArray] = []
        carried: list[IntArray] = []
        carries: list[Carry] = []
        for position in range(len(problem.chain.steps)):
            gross.append(self._columns(len(self.live)))
            self._balance(position, gross[-1], carried[-1] if carried else None)
            block, carry = self._strain(position, gross[-1], batches)
            carried.append(block)
            if carry is not None:
                carries.append(carry)
        volumes = self._volumes(gross, carried, batches)
        limit_rows, slips = self._limits(carried[-1], batches)
        streams = self._streams(gross, carried, carries, volumes)
        cost = np.zeros(self.next_column)
        cost[: problem.unknowns] = problem.column_prices
        for column, price in self.slip_prices:
            cost[column] = price
        return Assembly(
            problem=problem,
            model=self.rows.assemble(cost, np.concatenate(self.lower), np.concatenate(self.upper)),
            live=self.live,
            liquor=self.liquor,
            batches=batches,
            gross=tuple(gross),
            carried=tuple(carried),
            carries=tuple(carries),
            volumes=tuple(volumes),
            streams=tuple(streams),
            limit_rows=np.array(limit_rows, dtype=np.int32),
            slips=tuple(slips),
            ethanol=int(np.flatnonzero(self.liquor == INDEX["ethanol"])[0]),
            water=int(np.flatnonzero(self.liquor == INDEX["water"])[0]),
        )

    def _columns(self, count: int, lower: float = 0.0, upper: float = np.inf) -> IntArray:
        first = self.next_column
        self.next_column += count
        self.lower.append(np.full(count, lower))
        self.upper.append(np.full(count, upper))
        return np.arange(first, first + count, dtype=np.int32)

    def _balance(self, position: int, gross: IntArray, flowing: IntArray | None) -> None:
        """Gross totals are what flows in and what dissolves here."""
        here = np.flatnonzero(self.problem.place_step == position).astype(np.int32)
        content = self.content[here]
        for number in range(len(self.live)):
            column = content[:, number]
            entries = np.flatnonzero(column)
            indices = [here[entries], gross[number : number + 1]]
            values = [column[entries], np.array([-1.0])]
            if flowing is not None:
                indices.append(flowing[number : number + 1])
                values.append(np.array([1.0]))
            self.rows.add(np.concatenate(indices), np.concatenate(values), 0.0, 0.0)

    def _strain(self, position: int, gross: IntArray, batches: int) -> tuple[IntArray, Carry | None]:
        """Carried totals of a step: the gross ones, a fixed share of them, or an unknown share."""
        step = self.problem.chain.steps[position]
        here = np.flatnonzero(self.problem.place_step == position).astype(np.int32)
        keeping = here[self.retention[here] > 0.0]
        if not len(keeping) and not step.fixed_loss_kg:
            if not step.loss_fraction:
                return gross, None
            carried = self._columns(len(self.live))
            for total, out in zip(gross, carried, strict=True):
                self.rows.add([out, total], np.array([1.0, step.loss_fraction - 1.0]), 0.0, 0.0)
            return carried, None
        carried = self._columns(len(self.live))
        largest = 1.0 - step.loss_fraction
        share = int(self._columns(1, SHARE_SMALLEST, largest)[0])
        total, out = gross[self.in_liquor], carried[self.in_liquor]
        kept = self.retention[keeping]
        sum_row = self.rows.add(
            np.concatenate([out, total, keeping, [batches]]),
            np.concatenate(
                [np.ones(len(out)), np.full(len(total), -largest), largest * kept, [step.fixed_loss_kg]]
            ),
            0.0,
            0.0,
        )
        self.rows.add(
            np.concatenate([out, total]),
            np.concatenate([np.ones(len(out)), np.full(len(total), -SHARE_SMALLEST)]),
            0.0,
            np.inf,
        )
        pairs = [
            (self.rows.reserve([out, total, share]), self.rows.reserve([out, total, share]))
            for out, total in zip(carried, gross, strict=True)
        ]
        low, high = np.array(pairs, dtype=np.int32).T
        return carried, Carry(position, gross, carried, share, sum_row, low, high, largest)

    def _volumes(self, gross: list[IntArray], carried: list[IntArray], batches: int) -> list[VolumeRow]:
        last = len(gross) - 1
        bottle = carried[-1][self.in_liquor]
        short, over = (int(column) for column in self._columns(2, 0.0, 0.0))
        rows = [self.rows.reserve([*bottle, short, over]) for _ in range(2)]
        volumes = [VolumeRow(last, True, bottle, rows[0], rows[1], short, over)]
        fill = self.problem.fill
        if fill is None:
            return volumes
        contents = gross[fill.step][self.in_liquor]
        short, over = (int(column) for column in self._columns(2, 0.0, 0.0))
        inside = np.flatnonzero(self.problem.place_step == fill.step).astype(np.int32)
        solids = self.materials.solids[self.problem.place_ingredient[inside]] * SOLID_VOLUME_L_KG
        indices = np.concatenate([contents, [short, over, batches], inside]).astype(np.int32)
        values = np.concatenate([np.ones(len(contents)), [0.0, 0.0, -fill.volume_l], solids])
        low_row, high_row = (self.rows.add(indices, values, -np.inf, np.inf) for _ in range(2))
        volumes.append(VolumeRow(fill.step, False, contents, low_row, high_row, short, over))
        return volumes

    def _limits(self, bottle: IntArray, batches: int) -> tuple[list[int], list[Slip]]:
        number_of = {int(carried): number for number, carried in enumerate(self.live)}
        columns_of: dict[int, list[int]] = {}
        for column, ingredient in enumerate(self.problem.place_ingredient):
            columns_of.setdefault(int(ingredient), []).append(column)
        limit_rows: list[int] = []
        slips: list[Slip] = []
        for limit in self.problem.limits:
            pairs: list[tuple[int, float]] = []
            for index, weight in zip(limit.indices, limit.weights, strict=True):
                if limit.over is Over.BOTTLE:
                    if int(index) in number_of:
                        pairs.append((int(bottle[number_of[int(index)]]), float(weight)))
                else:
                    pairs.extend((column, float(weight)) for column in columns_of.get(int(index), ()))
            if limit.batch_weight:
                pairs.append((batches, limit.batch_weight))
            if limit.over is Over.BOTTLE or limit.soft:
                most = np.inf if limit.soft else 0.0
                short, over = (int(column) for column in self._columns(2, 0.0, most))
                pairs += [(short, 1.0), (over, -1.0)]
                slips.append(Slip(short, over, limit.scale, limit.soft))
                if limit.soft:
                    self.slip_prices += [(short, limit.slip_price), (over, limit.slip_price)]
            columns, weights = zip(*pairs, strict=True) if pairs else ((), ())
            limit_rows.append(
                self.rows.add(columns, np.array(weights, dtype=float), limit.lower, limit.upper)
            )
        return limit_rows, slips

    def _streams(
        self, gross: list[IntArray], carried: list[IntArray], carries: list[Carry], volumes: list[VolumeRow]
    ) -> list[Stream]:
        needed = sorted({carry.step for carry in carries} | {volume.step for volume in volumes})
        streams = []
        for step in needed:
            blocks = [gross[step][self.in_liquor]]
            if carried[step] is not gross[step]:
                blocks.append(carried[step][self.in_liquor])
            ethanol_rows, solute_rows = [], []
            alcohol_columns = [
                int(np.flatnonzero(self.liquor == INDEX[name])[0]) for name in ("water", "ethanol")
            ]
            for block in blocks:
                ethanol_rows.append(
                    (self.rows.reserve(block[alcohol_columns]), self.rows.reserve(block[alcohol_columns]))
                )
                solute_rows.append((self.rows.reserve(block), self.rows.reserve(block)))
            streams.append(Stream(step, tuple(blocks), tuple(ethanol_rows), tuple(solute_rows)))
        return streams
