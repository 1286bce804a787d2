"""A solved bottle as a record: what to weigh, what it will be, what it costs, what to mind."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from formulate.bar.offers import offer_notes
from formulate.bar.potency import potency_notes
from formulate.bar.vessels import fills_of
from formulate.bar.wholes import line_prices
from formulate.blend.confirm import confirmable_strength_pct_vol
from formulate.blend.flavour import flavour_of
from formulate.blend.lots import bitterness_range
from formulate.blend.materials import LIQUOR
from formulate.describe.clarity import clarity_of
from formulate.describe.doses import too_little_notes, unusual_dose_notes
from formulate.describe.kitchen_notes import kitchen_notes
from formulate.describe.purchases import purchase_records, whole_notes
from formulate.describe.records import CostLine, DrinkRecord, TargetRecord
from formulate.describe.targets import figure_of, measure_notes, target_record, targets_as_asked
from formulate.describe.telling import (
    figures_notes,
    hold_back_advice,
    house_made_notes,
    mixture_notes,
    recipe_lines,
    step_records,
    weighed_down,
)
from formulate.describe.ties import tie_notes
from formulate.describe.vessels import fill_notes
from formulate.errors import Note
from formulate.files.bottle import Bottle
from formulate.formulation.bitterness import Rung
from formulate.formulation.bottle import Formulation
from formulate.formulation.doses import dosing_notes
from formulate.formulation.published_range import range_notes
from formulate.optimise.answer import Answer, LimitValue
from formulate.optimise.highs import version
from formulate.quantity.document import HIDDEN, Record, shown
from formulate.quantity.words import listed
from formulate.rules.categories import categories_of, category_notes
from formulate.rules.cautions import batch_cautions
from formulate.rules.facts import facts_of
from formulate.rules.standing import law_notes, law_of, own_content_notes

__all__ = ["SolvedBottle", "not_used", "solved_record"]


@dataclass(frozen=True)
class SolvedBottle(Record):
    """A solved bottle file.

    Attributes
    ----------
    record : DrinkRecord
        What a report shows.
    formulation : Formulation
    answer : Answer
    """

    record: DrinkRecord = field(metadata=shown(""))
    formulation: Formulation = field(metadata=HIDDEN)
    answer: Answer = field(metadata=HIDDEN)


def solved_record(
    bottle: Bottle, formulation: Formulation, answer: Answer, *, chosen: bool = True
) -> DrinkRecord:
    """Tell of an answer: what to weigh, what it will be, what it costs, what to mind.

    Parameters
    ----------
    bottle : Bottle
    formulation : Formulation
    answer : Answer
    chosen : bool
        Whether the answer keeps what the file says under `choose`.
    """
    problem, drink = answer.problem, answer.profile
    chain, pantry, ingredients = problem.chain, formulation.pantry, formulation.ingredients
    used_kg = answer.masses_kg.sum(axis=0)
    prices = line_prices(problem.price_per_kg, problem.purchases, answer.purchases_kg, used_kg)
    lines = recipe_lines(chain, ingredients, answer.masses_kg, pantry, prices, answer.volume_l)
    used = list(dict.fromkeys(line.ingredient for line in lines))
    bought = purchase_records(pantry, ingredients, problem.purchases, answer.purchases_kg, used_kg)
    by_lot = bitterness_range(chain, formulation.ingredients, answer.masses_kg, drink, tuple(bottle.measured))
    facts = facts_of(bottle.resolved_steps(), ingredients, answer.masses_kg, answer.run, drink, pantry)
    law = law_of(formulation.rules, chain.materials, used_kg, answer.run.bottled, float(answer.volume_l))
    notes = [*law_notes(law, formulation.rules)]
    notes += own_content_notes(pantry, used, float(drink.strength_pct_vol))
    specs = bottle.resolved_steps()
    filled = None if problem.fill is None else problem.fill.step
    notes += fill_notes(specs, pantry, answer.run, filled=filled)
    notes += _choices_kept() if chosen and bottle.choose is not None else []
    notes += not_used((one.id for one in bottle.uses if not one.optional), used)
    notes += _left_out([one.id for one in bottle.uses if one.optional], used)
    notes += dosing_notes(bottle, ingredients, formulation.doses)
    told = [ingredients[one.index].id for one in formulation.doses if one.beyond or one.by_law]
    notes += unusual_dose_notes(ingredients, used_kg / float(answer.volume_l), bottle.kind, told)
    notes += _notes(formulation, answer, used, by_lot)
    notes += category_notes(bottle.targets.category, facts.contents, ingredients, answer.masses_kg, drink)
    notes += house_made_notes(pantry, used)
    notes += potency_notes(pantry, used, tuple(bottle.measured))
    notes += offer_notes(pantry, used)
    notes += too_little_notes(lines, ingredients, pantry)
    notes += whole_notes(bought)
    notes += tie_notes(answer)
    notes.append(
        Note(
            "priced_by_use", "Cost counts what is used, not whole packs, at the cheapest offer on the shelf."
        )
    )
    return DrinkRecord(
        name=bottle.name,
        status=str(answer.status),
        size_text=formulation.size_text,
        recipe=weighed_down(lines, law),
        steps=step_records(chain, answer.run),
        predicted=drink,
        targets=targets_as_asked(
            formulation, tuple(_target(value, answer) for value in answer.limits if value.limit.is_target)
        ),
        cost=CostLine(answer.cost, answer.cost_per_l, formulation.pantry.currency, answer.proven_gap),
        notes=tuple(notes),
        cautions=batch_cautions(facts, ingredients),
        confirmable_pct_vol=confirmable_strength_pct_vol(answer.run.bottled[:LIQUOR]),
        bitterness_range=by_lot,
        solver={
            "name": "HiGHS",
            "version": version(),
            "passes": answer.passes,
            "proof_solves": answer.proof_solves,
            "seconds": answer.seconds,
        },
        used_limits=tuple(
            _target(value, answer)
            for value in answer.limits
            if value.binding
            and not (value.limit.is_target or value.limit.rule)
            and np.isfinite(value.limit.display)
        ),
        purchases=bought,
        clarity=clarity_of(bottle.resolved_steps(), ingredients, answer.masses_kg, answer.run, drink, pantry),
        law=law,
        categories=categories_of(
            facts.contents, ingredients, answer.masses_kg, drink, formulation.rules.jurisdiction
        ),
        fills=fills_of(specs, pantry, answer.run),
        flavour=flavour_of(ingredients, chain.steps, answer.masses_kg, float(answer.volume_l), bottle.kind),
    )


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
    return [Note("not_used", f"Not used: {listed(idle)}. Give {advice}.")]


def _left_out(names: Sequence[str], used: Sequence[str]) -> list[Note]:
    """Name what may be left out and is."""
    idle = [name for name in names if name not in used]
    return [Note("left_out", f"Left out, as it may be: {listed(idle)}.")] if idle else []


def _choices_kept() -> list[Note]:
    text = "What the file says under `choose` is kept; what a target costs holds with these ingredients."
    return [Note("choices_kept", text)]


def _notes(
    formulation: Formulation, answer: Answer, used: list[str], by_lot: tuple[float, float] | None
) -> list[Note]:
    bottle, band = formulation.bottle, formulation.bitterness
    notes = []
    if band is not None:
        if band.rung is not Rung.MEASURED:
            notes.append(
                Note("bitterness_rung", f"Bitterness was asked for as `{band.text}`: {band.gentian_text}.")
            )
        notes.append(
            Note("hold_back", hold_back_advice(band, float(answer.profile.bitterness_value), by_lot))
        )
    plain = [name for name, asked in bottle.targets.bands().items() if asked.plain]
    if plain:
        notes.append(
            Note(
                "usual_tolerance",
                f"The usual tolerance of the shelf was used for {', '.join(plain)}: see the limits above.",
            )
        )
    notes += range_notes(answer.limits)
    chain = answer.problem.chain
    notes += mixture_notes(answer.profile, answer.run, chain)
    specs = bottle.resolved_steps()
    notes += kitchen_notes(specs, formulation.ingredients, chain.materials, answer.masses_kg, answer.run)
    notes += figures_notes(formulation.ingredients, used, bottle.targets.bitterness is not None)
    notes += measure_notes(bottle.targets.bands())
    return notes
