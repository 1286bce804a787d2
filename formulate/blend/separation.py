"""What a cake keeps and what is lost, by what the liquor is strained through.

The library gives a fruit's retention as from a hand-squeezed bag and a dried plant's as pressed;
each way of straining changes them by a factor of its own. In series the cake is as dry as its
hardest squeeze left it, and the losses add. All are starting values from common practice: weigh
yours once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["SEPARATIONS", "Separation", "Straining", "strain_through"]


@dataclass(frozen=True, slots=True)
class Separation:
    """One way of straining.

    Attributes
    ----------
    cake_factor : float or None
        What a fruit's cake keeps, relative to a hand-squeezed bag; None for a filter that sees no cake.
    dried_factor : float or None
        What a dried plant keeps, relative to a pressed one.
    loss_fraction : float
        Share of the liquor it drinks or spills.
    hold_up_kg : float
        Liquor it holds whatever the batch.
    minutes_per_l : float
        Working time, a guess to plan with.
    """

    cake_factor: float | None
    dried_factor: float | None
    loss_fraction: float
    hold_up_kg: float
    minutes_per_l: float
    source: str
    confidence: str


SEPARATIONS: dict[str, Separation] = {
    "coarse-sieve": Separation(
        1.8,
        1.5,
        0.0,
        0.0,
        1.0,
        "drained against squeezed plants; coffee 3.2 drained, 2.1 pressed",
        "common practice",
    ),
    "fine-sieve": Separation(
        1.6, 1.4, 0.002, 0.0, 2.0, "between a drained and a squeezed plant", "from memory"
    ),
    "cloth": Separation(1.0, 1.2, 0.0075, 0.0, 5.0, "cloth or nut-milk bag, 0.5 to 1 %", "common practice"),
    "press": Separation(
        0.5,
        1.0,
        0.005,
        0.0,
        3.0,
        "small hydraulic press, fruit 1.5 to 2.3 against 3 to 5 g/g",
        "common practice",
    ),
    "paper": Separation(None, None, 0.0, 0.015, 20.0, "paper coffee filter, 10 to 20 mL", "common practice"),
}


@dataclass(frozen=True, slots=True)
class Straining:
    """Several separations in series.

    Attributes
    ----------
    cake_factor, dried_factor, loss_fraction, hold_up_kg, minutes_per_l : float
        As for one; see `Separation`.
    """

    cake_factor: float = 1.0
    dried_factor: float = 1.0
    loss_fraction: float = 0.0
    hold_up_kg: float = 0.0
    minutes_per_l: float = 0.0


def strain_through(names: Sequence[str]) -> Straining:
    """Combine separations in series.

    Parameters
    ----------
    names : sequence of str
        Keys of `SEPARATIONS`; none gives a hand-squeezed bag that loses nothing.
    """
    used = [SEPARATIONS[name] for name in names]
    passed = 1.0
    for separation in used:
        passed *= 1.0 - separation.loss_fraction
    factors = [separation.cake_factor for separation in used if separation.cake_factor is not None]
    dried = [separation.dried_factor for separation in used if separation.dried_factor is not None]
    return Straining(
        cake_factor=min(factors, default=1.0),
        dried_factor=min(dried, default=1.0),
        loss_fraction=1.0 - passed,
        hold_up_kg=sum(separation.hold_up_kg for separation in used),
        minutes_per_l=sum(separation.minutes_per_l for separation in used),
    )
