"""What is on offer: packs with their prices, and which prices have run out or are old.

An offer past its last day is not bought from while another of the same thing still holds. Where none does
the old price is counted on, since a bar must plan, and every answer says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import NamedTuple

from formulate.bar.pantry import Pantry
from formulate.bar.prices import UnitPrice, untaxed
from formulate.errors import Note
from formulate.files.ingredient import Ingredient
from formulate.files.shelf import Offer
from formulate.files.stock import Whole
from formulate.optimise.mip.packs import Pack, Thing

__all__ = [
    "PricedPack",
    "cheapest_by_weight",
    "offer_notes",
    "pack_of_whole",
    "pack_on_offer",
    "packs_made_here",
    "packs_on_offer",
]

OLD_DAYS = 180
"""A price seen longer ago is worth asking for again; our choice."""


def offer_notes(pantry: Pantry, used: Sequence[str]) -> list[Note]:
    """Say which prices of what is used ran out or are old.

    Parameters
    ----------
    used : sequence of str
        Ids, supplies among them.
    """
    if pantry.shelf is None:
        return []
    notes = []
    for name in dict.fromkeys(used):
        every, counted = pantry.every_offer(name), pantry.offers(name)
        for offer in every:
            if not offer.is_past(pantry.day):
                continue
            ran_out = f"{name}: the price{_from(offer)} ran out on {_day(offer.until)}"
            if offer in counted:
                text = f"{ran_out}, and there is no other. It is still counted on: ask before you order."
                notes.append(Note("price_past", text))
            else:
                notes.append(Note("offer_past", f"{ran_out}; it is left out."))
        for offer in counted:
            days = 0 if offer.seen is None else (pantry.day - offer.seen).days
            if days > OLD_DAYS and not offer.is_past(pantry.day):
                text = (
                    f"{name}: the price{_from(offer)} was seen on {_day(offer.seen)}. Ask whether it holds."
                )
                notes.append(Note("price_old", text))
    return notes


def _from(offer: Offer) -> str:
    return "" if offer.supplier is None else f" from {offer.supplier}"


def _day(day: date | None) -> str:
    return "" if day is None else day.isoformat()


class PricedPack(NamedTuple):
    """A pack, and what one of it costs: a kilogram where it is sold by weight."""

    pack: Pack
    price: UnitPrice


def packs_on_offer(pantry: Pantry, ingredient: Ingredient, thing: Thing) -> list[PricedPack]:
    """List the packs that suppliers offer of an ingredient.

    Parameters
    ----------
    thing : Thing
        What the optimiser is to know it as.

    Raises
    ------
    UnknownMassError
        If a pack cannot be weighed.
    """
    packs = [pack_on_offer(pantry, offer, ingredient, thing) for offer in pantry.offers(ingredient.id)]
    return [as_one_pack(priced) if priced.pack.at_least else priced for priced in packs]


def as_one_pack(priced: PricedPack) -> PricedPack:
    """Return as many packs as a price asks for as one pack, for a list that counts no orders."""
    pack, price, count = priced.pack, priced.price, priced.pack.at_least
    whole = replace(price.times(count), deposit=price.deposit * count)
    name = f"{count} x {pack.name}"
    size, money, counts = pack.size_kg * count, pack.price * count, pack.counted * count
    return PricedPack(replace(pack, size_kg=size, price=money, counts=counts, name=name, at_least=0), whole)


def pack_on_offer(pantry: Pantry, offer: Offer, ingredient: Ingredient, thing: Thing) -> PricedPack:
    """Return the pack of one offer; see `packs_on_offer`."""
    supplier, per_kg = offer.supplier or "", pantry.offer_per_kg(offer, ingredient)
    if offer.pack is None:
        return PricedPack(Pack(thing, 1.0, per_kg.cost, supplier, "by weight", True, per_kg.net), per_kg)
    size = pantry.mass_kg(offer.pack, ingredient)
    price = pantry.offer_price(offer) if offer.price.per is None else per_kg.times(size)
    name = offer.pack.text if offer.pack.count == 1 else f"case of {offer.pack.text}"
    least = offer.from_packs or 0
    return PricedPack(Pack(thing, size, price.cost, supplier, name, counts=price.net, at_least=least), price)


def packs_made_here(pantry: Pantry, ingredient: Ingredient, thing: Thing) -> list[PricedPack]:
    """List what the bar itself makes as one pack that is taken by weight."""
    price = untaxed(pantry.made(ingredient.id).price_per_kg or 0.0)
    return [PricedPack(Pack(thing, 1.0, price.cost, "", "made here", loose=True), price)]


def pack_of_whole(pantry: Pantry, whole: Whole, thing: Thing) -> PricedPack:
    """Return what a whole thing of the shelf is sold as: a piece, or by weight."""
    supplier, per_kg = whole.supplier or "", pantry.whole_per_kg(whole)
    if whole.piece_kg is None:
        return PricedPack(Pack(thing, 1.0, per_kg.cost, supplier, "by weight", True, per_kg.net), per_kg)
    size, name = whole.piece_kg * whole.case_pieces, "piece"
    if whole.case_pieces > 1:
        name = f"case of {whole.case_pieces} pieces"
    price = per_kg.times(size)
    return PricedPack(Pack(thing, size, price.cost, supplier, name, counts=price.net), price)


def cheapest_by_weight(packs: list[Pack]) -> Pack | None:
    """Return the pack that costs least by weight, the first of equals; None where there is none."""
    return min(packs, key=lambda pack: pack.price / pack.size_kg, default=None)
