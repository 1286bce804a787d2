"""Pectin through the steps: what fruit and pith bring in, what the enzyme leaves, what it can give off.

Pectin is followed beside the blend, not in it: it is a few grams per litre at most and counts as
solid there. All that a fruit holds counts as brought in, an upper bound. How fast the enzyme is,
above all in spirit, is a starting guess (see `physics.enzyme`): what is told from here on sends the
person to the end test.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.blend.batch import Batch
from formulate.blend.materials import LIQUOR
from formulate.files.ingredient import Ingredient
from formulate.files.steps import ENZYME, EnzymeUse, StepSpec
from formulate.physics.enzyme import (
    METHANOL_G_PER_G_PECTIN,
    UNFORTIFIED_MASH,
    Finish,
    pectin_left,
    surviving_share,
    time_to_finish_h,
)

__all__ = [
    "CLEAR_G_L",
    "Hold",
    "PectinRun",
    "StepPectin",
    "brings_pectin",
    "done_share",
    "follow_pectin",
    "hold_before_spirit",
    "pectin_course",
]

FloatArray = NDArray[np.float64]

CLEAR_G_L = 0.3
"""Pectin a clear liquor may hold before a paper filter clogs (our working figure, to calibrate)."""

DRY_PLANTS = frozenset({"root", "bark", "herb", "flower", "spice", "other"})
"""Families whose pectin is counted as staying in the plant: dried, and dosed by the gram (assumption)."""

DONE_SHARE = 0.05
"""Pectin left of what was there that counts as done."""

ROUNDED_UP_TO_H = 1.0 / 12.0


@dataclass(frozen=True, slots=True)
class Hold:
    """Fruit and enzyme alone, before the spirit goes in."""

    time_h: float
    temperature_c: float


@dataclass(frozen=True, slots=True)
class StepPectin:
    """The pectin of one step.

    Attributes
    ----------
    fruit_kg : float
        Fruit, pith and the like that bring pectin, as bought.
    brought_g : float
        Brought in by them.
    before_g_l, left_g_l : float
        Per litre of the liquor in the vessel, what flowed in included: before the enzyme, and after
        it; the same without one. `left_g_l` is NaN where the time or the temperature is not known.
    liquor_l, strength_pct_vol : float
        Of the liquor in the vessel.
    enzyme_g : float
        To weigh in.
    hold : Hold or None
        Fruit alone first; None unless the enzyme goes in before the spirit.
    finish : Finish or None
        When the enzyme should be done, where it works with the spirit in.
    """

    step: str
    fruit_kg: float
    brought_g: float
    before_g_l: float
    left_g_l: float
    liquor_l: float
    strength_pct_vol: float
    enzyme: EnzymeUse | None
    enzyme_g: float
    hold: Hold | None
    finish: Finish | None


@dataclass(frozen=True, slots=True)
class PectinRun:
    """The pectin of a batch.

    Attributes
    ----------
    methanol_g : float
        Most that can be in the bottles: every ester of the pectin that met an enzyme split, and carried
        through the steps as the liquor is. What spirit and fruit bring themselves is not in it.
    pure_alcohol_l : float
        Bottled.
    """

    steps: tuple[StepPectin, ...]
    methanol_g: float
    pure_alcohol_l: float
    bottled_l: float


def hold_before_spirit(enzyme: EnzymeUse, pectin_g_l: float, temperature_c: float | None) -> Hold:
    """Say how fruit and enzyme are held before the spirit goes in.

    Parameters
    ----------
    pectin_g_l : float
        Before, per litre of the liquor to come.
    temperature_c : float or None
        Of the step.

    Returns
    -------
    Hold
        As warm as the step within the window for a mash without spirit (50 degrees Celsius where the step
        is colder or hotter), until 5 % is left or it is clear, whichever is longer, but two hours at most.
    """
    low, high = UNFORTIFIED_MASH.temperature_c
    warm = temperature_c if temperature_c is not None and low <= temperature_c <= high else high
    finish = time_to_finish_h(enzyme.dose_g_per_kg, warm, residual_share=done_share(pectin_g_l))
    hours = UNFORTIFIED_MASH.longest_h if finish.hours is None else finish.hours
    rounded = math.ceil(hours / ROUNDED_UP_TO_H - 1e-9) * ROUNDED_UP_TO_H
    return Hold(min(rounded, UNFORTIFIED_MASH.longest_h), warm)


def pectin_course(
    enzyme: EnzymeUse | None,
    before_g_l: float,
    time_h: float | None,
    temperature_c: float | None,
    strength_pct_vol: float,
) -> tuple[float, Hold | None, Finish | None]:
    """Say what an enzyme leaves of the pectin in a step.

    Parameters
    ----------
    before_g_l : float
        Per litre of the liquor.
    time_h, temperature_c : float or None
        Of the step, the spirit in.
    strength_pct_vol : float
        Of its liquor.

    Returns
    -------
    left_g_l : float
        Per litre; NaN where an enzyme works with the spirit in for a time that is not known.
    hold : Hold or None
        Fruit and enzyme alone first.
    finish : Finish or None
        When the enzyme should be done with the spirit in.
    """
    if enzyme is None:
        return before_g_l, None, None
    dose, share, hold, finish = enzyme.dose_g_per_kg, 1.0, None, None
    if enzyme.when == "before spirit":
        hold = hold_before_spirit(enzyme, before_g_l, temperature_c)
        share = float(pectin_left(1.0, dose, hold.time_h, hold.temperature_c))
        dose *= float(surviving_share(hold.time_h, hold.temperature_c))
    if time_h is not None and temperature_c is not None:
        share *= float(pectin_left(1.0, dose, time_h, temperature_c, strength_pct_vol))
        if hold is None:
            done = done_share(before_g_l)
            finish = time_to_finish_h(dose, temperature_c, strength_pct_vol, residual_share=done)
    elif hold is None:
        share = math.nan
    return before_g_l * share, hold, finish


def done_share(before_g_l: float) -> float:
    """Share of the pectin that may be left when the enzyme counts as done: 5 %, or less to be clear."""
    return max(min(DONE_SHARE, CLEAR_G_L / before_g_l), 1e-6) if before_g_l > 0.0 else DONE_SHARE


def follow_pectin(batch: Batch) -> PectinRun:
    """Follow the pectin of a batch through its steps."""
    masses_kg = batch.weighed_kg
    content = np.array([_pectin_fraction(ingredient) for ingredient in batch.ingredients])
    enzyme_kg = _enzyme_kg(batch, masses_kg, content > 0.0)
    steps: list[StepPectin] = []
    flowing_g = methanol_g = 0.0
    for position, spec in enumerate(batch.specs):
        gross = batch.liquor_kg(position)
        litres, strength = batch.liquor_l(position), batch.liquor_pct_vol(position)
        brought_g = float(masses_kg[position] @ content) * 1000.0
        fruit_kg = float(masses_kg[position, content > 0.0].sum())
        total_g = brought_g + flowing_g
        step = _step(spec, fruit_kg, brought_g, total_g / litres if litres else 0.0, litres, strength)
        step = replace(step, enzyme_g=0.0 if step.enzyme is None else 1000.0 * float(enzyme_kg[position]))
        carried = batch.run.carried[position, :LIQUOR].sum()
        share = float(np.clip(carried / gross.sum(), 0.0, 1.0)) if gross.sum() > 0.0 else 0.0
        met_g = total_g if spec.enzyme is not None and fruit_kg > 0.0 else 0.0
        methanol_g = (methanol_g + METHANOL_G_PER_G_PECTIN * met_g) * share
        left = step.left_g_l if math.isfinite(step.left_g_l) else step.before_g_l
        flowing_g = left * litres * share
        steps.append(step)
    alcohol_l = batch.volume_l * float(batch.drink.strength_pct_vol) / 100.0
    return PectinRun(tuple(steps), methanol_g, alcohol_l, batch.volume_l)


def _enzyme_kg(batch: Batch, masses_kg: FloatArray, is_fruit: NDArray[np.bool_]) -> FloatArray:
    """Return the enzyme of each step: what is weighed in, or what its dose asks where nothing is yet."""
    dose = np.array([0.0 if spec.enzyme is None else spec.enzyme.dose_g_per_kg for spec in batch.specs])
    asked: FloatArray = dose / 1000.0 * masses_kg[:, is_fruit].sum(axis=1)
    weighed: FloatArray = masses_kg[:, [one.id == ENZYME for one in batch.ingredients]].sum(axis=1)
    alone = np.count_nonzero(dose) == 1 and weighed.any()
    return weighed if alone else asked


def _step(
    spec: StepSpec, fruit_kg: float, brought_g: float, before_g_l: float, litres: float, strength: float
) -> StepPectin:
    enzyme = spec.enzyme if fruit_kg > 0.0 else None
    left, hold, finish = pectin_course(enzyme, before_g_l, spec.time_h, spec.temperature_c, strength)
    return StepPectin(
        step=spec.name,
        fruit_kg=fruit_kg,
        brought_g=brought_g,
        before_g_l=before_g_l,
        left_g_l=left,
        liquor_l=litres,
        strength_pct_vol=strength,
        enzyme=enzyme,
        enzyme_g=0.0,
        hold=hold,
        finish=finish,
    )


def brings_pectin(ingredient: Ingredient) -> bool:
    """Say whether enzyme is dosed by it: fruit and pith."""
    return _pectin_fraction(ingredient) > 0.0


def _pectin_fraction(ingredient: Ingredient) -> float:
    return 0.0 if ingredient.family in DRY_PLANTS else ingredient.composition.get("pectin", 0.0)
