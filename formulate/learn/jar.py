"""What is in a jar: from what went in and, if it was weighed or measured, what came out.

What is missing on the scale stayed in the cake where there is one, else in sieves and vessels: the
step's own figure is moved until the batch gives what came out, and the figure found is told beside
the starting value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch
from formulate.blend.chain import Chain, ChainRun, Step
from formulate.blend.materials import LIQUOR
from formulate.errors import SpecError
from formulate.files.jar import LAST_STEP, Jar
from formulate.physics.mixture import volume_l
from formulate.quantity import Amount, AmountBasis
from formulate.quantity.document import HIDDEN, shown

__all__ = ["OutRecord", "fit_jar"]

FloatArray = NDArray[np.float64]

SLACK = 0.005
"""Share by which more may come out than went in: scales and measuring jugs (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OutRecord:
    """What came out of a step.

    Attributes
    ----------
    text : str
        As typed.
    mass_kg, volume_l : float
        What did come out, the one not measured from the other.
    calculated_kg, calculated_l : float
        What the starting values had given.
    in_cake : bool
        Whether what is missing stayed in a cake; else it was lost.
    missing_kg, starting_kg : float
        Left in the cake or lost: found, and by the starting values.
    """

    step: str
    text: str
    mass_kg: float
    volume_l: float
    calculated_kg: float
    calculated_l: float = field(metadata=HIDDEN)
    in_cake: bool
    missing_kg: float
    starting_kg: float = field(metadata=shown("missing_by_starting_values_g"))


def fit_jar(jar: Jar, batch: BarBatch) -> tuple[BarBatch, tuple[OutRecord, ...]]:
    """Move what each step keeps or loses until it gives what came out.

    Parameters
    ----------
    batch : BarBatch
        The same, by starting values.

    Returns
    -------
    BarBatch
        With the steps as they were found.
    tuple of OutRecord
        In the order of the steps.

    Raises
    ------
    SpecError
        If more came out than went in.
    """
    steps = list(batch.chain.steps)
    names = [step.name for step in steps]
    order = sorted(jar.came_out.items(), key=lambda item: names.index(item[0]) if item[0] else len(names) - 1)
    records = []
    for name, amount in order:
        position = names.index(name) if name else len(names) - 1
        fitted, record = _fit_step(jar, batch, steps, position, name, amount)
        steps[position] = fitted
        records.append(record)
    return replace(batch, chain=Chain(batch.chain.materials, tuple(steps))), tuple(records)


def _fit_step(
    jar: Jar, batch: BarBatch, steps: Sequence[Step], position: int, name: str, amount: Amount
) -> tuple[Step, OutRecord]:
    """Find the one figure of a step that makes it give what came out."""
    step = steps[position]
    by_volume = amount.basis is AmountBasis.VOLUME

    def ran(trial: Step) -> ChainRun:
        changed = (*steps[:position], trial, *steps[position + 1 :])
        return Chain(batch.chain.materials, changed).run(batch.masses_kg)

    def carried(trial: Step) -> FloatArray:
        liquor: FloatArray = ran(trial).carried[position, :LIQUOR]
        return np.maximum(liquor, 0.0)

    def gives(trial: Step) -> float:
        liquor = carried(trial)
        return float(volume_l(liquor, check=False)) if by_volume else float(liquor.sum())

    before = ran(step)
    kept, liquor_kg = float(before.kept_kg[position]), float(before.gross[position, :LIQUOR].sum())
    in_cake = kept > 0.0

    def moved(share: float) -> Step:
        """Return the step with this share of all the liquor left in the cake, or lost."""
        if in_cake:
            grown = share * liquor_kg / kept
            dried = None if step.dried_factor is None else step.dried_factor * grown
            return replace(step, cake_factor=step.cake_factor * grown, dried_factor=dried)
        return replace(step, loss_fraction=share)

    most = gives(moved(0.0))
    key = ("came_out", name) if name != LAST_STEP else ("came_out",)
    if amount.value > most * (1.0 + SLACK):
        unit = "L" if by_volume else "kg"
        message = (
            f"more came out of {step.name} than went in, got {amount.text}: at most {most:.3f} {unit} could. "
            "Check the scale, the weight of the empty jar, and whether a line is missing."
        )
        raise SpecError([jar.places.problem(key, message)])
    low, high = 0.0, 1.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if gives(moved(middle)) > amount.value else (low, middle)
    fitted = moved(0.5 * (low + high))
    start, now = carried(step), carried(fitted)
    after = ran(fitted)
    missing = after.kept_kg if in_cake else after.lost_kg
    starting = before.kept_kg if in_cake else before.lost_kg
    return fitted, OutRecord(
        step=step.name,
        text=amount.text,
        calculated_kg=float(start.sum()),
        calculated_l=float(volume_l(start, check=False)),
        mass_kg=float(now.sum()),
        volume_l=float(volume_l(now, check=False)),
        in_cake=in_cake,
        missing_kg=float(missing[position]),
        starting_kg=float(starting[position]),
    )
