"""What must come in whole numbers: weighing steps, packs, whether a thing is used at all.

The terms are added to a linear program as further columns and rows; they are linear
themselves, so nothing here knows volumes or cakes. Everything stays counted per litre
bottled; a batch of known size turns packs and grams into whole numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.assembly import Assembly
from formulate.optimise.linear import LinearModel, RowBuilder

__all__ = ["Choices", "Pack", "Weighing", "WholeModel", "WholeTerms", "with_whole_numbers"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]

MOST_KG_PER_L = 3.0
"""No ingredient can be more than this per litre bottled: a limit for what is used or not."""


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack somebody sells.

    Attributes
    ----------
    ingredient : int
        Position among the ingredients.
    size_kg, price : float
    supplier : str
        Empty when nobody is named.
    name : str
        As the shelf describes it.
    """

    ingredient: int
    size_kg: float
    price: float
    supplier: str
    name: str


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


@dataclass(frozen=True)
class WholeTerms:
    """All that must come in whole numbers.

    Attributes
    ----------
    batch_l : float
        Litres bottled.
    weighing : Weighing or None
    choices : Choices
    packs : tuple of Pack
        When not empty, ingredients with a pack are paid for by the pack.
    stock_kg : ndarray, shape (n,)
        What is on the shelf already and costs nothing more.
    least_order : tuple of (str, float)
        Supplier, and the least money an order must come to.
    leftover_share : float
        What an unused rest of a bought pack is still worth, 0 to 1 of its price.
    fixed_columns : ndarray of int
        Unknown masses that must stay at zero.
    """

    batch_l: float
    weighing: Weighing | None = None
    choices: Choices = field(default_factory=Choices)
    packs: tuple[Pack, ...] = ()
    stock_kg: FloatArray = field(default_factory=lambda: np.zeros(0))
    least_order: tuple[tuple[str, float], ...] = ()
    leftover_share: float = 0.0
    fixed_columns: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int32))


@dataclass(frozen=True)
class WholeModel:
    """A linear program with the whole numbers added.

    Attributes
    ----------
    model : LinearModel
    pack_columns : ndarray of int
        Column that counts each pack.
    """

    model: LinearModel
    pack_columns: IntArray


