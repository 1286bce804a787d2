"""Every list of packs in turn: a plain count to hold the search in whole numbers against.

Nothing of `optimise.whole`, `packs`, `need` or `settled` is used but the record of a pack. For each list
the continuous problem is solved with what the packs hold as limits on the masses.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations, product

import numpy as np

from formulate.errors import InfeasibleError, RangeError
from formulate.optimise.answer import Answer
from formulate.optimise.diagnose import is_possible
from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.problem import BlendProblem, Limit, Origin, Over
from formulate.optimise.solve import solve
from tests.optimise.shelves import random_shelf, shelf_rng

__all__ = [
    "BATCH_L",
    "CLOSE",
    "WATER",
    "at_most_kg",
    "cheapest_choice",
    "cheapest_list",
    "every_count",
    "holding",
    "keeping",
    "least_kg",
    "least_of",
    "most_of",
    "packs_for",
    "priced",
    "shelf",
    "solved",
    "three_packs_each",
    "without",
]


BATCH_L = 5.0
WATER = 1
CLOSE = 1e-6
"""What the tidying of a recipe and the solver's own slips may cost, relative."""


def most_of(ingredient: int, kg_per_l: float) -> Limit:
    """At most so much of an ingredient."""
    return _of(ingredient, -np.inf, kg_per_l)


def least_of(ingredient: int, kg_per_l: float) -> Limit:
    """At least so much of an ingredient."""
    return _of(ingredient, kg_per_l, np.inf)


def _of(ingredient: int, lower: float, upper: float) -> Limit:
    index = np.array([ingredient], dtype=np.int32)
    return Limit(Over.MASSES, index, np.ones(1), lower, upper, Origin("by hand", ""))


def solved(problem: BlendProblem) -> Answer | None:
    """Solve the continuous problem; None when it is proved that there is no recipe."""
    try:
        return solve(problem)
    except InfeasibleError:
        return None


def without(problem: BlendProblem, ingredients: Iterable[int]) -> BlendProblem:
    """The same problem where some ingredients may not be used."""
    kept = ~np.isin(problem.place_ingredient, list(ingredients))
    return replace(
        problem,
        place_ingredient=problem.place_ingredient[kept],
        place_step=problem.place_step[kept],
    )


def priced(problem: BlendProblem, prices: dict[int, float]) -> BlendProblem:
    """The same problem with some prices changed."""
    changed = problem.price_per_kg.copy()
    changed[list(prices)] = list(prices.values())
    return replace(problem, price_per_kg=changed)


def holding(
    problem: BlendProblem, packs: Sequence[Pack], counts: Sequence[int], stock_kg: Sequence[float] = ()
) -> BlendProblem:
    """The same problem with no more of each thing with packs than these hold and the stock."""
    assert problem.volume_l is not None
    held: dict[int, float] = {}
    for pack, count in zip(packs, counts, strict=True):
        there = float(stock_kg[pack.thing.number]) if len(stock_kg) else 0.0
        held.setdefault(pack.thing.number, there)
        held[pack.thing.number] += pack.size_kg * count
    caps = [most_of(number, kg / problem.volume_l) for number, kg in held.items()]
    return problem.asking([*problem.limits, *caps])


def cheapest_list(
    problem: BlendProblem, packs: Sequence[Pack], most_kg: float
) -> tuple[float, dict[int, float]]:
    """Go through lists from the cheapest up until one makes a recipe.

    Of each thing only lists are looked at that no other beats in both cost and content, and that hold at
    least what every recipe uses of it.

    Parameters
    ----------
    problem : BlendProblem
        Where whatever has no pack is free.
    packs : sequence of Pack
    most_kg : float
        No thing is bought beyond the first list that holds this much.

    Returns
    -------
    cost : float
    held : dict
        Kilograms bought of each thing.
    """
    assert problem.volume_l is not None
    things = sorted({pack.thing.number for pack in packs})
    menus = [
        [
            option
            for option in _menu(
                [pack for pack in packs if pack.thing.number == thing],
                min(most_kg, at_most_kg(problem, thing)),
            )
            if option[1] >= least_kg(problem, thing) * (1.0 - 1e-6)
        ]
        for thing in things
    ]
    start = (0,) * len(things)
    heap = [(sum(menu[0][0] for menu in menus), start)]
    seen: set[tuple[int, ...]] = {start}
    failed: list[list[float]] = []
    while heap:
        cost, picks = heapq.heappop(heap)
        held = [menu[pick][1] for menu, pick in zip(menus, picks, strict=True)]
        # Where more did not suffice, less does not either.
        if not any(all(a <= b for a, b in zip(held, other, strict=True)) for other in failed):
            caps = [most_of(thing, kg / problem.volume_l) for thing, kg in zip(things, held, strict=True)]
            if is_possible(problem.asking([*problem.limits, *caps])):
                return cost, dict(zip(things, held, strict=True))
            failed.append(held)
        for number, menu in enumerate(menus):
            more = (*picks[:number], picks[number] + 1, *picks[number + 1 :])
            if more[number] < len(menu) and more not in seen:
                seen.add(more)
                heapq.heappush(heap, (cost + menu[more[number]][0] - menu[picks[number]][0], more))
    raise AssertionError("no list of packs makes a recipe")


