"""A batch as a record, the same for every command: what to weigh, what it is, what it costs, what to mind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from formulate.bar.batch import BarBatch
from formulate.bar.meant import price_questions
from formulate.bar.offers import offer_notes
from formulate.bar.potency import potency_notes
from formulate.bar.vessels import fills_of
from formulate.blend.confirm import confirmable_strength_pct_vol
from formulate.blend.flavour import flavour_of
from formulate.blend.lots import bitterness_range
from formulate.blend.materials import LIQUOR
from formulate.describe.clarity import clarity_of
from formulate.describe.doses import named_after_notes, too_little_notes
from formulate.describe.figure_notes import figures_notes, house_made_notes, mixture_notes, step_records
from formulate.describe.first_remarks import work_text
from formulate.describe.kitchen_notes import kitchen_notes
from formulate.describe.recipe_lines import (
    purchase_records,
    recipe_lines,
    weighed_down,
    whole_notes,
)
from formulate.describe.records import CostLine, DrinkRecord, TargetRecord
from formulate.describe.targets import measure_notes
from formulate.describe.vessels import fill_notes
from formulate.errors import Note
from formulate.files.categories import CategoryAim
from formulate.formulation.bitterness import word_of
from formulate.rules.categories import categories_of, category_notes
from formulate.rules.cautions import batch_cautions
from formulate.rules.contents import contents_of
from formulate.rules.law import law_of
from formulate.rules.law_notes import law_notes, own_content_notes, relied_on_note

__all__ = ["Asked", "describe"]


@dataclass(frozen=True)
class Asked:
    """What was asked of a batch, and how that was answered.

    Attributes
    ----------
    status, size_text : str
        As in `DrinkRecord`.
    bitterness : bool
        Whether bitterness is of interest, so that plants without a figure for it are named.
    measures : tuple of str
        Names of what targets are on.
    filled : int or None
        Position of the step that was asked to fill a vessel: that one fits.
    rounded_down : bool
        Whether figures near a limit of the law are shown rounded down.
    notes, dose_notes, other_ways : tuple of Note
        Of what was asked, of doses that nobody asked for, and of recipes that would cost the same.
    """

    status: str
    size_text: str
    bitterness: bool
    measures: tuple[str, ...] = ()
    targets: tuple[TargetRecord, ...] = ()
    used_limits: tuple[TargetRecord, ...] = ()
    category: CategoryAim | None = None
    proven_gap: float | None = None
    solver: Mapping[str, object] = field(default_factory=dict)
    filled: int | None = None
    rounded_down: bool = False
    notes: tuple[Note, ...] = ()
    dose_notes: tuple[Note, ...] = ()
    other_ways: tuple[Note, ...] = ()


def describe(batch: BarBatch, asked: Asked) -> DrinkRecord:
    """Describe a batch."""
    pantry, drink, bill, used = batch.pantry, batch.drink, batch.bill, batch.used
    contents = contents_of(batch.ingredients, used, pantry)
    law = law_of(batch, batch.rules)
    names = categories_of(batch, contents, batch.rules.jurisdiction)
    cautions = batch_cautions(batch, contents)
    relied_on = relied_on_note(law, names, cautions, [one for one in batch.ingredients if one.id in used])
    lines = recipe_lines(batch)
    purchases = purchase_records(batch)
    flavour = flavour_of(batch, batch.kind)
    notes = [
        *law_notes(law, batch.rules),
        *own_content_notes(pantry, used, float(drink.strength_pct_vol)),
        *fill_notes(batch, filled=asked.filled),
        *asked.notes,
        *mixture_notes(batch),
        *kitchen_notes(batch),
        *figures_notes(batch.ingredients, used, asked.bitterness),
        *measure_notes(asked.measures),
        *category_notes(asked.category, batch, contents),
        *house_made_notes(pantry, used),
        *potency_notes(pantry, used, tuple(batch.measured)),
        *offer_notes(pantry, used),
        *price_questions(pantry, [one.id for one in batch.ingredients]),
        *asked.dose_notes,
        *named_after_notes(batch.name, flavour),
        *too_little_notes(lines, batch),
        *whole_notes(purchases),
        *asked.other_ways,
        _price_note(batch),
        *([relied_on] if relied_on is not None else []),
    ]
    return DrinkRecord(
        name=batch.name,
        status=asked.status,
        size_text=asked.size_text,
        work=work_text(batch.specs),
        recipe=weighed_down(lines, law) if asked.rounded_down else lines,
        steps=step_records(batch),
        predicted=drink,
        targets=asked.targets,
        cost=None
        if bill is None
        else CostLine(bill.total, bill.total / drink.volume_l, pantry.currency, asked.proven_gap),
        notes=tuple(notes),
        cautions=cautions,
        confirmable_pct_vol=confirmable_strength_pct_vol(batch.bottled[:LIQUOR]),
        bitterness_range=bitterness_range(batch),
        bitterness_word=word_of(float(drink.bitterness_value)),
        solver=asked.solver,
        used_limits=asked.used_limits,
        purchases=purchases,
        clarity=clarity_of(batch),
        law=law,
        categories=names,
        fills=fills_of(batch, pantry),
        flavour=flavour,
    )


def _price_note(batch: BarBatch) -> Note:
    if batch.bill is None:
        return Note("no_prices", "No cost: at least one ingredient has no price on the shelf.")
    return Note(
        "priced_by_use", "Cost counts what is used, not whole packs, at the cheapest offer on the shelf."
    )
