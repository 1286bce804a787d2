"""What a table of infusing plans is told with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from formulate.bar.batch import BarBatch
from formulate.blend.steps import LEAST_SPIRIT_PCT_VOL
from formulate.describe.infuse_record import Plan
from formulate.describe.kitchen_notes import enzyme_notes
from formulate.errors import Note
from formulate.planning.infusion_plans import WARM_WITHIN_K, PlanTable
from formulate.quantity.words import listed
from formulate.rules.cautions import batch_cautions, by_care
from formulate.rules.contents import contents_of

__all__ = ["plan_cautions", "plan_notes"]

FULL_CEILING = 0.9
"""A strength that draws out less than this of what the best one would is worth a word."""


def plan_notes(table: PlanTable, batch: BarBatch, plan: Plan, plans: Sequence[Plan]) -> list[Note]:
    """Say what the figures of a table of plans rest on, and what the plan to take needs.

    Parameters
    ----------
    batch : BarBatch
        Weighed.
    plan : Plan
        The one to take.
    plans : sequence of Plan
        All that are shown.
    """
    notes = [
        Note(
            "starting_values",
            "Drawn out, colour left and coarse are working figures from common practice, good to a factor of "
            "two at best. Taste on the way, and stop when it is right.",
            "common practice",
        )
    ]
    weak = [
        f"{ingredient} {ceiling * 100:.0f} %"
        for ingredient, _, _, ceiling in table.plants
        if ceiling < FULL_CEILING
    ]
    if weak:
        notes.append(
            Note(
                "strength_ceiling",
                f"At {table.strength_pct_vol:.0f} % vol, in the end, {listed(weak)} of what the "
                "best strength would draw out.",
                "common practice",
            )
        )
    if any(shown.warm_up_h > 0.0 for shown in plans):
        notes.append(_warm_up_note(table))
    if not all(strainer.named for strainer in table.strainers):
        text = "A coarse sieve and a cloth are counted in the clock: say your own with `separate`."
        notes.append(Note("no_straining_time", text))
    if any(
        shown.enzyme == "with spirit" and shown.strength_pct_vol > LEAST_SPIRIT_PCT_VOL for shown in plans
    ):
        notes.append(
            Note(
                "enzyme_in_spirit",
                "How much the spirit slows the enzyme is a starting guess, and practice is kinder than our "
                "table: do the end test.",
                "common practice",
            )
        )
    if plan.enzyme is not None:
        notes += enzyme_notes(_by_plan(table, batch, plan))
        if plan.cost_per_l is not None and table.enzyme_price_per_kg is None:
            notes.append(Note("enzyme_not_priced", "The enzyme has no price on the shelf: not in the cost."))
    return notes


def _warm_up_note(table: PlanTable) -> Note:
    """Say what the warm-up is worked out from; the clock always holds it."""
    until = f"until the middle of the {table.jar_l:.1f} L jar is within {WARM_WITHIN_K:g} °C of the bath"
    if table.time_constant_h is not None:
        text, source = f"Warm-up is {until}, from {table.start_c:.0f} °C, by your probe.", ""
    elif table.still:
        text = f"Warm-up is {until}, from {table.start_c:.0f} °C, unstirred: by conduction alone."
        source = "Carslaw and Jaeger, first term"
    else:
        text = (
            f"Warm-up is {until}, from {table.start_c:.0f} °C, stirred now and then: a rough figure; a "
            "still jar takes several times as long (--still). A probe beats it: --probe and --bath."
        )
        source = "from memory"
    short = (
        ""
        if table.time_constant_h is not None
        else "Warm-up is a rough figure; a probe beats it: --probe and --bath."
    )
    return Note("warm_up", text, source, short=short)


def _by_plan(table: PlanTable, batch: BarBatch, plan: Plan) -> BarBatch:
    """Return the same amounts, infused as the plan says, as far as words go: its figures stay."""
    return replace(batch, specs=table.specs_of(plan))


def plan_cautions(table: PlanTable, batch: BarBatch, plan: Plan, plans: Sequence[Plan]) -> tuple[Note, ...]:
    """Say what to take care of with the plan to take, and with the heat of the hottest one shown.

    Parameters
    ----------
    batch : BarBatch
        Weighed.
    plan : Plan
        The one to take.
    plans : sequence of Plan
        All that are shown.
    """
    hottest = max(plans, key=lambda shown: shown.temperature_c)
    of_heat = [note for note in _cautions(table, batch, hottest) if note.place in ("heating", "pressing")]
    mine = _cautions(table, batch, plan)
    codes = {note.code for note in mine}
    return by_care([*(note for note in of_heat if note.code not in codes), *mine])


def _cautions(table: PlanTable, batch: BarBatch, plan: Plan) -> tuple[Note, ...]:
    contents = contents_of(batch.ingredients, batch.used, batch.pantry)
    return batch_cautions(_by_plan(table, batch, plan), contents)
