"""What is weighed and bought for a batch: lines in bar measures, doses too small to weigh, whole things."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from formulate.bar.batch import BarBatch
from formulate.bar.pantry import Pantry
from formulate.bar.wholes import LEAST_BOUGHT_KG, line_prices, share_used
from formulate.blend.materials import density_as_bought_kg_m3
from formulate.blend.pectin import brings_pectin
from formulate.describe.records import BarMeasure, PartRecord, PurchaseRecord, RecipeLineRecord
from formulate.errors import Note
from formulate.files.ingredient import Ingredient
from formulate.files.steps import ENZYME, StepSpec
from formulate.quantity import AmountBasis
from formulate.rules.law import at_a_limit
from formulate.rules.records import LawRecord

__all__ = [
    "bar_measure",
    "purchase_records",
    "recipe_lines",
    "weighed_down",
    "whole_notes",
]


def recipe_lines(batch: BarBatch) -> tuple[RecipeLineRecord, ...]:
    """List what is weighed, step by step in the order of the work.

    That is the order of the file, but where enzyme goes in before the spirit: then fruit and enzyme come
    first.
    """
    prices = None if batch.bill is None else line_prices(batch.bill, batch.used_kg)
    return tuple(
        RecipeLineRecord(
            ingredient=ingredient.id,
            name=ingredient.name,
            step=step.name,
            mass_kg=float(mass),
            measure=bar_measure(ingredient, float(mass), batch.pantry),
            cost=None if prices is None else float(mass) * float(prices[number]),
        )
        for step, masses_kg in zip(batch.specs, batch.weighed_kg, strict=True)
        for number, ingredient in _in_order(step, batch.ingredients)
        if (mass := masses_kg[number]) > 0.0
    )


def _in_order(step: StepSpec, ingredients: Sequence[Ingredient]) -> list[tuple[int, Ingredient]]:
    """Put the ingredients in the order they go into a step, each with its position."""
    numbered = list(enumerate(ingredients))
    if step.enzyme is None or step.enzyme.when == "with spirit":
        return numbered
    return sorted(numbered, key=lambda one: (not brings_pectin(one[1]), one[1].id != ENZYME))


def weighed_down(lines: Sequence[RecipeLineRecord], law: LawRecord) -> tuple[RecipeLineRecord, ...]:
    """Mark the lines of a recipe that are shown rounded down, to be weighed, not poured."""
    near = at_a_limit(law)
    return tuple(
        replace(line, no_more=True, measure=BarMeasure()) if line.ingredient in near else line
        for line in lines
    )


def bar_measure(ingredient: Ingredient, mass_kg: float, pantry: Pantry) -> BarMeasure:
    """Say a mass as a bar measures it: bottles and a rest, pieces, or mL; nothing for a dry thing."""
    if ingredient.piece_kg is not None:
        return BarMeasure(f"about {mass_kg / ingredient.piece_kg:.1f} pieces")
    density = density_as_bought_kg_m3(ingredient)
    pours = ingredient.retention_kg_per_kg == 0.0 and ingredient.composition.get("insoluble", 0.0) <= 0.02
    wet = ingredient.strength_pct_vol is not None or ingredient.composition.get("water", 0.0) >= 0.15
    if density is None or not (pours and wet):
        return BarMeasure()
    volume = mass_kg / density * 1000.0
    bottle = _bottle_l(ingredient, pantry)
    if bottle is None or volume < bottle:
        return BarMeasure(_volume_text(volume), has_volume=True)
    whole = int((volume + 1e-6) / bottle)
    rest = volume - whole * bottle
    bottles = f"{whole} bottle{'s' if whole > 1 else ''} of {bottle * 100:g} cl"
    if rest < 0.002:
        return BarMeasure(bottles, whole)
    return BarMeasure(f"{bottles} + {_volume_text(rest)}", whole, has_volume=True)


def _bottle_l(ingredient: Ingredient, pantry: Pantry) -> float | None:
    if ingredient.strength_pct_vol is None:
        return None
    packs = [offer.pack for offer in pantry.offers(ingredient.id) if offer.pack is not None]
    sizes = [pack.value / pack.count for pack in packs if pack.basis is AmountBasis.VOLUME]
    return min(sizes, default=ingredient.bottle_l)


def _volume_text(volume: float) -> str:
    return f"{volume:.2f} L" if volume >= 1.0 else f"{volume * 1000:.0f} mL"


def purchase_records(batch: BarBatch) -> tuple[PurchaseRecord, ...]:
    """Say what is bought whole, what of it is used and what is left.

    A part that several things give is counted to each in proportion to what it gives.
    """
    shelf, bill = batch.pantry.shelf, batch.bill
    if shelf is None or bill is None:
        return ()
    shares = share_used(bill, batch.used_kg)
    taken = {ingredient.id: float(share) for ingredient, share in zip(batch.ingredients, shares, strict=True)}
    records = []
    for purchase, bought_of_it in zip(bill.purchases, bill.bought_kg, strict=True):
        whole, bought = shelf.whole.get(purchase.name), float(bought_of_it)
        if whole is None or bought <= LEAST_BOUGHT_KG:
            continue
        parts = tuple(
            PartRecord(
                ingredient=part,
                used_kg=share * bought * taken.get(part, 0.0),
                left_kg=share * bought * (1.0 - taken.get(part, 0.0)),
            )
            for part, share in whole.parts.items()
        )
        pieces = None if whole.piece_kg is None else bought / whole.piece_kg
        records.append(
            PurchaseRecord(
                name=purchase.name,
                mass_kg=bought,
                pieces=pieces,
                whole_pieces=None if pieces is None else math.ceil(pieces - 1e-6),
                on_hand_kg=whole.on_hand_kg,
                cost=bought * purchase.price_per_kg,
                parts=parts,
                waste_kg=bought * max(1.0 - sum(whole.parts.values()), 0.0),
            )
        )
    return tuple(records)


def whole_notes(bought: Sequence[PurchaseRecord]) -> list[Note]:
    """Say how whole things were counted; nothing when none is bought."""
    if not bought:
        return []
    return [
        Note(
            "bought_whole",
            "What is bought whole is paid for once and its price split over the parts used, by how much of "
            "it each would need alone. Trim yields are starting values, weigh yours once.",
            "common practice",
        )
    ]
