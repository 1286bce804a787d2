"""House bottles that adapt to what is bought: other recipes within the limits of their bottle files.

Other recipes are found by asking each bottle's own question at other prices: what a plan leaves over as
good as free, what it had to open a pack for dear. Each is verified by the blend model before it is
offered. The program then makes every batch by the recipe that saves most; the first recipes stay
among them, so that no plan is dearer than the one with fixed recipes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formulate.errors import InfeasibleError, NotConvergedError, UnboundedError, VerificationError
from formulate.jobs.buy import sized_problem
from formulate.jobs.planning.goods import MenuGoods
from formulate.jobs.planning.makings import vessel_gives_l
from formulate.jobs.question.choices import choices_of
from formulate.jobs.solve import SolvedBottle, solve_bottle
from formulate.jobs.told.telling import LEAST_SHOWN_KG_L
from formulate.optimise.answer import Answer
from formulate.optimise.integers import solve_chosen
from formulate.optimise.problem import BlendProblem
from formulate.optimise.search import solve
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.stock.question import Making, StockPlan, StockQuestion, play
from formulate.optimise.whole import Choices
from formulate.quantity import Amount, AmountBasis
from formulate.spec.bottle import Bottle
from formulate.spec.located import load_document
from formulate.spec.recipe import Recipe, RecipeLine

__all__ = ["OtherRecipe", "adapted_plan", "at_prices", "recipe_file", "solved_bottles", "spare_ingredients"]

FloatArray = NDArray[np.float64]

FREE, DEAR = 1e-3, 20.0
"""Times the usual price: what would be left over, and what is to be saved."""
ROUNDS = 2
SECONDS_TO_PROVE, SECONDS_TO_CHOOSE = 0.3, 2.0
"""That no other recipe were cheaper at made-up prices is of no interest."""
LEFT_SHARE = 0.02
"""Less than this of what goes is no rest."""
SAME_KG_PER_L = 1e-5
SHARE_OF_TIME = 0.5
CENT = 0.005


@dataclass(frozen=True)
class OtherRecipe:
    """A recipe of a house bottle beside its first.

    Attributes
    ----------
    makings : tuple of int
        Positions among the makings of the question, one for each vessel.
    good : int
    bottle : Bottle
    first, other : Answer
        Both meet its limits.
    """

    makings: tuple[int, ...]
    good: int
    bottle: Bottle
    first: Answer
    other: Answer


def recipe_file(one: OtherRecipe, number: int) -> Recipe:
    """Write another recipe as a recipe file, for as much as its bottle file asks.

    Parameters
    ----------
    one : OtherRecipe
    number : int
        Said in its name.
    """
    from formulate import __version__

    chain, bottle = one.other.problem.chain, one.bottle
    lines = tuple(
        RecipeLine(id=name, amount=Amount(float(mass), AmountBasis.MASS), step=step.name)
        for step, masses in zip(chain.steps, one.other.masses_kg, strict=True)
        for name, mass in zip(chain.materials.ids, masses, strict=True)
        if mass > LEAST_SHOWN_KG_L * one.other.volume_l
    )
    return Recipe(
        name=f"{bottle.name}, recipe {number}",
        volume_l=one.other.volume_l,
        steps=bottle.resolved_steps(),
        ingredients=lines,
        measured=bottle.measured,
        made_by=f"formulate {__version__}",
    )


def solved_bottles(house: Mapping[str, Path]) -> dict[str, SolvedBottle]:
    """Solve the house bottles that are bottle files; a recipe file has no limits to move within.

    Parameters
    ----------
    house : mapping of str to Path
    """
    return {name: solve_bottle(path) for name, path in house.items() if "targets" in load_document(path).data}


def spare_ingredients(bottles: Mapping[str, SolvedBottle]) -> tuple[str, ...]:
    """List what the bottles may take.

    Parameters
    ----------
    bottles : mapping of str to SolvedBottle
    """
    names = [one.id for solved in bottles.values() for one in solved.formulation.ingredients]
    return tuple(dict.fromkeys(names))


def adapted_plan(
    goods: MenuGoods, fixed: StockPlan, bottles: Mapping[str, SolvedBottle], *, seconds: float, gap: float
) -> tuple[MenuGoods, StockPlan, tuple[OtherRecipe, ...]]:
    """Look for other recipes that make the plan cheaper.

    Parameters
    ----------
    goods : MenuGoods
        With the spare ingredients.
    fixed : StockPlan
        Of the same question.
    bottles : mapping of str to SolvedBottle
    seconds, gap : float
        As for `plan_stock`.

    Returns
    -------
    MenuGoods, StockPlan, tuple of OtherRecipe
        The question as it was, the fixed plan and nothing, where nothing is saved.
    """
    question, plan = goods.question, fixed
    best: tuple[MenuGoods, StockPlan, tuple[OtherRecipe, ...]] = (goods, fixed, ())
    others: list[OtherRecipe] = []
    for _ in range(ROUNDS):
        found = _other_recipes(goods, question, plan, bottles, others)
        if not found:
            break
        others += found
        question = replace(goods.question, makings=_makings(goods, others))
        plan = plan_stock(question, seconds=seconds * SHARE_OF_TIME, gap=gap, start=best[1])
        if plan.net_cost < best[1].net_cost - CENT and plan.short_kg.sum() <= fixed.short_kg.sum():
            best = (replace(goods, question=question), plan, tuple(others))
    return best


def _makings(goods: MenuGoods, others: Sequence[OtherRecipe]) -> tuple[Making, ...]:
    return (*goods.question.makings, *(making for one in others for making in _ways(goods, one)))


def _ways(goods: MenuGoods, one: OtherRecipe) -> list[Making]:
    """Make by another recipe in each vessel, litre for litre: a drink pours a bottle by volume."""
    shelf = goods.pantry.shelf
    assert shelf is not None
    order = {good.name: number for number, good in enumerate(goods.question.goods)}
    density = goods.ingredients[one.good].density_kg_m3
    assert density is not None
    litre_kg = density / 1000.0
    ids = one.other.problem.chain.materials.ids
    used = one.other.masses_kg.sum(axis=0) / one.other.volume_l / litre_kg
    uses = tuple(
        (order[name], float(rate))
        for name, rate in zip(ids, used, strict=True)
        if name in order and rate > 0.0
    )
    entry = goods.menu.house.get(goods.question.goods[one.good].name)
    vessels = list(shelf.vessels)
    found = []
    for first in (goods.question.makings[number] for number in _first_ways(goods, one.good)):
        supplies = tuple((good, rate) for good, rate in first.uses if _is_supply(goods, good))
        making = replace(first, uses=(*uses, *supplies), is_second_choice=True)
        if first.batch_kg is not None and first.vessel is not None and entry is not None:
            most_l = vessel_gives_l(entry, vessels[first.vessel], shelf, one.other.run, one.other.volume_l)
            making = replace(making, batch_kg=max(most_l * litre_kg, first.least_kg))
        found.append(making)
    return found


def _first_ways(goods: MenuGoods, good: int) -> list[int]:
    return [number for number, making in enumerate(goods.question.makings) if making.good == good]


def _is_supply(goods: MenuGoods, good: int) -> bool:
    shelf = goods.pantry.shelf
    return shelf is not None and goods.question.goods[good].name in shelf.supplies


def _other_recipes(
    goods: MenuGoods,
    question: StockQuestion,
    plan: StockPlan,
    bottles: Mapping[str, SolvedBottle],
    known: Sequence[OtherRecipe],
) -> list[OtherRecipe]:
    order = {good.name: number for number, good in enumerate(goods.question.goods)}
    left = _left_share(question, plan)
    number = len(goods.question.makings) + sum(len(one.makings) for one in known)
    found: list[OtherRecipe] = []
    for name, solved in bottles.items():
        good = order[name]
        first = solved.answer
        seen = [first, *(one.other for one in known if one.good == good)]
        problem = sized_problem(first.problem, first.volume_l)
        choices = choices_of(solved.formulation)
        ids = problem.chain.materials.ids
        free = {position for position, one in enumerate(ids) if left.get(one, 0.0) > LEFT_SHARE}
        wishes: list[dict[int, float]] = [dict.fromkeys(free, FREE)] if free else []
        paid = (first.masses_kg.sum(axis=0) > 0.0) & (problem.price_per_kg > 0.0)
        wishes += [{**dict.fromkeys(free, FREE), int(position): DEAR} for position in np.flatnonzero(paid)]
        for wish in wishes:
            other = at_prices(problem, wish, choices)
            if other is not None and all(_differ(other, one) for one in seen):
                seen.append(other)
                ways = len(_first_ways(goods, good))
                makings = tuple(range(number, number + ways))
                number += ways
                found.append(OtherRecipe(makings, good, solved.formulation.bottle, first, other))
    return found


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
    problem : BlendProblem
    factors : mapping of int to float
        Ingredient, and times its usual price.
    choices : Choices

    Returns
    -------
    Answer or None
        None where no recipe was found.
    """
    prices = problem.price_per_kg.copy()
    for position, factor in factors.items():
        prices[position] *= factor
    purchases = tuple(
        replace(one, price_per_kg=one.price_per_kg * min(factors.get(part, 1.0) for part, _ in one.parts))
        for one in problem.purchases
    )
    repriced = replace(problem, price_per_kg=prices, purchases=purchases)
    try:
        if choices:
            return solve_chosen(repriced, choices, seconds=SECONDS_TO_CHOOSE)
        return solve(repriced, seconds=SECONDS_TO_PROVE)
    except (InfeasibleError, UnboundedError, NotConvergedError, VerificationError):
        return None


def _differ(one: Answer, other: Answer) -> bool:
    moved = one.masses_kg / one.volume_l - other.masses_kg / other.volume_l
    return bool(np.abs(moved).max() > SAME_KG_PER_L)
