"""Recipes in whole numbers: the loop and the proof with a mixed-integer program at each turn.

The continuous recipe is solved first. Around it the program with whole numbers (`whole`) is
solved, the blend is linearised at what it finds, and so on until the exact blend model
agrees. The proof splits the same boxes as `proof`, with the whole numbers kept in each
relaxation, so the gap reported covers both.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.errors import InfeasibleError, NotConvergedError
from formulate.optimise.answer import Status
from formulate.optimise.assembly import Assembly, assemble
from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.live import LiveModel, Point
from formulate.optimise.loop import ACCEPTED
from formulate.optimise.problem import BlendProblem
from formulate.optimise.proof import BoxSearch
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.search import cheapest
from formulate.optimise.whole import WholeTerms, with_whole_numbers

__all__ = ["WholeAnswer", "solve_whole"]

FloatArray = NDArray[np.float64]

ROUNDS = 8
INNER_GAP = 1e-7
GAP = 1e-4
"""Gap at which a recipe in whole packs or with choices is called the cheapest."""


@dataclass(frozen=True)
class WholeAnswer:
    """A recipe in whole numbers.

    Attributes
    ----------
    status : Status
    point : Point
        Per litre bottled; `cost` counts what is paid, whole packs where there are any.
    packs : ndarray of int
        How many of each pack.
    proven_gap : float
    rounds, proof_solves : int
        Mixed-integer programs of the loop and of the proof.
    seconds : float
    """

    status: Status
    point: Point
    packs: NDArray[np.int64]
    proven_gap: float
    rounds: int
    proof_solves: int
    seconds: float


def solve_whole(problem: BlendProblem, terms: WholeTerms, *, seconds: float = 20.0) -> WholeAnswer:
    """Find the cheapest recipe in whole packs, or with choices of what to use, and bound it.

    Parameters
    ----------
    problem : BlendProblem
        Of known size.
    terms : WholeTerms
    seconds : float
        Time in all; the gap reached by then is reported.

    Returns
    -------
    WholeAnswer

    Raises
    ------
    InfeasibleError
        With `explanation` None, when it is proved that no recipe meets every limit.
    NotConvergedError
        When there is neither a recipe nor a proof that there is none.
    """
    started = time.monotonic()
    live = LiveModel(assemble(problem))
    loop = _WholeLoop(live, terms, lambda: max(seconds - (time.monotonic() - started), 0.1))
    continuous = cheapest(live)
    live.set_cost(live.assembly.cost)
    start = continuous.point
    best = loop.run(start) if start is not None else None
    search = _WholeSearch(live, loop, best.point if best else None)
    proof = search.run(400, max(seconds - (time.monotonic() - started), 0.5))
    found = search.found or best
    if proof.best is None or found is None:
        if proof.complete:
            raise InfeasibleError(None)
        raise NotConvergedError(loop.rounds, start.violation if start is not None else np.inf)
    return WholeAnswer(
        status=Status.OPTIMAL if proof.complete else Status.FEASIBLE,
        point=found.point,
        packs=found.packs,
        proven_gap=proof.gap,
        rounds=loop.rounds,
        proof_solves=search.boxes,
        seconds=time.monotonic() - started,
    )


@dataclass(frozen=True)
class _Found:
    point: Point
    packs: NDArray[np.int64]


class _WholeLoop:
    """Linearise, solve with whole numbers, move there, repeat."""

    def __init__(self, live: LiveModel, terms: WholeTerms, seconds_left: Callable[[], float]) -> None:
        self.live = live
        self.terms = terms
        self.seconds_left = seconds_left
        self.rounds = 0

    @property
    def assembly(self) -> Assembly:
        return self.live.assembly

    def solve(self) -> tuple[LinearResult, NDArray[np.int64]]:
        """Solve the live program as it stands with the whole numbers added."""
        self.rounds += 1
        whole = with_whole_numbers(self.live.engine.snapshot(), self.assembly, self.terms)
        result = solve_model(whole.model, seconds=self.seconds_left(), gap=INNER_GAP)
        if not result.values.size:
            return result, np.zeros(0, dtype=np.int64)
        return result, np.rint(result.values[whole.pack_columns]).astype(np.int64)

    def read(self, result: LinearResult, packs: NDArray[np.int64]) -> _Found:
        """Run the masses found through the blend model; the cost is what the program counted."""
        point = self.live.point(result)
        return _Found(replace(point, cost=result.objective), packs)

    def run(self, start: Point) -> _Found | None:
        """Repeat until the exact blend model agrees."""
        at = start
        for _ in range(ROUNDS):
            self.live.linearise(at, frozen=False)
            result, packs = self.solve()
            if not result.values.size:
                return None
            found = self.read(result, packs)
            if found.point.violation <= ACCEPTED:
                return found
            at = found.point
        return None


class _WholeSearch(BoxSearch):
    """The search over boxes with whole numbers kept in every relaxation."""

    def __init__(self, live: LiveModel, loop: _WholeLoop, incumbent: Point | None) -> None:
        super().__init__(live, incumbent, GAP)
        self.loop = loop
        self.found: _Found | None = None
        self._packs = np.zeros(0, dtype=np.int64)

    def _relaxation(self) -> LinearResult:
        result, self._packs = self.loop.solve()
        if result.status is LinearStatus.INTERRUPTED and not np.isfinite(result.proven_bound):
            return replace(result, proven_bound=0.0)
        return result

    def _recipe(self, result: LinearResult) -> Point | None:
        return self._keep(self.loop.read(result, self._packs))

    def _start_loop(self, result: LinearResult) -> Point | None:
        found = self.loop.run(self.live.point(result))
        return self._keep(found) if found is not None else None

    def _keep(self, found: _Found) -> Point:
        better = self.best is None or found.point.cost_per_l < self.best.cost_per_l
        if better and found.point.violation <= ACCEPTED:
            self.found = found
        return found.point
