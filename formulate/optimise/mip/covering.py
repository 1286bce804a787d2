"""The cheapest packs for a recipe that stands: a small program in whole numbers, nothing in it to spare."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.linear import LinearStatus, RowBuilder
from formulate.optimise.mip.integer_terms import IntegerTerms
from formulate.optimise.mip.orders import add_minimum_order
from formulate.optimise.mip.packs import Thing, net_prices, things_of
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.tolerances import INTEGER_FEASIBILITY, NOTHING_BOUGHT_KG

__all__ = ["Cover", "cheapest_cover", "has_spare_packs"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Cover:
    """Packs that hold what is needed.

    Attributes
    ----------
    packs : ndarray, shape (packs,)
        How many of each; any number of what is sold loose.
    proven_gap : float
        How much dearer, relative, they may be than the cheapest.
    proved : bool
        Whether the search ended of itself.
    """

    packs: FloatArray
    proven_gap: float
    proved: bool


def cheapest_cover(
    terms: IntegerTerms, needs_kg: Mapping[Thing, float], *, seconds: float = 10.0
) -> Cover | None:
    """Find the cheapest packs without a spare one that hold what is needed and keep the minimum orders.

    Parameters
    ----------
    terms : IntegerTerms
        Its packs, minimum orders and what a rest is worth; choices are decided already.
    needs_kg : mapping
        What has to be bought of each thing, beyond what is on the shelf.

    Returns
    -------
    Cover or None
        None where no such packs are known: without minimum orders that is never so.

    Notes
    -----
    A pack is spare when the need is met without it. Forbidding that keeps a minimum order from being filled
    up with what nobody needs; a larger pack, or another supplier's, may still reach it.
    """
    packs = terms.packs
    needs = {thing: needs_kg.get(thing, 0.0) for thing in things_of(packs)}
    count = len(packs)
    most = np.array([_most(pack.size_kg, needs[pack.thing], loose=pack.loose) for pack in packs])
    suppliers = [(name, least) for name, least in terms.least_order if least > 0.0]
    cost = np.concatenate([net_prices(packs, terms.leftover_share), np.zeros(count + len(suppliers))])
    rows = RowBuilder()
    for thing, need in needs.items():
        if need <= NOTHING_BOUGHT_KG:
            continue
        own = [number for number, pack in enumerate(packs) if pack.thing == thing]
        # Counted in shares of the need, so that grams of a root weigh as much as litres of spirit.
        sizes = np.array([packs[number].size_kg for number in own]) / need
        rows.add(own, sizes, 1.0 - INTEGER_FEASIBILITY / 2.0, np.inf)
        room = float(sizes @ most[own])
        for number in own:
            if packs[number].loose:
                continue
            used = count + number
            rows.add([number, used], np.array([1.0, -most[number]]), -np.inf, 0.0)
            size = packs[number].size_kg / need
            rows.add([*own, used], np.append(sizes, room), -np.inf, 1.0 - INTEGER_FEASIBILITY + size + room)
    for position, (name, least) in enumerate(suppliers):
        own = [number for number, pack in enumerate(packs) if pack.supplier == name]
        if not own:
            continue
        prices = [packs[number].counted for number in own]
        add_minimum_order(rows, own, prices, most[own].tolist(), 2 * count + position, least)
    upper = np.concatenate([most, np.ones(count + len(suppliers))])
    integer = np.array([not pack.loose for pack in packs] + [True] * (count + len(suppliers)))
    model = rows.assemble(cost, np.zeros(len(cost)), upper, integer)
    result = solve_model(model, seconds=seconds, gap=0.0)
    if result.status not in (LinearStatus.OPTIMAL, LinearStatus.INTERRUPTED) or not result.values.size:
        return None
    loose = np.array([pack.loose for pack in packs], dtype=bool)
    counts = result.values[:count]
    counts = np.where(loose, np.maximum(counts, 0.0), np.rint(counts))
    return Cover(counts, result.gap, result.status is LinearStatus.OPTIMAL)


def has_spare_packs(terms: IntegerTerms, needs_kg: Mapping[Thing, float], packs: FloatArray) -> bool:
    """Tell whether what is needed could be held without one of the packs.

    Parameters
    ----------
    needs_kg : mapping
        See `cheapest_cover`.
    packs : ndarray, shape (packs,)
    """
    for number, pack in enumerate(terms.packs):
        if pack.loose or packs[number] < 0.5:
            continue
        held = sum(
            other.size_kg * float(amount)
            for other, amount in zip(terms.packs, packs, strict=True)
            if other.thing == pack.thing
        )
        if held - pack.size_kg >= needs_kg.get(pack.thing, 0.0) * (1.0 - INTEGER_FEASIBILITY):
            return True
    return False


def _most(size_kg: float, need_kg: float, *, loose: bool) -> float:
    if need_kg <= NOTHING_BOUGHT_KG:
        return 0.0
    return need_kg / size_kg if loose else float(ceil(need_kg / size_kg * (1.0 - INTEGER_FEASIBILITY / 2.0)))
