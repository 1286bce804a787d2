"""The proof: how much dearer than the cheapest recipe the best one known can be.

With one step plain branch and bound closes in a few nodes. In a kitchen of several steps they are tied to
each other: how much liquor a step holds says at once what share its cake keeps, how strong a dose of plants
it is given, and what can be left for the others. There nodes are tightened over all their intervals, and the
next one to branch on is found by strong branching: each of the worst few is split, both children are
bounded, and the one is taken whose children are raised most. A child that holds nothing worth having is cut
off on the way.
"""

from __future__ import annotations

import time

from formulate.optimise.breakpoints import smooth_intervals, smooth_intervals_at
from formulate.optimise.linear import LinearResult, LinearStatus
from formulate.optimise.point import Point
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import run_trust_region
from formulate.optimise.tree.bound_tightening import BoundTightening
from formulate.optimise.tree.branch_and_bound import BranchAndBound, EvaluatedNode, Proof
from formulate.optimise.tree.branching import Violation, split_node
from formulate.optimise.tree.node import Node, root_node

__all__ = ["MOST_SOLVES", "StrongBranching", "is_infeasible_at_root", "prove"]

MOST_SOLVES = 20_000
"""A proof stops after so many linear programs, some twenty seconds of them, however fast the machine is."""

CANDIDATES = 8
"""So many intervals are tried before one is branched on."""

ROOT_ROUNDS = 3
EVERY = 2
"""One node in so many is tightened before its relaxation is solved."""

ROOT_SHARE = 0.25
"""Part of the time given that tightening the root may take."""

TOWARDS_MIDDLE = 0.5

LEAST_SLICE = 0.05
"""An interval is not split at a breakpoint nearer to its end than this part of its width."""

LEAST_GAIN = 1e-9
"""A child counts as raised by this at least, relative: so that a split with one good child is seen."""


def prove(
    program: BlendProgram,
    incumbent: Point | None,
    *,
    gap: float,
    most_solves: int = MOST_SOLVES,
    seconds: float = 20.0,
    starts_loops: bool = True,
) -> Proof:
    """Bound the cost of every recipe from below, and improve the incumbent on the way.

    Parameters
    ----------
    incumbent : Point or None
        A recipe that meets every limit, or None to look for one.
    gap : float
        Relative gap to close.
    most_solves, seconds : int, float
        When to stop, whichever comes first; the bound reached by then still holds.
    starts_loops : bool
        Whether better recipes are looked for; else the bound is all that is wanted.
    """
    # With a recipe, one step and no plant that minds the strength a few nodes do, and trying only costs time.
    # Without a recipe, or where only penalties count, cost cuts few nodes off: tightening empties them.
    problem = program.assembly.problem
    plain = len(problem.chain.steps) == 1 and not program.assembly.uptakes
    plain = plain and incumbent is not None and problem.money_counts
    search = (BranchAndBound if plain else StrongBranching)(program, incumbent, gap)
    search.starts_loops = starts_loops
    return search.run(most_solves, seconds)


def is_infeasible_at_root(program: BlendProgram) -> bool:
    """Say whether one linear program already shows that there is no recipe.

    Returns
    -------
    bool
        True is a proof: the relaxation of the root holds every recipe, and holds nothing. False says nothing.
    """
    program.relax(root_node(program.assembly))
    return program.engine.bound()[0] is LinearStatus.INFEASIBLE


class StrongBranching(BranchAndBound):
    """Branch and bound that tightens nodes and tries several splits before it takes one; used once.

    Parameters
    ----------
    gap : float
        Relative gap to close.
    """

    def __init__(self, program: BlendProgram, incumbent: Point | None, gap: float) -> None:
        super().__init__(program, incumbent, gap)
        program.engine.expect_few_pivots()
        self._tightening = BoundTightening(program.engine.snapshot(), program.assembly)
        steps = {row.step for row in self.assembly.uptakes}
        self._breakpoints = {
            self.assembly.stream_numbers[step, False]: [
                interval.upper for interval in smooth_intervals(self.assembly, step)
            ]
            for step in steps
        }

    @property
    def solves(self) -> int:
        """Linear programs solved so far."""
        return super().solves + self._tightening.engine.solves

    def _tightened(self, node: Node) -> Node | None:
        if self.nodes == 1:
            until = time.monotonic() + ROOT_SHARE * self.seconds
            return self._tightening.tightened(node, self.cutoff, rounds=ROOT_ROUNDS, until=until)
        if self.nodes % EVERY:
            return node
        return self._tightening.tightened(node, self.cutoff)

    def _start_loop(self, result: LinearResult) -> Point | None:
        """Start the loop from an answer, in its own smooth intervals of the strength tables, then freely.

        Across a breakpoint of a table the loop sees one of two slopes; between two of them it settles.
        """
        start = self.program.point(result)
        self.program.confine_ethanol(smooth_intervals_at(self.assembly, start))
        confined = run_trust_region(self.program, start)
        self.program.confine_ethanol({})
        if confined.point is None or not confined.converged:
            return run_trust_region(self.program, start).point
        self._offer(confined.point)
        # Freely it ends a little better or worse: not worth what may be all the time there was.
        if time.monotonic() > self.until:
            return confined.point
        return run_trust_region(self.program, confined.point).point

    def _children(self, evaluated: EvaluatedNode) -> list[tuple[float, Node]] | None:
        node, is_cut = evaluated.node, False
        best_score, best_children = 0.0, list[tuple[float, Node]]()
        tried = 0
        for violation in evaluated.violations:
            if tried == CANDIDATES:
                break
            halves = self._split(node, violation)
            if not halves:
                continue
            tried += 1
            children = [(bound, half) for half in halves if (bound := self._bound(half)) is not None]
            if not children:
                return []
            if len(children) == 1:
                node, is_cut = children[0][1], True
                best_score, best_children = 0.0, children
                continue
            least = LEAST_GAIN * abs(evaluated.bound)
            gains = [max(bound - evaluated.bound, least) for bound, _ in children]
            score = gains[0] * gains[1]
            if not is_cut and score > best_score:
                best_score, best_children = score, children
        return best_children or None

    def _split(self, node: Node, violation: Violation) -> tuple[Node, ...]:
        """Split an interval: where a strength table has a breakpoint inside it, at that point."""
        if violation.variable == "ethanol":
            interval = node.ethanol[violation.number]
            margin = LEAST_SLICE * interval.width
            inside = [
                at
                for at in self._breakpoints.get(violation.number, ())
                if interval.lower + margin < at < interval.upper - margin
            ]
            if inside:
                nearest = min(inside, key=lambda at: abs(at - violation.at))
                return split_node(node, violation._replace(at=nearest), 0.0)
        return split_node(node, violation, self.edge, TOWARDS_MIDDLE)

    def _bound(self, node: Node) -> float | None:
        """Bound a node; None when it holds nothing worth having."""
        self.program.relax(node)
        status, objective = self.program.engine.bound(self.cutoff)
        if status in (LinearStatus.INFEASIBLE, LinearStatus.CUT_OFF):
            return None
        if status is not LinearStatus.OPTIMAL:
            return 0.0
        return objective if objective < self.cutoff else None
