"""What a batch that was put right asks care of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.blend.profile import profile
from formulate.errors import Note
from formulate.files.steps import StepSpec
from formulate.formulation.bottle import Formulation
from formulate.jobs.adjusting.question import OTHER, THIS, Question
from formulate.learn.lot import Lot
from formulate.rules.cautions import batch_cautions
from formulate.rules.contents import Content, contents_of
from formulate.rules.facts import facts_of

__all__ = ["adjusted_cautions"]

FloatArray = NDArray[np.float64]

THE_BATCH = "the batch"


def adjusted_cautions(
    lot: Lot, other: Lot | None, aims: Formulation, question: Question, masses: FloatArray
) -> tuple[tuple[Note, ...], tuple[Note, ...]]:
    """Gather what to take care of once the batch is put right.

    Parameters
    ----------
    lot : Lot
    other : Lot or None
        Another batch that may be blended in.
    aims : Formulation
        Of the bottle file; what it lists counts where nobody said what went into a batch.
    question : Question
    masses : ndarray
        Kilograms of each ingredient of the question.

    Returns
    -------
    cautions : tuple of Note
    notes : tuple of Note
        That the bottle's list was taken, where it was.
    """
    blended = question.ingredients[-1].id == OTHER and masses[-1] > 0.0
    lots = [lot, *([other] if other is not None and blended else [])]
    added = [
        one.id
        for one, mass in zip(question.ingredients, masses, strict=True)
        if mass > 0.0 and one.id not in (THIS, OTHER)
    ]
    contents = [*contents_of(question.ingredients, added, aims.pantry)]
    for one in lots:
        contents += [replace(content, inside=content.inside or THE_BATCH) for content in _held(one, aims)]
    chain = question.problem.chain
    run = chain.run(masses[None, :])
    drink = profile(run.bottled, chain.materials)
    facts = facts_of(
        [StepSpec(name=step.name, strain=False) for step in chain.steps],
        question.ingredients,
        masses[None, :],
        run,
        drink,
        aims.pantry,
        tuple(dict.fromkeys(contents)),
    )
    unknown = any(one.contents is None for one in lots)
    note = Note(
        "contents_unknown",
        "What went into the batch is not said: for allergens and guests all that the bottle file lists was "
        "counted. Give a jar or recipe file.",
    )
    return batch_cautions(facts, question.ingredients), (note,) if unknown else ()


def _held(lot: Lot, aims: Formulation) -> tuple[Content, ...]:
    """List what is in a batch: what went in, else all that the bottle lists and what its name says."""
    if lot.contents is not None:
        return lot.contents
    listed = contents_of(aims.ingredients, [one.id for one in aims.ingredients], aims.pantry)
    called = contents_of([lot.as_ingredient(THIS)], [THIS], aims.pantry)
    return (*listed, *(replace(content, id=lot.name) for content in called))
