"""A solved bottle as a record: the answer's recipe as a batch, with what was asked of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from formulate.bar.batch import BarBatch
from formulate.bar.wholes import Bill
from formulate.blend.lots import bitterness_range
from formulate.blend.materials import LIQUOR
from formulate.describe.doses import unusual_dose_notes
from formulate.describe.drink import Asked, describe
from formulate.describe.figure_notes import hold_back_advice
from formulate.describe.records import DrinkRecord, TargetRecord
from formulate.describe.targets import figure_of, range_notes, target_record, targets_as_asked
from formulate.errors import Note
from formulate.formulation.bitterness import Rung
from formulate.formulation.bottle import Formulation
from formulate.formulation.doses import dosing_notes
from formulate.optimise.answer import Answer, LimitValue
from formulate.optimise.highs import version
from formulate.optimise.point import least_share
from formulate.optimise.ties import ties_of
from formulate.quantity.document import HIDDEN, Record, shown
from formulate.quantity.words import listed

__all__ = ["SolvedBottle", "answered_batch", "not_used", "solved_record", "tie_notes"]


@dataclass(frozen=True)
class SolvedBottle(Record):
    """A solved bottle file.

    Attributes
    ----------
    record : DrinkRecord
        What a report shows.
    """

    record: DrinkRecord = field(metadata=shown(""))
    formulation: Formulation = field(metadata=HIDDEN)
    answer: Answer = field(metadata=HIDDEN)


def answered_batch(formulation: Formulation, answer: Answer) -> BarBatch:
    """Return the batch that an answer makes.

    Parameters
    ----------
    formulation : Formulation
        The question.
    """
    bottle, problem = formulation.bottle, answer.problem
    return BarBatch(
        formulation.ingredients,
        bottle.resolved_steps(),
        problem.chain,
        answer.masses_kg,
        frozenset(bottle.measured),
        name=bottle.name,
        kind=bottle.kind,
        pantry=formulation.pantry,
        rules=formulation.rules,
        bill=Bill(problem.price_per_kg, problem.purchases, answer.purchases_kg, answer.cost),
    )


def solved_record(formulation: Formulation, answer: Answer, *, chosen: bool = True) -> DrinkRecord:
    """Describe what an answer makes.

    Parameters
    ----------
    formulation : Formulation
        The question.
    chosen : bool
        Whether the answer keeps what the file says under `choose`.
    """
    bottle, problem = formulation.bottle, answer.problem
    batch = answered_batch(formulation, answer)
    targets = tuple(_target(value, answer) for value in answer.limits if value.limit.is_target)
    asked = Asked(
        status=str(answer.status),
        size_text=formulation.size_text,
        bitterness=bottle.targets.bitterness is not None,
        measures=tuple(bottle.targets.bands()),
        targets=targets_as_asked(formulation, targets),
        used_limits=tuple(
            _target(value, answer)
            for value in answer.limits
            if value.binding
            and not (value.limit.is_target or value.limit.rule)
            and np.isfinite(value.limit.display)
        ),
        category=bottle.targets.category,
        proven_gap=answer.proven_gap,
        solver={
            "name": "HiGHS",
            "version": version(),
            "passes": answer.passes,
            "proof_solves": answer.proof_solves,
            "seconds": answer.seconds,
        },
        filled=None if problem.fill is None else problem.fill.step,
        rounded_down=True,
        notes=tuple(_asked_notes(formulation, answer, batch, chosen=chosen)),
        other_ways=tuple(tie_notes(answer)),
    )
    return describe(batch, asked)


def _target(value: LimitValue, answer: Answer) -> TargetRecord:
    # The figure a person knows from the profile, not from the row the solver saw.
    own = figure_of(value.limit, answer.profile, answer.cost_per_l)
    return target_record(
        value.limit,
        value.value if own is None else own,
        answer.profile,
        binding=value.binding,
        shadow_price=None if np.isnan(value.shadow_price) else value.shadow_price,
    )


def _asked_notes(formulation: Formulation, answer: Answer, batch: BarBatch, *, chosen: bool) -> list[Note]:
    """Say how what the file asks was taken, and what of its list is not used."""
    bottle, band = formulation.bottle, formulation.bitterness
    notes = []
    if chosen and bottle.choose is not None:
        text = "What the file says under `choose` is kept; what a target costs holds with these ingredients."
        notes.append(Note("choices_kept", text, short="What the file says under `choose` is kept."))
    ingredients, uses = formulation.ingredients, bottle.uses
    notes += not_used((use.id for use in uses if not use.optional), batch.used)
    notes += _left_out([use.id for use in uses if use.optional], batch.used)
    notes += dosing_notes(bottle, ingredients, formulation.doses)
    explained = [ingredients[dose.index].id for dose in formulation.doses if dose.beyond or dose.by_law]
    notes += unusual_dose_notes(batch, bottle.kind, explained)
    if band is not None:
        if band.rung is not Rung.MEASURED:
            notes.append(
                Note("bitterness_rung", f"Bitterness was asked for as `{band.text}`: {band.gentian_text}.")
            )
        advice = hold_back_advice(band, float(batch.drink.bitterness_value), bitterness_range(batch))
        short = "Bitterness varies by lot: hold back a third of it and finish by taste."
        notes.append(Note("hold_back", advice, short="" if band.rung is Rung.MEASURED else short))
    plain = [name for name, asked in bottle.targets.bands().items() if asked.plain]
    if plain:
        notes.append(
            Note(
                "usual_tolerance",
                f"The usual tolerance of the shelf was used for {', '.join(plain)}: see the limits above.",
            )
        )
    notes += range_notes(answer.limits)
    notes += _nearly_dry(answer)
    return notes


NEARLY = 1.0 + 1e-4
"""Of a least that counts as met by a hair."""


def _nearly_dry(answer: Answer) -> list[Note]:
    """Say where the rule of the program binds that a step passes on some of its liquor."""
    notes = []
    for position, step in enumerate(answer.problem.chain.steps):
        liquor = float(answer.run.gross[position, :LIQUOR].sum())
        least = least_share(step)
        if liquor > 0.0 and answer.run.carried[position, :LIQUOR].sum() <= least * liquor * NEARLY:
            text = (
                f"The cake of {step.name} keeps nearly all of its liquor: a step must pass on at least "
                f"{100.0 * least:.3g} %, and that limits this recipe. Press harder, rinse, or use less of "
                "what is pressed."
            )
            notes.append(Note("step_nearly_dry", text))
    return notes


def not_used(names: Iterable[str], used: Sequence[str]) -> list[Note]:
    """Name what is listed and does not go in: a raspberry liqueur without a raspberry is no surprise then."""
    idle = [name for name in names if name not in used and name != "water"]
    if not idle:
        return []
    advice = (
        "it an `at_least` if the drink needs it"
        if len(idle) == 1
        else "an `at_least` to what the drink needs"
    )
    return [Note("not_used", f"Not used: {listed(idle)}. Give {advice}.", short=f"Not used: {listed(idle)}.")]


def _left_out(names: Sequence[str], used: Sequence[str]) -> list[Note]:
    """Name what may be left out and is."""
    idle = [name for name in names if name not in used]
    return [Note("left_out", f"Left out, as it may be: {listed(idle)}.")] if idle else []


def tie_notes(answer: Answer) -> list[Note]:
    """Say which unused ingredients could stand in for a used one at the same cost."""
    ids = answer.problem.chain.materials.ids
    notes = []
    for tie in ties_of(answer):
        first = "; the one listed first was used" if tie.used < tie.other else ""
        text = f"{ids[tie.other]} could stand in for {ids[tie.used]} at the same cost{first}."
        notes.append(Note("tie", text))
    return notes
