"""Time the search in whole packs: many ingredients, three packs of each.

Run from the top of the repository::

    python -m tests.benchmarks.bench_packs [--ingredients 40] [--seeds 20] [--kind narrow]

It prints and asserts nothing: the figures depend on the machine. Every ingredient of a shelf of
`tests.optimise.shelves` comes in packs of 0.25, 1 and 5 kg at 1.15, 1 and 0.9 times its price; a batch
of 5 L is bought for. Shown per seed, without and with cakes that keep liquor, are the seconds of processor
time (other work on the machine does not count) to the end of the proof (20 by the clock at most), the gap
reached and how many nodes were looked at.
"""

from __future__ import annotations

import argparse
import time
from statistics import median

from formulate.errors import InfeasibleError
from formulate.optimise.mip.integer_terms import IntegerTerms
from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.mip.solve import solve_integer
from formulate.optimise.problem import BlendProblem
from tests.optimise.shelves import KINDS, random_shelf, shelf_rng

SIZES = ((0.25, 1.15), (1.0, 1.0), (5.0, 0.9))


def packs_of(problem: BlendProblem) -> tuple[Pack, ...]:
    """Three packs of everything."""
    return tuple(
        Pack(Thing(False, number), kg, float(price) * kg * rate)
        for number, price in enumerate(problem.price_per_kg)
        for kg, rate in SIZES
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--ingredients", type=int, default=40)
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--kind", choices=KINDS, default="narrow")
    asked = parser.parse_args()
    seconds = []
    print("seed  cakes       s      gap  nodes")
    for seed in range(asked.seeds):
        for lossy in (False, True):
            problem = random_shelf(shelf_rng(seed), asked.ingredients, asked.kind, lossy=lossy)
            start = time.process_time()
            try:
                found = solve_integer(problem, IntegerTerms(5.0, packs=packs_of(problem)), seconds=20.0)
            except InfeasibleError:
                print(f"{seed:4d}  {lossy!s:5}  no recipe")
                continue
            seconds.append(time.process_time() - start)
            figures = f"{seconds[-1]:6.2f}  {found.proven_gap:7.1e}  {found.proof_solves:5d}"
            print(f"{seed:4d}  {lossy!s:5}  {figures}")
    if seconds:
        print(f"median {median(seconds):.2f} s, longest {max(seconds):.2f} s of {len(seconds)}")


if __name__ == "__main__":
    main()
