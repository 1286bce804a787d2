"""Why there is no recipe: the smallest clash of limits, and what would make each one give way.

Every claim rests on the proof, not on the loop: a set of limits is called impossible only
when the relaxation is empty over the whole space of recipes.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from formulate.optimise.assembly import assemble
from formulate.optimise.disjunctions import strictest
from formulate.optimise.problem import BlendProblem, Limit
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import first_guess, run_slp
from formulate.optimise.tolerances import AT_THE_END, GAP_ANY_RECIPE, GAP_NEAREST, GAP_REACH, MOVED_ROOM
from formulate.optimise.tree.proof import is_infeasible_at_root, prove

__all__ = [
    "ClashMember",
    "Explanation",
    "Reach",
    "clash_of",
    "explain",
    "far_above",
    "is_possible",
    "nearest_question",
    "nearest_value",
]

SECONDS = 10.0
"""An explanation is cut short after this time: nobody waits longer for a reason than for a recipe."""
SECONDS_PER_QUESTION = 2.0
SECONDS_PER_REACH = 0.05
ONE_SIDED_TOLERANCE = 0.05
FAR = 20.0
"""Times a target, to push it against where nothing is known that no drink reaches."""


@dataclass(frozen=True)
class ClashMember:
    """One side of a limit that takes part in a clash.

    Attributes
    ----------
    limit : Limit
        One-sided.
    bound : float
        Where it stands, in `limit.unit`.
    reachable : float or None
        Where it would have to stand for a recipe to exist, everything else unchanged; None when
        moving it alone does not help or was not settled in time, and for what nobody can move.
    settled : bool
        Whether that is certain.
    """

    limit: Limit
    bound: float
    reachable: float | None
    settled: bool = True

    @property
    def is_lower(self) -> bool:
        """Whether the clash is with the lower bound."""
        return bool(np.isfinite(self.limit.lower))

    @property
    def has_figure(self) -> bool:
        """Whether moving it alone would do, and how far it must move can be said."""
        return self.reachable is not None and bool(np.isfinite(self.reachable))

    def moved_in(self, problem: BlendProblem) -> BlendProblem:
        """Return the question with this limit moved to where it is reachable, and all others as they are.

        Raises
        ------
        ValueError
            If where that is has no figure: a share or a ratio.
        """
        if not self.has_figure:
            raise ValueError(f"{self.limit.origin.name} has no figure to move to")
        value = (self.reachable or 0.0) / self.limit.display
        room = MOVED_ROOM * max(abs(value), self.limit.scale)
        low = value - room if self.is_lower else self.limit.lower
        high = self.limit.upper if self.is_lower else value + room
        return problem.asking([*_others(problem, self.limit), replace(self.limit, lower=low, upper=high)])


@dataclass(frozen=True)
class Reach:
    """What one target could be if the others were no object, the limits on ingredients kept.

    Attributes
    ----------
    lowest, highest : float or None
        In `limit.unit`, each of a recipe that was found; None when none was found or nothing bounds it.
    proved : bool
        Whether no recipe goes further, to a thousandth of the target's size; else some might.
    """

    limit: Limit
    lowest: float | None
    highest: float | None
    proved: bool = False


@dataclass(frozen=True)
class Explanation:
    """Why no recipe exists.

    Attributes
    ----------
    clash : tuple of ClashMember
        Limits that cannot hold together. Empty when the size alone cannot be met.
    irreducible : bool
        Whether dropping any one member was shown to make the rest possible; else fewer may clash.
    reach : tuple of Reach
        What each target could be on its own.
    """

    clash: tuple[ClashMember, ...]
    irreducible: bool
    reach: tuple[Reach, ...] = ()

    def __str__(self) -> str:
        names = ", ".join(member.limit.origin.name for member in self.clash)
        return f"No recipe meets every limit. These clash: {names or 'the size of the batch'}."


def is_possible(problem: BlendProblem) -> bool | None:
    """Say whether any recipe meets every limit.

    Returns
    -------
    bool or None
        None when it was not settled in time.
    """
    assembly = assemble(problem)
    if is_infeasible_at_root(BlendProgram(assembly)):
        return False
    # Money stays the objective: the cheapest of many recipes is a corner, and the loop settles on it sooner.
    program = BlendProgram(assembly)
    if run_slp(program, first_guess(program.assembly)).converged:
        return True
    proof = prove(program, None, gap=GAP_ANY_RECIPE, seconds=SECONDS_PER_QUESTION)
    if proof.best is not None:
        return True
    return False if proof.complete else None


def explain(problem: BlendProblem, *, seconds: float = SECONDS) -> Explanation:
    """Find the smallest clash by leaving limits out one at a time.

    Parameters
    ----------
    problem : BlendProblem
        Proved to have no recipe.
    seconds : float
        Time in all. What is not settled by then is left out: limits that the clash may not need stay in
        it, and no move or reach is told that was not looked for.
    """
    end = time.monotonic() + seconds
    problem = strictest(problem)
    members, irreducible = _deletion_filter(problem, _sides(problem), end)
    if not members:
        members = _ends_of_the_model(problem)
    clash = tuple(
        ClashMember(side, _bound(side) * side.display, *_moved_alone(problem, side, end)) for side in members
    )
    targets = [limit for limit in problem.limits if limit.is_target]
    reach = tuple(_reach(problem, limit) for limit in targets if time.monotonic() < end)
    return Explanation(clash, irreducible, reach)


def clash_of(problem: BlendProblem, *, seconds: float = SECONDS) -> tuple[Limit, ...]:
    """Find the smallest clash alone, without what would make it give way.

    Parameters
    ----------
    problem : BlendProblem
        Proved to have no recipe.
    seconds : float
        As for `explain`.

    Returns
    -------
    tuple of Limit
        Each one-sided.
    """
    problem = strictest(problem)
    return tuple(_deletion_filter(problem, _sides(problem), time.monotonic() + seconds)[0])


def _sides(problem: BlendProblem) -> list[Limit]:
    """List every side of every limit; usual doses first, as those nobody typed are dropped first."""
    sides = [side for limit in problem.limits for side in limit.sides()]
    return sorted(sides, key=lambda side: not side.origin.dose_of)


def nearest_question(problem: BlendProblem) -> BlendProblem:
    """Return the question whose answer comes nearest to all targets when they cannot all be met.

    Every target may be missed at a price of one per tolerance (half the width of its band; a
    twentieth of a one-sided bound). Limits on ingredients hold. Money does not count, but the
    targets on it do.

    Returns
    -------
    BlendProblem
        For `solve.solve`.
    """
    limits = [
        replace(limit, penalty=1.0 / _tolerance(limit)) if limit.is_target else limit
        for limit in problem.limits
    ]
    return problem.asking(limits).for_free()


def _tolerance(limit: Limit) -> float:
    width = limit.upper - limit.lower
    return width / 2.0 if np.isfinite(width) and width > 0.0 else ONE_SIDED_TOLERANCE * limit.scale


def _reach(problem: BlendProblem, target: Limit) -> Reach:
    alone = problem.asking([limit for limit in problem.limits if not limit.is_target])
    # From as far below nothing as the target is large, so that a gap of the whole is one of the target.
    least = replace(target, lower=-np.inf, upper=-target.scale)
    upper = far_above(target)
    most = replace(target, lower=upper, upper=np.inf)
    # In one step the loop has found it, and one more from a node would take longer than the proof may.
    loops = len(problem.chain.steps) > 1
    lowest, low_proved = _pushed(alone, least, GAP_REACH, SECONDS_PER_REACH, starts_loops=loops)
    highest, high_proved = _pushed(alone, most, GAP_REACH, SECONDS_PER_REACH, starts_loops=loops)
    if highest is not None and highest >= upper * target.display * (1.0 - AT_THE_END):
        highest = None
    lowest = None if lowest is None else max(lowest, 0.0)
    return Reach(target, lowest, highest, low_proved and high_proved)


def far_above(target: Limit) -> float:
    """Return an internal value to push a target against from below: no drink has more of it, or few have."""
    return FAR * target.scale if target.out_of_reach is None else target.out_of_reach


def _moved_alone(problem: BlendProblem, side: Limit, end: float) -> tuple[float | None, bool]:
    if side.firm:
        return None, True
    return nearest_value(problem, side) if time.monotonic() < end else (None, False)


def nearest_value(problem: BlendProblem, side: Limit) -> tuple[float | None, bool]:
    """Find how near a one-sided limit can be met with every other limit kept.

    Parameters
    ----------
    side : Limit
        One side of one of the problem's limits.

    Returns
    -------
    value : float or None
        In the limit's own unit; None when the others clash without it.
    settled : bool
        Whether it is certain that there is none, or none nearer.
    """
    return _pushed(problem.asking(_others(problem, side)), side, GAP_NEAREST, SECONDS_PER_QUESTION)


def _pushed(
    problem: BlendProblem, side: Limit, gap: float, seconds: float, *, starts_loops: bool = True
) -> tuple[float | None, bool]:
    """Push a value towards a one-sided limit the problem does not have; say whether the end is proved."""
    soft = replace(side, penalty=1.0 / side.scale)
    assembly = assemble(problem.asking([*problem.limits, soft]).for_free())
    if is_infeasible_at_root(BlendProgram(assembly)):
        return None, True
    program = BlendProgram(assembly)
    local = run_slp(program, first_guess(program.assembly))
    best = local.point if local.converged else None
    proof = prove(program, best, gap=gap, seconds=seconds, starts_loops=starts_loops)
    if proof.best is None:
        return None, proof.complete
    miss = proof.best.cost_per_l * side.scale
    bound = _bound(side)
    value = bound - miss if np.isfinite(side.lower) else bound + miss
    return value * side.display, proof.complete


def _deletion_filter(problem: BlendProblem, members: Sequence[Limit], end: float) -> tuple[list[Limit], bool]:
    """Drop members that the clash does not need, first in halves, then one by one, until the clock says.

    Before that every least of a usual dose is tried together, and every most: seldom do both take part.
    """
    clash = list(members)
    irreducible = True
    for is_lower in (True, False):
        rest = [side for side in clash if not side.origin.dose_of or np.isfinite(side.lower) != is_lower]
        if len(rest) < len(clash) and is_possible(problem.asking(rest)) is False:
            clash = rest
    chunk = max(len(clash) // 2, 1)
    while chunk >= 1:
        start = 0
        while start < len(clash):
            if time.monotonic() >= end:
                return clash, False
            rest = clash[:start] + clash[start + chunk :]
            possible = is_possible(problem.asking(rest))
            if possible is False:
                clash = rest
                continue
            if possible is None and chunk == 1:
                irreducible = False
            start += chunk
        chunk //= 2
    return clash, irreducible


def _ends_of_the_model(problem: BlendProblem) -> list[Limit]:
    """Find what nobody can move and the loop alone would step over: nodes end there with or without it."""
    if not _loop_finds(problem.asking([])):
        return []
    firm = [side for limit in problem.limits if limit.firm for side in limit.sides()]
    return [side for side in firm if not _loop_finds(problem.asking([side]))]


def _loop_finds(problem: BlendProblem) -> bool:
    program = BlendProgram(assemble(problem))
    return run_slp(program, first_guess(program.assembly)).converged


def _others(problem: BlendProblem, side: Limit) -> list[Limit]:
    """Every limit but one side of one of them, side by side."""
    return [other for limit in problem.limits for other in limit.sides() if not _same(other, side)]


def _same(side: Limit, other: Limit) -> bool:
    return side.origin == other.origin and side.lower == other.lower and side.upper == other.upper


def _bound(side: Limit) -> float:
    return side.lower if np.isfinite(side.lower) else side.upper
