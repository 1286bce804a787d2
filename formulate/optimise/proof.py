"""The proof: a lower bound on the cost of every recipe, by splitting the space into boxes.

In a box of ethanol fraction, solute fraction, share carried and dose (what plants can give
per kilogram of solvent), the three nonlinear relations are replaced by linear bounds that
every recipe in the box satisfies, so the linear optimum is a lower bound. The box with the
lowest bound is split where its linear answer cheats most, until no box can hold a recipe
cheaper than the best one known by more than the gap asked for. If every box turns out empty
and no recipe is known, none exists.
"""

from __future__ import annotations

import heapq
import time
from dataclasses import dataclass, replace
from itertools import count
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import ethanol_fraction
from formulate.blend.materials import LIQUOR
from formulate.optimise.assembly import Assembly
from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.live import Box, LiveModel, Point, Range, volume_estimates
from formulate.optimise.loop import ACCEPTED, improve_nearby
from formulate.optimise.relations import VolumeRow
from formulate.physics.components import ETHANOL, WATER
from formulate.physics.density import specific_volume_ethanol_water
from formulate.physics.mixture import volume_l

__all__ = ["A_TIE", "BoxSearch", "Proof", "prove", "whole_space"]

FloatArray = NDArray[np.float64]

MOST_SOLVES = 4000
"""A proof stops after so many linear programs, however fast the machine is."""

SOLUTE_LARGEST = 0.85
"""End of the published density range for sugar, by mass (ICUMSA SPS-4)."""

HONEST = 1e-11
"""A linear answer that cheats by less than this is a recipe."""

ACTIVITY_WEIGHT = 0.01
"""How much a wholly wrong activity counts beside a kilogram of liquor, for choosing where to split."""

A_TIE = 1e-7
"""Recipes whose cost differs by less than this, relative, are equally cheap."""

WORTH_A_TRY = 1e-5
"""The loop is started from a box whose bound is this much below the best recipe, relative."""

EAGER_TRIES = 3
"""The loop is started from each of the first boxes, then from ever fewer."""

NARROWEST = 1e-9
"""Boxes are not split below this width."""

EDGE = 0.1
"""A split keeps at least this part of the box on either side."""


@dataclass(frozen=True)
class Proof:
    """What was proved.

    Attributes
    ----------
    best : Point or None
        The cheapest recipe known; None when none was found.
    lower_bound : float
        No recipe costs less than this per litre. Infinite when it is proved that there is none.
    solves : int
        Linear programs solved for the proof.
    complete : bool
        Whether the gap was closed, or emptiness proved, within the limits of time and count.
    """

    best: Point | None
    lower_bound: float
    solves: int
    complete: bool

    @property
    def gap(self) -> float:
        """How much dearer the best recipe may be than the cheapest one, relative to its cost."""
        if self.best is None:
            return np.inf
        cost = self.best.cost_per_l
        return max(cost - self.lower_bound, 0.0) / max(cost, 1e-12)


def prove(live: LiveModel, incumbent: Point | None, *, gap: float, seconds: float = 20.0) -> Proof:
    """Bound the cost of every recipe from below, and improve the incumbent on the way.

    Parameters
    ----------
    live : LiveModel
    incumbent : Point or None
        A recipe that meets every limit, or None to look for one.
    gap : float
        Relative gap to close.
    seconds : float
        When to stop, if not after `MOST_SOLVES` programs; the bound reached by then still holds.

    Returns
    -------
    Proof
    """
    return BoxSearch(live, incumbent, gap).run(MOST_SOLVES, seconds)


class Cheat(NamedTuple):
    """Where a linear answer is no recipe.

    Attributes
    ----------
    size : float
        How far it is off, in litres or kilograms per litre.
    name, number : str, int
        Which range of the box lets it: `ethanol`, `solute`, `share` or `dose`, and its position.
    at : float
        Where the answer stands in that range.
    """

    size: float
    name: str
    number: int
    at: float


