"""House bottles mixed of several recipes: what a plan mixed, solved as recipes of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from formulate.formulation.solving import sized_problem
from formulate.optimise.answer import Answer
from formulate.optimise.problem import Limit, Origin, Over
from formulate.optimise.stock.mixed import Mix
from formulate.planning.goods import MenuGoods
from formulate.planning.other_recipes import (
    OtherRecipe,
    any_recipe,
    first_ways,
    supplies_of,
    uses_of,
    ways_of,
)

__all__ = ["Blendable", "blendable", "mixture"]

FloatArray = NDArray[np.float64]

ROOMS = (1e-4, 3e-4, 1e-3, 3e-3)
"""Shares by which another recipe may count heavier in a mixture: mixing moves volume and losses a little."""
NOTHING = 1e-6
ORIGIN = Origin("mixture", "what the plan has for it")


@dataclass(frozen=True)
class Blendable:
    """A bottle whose recipes may be mixed.

    Attributes
    ----------
    others : tuple of OtherRecipe
        Beside the first.
    room : float
        Share by which each of them counts heavier.
    mix : Mix
        For the program.
    """

    others: tuple[OtherRecipe, ...]
    room: float
    mix: Mix


def blendable(goods: MenuGoods, others: Sequence[OtherRecipe]) -> Blendable | None:
    """Say how a bottle may be mixed of its first recipe and others.

    Parameters
    ----------
    others : sequence of OtherRecipe
        Of one bottle.

    Returns
    -------
    Blendable or None
        None where what lies between the recipes is none of the bottle's, with any room that is worth it.
    """
    room = next((room for room in ROOMS if _can_be_mixed(others, room)), None)
    if room is None:
        return None
    numbers = first_ways(goods, others[0].good)
    supplies = supplies_of(goods, goods.question.makings[numbers[0]])
    first = tuple(use for use in goods.question.makings[numbers[0]].uses if use not in supplies)
    uses = [uses_of(goods, other.good, other.other) for other in others]
    heavier = [tuple((good, rate * (1.0 + room)) for good, rate in of_recipe) for of_recipe in uses]
    each = [
        [goods.question.makings[number] for number in numbers],
        *(ways_of(goods, other) for other in others),
    ]
    ways = []
    for number, same_vessel in zip(numbers, zip(*each, strict=True), strict=True):
        # Whatever the mixture, it fits where each of its recipes does.
        sizes = [making.batch_kg for making in same_vessel if making.batch_kg is not None]
        way = replace(same_vessel[0], uses=supplies)
        ways.append((number, replace(way, batch_kg=min(sizes)) if sizes else way))
    return Blendable(tuple(others), room, Mix((first, *heavier), tuple(ways)))


def _can_be_mixed(others: Sequence[OtherRecipe], room: float) -> bool:
    """Try the mixture of all in equal shares, and half and half of the two that differ most."""
    answers = (others[0].first, *(other.other for other in others))
    recipes = [answer.masses_kg / answer.volume_l for answer in answers]
    pairs = list(combinations(range(len(recipes)), 2))
    apart = max(pairs, key=lambda pair: float(np.abs(recipes[pair[0]] - recipes[pair[1]]).sum()))
    halves = np.zeros(len(recipes))
    halves[list(apart)] = 0.5
    equal = np.full(len(recipes), 1.0 / len(recipes))
    return all(mixture(others, shares, room) is not None for shares in (halves, equal))


def mixture(others: Sequence[OtherRecipe], shares: FloatArray, room: float) -> Answer | None:
    """Find a recipe within the limits that takes no more of anything than a mixture does.

    Parameters
    ----------
    others : sequence of OtherRecipe
        Of one bottle.
    shares : ndarray, shape (1 + recipes,)
        Of the first recipe and of each other one, by litres.
    room : float
        Share by which the others count heavier.

    Returns
    -------
    Answer or None
        One of the recipes as it is where it is alone; None where there is none.
    """
    answers = [others[0].first, *(other.other for other in others)]
    alone = int(np.argmax(shares))
    if shares[alone] > 1.0 - NOTHING:
        return answers[alone]
    most = np.zeros(len(others[0].first.problem.price_per_kg))
    for share, answer in zip(shares, answers, strict=True):
        heavier = 1.0 if answer is answers[0] else 1.0 + room
        most += share * heavier * answer.masses_kg.sum(axis=0) / answer.volume_l
    problem = sized_problem(others[0].first.problem, others[0].first.volume_l)
    limits = [
        Limit(Over.MASSES, np.array([position]), np.ones(1), -np.inf, float(kg_l), ORIGIN, firm=True)
        for position, kg_l in enumerate(most)
    ]
    return any_recipe(problem.asking([*problem.limits, *limits]))
