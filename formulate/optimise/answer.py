"""What a solve answers: a frozen record that exists only once it has been re-computed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR
from formulate.blend.profile import Profile, profile
from formulate.errors import VerificationError
from formulate.optimise.problem import BlendProblem, Limit, limit_value

__all__ = ["VERIFIED_SLACK", "Answer", "LimitValue", "Status", "cost_of", "verify"]

FloatArray = NDArray[np.float64]

VERIFIED_SLACK = 1e-7
"""Largest relative slip of a limit that verification lets pass."""


class Status(StrEnum):
    """What is known about a recipe."""

    OPTIMAL = "optimal"
    """Proved: no recipe is cheaper by more than the gap of the proof."""
    FEASIBLE = "feasible"
    """Meets every limit; how much cheaper another could be is bounded by the gap reported."""


@dataclass(frozen=True)
class LimitValue:
    """A limit with what the recipe makes of it, in the unit a person reads.

    Attributes
    ----------
    limit : Limit
    lower, upper, value : float
        In `limit.unit`.
    binding : bool
        Whether the value stands at a bound.
    shadow_price : float
        Change of the cost per litre for one more `unit` of the bound it stands at; 0 when not
        binding, NaN when it is not known.
    """

    limit: Limit
    lower: float
    upper: float
    value: float
    binding: bool
    shadow_price: float


@dataclass(frozen=True)
class Answer:
    """A recipe that was solved and verified.

    Attributes
    ----------
    problem : BlendProblem
    status : Status
    masses_kg : ndarray, shape (steps, n)
        For the whole batch, as bought.
    purchases_kg : ndarray, shape (purchases,)
        What is bought for its parts, whole batch.
    volume_l : float
        Bottled.
    run : ChainRun
    profile : Profile
    limits : tuple of LimitValue
        In the order of the question.
    cost, cost_per_l : float
    proven_gap : float
        The recipe is at most this much dearer, relative, than any that meets the limits.
    reduced_costs : ndarray, shape (unknowns,)
        Per unknown mass, what one kilogram of it would add to the cost per litre; 0 when used.
    passes, proof_solves : int
        Linear programs of the loop and of the proof.
    seconds : float
    """

    problem: BlendProblem
    status: Status
    masses_kg: FloatArray
    purchases_kg: FloatArray
    volume_l: float
    run: ChainRun
    profile: Profile
    limits: tuple[LimitValue, ...]
    cost: float
    cost_per_l: float
    proven_gap: float
    reduced_costs: FloatArray
    passes: int
    proof_solves: int
    seconds: float


def verify(
    problem: BlendProblem, masses_kg: FloatArray, purchases_kg: FloatArray
) -> tuple[ChainRun, Profile, FloatArray]:
    """Run a batch through the blend model from scratch and hold it against every limit.

    Independent of the rows the solver saw: it starts from the weighed masses alone.

    Parameters
    ----------
    problem : BlendProblem
    masses_kg : ndarray, shape (steps, n)
        The whole batch.
    purchases_kg : ndarray, shape (purchases,)

    Returns
    -------
    run : ChainRun
    profile : Profile
    values : ndarray, shape (limits,)
        Per litre bottled, internal units.

    Raises
    ------
    VerificationError
        If a limit slips by more than `VERIFIED_SLACK` of its size.
    """
    run = problem.chain.run(masses_kg)
    drink = profile(run.bottled, problem.chain.materials)
    volume = drink.volume_l
    liquor = run.gross[:, :LIQUOR].sum(axis=1)
    if (liquor < run.kept_kg - 1e-12).any():
        raise VerificationError("A cake in the recipe would keep more liquor than there is.")
    if problem.volume_l is not None and abs(volume / problem.volume_l - 1.0) > VERIFIED_SLACK:
        raise VerificationError(f"The recipe makes {volume:.6f} L where {problem.volume_l:g} L were asked.")
    used = masses_kg.sum(axis=0)
    if problem.purchases:
        short = (used - purchases_kg @ problem.yields)[problem.yields.any(axis=0)]
        if short.max(initial=0.0) > VERIFIED_SLACK * max(float(used.sum()), 1e-12):
            raise VerificationError("The recipe uses more of a part than what is bought yields.")
    money = cost_of(problem, masses_kg, purchases_kg) / volume
    values = np.array(
        [
            limit_value(limit, run.bottled / volume, used / volume, 1.0 / volume, money)
            for limit in problem.limits
        ]
    )
    for limit, value in zip(problem.limits, values, strict=True):
        if not limit.soft and limit.slip(value) > VERIFIED_SLACK * limit.scale + 1e-12:
            raise VerificationError(
                f"{limit.origin.name} came out at {value * limit.display:.6g} {limit.unit} "
                f"on re-computation, outside {limit.lower * limit.display:.6g} "
                f"to {limit.upper * limit.display:.6g}."
            )
    return run, drink, values


def cost_of(problem: BlendProblem, masses_kg: FloatArray, purchases_kg: FloatArray) -> float:
    """Add up what a batch costs."""
    return float(masses_kg.sum(axis=0) @ problem.price_per_kg + purchases_kg @ problem.purchase_prices)
