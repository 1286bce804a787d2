"""What must come in whole numbers: weighing steps, packs, whether a thing is used at all.

The terms are added to a linear program as further columns and rows; they are linear
themselves, so nothing here knows volumes or cakes. Everything stays counted per litre
bottled; a batch of known size turns packs and grams into whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.layout import Assembly
from formulate.optimise.linear import LinearModel, RowBuilder
from formulate.optimise.mip.orders import add_minimum_order
from formulate.optimise.mip.packs import Pack, Thing, cheapest_per_kg, net_prices, pack_limits, things_of
from formulate.optimise.problem import Limit, Origin, Over
from formulate.optimise.tolerances import LEAST_USED_KG_PER_L

__all__ = [
    "MOST_KG_PER_L",
    "Choices",
    "IntegerProgram",
    "IntegerTerms",
    "Weighing",
    "columns_of",
    "with_integers",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]

MOST_KG_PER_L = 3.0
"""No ingredient can be more than this per litre bottled, unless a closer bound is known."""

MOST_BOUGHT_KG_PER_L = 300.0
"""The same of a whole thing, of which a hundredth may be the part that is used."""


@dataclass(frozen=True)
class Weighing:
    """Masses that a balance can show.

    Attributes
    ----------
    columns : ndarray of int
        Unknown masses that are weighed.
    step_kg : ndarray
        Smallest step of the balance that carries each.
    near : ndarray
        Number of steps in the continuous recipe.
    reach : int
        How many steps either way a mass may move.
    """

    columns: IntArray
    step_kg: FloatArray
    near: FloatArray
    reach: int


@dataclass(frozen=True)
class Choices:
    """Whether things are used at all.

    Attributes
    ----------
    most_ingredients : int or None
        At most so many ingredients.
    least_if_used : tuple of (int, float)
        Ingredient, and the kg per litre bottled below which it is not worth using.
    one_of : tuple of tuple of int
        Groups of which exactly one is used.
    """

    most_ingredients: int | None = None
    least_if_used: tuple[tuple[int, float], ...] = ()
    one_of: tuple[tuple[int, ...], ...] = ()

    def __bool__(self) -> bool:
        return self.most_ingredients is not None or bool(self.least_if_used) or bool(self.one_of)

    @property
    def minimum_doses(self) -> dict[int, float]:
        """What counts as using each ingredient that is named, kg per litre bottled."""
        # "Used" means enough of it to weigh; less would meet one_of by name only.
        doses = {ingredient: LEAST_USED_KG_PER_L for group in self.one_of for ingredient in group}
        return doses | dict(self.least_if_used)

    def concern(self, ingredient: int) -> bool:
        """Whether anything is said about an ingredient."""
        return self.most_ingredients is not None or ingredient in self.minimum_doses

    def things(self, n: int) -> tuple[Thing, ...]:
        """Those of n ingredients that anything is said about."""
        return tuple(Thing(False, number) for number in range(n) if self.concern(number))

    def minimum_dose_limits(self, used: NDArray[np.bool_]) -> tuple[Limit, ...]:
        """Return the minimum doses of the ingredients that are used, as limits of an ordinary question.

        Parameters
        ----------
        used : ndarray of bool, shape (n,)
        """
        return tuple(
            Limit(
                Over.MASSES,
                np.array([ingredient], dtype=np.int32),
                np.ones(1),
                least,
                np.inf,
                Origin("least if used", ""),
                display=np.nan,
            )
            for ingredient, least in self.minimum_doses.items()
            if used[ingredient]
        )


@dataclass(frozen=True)
class IntegerTerms:
    """All that must come in whole numbers.

    Attributes
    ----------
    batch_l : float
        Litres bottled; only packs and weighing steps need it.
    packs : tuple of Pack
        What is sold. A thing with a pack is paid for by the pack; the rest by use.
    stock_kg : ndarray, shape (n,)
        Ingredients with a pack: what is on the shelf already and costs nothing more. May be empty.
    stock_bought_kg : ndarray, shape (purchases,)
        The same of purchases.
    least_order : tuple of (str, float)
        Supplier, and the least money an order must come to.
    leftover_share : float
        What an unused rest of a bought pack is still worth, 0 to 1 of the cheapest price of as much.
    most : dict of (Thing, float)
        Where known, the most of a thing that any recipe worth having uses, kg per litre bottled.
    fixed_columns : ndarray of int
        Unknown masses that must stay at zero.
    """

    batch_l: float
    weighing: Weighing | None = None
    choices: Choices = field(default_factory=Choices)
    packs: tuple[Pack, ...] = ()
    stock_kg: FloatArray = field(default_factory=lambda: np.zeros(0))
    stock_bought_kg: FloatArray = field(default_factory=lambda: np.zeros(0))
    least_order: tuple[tuple[str, float], ...] = ()
    leftover_share: float = 0.0
    most: dict[Thing, float] = field(default_factory=dict)
    fixed_columns: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int32))

    def packs_of(self, thing: Thing) -> list[int]:
        """Positions of the packs a thing is sold in."""
        return [number for number, pack in enumerate(self.packs) if pack.thing == thing]

    def stock_of(self, thing: Thing) -> float:
        """Kilograms of a thing on the shelf."""
        stock = self.stock_bought_kg if thing.is_purchase else self.stock_kg
        return float(stock[thing.number]) if len(stock) else 0.0

    def need_kg(self, thing: Thing) -> float:
        """Most that could have to be bought of a thing for the batch."""
        return max(self.most_kg_per_l(thing) * self.batch_l - self.stock_of(thing), 0.0)

    def most_kg_per_l(self, thing: Thing) -> float:
        """Most of a thing that any recipe worth having uses."""
        return self.most.get(thing, MOST_BOUGHT_KG_PER_L if thing.is_purchase else MOST_KG_PER_L)

    def limits(self) -> FloatArray:
        """Most of each pack that could be worth buying."""
        needs = {thing: self.need_kg(thing) for thing in things_of(self.packs)}
        return pack_limits(self.packs, needs, self.leftover_share, self.least_order)


@dataclass(frozen=True)
class IntegerProgram:
    """A linear program with the whole numbers added.

    Attributes
    ----------
    pack_columns : ndarray of int
        Column that counts each pack.
    """

    model: LinearModel
    pack_columns: IntArray


def with_integers(model: LinearModel, assembly: Assembly, terms: IntegerTerms) -> IntegerProgram:
    """Add the terms to a program as it stands.

    Parameters
    ----------
    model : LinearModel
        A snapshot of the live program, linearised or relaxed.
    assembly : Assembly
        What its columns mean.
    """
    adder = _Adder(model, assembly, terms)
    packs = adder.add()
    column_upper = model.column_upper.copy()
    column_upper[terms.fixed_columns] = 0.0
    for thing, most in terms.most.items():
        columns = columns_of(assembly, thing)
        column_upper[columns] = np.minimum(column_upper[columns], most)
    joined = replace(
        model.with_rows(adder.rows),
        cost=np.concatenate([adder.mass_cost, adder.cost]),
        column_lower=np.concatenate([model.column_lower, adder.lower]),
        column_upper=np.concatenate([column_upper, adder.upper]),
        integer=np.concatenate([model.integer, np.array(adder.integer, dtype=bool)]),
    )
    return IntegerProgram(joined, packs)


def columns_of(assembly: Assembly, thing: Thing) -> IntArray:
    """Return the columns whose sum is how much of a thing is used."""
    if thing.is_purchase:
        return assembly.purchases[[thing.number]]
    return np.flatnonzero(assembly.problem.place_ingredient == thing.number).astype(np.int32)


class _Adder:
    """Adds the terms to one program; used once."""

    def __init__(self, model: LinearModel, assembly: Assembly, terms: IntegerTerms) -> None:
        self.assembly = assembly
        self.problem = assembly.problem
        self.terms = terms
        self.per_batch = 1.0 / terms.batch_l
        self.rows = RowBuilder()
        self.cost: list[float] = []
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.integer: list[bool] = []
        self.first = assembly.model.columns
        self.mass_cost = model.cost.copy()

    def add(self) -> IntArray:
        """Add everything and return the columns that count packs."""
        self._weigh()
        self._choose()
        counts = self._buy()
        self._keep_least_orders(counts)
        return counts

    def _count(self, most: float, cost: float = 0.0, lower: float = 0.0, *, integer: bool = True) -> int:
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(most)
        self.integer.append(integer)
        return self.first + len(self.cost) - 1

    def _weigh(self) -> None:
        weighing = self.terms.weighing
        if weighing is None:
            return
        for column, step, near in zip(weighing.columns, weighing.step_kg, weighing.near, strict=True):
            steps = self._count(near + weighing.reach, lower=max(near - weighing.reach, 0.0))
            self.rows.add([int(column), steps], np.array([1.0, -step * self.per_batch]), 0.0, 0.0)

    def _choose(self) -> None:
        choices = self.terms.choices
        doses = choices.minimum_doses
        flags: dict[int, int] = {}
        for ingredient in filter(choices.concern, range(len(self.problem.price_per_kg))):
            thing = Thing(False, ingredient)
            uses = columns_of(self.assembly, thing)
            flags[ingredient] = self._count(1.0)
            ones, columns = np.ones(len(uses)), [*uses, flags[ingredient]]
            self.rows.add(columns, np.append(ones, -self.terms.most_kg_per_l(thing)), -np.inf, 0.0)
            if ingredient in doses:
                self.rows.add(columns, np.append(ones, -doses[ingredient]), 0.0, np.inf)
        for group in choices.one_of:
            columns = [flags[ingredient] for ingredient in group]
            self.rows.add(columns, np.ones(len(columns)), 1.0, 1.0)
        if choices.most_ingredients is not None:
            columns = list(flags.values())
            self.rows.add(columns, np.ones(len(columns)), -np.inf, float(choices.most_ingredients))

    def _buy(self) -> IntArray:
        terms = self.terms
        nets = net_prices(terms.packs, terms.leftover_share) * self.per_batch
        counts = [
            self._count(float(most), float(net), integer=not pack.loose)
            for pack, net, most in zip(terms.packs, nets, terms.limits(), strict=True)
        ]
        for thing in things_of(terms.packs):
            used = columns_of(self.assembly, thing)
            own = terms.packs_of(thing)
            need = terms.need_kg(thing)
            # A sack holds no more than what could ever be needed: a closer row for the same choice.
            held = [
                terms.packs[number].size_kg
                if terms.packs[number].loose
                else min(terms.packs[number].size_kg, need)
                for number in own
            ]
            self.rows.add(
                [*used, *(counts[number] for number in own)],
                np.concatenate([np.ones(len(used)), -np.array(held) * self.per_batch]),
                -np.inf,
                terms.stock_of(thing) * self.per_batch,
            )
            # A rest is worth its share of the cheapest price per kilogram; what is used is not.
            self.mass_cost[used] = terms.leftover_share * cheapest_per_kg(terms.packs, thing)
        return np.array(counts, dtype=np.int32)

    def _keep_least_orders(self, counts: IntArray) -> None:
        packs = self.terms.packs
        for supplier, least in self.terms.least_order:
            own = [number for number, pack in enumerate(packs) if pack.supplier == supplier]
            if own:
                prices = [packs[number].counted for number in own]
                most = [self.upper[column - self.first] for column in counts[own]]
                add_minimum_order(self.rows, counts[own].tolist(), prices, most, self._count(1.0), least)
