"""What the bar can use: the shelf's own values over the built-in library, and what they cost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from formulate.blend.materials import density_as_bought_kg_m3
from formulate.errors import SpecError, SpecProblem
from formulate.quantity import Amount, AmountBasis
from formulate.spec.ingredient import Ingredient
from formulate.spec.library import Library
from formulate.spec.located import KeyPath, Places
from formulate.spec.shelf import Offer, Shelf, load_shelf

__all__ = ["Pantry", "Problems", "UnknownMassError", "open_pantry"]

TAP_WATER = "water"


class UnknownMassError(ValueError):
    """An amount cannot be weighed because a figure of the ingredient is missing."""


class Problems:
    """Collects what is wrong in one file, so that all of it is told at once."""

    def __init__(self, places: Places) -> None:
        self.places = places
        self.found: list[SpecProblem] = []

    def add(self, path: KeyPath, message: str, *, key: bool = False) -> None:
        """Note a problem at a place of the file."""
        self.found.append(self.places.problem(path, message, key=key))

    def add_from(self, path: KeyPath, error: SpecError) -> None:
        """Note the problems of an error at a place of the file where they name none themselves."""
        for problem in error.problems:
            if problem.location is None:
                self.add(path, problem.message)
            else:
                self.found.append(problem)

    def raise_if_any(self) -> None:
        """Raise everything noted so far.

        Raises
        ------
        SpecError
        """
        if self.found:
            raise SpecError(self.found)


@dataclass(frozen=True)
class Pantry:
    """A shelf over the library.

    Attributes
    ----------
    shelf : Shelf or None
        None for a file that names no shelf.
    library : Library
    """

    shelf: Shelf | None
    library: Library

    @property
    def currency(self) -> str:
        """Label of all prices; empty without a shelf."""
        return self.shelf.currency if self.shelf else ""

    def ingredient(self, ingredient_id: str) -> Ingredient:
        """Return an ingredient, the bar's own values first.

        Raises
        ------
        SpecError
            If nobody knows the id.
        """
        if self.shelf is not None:
            return self.shelf.ingredient(ingredient_id, self.library)
        return self.library.get(ingredient_id)

    def offers(self, ingredient_id: str) -> tuple[Offer, ...]:
        """Return what suppliers ask for an ingredient."""
        return self.shelf.offers.get(ingredient_id, ()) if self.shelf else ()

    def price_per_kg(self, ingredient: Ingredient) -> float | None:
        """Return the lowest price per kilogram as bought; None when the shelf has none.

        Raises
        ------
        UnknownMassError
            If a pack cannot be weighed.
        """
        prices = [self._offer_price(offer, ingredient) for offer in self.offers(ingredient.id)]
        if not prices and ingredient.id == TAP_WATER:
            return 0.0
        return min(prices, default=None)

    def mass_kg(self, amount: Amount, ingredient: Ingredient) -> float:
        """Weigh an amount given in any unit, per batch or per litre alike.

        Raises
        ------
        UnknownMassError
            If the ingredient's density, piece or bottle is not known.
        """
        basis, value = amount.basis, amount.value
        if basis in (AmountBasis.MASS, AmountBasis.MASS_PER_LITRE):
            return value
        if basis in (AmountBasis.VOLUME, AmountBasis.VOLUME_PER_LITRE):
            return value * self._density_kg_l(ingredient)
        if basis is AmountBasis.BOTTLES:
            return value * self._bottle_l(ingredient) * self._density_kg_l(ingredient)
        if basis is AmountBasis.PIECES:
            if ingredient.piece_kg is None:
                raise UnknownMassError(
                    f"a piece of {ingredient.id} has no weight. Add `{ingredient.id}: "
                    f"{{based_on: {ingredient.id}, piece: ... g}}` under the shelf's ingredients, "
                    "or give grams."
                )
            return value * ingredient.piece_kg
        raise UnknownMassError(f"{amount.text!r} is a share, not an amount.")

    def on_hand_kg(self, ingredient: Ingredient) -> float | None:
        """Add up what the shelf says is left; None when it says nothing."""
        amounts = [offer.on_hand for offer in self.offers(ingredient.id) if offer.on_hand is not None]
        if not amounts:
            return None
        return sum(self.mass_kg(amount, ingredient) for amount in amounts)

    def _offer_price(self, offer: Offer, ingredient: Ingredient) -> float:
        price = offer.price
        if price.per == "kg":
            return price.value
        if price.per == "L":
            return price.value / self._density_kg_l(ingredient)
        assert offer.pack is not None
        return price.value / self.mass_kg(offer.pack, ingredient)

    def _density_kg_l(self, ingredient: Ingredient) -> float:
        density = density_as_bought_kg_m3(ingredient)
        if density is None:
            raise UnknownMassError(
                f"{ingredient.id} has no density, so a volume of it cannot be weighed. "
                "Give grams, or add its density under the shelf's ingredients."
            )
        return density / 1000.0

    def _bottle_l(self, ingredient: Ingredient) -> float:
        if ingredient.bottle_l is not None:
            return ingredient.bottle_l
        for offer in self.offers(ingredient.id):
            if offer.pack is not None and offer.pack.basis is AmountBasis.VOLUME:
                return offer.pack.value
        raise UnknownMassError(
            f"how much a bottle of {ingredient.id} holds is not known. "
            "Add `pack: 70 cl` to its offer on the shelf."
        )


def open_pantry(
    shelf_path: Path | None, places: Places, load: Callable[[Path], Shelf] = load_shelf
) -> Pantry:
    """Load the shelf a file names and put it over the built-in library.

    Parameters
    ----------
    shelf_path : Path or None
        As the file names it, made relative to the file.
    places : Places
        Of the file that names the shelf, to point at when it is missing.
    load : callable
        Reads a shelf file.

    Raises
    ------
    SpecError
        If the shelf cannot be read.
    """
    if shelf_path is None:
        return Pantry(None, Library.built_in())
    if not shelf_path.exists():
        raise SpecError(
            [places.problem(("shelf",), f"no file there, got '{shelf_path.as_posix()}'. Check the path.")]
        )
    return Pantry(load(shelf_path), Library.built_in())
