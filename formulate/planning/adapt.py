"""A menu whose house bottles adapt to what is bought.

What lies between recipes of a bottle is, but for a hair, a recipe of it too, so the program mixes every
period's batches of them as saves most (`optimise.stock.mixed`). Each mixture it takes is then solved within
the limits of the bottle file, by the exact blend model, out of no more than the plan has for it. The first
recipes stay among them, so that no plan is dearer than the one with fixed recipes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from time import perf_counter

import numpy as np

from formulate.describe.solved import SolvedBottle
from formulate.formulation.choices import choices_of
from formulate.optimise.stock.mixed import MixedQuestion, mixed
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.stock.question import StockPlan, StockQuestion
from formulate.optimise.watch import is_stopped, tell
from formulate.planning.goods import MenuGoods
from formulate.planning.mixtures import Blendable, blendable, mixture
from formulate.planning.other_recipes import OtherRecipe, is_same, other_recipes, with_ways

__all__ = ["adapted_plan", "seconds_for_fixed"]

SHARE_FOR_FIXED, SHARE_FOR_RECIPES, SHARE_FOR_MIXTURES = 0.15, 0.25, 0.05
"""Of the time: for the plan with fixed recipes, to find others, and to plan with mixtures as they are."""
SECONDS_FOR_FIXED = 5.0
"""As long at the least, where that is not more than half: without a plan there is nothing to adapt."""
CENT = 0.005


def seconds_for_fixed(seconds: float) -> float:
    """Return how much of the time goes to the plan with fixed recipes.

    Parameters
    ----------
    seconds : float
        In all.
    """
    return max(SHARE_FOR_FIXED * seconds, min(SECONDS_FOR_FIXED, 0.5 * seconds))


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
    seconds, gap : float
        As for `plan_stock`.

    Returns
    -------
    MenuGoods, StockPlan, tuple of OtherRecipe
        The question as it was, the fixed plan and nothing, where nothing is saved. The gap is to any mixture
        of the recipes that were found.
    """
    began = perf_counter()
    others = other_recipes(goods, fixed, bottles, until=began + SHARE_FOR_RECIPES * seconds)
    if not others or is_stopped():
        return goods, fixed, ()
    alone: list[OtherRecipe] = []
    bottled: list[Blendable] = []
    for good in dict.fromkeys(other.good for other in others):
        own = [other for other in others if other.good == good]
        # A choice, such as "at least so much if any", may hold for two recipes and for nothing between them.
        has_choices = bool(choices_of(bottles[goods.question.goods[good].name].formulation))
        mixable = None if has_choices else blendable(goods, own)
        alone += own if mixable is None else []
        bottled += [] if mixable is None else [mixable]
    question, alone = with_ways(goods, alone)
    mixing = mixed(question, [mixable.mix for mixable in bottled])
    left = seconds * (1.0 - SHARE_FOR_MIXTURES) - (perf_counter() - began)
    tell("mixing recipes")
    loose = plan_stock(mixing.question, seconds=max(left, 1.0), gap=gap, start=mixing.start(fixed))
    if is_stopped():
        return goods, fixed, ()
    question, others, start = _with_mixtures(goods, mixing, loose, bottled, alone)
    plan = plan_stock(question, seconds=max(SHARE_FOR_MIXTURES * seconds, 1.0), gap=gap, start=start)
    if plan.net_cost > fixed.net_cost - CENT or plan.short_kg.sum() > fixed.short_kg.sum():
        return goods, fixed, ()
    proven = max(1.0 - loose.net_cost * (1.0 - loose.proven_gap) / plan.net_cost, 0.0)
    plan = replace(plan, proven_gap=proven, proved=loose.proved and proven <= gap)
    return replace(goods, question=question), plan, tuple(others)


def _with_mixtures(
    goods: MenuGoods,
    mixing: MixedQuestion,
    loose: StockPlan,
    bottled: Sequence[Blendable],
    alone: Sequence[OtherRecipe],
) -> tuple[StockQuestion, list[OtherRecipe], StockPlan]:
    """Solve what a plan mixed, and say the plan with these recipes.

    Parameters
    ----------
    loose : StockPlan
        Of it.
    bottled : sequence of Blendable
        One for each mix.
    alone : sequence of OtherRecipe
        Recipes that are not mixed; they stand in the plain question of `mixing`.
    """
    recipes, by_period = list(alone), dict[tuple[int, int], int | None]()
    for mix, (bottle, periods) in enumerate(zip(bottled, mixing.shares(loose), strict=True)):
        others = bottle.others
        for period, shares in periods.items():
            answer = mixture(others, shares, bottle.room)
            if answer is None:
                continue
            if answer is others[0].first:
                by_period[mix, period] = None
                continue
            blended = replace(others[0], other=answer)
            known = [place for place, old in enumerate(recipes) if is_same(old, blended)]
            by_period[mix, period] = known[0] if known else len(recipes)
            recipes += [] if known else [blended]
    question, placed = with_ways(goods, recipes)
    made, batches = (np.zeros((len(question.makings), question.periods)) for _ in range(2))
    mixed_ways = {number for ways in mixing.ways for number in ways}
    for number in range(len(mixing.plain.makings)):
        if number not in mixed_ways:
            made[number], batches[number] = loose.made_kg[number], loose.batches[number]
    for mix, ways in enumerate(mixing.ways):
        for vessel, number in enumerate(ways):
            for ready, begun in mixing.question.makings[number].begun(question.periods).items():
                if (mix, begun) not in by_period:
                    continue
                place = by_period[mix, begun]
                target = mixing.mixes[mix].ways[vessel][0] if place is None else placed[place].makings[vessel]
                made[target, ready] += loose.made_kg[number, ready]
                batches[target, ready] += loose.batches[number, ready]
    return question, placed, replace(loose, made_kg=made, batches=batches)
