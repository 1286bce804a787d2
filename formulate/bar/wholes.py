"""Whole things that are bought and taken apart: what a batch needs of them, what it costs, what is left.

A grapefruit is bought once for its pith and its zest together, as much as the part needs that
needs most. Its price is split over the parts by how much fruit each would have needed alone, so
that the lines of a recipe add up. Where a part can also be bought as it is, whatever is cheaper in
all is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.files.ingredient import Ingredient
from formulate.optimise.problem import Purchase

__all__ = ["Bill", "bill_of", "cheapest_cover", "line_prices", "purchases_of", "share_used", "without_parts"]

FloatArray = NDArray[np.float64]

LEAST_BOUGHT_KG = 1e-9
"""Less than this is nothing bought."""


@dataclass(frozen=True)
class Bill:
    """What a batch costs.

    Attributes
    ----------
    per_kg : ndarray, shape (n,)
        Price of each ingredient; 0 for what comes out of a purchase.
    bought_kg : ndarray, shape (purchases,)
    """

    per_kg: FloatArray
    purchases: tuple[Purchase, ...]
    bought_kg: FloatArray
    total: float


def purchases_of(pantry: Pantry, ingredients: Sequence[Ingredient]) -> tuple[Purchase, ...]:
    """List the ways to come by the parts among some ingredients.

    Returns
    -------
    tuple of Purchase
        The whole things in the order of the shelf, then the parts that can be bought as they are.
        Empty when none of the ingredients is a part.
    """
    if pantry.shelf is None:
        return ()
    position = {ingredient.id: index for index, ingredient in enumerate(ingredients)}
    purchases = []
    for name, whole in pantry.shelf.whole.items():
        parts = tuple((position[part], share) for part, share in whole.parts.items() if part in position)
        if parts:
            purchases.append(Purchase(name, pantry.whole_per_kg(whole).cost, parts))
    for index in sorted({index for purchase in purchases for index, _ in purchase.parts}):
        try:
            price = pantry.offered_per_kg(ingredients[index])
        except UnknownMassError:  # told where the price of each ingredient is asked for
            continue
        if price is not None:
            purchases.append(Purchase(ingredients[index].id, price, ((index, 1.0),)))
    return tuple(purchases)


def without_parts(prices: FloatArray, purchases: Sequence[Purchase]) -> FloatArray:
    """Return prices per kg with 0 for what is paid for by a purchase."""
    prices = prices.copy()
    prices[[index for purchase in purchases for index, _ in purchase.parts]] = 0.0
    return prices


def cheapest_cover(purchases: Sequence[Purchase], used_kg: FloatArray) -> FloatArray:
    """Find the cheapest purchases that give every part a batch uses.

    With one whole thing this is the part that needs the most of it: 89 g of pith at 16 % and 30 g
    of zest at 4 % need the larger of 89/0.16 and 30/0.04 grams of fruit.

    Parameters
    ----------
    used_kg : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (purchases,)
        Kilograms of each.
    """
    if not purchases:
        return np.zeros(0)
    from formulate.optimise.highs import Engine
    from formulate.optimise.linear import LinearStatus, RowBuilder

    size = max(float(used_kg.max(initial=0.0)), LEAST_BOUGHT_KG)
    rows = RowBuilder()
    for index in sorted({index for purchase in purchases for index, _ in purchase.parts}):
        entries = [
            (column, share)
            for column, purchase in enumerate(purchases)
            for part, share in purchase.parts
            if part == index
        ]
        shares = np.array([share for _, share in entries])
        rows.add([column for column, _ in entries], shares, float(used_kg[index]) / size, np.inf)
    prices = np.array([purchase.price_per_kg for purchase in purchases])
    width = len(purchases)
    # Free things are bought sparingly too: a hair of a price, which the bill does not count.
    cost = prices / (float(prices.max()) or 1.0) + 1e-7
    result = Engine(rows.assemble(cost, np.zeros(width), np.full(width, np.inf))).solve()
    assert result.status is LinearStatus.OPTIMAL, "enough of everything can always be bought"
    bought: FloatArray = result.values * size
    return bought


def bill_of(
    pantry: Pantry, ingredients: Sequence[Ingredient], used_kg: FloatArray
) -> tuple[Bill | None, tuple[str, ...]]:
    """Add up a batch at the lowest prices of the shelf.

    Parameters
    ----------
    used_kg : ndarray, shape (n,)

    Returns
    -------
    Bill or None
        None when a price is missing.
    tuple of str
        Ids of the ingredients without a price.
    """
    prices, unpriced = np.zeros(len(ingredients)), []
    for index, ingredient in enumerate(ingredients):
        try:
            price = pantry.price_per_kg(ingredient)
        except UnknownMassError:
            price = None
        if price is None or not np.isfinite(price):
            unpriced.append(ingredient.id)
        else:
            prices[index] = price
    if unpriced:
        return None, tuple(unpriced)
    purchases = purchases_of(pantry, ingredients)
    prices = without_parts(prices, purchases)
    bought = cheapest_cover(purchases, used_kg)
    paid = np.array([purchase.price_per_kg for purchase in purchases])
    return Bill(prices, purchases, bought, float(used_kg @ prices + bought @ paid)), ()


def line_prices(bill: Bill, used_kg: FloatArray) -> FloatArray:
    """Return the price per kg that a line of the recipe shows, so that the lines add up to the bill.

    What a whole thing costs is split over the parts used of it in proportion to how much of it each
    would have needed alone: 89 g of pith at 16 % stand for 556 g of fruit, 30 g of zest at 4 % for 750 g.

    Parameters
    ----------
    used_kg : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (n,)
    """
    costs = np.zeros(len(bill.per_kg))
    part_used = share_used(bill, used_kg)
    for purchase, bought in zip(bill.purchases, bill.bought_kg, strict=True):
        # A part that is used up stands for all of what was bought, one half used for half of it.
        alone = {index: float(part_used[index]) for index, _ in purchase.parts}
        whole = sum(alone.values())
        for index, share in alone.items():
            costs[index] += purchase.price_per_kg * bought * share / whole if whole > 0.0 else 0.0
    return bill.per_kg + np.divide(costs, used_kg, out=np.zeros_like(costs), where=used_kg > 0.0)


def share_used(bill: Bill, used_kg: FloatArray) -> FloatArray:
    """Return which share of what the purchases give of each ingredient is used, 0 to 1, shape (n,)."""
    given = np.zeros(len(used_kg))
    for purchase, bought in zip(bill.purchases, bill.bought_kg, strict=True):
        for index, share in purchase.parts:
            given[index] += share * bought
    used: FloatArray = np.divide(used_kg, given, out=np.zeros_like(given), where=given > 0.0)
    return np.minimum(used, 1.0)
