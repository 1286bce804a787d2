"""`predict` for a jar: what went in and what came out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.opening import open_pantry
from formulate.bar.vessels import FillRecord
from formulate.describe.records import DrinkRecord
from formulate.errors import Note
from formulate.files.jar import Jar, load_jar
from formulate.files.models import Source, path_of, says
from formulate.jobs.predict import predict_batch, predict_recipe
from formulate.learn.jar import OutRecord, fit_jar
from formulate.quantity.document import Record, shown

__all__ = ["JarRecord", "predict_file", "predict_jar"]

USUAL_FACTOR = (0.4, 2.5)
"""Beyond these times the starting value a cake is surprising: check the scale (our judgement)."""


@dataclass(frozen=True)
class JarRecord(Record):
    """A jar worked out."""

    drink: DrinkRecord = field(metadata=shown(""))
    weighed_in_kg: float
    out: tuple[OutRecord, ...] = field(metadata=shown("came_out"))
    fills: tuple[FillRecord, ...] = field(metadata=shown("vessels"))


def predict_file(file: Source, today: date | None = None) -> DrinkRecord | JarRecord:
    """Work out a recipe file or a jar file, told apart by its keys.

    Parameters
    ----------
    today : date, optional
        What `keep_by` dates and the age of the stock are held against; the day it is if not given.

    Raises
    ------
    SpecError
        If a file is wrong.
    """
    path = path_of(file)
    return predict_jar(path, today) if says(path, "jar") else predict_recipe(path, today)


def predict_jar(path: Source, today: date | None = None) -> JarRecord:
    """Work out a jar file.

    Parameters
    ----------
    today : date, optional
        What `keep_by` dates and the age of the stock are held against.

    Raises
    ------
    SpecError
        If a file is wrong, or more came out than went in.
    """
    return _worked_out(load_jar(path), today)


def _worked_out(jar: Jar, today: date | None) -> JarRecord:
    pantry = open_pantry(jar.shelf_path, jar.places, today=today)
    batch, out = fit_jar(jar, weigh_batch(jar, pantry))
    drink = predict_batch(jar, batch, today)
    jar_notes = _found_notes(batch, out)
    notes = [note for note in drink.notes if not (out and note.code in ("press_cake", "no_losses"))]
    return JarRecord(
        drink=replace(drink, notes=(*jar_notes, *notes)),
        weighed_in_kg=float(batch.masses_kg.sum()),
        out=out,
        fills=drink.fills,
    )


def _found_notes(batch: BarBatch, out: Sequence[OutRecord]) -> list[Note]:
    """Say what the cake really kept, and what to put on the shelf."""
    notes = []
    steps = {step.name: position for position, step in enumerate(batch.chain.steps)}
    for record in out:
        if not record.in_cake:
            continue
        masses = batch.masses_kg[steps[record.step]]
        soaked = list(np.flatnonzero(batch.chain.materials.retention * masses > 0.0))
        factor = record.missing_kg / record.starting_kg
        text = (
            f"What was strained out of {record.step} kept {record.missing_kg * 1000:.0f} g of liquor; the "
            f"starting value is {record.starting_kg * 1000:.0f} g."
        )
        if len(soaked) == 1:
            ingredient = batch.ingredients[soaked[0]]
            per_kg = record.missing_kg / float(masses[soaked[0]])
            text += f" For your shelf: {ingredient.id} keeps {per_kg:.2f} kg/kg the way you press it."
        if not USUAL_FACTOR[0] <= factor <= USUAL_FACTOR[1]:
            text += " That is far from usual: check the scale and the weight of the empty jar."
        notes.append(Note("cake_found", text))
    return notes
