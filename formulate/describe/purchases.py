"""Whole things bought for their parts, as records."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry
from formulate.bar.wholes import LEAST_BOUGHT_KG, _share_used
from formulate.describe.records import PartRecord, PurchaseRecord
from formulate.errors import Note
from formulate.files.ingredient import Ingredient
from formulate.optimise.problem import Purchase

__all__ = ["purchase_records", "whole_notes"]

FloatArray = NDArray[np.float64]


def purchase_records(
    pantry: Pantry,
    ingredients: Sequence[Ingredient],
    purchases: Sequence[Purchase],
    bought_kg: FloatArray,
    used_kg: FloatArray,
) -> tuple[PurchaseRecord, ...]:
    """Say what is bought whole, what of it is used and what is left.

    A part that several things give is counted to each in proportion to what it gives.

    Parameters
    ----------
    pantry : Pantry
    ingredients : sequence of Ingredient
    purchases : sequence of Purchase
    bought_kg : ndarray, shape (purchases,)
    used_kg : ndarray, shape (n,)
    """
    if pantry.shelf is None:
        return ()
    share_used = _share_used(purchases, bought_kg, used_kg)
    taken = {ingredient.id: float(share) for ingredient, share in zip(ingredients, share_used, strict=True)}
    records = []
    for purchase, bought_of_it in zip(purchases, bought_kg, strict=True):
        whole, bought = pantry.shelf.whole.get(purchase.name), float(bought_of_it)
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