class BoxSearch:
    """Best-first search over boxes; used once.

    Parameters
    ----------
    live : LiveModel
    incumbent : Point or None
    gap : float
        Relative gap to close.
    """

    edge = EDGE

    def __init__(self, live: LiveModel, incumbent: Point | None, gap: float) -> None:
        self.live = live
        self.assembly = live.assembly
        self.best = incumbent
        self.gap = gap
        self.boxes = 0
        self.next_try = 4 if incumbent is not None and len(live.assembly.streams) == 1 else 1
        self.order = count()

    @property
    def cut_off(self) -> float:
        """What a box must promise to be worth a look."""
        return np.inf if self.best is None else self.best.cost_per_l * (1.0 - self.gap)

    def run(self, most_solves: int, seconds: float) -> Proof:
        """Split boxes until the gap is closed or a limit is hit."""
        started, solved_before = time.monotonic(), self.live.engine.solves
        heap: list[tuple[float, int, Box]] = [(0.0, next(self.order), whole_space(self.assembly))]
        settled = np.inf
        while heap:
            bound, _, box = heapq.heappop(heap)
            if bound >= self.cut_off:
                settled = min(settled, bound)
                break
            solves = self.live.engine.solves - solved_before
            if solves >= most_solves or time.monotonic() - started > seconds:
                heapq.heappush(heap, (bound, next(self.order), box))
                break
            outcome = self._bound(box)
            if outcome is None:
                continue
            bound = max(bound, outcome.bound)
            children = _split(outcome.box, outcome.cheats, self.edge)
            if not children:
                settled = min(settled, bound)
            for child in children:
                heapq.heappush(heap, (bound, next(self.order), child))
        open_bound = min((bound for bound, _, _ in heap), default=np.inf)
        lower = min(open_bound, settled, self.cut_off)
        nothing_open = not heap or open_bound >= self.cut_off
        complete = nothing_open and settled >= self.cut_off
        return Proof(self.best, lower, self.live.engine.solves - solved_before, complete)

    def _bound(self, box: Box) -> _Outcome | None:
        """Solve the relaxation of a box; None when it holds nothing worth having."""
        self.boxes += 1
        narrowed = self._narrowed(box)
        if narrowed is None:
            return None
        box = narrowed
        self.live.relax(box)
        result = self._relaxation()
        if result.status in (LinearStatus.INFEASIBLE, LinearStatus.CUT_OFF):
            return None
        if not result.values.size or not np.isfinite(result.proven_bound):
            return _Outcome(0.0, _widths(box), box)
        if result.proven_bound >= self.cut_off:
            return None
        cheats = tuple(sorted(self._cheats(box, result.values), reverse=True))
        if cheats[0][0] < HONEST:
            self._offer(self._recipe(result))
        elif self._worth_a_try(result.proven_bound):
            self._offer(self._start_loop(result))
        return _Outcome(result.proven_bound, cheats, box)

    def _narrowed(self, box: Box) -> Box | None:
        """Narrow a box without losing a recipe worth having; None when it holds none."""
        return box

    def _relaxation(self) -> LinearResult:
        """Solve the live program, relaxed over a box."""
        return self.live.solve(self.cut_off)

    def _recipe(self, result: LinearResult) -> Point | None:
        """Read a recipe off a linear answer that does not cheat."""
        return self.live.point(result)

    def _start_loop(self, result: LinearResult) -> Point | None:
        """Start the loop from a linear answer that cheats."""
        start = self.live.point(result)
        return improve_nearby(self.live, start).point

    def _worth_a_try(self, bound: float) -> bool:
        """Whether to start the loop from this box: often at first, then each time the count has doubled."""
        if bound >= self.cut_off * (1.0 - WORTH_A_TRY) or self.boxes < self.next_try:
            return False
        eager = self.best is None or self.boxes < EAGER_TRIES
        self.next_try = self.boxes + 1 if eager else 2 * self.boxes
        return True

    def _offer(self, point: Point | None) -> None:
        if point is None or point.violation > ACCEPTED:
            return
        # A hair cheaper is a tie: it would only undo the order in which ties are broken.
        if self.best is None or point.cost_per_l < self.best.cost_per_l * (1.0 - A_TIE):
            self.best = point

    def _cheats(self, box: Box, values: FloatArray) -> list[Cheat]:
        """Measure how far a linear answer is from a recipe, by cause."""
        return [
            *self._volume_cheats(box, values),
            *self._uptake_cheats(box, values),
            *self._carry_cheats(values),
        ]

    def _volume_cheats(self, box: Box, values: FloatArray) -> list[Cheat]:
        """How far each volume in the linear answer is from the true one, by cause."""
        cheats = []
        for row in self.assembly.volumes:
            number = self.assembly.stream_numbers[row.step, row.of_bottle]
            liquor = np.zeros(LIQUOR)
            liquor[self.assembly.liquor] = np.maximum(values[row.columns], 0.0)
            alcohol = liquor[WATER] + liquor[ETHANOL]
            ethanol = liquor[ETHANOL] / alcohol if alcohol > 0.0 else 0.0
            solute = 1.0 - alcohol / liquor.sum() if liquor.sum() > 0.0 else 0.0
            low, high = volume_estimates(box.ethanol[number], box.solute[number])
            truth = float(volume_l(liquor, check=False))
            claimed = _claimed(row, low, high, liquor, truth)
            part = float(claimed[WATER] * liquor[WATER] + claimed[ETHANOL] * liquor[ETHANOL])
            exact = alcohol * float(specific_volume_ethanol_water(min(max(ethanol, 0.0), 1.0)))
            rest = float(claimed @ liquor) - part
            cheats.append(Cheat(abs(part - exact), "ethanol", number, ethanol))
            cheats.append(Cheat(abs(rest - (truth - exact)), "solute", number, solute))
        return cheats

    def _uptake_cheats(self, box: Box, values: FloatArray) -> list[Cheat]:
        """Measure how far the plants in the linear answer give up more or less than they would."""
        cheats = []
        following = 0
        for row in self.assembly.uptakes:
            first, following = following, following + len(row.tables)
            water, ethanol = (max(float(values[column]), 0.0) for column in row.alcohol)
            fraction = ethanol / (water + ethanol) if water + ethanol > 0.0 else 0.0
            parts = values[row.parts]
            if not parts.sum() > 0.0:
                continue
            number = self.assembly.stream_numbers[row.step, False]
            claimed = float(values[row.total] - row.other_weights @ values[row.others])
            shares = np.array([float(table.share(fraction)) for table in row.tables])
            truth = float(shares @ parts)
            size = ACTIVITY_WEIGHT * abs(claimed - truth) / float(parts.sum())
            cheats.append(Cheat(size, "ethanol", number, fraction))
            # The sharper estimates err by the spread of the strength times that of the dose: the dose is
            # first brought to within half of where the answer has it, then only strength is split.
            for position, part in enumerate(parts):
                at = float(part) / max(water + ethanol, 1e-12)
                dose = box.dose[first + position]
                if dose.upper > 2.0 * at > 0.0:
                    cheats.append(Cheat(2.0 * size, "dose", first + position, 1.5 * at))
                elif dose.lower < 0.5 * at:
                    cheats.append(Cheat(2.0 * size, "dose", first + position, at / 1.5))
        return cheats

    def _carry_cheats(self, values: FloatArray) -> list[Cheat]:
        """How unevenly each cake in the linear answer keeps its liquor."""
        cheats = []
        many = len(self.assembly.liquor)
        for number, carry in enumerate(self.assembly.carries):
            gross, carried = values[carry.gross], values[carry.carried].copy()
            if carry.rinse is not None:
                carried[self.assembly.water] -= values[carry.rinse]
            total = gross[:many].sum()
            if total <= 0.0:
                continue
            share = float(carried[:many].sum() / total)
            uneven = np.abs(carried - share * gross)
            relative = uneven[many:] / np.maximum(gross[many:], 1e-12)
            size = float(uneven[:many].sum() + ACTIVITY_WEIGHT * relative.sum())
            cheats.append(Cheat(size, "share", number, share))
        return cheats


