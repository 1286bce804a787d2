"""Time our loop, and our loop with its proof, against the engines one could use instead.

Run from the top of the repository::

    python -m tests.benchmarks.bench_solve [--sizes 10 50 500 5000] [--repeats 5] [--lossy]

It prints and asserts nothing: the figures depend on the machine. All engines get the same shelf (kind
"narrow" of `tests.optimise.shelves`, one step, seed = number of ingredients) and are run in turn, the
whole round `repeats` times after one to warm up; shown are the median and the least and greatest.

What is timed
-------------
loop
    From the question to a recipe that meets it: laying out the rows, handing them to HiGHS, all passes.
loop and proof
    `formulate.optimise.solve.solve`: the same, and the proof, the prices of limits, the verification.
bare LP
    One HiGHS solve from nothing of the linear program at the answer, arrays ready, rows without limits
    left out: what a linear model costs at the least, with the answer already known.
PuLP and CBC
    That program built as PuLP objects and solved by CBC through files, once for each of our passes.
Ipopt
    The independent statement in CasADi: building it, then one start. No proof.
SLSQP
    SciPy on the reduced statement, building it included, one start. No proof.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from statistics import median

import numpy as np

from formulate.optimise.answer import Answer
from formulate.optimise.assembly import assemble
from formulate.optimise.highs import version
from formulate.optimise.linear import LinearModel
from formulate.optimise.problem import BlendProblem
from formulate.optimise.program import BlendProgram
from formulate.optimise.solve import model_at, multistart, solve
from tests.optimise.oracle import Oracle
from tests.optimise.shelves import random_shelf, shelf_rng

IPOPT_LARGEST = 500
SLSQP_LARGEST = 50


def without_open_rows(model: LinearModel) -> LinearModel:
    """The same program without rows that limit nothing."""
    keep = np.isfinite(model.row_lower) | np.isfinite(model.row_upper)
    lengths = np.diff(model.starts)
    entries = np.repeat(keep, lengths)
    return replace(
        model,
        row_lower=model.row_lower[keep],
        row_upper=model.row_upper[keep],
        starts=np.concatenate([[0], np.cumsum(lengths[keep])]).astype(np.int32),
        indices=model.indices[entries],
        values=model.values[entries],
    )


def bare_lp(model: LinearModel) -> float:
    """One solve from nothing in highspy; the objective."""
    import highspy

    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    program = highspy.HighsLp()
    program.num_col_, program.num_row_ = model.columns, model.rows
    program.col_cost_, program.col_lower_, program.col_upper_ = (
        model.cost,
        model.column_lower,
        model.column_upper,
    )
    program.row_lower_, program.row_upper_ = model.row_lower, model.row_upper
    program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    program.a_matrix_.start_ = model.starts
    program.a_matrix_.index_ = model.indices
    program.a_matrix_.value_ = model.values
    highs.passModel(program)
    highs.run()
    return float(highs.getInfo().objective_function_value)


def pulp_cbc(model: LinearModel) -> float:
    """Build as PuLP objects and solve by CBC; the objective."""
    import pulp

    problem = pulp.LpProblem("blend", pulp.LpMinimize)
    columns = [
        problem.add_variable(f"x{k}", None if low == -np.inf else low, None if high == np.inf else high)
        for k, (low, high) in enumerate(
            zip(model.column_lower.tolist(), model.column_upper.tolist(), strict=True)
        )
    ]
    problem += pulp.LpAffineExpression(list(zip(columns, model.cost.tolist(), strict=True)))
    for row in range(model.rows):
        part = slice(int(model.starts[row]), int(model.starts[row + 1]))
        names = [columns[column] for column in model.indices[part]]
        total = pulp.LpAffineExpression(list(zip(names, model.values[part].tolist(), strict=True)))
        low, high = float(model.row_lower[row]), float(model.row_upper[row])
        if low == high:
            problem += total == low
            continue
        if np.isfinite(low):
            problem += total >= low
        if np.isfinite(high):
            problem += total <= high
    problem.solve(pulp.PULP_CBC_CMD(msg=False, threads=1))
    return float(pulp.value(problem.objective))


def our_loop(problem: BlendProblem) -> float:
    """Our loop without the proof; cost per litre."""
    found = multistart(BlendProgram(assemble(problem)))
    return found.point.cost_per_l if found.point is not None else np.nan


def engines(problem: BlendProblem, answer: Answer) -> dict[str, Callable[[], float] | str]:
    """What to time, or why not."""
    n = len(problem.price_per_kg)
    model = without_open_rows(model_at(answer))

    def rebuilt_at_each_pass() -> float:
        return [pulp_cbc(model) for _ in range(answer.passes)][-1]

    return {
        "loop": lambda: our_loop(problem),
        "loop and proof": lambda: solve(problem).cost_per_l,
        "bare LP": lambda: bare_lp(model),
        "PuLP and CBC": rebuilt_at_each_pass,
        "Ipopt": (lambda: Oracle(problem).ipopt(starts=1).cost_per_l)
        if n <= IPOPT_LARGEST
        else f"left out above {IPOPT_LARGEST} ingredients",
        "SLSQP": (lambda: Oracle(problem, reduced=True).slsqp(starts=1, most_iterations=200).cost_per_l)
        if n <= SLSQP_LARGEST
        else f"left out above {SLSQP_LARGEST} ingredients",
    }


def measure(size: int, repeats: int, lossy: bool) -> None:
    """Print the table for one size."""
    problem = random_shelf(shelf_rng(size), size, "narrow", lossy=lossy)
    answer = solve(problem)
    contenders = engines(problem, answer)
    times: dict[str, list[float]] = {name: [] for name in contenders}
    costs: dict[str, float] = {}
    for run in contenders.values():
        if not isinstance(run, str):
            run()  # once untimed: imports, and files still to be read
    for _ in range(repeats):
        for name, run in contenders.items():
            if isinstance(run, str):
                continue
            started = time.perf_counter()
            costs[name] = run()
            times[name].append(time.perf_counter() - started)
    loop, bare = median(times["loop"]), median(times["bare LP"])
    kind = "lossy" if lossy else "lossless"
    print(
        f"\n{size} ingredients, {kind}: {answer.cost_per_l:.6f} per litre, {answer.status}, "
        f"gap {answer.proven_gap:.1e}; passes {answer.passes}, proof {answer.proof_solves} programs"
    )
    print(
        f"  {'':<16}{'median ms':>11}{'least':>10}{'greatest':>10}{'x loop':>9}{'x bare LP':>11}"
        "  cost against ours"
    )
    for name, run in contenders.items():
        if isinstance(run, str):
            print(f"  {name:<16}{run}")
            continue
        took = times[name]
        against = "none found"
        if np.isfinite(costs[name]):
            against = f"{costs[name] / answer.cost_per_l - 1.0:+.1e}"
        print(
            f"  {name:<16}{1e3 * median(took):>11.2f}{1e3 * min(took):>10.2f}{1e3 * max(took):>10.2f}"
            f"{median(took) / loop:>9.2f}{median(took) / bare:>11.2f}  {against}"
        )


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sizes", type=int, nargs="+", default=[10, 50, 500, 5000])
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--lossy", action="store_true", help="cakes keep liquor, sieves lose some")
    chosen = parser.parse_args(arguments)
    print(f"HiGHS {version()}; median, least and greatest of {chosen.repeats} rounds, one thread")
    for size in chosen.sizes:
        measure(size, chosen.repeats, chosen.lossy)


if __name__ == "__main__":
    main()
