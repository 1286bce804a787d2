"""Fixed-integer refinement: a recipe whose whole numbers are decided is an ordinary question again.

With the packs in the cupboard, what each ingredient may use is bounded and what was paid is
gone. The masses still free are settled by the continuous loop, as closely as any other
recipe: first so that what is sold loose costs least, then so that the least is used up. That
also makes the recipe beside a list of packs unique, where the list alone leaves it open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.assembly import assemble
from formulate.optimise.layout import Assembly
from formulate.optimise.mip.integer_terms import IntegerTerms
from formulate.optimise.mip.packs import Thing, cheapest_per_kg, net_prices, things_of
from formulate.optimise.point import Point, evaluate
from formulate.optimise.problem import BlendProblem, Purchase
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import run_slp, run_trust_region
from formulate.optimise.tolerances import ACCEPTED, PACK_SLACK, TIDY, USED_KG_PER_L

__all__ = ["IntegerRecipe", "greedy_packs", "refine_fixed"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class IntegerRecipe:
    """A recipe with its packs.

    Attributes
    ----------
    point : Point
        Per litre bottled. Its `cost` is what is minimised: what is paid, less what rests are worth.
    packs : ndarray, shape (packs,)
        How many of each; any number of what is sold loose.
    paid : float
        Money for the whole batch.
    """

    point: Point
    packs: FloatArray
    paid: float


def greedy_packs(terms: IntegerTerms, assembly: Assembly, point: Point) -> FloatArray | None:
    """Find packs that hold what a recipe uses, each thing's own the cheapest way that is easy to find.

    Returns
    -------
    ndarray or None
        How many of each pack; None where choices or minimum orders have a say too.
    """
    if terms.choices or terms.least_order:
        return None
    used = assembly.problem.masses(point.columns).sum(axis=0)
    packs = np.zeros(len(terms.packs))
    for thing in things_of(terms.packs):
        amount = float(point.purchases[thing.number] if thing.is_purchase else used[thing.number])
        amount = amount * terms.batch_l - terms.stock_of(thing)
        own = terms.packs_of(thing)
        # The best rate first for as much as whole packs of it hold, then the one pack that ends it cheapest.
        for number in sorted(own, key=lambda n: terms.packs[n].price / terms.packs[n].size_kg):
            pack = terms.packs[number]
            if amount <= PACK_SLACK * pack.size_kg:
                break
            count = amount / pack.size_kg if pack.loose else np.floor(amount / pack.size_kg + PACK_SLACK)
            packs[number] += count
            amount -= count * pack.size_kg
        if amount > 0.0:
            ends = [n for n in own if terms.packs[n].size_kg >= amount * (1.0 - PACK_SLACK)]
            if ends:
                packs[min(ends, key=lambda n: terms.packs[n].price)] += 1.0
    return packs


def refine_fixed(
    assembly: Assembly, terms: IntegerTerms, start: Point, packs: FloatArray
) -> IntegerRecipe | None:
    """Settle the masses of a recipe whose whole numbers are fixed.

    Parameters
    ----------
    start : Point
        Near the recipe.
    packs : ndarray, shape (packs,)

    Returns
    -------
    IntegerRecipe or None
        None when these packs make no recipe, as far as the loop can tell.
    """
    fixed = _FixedIntegers(assembly, terms, start, packs)
    program = BlendProgram(assemble(fixed.question))
    cost = program.assembly.cost
    at = fixed.at_start(program.assembly)
    best = run_slp(program, at).point
    if best is None or best.violation > ACCEPTED:
        # Packs that only just suffice leave no room: find the way in first, whatever it costs.
        if at.violation > ACCEPTED:
            program.set_cost(np.zeros_like(cost))
            at = run_trust_region(program, at).point or at
            program.set_cost(cost)
        if at.violation > ACCEPTED:
            return None
        best = run_trust_region(program, at).point
        if best is None or best.violation > ACCEPTED:
            best = at
    return fixed.recipe(best)


class _FixedIntegers:
    """The question that is left over, and the way back from its answer; used once."""

    def __init__(self, assembly: Assembly, terms: IntegerTerms, start: Point, packs: FloatArray) -> None:
        self.assembly = assembly
        self.problem = assembly.problem
        self.terms = terms
        self.start = start
        self.packs = packs
        ordered = {supplier for supplier, _ in terms.least_order}
        # What is ordered loose to reach a minimum is ordered; the rest of it may still change.
        self.is_open = [pack.loose and pack.supplier not in ordered for pack in terms.packs]
        self.sources: list[tuple[Thing, int | None]] = []
        self.places = self._open_places()
        self.question = self._question()

    def at_start(self, assembly: Assembly) -> Point:
        """Evaluate the start as a recipe of the question that is left."""
        columns = self.start.columns[self.places]
        used = self.question.masses(columns).sum(axis=0)
        open_kg = {
            number: float(self.packs[number] * pack.size_kg) / self.terms.batch_l
            for number, pack in enumerate(self.terms.packs)
            if self.is_open[number]
        }
        bought = []
        for purchase, (thing, pack) in zip(self.question.purchases, self.sources, strict=True):
            amount = float(self.start.purchases[thing.number]) if thing.is_purchase else used[thing.number]
            bought.append(open_kg[pack] if pack is not None else min(amount, purchase.most_kg_per_l))
        return evaluate(assembly, columns, self.start.batches, np.array(bought))

    def recipe(self, point: Point) -> IntegerRecipe:
        """Read the packs and the cost of a recipe off the answer of the question that is left."""
        problem, terms = self.problem, self.terms
        columns = np.zeros(problem.unknowns)
        columns[self.places] = point.columns
        bought = np.zeros(len(problem.purchases))
        packs = np.where(self.is_open, 0.0, self.packs) if len(self.packs) else self.packs
        for amount, (thing, pack) in zip(point.purchases, self.sources, strict=True):
            if thing.is_purchase:
                bought[thing.number] += amount
            if pack is not None:
                packs[pack] = amount * terms.batch_l / terms.packs[pack].size_kg
        recipe = evaluate(self.assembly, columns, point.batches, bought)
        used = problem.masses(columns).sum(axis=0)
        packs = self._trimmed(packs, used, bought)
        things = things_of(terms.packs)
        by_pack = np.array([Thing(False, n) in things for n in range(len(used))], dtype=bool)
        bought_by_pack = np.array([Thing(True, n) in things for n in range(len(bought))], dtype=bool)
        counted = used[by_pack] @ problem.price_per_kg[by_pack]
        counted += bought[bought_by_pack] @ problem.purchase_prices[bought_by_pack]
        base = recipe.cost - (float(counted) if problem.money_counts else 0.0)
        nets = net_prices(terms.packs, terms.leftover_share)
        minimised = base + float(nets @ packs if len(packs) else 0.0) / terms.batch_l
        for thing in things:
            amount = bought[thing.number] if thing.is_purchase else used[thing.number]
            minimised += terms.leftover_share * cheapest_per_kg(terms.packs, thing) * float(amount)
        prices = np.array([pack.price for pack in terms.packs])
        paid = base * terms.batch_l + float(prices @ packs if len(packs) else 0.0)
        return IntegerRecipe(replace(recipe, cost=minimised), packs, paid)

    def _trimmed(self, packs: FloatArray, used: FloatArray, bought: FloatArray) -> FloatArray:
        """Put back packs that turn out not to be needed, the dearest first."""
        terms = self.terms
        ordered = {supplier for supplier, _ in terms.least_order}
        packs = packs.copy()
        for thing in things_of(terms.packs):
            amount = float(bought[thing.number] if thing.is_purchase else used[thing.number]) * terms.batch_l
            own = terms.packs_of(thing)
            spare = terms.stock_of(thing) + sum(terms.packs[n].size_kg * packs[n] for n in own)
            spare -= amount * (1.0 - PACK_SLACK)
            for number in sorted(own, key=lambda n: (-terms.packs[n].price, -n)):
                pack = terms.packs[number]
                if pack.loose or pack.supplier in ordered:
                    continue
                back = min(np.floor(spare / pack.size_kg), packs[number])
                if back > 0.0:
                    packs[number] -= back
                    spare -= back * pack.size_kg
        return packs

    def _open_places(self) -> NDArray[np.intp]:
        """Places of what is there or can still be had, and was chosen."""
        problem, terms = self.problem, self.terms
        is_left = np.ones(problem.unknowns, dtype=bool)
        used = self._used()
        for ingredient in range(len(problem.price_per_kg)):
            own = terms.packs_of(Thing(False, ingredient))
            there = terms.stock_of(Thing(False, ingredient)) > 0.0 if own else True
            there = there or any(self.packs[number] > 0.0 or self.is_open[number] for number in own)
            chosen = used[ingredient] or not terms.choices.concern(ingredient)
            if not (there and chosen):
                is_left &= problem.place_ingredient != ingredient
        return np.flatnonzero(is_left)

    def _used(self) -> NDArray[np.bool_]:
        used: NDArray[np.bool_] = self.problem.masses(self.start.columns).sum(axis=0) > USED_KG_PER_L
        return used

    def _question(self) -> BlendProblem:
        problem, terms = self.problem, self.terms
        prices = problem.price_per_kg.copy()
        purchases: list[Purchase] = []
        things = things_of(terms.packs)
        for number, purchase in enumerate(problem.purchases):
            if Thing(True, number) not in things:
                purchases.append(purchase)
                self.sources.append((Thing(True, number), None))
        tidy = TIDY if any(self.is_open) or purchases else 1.0
        for thing in things:
            if thing.is_purchase:
                name, parts = problem.purchases[thing.number].name, problem.purchases[thing.number].parts
                value = problem.purchases[thing.number].price_per_kg
            else:
                name, parts = "", ((thing.number, 1.0),)
                value = float(prices[thing.number])
                prices[thing.number] = 0.0
            rest = terms.leftover_share * cheapest_per_kg(terms.packs, thing)
            own = terms.packs_of(thing)
            there = terms.stock_of(thing)
            there += sum(terms.packs[n].size_kg * float(self.packs[n]) for n in own if not self.is_open[n])
            if there > 0.0:
                most = there / terms.batch_l
                purchases.append(Purchase(name, rest + tidy * value, parts, most))
                self.sources.append((thing, None))
            for n in own:
                if self.is_open[n]:
                    pack = terms.packs[n]
                    purchases.append(Purchase(name, pack.price / pack.size_kg + tidy * value, parts))
                    self.sources.append((thing, n))
        return replace(
            problem,
            price_per_kg=prices,
            place_ingredient=problem.place_ingredient[self.places],
            place_step=problem.place_step[self.places],
            limits=(*problem.limits, *terms.choices.minimum_dose_limits(self._used())),
            purchases=tuple(purchases),
        )
