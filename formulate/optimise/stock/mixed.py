"""Batches that are mixed of several recipes: a question of buying and making that may choose the shares.

What lies between recipes of one bottle is, but for a hair, a recipe of it too. So a batch needs no recipe of
its own: whatever is poured together for it, period by period, is a good that no period keeps, made by
recipes in
any shares, and every batch is filled from it. The program is free to hit the packs that are bought, and has
no more whole numbers than one with a single recipe.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.stock.question import Good, Making, StockPlan, StockQuestion

__all__ = ["Mix", "MixedQuestion", "mixed"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Mix:
    """How a bottle may be mixed.

    Attributes
    ----------
    recipes : tuple of tuple of (int, float)
        The first one, then the others: goods, and kilograms of each for one kilogram made, of each recipe.
    ways : tuple of (int, Making)
        A making of the question that is one recipe in a vessel, and what a mixed batch is there: its
        `uses` are what it takes beside the recipe.
    """

    recipes: tuple[tuple[tuple[int, float], ...], ...]
    ways: tuple[tuple[int, Making], ...]


@dataclass(frozen=True)
class MixedQuestion:
    """A question with mixed batches beside its own.

    Attributes
    ----------
    question : StockQuestion
        The goods and makings of the plain one stand first; a making of which a mixed batch is as large is
        that batch now.
    ways, recipes : tuple of tuple of int
        For each mix the makings that are its batches, and those that are its recipes.
    """

    question: StockQuestion
    plain: StockQuestion
    mixes: tuple[Mix, ...]
    ways: tuple[tuple[int, ...], ...]
    recipes: tuple[tuple[int, ...], ...]

    def start(self, plan: StockPlan) -> StockPlan:
        """Return a plan of the plain question as one of this, in mixed batches wherever they hold as much."""
        question, periods = self.question, self.question.periods
        made, batches = (np.zeros((len(question.makings), periods)) for _ in range(2))
        own = len(self.plain.makings)
        made[:own], batches[:own] = plan.made_kg[:own], plan.batches[:own]
        for mix, ways in zip(self.mixes, self.ways, strict=True):
            for (first, way), number in zip(mix.ways, ways, strict=True):
                if number != first and way.batch_kg is not None:
                    fits = made[first] <= batches[first] * way.batch_kg
                    made[number], batches[number] = fits * made[first], fits * batches[first]
                    made[first], batches[first] = ~fits * made[first], ~fits * batches[first]
        short = np.zeros((len(question.goods), periods))
        return replace(plan, made_kg=made, batches=batches, short_kg=short)

    def shares(self, plan: StockPlan) -> list[dict[int, FloatArray]]:
        """Return, for each mix, when batches of it are begun and the shares of its recipes."""
        shares = []
        for numbers in self.recipes:
            made = plan.made_kg[list(numbers)]
            used = np.flatnonzero(made.sum(axis=0) > 0.0)
            shares.append({int(period): made[:, period] / made[:, period].sum() for period in used})
        return shares


def mixed(question: StockQuestion, mixes: Sequence[Mix]) -> MixedQuestion:
    """Let batches be mixed."""
    goods, makings = list(question.goods), list(question.makings)
    all_ways, recipes = [], []
    for mix in mixes:
        poured = len(goods)
        bottle = question.makings[mix.ways[0][0]].good
        goods.append(Good(f"{goods[bottle].name}, mixed", (0.0,) * question.periods, keeps=0.0))
        ways = []
        for first, way in mix.ways:
            batch = replace(way, uses=((poured, 1.0), *way.uses))
            if _as_large(batch, question.makings[first]):
                makings[first] = batch
                ways.append(first)
            else:
                makings.append(replace(batch, is_second_choice=True))
                ways.append(len(makings) - 1)
        all_ways.append(tuple(ways))
        recipes.append(tuple(range(len(makings), len(makings) + len(mix.recipes))))
        makings += [
            Making(poured, uses, is_second_choice=order > 0) for order, uses in enumerate(mix.recipes)
        ]
    whole = replace(question, goods=tuple(goods), makings=tuple(makings))
    return MixedQuestion(whole, question, tuple(mixes), tuple(all_ways), tuple(recipes))


def _as_large(batch: Making, first: Making) -> bool:
    """Whether a mixed batch may be as large as one of the first recipe alone, which it then stands for."""
    if batch.batch_kg is None or first.batch_kg is None:
        return batch.batch_kg is None
    return batch.batch_kg >= first.batch_kg and batch.least_kg <= first.least_kg
