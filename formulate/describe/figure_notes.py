"""What the figures of a batch rest on: its steps, the models, house-made things, plants by lot."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from formulate.bar.house_made import story_of
from formulate.bar.pantry import Pantry
from formulate.blend.batch import Batch
from formulate.blend.lots import CONFIDENCES, perhaps_bitter
from formulate.blend.steps import FORTIFIED_PCT_VOL
from formulate.describe.records import StepRecord
from formulate.errors import Note
from formulate.files.ingredient import Ingredient
from formulate.formulation.bitterness import BitternessBand, Rung
from formulate.learn.gauge_notes import DENSITY_HELD, DENSITY_SOURCE
from formulate.physics.bitterness import gentian_equivalent_g_l
from formulate.quantity.words import listed

__all__ = ["figures_notes", "hold_back_advice", "house_made_notes", "mixture_notes", "step_records"]

NEARLY_PURE = 0.95

HELD_BACK = 1.0 / 3.0
"""Of the bitter plants, to finish by taste (common practice)."""
TINCTURE_G_ML = 0.1
"""Root in a mL of the tincture that a bar keeps, 100 g to a litre (common practice)."""


UNCHECKED_STRENGTH, UNCHECKED_SUGAR = 15.0, 66.0
"""Above these, % vol and g/L together, the density model joins two tables, and it is said how well."""


def step_records(batch: Batch) -> tuple[StepRecord, ...]:
    """Describe each step of a batch."""
    run = batch.run
    return tuple(
        StepRecord(
            name=step.name,
            liquor_kg=float(batch.liquor_kg(position).sum()),
            volume_l=batch.liquor_l(position),
            strength_pct_vol=batch.liquor_pct_vol(position),
            kept_kg=float(run.kept_kg[position]),
            lost_kg=float(run.lost_kg[position]),
            solids_kg=float(run.solids_kg[position]),
        )
        for position, step in enumerate(batch.chain.steps)
    )


def mixture_notes(batch: Batch) -> list[Note]:
    """Say what the figures rest on."""
    drink, run = batch.drink, batch.run
    strengths = [batch.liquor_pct_vol(position) for position in range(len(batch.specs))]
    notes = []
    if drink.strength_pct_vol > UNCHECKED_STRENGTH and drink.sugar_g_l > UNCHECKED_SUGAR:
        notes.append(
            Note(
                "density_model",
                f"Strength and sugar are calculated. {DENSITY_HELD}",
                DENSITY_SOURCE,
            )
        )
    if not run.lost_kg.any():
        notes.append(
            Note(
                "no_losses",
                "No filter or vessel loss is counted: give each step a `loss:` once you have weighed yours.",
            )
        )
    notes += [
        Note(
            "unfortified_step",
            f"`{step.name}` steeps plants at {strength:.0f} % vol: without enough spirit a mash ferments "
            "or spoils, and plants give less. Keep it short and cold, or put the spirit in that step.",
            "common practice",
        )
        for step, strength, solids in zip(batch.chain.steps, strengths, run.solids_kg, strict=True)
        if solids > 0.0 and strength < FORTIFIED_PCT_VOL < drink.strength_pct_vol
    ]
    if run.kept_kg.any():
        notes.append(
            Note(
                "press_cake",
                f"The pressed fruit keeps about {run.kept_kg.sum() * 1000:.0f} g of liquor; that is a "
                "starting value, weigh yours once.",
                "common practice",
            )
        )
    return notes


def figures_notes(ingredients: Sequence[Ingredient], used: Sequence[str], bitter_wanted: bool) -> list[Note]:
    """Say which ingredients rest on figures nobody verified, and which bitterness is not known."""
    notes = []
    weak = [
        ingredient.id
        for ingredient in ingredients
        if ingredient.id in used
        and _is_mixed(ingredient)
        and _composition_confidence(ingredient) == "from memory"
    ]
    if weak:
        made = f"{listed(weak)} {'is' if len(weak) == 1 else 'are'} made of"
        text = f"What {made} is from memory, not from a published table: check your lot."
        notes.append(Note("weak_figures", text))
    own = [ingredient.id for ingredient in ingredients if ingredient.overrides and ingredient.id in used]
    if own:
        notes.append(Note("own_values", f"Your shelf's own values were used for {listed(own)}."))
    if bitter_wanted:
        silent = perhaps_bitter(ingredients, used)
        if silent:
            notes.append(
                Note(
                    "bitterness_unknown",
                    f"No bitterness figure is known for {listed(silent)}: counted as none.",
                )
            )
    return notes


def _is_mixed(ingredient: Ingredient) -> bool:
    """Whether an ingredient is not nearly one pure substance, so that its make-up varies by lot."""
    return bool(ingredient.composition) and max(ingredient.composition.values()) < NEARLY_PURE


def _composition_confidence(ingredient: Ingredient) -> str:
    """Return the weakest confidence that stands behind a composition."""
    given = [source.confidence for source in ingredient.sources if "composition" in source.figures]
    return min(given, key=CONFIDENCES.index, default="measured here")


def house_made_notes(pantry: Pantry, used: Sequence[str]) -> list[Note]:
    """Say where the figures of the house-made things in a recipe come from, and which are past their day.

    Parameters
    ----------
    used : sequence of str
        Ids in the recipe.
    """
    if pantry.shelf is None:
        return []
    notes = []
    for name in dict.fromkeys(used):
        entry = pantry.shelf.house_made.get(name)
        if entry is None:
            continue
        made = pantry.made(name)
        silent = perhaps_bitter(made.batch.ingredients, made.batch.chain.materials.ids)
        unknown = (
            f" No bitterness figure is known for {listed(silent)} in it: counted as none." if silent else ""
        )
        notes.append(
            Note(
                "house_made",
                f"{name} is made here: its figures and its price come from {story_of(entry)}.{unknown}",
            )
        )
        if entry.keep_by is not None and entry.keep_by < pantry.day:
            notes.append(
                Note(
                    "past_keep_by",
                    f"{name} was to be used by {entry.keep_by.isoformat()}: smell and taste it before "
                    "anything else goes in, or make a new lot.",
                )
            )
    return notes


def hold_back_advice(band: BitternessBand, value: float, by_lot: tuple[float, float] | None) -> str:
    """Say what a bitterness figure rests on and what to do about it.

    Parameters
    ----------
    value : float
        Calculated bitterness value of the recipe.
    by_lot : tuple of float or None
        What weak and strong lots of the same plants would give.
    """
    if band.rung is Rung.MEASURED:
        return "Bitterness rests on the values measured for this lot."
    low, high = by_lot or (value, value)
    text = (
        f"Bitterness {value:.0f} is calculated from usual values; by lot and infusion it may come out "
        f"{low:.0f} to {high:.0f}"
    )
    if band.lower <= low and high <= band.upper:
        return f"{text}. Hold back a third of the bitter plants, taste, and finish with the rest."
    asked = f"{band.lower:.0f} to {band.upper:.0f}" if isfinite(band.upper) else f"{band.lower:.0f} or more"
    sure = max(1.0 - band.upper / high, 0.0)
    more = f" ({sure * 100.0:.0f} % would cover the strongest lot)" if sure > HELD_BACK else ""
    tincture = TINCTURE_G_ML / float(gentian_equivalent_g_l(1.0))
    return (
        f"{text}, wider than the {asked} asked. Finish by taste: hold back a third of the bitter "
        f"plants{more}, steep it apart in a little of the spirit and add that a fifth at a time, each about "
        f"{value * HELD_BACK / 5.0:.1f}; stir and taste in between. Still too mild: 1 mL per litre of a "
        f"gentian tincture (100 g to 1 L) brings about {tincture:.1f}."
    )
