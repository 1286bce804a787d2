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

from formulate.errors import InfeasibleError
from formulate.optimise.answer import Answer
from formulate.optimise.packs import Pack
from formulate.optimise.problem import BlendProblem, Limit, Origin, Over
from formulate.optimise.search import solve

__all__ = [
    "cheapest_choice",
    "cheapest_list",
    "holding",
    "keeping",
    "least_of",
    "most_of",
    "priced",
    "solved",
    "without",
]


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
    problem: BlendProblem, packs: Sequence[Pack], most: Sequence[int]
) -> tuple[float, tuple[int, ...]]:
    """Go through lists from the cheapest up until one makes a recipe.

    Parameters
    ----------
    problem : BlendProblem
        Where whatever has no pack is free.
    packs : sequence of Pack
    most : sequence of int
        How many of each pack to try.

    Returns
    -------
    cost, counts : float, tuple of int
    """
    start = (0,) * len(packs)
    heap, seen, failed = [(0.0, start)], {start}, []
    while heap:
        cost, counts = heapq.heappop(heap)
        held = _held(packs, counts)
        # Where more did not suffice, less does not either.
        if not any(all(held[thing] <= other[thing] for thing in held) for other in failed):
            if solved(holding(problem, packs, counts)) is not None:
                return cost, counts
            failed.append(held)
        for number, pack in enumerate(packs):
            more = (*counts[:number], counts[number] + 1, *counts[number + 1 :])
            if counts[number] < most[number] and more not in seen:
                seen.add(more)
                heapq.heappush(heap, (cost + pack.price, more))
    raise AssertionError("no list of packs makes a recipe")


def _held(packs: Sequence[Pack], counts: Sequence[int]) -> dict[int, float]:
    held: dict[int, float] = {}
    for pack, count in zip(packs, counts, strict=True):
        held[pack.thing.number] = held.get(pack.thing.number, 0.0) + pack.size_kg * count
    return held


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
    for count, chosen in (
        (count, chosen) for count in range(1, n + 1) for chosen in combinations(range(n), count)
    ):
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
