"""Other recipes of house bottles, within the limits of their bottle files.

They are found by asking each bottle's own question at other prices: what a plan leaves over as good as free,
what it had to open a pack for dear. Each is verified by the blend model before it is offered.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from time import perf_counter

import numpy as np

from formulate.describe.solved import SolvedBottle
from formulate.errors import InfeasibleError, NotConvergedError, UnboundedError, VerificationError
from formulate.files.bottle import Bottle
from formulate.files.recipe import Recipe
from formulate.formulation.choices import choices_of
from formulate.formulation.solving import recipe_of, sized_problem
from formulate.optimise.answer import Answer
from formulate.optimise.mip.integer_terms import Choices
from formulate.optimise.mip.solve import solve_with_choices
from formulate.optimise.problem import BlendProblem
from formulate.optimise.solve import solve
from formulate.optimise.stock.played import play
from formulate.optimise.stock.question import Making, StockPlan, StockQuestion
from formulate.optimise.watch import is_stopped
from formulate.planning.goods import MenuGoods
from formulate.planning.makings import vessel_gives_l

__all__ = [
    "OtherRecipe",
    "any_recipe",
    "at_prices",
    "first_ways",
    "is_same",
    "other_recipes",
    "recipe_file",
    "spare_ingredients",
    "supplies_of",
    "uses_of",
    "ways_of",
    "with_ways",
]


FREE, DEAR = 1e-3, 20.0
"""Times the usual price: what would be left over, and what is to be saved."""
SECONDS_TO_PROVE, SECONDS_TO_CHOOSE = 0.3, 2.0
"""That no other recipe were cheaper at made-up prices is of no interest."""
LEFT_SHARE = 0.02
"""Less than this of what goes is no rest."""
SAME_KG_PER_L = 1e-5


@dataclass(frozen=True)
class OtherRecipe:
    """A recipe of a house bottle beside its first.

    Attributes
    ----------
    first, other : Answer
        Both meet its limits.
    makings : tuple of int
        Positions among the makings of a question, one for each vessel; empty before it is in one.
    """

    good: int
    bottle: Bottle
    first: Answer
    other: Answer
    makings: tuple[int, ...] = ()


def recipe_file(other: OtherRecipe, number: int) -> Recipe:
    """Write another recipe as a recipe file, for as much as its bottle file asks.

    Parameters
    ----------
    number : int
        Said in its name.
    """
    return recipe_of(other.bottle, other.other, name=f"{other.bottle.name}, recipe {number}")


def spare_ingredients(bottles: Mapping[str, SolvedBottle]) -> tuple[str, ...]:
    """List what the bottles may take."""
    names = [ingredient.id for solved in bottles.values() for ingredient in solved.formulation.ingredients]
    return tuple(dict.fromkeys(names))


def with_ways(goods: MenuGoods, others: Sequence[OtherRecipe]) -> tuple[StockQuestion, list[OtherRecipe]]:
    """Add recipes to the question, each in every vessel of its bottle, and say where they stand in it."""
    makings, placed = list(goods.question.makings), []
    for other in others:
        ways = ways_of(goods, other)
        placed.append(replace(other, makings=tuple(range(len(makings), len(makings) + len(ways)))))
        makings += ways
    return replace(goods.question, makings=tuple(makings)), placed


def ways_of(goods: MenuGoods, other: OtherRecipe) -> list[Making]:
    """Make by another recipe in each vessel, litre for litre: a drink pours a bottle by volume."""
    shelf = goods.pantry.shelf
    assert shelf is not None
    litre_kg = goods.litre_kg(other.good)
    uses = uses_of(goods, other.good, other.other)
    entry = goods.menu.house.get(goods.question.goods[other.good].name)
    vessels = list(shelf.vessels)
    ways = []
    for first in (goods.question.makings[number] for number in first_ways(goods, other.good)):
        making = replace(first, uses=(*uses, *supplies_of(goods, first)), is_second_choice=True)
        if first.batch_kg is not None and first.vessel is not None and entry is not None:
            most_l = vessel_gives_l(
                entry, vessels[first.vessel], shelf, other.other.run, other.other.volume_l
            )
            making = replace(making, batch_kg=max(most_l * litre_kg, first.least_kg))
        ways.append(making)
    return ways


def uses_of(goods: MenuGoods, good: int, answer: Answer) -> tuple[tuple[int, float], ...]:
    """Return what a recipe takes of other goods, kilograms for each kilogram of the first recipe's litres.

    Parameters
    ----------
    good : int
        The bottle.
    """
    order = {good_there.name: number for number, good_there in enumerate(goods.question.goods)}
    used = answer.masses_kg.sum(axis=0) / answer.volume_l / goods.litre_kg(good)
    ids = answer.problem.chain.materials.ids
    return tuple(
        (order[name], float(rate))
        for name, rate in zip(ids, used, strict=True)
        if name in order and rate > 0.0
    )


def first_ways(goods: MenuGoods, good: int) -> list[int]:
    """Return the makings of a bottle by its first recipe, one for each vessel."""
    return [number for number, making in enumerate(goods.question.makings) if making.good == good]


def supplies_of(goods: MenuGoods, first: Making) -> tuple[tuple[int, float], ...]:
    """Return what a making takes of bottles, corks and labels, whatever the recipe."""
    shelf = goods.pantry.shelf
    supplies = {} if shelf is None else shelf.supplies
    return tuple((good, rate) for good, rate in first.uses if goods.question.goods[good].name in supplies)


def other_recipes(
    goods: MenuGoods, plan: StockPlan, bottles: Mapping[str, SolvedBottle], *, until: float
) -> list[OtherRecipe]:
    """Look for recipes that would make a plan cheaper.

    Parameters
    ----------
    plan : StockPlan
        By the first recipes.
    until : float
        On the performance counter; no more is looked for after it.
    """
    order = {good.name: number for number, good in enumerate(goods.question.goods)}
    left = _left_share(goods.question, plan)
    others: list[OtherRecipe] = []
    for name, solved in bottles.items():
        first = solved.answer
        seen = [first]
        problem = sized_problem(first.problem, first.volume_l)
        choices = choices_of(solved.formulation)
        for wish in _wishes(first, left):
            if perf_counter() > until or is_stopped():
                break
            other = at_prices(problem, wish, choices)
            if other is not None and all(_differ(other, earlier) for earlier in seen):
                seen.append(other)
                others.append(OtherRecipe(order[name], solved.formulation.bottle, first, other))
    return others


def _wishes(first: Answer, left: Mapping[str, float]) -> list[dict[int, float]]:
    """List the prices to ask at: what is left over for nothing; each thing in turn dear, or for nothing."""
    problem = first.problem
    ids = problem.chain.materials.ids
    free = [position for position, name in enumerate(ids) if left.get(name, 0.0) > LEFT_SHARE]
    rests = dict.fromkeys(free, FREE)
    paid = np.flatnonzero((first.masses_kg.sum(axis=0) > 0.0) & (problem.price_per_kg > 0.0))
    wishes = [rests] if rests else []
    wishes += [{**rests, int(position): DEAR} for position in paid]
    wishes += [{int(position): FREE} for position in paid]
    return wishes


def _left_share(question: StockQuestion, plan: StockPlan) -> dict[str, float]:
    """Return what a plan leaves of everything beyond its par, as a share of what comes."""
    played = play(question, plan)
    came: dict[str, float] = {}
    for number, pack in enumerate(question.packs):
        if not pack.thing.is_purchase:
            name = question.goods[pack.thing.number].name
            came[name] = came.get(name, 0.0) + pack.size_kg * float(plan.packs[number].sum())
    shares = {}
    for number, good in enumerate(question.goods):
        there = came.get(good.name, 0.0) + good.stock_kg
        rest = float(played.left_kg[number]) - good.end_kg + float(played.spoiled_kg[number].sum())
        shares[good.name] = rest / there if there > 0.0 else 0.0
    return shares


def at_prices(problem: BlendProblem, factors: Mapping[int, float], choices: Choices) -> Answer | None:
    """Ask a bottle's question at other prices, what it chooses to use at all included.

    Parameters
    ----------
    factors : mapping of int to float
        Ingredient, and times its usual price.

    Returns
    -------
    Answer or None
        None where no recipe was found.
    """
    prices = problem.price_per_kg.copy()
    for position, factor in factors.items():
        prices[position] *= factor
    purchases = tuple(
        replace(
            purchase,
            price_per_kg=purchase.price_per_kg * min(factors.get(part, 1.0) for part, _ in purchase.parts),
        )
        for purchase in problem.purchases
    )
    return any_recipe(replace(problem, price_per_kg=prices, purchases=purchases), choices)


def any_recipe(problem: BlendProblem, choices: Choices | None = None) -> Answer | None:
    """Solve a question of which the proof is of no interest; None where no recipe was found."""
    try:
        if choices:
            return solve_with_choices(problem, choices, seconds=SECONDS_TO_CHOOSE)
        return solve(problem, seconds=SECONDS_TO_PROVE)
    except (InfeasibleError, UnboundedError, NotConvergedError, VerificationError):
        return None


def is_same(recipe: OtherRecipe, other: OtherRecipe) -> bool:
    """Whether two are one recipe of one bottle."""
    return recipe.good == other.good and not _differ(recipe.other, other.other)


def _differ(answer: Answer, other: Answer) -> bool:
    moved = answer.masses_kg / answer.volume_l - other.masses_kg / other.volume_l
    return bool(np.abs(moved).max() > SAME_KG_PER_L)
