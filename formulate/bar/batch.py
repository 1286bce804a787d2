"""A recipe weighed out and run forwards: what is in it, what comes out, what it costs."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.bar.permitted import Rules, refusal, rules_of_recipe
from formulate.bar.vessels import unknown_vessels
from formulate.bar.wholes import Bill, bill_of
from formulate.blend.chain import Chain, ChainRun, Step
from formulate.blend.lots import with_handling, with_measured
from formulate.blend.materials import LIQUOR, gather
from formulate.blend.profile import Profile, profile
from formulate.blend.steps import steps_of
from formulate.errors import RangeError, SpecError
from formulate.files.fields import LEAST_KG_OR_L
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.recipe import Recipe

__all__ = ["Batch", "weigh_batch"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Batch:
    """One batch of a recipe file.

    Attributes
    ----------
    recipe : Recipe
    pantry : Pantry
    ingredients : tuple of Ingredient
        n of them in the order of the file, measured bitterness put in.
    chain : Chain
        Carries every attribute that any of them has.
    masses_kg : ndarray, shape (steps, n)
    run : ChainRun
    drink : Profile
    bill : Bill or None
        None when a price is missing.
    unpriced : tuple of str
        Ids without a price.
    rules : Rules
        Whose law counts, and what the bottle file lifts of it.
    """

    recipe: Recipe
    pantry: Pantry
    ingredients: tuple[Ingredient, ...]
    chain: Chain
    masses_kg: FloatArray
    run: ChainRun
    drink: Profile
    bill: Bill | None
    unpriced: tuple[str, ...]
    rules: Rules = field(default_factory=Rules)

    @property
    def used_kg(self) -> FloatArray:
        """Mass of each ingredient in all steps, shape (n,)."""
        used: FloatArray = self.masses_kg.sum(axis=0)
        return used


def weigh_batch(recipe: Recipe, pantry: Pantry, purpose: str = "", rules: Rules | None = None) -> Batch:
    """Weigh out a recipe and run it.

    Parameters
    ----------
    recipe : Recipe
    pantry : Pantry
    purpose : str
        Said where the recipe cannot be worked out, for a recipe the person did not name themselves.
    rules : Rules, optional
        Whose law counts; those of the bottle file the recipe names, else of the shelf, if not given.

    Returns
    -------
    Batch

    Raises
    ------
    SpecError
        With all that is wrong; also if a cake would keep everything, or the drink is outside the
        range of the density model.
    """
    problems = Problems(recipe.places)
    by_id = _ingredients(recipe, pantry, problems)
    problems.raise_if_any()
    ingredients = tuple(by_id.values())
    if rules is None:
        rules = rules_of_recipe(recipe, pantry)
    if not pantry.making:  # what may go into a house-made thing depends on the drink it is made for
        _refuse_prohibited(recipe, by_id, rules, problems)
    steps = steps_of(recipe.resolved_steps())
    attributes = tuple(sorted({name for ingredient in ingredients for name in ingredient.attributes}))
    chain = Chain(gather(ingredients, attributes), steps)
    unknown_vessels(("steps",), recipe.steps or (), pantry, problems)
    masses = _masses(recipe, by_id, pantry, problems, [step.name for step in steps])
    problems.raise_if_any()
    run = chain.run(masses)
    _refuse_nothing_left(recipe, steps, run, problems, purpose)
    problems.raise_if_any()
    try:
        drink = profile(run.bottled, chain.materials)
    except RangeError as error:
        problems.add(("ingredients",), f"cannot be worked out{purpose}: {error}", key=True)
        raise SpecError(problems.found) from error
    bill, unpriced = bill_of(pantry, ingredients, masses.sum(axis=0))
    return Batch(recipe, pantry, ingredients, chain, masses, run, drink, bill, unpriced, rules)


def _refuse_nothing_left(
    recipe: Recipe, steps: tuple[Step, ...], run: ChainRun, problems: Problems, purpose: str
) -> None:
    """Note the first step that leaves no liquor: its cake keeps all of it, or its losses take the rest."""
    gross_kg = run.gross[:, :LIQUOR].sum(axis=1)
    carried_kg = run.carried[:, :LIQUOR].sum(axis=1)
    for index, step in enumerate(steps):
        if not gross_kg[index] > 0.0 and not run.solids_kg[index] > 0.0:
            continue  # nothing goes into it yet
        if run.kept_kg[index] >= gross_kg[index]:
            problems.add(
                ("ingredients",),
                f"the cake of {step.name} would keep {run.kept_kg[index] * 1000:.0f} g of liquor "
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
    found: dict[str, Ingredient] = {}
    for index, line in enumerate(recipe.ingredients):
        if line.id in found:
            continue
        try:
            measured = recipe.measured.get(line.id)
            ingredient = pantry.ingredient(line.id, measured=measured is not None)
        except SpecError as error:
            problems.add_from(("ingredients", index), error)
            continue
        ingredient = with_measured(ingredient, measured.bitterness if measured else None)
        found[line.id] = with_handling(ingredient, line.cut, line.drawn)
    return found


def _refuse_prohibited(
    recipe: Recipe, ingredients: dict[str, Ingredient], rules: Rules, problems: Problems
) -> None:
    for index, line in enumerate(recipe.ingredients):
        if refused := refusal(ingredients[line.id], rules):
            problems.add(("ingredients", index), refused)
    problems.raise_if_any()


def _masses(
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
