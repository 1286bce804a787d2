"""Money to the cent, as a bill and a spreadsheet round it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal

__all__ = ["cents_adding_up", "to_cents"]

_CENT = Decimal("0.01")
DIGITS = 15
"""Decimal digits a double holds for certain (IEEE 754); spreadsheets round by them."""


def to_cents(amount: float) -> float:
    """Round money to the cent, half a cent away from nothing.

    Three packs at 0.335 are 1.005 and so 1.01, though the nearest double lies a hair below.

    Parameters
    ----------
    amount : float
    """
    return float(_exact(amount).quantize(_CENT, ROUND_HALF_UP)) + 0.0


def cents_adding_up(amounts: Sequence[float], total: float) -> list[float]:
    """Round the parts of a sum to cents that add up to the sum as it is shown.

    Each is cut to the cent, and the cents still missing go to those of which most was cut off (the method of
    largest remainders); of equals the first.

    Parameters
    ----------
    amounts : sequence of float
        Not negative.
    total : float
        Their sum, in whole cents.
    """
    exact = [_exact(amount) for amount in amounts]
    cut = [amount.quantize(_CENT, ROUND_FLOOR) for amount in exact]
    missing = int((_exact(total) - sum(cut)) / _CENT)
    most_cut_off = sorted(range(len(exact)), key=lambda number: cut[number] - exact[number])
    for number in most_cut_off[: max(missing, 0)]:
        cut[number] += _CENT
    return [float(amount) for amount in cut]


def _exact(amount: float) -> Decimal:
    return Decimal(f"{amount:.{DIGITS}g}")
