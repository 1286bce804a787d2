"""What is sold, and which packs of it could be worth buying at all.

Most packs on a shelf can never be part of the cheapest list: four small ones that cost more
than a large one, a sack of what a pinch is needed of. Leaving them out beforehand costs
nothing and is what makes the whole numbers quick to prove.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.tolerances import ROUNDING

__all__ = ["Pack", "Thing", "cheapest_per_kg", "net_prices", "pack_limits", "things_of"]

FloatArray = NDArray[np.float64]


class Thing(NamedTuple):
    """What is bought: an ingredient, or a purchase that is taken apart.

    Attributes
    ----------
    number : int
        Position among the ingredients or among the purchases of the question.
    """

    is_purchase: bool
    number: int


@dataclass(frozen=True, slots=True)
class Pack:
    """A way somebody sells a thing.

    Attributes
    ----------
    size_kg, price : float
        Of one pack; of any amount when `loose`.
    supplier : str
        Empty when nobody is named.
    name : str
        As the shelf describes it.
    loose : bool
        Sold by weight: any fraction of `size_kg` may be bought.
    counts : float or None
        What one counts for the supplier's least order; None for its price.
    at_least : int
        Fewer of it are not sold at this price.
    deliveries : tuple of int or None
        Periods of a plan at whose start it may come; None for any.
    """

    thing: Thing
    size_kg: float
    price: float
    supplier: str = ""
    name: str = ""
    loose: bool = False
    counts: float | None = None
    at_least: int = 0
    deliveries: tuple[int, ...] | None = None

    @property
    def counted(self) -> float:
        """Money that one counts for the supplier's least order."""
        return self.price if self.counts is None else self.counts


def things_of(packs: Sequence[Pack]) -> tuple[Thing, ...]:
    """Return what the packs hold, each thing once, ingredients first."""
    return tuple(sorted({pack.thing for pack in packs}))


def cheapest_per_kg(packs: Sequence[Pack], thing: Thing) -> float:
    """Return the lowest price per kilogram a thing is sold at."""
    return min(pack.price / pack.size_kg for pack in packs if pack.thing == thing)


def net_prices(packs: Sequence[Pack], leftover_share: float) -> FloatArray:
    """Return the prices of packs less what they would still be worth if nothing of them were used."""
    cheapest = {thing: cheapest_per_kg(packs, thing) for thing in things_of(packs)}
    return np.array([pack.price - leftover_share * cheapest[pack.thing] * pack.size_kg for pack in packs])


def pack_limits(
    packs: Sequence[Pack],
    needs_kg: Mapping[Thing, float],
    leftover_share: float = 0.0,
    least_order: Sequence[tuple[str, float]] = (),
    *,
    swaps: bool = True,
) -> FloatArray:
    """Return how many of each pack a cheapest list can hold at most.

    Parameters
    ----------
    needs_kg : mapping
        Per thing, the most that could have to be bought of it.
    leftover_share : float
        See `net_prices`.
    least_order : sequence of (str, float)
        Suppliers with a minimum order, and how much. A dearer pack of theirs, or one more than needed, may
        be worth it to reach the minimum: theirs are neither left out nor taken to stand in for others.
    swaps : bool
        Whether packs are left out that another could stand in for: true where a rest is worth the same
        however much of it there is.

    Returns
    -------
    ndarray, shape (packs,)

    Notes
    -----
    Where some number of one pack could be swapped for one other that is no dearer and holds as much, or
    all that is needed, a cheapest list exists without that number. Every swap makes the list cheaper, or
    shorter, or moves it up in the order of `packs`, so swapping ends.
    """
    prices = net_prices(packs, leftover_share)
    minimum = dict(least_order)
    limits = np.zeros(len(packs))
    for number, pack in enumerate(packs):
        need = needs_kg[pack.thing]
        limits[number] = need / pack.size_kg if pack.loose else ceil(need / pack.size_kg - ROUNDING)
        if pack.supplier in minimum and pack.price > 0.0:
            limits[number] += ceil(minimum[pack.supplier] / (pack.counted or pack.price))
            continue
        if pack.at_least:
            limits[number] = max(limits[number], pack.at_least)
            continue
        if not swaps or pack.loose or need <= 0.0 or prices[number] <= 0.0:
            continue
        for other, instead in enumerate(packs):
            if other == number or instead.thing != pack.thing or instead.supplier in minimum:
                continue
            if instead.at_least or instead.deliveries != pack.deliveries:
                continue
            if instead.loose:
                worth = prices[other] / instead.size_kg * min(pack.size_kg, need)
                swapped = 1 if prices[number] >= worth else 0
            else:
                swapped = _swapped(pack, instead, prices[number], prices[other], need)
                tie = swapped == 1 and _swapped(instead, pack, prices[other], prices[number], need) == 1
                swapped = 0 if tie and other > number else swapped
            if swapped:
                limits[number] = min(limits[number], swapped - 1)
    return limits


def _swapped(pack: Pack, instead: Pack, price: float, price_instead: float, need_kg: float) -> int:
    """Return the least number of one pack that one other can stand in for; 0 for none."""
    count = max(ceil(price_instead / price - ROUNDING), 1) if price > 0.0 else 0
    held = min(count * pack.size_kg, need_kg)
    return count if count and held <= min(instead.size_kg, need_kg) * (1.0 + ROUNDING) else 0
