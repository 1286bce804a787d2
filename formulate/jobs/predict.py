"""`predict`: a recipe to what will be in the bottle."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from formulate.blend.chain import Chain
from formulate.blend.confirm import confirmable_strength_pct_vol
from formulate.blend.materials import LIQUOR, gather
from formulate.blend.profile import Profile, profile
from formulate.errors import RangeError, SpecError
from formulate.jobs.formulation import formulate_bottle, steps_of, with_measured
from formulate.jobs.pantry import Pantry, Problems, UnknownMassError, open_pantry
from formulate.jobs.records import CostLine, DrinkRecord, Note, TargetRecord
from formulate.jobs.telling import (
    bitterness_range,
    cautions_of,
    figures_notes,
    mixture_notes,
    recipe_lines,
    step_records,
)
from formulate.optimise.answer import VERIFIED_SLACK
from formulate.spec.bottle import load_bottle
from formulate.spec.ingredient import Ingredient
from formulate.spec.recipe import Recipe, load_recipe

__all__ = ["predict_recipe"]


def predict_recipe(path: Path) -> DrinkRecord:
    """Work out a recipe file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    DrinkRecord
        With the targets of the bottle file the recipe names, if it names one.

    Raises
    ------
    SpecError
        If a file is wrong, or the recipe cannot be made (a cake that keeps everything).
    """
    recipe = load_recipe(path)
    pantry = open_pantry(recipe.shelf_path, recipe.places)
    problems = Problems(recipe.places)
    ingredients = _ingredients(recipe, pantry, problems)
    problems.raise_if_any()
    steps = steps_of(recipe.resolved_steps())
    attributes = tuple(
        sorted({name for ingredient in ingredients.values() for name in ingredient.attributes})
    )
    chain = Chain(gather(tuple(ingredients.values()), attributes), steps)
    masses = _masses(recipe, ingredients, pantry, problems, [step.name for step in steps])
    prices = _prices(ingredients, pantry)
    problems.raise_if_any()
    run = chain.run(masses)
    for step, kept, gross in zip(steps, run.kept_kg, run.gross[:, :LIQUOR].sum(axis=1), strict=True):
        if kept >= gross:
            problems.add(
                ("ingredients",),
                f"the cake of {step.name} would keep {kept * 1000:.0f} g of liquor "
                f"where there are {gross * 1000:.0f} g. "
                "Add liquid, or less of what soaks it up.",
                key=True,
            )
    problems.raise_if_any()
    try:
        drink = profile(run.bottled, chain.materials)
    except RangeError as error:
        problems.add(("ingredients",), f"cannot be worked out: {error}", key=True)
        problems.raise_if_any()
        raise
    lines = recipe_lines(chain, tuple(ingredients.values()), masses, pantry, prices, drink.volume_l)
    used = [line.ingredient for line in lines]
    targets = _targets(
        recipe, drink, prices is not None, float((masses @ prices).sum()) if prices is not None else 0.0
    )
    notes = mixture_notes(drink, run, chain) + figures_notes(
        tuple(ingredients.values()), used, drink.bitterness_value > 0
    )
    if prices is None:
        notes.append(Note("no_prices", "No cost: at least one ingredient has no price on the shelf."))
    else:
        notes.append(
            Note(
                "priced_by_use",
                "Cost counts what is used, not whole packs, at the cheapest offer on the shelf.",
            )
        )
    total = float((masses @ prices).sum()) if prices is not None else None
    return DrinkRecord(
        name=recipe.name,
        status="predicted",
        size_text=f"{drink.volume_l:.4g} L bottled",
        recipe=lines,
        steps=step_records(chain, run),
        predicted=drink,
        targets=targets,
        cost=None if total is None else CostLine(total, total / drink.volume_l, pantry.currency),
        notes=tuple(notes),
        cautions=cautions_of(tuple(ingredients.values()), used),
        confirmable_pct_vol=confirmable_strength_pct_vol(run.bottled[:LIQUOR]),
        bitterness_range=bitterness_range(
            chain, tuple(ingredients.values()), masses, drink, tuple(recipe.measured)
        ),
    )


def _ingredients(recipe: Recipe, pantry: Pantry, problems: Problems) -> dict[str, Ingredient]:
    found: dict[str, Ingredient] = {}
    for index, line in enumerate(recipe.ingredients):
        if line.id in found:
            continue
        try:
            ingredient = pantry.ingredient(line.id)
        except SpecError as error:
            problems.add_from(("ingredients", index), error)
            continue
        measured = recipe.measured.get(line.id)
        found[line.id] = with_measured(ingredient, measured.bitterness if measured else None)
    return found


def _masses(
    recipe: Recipe, ingredients: dict[str, Ingredient], pantry: Pantry, problems: Problems, steps: list[str]
) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    masses = np.zeros((len(steps), len(ingredients)))
    order = list(ingredients)
    for index, line in enumerate(recipe.ingredients):
        position = steps.index(line.step) if line.step is not None else 0
        try:
            masses[position, order.index(line.id)] += pantry.mass_kg(line.amount, ingredients[line.id])
        except UnknownMassError as error:
            problems.add(("ingredients", index, line.id, "amount"), str(error))
    if not masses.any():
        problems.add(
            ("ingredients",), "nothing is weighed in. Give at least one amount above zero.", key=True
        )
    return masses


def _prices(
    ingredients: dict[str, Ingredient], pantry: Pantry
) -> np.ndarray[tuple[int], np.dtype[np.float64]] | None:
    """Price each ingredient; None as soon as one has no price."""
    prices = []
    for ingredient in ingredients.values():
        try:
            price = pantry.price_per_kg(ingredient)
        except UnknownMassError:
            price = None
        if price is None:
            return None
        prices.append(price)
    return np.array(prices)


def _targets(recipe: Recipe, drink: Profile, priced: bool, total: float) -> tuple[TargetRecord, ...]:
    path = recipe.bottle_path
    if path is None:
        return ()
    if not path.exists():
        raise SpecError(
            [
                recipe.places.problem(
                    ("bottle",),
                    f"no file there, got '{path.as_posix()}'. Check the path, or delete the line.",
                )
            ]
        )
    bottle = load_bottle(path)
    formulation = formulate_bottle(bottle, open_pantry(bottle.shelf_path, bottle.places))
    values = {
        "strength": drink.strength_pct_vol,
        "sugar": drink.sugar_g_l,
        "acid": drink.acid_g_l,
        "bitterness": drink.bitterness_value,
        **drink.attributes_g_l,
    }
    if priced:
        values["cost"] = total / drink.volume_l
    records = []
    for limit in formulation.problem.limits:
        if not limit.is_target or limit.origin.name not in values:
            continue
        value = float(values[limit.origin.name])
        near = 10 * VERIFIED_SLACK * limit.scale * limit.display
        lower, upper = limit.lower * limit.display, limit.upper * limit.display
        records.append(
            TargetRecord(
                target=limit.origin.name,
                lower=lower if np.isfinite(lower) else None,
                upper=upper if np.isfinite(upper) else None,
                value=value,
                unit=limit.unit,
                binding=bool(abs(value - lower) <= near or abs(value - upper) <= near),
                shadow_price=None,
                text=limit.origin.text,
                source=str(limit.origin.location or ""),
            )
        )
    return tuple(records)
