"""Minimum orders: which count, which a list keeps, and what a bar could do about one it does not reach."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf

from formulate.bar.offers import cheapest_by_weight, packs_on_offer
from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.errors import SpecError
from formulate.files.ingredient import Ingredient
from formulate.optimise.mip.packs import Pack, Thing
from formulate.quantity.document import computed, shown

__all__ = ["KeepingStock", "Shortfall", "kept_orders", "least_orders", "shortfalls"]

SPIRIT_PCT_VOL = 30.0
"""From this strength on an opened bottle keeps for years (common practice)."""
DRY_SHARE = 0.13
"""With no more water than this a plant, a sugar or an acid keeps in a tight jar (common practice)."""
MOST_BATCHES_AHEAD = 12.0
"""Nothing is offered that would last for more batches of the same drink than this (working limit)."""
CENT = 0.005


@dataclass(frozen=True, slots=True)
class KeepingStock:
    """Something that keeps and the drink uses, bought only to reach a minimum order.

    Attributes
    ----------
    batches : float
        How many more batches of the drink it lasts for.
    """

    ingredient: str
    pack: str
    packs: int
    cost: float
    batches: float


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A supplier from whom less is bought than the least order.

    Attributes
    ----------
    least, ordered : float
        Money.
    keeping : tuple of KeepingStock
        What would reach it together; empty where nothing of theirs is used up in a sensible time.
    others : tuple of str
        Where nothing is: their spirits for other drinks, which keep.
    """

    supplier: str
    least: float
    ordered: float
    keeping: tuple[KeepingStock, ...] = field(metadata=shown("all_to_reach_it"))
    others: tuple[str, ...] = field(default=(), metadata=shown("keep_for_other_drinks"))

    @property
    @computed("missing", after="ordered")
    def short(self) -> float:
        """Money that is missing."""
        return self.least - self.ordered

    @property
    @computed("only_to_reach_it", after="short")
    def first(self) -> KeepingStock | None:
        """The first of what would reach it."""
        return self.keeping[0] if self.keeping else None

    @property
    def filling_up(self) -> float:
        """Money for what would reach it; endless where nothing sensible would."""
        return sum(stock.cost for stock in self.keeping) if self.keeping else inf


def least_orders(pantry: Pantry, packs: Iterable[Pack]) -> tuple[tuple[str, float], ...]:
    """List the suppliers of some packs that have a minimum order, and the money it must come to.

    Parameters
    ----------
    packs : iterable of Pack
        All that could be bought.
    """
    suppliers = {pack.supplier for pack in packs}
    minimum = pantry.shelf.least_order if pantry.shelf else {}
    return tuple((supplier, money.value) for supplier, money in minimum.items() if supplier in suppliers)


def kept_orders(
    least_order: Iterable[tuple[str, float]], bought_from: Container[str], missed: Iterable[Shortfall] = ()
) -> tuple[tuple[str, float], ...]:
    """List the minimum orders that a list keeps, of suppliers it buys from.

    Parameters
    ----------
    least_order : iterable of (str, float)
        Supplier and money.
    """
    short = {shortfall.supplier for shortfall in missed}
    return tuple(least for least in least_order if least[0] in bought_from and least[0] not in short)


def shortfalls(
    pantry: Pantry,
    least_order: Iterable[tuple[str, float]],
    bought: Sequence[tuple[Pack, float]],
    used_kg: Mapping[str, float],
) -> tuple[Shortfall, ...]:
    """List the suppliers whose minimum order a list does not reach.

    Parameters
    ----------
    least_order : iterable of (str, float)
        Supplier and money.
    bought : sequence of (Pack, float)
        Packs and how many of each.
    used_kg : mapping
        What a batch uses, by ingredient.
    """
    missed = []
    for supplier, least in least_order:
        ordered = sum(pack.counted * count for pack, count in bought if pack.supplier == supplier)
        if 0.0 < ordered < least - CENT:
            keeping = _keeping(pantry, supplier, least - ordered, used_kg)
            others = () if keeping else _other_spirits(pantry, supplier, used_kg)
            missed.append(Shortfall(supplier, least, ordered, keeping, others))
    return tuple(missed)


