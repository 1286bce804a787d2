"""Money to the cent, as a bill and a spreadsheet round it."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

__all__ = ["to_cents"]

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
    return float(Decimal(f"{amount:.{DIGITS}g}").quantize(_CENT, ROUND_HALF_UP)) + 0.0
