"""Is there a smaller one? Absolute amounts beside a program that counts per litre.

The program minimises what is spent per litre in the end. What is added to a batch that is there is an
amount in all, and a larger addition makes more litres to spread it over. The two are told apart by one
more question: with the batch itself paid at the rate of the best addition known, less a share, can
anything come out below zero? If it is proved that nothing can, no addition is smaller by that share.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.assembly import assemble
from formulate.optimise.problem import BlendProblem
from formulate.optimise.program import LiveModel, evaluate
from formulate.optimise.tree.proof import prove

__all__ = ["smaller_addition"]

FloatArray = NDArray[np.float64]

NEARLY_NOTHING = 1e-6
"""The proof counts from zero, so what is proved is that nothing lies below this share of the margin."""

SECONDS = 5.0


def smaller_addition(
    problem: BlendProblem, weights: FloatArray, masses_kg: FloatArray, volume_l: float, share: float
) -> tuple[FloatArray | None, bool]:
    """Look for an addition that is smaller by a share, or prove that there is none.

    Parameters
    ----------
    problem : BlendProblem
        Of one step; its first ingredient is the batch, fixed in mass.
    weights : ndarray, shape (n,)
        What a kilogram of each counts; that of the batch is 0.
    masses_kg : ndarray, shape (n,)
        The best known, in all.
    volume_l : float
        What it makes.
    share : float
        Such as 0.001.

    Returns
    -------
    masses_kg : ndarray, shape (n,), or None
        A smaller one, in all.
    proved : bool
        Whether it is proved that there is none.
    """
    rate = float(weights @ masses_kg) / float(masses_kg[0]) * (1.0 - share)
    prices = weights.copy()
    prices[0] = -rate
    live = LiveModel(assemble(replace(problem, price_per_kg=prices, money_counts=True)))
    known = evaluate(live.assembly, masses_kg / volume_l, 1.0 / volume_l, np.zeros(0))
    proof = prove(live, known, gap=1.0 - NEARLY_NOTHING, seconds=SECONDS)
    best = proof.best
    if best is not None and best.cost_per_l < 0.0:
        found: FloatArray = best.columns * float(masses_kg[0]) / float(best.columns[0])
        return found, False
    return None, proof.complete
