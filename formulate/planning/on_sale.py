"""What a shelf sells and has, as packs: for `buy`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry, Problems, UnknownMassError
from formulate.files.ingredient import Ingredient
from formulate.files.shelf import Offer
from formulate.files.whole import Whole
from formulate.formulation.bottle import Formulation
from formulate.optimise.packs import Pack, Thing
from formulate.quantity.cents import to_cents

__all__ = ["OnSale", "Sale", "on_sale", "pack_of", "pack_of_whole", "sale_of"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sale:
    """Where the price of a pack comes from.

    Attributes
    ----------
    without_tax, tax, deposit : float
        For one pack, or for one kilogram of what is sold loose.
    tax_share : float
        `tax` of `without_tax`, as the shelf says it.
    with_tax : bool
        Whether the supplier asks it with tax: then it is that sum which is whole cents on the bill.
    """

    without_tax: float
    tax: float
    deposit: float
    tax_share: float = 0.0
    with_tax: bool = False

    def billed(self, count: float) -> tuple[float, float, float]:
        """Return what so many come to without tax, the tax on it, and the deposit, to the cent.

        Parameters
        ----------
        count : float
            Packs, or kilograms of what is sold loose.
        """
        tax = to_cents(self.tax * count)
        without = to_cents(self.without_tax * count)
        if self.with_tax:
            without = round(to_cents((self.without_tax + self.tax) * count) - tax, 2)
        return without, tax, to_cents(self.deposit * count)


@dataclass(frozen=True)
class OnSale:
    """What can be bought for a bottle, and what is there.

    Attributes
    ----------
    packs : tuple of Pack
        In the order of the bottle file, whole things last.
    sales : tuple of Sale
        One per pack.
    stock_kg : ndarray, shape (n,)
    stock_bought_kg : ndarray, shape (purchases,)
    least_order : tuple of (str, float)
        Supplier and money.
    """

    packs: tuple[Pack, ...]
    sales: tuple[Sale, ...]
    stock_kg: FloatArray
    stock_bought_kg: FloatArray
    least_order: tuple[tuple[str, float], ...]


def on_sale(formulation: Formulation, *, use_stock: bool = True) -> OnSale:
    """List every pack and offer of what a bottle may use.

    Parameters
    ----------
    formulation : Formulation
    use_stock : bool
        Whether what is on hand counts.

    Raises
    ------
    SpecError
        If a pack, or what is on hand, cannot be weighed.
    """
    pantry, problem = formulation.pantry, formulation.problem
    problems = Problems(formulation.bottle.places)
    packs: list[tuple[Pack, Sale]] = []
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
            sold = pack_of_whole(pantry, whole, Thing(True, position))
            packs.append((sold, sale_of(pantry, sold, None)))
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
    least = pantry.shelf.least_order if pantry.shelf else {}
    return OnSale(
        packs=tuple(pack for pack, _ in packs),
        sales=tuple(sale for _, sale in packs),
        stock_kg=stock if use_stock else np.zeros_like(stock),
        stock_bought_kg=stock_bought if use_stock else np.zeros_like(stock_bought),
        least_order=tuple((supplier, money.value) for supplier, money in least.items()),
    )


def _of_ingredient(pantry: Pantry, ingredient: Ingredient, thing: Thing) -> list[tuple[Pack, Sale]]:
    if pantry.shelf is not None and ingredient.id in pantry.shelf.house_made:
        price = pantry.made(ingredient.id).price_per_kg or 0.0
        return [(Pack(thing, 1.0, price, "", "made here", loose=True), Sale(price, 0.0, 0.0))]
    offered = [(pack_of(pantry, offer, ingredient, thing), offer) for offer in pantry.offers(ingredient.id)]
    return [(pack, sale_of(pantry, pack, offer)) for pack, offer in offered]


def sale_of(pantry: Pantry, pack: Pack, offer: Offer | None) -> Sale:
    """Split what a pack costs the bar into price, tax and deposit.

    Parameters
    ----------
    pantry : Pantry
    pack : Pack
    offer : Offer or None
        None for a whole thing of the shelf.
    """
    assert pantry.shelf is not None
    tax = pantry.shelf.tax
    rate = tax.buying_share if offer is None or offer.tax_rate is None else offer.tax_rate
    without = pack.price if tax.reclaimed else pack.price / (1.0 + rate)
    deposit = offer.deposit.value if offer is not None and offer.deposit else 0.0
    asked = tax.offers if offer is None or offer.tax is None else offer.tax
    return Sale(without, without * rate, deposit, rate, asked == "with")


def pack_of(pantry: Pantry, offer: Offer, ingredient: Ingredient, thing: Thing) -> Pack:
    """Return what an offer of the shelf sells.

    Parameters
    ----------
    pantry : Pantry
    offer : Offer
    ingredient : Ingredient
    thing : Thing

    Raises
    ------
    UnknownMassError
        If a pack cannot be weighed.
    """
    per_kg, supplier = pantry.offer_per_kg(offer, ingredient), offer.supplier or ""
    if offer.pack is None:
        return Pack(thing, 1.0, per_kg, supplier, "by weight", loose=True)
    size = pantry.mass_kg(offer.pack, ingredient)
    price = pantry.offer_cost(offer) if offer.price.per is None else per_kg * size
    name = offer.pack.text if offer.pack.count == 1 else f"case of {offer.pack.text}"
    return Pack(thing, size, price, supplier, name)


def pack_of_whole(pantry: Pantry, whole: Whole, thing: Thing) -> Pack:
    """Return what a whole thing of the shelf is sold as: a piece, or by weight.

    Parameters
    ----------
    pantry : Pantry
    whole : Whole
    thing : Thing
    """
    supplier, per_kg = whole.supplier or "", pantry.whole_per_kg(whole)
    if whole.piece_kg is None:
        return Pack(thing, 1.0, per_kg, supplier, "by weight", loose=True)
    return Pack(thing, whole.piece_kg, per_kg * whole.piece_kg, supplier, "piece")
