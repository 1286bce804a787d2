"""Batches for the tests, weighed out by hand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from formulate.blend.batch import Batch
from formulate.blend.chain import Chain, Step
from formulate.blend.materials import gather
from formulate.blend.profile import Profile
from formulate.files.ingredient import Ingredient
from formulate.files.steps import StepSpec

__all__ = ["batch_of", "said_to_be"]

WITHOUT_A_CAKE = Step("mix", strains=False, cake_factor=0.0)


def batch_of(ingredients: Sequence[Ingredient], masses_kg: ArrayLike, *steps: Step) -> Batch:
    """Weigh ingredients into steps, or into one that loses nothing; masses of shape (steps, n) or (n,)."""
    steps = steps or (WITHOUT_A_CAKE,)
    specs = tuple(
        StepSpec(name=step.name, strain=step.strains, time_h=step.time_h, temperature_c=step.temperature_c)
        for step in steps
    )
    masses = np.atleast_2d(np.asarray(masses_kg, dtype=float))
    return Batch(tuple(ingredients), specs, Chain(gather(ingredients), steps), masses)


def said_to_be(batch: Batch, drink: Profile) -> Batch:
    """Give a batch figures that it does not make, to test what is asked of them."""
    vars(batch)["drink"] = drink  # where the cached property keeps what it worked out
    return batch
