"""What changed since a recipe was saved: something is gone, short, dearer, or of another lot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from formulate.bar.pantry import Kept, Pantry, UnknownMassError
from formulate.errors import FormulateError
from formulate.files.bottle import Bottle, MeasuredBitterness
from formulate.files.fields import did_you_mean
from formulate.files.frozen import FrozenMap
from formulate.files.recipe import Recipe
from formulate.files.shelf import Offer
from formulate.formulation.gone import most_of
from formulate.optimise.problem import Limit
from formulate.quantity import Amount, AmountBasis, Dimension, parse_amount, parse_quantity
from formulate.quantity.amounts import Money, parse_money
from formulate.quantity.words import read_option

__all__ = [
    "Circumstances",
    "read_circumstances",
    "refuse_unknown",
    "short_limits",
    "with_lots",
    "with_prices",
]

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
    prices : tuple of (str, Money)
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


def read_circumstances(
    without: Sequence[str] = (),
    short: Sequence[str] = (),
    prices: Sequence[str] = (),
    lots: Sequence[str] = (),
) -> Circumstances:
    """Read what was typed.

    Parameters
    ----------
    without : sequence of str
        Ids.
    short, prices, lots : sequence of str
        Such as ``damson: 300 g``, ``damson: 12 EUR/kg``, ``gentian-root: 15000``.

    Raises
    ------
    FormulateError
        With the option and what was typed.
    """
    return Circumstances(
        tuple(dict.fromkeys(without)),
        tuple((name, _left(text)) for name, text in _pairs("--short", short, "damson: 300 g")),
        tuple((name, _price(text)) for name, text in _pairs("--price", prices, "damson: 12 EUR/kg")),
        tuple((name, _bitterness(text)) for name, text in _pairs("--lot", lots, "gentian-root: 15000")),
    )


def short_limits(short: Sequence[tuple[str, Amount]], ids: Sequence[str], pantry: Pantry,
                 volume_l: float | None) -> list[Limit]:  # fmt: skip
    """Limit what is short to what is left, for the whole batch.

    Parameters
    ----------
    short : sequence of (str, Amount)
    ids : sequence of str
        Of the problem's ingredients.
    pantry : Pantry
    volume_l : float or None
        Size of the batch where it is known.

    Raises
    ------
    FormulateError
        If an amount cannot be weighed or the id is not in the bottle file.
    """
    limits = []
    for name, amount in short:
        try:
            mass = pantry.mass_kg(amount, pantry.unaged(name))
        except UnknownMassError as error:
            raise FormulateError(f"--short: {error}") from None
        limits.append(most_of(name, ids.index(name), mass, volume_l, f"{amount.text} left"))
    return limits


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
    return replace(pantry, shelf=changed, kept=Kept())


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
    listed = {use.id for use in bottle.ingredients}
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


def _pairs(option: str, texts: Sequence[str], example: str) -> list[tuple[str, str]]:
    pairs = []
    for text in texts:
        name, colon, value = text.partition(":")
        if not colon or not value.strip():
            raise FormulateError(f"{option}: what and how much, got '{text}'. Write '{example}'.")
        pairs.append((name.strip(), value.strip()))
    return pairs


def _left(text: str) -> Amount:
    amount = read_option("--short", text, parse_amount)
    if amount.basis not in _COUNTED:
        raise FormulateError(
            f"--short: how much is left in all, got '{text}'. Write e.g. 300 g or 2 bottles."
        )
    return amount


def _price(text: str) -> Money:
    return read_option("--price", text, parse_money)


def _bitterness(text: str) -> float:
    value = read_option("--lot", text, lambda typed: parse_quantity(typed, Dimension.BITTERNESS))
    if not value > 0.0:
        raise FormulateError(f"--lot: a bitterness value per gram above zero, got '{text}'.")
    return value
