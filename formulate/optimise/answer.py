"""What a solve answers: a frozen record that exists only once it has been re-computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR
from formulate.blend.profile import Profile, profile
from formulate.errors import VerificationError
from formulate.optimise.problem import BlendProblem, Limit, limit_value
from formulate.optimise.tolerances import AT_BOUND, TINY, VERIFIED_SLACK

__all__ = [
    "Answer",
    "LimitValue",
    "Measured",
    "Status",
    "cost_of",
    "limit_values",
    "measure",
    "stands_at_bound",
    "verify",
]

FloatArray = NDArray[np.float64]


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
    masses_kg : ndarray, shape (steps, n)
        For the whole batch, as bought.
    purchases_kg : ndarray, shape (purchases,)
        What is bought for its parts, whole batch.
    volume_l : float
        Bottled.
    limits : tuple of LimitValue
        In the order of `problem.limits`. Limits that choices among ingredients added come last there and
        are left out here, so this may be the shorter one.
    proven_gap : float
        The recipe is at most this much dearer, relative, than any that meets the limits.
    reduced_costs : ndarray, shape (unknowns,)
        Per unknown mass, what one kilogram of it would add to the cost per litre; 0 when used.
    passes, proof_solves : int
        Linear programs of the loop and of the proof.
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


@dataclass(frozen=True)
class Measured:
    """What the blend model makes of a batch.

    Attributes
    ----------
    values : ndarray, shape (limits,)
        In the order of `problem.limits`, per litre bottled, internal units.
    cost : float
        Of the whole batch.
    """

    run: ChainRun
    profile: Profile
    values: FloatArray
    cost: float

    @property
    def cost_per_l(self) -> float:
        """Cost per litre bottled."""
        return float(self.cost / self.profile.volume_l)


def limit_values(
    limits: Sequence[Limit], values: Sequence[float] | FloatArray, shadow_prices: Sequence[float] | FloatArray
) -> tuple[LimitValue, ...]:
    """Lay out what a recipe makes of each limit, in the unit a person reads.

    Parameters
    ----------
    values : sequence of float, same length
        Per litre bottled, internal units.
    shadow_prices : sequence of float, same length
        As in `LimitValue`.
    """
    return tuple(
        LimitValue(
            limit=limit,
            lower=limit.lower * limit.display,
            upper=limit.upper * limit.display,
            value=float(value) * limit.display,
            binding=stands_at_bound(limit, float(value)),
            shadow_price=float(price),
        )
        for limit, value, price in zip(limits, values, shadow_prices, strict=True)
    )


def stands_at_bound(limit: Limit, value: float) -> bool:
    """Whether a value, per litre bottled in internal units, stands at a bound of a limit or beyond it."""
    near = AT_BOUND * limit.scale
    return bool(value - limit.lower <= near or limit.upper - value <= near)


def measure(problem: BlendProblem, masses_kg: FloatArray, purchases_kg: FloatArray) -> Measured:
    """Run a batch through the blend model from scratch, whatever comes out.

    Parameters
    ----------
    masses_kg : ndarray, shape (steps, n)
        The whole batch.
    purchases_kg : ndarray, shape (purchases,)
    """
    run = problem.chain.run(masses_kg)
    drink = profile(run.bottled, problem.chain.materials)
    volume = drink.volume_l
    cost = cost_of(problem, masses_kg, purchases_kg)
    used = masses_kg.sum(axis=0) / volume
    values = np.array(
        [
            limit_value(limit, run.bottled / volume, used, 1.0 / volume, cost / volume)
            for limit in problem.limits
        ]
    )
    return Measured(run, drink, values, cost)


def verify(problem: BlendProblem, masses_kg: FloatArray, purchases_kg: FloatArray) -> Measured:
    """Measure a batch and hold it against every limit.

    Independent of the rows the solver saw: it starts from the weighed masses alone.

    Parameters
    ----------
    masses_kg : ndarray, shape (steps, n)
        The whole batch.
    purchases_kg : ndarray, shape (purchases,)

    Raises
    ------
    VerificationError
        If a limit is violated by more than `VERIFIED_SLACK` of its size.
    """
    measured = measure(problem, masses_kg, purchases_kg)
    volume = measured.profile.volume_l
    liquor = measured.run.gross[:, :LIQUOR].sum(axis=1)
    if (liquor < measured.run.kept_kg - TINY).any():
        raise VerificationError("A cake in the recipe would keep more liquor than there is.")
    if problem.volume_l is not None and abs(volume / problem.volume_l - 1.0) > VERIFIED_SLACK:
        raise VerificationError(f"The recipe makes {volume:.6f} L where {problem.volume_l:g} L were asked.")
    if problem.purchases:
        used = masses_kg.sum(axis=0)
        short = (used - purchases_kg @ problem.yields)[problem.yields.any(axis=0)]
        if short.max(initial=0.0) > VERIFIED_SLACK * max(float(used.sum()), TINY):
            raise VerificationError("The recipe uses more of a part than what is bought yields.")
    for limit, value in zip(problem.limits, measured.values, strict=True):
        if not limit.soft and limit.violation(value) > VERIFIED_SLACK * limit.scale + TINY:
            raise VerificationError(
                f"{limit.origin.name} came out at {value * limit.display:.6g} {limit.unit} "
                f"on re-computation, outside {limit.lower * limit.display:.6g} "
                f"to {limit.upper * limit.display:.6g}."
            )
    return measured


def cost_of(problem: BlendProblem, masses_kg: FloatArray, purchases_kg: FloatArray) -> float:
    """Add up what a batch costs."""
    return float(masses_kg.sum(axis=0) @ problem.price_per_kg + purchases_kg @ problem.purchase_prices)
