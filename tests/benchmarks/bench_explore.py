"""Time what is asked about a question rather than of it: a trade-off curve, and why there is no recipe.

Run from the top of the repository::

    python -m tests.benchmarks.bench_explore [--seeds 25] [--curve 40] [--clash 60] [--points 50]

It prints and asserts nothing: the figures depend on the machine. Shown are seconds of processor time (other
work on the machine does not count), for shelves of `tests.optimise.shelves` and `tests.optimise.infeasible`:

curve
    The first target moved by a quarter of its size to either side, then from nothing to twice its size, in so
    many points, against cost, for a shelf without and with cakes that keep liquor: laying out, every solve,
    and a proof where there is no recipe. "empty" counts the values without one.
clash
    Why a question without a recipe has none: the smallest clash, what each member would have to become, and
    what each target could be on its own. One step.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from itertools import product
from statistics import median

import numpy as np

from formulate.errors import InfeasibleError, NotConvergedError
from formulate.optimise.diagnose import explain
from formulate.optimise.problem import BlendProblem
from formulate.optimise.solve import solve
from formulate.optimise.sweep import SweepStatus, sweep
from tests.optimise.infeasible import infeasible_shelf
from tests.optimise.shelves import KINDS, random_shelf, shelf_rng

AROUND = (0.25, 1.0)


def curve(problem: BlendProblem, points: int, around: float) -> tuple[float, int, int]:
    """Processor seconds for a curve, values without a recipe, values not settled."""
    number = next(index for index, limit in enumerate(problem.limits) if limit.is_target)
    limit = problem.limits[number]
    low, high = np.isfinite(limit.lower), np.isfinite(limit.upper)
    values = np.linspace((1.0 - around) * limit.scale, (1.0 + around) * limit.scale, points)
    bounds = [(value if low else -np.inf, value if high else np.inf) for value in values.tolist()]
    start = time.process_time()
    found = sweep(problem, number, bounds)
    seconds = time.process_time() - start
    return (
        seconds,
        sum(one.status is SweepStatus.NONE for one in found),
        sum(one.status is SweepStatus.UNSETTLED for one in found),
    )


def clash(problem: BlendProblem) -> tuple[float, int, bool]:
    """Processor seconds for an explanation, the size of the clash, and whether it is shown irreducible."""
    start = time.process_time()
    told = explain(problem)
    return time.process_time() - start, len(told.clash), told.irreducible


def _summary(name: str, seconds: Sequence[float]) -> None:
    print(f"{name}: median {median(seconds):.2f} s, longest {max(seconds):.2f} s of {len(seconds)}")


def curves(seeds: int, ingredients: int, points: int) -> None:
    seconds = []
    print("seed  kind               cakes  around       s  empty  not settled")
    for seed, lossy, around in product(range(seeds), (False, True), AROUND):
        kind = KINDS[seed % len(KINDS)]
        problem = random_shelf(shelf_rng(seed), ingredients, kind, lossy=lossy)
        took, empty, unsettled = curve(problem, points, around)
        seconds.append(took)
        print(f"{seed:4d}  {kind:17}  {lossy!s:5}  {around:6g}  {took:6.2f}  {empty:5d}  {unsettled:5d}")
    _summary("curve", seconds)


def clashes(seeds: int, ingredients: int) -> None:
    seconds: list[float] = []
    print("seed       s  members  irreducible")
    seed = 0
    while len(seconds) < seeds:
        problem = infeasible_shelf(seed, ingredients)
        seed += 1
        try:
            solve(problem)
        except InfeasibleError:
            took, members, irreducible = clash(problem)
            seconds.append(took)
            print(f"{seed - 1:4d}  {took:6.2f}  {members:7d}  {irreducible}")
        except NotConvergedError:
            continue
    _summary("clash", seconds)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=25)
    parser.add_argument("--curve", type=int, default=40, help="ingredients of a trade-off curve")
    parser.add_argument("--clash", type=int, default=60, help="ingredients of a question without a recipe")
    parser.add_argument("--points", type=int, default=50)
    asked = parser.parse_args()
    curves(asked.seeds, asked.curve, asked.points)
    clashes(asked.seeds, asked.clash)


if __name__ == "__main__":
    main()
