"""The proof: how much dearer than the cheapest recipe the best one known can be."""

from __future__ import annotations

from formulate.optimise.linear import LinearStatus
from formulate.optimise.program import LiveModel, Point
from formulate.optimise.tree.branch_and_bound import A_TIE, BoxSearch, Proof, whole_space
from formulate.optimise.tree.strong_branching import TryingSearch

__all__ = ["A_TIE", "MOST_SOLVES", "BoxSearch", "Proof", "plainly_empty", "prove", "whole_space"]

MOST_SOLVES = 20_000
"""A proof stops after so many linear programs, some twenty seconds of them, however fast the machine is."""


def prove(
    live: LiveModel,
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
    live : LiveModel
    incumbent : Point or None
        A recipe that meets every limit, or None to look for one.
    gap : float
        Relative gap to close.
    most_solves, seconds : int, float
        When to stop, whichever comes first; the bound reached by then still holds.
    starts_loops : bool
        Whether better recipes are looked for; else the bound is all that is wanted.

    Returns
    -------
    Proof
    """
    # With a recipe, one step and no plant that minds the strength a few boxes do, and trying only costs time.
    # Without a recipe, or where only slips are charged, cost cuts few boxes off: narrowing empties them.
    problem = live.assembly.problem
    plain = len(problem.chain.steps) == 1 and not live.assembly.uptakes
    plain = plain and incumbent is not None and problem.money_counts
    search = (BoxSearch if plain else TryingSearch)(live, incumbent, gap)
    search.starts_loops = starts_loops
    return search.run(most_solves, seconds)


def plainly_empty(live: LiveModel) -> bool:
    """Say whether one linear program already shows that there is no recipe.

    Parameters
    ----------
    live : LiveModel

    Returns
    -------
    bool
        True is a proof: the relaxation over the whole space holds every recipe, and holds nothing. False
        says nothing.
    """
    live.relax(whole_space(live.assembly))
    return live.engine.bound()[0] is LinearStatus.INFEASIBLE
