"""Where each unknown and each row of a question stands in the linear program.

Columns, in this order::

    masses | batches per litre
           | per step: gross totals, sums of what its plants give up, carried totals, share carried, what
             is carried beyond the least share of a node and short of the greatest, water of the rinse
           | what is bought for its parts | elastic columns of volumes and limits | sums that several rows use

"Totals" are the carried quantities that any ingredient brings at all. A step that loses
nothing has no carried block of its own: what is gross is carried. Three relations are not
linear: the volume of a liquor, a cake that keeps liquor of the step's own composition, and
uptake by the step's own strength. Rows that these rewrite at every pass are reserved here
and filled in by `program`; the dose of an uptake has rows for the proof alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.optimise.layout import (
    Assembly,
    Block,
    Carry,
    ElasticColumns,
    Potency,
    Stream,
    UptakeRow,
    VolumeRow,
)
from formulate.optimise.linear import RowBuilder
from formulate.optimise.point import least_share
from formulate.optimise.problem import BlendProblem, Over
from formulate.physics.components import ALCOHOL

__all__ = ["assemble"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]


def assemble(problem: BlendProblem) -> Assembly:
    """Lay a question out as a linear program.

    Returns
    -------
    Assembly
        The rows of nonlinear relations are reserved and open; see `program.BlendProgram`.
    """
    return _Assembler(problem).assemble()


class _Assembler:
    """Builds one assembly; used once."""

    def __init__(self, problem: BlendProblem) -> None:
        self.problem = problem
        self.materials = problem.chain.materials
        self.rows = RowBuilder()
        self.penalties: list[tuple[int, float]] = []
        self.next_column = problem.unknowns + 1
        self.lower: list[FloatArray] = [np.zeros(problem.unknowns), np.array([problem.batch_bounds[0]])]
        self.upper: list[FloatArray] = [
            np.full(problem.unknowns, np.inf),
            np.array([problem.batch_bounds[1]]),
        ]
        occurring = np.flatnonzero((self.materials.content != 0.0).any(axis=0))
        self.occurring = np.union1d(occurring, ALCOHOL).astype(np.int32)
        self.liquor = self.occurring[self.occurring < LIQUOR]
        self.in_liquor = np.arange(len(self.liquor))
        self.alcohol = np.array([np.flatnonzero(self.liquor == component)[0] for component in ALCOHOL])
        self.content = self.materials.content[np.ix_(problem.place_ingredient, self.occurring)]
        self.retention = problem.chain.retentions[problem.place_step, problem.place_ingredient]
        self.uptake_rows: list[UptakeRow] = []
        self.counted = self._counted()

    def assemble(self) -> Assembly:
        problem = self.problem
        batches = problem.unknowns
        gross: list[IntArray] = []
        carried: list[IntArray] = []
        carries: list[Carry] = []
        for position in range(len(problem.chain.steps)):
            gross.append(self._columns(len(self.occurring)))
            self._balance(position, gross[-1], carried[-1] if carried else None)
            self._take_up(position, gross[-1], carried[-1] if carried else None)
            block, carry = self._strain(position, gross[-1], batches)
            carried.append(block)
            if carry is not None:
                carries.append(carry)
        purchases = self._purchases()
        volumes = self._volumes(gross, carried, batches)
        limit_rows, elastics = self._limits(carried[-1], batches, purchases)
        streams, stream_numbers, potencies = self._streams(gross, carried, carries, volumes)
        cost = np.zeros(self.next_column)
        if problem.money_counts:
            cost[: problem.unknowns] = problem.column_prices
            cost[purchases] = problem.purchase_prices
        for column, price in self.penalties:
            cost[column] = price
        return Assembly(
            problem=problem,
            model=self.rows.assemble(cost, np.concatenate(self.lower), np.concatenate(self.upper)),
            occurring=self.occurring,
            liquor=self.liquor,
            batches=batches,
            gross=tuple(gross),
            carried=tuple(carried),
            carries=tuple(carries),
            volumes=tuple(volumes),
            streams=tuple(streams),
            stream_numbers=stream_numbers,
            potencies=tuple(potencies),
            uptakes=tuple(self.uptake_rows),
            purchases=purchases,
            limit_rows=np.array(limit_rows, dtype=np.int32),
            elastics=tuple(elastics),
            ethanol=int(self.alcohol[1]),
            water=int(self.alcohol[0]),
        )

    def _counted(self) -> IntArray:
        """Which of `occurring` are activities that some limit on the bottle counts."""
        bottled = [limit for limit in self.problem.limits if limit.over is Over.BOTTLE]
        counted = {int(index) for limit in bottled for index in limit.indices if index >= LIQUOR}
        return np.flatnonzero(np.isin(self.occurring, sorted(counted))).astype(np.int32)

    def _columns(self, count: int, lower: float = 0.0, upper: float = np.inf) -> IntArray:
        first = self.next_column
        self.next_column += count
        self.lower.append(np.full(count, lower))
        self.upper.append(np.full(count, upper))
        return np.arange(first, first + count, dtype=np.int32)

    def _balance(self, position: int, gross: IntArray, flowing: IntArray | None) -> None:
        """Gross totals of liquor are what flows in and what dissolves here."""
        here = np.flatnonzero(self.problem.place_step == position).astype(np.int32)
        content = self.content[here]
        for number in range(len(self.liquor)):
            column = content[:, number]
            entries = np.flatnonzero(column)
            indices = [here[entries], gross[number : number + 1]]
            values = [column[entries], np.array([-1.0])]
            if flowing is not None:
                indices.append(flowing[number : number + 1])
                values.append(np.array([1.0]))
            self.rows.add(np.concatenate(indices), np.concatenate(values), 0.0, 0.0)

    def _take_up(self, position: int, gross: IntArray, flowing: IntArray | None) -> None:
        """Activities are what flows in and what the plants give up, less what heat destroys."""
        uptake = self.problem.chain.uptakes[position]
        here = np.flatnonzero(self.problem.place_step == position).astype(np.int32)
        ingredients = self.problem.place_ingredient[here]
        for number in range(len(self.liquor), len(self.occurring)):
            activity = int(self.occurring[number]) - LIQUOR
            left = float(uptake.left[activity])
            inflow = [] if flowing is None else [int(flowing[number])]
            free = left * uptake.free[ingredients, activity]
            amounts = [
                left * uptake.bound[table][ingredients, activity] for table in range(len(uptake.tables))
            ]
            strong = [table for table, amount in enumerate(amounts) if amount.any()]
            given = np.flatnonzero(free)
            if not strong:
                self.rows.add(
                    np.concatenate([here[given], [*inflow, gross[number]]]),
                    np.concatenate([free[given], [*(left for _ in inflow), -1.0]]),
                    0.0,
                    0.0,
                )
                continue
            parts = [self._sum_column(here[given], free[given])]
            for table in strong:
                used = np.flatnonzero(amounts[table])
                parts.append(self._sum_column(here[used], amounts[table][used]))
            alcohol = gross[self.alcohol]
            given_columns = self._columns(len(strong))
            indices = [*inflow, parts[0], int(gross[number]), *parts[1:], *alcohol, *given_columns]
            unwritten = [0.0] * (len(indices) - len(inflow) - 2)
            values = np.array([*(left for _ in inflow), 1.0, -1.0, *unwritten])
            sum_row = self.rows.add(indices, values, -np.inf, np.inf)
            bounds = [
                [self.rows.reserve([int(out), part, *alcohol]) for _ in range(6)]
                for out, part in zip(given_columns, parts[1:], strict=True)
            ]
            doses = [self.rows.reserve([part, *alcohol]) for part in parts[1:] for _ in range(2)]
            solvent = self.materials.content[ingredients][:, ALCOHOL].sum(axis=1)
            self.uptake_rows.append(
                UptakeRow(
                    step=position,
                    total=int(gross[number]),
                    others=np.array([*inflow, parts[0]], dtype=np.int32),
                    other_weights=np.array([*(left for _ in inflow), 1.0]),
                    parts=np.array(parts[1:], dtype=np.int32),
                    tables=tuple(uptake.tables[table] for table in strong),
                    amounts=np.array([amounts[table] for table in strong]),
                    columns=here,
                    alcohol=alcohol,
                    given=given_columns,
                    sum_row=sum_row,
                    low_rows=tuple((rows[0], rows[1], rows[2]) for rows in bounds),
                    high_rows=tuple((rows[3], rows[4], rows[5]) for rows in bounds),
                    dose_rows=tuple(zip(doses[::2], doses[1::2], strict=True)),
                    largest_doses=np.array([_largest_dose(amounts[table], solvent) for table in strong]),
                )
            )

    def _sum_column(self, columns: IntArray, weights: FloatArray) -> int:
        """Add a column that equals a weighted sum of others."""
        total = int(self._columns(1)[0])
        self.rows.add(np.concatenate([columns, [total]]), np.concatenate([weights, [-1.0]]), 0.0, 0.0)
        return total

    def _strain(self, position: int, gross: IntArray, batches: int) -> tuple[IntArray, Carry | None]:
        """Carried totals of a step: the gross ones, a fixed share of them, or an unknown share."""
        step = self.problem.chain.steps[position]
        here = np.flatnonzero(self.problem.place_step == position).astype(np.int32)
        if not (self.problem.place_step <= position).any():
            return gross, None  # an empty step loses nothing
        keeping = here[self.retention[here] > 0.0]
        if not len(keeping) and not step.fixed_loss_kg:
            if not step.loss_fraction:
                return gross, None
            carried = self._columns(len(self.occurring))
            for total, out in zip(gross, carried, strict=True):
                self.rows.add([out, total], np.array([1.0, step.loss_fraction - 1.0]), 0.0, 0.0)
            return carried, None
        carried = self._columns(len(self.occurring))
        largest = 1.0 - step.loss_fraction
        smallest = least_share(step)
        share = int(self._columns(1, smallest, largest)[0])
        total, out = gross[self.in_liquor], carried[self.in_liquor]
        wetting = 1.0 + step.rinse_kg_per_kg
        rinsed = step.rinse_kg_per_kg**2 / wetting * self.retention[keeping]
        rinse = self._sum_column(keeping, rinsed) if rinsed.any() else None
        kept = self.retention[keeping] / wetting
        sum_row = self.rows.add(
            np.concatenate([out, total, keeping, [batches]]),
            np.concatenate(
                [
                    np.ones(len(out)),
                    np.full(len(total), -largest),
                    largest * kept - rinsed,
                    [step.fixed_loss_kg],
                ]
            ),
            0.0,
            0.0,
        )
        self.rows.add(
            np.concatenate([out, total]),
            np.concatenate([np.ones(len(out)), np.full(len(total), -smallest)]),
            0.0,
            np.inf,
        )
        if step.rinse_kg_per_kg:
            # What is pressed is wet through before it is rinsed.
            self.rows.add(
                np.concatenate([total, keeping]),
                np.concatenate([np.ones(len(total)), -self.retention[keeping]]),
                0.0,
                np.inf,
            )
        beyond, short = self._columns(len(self.occurring)), self._columns(len(self.occurring))
        pairs = []
        for number, (out_total, gross_total) in enumerate(zip(carried, gross, strict=True)):
            pair = []
            for part, sign in ((beyond, 1.0), (short, -1.0)):
                indices = [out_total, gross_total, share, part[number]]
                values = [sign, 1.0, 1.0, -1.0]
                if rinse is not None and number == self.alcohol[0]:
                    indices.append(rinse)
                    values.append(-sign)
                pair.append(self.rows.add(indices, np.array(values), -np.inf, np.inf))
            pairs.append(pair)
        low, high = np.array(pairs, dtype=np.int32).T
        return carried, Carry(
            position, gross, carried, share, rinse, sum_row, beyond, short, low, high, smallest, largest
        )

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

    def _purchases(self) -> IntArray:
        """Columns of what is bought for its parts; no more of a part is used than that yields."""
        bought = self._columns(len(self.problem.purchases))
        self.upper[-1] = np.array(
            [purchase.most_kg_per_l for purchase in self.problem.purchases], dtype=float
        )
        yields = self.problem.yields
        for ingredient in np.flatnonzero(yields.any(axis=0)):
            uses = np.flatnonzero(self.problem.place_ingredient == ingredient).astype(np.int32)
            sources = np.flatnonzero(yields[:, ingredient])
            self.rows.add(
                np.concatenate([uses, bought[sources]]),
                np.concatenate([np.ones(len(uses)), -yields[sources, ingredient]]),
                -np.inf,
                0.0,
            )
        return bought

    def _limits(
        self, bottle: IntArray, batches: int, purchases: IntArray
    ) -> tuple[list[int], list[ElasticColumns]]:
        number_of = {int(carried): number for number, carried in enumerate(self.occurring)}
        columns_of: dict[int, list[int]] = {}
        for column, ingredient in enumerate(self.problem.place_ingredient):
            columns_of.setdefault(int(ingredient), []).append(column)
        limit_rows: list[int] = []
        elastics: list[ElasticColumns] = []
        for limit in self.problem.limits:
            pairs: list[tuple[int, float]] = []
            if limit.over is Over.COST:
                priced = np.flatnonzero(self.problem.column_prices)
                pairs += zip(priced.tolist(), self.problem.column_prices[priced].tolist(), strict=True)
                pairs += zip(purchases.tolist(), self.problem.purchase_prices.tolist(), strict=True)
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
                elastics.append(ElasticColumns(short, over, limit.scale, limit.soft))
                if limit.soft:
                    self.penalties += [(short, limit.penalty), (over, limit.penalty)]
            columns, weights = zip(*pairs, strict=True) if pairs else ((), ())
            limit_rows.append(
                self.rows.add(columns, np.array(weights, dtype=float), limit.lower, limit.upper)
            )
        return limit_rows, elastics

    def _streams(
        self, gross: list[IntArray], carried: list[IntArray], carries: list[Carry], volumes: list[VolumeRow]
    ) -> tuple[list[Stream], dict[tuple[int, bool], int], list[Potency]]:
        """Give one stream to each composition that a nonlinear relation depends on.

        What a cake makes of a liquor has the liquor's own composition: so have the parts of it that
        are carried beyond the least share, and short of the greatest.
        """
        parts = {carry.step: (carry.beyond, carry.short) for carry in carries}
        needed = {(step, False) for step in parts}
        needed |= {(row.step, False) for row in self.uptake_rows}
        needed |= {(volume.step, volume.of_bottle) for volume in volumes}
        streams: list[Stream] = []
        numbers: dict[tuple[int, bool], int] = {}
        potencies: list[Potency] = []
        for step, of_carried in sorted(needed):
            rinsed = self.problem.chain.steps[step].rinse_kg_per_kg > 0.0
            if of_carried and not rinsed and (step, False) in numbers:
                numbers[step, True] = numbers[step, False]
                continue
            own = self.counted if not of_carried and step in parts else self.counted[:0]
            numbers[step, of_carried] = len(streams)
            first = len(potencies)
            potencies += [Potency(step, int(gross[step][place])) for place in own]
            whole = carried[step] if of_carried else gross[step]
            together = (whole,) if of_carried else (whole, *parts.get(step, ()))
            streams.append(
                Stream(
                    tuple(self._block(block, own) for block in together),
                    tuple(range(first, len(potencies))),
                )
            )
        return streams, numbers, potencies

    def _block(self, columns: IntArray, activities: IntArray) -> Block:
        liquor = columns[self.in_liquor]
        solvent = self._sum_column(liquor[self.alcohol], np.ones(2))
        total = self._sum_column(liquor, np.ones(len(liquor)))
        ethanol = int(liquor[self.alcohol[1]])
        return Block(
            liquor,
            solvent,
            total,
            ethanol_rows=self._pair([ethanol, solvent]),
            solute_rows=self._pair([total, solvent], [1.0, -1.0]),
            potency_rows=tuple(self._pair([int(columns[place]), total]) for place in activities),
        )

    def _pair(self, indices: Sequence[int], values: Sequence[float] = (1.0, 0.0)) -> tuple[int, int]:
        """Reserve a row for the least and one for the greatest value of a ratio."""
        low, high = (self.rows.add(indices, np.array(values), -np.inf, np.inf) for _ in range(2))
        return low, high


def _largest_dose(amounts: FloatArray, solvent: FloatArray) -> float:
    """Return what a kilogram of solvent can be given at most: no mix gives more than its richest part.

    A plant without any water or spirit of its own is bounded by ten kilograms of it per kilogram.
    """
    return float((amounts / np.maximum(solvent, 0.1)).max(initial=0.0))
