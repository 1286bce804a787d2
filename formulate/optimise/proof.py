"""The proof: how much dearer than the cheapest recipe the best one known can be."""

from __future__ import annotations

from formulate.optimise.boxes import A_TIE, BoxSearch, Proof, whole_space
from formulate.optimise.branch import TryingSearch
from formulate.optimise.live import LiveModel, Point

__all__ = ["A_TIE", "BoxSearch", "Proof", "prove", "whole_space"]

GAP = 5e-7
"""Relative gap at which the proof is done for one step."""


def prove(
    live: LiveModel,
    incumbent: Point | None,
    *,
    gap: float = GAP,
    most_solves: int = 4000,
    seconds: float = 20.0,
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
        Where to stop; the bound reached by then still holds.

    Returns
    -------
    Proof
    """
    # With one step and no plant that minds the strength a few boxes do: trying would only cost time.
    plain = len(live.assembly.problem.chain.steps) == 1 and not live.assembly.uptakes
    return (BoxSearch if plain else TryingSearch)(live, incumbent, gap).run(most_solves, seconds)
