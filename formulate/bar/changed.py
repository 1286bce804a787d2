"""What changed: something gone, short, dearer or of another lot, and a shelf with other prices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from formulate.bar.pantry import Pantry, PantryCache, UnknownMassError
from formulate.errors import FormulateError
from formulate.files.bottle import Bottle, MeasuredBitterness
from formulate.files.fields import did_you_mean
from formulate.files.frozen import FrozenMap
from formulate.files.recipe import Recipe
from formulate.files.shelf import Offer, Shelf
from formulate.quantity.amounts import Amount, AmountBasis, Money
from formulate.quantity.changes import PriceChange

__all__ = ["CannotChangeError", "Circumstances", "refuse_unknown", "repriced", "with_lots", "with_prices"]

_COUNTED = (AmountBasis.MASS, AmountBasis.VOLUME, AmountBasis.BOTTLES, AmountBasis.PIECES)
Made = TypeVar("Made", Bottle, Recipe)


@dataclass(frozen=True)
class Circumstances:
    """What changed.

    Attributes
    ----------
    without : tuple of str
        Ids that are gone.
    short : tuple of (str, Amount)
        How much is left for the batch.
    lots : tuple of (str, float)
        Bitterness value per gram of the new lot.
    """

    without: tuple[str, ...] = ()
    short: tuple[tuple[str, Amount], ...] = ()
    prices: tuple[tuple[str, Money], ...] = ()
    lots: tuple[tuple[str, float], ...] = ()

    def texts(self) -> tuple[str, ...]:
        """Say what changed, one line each."""
        return (
            *(f"without {name}" for name in self.without),
            *(f"only {amount.text} of {name} left" for name, amount in self.short),
            *(f"{name} now costs {price.text}" for name, price in self.prices),
            *(f"a lot of {name} with a bitterness value of {value:g} per gram" for name, value in self.lots),
        )


def with_prices(pantry: Pantry, prices: Sequence[tuple[str, Money]]) -> Pantry:
    """Put new prices on the shelf in place of all its offers for those ingredients; what is left stays.

    Raises
    ------
    FormulateError
        If a price cannot be used.
    """
    if not prices:
        return pantry
    shelf = pantry.shelf
    if shelf is None:
        raise FormulateError("--price: the bottle file names no shelf to change a price on.")
    offers, wholes = dict(shelf.offers), dict(shelf.whole)
    for name, price in prices:
        if price.currency != shelf.currency:
            raise FormulateError(f"--price: the shelf counts in {shelf.currency}, got '{price.text}'.")
        if name in shelf.house_made:
            raise FormulateError(f"--price: {name} is made here. Change the price of what goes into it.")
        if name in wholes:
            if price.per == "L":
                raise FormulateError(f"--price: {name} is priced per piece or per kg, got '{price.text}'.")
            wholes[name] = wholes[name].model_copy(update={"price": price})
            continue
        pack = next((offer.pack for offer in offers.get(name, ()) if offer.pack is not None), None)
        if price.per is None and pack is None:
            raise FormulateError(f"--price: {name} has no pack on the shelf. Write {price.text}/kg.")
        left = [offer.on_hand for offer in offers.get(name, ()) if offer.on_hand is not None]
        offers[name] = tuple(Offer(pack=pack, price=price, on_hand=amount) for amount in left or (None,))
    changed = shelf.model_copy(update={"offers": FrozenMap(offers), "whole": FrozenMap(wholes)})
    # What the house makes was worked out with the old prices: begin anew.
    return replace(pantry, shelf=changed, cache=PantryCache())


def with_lots(made: Made, lots: Sequence[tuple[str, float]]) -> Made:
    """Put the bitterness of new lots into the measured values of a bottle or recipe file."""
    if not lots:
        return made
    measured = dict(made.measured) | {name: MeasuredBitterness(bitterness=value) for name, value in lots}
    return made.model_copy(update={"measured": FrozenMap(measured)})


def refuse_unknown(changed: Circumstances, bottle: Bottle, pantry: Pantry) -> None:
    """Refuse names that are nowhere in the recipe's world.

    Raises
    ------
    FormulateError
    """
    listed = {use.id for use in bottle.uses}
    wholes = set(pantry.shelf.whole) if pantry.shelf else set()
    offered = {*pantry.shelf.offers, *pantry.shelf.house_made} if pantry.shelf else set()
    for option, names, known in (
        ("--without", changed.without, listed | wholes | offered),
        ("--short", [name for name, _ in changed.short], listed),
        ("--price", [name for name, _ in changed.prices], listed | wholes | offered),
        ("--lot", [name for name, _ in changed.lots], listed),
    ):
        for name in names:
            if name not in known:
                hint = did_you_mean(name, known)
                raise FormulateError(f"{option}: {name} is not in the bottle file. {hint}".rstrip())


class CannotChangeError(ValueError):
    """A change names what is not there, or cannot be made; the text says why."""


def _all_of(shelf: Shelf, supplier: str, change: PriceChange) -> Shelf | None:
    """Move all prices of a supplier; None where there is none of that name."""
    factor = 1.0 + change.share

    def offers(there: Mapping[str, tuple[Offer, ...]]) -> FrozenMap[str, tuple[Offer, ...]]:
        return FrozenMap(
            {
                name: tuple(
                    one.model_copy(update={"price": _scaled(one.price, factor)})
                    if one.supplier == supplier
                    else one
                    for one in each
                )
                for name, each in there.items()
            }
        )

    wholes = dict(shelf.whole)
    for name, whole in wholes.items():
        if whole.supplier == supplier:
            wholes[name] = whole.model_copy(update={"price": _scaled(whole.price, factor)})
    sellers = {one.supplier for each in (*shelf.offers.values(), *shelf.supplies.values()) for one in each}
    if supplier not in sellers | {whole.supplier for whole in wholes.values()}:
        return None
    if change.price is not None:
        message = f"all prices of {supplier} move by a share, got '{change.text}'. Write e.g. +30 %."
        raise CannotChangeError(message)
    return shelf.model_copy(
        update={
            "offers": offers(shelf.offers),
            "supplies": offers(shelf.supplies),
            "whole": FrozenMap(wholes),
        }
    )


def repriced(pantry: Pantry, name: str, change: PriceChange) -> Shelf:
    """Move the price of one thing; its packs and suppliers stay.

    A share moves every offer. A price takes the place of the lowest that holds today, and the other offers
    move by as much.

    Raises
    ------
    CannotChangeError
        If there is no such price, or it is counted otherwise.
    """
    shelf = pantry.shelf
    assert shelf is not None
    if name not in shelf.offers and (other := _all_of(shelf, name, change)) is not None:
        return other
    if name in shelf.house_made:
        raise CannotChangeError(f"{name} is made here. Change the price of what goes into it.")
    if change.price is not None and change.price.currency != shelf.currency:
        raise CannotChangeError(f"the shelf counts in {shelf.currency}, got '{change.price.text}'.")
    if name in shelf.whole:
        whole = shelf.whole[name]
        if change.price is not None and change.price.per == "L":
            raise CannotChangeError(f"{name} is priced per piece or per kg, got '{change.price.text}'.")
        if change.price is not None and change.price.per is None and whole.piece_kg is None:
            raise CannotChangeError(
                f"a piece of {name} has no weight, got '{change.price.text}'. Say it per kg."
            )
        price = change.price or _scaled(whole.price, 1.0 + change.share)
        wholes = {**shelf.whole, name: whole.model_copy(update={"price": price})}
        return shelf.model_copy(update={"whole": FrozenMap(wholes)})
    offers = pantry.every_offer(name)
    if not offers:
        hint = did_you_mean(name, {*shelf.offers, *shelf.whole, *shelf.supplies})
        raise CannotChangeError(f"no price for '{name}' on the shelf. {hint}".rstrip())
    factor = 1.0 + change.share if change.price is None else _factor(pantry, name, change.price)
    moved = tuple(
        offer.model_copy(
            update={"price": _scaled(offer.price, factor) if factor is not None else change.price}
        )
        for offer in offers
    )
    kind = "supplies" if name in shelf.supplies else "offers"
    return shelf.model_copy(update={kind: FrozenMap({**getattr(shelf, kind), name: moved})})


def _scaled(price: Money, factor: float) -> Money:
    return replace(price, value=price.value * factor)


def _factor(pantry: Pantry, name: str, price: Money) -> float | None:
    """Return by what the lowest price becomes the one given; None where it was nothing."""
    offers = pantry.offers(name)
    is_supply = pantry.shelf is not None and name in pantry.shelf.supplies
    if price.per is None:
        advice = "Say by how much, such as +20 %." if is_supply else "Say it per kg or per L."
        if len(offers) > 1:
            raise CannotChangeError(f"{name} is offered {len(offers)} times, got '{price.text}'. {advice}")
        if offers[0].pack is None:
            raise CannotChangeError(f"{name} is sold without a pack, got '{price.text}'. {advice}")
        return price.value / offers[0].price.value if offers[0].price.value > 0.0 else None
    if is_supply:
        raise CannotChangeError(f"{name} is bought by the pack, got '{price.text}'. Write e.g. 30 EUR.")
    ingredient = pantry.unaged(name)
    try:
        lowest = min(offers, key=lambda offer: pantry.offer_per_kg(offer, ingredient).cost)
        now = pantry.offer_per_kg(lowest, ingredient).cost
        as_said = lowest.model_copy(update={"price": price, "pack": None})
        return pantry.offer_per_kg(as_said, ingredient).cost / now if now > 0.0 else None
    except UnknownMassError as error:
        raise CannotChangeError(str(error)) from None