def _menu(packs: Sequence[Pack], most_kg: float) -> list[tuple[float, float]]:
    """Cost and content of every list of one thing that none beats, dearest last."""
    counts = every_count([int(np.ceil(most_kg / pack.size_kg)) for pack in packs])
    lists = sorted(
        (
            sum(pack.price * count for pack, count in zip(packs, some, strict=True)),
            -sum(pack.size_kg * count for pack, count in zip(packs, some, strict=True)),
        )
        for some in counts
    )
    menu: list[tuple[float, float]] = []
    for cost, less in lists:
        if not menu or (-less > menu[-1][1] and menu[-1][1] < most_kg):
            menu.append((cost, -less))
    return menu


def at_most_kg(problem: BlendProblem, ingredient: int) -> float:
    """More than any recipe uses of an ingredient: twice what a target allows, for what a cake may keep."""
    assert problem.volume_l is not None
    most = np.inf
    for limit in problem.limits:
        content = problem.chain.materials.content[ingredient]
        if limit.over is Over.BOTTLE and np.isfinite(limit.upper):
            share = float(limit.weights @ content[limit.indices])
            most = min(most, 2.0 * limit.upper * problem.volume_l / share) if share > 0.0 else most
    return most


def least_kg(problem: BlendProblem, ingredient: int) -> float:
    """What every recipe uses at least of an ingredient: the cheapest where nothing else costs."""
    prices = dict.fromkeys(range(len(problem.price_per_kg)), 0.0)
    try:
        answer = solve(priced(problem, prices | {ingredient: 1.0}))
    except RangeError:  # where all the rest is free a syrup may come out that nobody has measured
        return 0.0
    return answer.cost * (1.0 - min(answer.proven_gap, 1.0))


def keeping(problem: BlendProblem, used: Iterable[int], least: dict[int, float], n: int) -> BlendProblem:
    """The same problem with only these ingredients, and at least so much of some of them."""
    used = set(used)
    floors = [least_of(number, kg) for number, kg in least.items() if number in used]
    fewer = without(problem, set(range(n)) - used)
    return fewer.asking([*fewer.limits, *floors])


def cheapest_choice(
    problem: BlendProblem,
    *,
    most: int | None = None,
    least: dict[int, float] | None = None,
    one_of: Sequence[Sequence[int]] = (),
) -> Answer | None:
    """Solve for every set of ingredients that keeps the choices; return the cheapest."""
    n = len(problem.price_per_kg)
    floors = dict.fromkeys((number for group in one_of for number in group), 1e-5) | (least or {})
    best = None
    for count, chosen in ((many, few) for many in range(1, n + 1) for few in combinations(range(n), many)):
        if most is not None and count > most:
            continue
        if any(len(set(group) & set(chosen)) != 1 for group in one_of):
            continue
        answer = solved(keeping(problem, chosen, floors, n))
        if answer is not None and (best is None or answer.cost_per_l < best.cost_per_l):
            best = answer
    return best


def every_count(most: Sequence[int]) -> Iterable[tuple[int, ...]]:
    """Every way to take up to so many of each pack."""
    return product(*(range(number + 1) for number in most))


def shelf(seed: int, n: int, kind: str = "narrow", *, lossy: bool = False, steps: int = 1) -> BlendProblem:
    return random_shelf(shelf_rng(seed), n, kind, lossy=lossy, steps=steps)


def packs_for(
    problem: BlendProblem, rng: np.random.Generator, sizes: tuple[float, ...] = (0.7, 2.0)
) -> tuple[Pack, ...]:
    """Two packs of everything but water, sized for what a batch may need, the larger cheaper by weight."""
    answer = solve(problem)
    used = answer.masses_kg.sum(axis=0)
    packs = []
    for number, price in enumerate(problem.price_per_kg):
        if number == WATER:
            continue
        about = (float(used[number]) or 2.0) * float(rng.uniform(0.6, 1.4))
        for size, rate in zip(sizes, (1.15, 1.0, 0.9), strict=False):
            kg = about * size
            packs.append(Pack(Thing(False, number), kg, float(price) * kg * rate, "", f"{kg:.2f} kg"))
    return tuple(packs)


def three_packs_each(problem: BlendProblem) -> tuple[Pack, ...]:
    """A small dear pack, a kilogram, and a large cheap one of everything."""
    return tuple(
        Pack(Thing(False, number), kg, float(price) * kg * rate)
        for number, price in enumerate(problem.price_per_kg)
        for kg, rate in ((0.25, 1.15), (1.0, 1.0), (5.0, 0.9))
    )
