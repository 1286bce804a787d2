"""Branch and bound: a lower bound on the cost of every recipe, by splitting the space of recipes into nodes.

In a node the relations that are not linear are replaced by linear bounds that every recipe in it satisfies
(`relaxation`), so the linear optimum is a lower bound. The node with the lowest bound is split where the
answer of its relaxation violates a relation most (`branching`), until no node can hold a recipe cheaper than
the incumbent by more than the gap asked for. If every node turns out empty and there is no incumbent, no
recipe exists.
"""

from __future__ import annotations

import heapq
import time
from dataclasses import dataclass
from itertools import count

import numpy as np

from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.point import Point
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import run_slp_near
from formulate.optimise.tolerances import ACCEPTED, EQUAL_COST, NO_VIOLATION, TINY, WORTH_A_LOOP
from formulate.optimise.tree.branching import Violation, interval_widths, relaxation_violations, split_node
from formulate.optimise.tree.node import Node, root_node
from formulate.optimise.watch import is_stopped, tell

__all__ = ["BranchAndBound", "EvaluatedNode", "Proof"]

EAGER_LOOPS = 3
"""The loop is started from each of the first nodes, then from ever fewer."""

EDGE = 0.1
"""A branch keeps at least this part of the interval that is split."""


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
        return max(cost - self.lower_bound, 0.0) / max(cost, TINY)


@dataclass(frozen=True)
class EvaluatedNode:
    """A node, its bound, and where the answer of its relaxation is no recipe, worst first."""

    bound: float
    violations: tuple[Violation, ...]
    node: Node


class BranchAndBound:
    """Best-first search over nodes; used once.

    Parameters
    ----------
    gap : float
        Relative gap to close.

    Attributes
    ----------
    starts_loops : bool
        Whether better recipes are looked for from the nodes; else the proof bounds and does not search.
    """

    edge = EDGE
    starts_loops = True

    def __init__(self, program: BlendProgram, incumbent: Point | None, gap: float) -> None:
        self.program = program
        self.assembly = program.assembly
        self.incumbent = incumbent
        self.gap = gap
        self.nodes = 0
        self.seconds = self.until = np.inf
        self._solved_before = program.engine.solves
        self._next_loop = 4 if incumbent is not None and len(program.assembly.streams) == 1 else 1
        self._order = count()

    @property
    def solves(self) -> int:
        """Linear programs solved so far."""
        return self.program.engine.solves - self._solved_before

    @property
    def cutoff(self) -> float:
        """Cost that the bound of a node must stay below to be worth a look."""
        return np.inf if self.incumbent is None else self.incumbent.cost_per_l * (1.0 - self.gap)

    def run(self, most_solves: int, seconds: float) -> Proof:
        """Branch until the gap is closed or a limit is hit."""
        self.seconds, self.until = seconds, time.monotonic() + seconds
        heap: list[tuple[float, int, Node]] = [(0.0, next(self._order), root_node(self.assembly))]
        fathomed = np.inf
        while heap:
            bound, _, node = heapq.heappop(heap)
            if bound >= self.cutoff:
                fathomed = min(fathomed, bound)
                break
            self._tell(bound)
            if self.solves >= most_solves or time.monotonic() > self.until or is_stopped():
                heapq.heappush(heap, (bound, next(self._order), node))
                break
            evaluated = self._evaluate(node)
            if evaluated is None:
                continue
            bound = max(bound, evaluated.bound)
            children = self._children(evaluated)
            if children is None:
                fathomed = min(fathomed, bound)
                continue
            for child_bound, child in children:
                heapq.heappush(heap, (max(bound, child_bound), next(self._order), child))
        open_bound = min((bound for bound, _, _ in heap), default=np.inf)
        lower = min(open_bound, fathomed, self.cutoff)
        nothing_open = not heap or open_bound >= self.cutoff
        complete = nothing_open and fathomed >= self.cutoff
        return Proof(self.incumbent, lower, self.solves, complete)

    def _tell(self, bound: float) -> None:
        """Tell whoever watches how near the proof is; what is cheapest so far costs that per litre."""
        if self.incumbent is not None:
            cost = self.incumbent.cost_per_l
            tell(gap=max(cost - bound, 0.0) / max(cost, TINY))

    def _evaluate(self, node: Node) -> EvaluatedNode | None:
        """Solve the relaxation of a node; None when it holds nothing worth having."""
        self.nodes += 1
        tightened = self._tightened(node)
        if tightened is None:
            return None
        node = tightened
        self.program.relax(node)
        result = self._solve_relaxation()
        if result.status in (LinearStatus.INFEASIBLE, LinearStatus.CUT_OFF):
            return None
        if not result.values.size or not np.isfinite(result.proven_bound):
            return EvaluatedNode(0.0, interval_widths(node), node)
        if result.proven_bound >= self.cutoff:
            return None
        violations = relaxation_violations(self.assembly, node, result.values)
        if violations[0].size < NO_VIOLATION:
            self._offer(self._recipe(result))
        elif self._is_worth_a_loop(result.proven_bound):
            self._offer(self._start_loop(result))
        return EvaluatedNode(result.proven_bound, violations, node)

    def _children(self, evaluated: EvaluatedNode) -> list[tuple[float, Node]] | None:
        """Branch where the relaxation is violated most; None when no interval is left to split.

        Each child comes with a bound of its own, where one is known. No child is left when none can hold
        anything worth having.
        """
        for violation in evaluated.violations:
            if violation.size >= NO_VIOLATION:
                children = split_node(evaluated.node, violation, self.edge)
                if children:
                    return [(evaluated.bound, child) for child in children]
        return None

    def _tightened(self, node: Node) -> Node | None:
        """Tighten a node without losing a recipe worth having; None when it holds none."""
        return node

    def _solve_relaxation(self) -> LinearResult:
        """Solve the program, relaxed over a node."""
        return self.program.solve(self.cutoff)

    def _recipe(self, result: LinearResult) -> Point | None:
        """Read a recipe off an answer that violates nothing."""
        return self.program.point(result)

    def _start_loop(self, result: LinearResult) -> Point | None:
        """Start the loop from an answer that violates something."""
        return run_slp_near(self.program, self.program.point(result)).point

    def _is_worth_a_loop(self, bound: float) -> bool:
        """Whether to start the loop from this node: often at first, then each time the count has doubled."""
        is_promising = bound < self.cutoff * (1.0 - WORTH_A_LOOP)
        if not self.starts_loops or not is_promising or self.nodes < self._next_loop:
            return False
        eager = self.incumbent is None or self.nodes < EAGER_LOOPS
        self._next_loop = self.nodes + 1 if eager else 2 * self.nodes
        return True

    def _offer(self, point: Point | None) -> None:
        """Take a recipe as the incumbent if it is feasible and cheaper."""
        if point is None or point.violation > ACCEPTED:
            return
        # A hair cheaper is a tie: it would only undo the order in which ties are broken.
        if self.incumbent is None or point.cost_per_l < self.incumbent.cost_per_l * (1.0 - EQUAL_COST):
            self.incumbent = point
