"""The relaxation of a node: linear bounds on the nonlinear relations, valid for every recipe in it.

Each relation has its own. What they give away falls with the square of the node's width, but for the
sugars' volume, which matters little:

volume
    The chord of the specific volume of ethanol and water, shifted by a bound on its curvature; the
    apparent volumes of the sugars by their least and greatest value, which close with the width.
carry
    A cake keeps liquor of the step's own composition: what is carried is ``s g`` for the gross totals
    ``g`` and a share ``s`` between ``s0`` and ``s1``. So ``(s - s0) g`` and ``(s1 - s) g`` are two
    liquors of that very composition, and whatever holds for the composition in the node holds for
    both. For each quantity these are the products of the bounds on the share with the bounds on its
    fraction, all four of them: the McCormick envelope of share times fraction, per kilogram of liquor.
uptake
    A line through each strength table, and the McCormick envelope of strength times dose.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR
from formulate.optimise.highs import Engine
from formulate.optimise.layout import Assembly, Carry, Stream, UptakeRow, VolumeRow
from formulate.optimise.tree.node import Interval, Node
from formulate.physics.components import ALCOHOL, CONSTANT_VOLUMES, INDEX, SUGARS
from formulate.physics.density import specific_volume_curvature_bounds, specific_volume_ethanol_water
from formulate.physics.solutes import sugar_volume_interval

__all__ = ["Relaxation", "bound_ratio", "volume_estimates"]

FloatArray = NDArray[np.float64]

_ALCOHOL_POSITIONS = np.array(ALCOHOL)

_SUGAR_POSITIONS = np.array([INDEX[name] for name in SUGARS])
_FIRST_CONSTANT = LIQUOR - len(CONSTANT_VOLUMES)


def volume_estimates(ethanol: Interval, solute: Interval) -> tuple[FloatArray, FloatArray]:
    """Volumes per kilogram that bound the volume of every liquor in a node.

    Parameters
    ----------
    ethanol : Range
        Ethanol in ethanol plus water, by mass.
    solute : Range
        Dissolved solids in the liquor, by mass.

    Returns
    -------
    low, high : ndarray, shape (15,)
        L/kg per component: ``low . m <= V(m) <= high . m`` for every liquor in the node.

    Notes
    -----
    The ethanol-water part is the chord of the specific volume over the node, shifted by a
    rigorous bound on its curvature times the width squared over eight. The sugars take the
    least and greatest apparent volume over the node.
    """
    width = ethanol.width
    at_lower, at_upper = (float(specific_volume_ethanol_water(p)) for p in ethanol)
    least, greatest = specific_volume_curvature_bounds(ethanol.lower, ethanol.upper)
    slope = (at_upper - at_lower) / width if width > 0.0 else 0.0
    base = at_lower - slope * ethanol.lower
    bend = width * width / 8.0
    low, high = np.zeros(LIQUOR), np.zeros(LIQUOR)
    low[_FIRST_CONSTANT:] = high[_FIRST_CONSTANT:] = CONSTANT_VOLUMES
    low[_ALCOHOL_POSITIONS] = np.array([base, base + slope]) - max(greatest, 0.0) * bend
    high[_ALCOHOL_POSITIONS] = np.array([base, base + slope]) + max(-least, 0.0) * bend
    low[_SUGAR_POSITIONS], high[_SUGAR_POSITIONS] = sugar_volume_interval(solute.lower, solute.upper)
    return low, high


def bound_ratio(engine: Engine, rows: tuple[int, int], denominator: int, ratio: Interval) -> None:
    """Keep what two rows count between the ends of an interval times a column."""
    for row, end, limits in zip(rows, ratio, ((0.0, np.inf), (-np.inf, 0.0)), strict=True):
        if not np.isfinite(end):
            engine.set_row_limits(row, -np.inf, np.inf)
            continue
        engine.set_coefficients(row, (denominator,), np.array([-end]))
        engine.set_row_limits(row, *limits)


class Relaxation:
    """Writes the relaxation of a node into a live model; what did not change since the last node is left."""

    def __init__(self, engine: Engine, assembly: Assembly) -> None:
        self.engine = engine
        self.assembly = assembly
        self._written: dict[tuple[str, int], object] = {}

    def write(self, node: Node) -> None:
        """Write bounds on the relations that hold for every recipe in a node."""
        assembly = self.assembly
        for number, stream in enumerate(assembly.streams):
            potencies = tuple(node.potency[position] for position in stream.potencies)
            if self._differs("stream", number, (node.ethanol[number], node.solute[number], potencies)):
                self._confine(stream, node.ethanol[number], node.solute[number], potencies)
        for number, row in enumerate(assembly.volumes):
            stream_number = assembly.stream_numbers[row.step, row.of_bottle]
            intervals = node.ethanol[stream_number], node.solute[stream_number]
            if self._differs("volume", number, intervals):
                self._volume(row, *intervals)
        first = 0
        for number, uptake in enumerate(assembly.uptakes):
            doses = node.dose[first : first + len(uptake.tables)]
            first += len(uptake.tables)
            ethanol = node.ethanol[assembly.stream_numbers[uptake.step, False]]
            if self._differs("uptake", number, (ethanol, doses)):
                self._uptake(uptake, ethanol, doses)
        for number, (carry, share) in enumerate(zip(assembly.carries, node.share, strict=True)):
            if self._differs("carry", number, share):
                self._carry(carry, share)

    def lift(self) -> None:
        """Open what `write` closed and a linearisation does not write itself."""
        self._written.clear()
        open_rows = [row.high_row for row in self.assembly.volumes]
        for stream in self.assembly.streams:
            for block in stream.blocks:
                for pair in (block.ethanol_rows, block.solute_rows, *block.potency_rows):
                    open_rows += pair
        for uptake in self.assembly.uptakes:
            open_rows += [number for rows in (*uptake.low_rows, *uptake.high_rows) for number in rows]
            open_rows += [number for pair in uptake.dose_rows for number in pair]
        for carry in self.assembly.carries:
            open_rows += carry.high_rows.tolist()
        for number in open_rows:
            self.engine.set_row_limits(number, -np.inf, np.inf)

    def _differs(self, name: str, number: int, intervals: object) -> bool:
        """Whether a relation must be written again; and remember what it is written for."""
        if self._written.get((name, number)) == intervals:
            return False
        self._written[name, number] = intervals
        return True

    def _confine(
        self, stream: Stream, ethanol: Interval, solute: Interval, potencies: tuple[Interval, ...]
    ) -> None:
        for block in stream.blocks:
            bound_ratio(self.engine, block.ethanol_rows, block.solvent, ethanol)
            for number, fraction, limits in zip(
                block.solute_rows, solute, ((0.0, np.inf), (-np.inf, 0.0)), strict=True
            ):
                self.engine.set_coefficients(number, (block.total,), np.array([1.0 - fraction]))
                self.engine.set_row_limits(number, *limits)
            for pair, potency in zip(block.potency_rows, potencies, strict=True):
                bound_ratio(self.engine, pair, block.total, potency)

    def _volume(self, row: VolumeRow, ethanol: Interval, solute: Interval) -> None:
        low, high = volume_estimates(ethanol, solute)
        target = 1.0 if row.of_bottle else 0.0
        self.engine.set_coefficients(row.low_row, row.columns, low[self.assembly.liquor])
        self.engine.set_row_limits(row.low_row, -np.inf, target)
        self.engine.set_coefficients(row.high_row, row.columns, high[self.assembly.liquor])
        self.engine.set_row_limits(row.high_row, target, np.inf)

    def _carry(self, carry: Carry, share: Interval) -> None:
        engine = self.engine
        for gross, beyond, short, low, high in zip(
            carry.gross, carry.beyond, carry.short, carry.low_rows, carry.high_rows, strict=True
        ):
            engine.set_coefficients(low, (gross, carry.share, beyond), np.array([-share.lower, 0.0, -1.0]))
            engine.set_row_limits(low, 0.0, 0.0)
            engine.set_coefficients(high, (gross, carry.share, short), np.array([share.upper, 0.0, -1.0]))
            engine.set_row_limits(high, 0.0, 0.0)
        engine.set_row_limits(carry.sum_row, 0.0, 0.0)

    def _uptake(self, row: UptakeRow, ethanol: Interval, doses: tuple[Interval, ...]) -> None:
        """Bound what plants give: by the extremes of each table, and more sharply by lines.

        With p the ethanol fraction and r the amount B per solvent S, a line of the table times B holds
        ``p B = r e``, which lies between ``pl B + r (e - pl S)`` for the least and the greatest r, and
        likewise from the upper end of p.
        """
        engine = self.engine
        nothing = np.zeros(len(row.tables))
        engine.set_coefficients(row.sum_row, row.parts, nothing)
        engine.set_coefficients(row.sum_row, row.alcohol, np.zeros(2))
        engine.set_coefficients(row.sum_row, row.given, nothing + 1.0)
        engine.set_row_limits(row.sum_row, 0.0, 0.0)
        for number, (table, dose) in enumerate(zip(row.tables, doses, strict=True)):
            columns = (int(row.given[number]), int(row.parts[number]), *row.alcohol)
            least, most = table.bounds(ethanol.lower, ethanol.upper)
            line = table.lines(ethanol.lower, ethanol.upper)
            rising = line.slope >= 0.0
            for rows, extreme, base, is_low in (
                (row.low_rows[number], least, line.low, True),
                (row.high_rows[number], most, line.high, False),
            ):
                limits = (0.0, np.inf) if is_low else (-np.inf, 0.0)
                engine.set_coefficients(rows[0], columns, np.array([1.0, -extreme, 0.0, 0.0]))
                engine.set_row_limits(rows[0], *limits)
                # The product is wanted small for an under-estimate of a rising line, and so on.
                small_first = is_low == rising
                for place, end, rate in (
                    (rows[1], ethanol.lower, dose.lower if small_first else dose.upper),
                    (rows[2], ethanol.upper, dose.upper if small_first else dose.lower),
                ):
                    alcohol = -line.slope * rate * np.array([-end, 1.0 - end])
                    values = np.array([1.0, -(base + line.slope * end), *alcohol])
                    engine.set_coefficients(place, columns, values)
                    engine.set_row_limits(place, *limits)
        for (lowest, highest), part, dose in zip(row.dose_rows, row.parts, doses, strict=True):
            for place, rate, limits in (
                (lowest, dose.lower, (0.0, np.inf)),
                (highest, dose.upper, (-np.inf, 0.0)),
            ):
                engine.set_coefficients(place, (int(part), *row.alcohol), np.array([1.0, -rate, -rate]))
                engine.set_row_limits(place, *limits)
