"""What every worked-out batch is told with: lines to weigh, steps, notes and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.house_made import _story
from formulate.bar.pantry import Pantry
from formulate.blend.chain import Chain, ChainRun
from formulate.blend.lots import CONFIDENCES, perhaps_bitter
from formulate.blend.materials import LIQUOR, density_as_bought_kg_m3
from formulate.blend.profile import Profile
from formulate.blend.steps import FORTIFIED_PCT_VOL, LEAST_SHOWN_KG_L
from formulate.describe.records import RecipeLineRecord, StepRecord
from formulate.errors import Note
from formulate.files.ingredient import Ingredient
from formulate.formulation.bitterness import BitternessBand, Rung
from formulate.physics.mixture import strength_pct_vol, volume_l
from formulate.quantity import AmountBasis
from formulate.quantity.words import listed
from formulate.rules.records import LawRecord
from formulate.rules.standing import at_a_limit

__all__ = [
    "bar_measure",
    "figures_notes",
    "hold_back_advice",
    "house_made_notes",
    "mixture_notes",
    "recipe_lines",
    "step_records",
    "weighed_down",
]

FloatArray = NDArray[np.float64]


NEARLY_PURE = 0.95


UNCHECKED_STRENGTH, UNCHECKED_SUGAR = 15.0, 66.0
"""Above these, % vol and g/L together, the density model has not been held against measurements."""


def recipe_lines(
    chain: Chain,
    ingredients: Sequence[Ingredient],
    masses_kg: FloatArray,
    pantry: Pantry,
    prices: FloatArray | None,
    volume: float,
) -> tuple[RecipeLineRecord, ...]:
    """List what is weighed, step by step in the order of the file.

    Parameters
    ----------
    chain : Chain
    ingredients : sequence of Ingredient
    masses_kg : ndarray, shape (steps, n)
    pantry : Pantry
    prices : ndarray, shape (n,), or None
        Per kg.
    volume : float
        Bottled, litres.
    """
    lines = []
    for position, step in enumerate(chain.steps):
        for number, ingredient in enumerate(ingredients):
            mass = float(masses_kg[position, number])
            if mass <= LEAST_SHOWN_KG_L * volume:
                continue
            lines.append(
                RecipeLineRecord(
                    ingredient=ingredient.id,
                    name=ingredient.name,
                    step=step.name,
                    mass_kg=mass,
                    measure=bar_measure(ingredient, mass, pantry),
                    cost=None if prices is None else mass * float(prices[number]),
                )
            )
    return tuple(lines)


def bar_measure(ingredient: Ingredient, mass_kg: float, pantry: Pantry) -> str:
    """Say a mass as a bar measures it: bottles and a rest, pieces, or mL; empty for a dry thing."""
    if ingredient.piece_kg is not None:
        return f"about {mass_kg / ingredient.piece_kg:.1f} pieces"
    density = density_as_bought_kg_m3(ingredient)
    pours = ingredient.retention_kg_per_kg == 0.0 and ingredient.composition.get("insoluble", 0.0) <= 0.02
    wet = ingredient.strength_pct_vol is not None or ingredient.composition.get("water", 0.0) >= 0.15
    if density is None or not (pours and wet):
        return ""
    volume = mass_kg / density * 1000.0
    bottle = _bottle_l(ingredient, pantry)
    if bottle is None or volume < bottle:
        return _volume_text(volume)
    whole = int((volume + 1e-6) / bottle)
    rest = volume - whole * bottle
    bottles = f"{whole} bottle{'s' if whole > 1 else ''} of {bottle * 100:g} cl"
    return bottles if rest < 0.002 else f"{bottles} + {_volume_text(rest)}"


def step_records(chain: Chain, run: ChainRun) -> tuple[StepRecord, ...]:
    """Describe each step of a batch."""
    records = []
    strengths = _step_strengths(run)
    for position, step in enumerate(chain.steps):
        liquor = run.gross[position, :LIQUOR]
        records.append(
            StepRecord(
                name=step.name,
                liquor_kg=float(liquor.sum()),
                volume_l=float(volume_l(liquor, check=False)),
                strength_pct_vol=strengths[position],
                kept_kg=float(run.kept_kg[position]),
                lost_kg=float(run.lost_kg[position]),
                solids_kg=float(run.solids_kg[position]),
            )
        )
    return tuple(records)


def mixture_notes(drink: Profile, run: ChainRun, chain: Chain) -> list[Note]:
    """Say what the figures rest on."""
    notes = []
    if drink.strength_pct_vol > UNCHECKED_STRENGTH and drink.sugar_g_l > UNCHECKED_SUGAR:
        notes.append(
            Note(
                "density_model",
                "Strength and sugar are calculated. The density model is exact for spirit alone and for "
                "syrup alone; between them it has not been held against measurements "
                "(likely error under 0.2 % vol).",
                "OIML R 22, ICUMSA SPS-4",
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
        for step, strength, solids in zip(chain.steps, _step_strengths(run), run.solids_kg, strict=True)
        if solids > 0.0 and strength < FORTIFIED_PCT_VOL < drink.strength_pct_vol
    ]
    if run.kept_kg.any():
        notes.append(
            Note(
                "press_cake",
                f"The cake keeps about {run.kept_kg.sum() * 1000:.0f} g of liquor; that is a starting value, "
                "weigh yours once.",
                "common practice",
            )
        )
    return notes


def _step_strengths(run: ChainRun) -> list[float]:
    return [
        float(strength_pct_vol(gross[:LIQUOR], check=False)) if gross[:LIQUOR].sum() > 0 else 0.0
        for gross in run.gross
    ]


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


def _bottle_l(ingredient: Ingredient, pantry: Pantry) -> float | None:
    if ingredient.strength_pct_vol is None:
        return None
    packs = [offer.pack for offer in pantry.offers(ingredient.id) if offer.pack is not None]
    sizes = [pack.value / pack.count for pack in packs if pack.basis is AmountBasis.VOLUME]
    return min(sizes, default=ingredient.bottle_l)


def _volume_text(volume: float) -> str:
    return f"{volume:.2f} L" if volume >= 1.0 else f"{volume * 1000:.0f} mL"


def weighed_down(lines: Sequence[RecipeLineRecord], law: LawRecord) -> tuple[RecipeLineRecord, ...]:
    """Mark the lines of a recipe that are shown rounded down, to be weighed, not poured.

    Parameters
    ----------
    lines : sequence of RecipeLineRecord
    law : LawRecord
    """
    near = at_a_limit(law)
    return tuple(
        replace(line, no_more=True, measure="") if line.ingredient in near else line for line in lines
    )


def house_made_notes(pantry: Pantry, used: Sequence[str]) -> list[Note]:
    """Say where the figures of the house-made things in a recipe come from, and which are past their day.

    Parameters
    ----------
    pantry : Pantry
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
                f"{name} is made here: its figures and its price come from {_story(entry)}.{unknown}",
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
    band : BitternessBand
    value : float
        Calculated bitterness value of the recipe.
    by_lot : tuple of float or None
        What weak and strong lots of the same plants would give.
    """
    if band.rung is Rung.MEASURED:
        return "Bitterness rests on the values measured for this lot."
    low, high = by_lot or (value, value)
    return (
        f"Bitterness {value:.0f} is calculated from usual values; by plant lot it may come out {low:.0f} to "
        f"{high:.0f}. Hold back a third of the bitter plants, taste, and finish with the rest."
    )
