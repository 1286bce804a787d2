"""Slips of typing: what no bar means is asked about first, a strange price beside the answer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from statistics import median

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.errors import Note, SpecError
from formulate.files.fields import IS_THIS_MEANT
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.shelf import Offer
from formulate.quantity.amounts import AmountBasis

__all__ = ["price_questions", "refuse_slips"]

USUAL_PER_KG = {
    "acid": 8.0, "bark": 40.0, "citrus": 10.0, "flower": 50.0, "fruit": 5.0, "herb": 40.0, "juice": 5.0,
    "root": 40.0, "spice": 40.0, "spirit": 15.0, "sweetener": 3.0, "vegetable": 5.0, "wine": 10.0,
}  # fmt: skip
"""Euros for a kilogram of a family, about; from memory, common practice. Only far beyond is asked about."""
USUAL_OF = {"saffron": 4000.0, "vanilla-bean": 500.0}
"""Dearer by far than their family; from memory."""
FAR = 30.0
"""Times the usual, or that part of it, at which a price is asked about."""
ENOUGH_PRICES = 5
"""From so many on a shelf is measured by its own prices where it counts in other money."""
EUROS_NEARLY = frozenset({"EUR", "USD", "GBP", "CHF", "AUD", "CAD"})
LARGEST_PACK = 60.0
"""Kilograms or litres: more than a sack, a keg or a can that a bar takes in."""
MOST_RETAINED_KG_KG = 15.0
"""Liquor that a kilogram of any plant may hold after pressing, with room to spare; from memory."""
MOST_DOSED_G_L = 1500.0
MOST_NAMED = 3


def refuse_slips(pantry: Pantry) -> None:
    """Ask about what costs nothing, packs that no bar takes in and own values that nothing has.

    Raises
    ------
    SpecError
        With a question for each, at its place.
    """
    shelf = pantry.shelf
    if shelf is None:
        return
    problems = Problems(shelf.places)
    for name, number, offer in _typed(pantry):
        place: tuple[str | int, ...] = ("offers", name)
        if (*place, number) in shelf.places.values:
            place = (*place, number)
        if offer.price.value == 0.0 and name != "water":
            problems.add((*place, "price"), f"costs nothing, got {offer.price.text}. {IS_THIS_MEANT}")
        pack = offer.pack
        if pack is not None and pack.basis is not AmountBasis.PIECES and pack.value > LARGEST_PACK:
            problems.add((*place, "pack"), f"a pack no bar takes in, got {pack.text}. {IS_THIS_MEANT}")
    for name, own in shelf.ingredients.items():
        if own.meant:
            continue
        if own.retention_kg_per_kg > MOST_RETAINED_KG_KG:
            problems.add(
                ("ingredients", name, "retention"),
                f"more liquor than any plant holds, got {own.retention_kg_per_kg:g} kg/kg. {IS_THIS_MEANT}",
            )
        if own.dose is not None and own.dose.high_g_l > MOST_DOSED_G_L:
            problems.add(
                ("ingredients", name, "dose"),
                f"more than a litre can hold, got {own.dose.high_g_l:g} g/L. {IS_THIS_MEANT}",
            )
    problems.raise_if_any()


def price_questions(pantry: Pantry, names: Sequence[str] | None = None) -> list[Note]:
    """Ask in a line about prices far from what their kind usually costs.

    A price may be strange and right, and a recipe stands whatever it costs: nothing is refused.

    Parameters
    ----------
    names : sequence of str, optional
        Only what is named here; else everything on offer.
    """
    shelf = pantry.shelf
    if shelf is None:
        return []
    priced = list(_priced(pantry))
    scale = 1.0
    if shelf.currency not in EUROS_NEARLY:
        if len(priced) < ENOUGH_PRICES:
            return []
        scale = median(per_kg / usual for _, per_kg, usual in priced)
    strange = [
        f"{name} {per_kg:.3g} a kilogram (usual: about {scale * usual:.3g})"
        for name, per_kg, usual in priced
        if (names is None or name in names) and not scale / FAR < per_kg / usual < scale * FAR
    ]
    if not strange:
        return []
    more = f" and {len(strange) - MOST_NAMED} more" if len(strange) > MOST_NAMED else ""
    text = f"A strange price: {'; '.join(strange[:MOST_NAMED])}{more}. {IS_THIS_MEANT}"
    return [Note("strange_price", text)]


def _typed(pantry: Pantry) -> Iterator[tuple[str, int, Offer]]:
    """Go through the offers of the shelf file itself; what a supplier's list says is the supplier's word."""
    shelf = pantry.shelf
    assert shelf is not None
    listed = {name for given in shelf.price_lists for name in given.items}
    for name, offers in shelf.offers.items():
        for number, offer in enumerate(offers if name not in listed else ()):
            if not offer.meant:
                yield name, number, offer


def _priced(pantry: Pantry) -> Iterator[tuple[str, float, float]]:
    """Give each offer of a known thing with its price per kilogram and what that usually is."""
    shelf = pantry.shelf
    assert shelf is not None
    for name, _, offer in _typed(pantry):
        own = shelf.ingredients.get(name)
        if own is not None and own.based_on is None:
            continue
        try:
            ingredient: Ingredient = pantry.unaged(name)
            per_kg = pantry.offer_per_kg(offer, ingredient).net
        except (SpecError, UnknownMassError, ValueError, ZeroDivisionError):
            continue  # told where it is read
        usual = USUAL_OF.get(ingredient.id) or USUAL_PER_KG.get(ingredient.family)
        if usual is not None and per_kg > 0.0:
            yield name, per_kg, usual
