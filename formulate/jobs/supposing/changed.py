"""A pantry and a menu as they are in one case."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from os.path import normpath
from pathlib import Path

from formulate.bar.pantry import Kept, Pantry, UnknownMassError
from formulate.files.bottle import Bottle
from formulate.files.fields import did_you_mean
from formulate.files.frozen import FrozenMap
from formulate.files.menu import Menu
from formulate.files.scenarios import ALL_DRINKS
from formulate.files.shelf import Shelf
from formulate.formulation.gone import with_parts
from formulate.jobs.supposing.cases import Case
from formulate.quantity import Money
from formulate.quantity.changes import PriceChange

__all__ = [
    "CannotChangeError",
    "drink_names",
    "gone_name",
    "repriced",
    "with_case",
    "with_demand",
    "with_targets",
]


class CannotChangeError(ValueError):
    """A change names what is not there, or cannot be made; the text says why."""


def with_case(pantry: Pantry, case: Case) -> Pantry:
    """Give the pantry of one case.

    Parameters
    ----------
    pantry : Pantry
        As the files say.
    case : Case

    Raises
    ------
    CannotChangeError
        If a price cannot be changed so.
    """
    changed = pantry
    for name, change in case.prices:
        changed = replace(changed, shelf=repriced(changed, name, change))
    # What the house makes was worked out with the old prices: begin anew, with the shelves read already.
    return replace(
        changed,
        kept=Kept(shelves=dict(pantry.kept.shelves)),
        gone=with_parts(pantry, case.gone),
        cost_aside=True,
    )


def repriced(pantry: Pantry, name: str, change: PriceChange) -> Shelf:
    """Move the price of one thing; its packs and suppliers stay.

    A share moves every offer. A price takes the place of the lowest that holds today, and the other offers
    move by as much.

    Parameters
    ----------
    pantry : Pantry
    name : str
    change : PriceChange

    Raises
    ------
    CannotChangeError
        If there is no such price, or it is counted otherwise.
    """
    shelf = pantry.shelf
    assert shelf is not None
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


def gone_name(pantry: Pantry, name: str, listed: Iterable[str], *, is_menu: bool) -> None:
    """Refuse a name of what is gone that nobody knows here.

    Parameters
    ----------
    pantry : Pantry
    name : str
    listed : iterable of str
        Ids of the bottle file.
    is_menu : bool
        Whether supplies are planned too.

    Raises
    ------
    CannotChangeError
    """
    shelf = pantry.shelf
    known = {*listed, *shelf.offers, *shelf.whole} if shelf is not None else set(listed)
    if shelf is not None and is_menu:
        known |= set(shelf.supplies)
    elif shelf is not None and name in shelf.supplies:
        raise CannotChangeError(f"{name} is a supply, and a bottle file takes none. Drop it.")
    if name not in known:
        raise CannotChangeError(f"'{name}' is not bought here. {did_you_mean(name, known)}".rstrip())


def with_targets(bottle: Bottle, case: Case) -> Bottle:
    """Put the targets of a case in place of those of a bottle file."""
    if case.targets is None:
        return bottle
    given = {
        name: value
        for name in ("strength", "sugar", "acid", "bitterness", "cost", "category")
        if (value := getattr(case.targets, name)) is not None
    }
    attributes = FrozenMap({**bottle.targets.attributes, **case.targets.attributes})
    targets = bottle.targets.model_copy(update={**given, "attributes": attributes})
    return bottle.model_copy(update={"targets": targets})


def drink_names(menu: Menu) -> tuple[str, ...]:
    """Name the drinks of a menu by their files, with as much of the folder as tells two of them apart.

    What the menu file says of the paths is all that counts, so that names are the same on any machine.
    """
    paths = [Path(normpath(entry.drink)).with_suffix("").parts for entry in menu.drinks]

    def name(parts: tuple[str, ...]) -> str:
        others = [other for other in paths if other != parts]
        for length in range(1, len(parts)):
            if all(other[-length:] != parts[-length:] for other in others):
                return "/".join(parts[-length:])
        return Path(*parts).as_posix()

    return tuple(map(name, paths))


def with_demand(menu: Menu, case: Case) -> Menu:
    """Sell more or less; what is said of one drink comes on top of what is said of all."""
    if not case.demand:
        return menu
    shares = dict(case.demand)
    everywhere = 1.0 + shares.get(ALL_DRINKS, 0.0)
    drinks = []
    for name, entry in zip(drink_names(menu), menu.drinks, strict=True):
        factor = everywhere * (1.0 + shares.get(name, 0.0))
        sells = replace(entry.sells, mean=entry.sells.mean * factor, spread=entry.sells.spread * factor)
        drinks.append(entry.model_copy(update={"sells": sells}))
    return menu.model_copy(update={"drinks": tuple(drinks)})
