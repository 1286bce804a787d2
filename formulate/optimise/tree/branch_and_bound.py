"""A lower bound on the cost of every recipe, by splitting the space of recipes into boxes.

In a box of ethanol fraction, solute fraction, share carried, dose and potency, the three relations
that are not linear are replaced by linear bounds that every recipe in the box satisfies (`relax`),
so the linear optimum is a lower bound. The box with the lowest bound is split where its linear
answer cheats most, until no box can hold a recipe cheaper than the best one known by more
than the gap asked for. If every box turns out empty and no recipe is known, none exists.
"""

from __future__ import annotations

import heapq
import time
from dataclasses import dataclass, replace
from itertools import count

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import ethanol_fraction
from formulate.optimise.assembly import Assembly
from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.program import LiveModel, Point
from formulate.optimise.slp import ACCEPTED, improve_nearby
from formulate.optimise.tree.relaxation import RANGES, Box, Range
from formulate.optimise.tree.violation import Cheat, cheats_of

__all__ = ["A_TIE", "HONEST", "BoxSearch", "Outcome", "Proof", "halves", "whole_space"]

FloatArray = NDArray[np.float64]

SOLUTE_LARGEST = 0.85
"""End of the published density range for sugar, by mass (ICUMSA SPS-4)."""

HONEST = 1e-11
"""A linear answer that cheats by less than this is a recipe."""

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

FINE_EDGE = 0.02
"""The same where a range spans several orders of magnitude."""


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


class BoxSearch:
    """Best-first search over boxes; used once.

    Parameters
    ----------
    live : LiveModel
    incumbent : Point or None
    gap : float
        Relative gap to close.

    Attributes
    ----------
    starts_loops : bool
        Whether better recipes are looked for from the boxes; else the proof bounds and does not search.
    """

    edge = EDGE
    starts_loops = True

    def __init__(self, live: LiveModel, incumbent: Point | None, gap: float) -> None:
        self.live = live
        self.assembly = live.assembly
        self.best = incumbent
        self.gap = gap
        self.boxes = 0
        self.seconds = self.until = np.inf
        self._solved_before = live.engine.solves
        self.next_try = 4 if incumbent is not None and len(live.assembly.streams) == 1 else 1
        self.order = count()

    @property
    def solves(self) -> int:
        """Linear programs solved so far."""
        return self.live.engine.solves - self._solved_before

    @property
    def cut_off(self) -> float:
        """What a box must promise to be worth a look."""
        return np.inf if self.best is None else self.best.cost_per_l * (1.0 - self.gap)

    def run(self, most_solves: int, seconds: float) -> Proof:
        """Split boxes until the gap is closed or a limit is hit."""
        self.seconds, self.until = seconds, time.monotonic() + seconds
        heap: list[tuple[float, int, Box]] = [(0.0, next(self.order), whole_space(self.assembly))]
        settled = np.inf
        while heap:
            bound, _, box = heapq.heappop(heap)
            if bound >= self.cut_off:
                settled = min(settled, bound)
                break
            if self.solves >= most_solves or time.monotonic() > self.until:
                heapq.heappush(heap, (bound, next(self.order), box))
                break
            outcome = self._bound(box)
            if outcome is None:
                continue
            bound = max(bound, outcome.bound)
            children = self._children(outcome)
            if children is None:
                settled = min(settled, bound)
                continue
            for promise, child in children:
                heapq.heappush(heap, (max(bound, promise), next(self.order), child))
        open_bound = min((bound for bound, _, _ in heap), default=np.inf)
        lower = min(open_bound, settled, self.cut_off)
        nothing_open = not heap or open_bound >= self.cut_off
        complete = nothing_open and settled >= self.cut_off
        return Proof(self.best, lower, self.solves, complete)

    def _bound(self, box: Box) -> Outcome | None:
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
            return Outcome(0.0, _widths(box), box)
        if result.proven_bound >= self.cut_off:
            return None
        cheats = cheats_of(self.assembly, box, result.values)
        if cheats[0][0] < HONEST:
            self._offer(self._recipe(result))
        elif self._worth_a_try(result.proven_bound):
            self._offer(self._start_loop(result))
        return Outcome(result.proven_bound, cheats, box)

    def _children(self, outcome: Outcome) -> list[tuple[float, Box]] | None:
        """Split a box where its linear answer cheats most; None when no range is left to split.

        Each part comes with a bound of its own, where one is known. No part is left when none can hold
        anything worth having.
        """
        for cheat in outcome.cheats:
            parts = halves(outcome.box, cheat, self.edge) if cheat.size >= HONEST else ()
            if parts:
                return [(outcome.bound, part) for part in parts]
        return None

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
        return improve_nearby(self.live, self.live.point(result)).point

    def _worth_a_try(self, bound: float) -> bool:
        """Whether to start the loop from this box: often at first, then each time the count has doubled."""
        if not self.starts_loops or bound >= self.cut_off * (1.0 - WORTH_A_TRY) or self.boxes < self.next_try:
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


@dataclass(frozen=True)
class Outcome:
    """A box, its bound, and where its linear answer cheats, worst first."""

    bound: float
    cheats: tuple[Cheat, ...]
    box: Box


def _widths(box: Box) -> tuple[Cheat, ...]:
    """Stand in for the cheats of a box whose program gave no answer: its widest ranges, to be halved."""
    found = [
        Cheat(range_.width, name, number, (range_.lower + range_.upper) / 2.0)
        for name in RANGES
        for number, range_ in enumerate(getattr(box, name))
        if np.isfinite(range_.width)
    ]
    return tuple(sorted(found, reverse=True))


def halves(box: Box, cheat: Cheat, edge: float, towards_middle: float = 0.0) -> tuple[Box, ...]:
    """Split a range of a box near where its linear answer stands.

    Parameters
    ----------
    box : Box
    cheat : Cheat
    edge : float
        A split keeps at least this part of the range on either side.
    towards_middle : float
        How far it goes from the answer towards the middle of the range, 0 to 1.

    Returns
    -------
    tuple of Box
        Two, or none when the range is too narrow.

    Notes
    -----
    Doses and potencies are of any order of magnitude: a range is first brought to within half and twice
    of where the answer has it.
    """
    ranges: tuple[Range, ...] = getattr(box, cheat.name)
    whole, at = ranges[cheat.number], cheat.at
    if whole.width <= NARROWEST or not np.isfinite(whole.lower):
        return ()
    if cheat.name in ("dose", "potency"):
        if whole.upper > 4.0 * at > 0.0:
            at, edge = 2.0 * at, FINE_EDGE
        elif at > 4.0 * whole.lower:
            at, edge = at / 2.0, FINE_EDGE
        else:
            at += towards_middle * ((whole.lower + whole.upper) / 2.0 - at)
    elif np.isfinite(whole.upper):
        at += towards_middle * ((whole.lower + whole.upper) / 2.0 - at)
    if not np.isfinite(whole.upper):
        return ()
    margin = edge * whole.width
    middle = min(max(at, whole.lower + margin), whole.upper - margin)
    return tuple(
        replace(box, **{cheat.name: (*ranges[: cheat.number], half, *ranges[cheat.number + 1 :])})
        for half in (Range(whole.lower, middle), Range(middle, whole.upper))
    )


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
        potency=(Range(0.0, np.inf),) * len(assembly.potencies),
    )
