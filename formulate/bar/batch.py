"""A recipe weighed out and run forwards: what is in it, what comes out, what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.bar.permitted import Rules, refusal, rules_of_recipe
from formulate.bar.vessels import unknown_vessels
from formulate.bar.wholes import Bill, bill_of
from formulate.blend.batch import Batch
from formulate.blend.chain import Chain
from formulate.blend.lots import with_handling, with_measured
from formulate.blend.materials import LIQUOR, gather
from formulate.blend.pectin import brings_pectin
from formulate.blend.steps import steps_of
from formulate.errors import RangeError, SpecError
from formulate.files.fields import LEAST_KG_OR_L
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.recipe import Recipe
from formulate.files.steps import ENZYME, StepSpec

__all__ = ["BarBatch", "weigh_batch"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class BarBatch(Batch):
    """A batch of this bar: whose shelf it is made from, what it costs, whose law counts.

    Attributes
    ----------
    name : str
        Of the drink.
    kind : str or None
        What its file says it is: `concentrate`, or None for a drink by the glass.
    rules : Rules
        Whose law counts, and what the bottle file lifts of it.
    bill : Bill or None
        None when a price is missing.
    unpriced : tuple of str
        Ids without a price.
    """

    name: str
    kind: str | None = None
    pantry: Pantry
    rules: Rules
    bill: Bill | None
    unpriced: tuple[str, ...] = ()


def weigh_batch(recipe: Recipe, pantry: Pantry, purpose: str = "", rules: Rules | None = None) -> BarBatch:
    """Weigh out a recipe and run it.

    Parameters
    ----------
    purpose : str
        Said where the recipe cannot be worked out, for a recipe the person did not name themselves.
    rules : Rules, optional
        Whose law counts; those of the bottle file the recipe names, else of the shelf, if not given.

    Raises
    ------
    SpecError
        With all that is wrong; also if a cake would keep everything, or the drink is outside the
        range of the density model.
    """
    problems = Problems(recipe.places)
    by_id = _ingredients(recipe, pantry, problems)
    problems.raise_if_any()
    if rules is None:
        rules = rules_of_recipe(recipe, pantry)
    if not pantry.making:  # what may go into a house-made thing depends on the drink it is made for
        _refuse_prohibited(recipe, by_id, rules, problems)
    specs = recipe.resolved_steps()
    unknown_vessels(("steps",), recipe.steps or (), pantry, problems)
    masses_kg = _masses_kg(recipe, by_id, pantry, problems, [spec.name for spec in specs])
    problems.raise_if_any()
    if ENZYME not in by_id and any(spec.enzyme is not None for spec in specs):
        masses_kg = np.column_stack([masses_kg, _enzyme_kg(specs, tuple(by_id.values()), masses_kg)])
        by_id[ENZYME] = pantry.ingredient(ENZYME)
    ingredients = tuple(by_id.values())
    attributes = tuple(sorted({name for ingredient in ingredients for name in ingredient.attributes}))
    chain = Chain(gather(ingredients, attributes), steps_of(specs))
    bill, unpriced = bill_of(pantry, ingredients, masses_kg.sum(axis=0))
    batch = BarBatch(
        ingredients,
        specs,
        chain,
        masses_kg,
        frozenset(recipe.measured),
        name=recipe.name,
        kind=recipe.kind,
        pantry=pantry,
        rules=rules,
        bill=bill,
        unpriced=unpriced,
    )
    _refuse_nothing_left(recipe, batch, problems, purpose)
    problems.raise_if_any()
    try:
        _ = batch.drink  # worked out here, where the recipe can be pointed at
    except RangeError as error:
        problems.add(("ingredients",), f"cannot be worked out{purpose}: {error}", key=True)
        raise SpecError(problems.found) from error
    return batch


def _refuse_nothing_left(recipe: Recipe, batch: Batch, problems: Problems, purpose: str) -> None:
    """Note the first step that leaves no liquor: its cake keeps all of it, or its losses take the rest."""
    run = batch.run
    gross_kg = run.gross[:, :LIQUOR].sum(axis=1)
    carried_kg = run.carried[:, :LIQUOR].sum(axis=1)
    for index, step in enumerate(batch.chain.steps):
        if not gross_kg[index] > 0.0 and not run.solids_kg[index] > 0.0:
            continue  # nothing goes into it yet
        if run.kept_kg[index] >= gross_kg[index]:
            problems.add(
                ("ingredients",),
                f"what is strained out of {step.name} would keep {run.kept_kg[index] * 1000:.0f} g of liquor "
                f"where there are {gross_kg[index] * 1000:.0f} g{purpose}. "
                "Add liquid, or less of what soaks it up.",
                key=True,
            )
            return
        if carried_kg[index] <= 0.0:
            there_kg = carried_kg[index] + run.lost_kg[index]
            problems.add(
                ("steps", index) if recipe.steps else ("ingredients",),
                f"the losses of {step.name} take more than there is: {run.lost_kg[index] * 1000:.0f} g of "
                f"{there_kg * 1000:.0f} g of liquor{purpose}. Lower the losses, or make more.",
                key=True,
            )
            return


def _ingredients(recipe: Recipe, pantry: Pantry, problems: Problems) -> dict[str, Ingredient]:
    by_id: dict[str, Ingredient] = {}
    for index, line in enumerate(recipe.ingredients):
        if line.id in by_id:
            continue
        try:
            measured = recipe.measured.get(line.id)
            ingredient = pantry.ingredient(line.id, measured=measured is not None)
        except SpecError as error:
            problems.add_from(("ingredients", index), error)
            continue
        ingredient = with_measured(ingredient, measured.bitterness if measured else None)
        by_id[line.id] = with_handling(ingredient, line.cut, line.drawn)
    return by_id


def _refuse_prohibited(
    recipe: Recipe, ingredients: dict[str, Ingredient], rules: Rules, problems: Problems
) -> None:
    for index, line in enumerate(recipe.ingredients):
        if refused := refusal(ingredients[line.id], rules):
            problems.add(("ingredients", index), refused)
    problems.raise_if_any()


def _enzyme_kg(
    specs: Sequence[StepSpec], ingredients: Sequence[Ingredient], masses_kg: FloatArray
) -> FloatArray:
    """Weigh the enzyme that steps ask for, shape (steps,): by the fruit and pith in them."""
    fruit_kg = masses_kg @ np.array([brings_pectin(ingredient) for ingredient in ingredients], dtype=float)
    dose = np.array([0.0 if spec.enzyme is None else spec.enzyme.dose_g_per_kg / 1000.0 for spec in specs])
    weighed: FloatArray = dose * fruit_kg
    return weighed


def _masses_kg(
    recipe: Recipe, ingredients: dict[str, Ingredient], pantry: Pantry, problems: Problems, steps: list[str]
) -> FloatArray:
    masses = np.zeros((len(steps), len(ingredients)))
    order = list(ingredients)
    for index, line in enumerate(recipe.ingredients):
        position = steps.index(line.step) if line.step is not None else 0
        try:
            masses[position, order.index(line.id)] += pantry.mass_kg(line.amount, ingredients[line.id])
        except UnknownMassError as error:
            problems.add(("ingredients", index, line.id, "amount"), str(error))
    if masses.sum() < LEAST_KG_OR_L and not problems.found:
        what = "less than a drop" if masses.any() else "nothing"
        problems.add(
            ("ingredients",), f"{what} is weighed in. Give at least one amount above zero.", key=True
        )
    return masses
