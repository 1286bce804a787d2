"""What the bar's balances can show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.files.shelf import Balance

__all__ = ["DEFAULT_BALANCES", "steps_kg"]

FloatArray = NDArray[np.float64]

DEFAULT_BALANCES = (
    Balance(name="fine", step_kg=0.0001, up_to_kg=0.2),
    Balance(name="bench", step_kg=0.001, up_to_kg=5.0),
    Balance(name="floor", step_kg=0.005, up_to_kg=1000.0),
)
"""0.1 g to 200 g, 1 g to 5 kg, 5 g above: a bar's usual balances (common practice)."""


def steps_kg(masses_kg: FloatArray, balances: Sequence[Balance]) -> FloatArray:
    """Return the finest step each mass can be weighed in.

    Parameters
    ----------
    balances : sequence of Balance
        The shelf's; the usual ones when it lists none.
    """
    known = sorted(balances or DEFAULT_BALANCES, key=lambda balance: balance.up_to_kg)
    steps = np.full(len(masses_kg), max(balance.step_kg for balance in known))
    for position, mass in enumerate(masses_kg):
        carrying = [balance.step_kg for balance in known if balance.up_to_kg >= mass]
        if carrying:
            steps[position] = min(carrying)
    return steps
