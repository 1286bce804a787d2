"""Steps of a file as the blend model knows them, and which ingredients a step must strain off."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import Step
from formulate.blend.materials import Materials
from formulate.blend.separation import strain_through
from formulate.files.bottle import Bottle
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.steps import StepSpec

__all__ = ["LEAST_SHOWN_KG_L", "LEAST_SPIRIT_PCT_VOL", "leaves_solids", "places_of", "steps_of"]

CLOUDY_SOLIDS = 0.02
"""Up to this share of solids a thing counts as a cloudy juice, which needs no straining (common practice)."""


FORTIFIED_PCT_VOL = 15.0
"""Below this a mash of fruit or plants can ferment or spoil within a day or two (common practice)."""
LEAST_SHOWN_KG_L = 1e-9
"""A mass per litre below this is nothing."""


LEAST_SPIRIT_PCT_VOL = 0.5
"""At or below this there is no spirit in it."""


def steps_of(specs: Sequence[StepSpec]) -> tuple[Step, ...]:
    """Turn the steps of a file, defaults filled in, into the blend model's.

    Returns
    -------
    tuple of Step
        What a step is strained through is turned into what the cake keeps and what is lost.
    """
    steps = []
    for spec in specs:
        straining = strain_through(spec.separate)
        passed = (1.0 - spec.loss_fraction) * (1.0 - straining.loss_fraction)
        steps.append(
            Step(
                name=spec.name,
                loss_fraction=1.0 - passed if spec.separate else spec.loss_fraction,
                fixed_loss_kg=spec.fixed_loss_kg + straining.hold_up_kg,
                strains=bool(spec.strain),
                cake_factor=straining.cake_factor,
                dried_factor=straining.dried_factor,
                rinse_kg_per_kg=spec.rinse_kg_per_kg,
                time_h=spec.time_h,
                temperature_c=spec.temperature_c,
                stirred=spec.stirred,
            )
        )
    return tuple(steps)


def leaves_solids(ingredient: Ingredient, materials: Materials, index: int) -> bool:
    """Say whether an ingredient leaves something that must be strained off.

    Parameters
    ----------
    materials : Materials
        The bottle's ingredients.
    index : int
        Position of the ingredient among them.
    """
    return ingredient.retention_kg_per_kg > 0.0 or float(materials.solids[index]) > CLOUDY_SOLIDS


def places_of(
    bottle: Bottle,
    ingredients: Sequence[Ingredient],
    materials: Materials,
    steps: Sequence[Step],
    problems: Problems,
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """List which ingredient may go into which step.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        In the order of the bottle's list.
    problems : Problems
        Takes up what may go nowhere.

    Returns
    -------
    ingredient, step : ndarray of int, shape (places,)
        One of the two positions for each place.
    """
    names = [step.name for step in steps]
    pairs = []
    for index, (use, ingredient) in enumerate(zip(bottle.uses, ingredients, strict=True)):
        solid = leaves_solids(ingredient, materials, index)
        allowed = [position for position, step in enumerate(steps) if step.strains or not solid]
        if use.step is not None:
            position = names.index(use.step)
            if position not in allowed:
                problems.add(
                    (*bottle.path_of(index), use.id, "step"),
                    f"{use.id} leaves solids, but nothing is strained off at the end of {use.step}. "
                    f"Move it, or add `strain: true` to {use.step}.",
                )
            allowed = [position]
        pairs += [(index, position) for position in allowed]
    ingredient_positions, step_positions = np.array(pairs, dtype=np.int32).reshape(-1, 2).T
    return ingredient_positions, step_positions
