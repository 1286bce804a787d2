"""The proof for kitchens of several steps: boxes narrowed, and split where it raises the bound most.

Steps are tied to each other: how much liquor a step holds says at once what share its cake keeps, how
strong a dose of plants it is given, and what can be left for the others. So boxes are narrowed over
all their ranges, and the next range to split is found by trying: each of the worst few is split, both
halves are bounded, and the range is taken whose halves are raised most. A half that holds nothing
worth having is cut off on the way.
"""

from __future__ import annotations

import time

from formulate.optimise.breakpoints import pieces_at, pieces_of
from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.program import LiveModel, Point
from formulate.optimise.slp import settle
from formulate.optimise.tree.bound_tightening import Narrowing
from formulate.optimise.tree.branch_and_bound import BoxSearch, Outcome, halves
from formulate.optimise.tree.relaxation import Box
from formulate.optimise.tree.violation import Cheat

__all__ = ["TryingSearch"]

TRIED = 8
"""So many ranges are tried before one is split."""

FIRST_ROUNDS = 3
EVERY = 2
"""One box in so many is narrowed before it is looked at."""

FIRST_SHARE = 0.25
"""Part of the time given that narrowing the first box may take."""

TOWARDS_MIDDLE = 0.5

LEAST_SLICE = 0.05
"""A range is not split at a point of a table nearer to its end than this part of its width."""

LEAST_GAIN = 1e-9
"""A half counts as raised by this at least, relative: so that a range with one good half is seen."""


class TryingSearch(BoxSearch):
    """Best-first search over boxes that tries before it splits; used once.

    Parameters
    ----------
    live : LiveModel
    incumbent : Point or None
    gap : float
        Relative gap to close.
    """

    def __init__(self, live: LiveModel, incumbent: Point | None, gap: float) -> None:
        super().__init__(live, incumbent, gap)
        live.engine.expect_few_pivots()
        self._narrowing = Narrowing(live.engine.snapshot(), live.assembly)
        steps = {row.step for row in self.assembly.uptakes}
        self._points = {
            self.assembly.stream_numbers[step, False]: [
                piece.upper for piece in pieces_of(self.assembly, step)
            ]
            for step in steps
        }

    @property
    def solves(self) -> int:
        """Linear programs solved so far."""
        return super().solves + self._narrowing.engine.solves

    def _narrowed(self, box: Box) -> Box | None:
        if self.boxes == 1:
            until = time.monotonic() + FIRST_SHARE * self.seconds
            return self._narrowing.narrowed(box, self.cut_off, rounds=FIRST_ROUNDS, until=until)
        if self.boxes % EVERY:
            return box
        return self._narrowing.narrowed(box, self.cut_off)

    def _start_loop(self, result: LinearResult) -> Point | None:
        """Start the loop from a linear answer, in its own pieces of the strength tables, then freely.

        Across a point of a table the loop sees one of two slopes; within the pieces it settles.
        """
        start = self.live.point(result)
        self.live.set_pieces(pieces_at(self.assembly, start))
        within = settle(self.live, start)
        self.live.set_pieces({})
        if within.point is None or not within.converged:
            return settle(self.live, start).point
        self._offer(within.point)
        # Freely it ends a little better or worse: not worth what may be all the time there was.
        return within.point if time.monotonic() > self.until else settle(self.live, within.point).point

    def _children(self, outcome: Outcome) -> list[tuple[float, Box]] | None:
        box, cut = outcome.box, False
        best: tuple[float, list[tuple[float, Box]]] = (0.0, [])
        tried = 0
        for cheat in outcome.cheats:
            if tried == TRIED:
                break
            parts = self._halves(box, cheat)
            if not parts:
                continue
            tried += 1
            bounded = [(promise, part) for part in parts if (promise := self._promise(part)) is not None]
            if not bounded:
                return []
            if len(bounded) == 1:
                box, cut = bounded[0][1], True
                best = (0.0, bounded)
                continue
            gains = [max(promise - outcome.bound, LEAST_GAIN * abs(outcome.bound)) for promise, _ in bounded]
            score = gains[0] * gains[1]
            if not cut and score > best[0]:
                best = score, bounded
        return best[1] or None

    def _halves(self, box: Box, cheat: Cheat) -> tuple[Box, ...]:
        """Split a range: where a strength table has a point inside it, at that point."""
        if cheat.name == "ethanol":
            whole = box.ethanol[cheat.number]
            margin = LEAST_SLICE * whole.width
            inside = [
                at
                for at in self._points.get(cheat.number, ())
                if whole.lower + margin < at < whole.upper - margin
            ]
            if inside:
                nearest = min(inside, key=lambda at: abs(at - cheat.at))
                return halves(box, cheat._replace(at=nearest), 0.0)
        return halves(box, cheat, self.edge, TOWARDS_MIDDLE)

    def _promise(self, box: Box) -> float | None:
        """Bound a box; None when it holds nothing worth having."""
        self.live.relax(box)
        status, objective = self.live.engine.bound(self.cut_off)
        if status in (LinearStatus.INFEASIBLE, LinearStatus.CUT_OFF):
            return None
        if status is not LinearStatus.OPTIMAL:
            return 0.0
        return objective if objective < self.cut_off else None
