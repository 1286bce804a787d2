"""Minimum orders that a list does not reach, and what a bar could do about each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from formulate.errors import SpecError
from formulate.jobs.buying.on_sale import pack_of
from formulate.jobs.question.pantry import Pantry, UnknownMassError
from formulate.optimise.packs import Pack, Thing
from formulate.spec.ingredient import Ingredient

__all__ = ["KeepingStock", "Shortfall", "shortfalls"]

SPIRIT_PCT_VOL = 30.0
"""From this strength on an opened bottle keeps for years (common practice)."""
DRY_SHARE = 0.13
"""With no more water than this a plant, a sugar or an acid keeps in a tight jar (common practice)."""
BATCHES_AHEAD = 3.0
"""Stock for up to so many more batches of the same drink is bought sooner than anything else."""
MOST_BATCHES_AHEAD = 12.0
"""Stock of a used thing for more batches than this is bought only when no spirit would do (working limit)."""
CENT = 0.005


@dataclass(frozen=True, slots=True)
class KeepingStock:
    """Something that keeps, bought only to reach a minimum order.

    Attributes
    ----------
    ingredient, pack : str
    packs : int
    cost : float
    batches : float or None
        How many more batches of the drink it lasts for; None where the drink does not use it.
    """

    ingredient: str
    pack: str
    packs: int
    cost: float
    batches: float | None


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A supplier from whom less is bought than the least order.

    Attributes
    ----------
    supplier : str
    least, ordered : float
        Money.
    keeping : KeepingStock or None
        What would reach it; None where the shelf knows nothing of this supplier that keeps.
    """

    supplier: str
    least: float
    ordered: float
    keeping: KeepingStock | None

    @property
    def short(self) -> float:
        """Money that is missing."""
        return self.least - self.ordered


def shortfalls(
    pantry: Pantry,
    least_order: Iterable[tuple[str, float]],
    bought: Sequence[tuple[Pack, float]],
    used_kg: Mapping[str, float],
) -> tuple[Shortfall, ...]:
    """List the suppliers whose minimum order a list does not reach.

    Parameters
    ----------
    pantry : Pantry
    least_order : iterable of (str, float)
        Supplier and money.
    bought : sequence of (Pack, float)
        Packs and how many of each.
    used_kg : mapping
        What a batch uses, by ingredient.
    """
    found = []
    for supplier, least in least_order:
        ordered = sum(pack.price * count for pack, count in bought if pack.supplier == supplier)
        if 0.0 < ordered < least - CENT:
            keeping = _keeping(pantry, supplier, least - ordered, used_kg)
            found.append(Shortfall(supplier, least, ordered, keeping))
    return tuple(found)


def _keeping(
    pantry: Pantry, supplier: str, missing: float, used_kg: Mapping[str, float]
) -> KeepingStock | None:
    """Choose what to fill an order up with: what the drink uses, else spirit, else what keeps."""
    choice: list[tuple[tuple[float, float], KeepingStock]] = []
    for name in pantry.shelf.offers if pantry.shelf else ():
        try:
            ingredient = pantry.ingredient(name)
            packs = [pack_of(pantry, offer, ingredient, Thing(False, 0)) for offer in pantry.offers(name)]
        except (SpecError, UnknownMassError):  # not known well enough to buy more of it than needed
            continue
        if not _keeps(ingredient):
            continue
        for pack in packs:
            if pack.supplier != supplier or pack.loose or pack.price <= 0.0:
                continue
            count = ceil((missing - CENT) / pack.price)
            used = used_kg.get(name, 0.0)
            batches = count * pack.size_kg / used if used > 0.0 else None
            stock = KeepingStock(name, pack.name, count, pack.price * count, batches)
            choice.append((_rank(stock, ingredient), stock))
    return min(choice, key=lambda ranked: ranked[0])[1] if choice else None


def _rank(stock: KeepingStock, ingredient: Ingredient) -> tuple[float, float]:
    """Put what the drink uses before what it does not, unless it would last for ever."""
    spirit = _is_spirit(ingredient)
    if stock.batches is None:
        return (2.0, stock.cost) if spirit else (4.0, stock.cost)
    if stock.batches <= BATCHES_AHEAD:
        return 0.0, stock.cost
    return (1.0, stock.batches) if spirit or stock.batches <= MOST_BATCHES_AHEAD else (3.0, stock.batches)


def _is_spirit(ingredient: Ingredient) -> bool:
    return ingredient.strength_pct_vol is not None and ingredient.strength_pct_vol >= SPIRIT_PCT_VOL


def _keeps(ingredient: Ingredient) -> bool:
    dry = bool(ingredient.composition) and ingredient.composition.get("water", 0.0) <= DRY_SHARE
    return _is_spirit(ingredient) or dry or ingredient.family in ("sweetener", "acid")
