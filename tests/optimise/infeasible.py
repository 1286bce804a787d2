"""Random questions without a recipe, from a seed. Not a test.

Each is a random shelf with more asked for than it can give: less money than the cheapest recipe costs,
more strength than the strongest liquid has, more bitterness or sugar than a cap on what brings it
allows, or two ingredients that take up more of the litre than there is.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from formulate.errors import InfeasibleError
from formulate.optimise.problem import BlendProblem, Limit, Origin, Over
from formulate.optimise.solve import solve

from .shelves import (
    BITTER,
    ETHANOL,
    SUGAR_INDICES,
    bitterness_limit,
    mass_limit,
    random_shelf,
    shelf_rng,
    strength_limit,
    sugar_limit,
)

TROUBLES = ("too dear", "too strong", "too sweet", "too bitter", "too full")
KINDS = ("narrow", "wide", "no sugar", "ingredient limits", "cordial")


def cost_limit(most: float) -> Limit:
    """A cap on the cost of a litre."""
    nothing = np.zeros(0)
    return Limit(
        Over.COST, nothing.astype(np.int32), nothing, -np.inf, most, Origin("cost", "at most"), "EUR/L",
        is_target=True,
    )  # fmt: skip


def infeasible_shelf(seed: int, n: int | None = None, *, steps: int = 1) -> BlendProblem:
    """Draw a question without a recipe: the same for ever for a seed.

    Parameters
    ----------
    seed : int
        Also picks the trouble, in turn.
    n : int, optional
        Ingredients; drawn if not given.
    steps : int
    """
    rng = shelf_rng(90_000 + seed)
    trouble = TROUBLES[seed % len(TROUBLES)]
    kind = "narrow" if trouble == "too bitter" else str(rng.choice(KINDS))
    count = int(rng.integers(8, 20)) if n is None else n
    # A cake could soak up what is too much for a litre.
    lossy = trouble != "too full" and bool(rng.random() < 0.5)
    problem = random_shelf(rng, count, kind, lossy=lossy, steps=steps)
    return _troubled(problem, trouble, rng)


def _troubled(problem: BlendProblem, trouble: str, rng: np.random.Generator) -> BlendProblem:
    limits = list(problem.limits)
    content = problem.chain.materials.content
    if trouble == "too dear":
        try:
            cheapest = solve(problem).cost_per_l
        except InfeasibleError:
            return problem
        return problem.asking([*limits, cost_limit(float(rng.uniform(0.6, 0.95)) * cheapest)])
    limits = [limit for limit in limits if limit.origin.name != _TARGET_OF.get(trouble)]
    if trouble == "too strong":
        # No liquid mixes to more ethanol per litre than 100 * p / 0.789 % vol at its strongest.
        strongest = 100.0 * float(content[:, ETHANOL].max()) / 0.78924
        return problem.asking([*limits, strength_limit(strongest + 0.5, strongest + 3.0)])
    sweet = np.flatnonzero(content[:, SUGAR_INDICES].sum(axis=1) > 0.0)
    if trouble == "too sweet":
        cap = float(rng.uniform(0.05, 0.2))
        limits = [limit for limit in limits if limit.over is Over.BOTTLE]
        limits.append(mass_limit("sweet things", sweet.tolist(), np.ones(len(sweet)).tolist(), -np.inf, cap))
        return problem.asking([*limits, sugar_limit(1000.0 * cap + 5.0, 1000.0 * cap + 40.0)])
    if trouble == "too bitter":
        bitter = np.flatnonzero(content[:, BITTER] > 0.0)
        if len(bitter):
            most = float(rng.uniform(0.001, 0.01))
            limits.append(mass_limit("bitter things", bitter.tolist(), [1.0] * len(bitter), -np.inf, most))
            value = 1000.0 * most * float(content[:, BITTER].max())
            return problem.asking([*limits, bitterness_limit(1.2 * value, 2.0 * value)])
        return problem
    # No room for both: 0.75 / 0.998 + 0.45 * 0.62 litres are more than one.
    held = [("water at least", 1, 0.75), ("sugar at least", 2, 0.45)]
    limits = [limit for limit in limits if limit.origin.name != "sugar"]
    return problem.asking(
        [*limits, *(mass_limit(name, [i], [1.0], least, np.inf) for name, i, least in held)]
    )


_TARGET_OF = {"too strong": "strength", "too sweet": "sugar", "too bitter": "bitterness"}


def random_prices(problem: BlendProblem, rng: np.random.Generator) -> BlendProblem:
    """Return the same question at other prices: its cheapest recipe is a random one."""
    return replace(problem, price_per_kg=rng.uniform(0.1, 10.0, len(problem.price_per_kg)))
