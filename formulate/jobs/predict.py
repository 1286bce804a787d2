"""`predict`: a recipe to what will be in the bottle."""

from __future__ import annotations

from datetime import date

from formulate.bar.batch import Batch, weigh_batch
from formulate.bar.offers import offer_notes
from formulate.bar.opening import open_pantry
from formulate.bar.potency import potency_notes
from formulate.bar.vessels import fills_of
from formulate.bar.wholes import line_prices
from formulate.blend.confirm import confirmable_strength_pct_vol
from formulate.blend.flavour import flavour_of
from formulate.blend.lots import bitterness_range
from formulate.blend.materials import LIQUOR
from formulate.blend.profile import Profile
from formulate.describe.clarity import clarity_of
from formulate.describe.doses import too_little_notes, unusual_dose_notes
from formulate.describe.kitchen_notes import kitchen_notes
from formulate.describe.purchases import purchase_records, whole_notes
from formulate.describe.records import CostLine, DrinkRecord, TargetRecord
from formulate.describe.targets import figure_of, measure_notes, target_record
from formulate.describe.telling import (
    figures_notes,
    house_made_notes,
    mixture_notes,
    recipe_lines,
    step_records,
)
from formulate.describe.vessels import fill_notes
from formulate.errors import Note, SpecError
from formulate.files.bottle import load_bottle
from formulate.files.models import Source
from formulate.files.recipe import Recipe, load_recipe
from formulate.formulation.bottle import formulate_bottle
from formulate.optimise.tolerances import AT_BOUND
from formulate.quantity import Dimension, format_quantity
from formulate.rules.categories import categories_of
from formulate.rules.cautions import batch_cautions
from formulate.rules.facts import facts_of
from formulate.rules.standing import law_notes, law_of, own_content_notes

__all__ = ["predict_batch", "predict_read", "predict_recipe"]

VOLUME_OFF_BY = 0.02
"""Share by which a volume written down may differ from what the amounts make without a word (assumption)."""


def predict_recipe(path: Source, today: date | None = None) -> DrinkRecord:
    """Work out a recipe file.

    Parameters
    ----------
    path : Path
    today : date, optional
        What `keep_by` dates and the age of the stock are held against; the day it is if not given.

    Returns
    -------
    DrinkRecord
        With the targets of the bottle file the recipe names, if it names one.

    Raises
    ------
    SpecError
        If a file is wrong, or the recipe cannot be made (a cake that keeps everything).
    """
    return predict_read(load_recipe(path), today)


def predict_read(recipe: Recipe, today: date | None = None) -> DrinkRecord:
    """Work out a recipe that was read already.

    Parameters
    ----------
    recipe : Recipe
    today : date, optional
        As for `predict_recipe`.

    Raises
    ------
    SpecError
        See `predict_recipe`.
    """
    pantry = open_pantry(recipe.shelf_path, recipe.places, today=today)
    return predict_batch(weigh_batch(recipe, pantry), today)


