"""What the bar can use: the shelf's own values over the built-in library, and what they cost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from formulate.bar.potency import aged, refuse_wrong_stock, stock_problem, stocked
from formulate.bar.prices import UnitPrice, offer_price, whole_price_per_kg
from formulate.bar.restricted import prohibited_by_name, with_restricted
from formulate.blend.materials import composed_density_kg_m3, density_as_bought_kg_m3
from formulate.errors import SpecError, SpecProblem
from formulate.files.disk import is_there
from formulate.files.frozen import FrozenMap
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Places, Problems
from formulate.files.library import Library
from formulate.files.listed_shelf import load_shelf
from formulate.files.service import Tax
from formulate.files.shelf import Offer, Shelf, Tolerances
from formulate.files.stock import Whole
from formulate.physics.components import COMPONENTS
from formulate.physics.gauging import masses_of_litre
from formulate.quantity import Amount, AmountBasis, Money

if TYPE_CHECKING:
    from formulate.bar.house_made import Made

__all__ = ["Pantry", "PantryCache", "UnknownMassError", "checked_shelf", "refuse_unknown_parts"]

TAP_WATER = "water"
DENSITY_OFF_BY = 0.05
"""Largest share between a liquid's stated density and what its composition gives, beyond the model's own."""


class UnknownMassError(ValueError):
    """An amount cannot be weighed because a figure of the ingredient is missing."""


@dataclass
class PantryCache:
    """What a pantry has worked out already, shared with the shelves its house-made things use.

    Attributes
    ----------
    shelves : dict of Path to Shelf
        By resolved path.
    made : dict of (Path or None, str) to Made
        By resolved path of the shelf and id.
    """

    shelves: dict[Path, Shelf] = field(default_factory=dict)
    made: dict[tuple[Path | None, str], Made] = field(default_factory=dict)


@dataclass(frozen=True)
class Pantry:
    """A shelf over the library.

    Attributes
    ----------
    shelf : Shelf or None
        None for a file that names no shelf.
    making : tuple of (Shelf, str)
        House-made things being worked out with this pantry, the outermost first.
    today : date, optional
        What the age of the stock is counted to; the day it is if not given.
    gone : frozenset of str
        What cannot be bought any more, though the shelf lists it; parts of whole things among it.
    cost_aside : bool
        Whether a bottle may cost more than its file allows, to see what it would cost.
    """

    shelf: Shelf | None
    library: Library
    making: tuple[tuple[Shelf, str], ...] = ()
    cache: PantryCache = field(default_factory=PantryCache, compare=False, repr=False)
    today: date | None = None
    gone: frozenset[str] = frozenset()
    cost_aside: bool = False
    make: Callable[[Pantry, str], Made] | None = field(default=None, compare=False, repr=False)
    """Works out a house-made thing; `opening` puts it in."""

    @property
    def day(self) -> date:
        """The day it is, unless another was given."""
        return self.today or date.today()

    @property
    def currency(self) -> str:
        """Label of all prices; empty without a shelf."""
        return self.shelf.currency if self.shelf else ""

    @property
    def tax(self) -> Tax:
        """Taxes of the shelf; none without one."""
        return self.shelf.tax if self.shelf else Tax()

    def foreign(self, money: Money | None) -> str:
        """Say that money is in another currency than the shelf; empty where it is not."""
        if money is None or self.shelf is None or money.currency == self.shelf.currency:
            return ""
        return f"the shelf counts in {self.shelf.currency}, got {money.text!r}. Use one currency."

    @property
    def usual_tolerance(self) -> dict[str, float]:
        """By how much a plain target may be missed, by name: in canonical units, or a share of it."""
        return dict(self.shelf.usual_tolerance if self.shelf else Tolerances())

    def ingredient(self, ingredient_id: str, *, measured: bool = False) -> Ingredient:
        """Return an ingredient as it is today: what the shelf has in `stock:` is counted down for its age.

        Parameters
        ----------
        measured : bool
            Somebody measured its bitterness: stock past its shelf life is taken all the same.

        Raises
        ------
        SpecError
            If nobody knows the id, its recipe cannot be worked out, or its stock is too old.
        """
        ingredient = self.unaged(ingredient_id)
        potency = stocked(self, ingredient)
        if potency is None:
            return ingredient
        past = None if measured else stock_problem(self, ingredient, potency)
        if past is not None:
            raise SpecError([past])
        return aged(ingredient, potency)

    def unaged(self, ingredient_id: str) -> Ingredient:
        """Return an ingredient as when new: made here, else the bar's own values, else the library's.

        Raises
        ------
        SpecError
            If nobody knows the id, its recipe cannot be worked out, or a liquid's own density and
            composition contradict each other.
        """
        if self.shelf is not None and ingredient_id in self.shelf.house_made:
            return self.made(ingredient_id).ingredient
        known = ingredient_id in self.library or (self.shelf and ingredient_id in self.shelf.ingredients)
        if not known and (prohibited := prohibited_by_name(ingredient_id)):
            raise SpecError([SpecProblem(None, "", prohibited)])
        if self.shelf is None:
            return with_restricted(self.library.get(ingredient_id))
        ingredient = self._by_its_label(self.shelf.ingredient(ingredient_id, self.library))
        self._refuse_another_density(ingredient)
        return with_restricted(ingredient, self.shelf, self.library)

    def _by_its_label(self, ingredient: Ingredient) -> Ingredient:
        """Give something bought the composition that strength and sugar on its label come to."""
        if ingredient.sugar_g_l is None or self.shelf is None:
            return ingredient
        masses = masses_of_litre(ingredient.strength_pct_vol or 0.0, ingredient.sugar_g_l)
        if not np.isfinite(masses).all():
            message = f"leaves no room for water at {ingredient.strength_pct_vol:g} % vol. Check both."
            place = ("ingredients", ingredient.id, "sugar")
            raise SpecError([self.shelf.places.problem(place, message)])
        shares = zip(COMPONENTS, (masses / masses.sum()).tolist(), strict=True)
        composition = FrozenMap({name: share for name, share in shares if share > 0.0})
        label = {"composition": composition, "strength_pct_vol": None, "sugar_g_l": None}
        return ingredient.model_copy(update=label)

    def _refuse_another_density(self, ingredient: Ingredient) -> None:
        """Refuse an own liquid whose density and composition cannot both be right."""
        own = None if self.shelf is None else self.shelf.ingredients.get(ingredient.id)
        if self.shelf is None or own is None or ingredient.density_kg_m3 is None:
            return
        composed = composed_density_kg_m3(ingredient)
        if composed is None or abs(ingredient.density_kg_m3 / composed - 1.0) <= DENSITY_OFF_BY:
            return
        key = "density" if "density" in own.given() else "composition"
        message = (
            f"density and composition do not fit: {ingredient.density_kg_m3:.6g} kg/m3 is given, the "
            f"composition makes about {composed:.0f}. Correct one, or delete the density: it is worked out."
        )
        raise SpecError([self.shelf.places.problem(("ingredients", ingredient.id, key), message)])

    def made(self, ingredient_id: str) -> Made:
        """Work out what the house makes, once.

        Raises
        ------
        SpecError
            If its recipe cannot be worked out, or needs the thing itself.
        """
        assert self.make is not None, "only a pantry that was opened works out what the house makes"
        return self.make(self, ingredient_id)

    def every_offer(self, ingredient_id: str) -> tuple[Offer, ...]:
        """Return all that the shelf lists of an ingredient or supply, prices that have run out among it."""
        if self.shelf is None:
            return ()
        return self.shelf.offers.get(ingredient_id) or self.shelf.supplies.get(ingredient_id, ())

    def offers(self, ingredient_id: str) -> tuple[Offer, ...]:
        """Return what suppliers ask for an ingredient; what has run out only where nothing else holds."""
        every = self.every_offer(ingredient_id)
        return tuple(offer for offer in every if not offer.is_past(self.day)) or every

    def price_per_kg(self, ingredient: Ingredient) -> float | None:
        """Return the lowest price per kilogram used; None when the shelf has none.

        For a part of a whole thing that is as if it alone had to pay for the whole; a batch pays
        for the whole once, see `wholes.bill_of`.

        Raises
        ------
        UnknownMassError
            If a pack cannot be weighed.
        """
        offered = self.offered_per_kg(ingredient)
        prices = [] if offered is None else [offered]
        if self.shelf is not None:
            prices += [
                self.whole_per_kg(whole).cost / whole.parts[ingredient.id]
                for whole in self.shelf.whole.values()
                if ingredient.id in whole.parts
            ]
        return min(prices, default=None)

    def offered_per_kg(self, ingredient: Ingredient) -> float | None:
        """Return the lowest price per kilogram of a thing as it is, bought or made here; else None.

        Raises
        ------
        UnknownMassError
            If a pack cannot be weighed.
        """
        if self.shelf is not None and ingredient.id in self.shelf.house_made:
            return self.made(ingredient.id).price_per_kg
        prices = [self.offer_per_kg(offer, ingredient).cost for offer in self.offers(ingredient.id)]
        if not prices and ingredient.id == TAP_WATER:
            return 0.0
        return min(prices, default=None)

    def no_price_text(self, ingredient_id: str) -> str:
        """Say that there is no price, and what to do about it."""
        if self.shelf is None:
            return f"no price for {ingredient_id}: no shelf is named. Add a line such as `shelf: shelf.yaml`."
        add = f"Add it under offers (0 {self.currency or 'EUR'}/kg if it is free)."
        if self.shelf is not None and ingredient_id in self.shelf.house_made:
            without = ", ".join(self.made(ingredient_id).unpriced)
            return f"no price for {ingredient_id}: its recipe uses {without}, which has none. {add}"
        return f"no price for {ingredient_id} on the shelf. {add}"

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
        """Add up what the shelf says is left, in whole things too; None when it says nothing."""
        amounts = [offer.on_hand for offer in self.every_offer(ingredient.id) if offer.on_hand is not None]
        masses = []
        if self.shelf is not None:
            made = self.shelf.house_made.get(ingredient.id)
            amounts += [made.on_hand] if made is not None and made.on_hand is not None else []
            masses = [
                whole.on_hand_kg * whole.parts[ingredient.id]
                for whole in self.shelf.whole.values()
                if whole.on_hand_kg is not None and ingredient.id in whole.parts
            ]
        masses += [self.mass_kg(amount, ingredient) for amount in amounts]
        return sum(masses) if masses else None

    def whole_per_kg(self, whole: Whole) -> UnitPrice:
        """Return the price of a kilogram of a whole thing."""
        return whole_price_per_kg(whole, self.tax)

    def offer_price(self, offer: Offer) -> UnitPrice:
        """Return the price of an offer, per kg, L or pack as the offer says."""
        return offer_price(offer, self.tax)

    def offer_per_kg(self, offer: Offer, ingredient: Ingredient) -> UnitPrice:
        """Return the price of a kilogram of one offer.

        Raises
        ------
        UnknownMassError
            If its pack cannot be weighed.
        """
        price = self.offer_price(offer)
        if offer.price.per == "kg":
            return price
        if offer.price.per == "L":
            return price.divided_by(self._density_kg_l(ingredient))
        assert offer.pack is not None
        return price.divided_by(self.mass_kg(offer.pack, ingredient))

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
        for offer in self.every_offer(ingredient.id):
            if offer.pack is not None and offer.pack.basis is AmountBasis.VOLUME:
                return offer.pack.value / offer.pack.count
        raise UnknownMassError(
            f"how much a bottle of {ingredient.id} holds is not known. "
            "Add `pack: 70 cl` to its offer on the shelf."
        )


def checked_shelf(path: Path, places: Places, today: date | None = None) -> Shelf:
    """Read a shelf, and hold what it says of parts, supplies and stock against what is known.

    Parameters
    ----------
    places : Places
        Of the file that names the shelf, to point at when it is missing.
    today : date, optional
        What the age of the stock is counted to; the day it is if not given.

    Raises
    ------
    SpecError
        If the shelf cannot be read or used.
    """
    if not is_there(path):
        raise SpecError(
            [places.problem(("shelf",), f"no file there, got '{path.as_posix()}'. Check the path.")]
        )
    shelf = load_shelf(path)
    pantry = Pantry(shelf, Library.built_in(), today=today)
    refuse_unknown_parts(pantry)
    refuse_wrong_stock(pantry)
    return shelf


def refuse_unknown_parts(pantry: Pantry) -> None:
    """Hold the parts of whole things, and the names of supplies, against what is known.

    Raises
    ------
    SpecError
        For every part nobody knows, and every supply that is an ingredient.
    """
    if pantry.shelf is None:
        return
    problems = Problems(pantry.shelf.places)
    for name in pantry.shelf.supplies:
        if name in pantry.library:
            message = f"'{name}' is an ingredient. Put it under offers, or give the supply another name."
            problems.add(("supplies", name), message, key=True)
    for name, whole in pantry.shelf.whole.items():
        for part in whole.parts:
            try:
                pantry.shelf.ingredient(part, pantry.library)
            except SpecError as error:
                for problem in error.problems:
                    problems.add(("whole", name, "parts", part), problem.message, key=True)
    problems.raise_if_any()