@dataclass(frozen=True)
class _Outcome:
    """A box, its bound, and where its linear answer cheats, worst first."""

    bound: float
    cheats: tuple[Cheat, ...]
    box: Box


def _widths(box: Box) -> tuple[Cheat, ...]:
    """Stand in for the cheats of a box whose program gave no answer: its widest ranges, to be halved."""
    found = [
        Cheat(range_.width, name, number, (range_.lower + range_.upper) / 2.0)
        for name, ranges in (
            ("ethanol", box.ethanol),
            ("solute", box.solute),
            ("share", box.share),
            ("dose", box.dose),
        )
        for number, range_ in enumerate(ranges)
    ]
    return tuple(sorted(found, reverse=True))


def _split(box: Box, cheats: tuple[Cheat, ...], edge: float) -> tuple[Box, ...]:
    """Halve a box where its linear answer cheats most; nothing when it is too narrow or no cheat is left."""
    for cheat in cheats:
        ranges: tuple[Range, ...] = getattr(box, cheat.name)
        if cheat.size < HONEST or ranges[cheat.number].width <= NARROWEST:
            continue
        return tuple(
            replace(box, **{cheat.name: (*ranges[: cheat.number], half, *ranges[cheat.number + 1 :])})
            for half in _halves(ranges[cheat.number], cheat.at, 0.0 if cheat.name == "dose" else edge)
        )
    return ()


def _claimed(
    row: VolumeRow, low: FloatArray, high: FloatArray, liquor: FloatArray, truth: float
) -> FloatArray:
    """Return the estimate a linear answer leaned on to claim its volume."""
    if row.of_bottle:
        return low if truth > 1.0 else high
    return low if truth - low @ liquor > high @ liquor - truth else high


def _halves(whole: Range, at: float, edge: float) -> tuple[Range, Range]:
    margin = edge * whole.width
    middle = min(max(at, whole.lower + margin), whole.upper - margin)
    return Range(whole.lower, middle), Range(middle, whole.upper)


def whole_space(assembly: Assembly) -> Box:
    """Return a box that holds every recipe."""
    fractions = ethanol_fraction(assembly.problem.chain.materials.content)
    strongest = float(min(fractions.max(initial=0.0) + 1e-12, 1.0))
    streams = len(assembly.streams)
    return Box(
        ethanol=(Range(0.0, strongest),) * streams,
        solute=(Range(0.0, SOLUTE_LARGEST),) * streams,
        share=tuple(Range(0.0, carry.share_largest) for carry in assembly.carries),
        dose=tuple(
            Range(0.0, float(largest) * (1.0 + 1e-9))
            for row in assembly.uptakes
            for largest in row.largest_doses
        ),
    )