def predict_batch(batch: Batch, today: date | None = None) -> DrinkRecord:
    """Tell of a batch that was weighed out and run.

    Parameters
    ----------
    batch : Batch
    today : date, optional
        As for `predict_recipe`.

    Returns
    -------
    DrinkRecord

    Raises
    ------
    SpecError
        If the bottle file the recipe names is wrong.
    """
    recipe, pantry = batch.recipe, batch.pantry
    chain, run, drink, bill = batch.chain, batch.run, batch.drink, batch.bill
    masses, used_kg = batch.masses_kg, batch.used_kg
    prices = None if bill is None else line_prices(bill.per_kg, bill.purchases, bill.bought_kg, used_kg)
    lines = recipe_lines(chain, batch.ingredients, masses, pantry, prices, drink.volume_l)
    used = list(dict.fromkeys(line.ingredient for line in lines))
    bought = (
        ()
        if bill is None
        else purchase_records(pantry, batch.ingredients, bill.purchases, bill.bought_kg, used_kg)
    )
    targets = _targets(batch, None if bill is None else bill.total, today)
    facts = facts_of(recipe.resolved_steps(), batch.ingredients, masses, run, drink, pantry)
    law = law_of(batch.rules, chain.materials, used_kg, run.bottled, float(drink.volume_l))
    notes = [*law_notes(law, batch.rules), *own_content_notes(pantry, used, float(drink.strength_pct_vol))]
    notes += fill_notes(recipe.resolved_steps(), pantry, run)
    notes += _volume_notes(recipe, drink) + mixture_notes(drink, run, chain)
    notes += kitchen_notes(recipe.resolved_steps(), batch.ingredients, chain.materials, masses, run)
    notes += figures_notes(batch.ingredients, used, drink.bitterness_value > 0)
    notes += measure_notes(target.measure for target in targets)
    notes += house_made_notes(pantry, used)
    notes += potency_notes(pantry, used, tuple(recipe.measured))
    notes += offer_notes(pantry, used)
    notes += unusual_dose_notes(batch.ingredients, used_kg / float(drink.volume_l), recipe.kind)
    notes += too_little_notes(lines, batch.ingredients, pantry)
    notes += whole_notes(bought)
    if bill is None:
        notes.append(Note("no_prices", "No cost: at least one ingredient has no price on the shelf."))
    else:
        notes.append(
            Note(
                "priced_by_use",
                "Cost counts what is used, not whole packs, at the cheapest offer on the shelf.",
            )
        )
    return DrinkRecord(
        name=recipe.name,
        status="predicted",
        size_text=f"{drink.volume_l:.4g} L bottled",
        recipe=lines,
        steps=step_records(chain, run),
        predicted=drink,
        targets=targets,
        cost=None if bill is None else CostLine(bill.total, bill.total / drink.volume_l, pantry.currency),
        notes=tuple(notes),
        cautions=batch_cautions(facts, batch.ingredients),
        confirmable_pct_vol=confirmable_strength_pct_vol(run.bottled[:LIQUOR]),
        bitterness_range=bitterness_range(chain, batch.ingredients, masses, drink, tuple(recipe.measured)),
        purchases=bought,
        clarity=clarity_of(recipe.resolved_steps(), batch.ingredients, masses, run, drink, pantry),
        law=law,
        categories=categories_of(facts.contents, batch.ingredients, masses, drink, batch.rules.jurisdiction),
        fills=fills_of(recipe.resolved_steps(), pantry, run),
        flavour=flavour_of(batch.ingredients, chain.steps, masses, float(drink.volume_l), recipe.kind),
    )


def _volume_notes(recipe: Recipe, drink: Profile) -> list[Note]:
    """Say that the volume written in the recipe is not what its amounts make."""
    made_l = float(drink.volume_l)
    if recipe.volume_l is None or abs(made_l / recipe.volume_l - 1.0) <= VOLUME_OFF_BY:
        return []
    return [
        Note(
            "volume_differs",
            f"The recipe says {format_quantity(recipe.volume_l, Dimension.VOLUME)} bottled, its amounts make "
            f"{format_quantity(made_l, Dimension.VOLUME)}: every figure here is of what the amounts make. "
            "Correct the volume or the amounts.",
        )
    ]


def _targets(batch: Batch, total: float | None, today: date | None) -> tuple[TargetRecord, ...]:
    recipe, drink = batch.recipe, batch.drink
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
    formulation = formulate_bottle(bottle, open_pantry(bottle.shelf_path, bottle.places, today=today))
    cost_per_l = None if total is None else total / drink.volume_l
    records = []
    for limit in formulation.problem.limits:
        if not limit.is_target:
            continue
        value = figure_of(limit, drink, cost_per_l)
        if value is None and limit.origin.name == limit.origin.measure:
            continue  # a cost without prices, or a content that nothing in the recipe is said to bring
        if value is None:
            carried = float(limit.weights @ batch.run.bottled[limit.indices])
            value = carried / float(drink.volume_l) * limit.display
        near = AT_BOUND * limit.scale * limit.display
        ends = limit.lower * limit.display, limit.upper * limit.display
        binding = any(abs(value - end) <= near for end in ends)
        records.append(target_record(limit, value, drink, binding=binding))
    return tuple(records)
