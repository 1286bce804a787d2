"""Packs as a shelf sells them, and where the price of each comes from."""

from __future__ import annotations

from dataclasses import dataclass

from formulate.bar.pantry import Pantry
from formulate.files.ingredient import Ingredient
from formulate.files.shelf import Offer
from formulate.files.whole import Whole
from formulate.optimise.mip.packs import Pack, Thing
from formulate.quantity.cents import to_cents

__all__ = ["Sale", "pack_of", "pack_of_whole", "sale_of"]


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
