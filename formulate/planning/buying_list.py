"""Which packs to buy for a recipe, or for a recipe that may move within its limits."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.least_orders import Shortfall, shortfalls
from formulate.bar.prices import UnitPrice
from formulate.bar.vessels import contents_l
from formulate.describe.buy_record import BuyLine
from formulate.errors import InfeasibleError, NotConvergedError, VerificationError
from formulate.formulation.bottle import Formulation
from formulate.formulation.solving import sized_problem
from formulate.optimise.answer import Answer, Status
from formulate.optimise.mip.covering import Cover, cheapest_cover, has_spare_packs
from formulate.optimise.mip.integer_terms import IntegerTerms
from formulate.optimise.mip.packs import Pack, Thing, cheapest_per_kg, things_of
from formulate.optimise.mip.solve import answer_of, solve_integer
from formulate.optimise.problem import BlendProblem
from formulate.optimise.tolerances import NOTHING_BOUGHT_KG

__all__ = ["CENT", "PackList", "buy_lines", "cheapest_list", "fitted_list", "money_saved"]

FloatArray = NDArray[np.float64]

FITTINGS = 3
OVERFULL = 1e-3
"""A vessel is fuller than asked when its contents are larger by this share."""
CENT = 0.005


@dataclass(frozen=True)
class PackList:
    """Packs for one recipe; `elsewhere` are those that keep minimum orders where `packs` do not."""

    answer: Answer
    terms: IntegerTerms
    packs: FloatArray
    gap: float
    proved: bool
    short: tuple[Shortfall, ...] = ()
    elsewhere: FloatArray | None = None

    @property
    def paid(self) -> float:
        """Money for the packs."""
        prices = [pack.price for pack in self.terms.packs]
        return float(np.array(prices) @ self.packs) if prices else 0.0

    @property
    def net(self) -> float:
        """Money for the packs, less what their rests are worth."""
        terms = self.terms
        rests = 0.0
        for thing in things_of(terms.packs):
            held = sum(
                pack.size_kg * float(count)
                for pack, count in zip(terms.packs, self.packs, strict=True)
                if pack.thing == thing
            )
            rest = max(held - _needs(self.answer, terms).get(thing, 0.0), 0.0)
            rests += rest * cheapest_per_kg(terms.packs, thing)
        return self.paid - terms.leftover_share * rests


def cheapest_list(formulation: Formulation, answer: Answer, terms: IntegerTerms) -> PackList:
    """List the cheapest packs for a recipe that stands."""
    terms = replace(terms, batch_l=answer.volume_l)
    free = cheapest_cover(replace(terms, least_order=()), _needs(answer, terms))
    assert free is not None, "without minimum orders there are always packs enough"
    listed = PackList(answer, terms, free.packs, free.proven_gap, free.proved)
    if not (short := _short(formulation, listed)):
        return listed
    return _keeping_or_short(replace(listed, short=short), cheapest_cover(terms, _needs(answer, terms)))


def _keeping_or_short(listed: PackList, cover: Cover | None) -> PackList:
    """Take the list that keeps the minimum orders, unless filling up the shorter one costs less."""
    if cover is None:
        return listed
    keeping = replace(listed, packs=cover.packs, gap=cover.proven_gap, proved=cover.proved, short=())
    filled = listed.paid + sum(short.filling_up for short in listed.short)
    return keeping if keeping.paid <= filled + CENT else replace(listed, elsewhere=cover.packs)


def fitted_list(formulation: Formulation, by_use: Answer, terms: IntegerTerms, seconds: float) -> PackList:
    """Fit the recipe to the packs within its limits.

    Minimum orders are left aside first: filling one up with what nobody needs is no fitting. Where the list
    then falls short of one, a recipe that keeps it is looked for, and taken if it needs all it buys.
    """
    free = _fitted_to(formulation.problem, by_use, replace(terms, least_order=()), seconds)
    free = replace(free, terms=replace(free.terms, least_order=terms.least_order))
    if not (short := _short(formulation, free)):
        return free
    free = replace(free, short=short)
    try:
        keeping = _fitted_to(formulation.problem, by_use, terms, seconds)
    except (InfeasibleError, NotConvergedError, VerificationError):
        return free
    if has_spare_packs(keeping.terms, _needs(keeping.answer, keeping.terms), keeping.packs):
        return _keeping_or_short(free, cheapest_cover(free.terms, _needs(free.answer, free.terms)))
    filled = free.paid + sum(missed.filling_up for missed in short)
    return keeping if keeping.paid <= filled + CENT else free


def _fitted_to(problem: BlendProblem, by_use: Answer, terms: IntegerTerms, seconds: float) -> PackList:
    """Fit the recipe; a vessel to be filled is not filled further than asked."""
    sized = sized_problem(problem, by_use.volume_l)
    for _ in range(FITTINGS):
        assert sized.volume_l is not None
        terms = replace(terms, batch_l=sized.volume_l)
        whole = solve_integer(sized, terms, seconds=seconds)
        answer = answer_of(sized, whole)
        fullness = _fullness(problem, answer)
        if fullness <= 1.0 + OVERFULL:
            break
        sized = sized_problem(problem, sized.volume_l / fullness)
    return PackList(answer, terms, whole.packs, whole.proven_gap, whole.status is Status.OPTIMAL)


def _fullness(problem: BlendProblem, answer: Answer) -> float:
    """How full the vessel is that gave the size, as a share of what was asked."""
    if problem.fill is None:
        return 0.0
    return contents_l(answer.run, problem.fill.step) / problem.fill.volume_l


def _needs(answer: Answer, terms: IntegerTerms) -> dict[Thing, float]:
    """Return what has to be bought of each thing, beyond what is there."""
    used = answer.masses_kg.sum(axis=0)
    needs = {}
    for thing in things_of(terms.packs):
        amount = float(answer.purchases_kg[thing.number] if thing.is_purchase else used[thing.number])
        needs[thing] = max(amount - terms.stock_of(thing), 0.0)
    return needs


def _short(formulation: Formulation, listed: PackList) -> tuple[Shortfall, ...]:
    used_kg = dict(
        zip(
            (ingredient.id for ingredient in formulation.ingredients),
            listed.answer.masses_kg.sum(axis=0).tolist(),
            strict=True,
        )
    )
    bought = list(zip(listed.terms.packs, listed.packs.tolist(), strict=True))
    return shortfalls(formulation.pantry, listed.terms.least_order, bought, used_kg)


def money_saved(listed: PackList, fitted: PackList) -> float | None:
    """Money that the fitted recipe saves; None where the two lists cannot be held against each other."""
    if len(fitted.short) != len(listed.short):
        return None
    return max(listed.net - fitted.net, 0.0)


def buy_lines(
    formulation: Formulation, listed: PackList, prices: tuple[UnitPrice, ...]
) -> tuple[BuyLine, ...]:
    """Write a list as lines with what each is billed at.

    Parameters
    ----------
    prices : tuple of UnitPrice
        One per pack on sale.

    Returns
    -------
    tuple of BuyLine
        What is paid by supplier, then the rest.
    """
    answer, terms = listed.answer, listed.terms
    bought = _Bought(terms, prices, listed.packs.tolist())
    used = answer.masses_kg.sum(axis=0)
    lines: list[BuyLine] = []
    parts = {part for purchase in answer.problem.purchases for part, _ in purchase.parts}
    for position, ingredient in enumerate(formulation.ingredients):
        if position not in parts:
            lines += _of_thing(Thing(False, position), ingredient.id, float(used[position]), bought)
    for position, purchase in enumerate(answer.problem.purchases):
        amount = float(answer.purchases_kg[position])
        lines += _of_thing(Thing(True, position), purchase.name, amount, bought)
    return tuple(sorted(lines, key=lambda line: (line.cost <= 0.0, line.supplier)))


@dataclass(frozen=True)
class _Bought:
    """Packs with their prices, and how many of each."""

    terms: IntegerTerms
    prices: tuple[UnitPrice, ...]
    counts: list[float]


def _of_thing(thing: Thing, name: str, used_kg: float, packs: _Bought) -> list[BuyLine]:
    """List the packs of one thing, and what it needs no pack for."""
    taken = [
        (pack, price, count)
        for pack, price, count in zip(packs.terms.packs, packs.prices, packs.counts, strict=True)
        if pack.thing == thing and pack.size_kg * count > (NOTHING_BOUGHT_KG if pack.loose else 0.0)
    ]
    stock = packs.terms.stock_of(thing)
    bought = sum(pack.size_kg * count for pack, _, count in taken)
    from_stock = min(stock, used_kg)
    # Without a pack it is on tap.
    has_rest = stock > 0.0 or bought > 0.0
    left = max(stock + bought - used_kg, 0.0) if has_rest and used_kg > NOTHING_BOUGHT_KG else 0.0
    if not taken:
        if used_kg <= NOTHING_BOUGHT_KG:
            return []
        word = "on hand" if from_stock > 0.0 else ""
        line = BuyLine(
            name=name,
            supplier="",
            packs=None,
            pack=word,
            bought_kg=0.0,
            cost=0.0,
            used_kg=used_kg,
            from_stock_kg=from_stock,
            left_kg=left,
        )
        return [line]
    first = _line(*taken[0], name)
    lines = [replace(first, used_kg=used_kg, from_stock_kg=from_stock, left_kg=left)]
    return [*lines, *(_line(pack, price, count, name) for pack, price, count in taken[1:])]


def _line(pack: Pack, price: UnitPrice, count: float, name: str) -> BuyLine:
    billed = price.billed(count)
    return BuyLine(
        name=name,
        supplier=pack.supplier,
        packs=None if pack.loose else round(count),
        pack=pack.name,
        bought_kg=pack.size_kg * count,
        cost=billed.cost,
        used_kg=0.0,
        from_stock_kg=0.0,
        left_kg=0.0,
        without_tax=billed.net,
        tax=billed.tax,
        deposit=billed.deposit,
        each=price,
    )
