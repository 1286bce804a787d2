"""Time the planning of a menu: bottles, drinks, weeks, packs of what they are made of.

Run from the top of the repository::

    python -m tests.benchmarks.bench_menu [--bottles 5 10 20 40] [--seconds 60] [--bare] [--adapt]

It prints and asserts nothing: the figures depend on the machine. A menu of random makings has twice as many
drinks as house bottles and six times as many ingredients, two to four packs of each at falling prices, a
third of them good for one week or two, four weeks, vessels shared by two bottles, three least orders. Shown
are columns and whole numbers, seconds, the gap reached, what the plan is short of when played through, and
the most memory so far. With `--bare` the same program is given to HiGHS without PuLP, as a file. With
`--adapt` every batch may be mixed of seven recipes of its bottle; a part of the time goes to the plan with
fixed recipes, from which the rest starts.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.pulp_model import export_model
from formulate.optimise.stock.mixed import Mix, MixedQuestion, mixed
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.stock.played import play
from formulate.optimise.stock.program import lay_out
from formulate.optimise.stock.question import Good, Making, StockQuestion
from formulate.planning.adapt import seconds_for_fixed

SIZES_KG = (0.25, 0.5, 0.7, 1.0, 2.0, 3.0, 5.0, 10.0)


def random_menu(bottles: int, weeks: int = 4, seed: int = 1) -> StockQuestion:
    """Return the question of a menu of so many house bottles."""
    rng = np.random.default_rng(seed)
    ingredients, drinks = 6 * bottles, 2 * bottles
    keeps: list[int | None] = [None, None, None, 1, 2]
    stock = [float(rng.random() < 0.5) * rng.uniform(0, 2) for _ in range(ingredients + bottles)]
    lives = [keeps[rng.integers(5)] for _ in range(ingredients)]
    lives += [(None, 3, 2)[rng.integers(3)] for _ in range(bottles)]
    demand = np.zeros((ingredients + bottles, weeks))
    packs = []
    for number in range(ingredients):
        price = rng.uniform(2.0, 25.0)
        for size in sorted(rng.choice(SIZES_KG, size=rng.integers(2, 5), replace=False)):
            money = round(price * size**0.88 * rng.uniform(0.92, 1.08), 2)
            packs.append(Pack(Thing(False, number), float(size), money, f"s{rng.integers(8)}", f"{size} kg"))
    makings = []
    for bottle in range(bottles):
        parts = rng.choice(ingredients, size=rng.integers(5, 9), replace=False)
        shares = 1.1 * rng.dirichlet(np.ones(len(parts)))
        makings.append(
            Making(
                ingredients + bottle,
                tuple(zip(map(int, parts), map(float, shares), strict=True)),
                batch_kg=float(rng.choice([8, 12, 16])),
                least_kg=float(rng.choice([1, 2])),
                vessel=bottle // 2,
                takes=float(rng.choice([0.2, 0.4])),
                labour=float(rng.choice([0, 6, 12])),
            )
        )
    for _ in range(drinks):
        sold = rng.uniform(20.0, 80.0)
        for number in rng.choice(ingredients, size=3, replace=False):
            demand[number] += sold * rng.uniform(0.01, 0.04)
        demand[ingredients + rng.integers(bottles)] += 0.03 * sold
    goods = tuple(
        Good(f"g{number}", tuple(map(float, row)), stock[number], 0.0, lives[number])
        for number, row in enumerate(demand)
    )
    least = (("s1", 60.0), ("s2", 80.0), ("s3", 40.0))
    return StockQuestion(weeks, goods, packs=tuple(packs), makings=tuple(makings), least_order=least)


def with_other_recipes(question: StockQuestion, others: int = 6, seed: int = 2) -> MixedQuestion:
    """Let every bottle be mixed of more recipes, as tolerances allow: main parts hardly move, small ones do.

    A part that is a fifth of the bottle and more moves by up to a twentieth, a smaller one by up to half;
    in every other recipe one of the small ones is exchanged for something else.
    """
    rng = np.random.default_rng(seed)
    bought = [number for number, good in enumerate(question.goods[: 6 * len(question.makings)])]
    mixes = []
    for number, making in enumerate(question.makings):
        recipes = [making.uses]
        parts = [good for good, _ in making.uses]
        shares = np.array([share for _, share in making.uses])
        small = shares < shares.sum() / 5.0
        for _ in range(others):
            moved = shares * np.where(small, rng.uniform(0.5, 1.5, len(shares)), rng.uniform(0.95, 1.05))
            moved *= shares.sum() / moved.sum()
            exchanged = list(parts)
            if small.any() and rng.random() < 0.5:
                instead = [good for good in bought if good not in parts]
                exchanged[rng.choice(np.flatnonzero(small))] = int(rng.choice(instead))
            recipes.append(tuple(zip(exchanged, map(float, moved), strict=True)))
        mixes.append(Mix(tuple(recipes), ((number, replace(making, uses=())),)))
    return mixed(question, mixes)


def bare_solve(question: StockQuestion, seconds: float) -> str:
    """Solve the same program by HiGHS alone, read from a file."""
    import highspy

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "menu.mps"
        export_model(lay_out(question).model, path)
        solver = highspy.Highs()
        solver.silent()
        solver.readModel(str(path))
        solver.setOptionValue("threads", 1)
        solver.setOptionValue("time_limit", seconds)
        solver.setOptionValue("mip_rel_gap", 1e-4)
        started = time.perf_counter()
        solver.run()
        info = solver.getInfo()
        if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return "bare: no plan, the vessels are too small"
        return f"bare {time.perf_counter() - started:5.1f} s, gap {info.mip_gap:.5f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--bottles", type=int, nargs="+", default=[5, 10, 20, 40])
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--bare", action="store_true")
    parser.add_argument("--adapt", action="store_true")
    asked = parser.parse_args()
    print("bottles  columns  whole      s  cpu s      gap  missing g  short kg     MB")
    for bottles in asked.bottles:
        question = random_menu(bottles)
        started, busy = time.perf_counter(), time.process_time()
        if asked.adapt:
            first = seconds_for_fixed(asked.seconds)
            fixed = plan_stock(question, seconds=first)
            adapting = with_other_recipes(question)
            question, left = adapting.question, asked.seconds - first
            plan = plan_stock(question, seconds=left, start=adapting.start(fixed))
            print(f"         fixed {fixed.net_cost:.2f}, adapted {plan.net_cost:.2f}")
        else:
            plan = plan_stock(question, seconds=asked.seconds)
        took, busy = time.perf_counter() - started, time.process_time() - busy
        model = lay_out(question).model
        short = float(plan.short_kg.sum())
        missing = 1000.0 * (float(play(question, plan).missing_kg.sum()) - short)
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        print(
            f"{bottles:7d}  {model.columns:7d}  {int(model.integer.sum()):5d}  {took:5.1f}  {busy:5.1f}  "
            f"{plan.proven_gap:.5f}  {missing:9.1e}  {short:8.3f}  {memory:5.0f}"
        )
        if asked.bare:
            print(f"         {bare_solve(question, asked.seconds)}")


if __name__ == "__main__":
    main()