@dataclass(frozen=True, slots=True)
class _Candidate:
    """Something of theirs that keeps and the drink uses, in the pack that is cheapest by weight."""

    name: str
    pack: Pack
    batches: float
    """How many batches a pack lasts."""


def _keeping(
    pantry: Pantry, supplier: str, missing: float, used_kg: Mapping[str, float]
) -> tuple[KeepingStock, ...]:
    """Fill an order up with what the drink uses, pack by pack of what is used up soonest.

    Nothing is taken that would last for more batches than anybody plans ahead; where that does not fill it,
    nothing is offered.
    """
    candidates = [
        candidate
        for name, packs in _that_keeps(pantry, supplier)
        if used_kg.get(name, 0.0) > 0.0 and (candidate := _candidate(name, packs, used_kg[name])) is not None
    ]
    taken = dict.fromkeys(candidates, 0)

    def money(counts: Mapping[_Candidate, int]) -> float:
        return sum(candidate.pack.price * count for candidate, count in counts.items())

    while money(taken) < missing - CENT:
        soonest = min(candidates, key=lambda each: (taken[each] + 1) * each.batches, default=None)
        if soonest is None or (taken[soonest] + 1) * soonest.batches > MOST_BATCHES_AHEAD:
            return ()
        taken[soonest] += 1
    for candidate in sorted(candidates, key=lambda each: -taken[each] * each.batches):
        while taken[candidate] and money(taken | {candidate: taken[candidate] - 1}) >= missing - CENT:
            taken[candidate] -= 1
    return tuple(
        KeepingStock(
            candidate.name,
            candidate.pack.name,
            count,
            candidate.pack.price * count,
            count * candidate.batches,
        )
        for candidate, count in taken.items()
        if count
    )


def _candidate(name: str, packs: Sequence[Pack], used_kg: float) -> _Candidate | None:
    """Take the pack that is cheapest by weight of those that are used up in time."""
    pack = cheapest_by_weight([pack for pack in packs if pack.size_kg / used_kg <= MOST_BATCHES_AHEAD])
    return None if pack is None else _Candidate(name, pack, pack.size_kg / used_kg)


def _that_keeps(pantry: Pantry, supplier: str) -> list[tuple[str, list[Pack]]]:
    """List what a supplier sells by the pack that keeps."""
    keeping = []
    for name in pantry.shelf.offers if pantry.shelf else ():
        try:
            ingredient = pantry.ingredient(name)
            priced = packs_on_offer(pantry, ingredient, Thing(False, 0))
        except (SpecError, UnknownMassError):  # not known well enough to buy more of it than needed
            continue
        packs = [
            pack for pack, _ in priced if pack.supplier == supplier and not pack.loose and pack.price > 0.0
        ]
        if packs and _keeps(ingredient):
            keeping.append((name, packs))
    return keeping


def _other_spirits(pantry: Pantry, supplier: str, used_kg: Mapping[str, float]) -> tuple[str, ...]:
    """Name the spirits of a supplier that the drink does not use: they keep for years, for other drinks."""
    names = [name for name, _ in _that_keeps(pantry, supplier) if not used_kg.get(name)]
    return tuple(name for name in names if _is_spirit(pantry.ingredient(name)))


def _is_spirit(ingredient: Ingredient) -> bool:
    return ingredient.strength_pct_vol is not None and ingredient.strength_pct_vol >= SPIRIT_PCT_VOL


def _keeps(ingredient: Ingredient) -> bool:
    dry = bool(ingredient.composition) and ingredient.composition.get("water", 0.0) <= DRY_SHARE
    return _is_spirit(ingredient) or dry or ingredient.family in ("sweetener", "acid")
