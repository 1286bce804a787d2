"""Steps of a file as the blend model knows them, and which ingredients a step must strain off."""

from __future__ import annotations

from collections.abc import Sequence

from formulate.blend.chain import Step
from formulate.blend.materials import Materials
from formulate.blend.separation import strain_through
from formulate.spec.ingredient import Ingredient
from formulate.spec.steps import StepSpec

__all__ = ["leaves_solids", "steps_of"]

CLOUDY_SOLIDS = 0.02
"""Up to this share of solids a thing counts as a cloudy juice, which needs no straining (common practice)."""


def steps_of(specs: Sequence[StepSpec]) -> tuple[Step, ...]:
    """Turn the steps of a file, defaults filled in, into the blend model's.

    Parameters
    ----------
    specs : sequence of StepSpec

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
            )
        )
    return tuple(steps)


def leaves_solids(ingredient: Ingredient, materials: Materials, index: int) -> bool:
    """Say whether an ingredient leaves something that must be strained off.

    Parameters
    ----------
    ingredient : Ingredient
    materials : Materials
        The bottle's ingredients.
    index : int
        Position of the ingredient among them.
    """
    return ingredient.retention_kg_per_kg > 0.0 or float(materials.solids[index]) > CLOUDY_SOLIDS
