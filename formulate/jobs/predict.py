"""`predict`: a recipe to what will be in the bottle."""

from __future__ import annotations

from datetime import date

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.opening import open_pantry
from formulate.describe.doses import unusual_dose_notes
from formulate.describe.drink import Asked, describe
from formulate.describe.records import DrinkRecord, TargetRecord
from formulate.describe.targets import figure_of, target_record
from formulate.errors import Note, SpecError
from formulate.files.bottle import load_bottle
from formulate.files.disk import is_there
from formulate.files.models import Source
from formulate.files.recipe import Recipe, load_recipe
from formulate.formulation.bottle import Formulation, formulate_bottle
from formulate.optimise.tolerances import AT_BOUND
from formulate.quantity import Dimension, format_quantity

__all__ = ["held_targets", "predict_batch", "predict_read", "predict_recipe"]

VOLUME_OFF_BY = 0.02
"""Share by which a volume written down may differ from what the amounts make without a word (assumption)."""


def predict_recipe(path: Source, today: date | None = None) -> DrinkRecord:
    """Work out a recipe file.

    Parameters
    ----------
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
    today : date, optional
        As for `predict_recipe`.

    Raises
    ------
    SpecError
        See `predict_recipe`.
    """
    pantry = open_pantry(recipe.shelf_path, recipe.places, today=today)
    return predict_batch(recipe, weigh_batch(recipe, pantry), today)


def predict_batch(recipe: Recipe, batch: BarBatch, today: date | None = None) -> DrinkRecord:
    """Describe a recipe that was weighed out.

    Parameters
    ----------
    batch : BarBatch
        What it makes.
    today : date, optional
        As for `predict_recipe`.

    Raises
    ------
    SpecError
        If the bottle file the recipe names is wrong.
    """
    targets = _targets(recipe, batch, today)
    asked = Asked(
        status="predicted",
        size_text=f"{batch.volume_l:.4g} L bottled",
        bitterness=float(batch.drink.bitterness_value) > 0.0,
        measures=tuple(target.measure for target in targets),
        targets=targets,
        notes=tuple(_volume_notes(recipe, batch.volume_l)),
        dose_notes=tuple(unusual_dose_notes(batch, batch.kind)),
    )
    return describe(batch, asked)


def _volume_notes(recipe: Recipe, made_l: float) -> list[Note]:
    """Say that the volume written in the recipe is not what its amounts make."""
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


def _targets(recipe: Recipe, batch: BarBatch, today: date | None) -> tuple[TargetRecord, ...]:
    path = recipe.bottle_path
    if path is None:
        return ()
    if not is_there(path):
        raise SpecError(
            [
                recipe.places.problem(
                    ("bottle",),
                    f"no file there, got '{path.as_posix()}'. Check the path, or delete the line.",
                )
            ]
        )
    bottle = load_bottle(path)
    return held_targets(
        formulate_bottle(bottle, open_pantry(bottle.shelf_path, bottle.places, today=today)), batch
    )


def held_targets(formulation: Formulation, batch: BarBatch) -> tuple[TargetRecord, ...]:
    """Hold a batch against the targets of a bottle.

    Parameters
    ----------
    formulation : Formulation
        Of the bottle file.
    batch : BarBatch
    """
    drink = batch.drink
    cost_per_l = None if batch.bill is None else batch.bill.total / batch.volume_l
    records = []
    for limit in formulation.problem.limits:
        if not limit.is_target:
            continue
        value = figure_of(limit, drink, cost_per_l)
        if value is None and limit.origin.name == limit.origin.measure:
            continue  # a cost without prices, or a content that nothing in the recipe is said to bring
        if value is None:
            carried = float(limit.weights @ batch.bottled[limit.indices])
            value = carried / batch.volume_l * limit.display
        near = AT_BOUND * limit.scale * limit.display
        ends = limit.lower * limit.display, limit.upper * limit.display
        binding = any(abs(value - end) <= near for end in ends)
        records.append(target_record(limit, value, drink, binding=binding))
    return tuple(records)
