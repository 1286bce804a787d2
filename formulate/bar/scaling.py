"""A batch in another size: a factor for each step, the whole packs it takes, the size that leaves none begun.

What is lost once per batch, in a filter or a pan, does not grow with it. So each step is scaled by a
factor of its own, such that the liquor that flows into every step stands in the recipe's own ratio to
what is added there: then every step has the recipe's composition and the bottle the recipe's profile.
With c what leaves a step of the recipe, f its fixed loss and s the factors,
``s[next] c = s (c + f) - f``, backwards from the volume asked, or forwards from a vessel to be filled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch
from formulate.bar.offers import cheapest_by_weight, packs_on_offer
from formulate.bar.pantry import UnknownMassError
from formulate.bar.vessels import contents_l
from formulate.bar.wholes import bill_of
from formulate.blend.materials import LIQUOR
from formulate.errors import FormulateError
from formulate.files import aims
from formulate.files.fields import did_you_mean
from formulate.files.recipe import Recipe
from formulate.optimise.mip.packs import Thing
from formulate.quantity.amounts import Amount, AmountBasis
from formulate.quantity.document import HIDDEN, computed

__all__ = ["EmptyingSize", "PackCount", "emptying_size", "packs_for", "scaled_batch"]

FloatArray = NDArray[np.float64]

USED_UP = 1e-4
"""A pack counts as used up when this share of it, or less, is left or missing."""


@dataclass(frozen=True, slots=True)
class PackCount:
    """Packs of one thing.

    Attributes
    ----------
    size_kg, used_kg : float
        Of one pack; in the batch.
    """

    ingredient: str
    pack: str
    packs: int
    size_kg: float = field(metadata=HIDDEN)
    used_kg: float

    @property
    @computed(after="used_kg")
    def left_kg(self) -> float:
        """What is over of the last pack; nothing where that is next to nothing."""
        left = self.packs * self.size_kg - self.used_kg
        return left if left > USED_UP * self.size_kg else 0.0


@dataclass(frozen=True, slots=True)
class EmptyingSize:
    """A size in which packs of one thing are used up.

    Attributes
    ----------
    use_kg : float
        All that is in them.
    volume_l : float
        What that gives, bottled.
    """

    ingredient: str
    pack: str
    packs: int
    use_kg: float
    volume_l: float


def packs_for(batch: BarBatch) -> tuple[PackCount, ...]:
    """Count the packs that a batch takes, of what is sold in packs; nothing on hand is counted.

    Of several packs on sale it is the one that is cheapest by weight.
    """
    counts = []
    for ingredient, used in zip(batch.ingredients, batch.used_kg.tolist(), strict=True):
        if not used > 0.0:
            continue
        try:
            every = packs_on_offer(batch.pantry, ingredient, Thing(False, 0))
        except UnknownMassError:  # without a weight it cannot be counted, and `buy` says so
            continue
        pack = cheapest_by_weight([pack for pack, _ in every if not pack.loose])
        if pack is not None:
            count = max(math.ceil(used / pack.size_kg - USED_UP), 1)
            counts.append(PackCount(ingredient.id, pack.name, count, pack.size_kg, used))
    return tuple(counts)


def emptying_size(batch: BarBatch, packs: Sequence[PackCount]) -> EmptyingSize | None:
    """Find the size nearest to that of a batch in which the packs of one thing are used up.

    Parameters
    ----------
    packs : sequence of PackCount
        Of it.

    Returns
    -------
    EmptyingSize or None
        None where nothing comes in packs, or what does goes into several steps.
    """
    ids = [ingredient.id for ingredient in batch.ingredients]
    volume_now_l = float(batch.drink.volume_l)
    sizes = []
    for pack in packs:
        steps = np.flatnonzero(batch.masses_kg[:, ids.index(pack.ingredient)] > 0.0)
        if len(steps) != 1:
            continue
        for count in {pack.packs, max(pack.packs - 1, 1)}:
            use = count * pack.size_kg
            factors = _spread(batch, int(steps[0]), use / pack.used_kg)
            if factors is not None:
                volume = volume_now_l * float(factors[-1])
                sizes.append(EmptyingSize(pack.ingredient, pack.pack, count, use, volume))
    return min(sizes, key=lambda size: abs(size.volume_l - volume_now_l), default=None)


def scaled_batch(recipe: Recipe, batch: BarBatch, size: aims.Size) -> tuple[Recipe, BarBatch, FloatArray]:
    """Scale a recipe and the batch it makes.

    Returns
    -------
    ndarray, shape (steps + 1,)
        By how much each step was scaled and, last, what is bottled.

    Raises
    ------
    FormulateError
        If the size cannot be reached.
    """
    factors = _factors(batch, size)
    masses_kg = batch.masses_kg * factors[:-1, None]
    bill, unpriced = bill_of(batch.pantry, batch.ingredients, masses_kg.sum(axis=0))
    scaled = replace(batch, masses_kg=masses_kg, bill=bill, unpriced=unpriced)
    if not (scaled.run.carried[:, :LIQUOR].sum(axis=1) > 0.0).all():
        raise FormulateError(
            f"--to: so little is lost whole in filters and vessels, got {size.text}. Make more."
        )
    return _recipe(recipe, batch, factors, scaled.volume_l), scaled, factors


def _factors(batch: BarBatch, size: aims.Size) -> FloatArray:
    """Return the factor of each step and, last, that of what is bottled; shape (steps + 1,)."""
    if isinstance(size, aims.Bottled):
        start = len(batch.chain.steps)
        factor = size.volume_l / float(batch.drink.volume_l)
    elif isinstance(size, aims.Fill):
        start = _step_of_vessel(batch, size.vessel)
        vessels = batch.pantry.shelf.vessels if batch.pantry.shelf else {}
        if size.vessel not in vessels:
            hint = did_you_mean(size.vessel, vessels)
            raise FormulateError(f"--to: no vessel called '{size.vessel}' on the shelf. {hint}".rstrip())
        factor = vessels[size.vessel] * size.fraction / contents_l(batch.run, start)
    else:
        start, factor = _used(batch, size)
    factors = _spread(batch, start, factor)
    if factors is None:
        raise FormulateError(
            f"--to: a batch this small is lost whole in filters and vessels, got {size.text}. Make more."
        )
    return factors


def _spread(batch: BarBatch, start: int, factor: float) -> FloatArray | None:
    """Scale one step, and the others so that they go with it; None where all would be lost in vessels."""
    steps = batch.chain.steps
    carried = batch.run.carried[:, :LIQUOR].sum(axis=1)
    fixed = np.array([step.fixed_loss_kg for step in steps])
    factors = np.empty(len(steps) + 1)
    factors[start] = factor
    for step in range(start - 1, -1, -1):
        factors[step] = (factors[step + 1] * carried[step] + fixed[step]) / (carried[step] + fixed[step])
    for step in range(start, len(steps)):
        factors[step + 1] = (factors[step] * (carried[step] + fixed[step]) - fixed[step]) / carried[step]
    return factors if (factors > 0.0).all() else None


def _used(batch: BarBatch, size: aims.Use) -> tuple[int, float]:
    """Return the step an ingredient goes into, and the factor that uses it up."""
    ids = [ingredient.id for ingredient in batch.ingredients]
    if size.ingredient not in ids:
        hint = did_you_mean(size.ingredient, ids)
        raise FormulateError(f"--to: {size.ingredient} is not in the recipe. {hint}".rstrip())
    column = ids.index(size.ingredient)
    steps = np.flatnonzero(batch.masses_kg[:, column] > 0.0)
    if len(steps) != 1:
        raise FormulateError(
            f"--to: {size.ingredient} goes into {len(steps)} steps, so using it up is not one size. "
            "Give the volume bottled."
        )
    try:
        if size.amount is None:
            mass = batch.pantry.on_hand_kg(batch.ingredients[column])
        else:
            mass = batch.pantry.mass_kg(size.amount, batch.ingredients[column])
    except UnknownMassError as error:
        raise FormulateError(f"--to: {error}") from None
    if not mass:
        raise FormulateError(f"--to: the shelf does not say how much {size.ingredient} is left. Add on_hand.")
    step = int(steps[0])
    return step, mass / float(batch.masses_kg[step, column])


def _step_of_vessel(batch: BarBatch, vessel: str) -> int:
    """Return the step done in a vessel; the first where no step names it."""
    named = [position for position, step in enumerate(batch.specs) if step.vessel == vessel]
    return named[0] if named else 0


def _recipe(recipe: Recipe, batch: BarBatch, factors: FloatArray, volume_l: float) -> Recipe:
    names = [step.name for step in batch.chain.steps]
    by_id = {ingredient.id: ingredient for ingredient in batch.ingredients}
    from formulate import __version__

    lines = []
    for line in recipe.ingredients:
        position = names.index(line.step) if line.step is not None else 0
        mass = batch.pantry.mass_kg(line.amount, by_id[line.id]) * float(factors[position])
        lines.append(line.model_copy(update={"amount": Amount(mass, AmountBasis.MASS)}))
    return recipe.model_copy(
        update={
            "ingredients": tuple(lines),
            "volume_l": volume_l,
            "steps": recipe.resolved_steps(),
            "made_by": f"formulate {__version__}",
        }
    )
