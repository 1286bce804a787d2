"""What can be bought for a bottle, and what is there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.bar.least_orders import least_orders
from formulate.bar.offers import PricedPack, pack_of_whole, packs_made_here, packs_on_offer
from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.bar.prices import UnitPrice
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.formulation.bottle import Formulation
from formulate.optimise.mip.packs import Pack, Thing

__all__ = ["OnSale", "on_sale"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class OnSale:
    """What can be bought for a bottle, and what is there.

    Attributes
    ----------
    packs
        In the order of the bottle file, whole things last.
    prices
        One per pack.
    stock_kg : ndarray, shape (n,)
    stock_bought_kg : ndarray, shape (purchases,)
    least_order
        Supplier and money.
    """

    packs: tuple[Pack, ...]
    prices: tuple[UnitPrice, ...]
    stock_kg: FloatArray
    stock_bought_kg: FloatArray
    least_order: tuple[tuple[str, float], ...]


def on_sale(formulation: Formulation, *, use_stock: bool = True) -> OnSale:
    """List every pack and offer of what a bottle may use.

    Parameters
    ----------
    use_stock
        Whether what is on hand counts.

    Raises
    ------
    SpecError
        If a pack, or what is on hand, cannot be weighed.
    """
    pantry, problem = formulation.pantry, formulation.problem
    problems = Problems(formulation.bottle.places)
    packs: list[PricedPack] = []
    stock = np.zeros(len(formulation.ingredients))
    stock_bought = np.zeros(len(problem.purchases))
    parts = {part for purchase in problem.purchases for part, _ in purchase.parts}
    for position, ingredient in enumerate(formulation.ingredients):
        if position in parts:
            continue
        try:
            packs += _of_ingredient(pantry, ingredient, Thing(False, position))
            stock[position] = pantry.on_hand_kg(ingredient) or 0.0
        except UnknownMassError as error:
            problems.add(("ingredients", position), str(error))
    wholes = pantry.shelf.whole if pantry.shelf else {}
    for position, purchase in enumerate(problem.purchases):
        if purchase.name in wholes:
            whole = wholes[purchase.name]
            packs.append(pack_of_whole(pantry, whole, Thing(True, position)))
            stock_bought[position] = whole.on_hand_kg or 0.0
            continue
        part = purchase.parts[0][0]
        ingredient = formulation.ingredients[part]
        try:
            packs += _of_ingredient(pantry, ingredient, Thing(True, position))
            there = [
                offer.on_hand for offer in pantry.every_offer(ingredient.id) if offer.on_hand is not None
            ]
            stock_bought[position] = sum(pantry.mass_kg(amount, ingredient) for amount in there)
        except UnknownMassError as error:
            problems.add(("ingredients", part), str(error))
    problems.raise_if_any()
    return OnSale(
        packs=tuple(pack for pack, _ in packs),
        prices=tuple(price for _, price in packs),
        stock_kg=stock if use_stock else np.zeros_like(stock),
        stock_bought_kg=stock_bought if use_stock else np.zeros_like(stock_bought),
        least_order=least_orders(pantry, (pack for pack, _ in packs)),
    )


def _of_ingredient(pantry: Pantry, ingredient: Ingredient, thing: Thing) -> list[PricedPack]:
    if pantry.shelf is not None and ingredient.id in pantry.shelf.house_made:
        return packs_made_here(pantry, ingredient, thing)
    return packs_on_offer(pantry, ingredient, thing)