class _Adder:
    """Adds the terms to one program; used once."""

    def __init__(self, model: LinearModel, assembly: Assembly, terms: WholeTerms) -> None:
        self.problem = assembly.problem
        self.terms = terms
        self.per_batch = 1.0 / terms.batch_l
        self.rows = RowBuilder()
        self.cost: list[float] = []
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.first = assembly.model.columns
        self.mass_cost = model.cost.copy()

    def add(self) -> IntArray:
        """Add everything and return the columns that count packs."""
        self._weigh()
        self._choose()
        return self._buy()

    def _count(self, most: float, cost: float = 0.0, lower: float = 0.0) -> int:
        self.cost.append(cost)
        self.lower.append(lower)
        self.upper.append(most)
        return self.first + len(self.cost) - 1

    def _uses(self, ingredient: int) -> list[int]:
        return np.flatnonzero(self.problem.place_ingredient == ingredient).tolist()

    def _weigh(self) -> None:
        weighing = self.terms.weighing
        if weighing is None:
            return
        for column, step, near in zip(weighing.columns, weighing.step_kg, weighing.near, strict=True):
            steps = self._count(near + weighing.reach, lower=max(near - weighing.reach, 0.0))
            self.rows.add([int(column), steps], np.array([1.0, -step * self.per_batch]), 0.0, 0.0)

    def _choose(self) -> None:
        choices = self.terms.choices
        least = dict(choices.least_if_used)
        named = {ingredient for group in choices.one_of for ingredient in group} | set(least)
        everything = range(len(self.problem.price_per_kg)) if choices.most_ingredients is not None else named
        flags: dict[int, int] = {}
        for ingredient in sorted(everything):
            uses = self._uses(ingredient)
            flags[ingredient] = self._count(1.0)
            ones = np.ones(len(uses))
            self.rows.add([*uses, flags[ingredient]], np.append(ones, -MOST_KG_PER_L), -np.inf, 0.0)
            # "Used" means enough of it to weigh; an empty flag would meet one_of by name only.
            floor = least.get(ingredient, LEAST_USED_KG_PER_L if ingredient in named else 0.0)
            if floor > 0.0:
                self.rows.add([*uses, flags[ingredient]], np.append(ones, -floor), 0.0, np.inf)
        for group in choices.one_of:
            columns = [flags[ingredient] for ingredient in group]
            self.rows.add(columns, np.ones(len(columns)), 1.0, 1.0)
        if choices.most_ingredients is not None:
            columns = list(flags.values())
            self.rows.add(columns, np.ones(len(columns)), -np.inf, float(choices.most_ingredients))

    def _buy(self) -> IntArray:
        terms = self.terms
        counts = []
        for pack in terms.packs:
            most = np.ceil(MOST_KG_PER_L * terms.batch_l / pack.size_kg)
            kept = terms.leftover_share * pack.price * self.per_batch
            counts.append(self._count(float(most), pack.price * self.per_batch - kept))
        for ingredient in sorted({pack.ingredient for pack in terms.packs}):
            uses = self._uses(ingredient)
            own = [number for number, pack in enumerate(terms.packs) if pack.ingredient == ingredient]
            sizes = np.array([terms.packs[number].size_kg for number in own]) * self.per_batch
            stock = float(terms.stock_kg[ingredient]) if len(terms.stock_kg) else 0.0
            self.rows.add(
                [*uses, *(counts[number] for number in own)],
                np.concatenate([np.ones(len(uses)), -sizes]),
                -np.inf,
                stock * self.per_batch,
            )
            # A rest is worth its share of the cheapest price per kilogram; what is used is not.
            cheapest = min(terms.packs[number].price / terms.packs[number].size_kg for number in own)
            self.mass_cost[uses] = terms.leftover_share * cheapest
        for supplier, least in terms.least_order:
            own = [number for number, pack in enumerate(terms.packs) if pack.supplier == supplier]
            if not own:
                continue
            ordered = self._count(1.0)
            prices = np.array([terms.packs[number].price for number in own])
            columns = [*(counts[number] for number in own), ordered]
            self.rows.add(columns, np.append(prices, -least), 0.0, np.inf)
            for number in own:
                self.rows.add(
                    [counts[number], ordered],
                    np.array([1.0, -self.upper[counts[number] - self.first]]),
                    -np.inf,
                    0.0,
                )
        return np.array(counts, dtype=np.int32)


LEAST_USED_KG_PER_L = 1e-5
"""A hundredth of a gram per litre: less of a thing is not using it."""


def with_whole_numbers(model: LinearModel, assembly: Assembly, terms: WholeTerms) -> WholeModel:
    """Add the terms to a program as it stands.

    Parameters
    ----------
    model : LinearModel
        A snapshot of the live program, linearised or relaxed.
    assembly : Assembly
        What its columns mean.
    terms : WholeTerms

    Returns
    -------
    WholeModel
    """
    adder = _Adder(model, assembly, terms)
    packs = adder.add()
    added = adder.rows.assemble(np.zeros(0), np.zeros(0), np.zeros(0))
    column_upper = model.column_upper.copy()
    column_upper[terms.fixed_columns] = 0.0
    joined = replace(
        model,
        cost=np.concatenate([adder.mass_cost, adder.cost]),
        column_lower=np.concatenate([model.column_lower, adder.lower]),
        column_upper=np.concatenate([column_upper, adder.upper]),
        row_lower=np.concatenate([model.row_lower, added.row_lower]),
        row_upper=np.concatenate([model.row_upper, added.row_upper]),
        starts=np.concatenate([model.starts, model.starts[-1] + added.starts[1:]]).astype(np.int32),
        indices=np.concatenate([model.indices, added.indices]),
        values=np.concatenate([model.values, added.values]),
        whole=np.concatenate([model.whole, np.ones(len(adder.cost), dtype=bool)]),
    )
    return WholeModel(joined, packs)
