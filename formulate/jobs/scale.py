"""`scale`: the same drink in another size."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from formulate.bar.batch import weigh_batch
from formulate.bar.changed import Circumstances
from formulate.bar.opening import open_pantry
from formulate.bar.scaling import (
    emptying_size,
    packs_for,
    scaled_batch,
)
from formulate.describe.scaled import ScaledRecipe, missed_notes, missed_targets, pack_notes, scaling_notes
from formulate.describe.vessels import TOLD, fitting_notes
from formulate.errors import Note
from formulate.files import aims
from formulate.files.models import Source
from formulate.files.recipe import Recipe, RecipeLine, load_recipe
from formulate.jobs.files import beside
from formulate.jobs.predict import predict_batch
from formulate.jobs.reformulate import reformulate
from formulate.quantity import Amount, AmountBasis
from formulate.quantity.words import read_option

__all__ = ["scale_recipe", "written_recipe"]


MIDDLE = (
    "Brought to the middle of each band first, or as near as it can come, with the least change; `formulate "
    "reformulate --middle` shows what moves."
)


def scale_recipe(path: Source, to: str, today: date | None = None, *, middle: bool = False) -> ScaledRecipe:
    """Scale a recipe file.

    Parameters
    ----------
    to : str
        A size as a bottle file says it: ``12 L bottled``, ``24 bottles of 50 cl``,
        ``fill kettle-12l (80 % of the vessel)``, ``use 3 bottles of vodka-40``.
    middle : bool
        Whether the recipe is first brought to the middle of each band, by the least change.

    Raises
    ------
    SpecError
        If a file is wrong.
    UnitError
        If the size cannot be read.
    FormulateError
        If the size cannot be reached.
    InfeasibleError, NotConvergedError, VerificationError
        If it cannot be brought to the middle.
    """
    size = read_option("--to", to, aims.parse_size)
    recipe = _in_the_middle(path, today) if middle else load_recipe(path)
    pantry = open_pantry(recipe.shelf_path, recipe.places, today=today)
    batch = weigh_batch(recipe, pantry)
    scaled_recipe, scaled, factors = scaled_batch(recipe, batch, size)
    record = predict_batch(scaled_recipe, scaled, today)
    fills = record.fills
    of_vessels = [note for note in record.notes if note.code in TOLD]
    rest = [note for note in record.notes if note.code not in TOLD]
    missed = missed_targets(predict_batch(recipe, batch, today), record)
    aimed = [Note("in_the_middle", MIDDLE)] if middle else []
    packs = packs_for(scaled)
    nearest = emptying_size(scaled, packs)
    notes = [
        *missed_notes(missed),
        *aimed,
        *scaling_notes(batch, scaled, factors),
        *of_vessels,
        *fitting_notes(fills),
    ]
    notes += pack_notes(packs, nearest, scaled.volume_l)
    return ScaledRecipe(
        drink=replace(record, status="scaled", size_text=to, notes=(*notes, *rest)),
        recipe=scaled_recipe,
        before_l=batch.volume_l,
        after_l=scaled.volume_l,
        factors=tuple((step.name, float(f)) for step, f in zip(batch.chain.steps, factors, strict=False)),
        fills=fills,
        missed=missed,
        packs=packs,
        empties=nearest,
    )


def _in_the_middle(path: Source, today: date | None) -> Recipe:
    """Return the recipe with the least change that brings it to the middle of each band, in its own size."""
    recipe = load_recipe(path)
    best = reformulate(path, Circumstances(), middle=True, today=today).best
    lines = [
        RecipeLine(id=line.ingredient, amount=Amount(line.mass_kg, AmountBasis.MASS), step=line.step)
        for line in best.record.recipe
    ]
    return recipe.model_copy(
        update={
            "ingredients": tuple(lines),
            "volume_l": best.answer.volume_l,
            "steps": best.formulation.bottle.resolved_steps(),
        }
    )


def written_recipe(scaled: ScaledRecipe, path: Path) -> str:
    """Return the text of the new recipe file, its paths as seen from where it is written."""
    from formulate.files.recipe import dump_recipe

    recipe = scaled.recipe
    bottle, shelf = beside(recipe.bottle_path, path), beside(recipe.shelf_path, path)
    return dump_recipe(recipe.model_copy(update={"bottle": bottle, "shelf": shelf}))
