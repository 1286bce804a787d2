"""The bounds of the proof hold for every recipe in their node, tighten as they should, and lose nothing.

The truth here is the forward model (`Chain.run`) and the strength tables themselves; what is checked is
that random recipes inside random nodes satisfy every row that `Relaxation` writes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.polynomial import Polynomial
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csr_matrix, vstack

from formulate.blend.materials import LIQUOR
from formulate.blend.uptake import STRENGTH_BEND, StrengthTable
from formulate.optimise.assembly import assemble
from formulate.optimise.breakpoints import smooth_intervals, smooth_intervals_at
from formulate.optimise.highs import Engine
from formulate.optimise.layout import Assembly
from formulate.optimise.linear import LinearModel
from formulate.optimise.mip.integer_terms import IntegerTerms, with_integers
from formulate.optimise.point import Point, carried_room, evaluate
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import first_guess, run_slp
from formulate.optimise.solve import solve
from formulate.optimise.tree.bound_tightening import (
    BoundTightening,
    LinearBounds,
    ratios_of,
    tighten_over,
    with_cost_row,
)
from formulate.optimise.tree.branch_and_bound import BranchAndBound
from formulate.optimise.tree.node import BRANCHING_VARIABLES, Interval, Node, root_node
from formulate.optimise.tree.proof import StrongBranching, prove
from formulate.physics.coefficients import OIML_A
from formulate.physics.density import density_ethanol_water
from formulate.physics.mixture import INDEX, volume_l
from formulate.physics.strength import mass_fraction_from_abv

from .shelves import random_kitchen, random_shelf, shelf_rng

WATER, ETHANOL = INDEX["water"], INDEX["ethanol"]
FloatArray = NDArray[np.float64]
SEEDS = [500, 502, 506, 514]


def random_recipe(assembly: Assembly, rng: np.random.Generator) -> Point:
    """Random masses in random places that fill one litre and wet every cake; limits are not looked at."""
    problem = assembly.problem
    usual = np.where(problem.chain.materials.retention > 0.0, 0.05, 0.3)[problem.place_ingredient]
    batches = float(problem.batch_bounds[0])
    while True:
        columns = usual * rng.uniform(0.0, 1.0, problem.unknowns) * (rng.random(problem.unknowns) < 0.6)
        # spirit and water everywhere: no step is empty
        columns = columns + 0.05 * (problem.place_ingredient <= 1)
        for _ in range(60):
            bottled = problem.chain.run(problem.masses(columns), batches).bottled[:LIQUOR]
            columns = columns / float(volume_l(bottled))
        point = evaluate(assembly, columns, batches, np.zeros(0))
        if carried_room(problem.chain, point.run).min(initial=0.0) >= 0.0:
            return point


def own_ratios(assembly: Assembly, point: Point) -> dict[str, list[float]]:
    """Where a recipe stands in each range of a node, by the forward model; NaN in a step left empty."""
    with np.errstate(invalid="ignore"):
        return _own_ratios(assembly, point)


def _own_ratios(assembly: Assembly, point: Point) -> dict[str, list[float]]:
    run, chain = point.run, assembly.problem.chain
    masses = assembly.problem.masses(point.columns)
    ratios: dict[str, list[float]] = {name: [] for name in BRANCHING_VARIABLES}
    for (step, of_carried), _ in sorted(assembly.stream_numbers.items(), key=lambda item: item[1]):
        liquor = (run.carried if of_carried else run.gross)[step, :LIQUOR]
        solvent = liquor[WATER] + liquor[ETHANOL]
        if of_carried and assembly.stream_numbers.get((step, False)) == assembly.stream_numbers[step, True]:
            continue
        ratios["ethanol"].append(liquor[ETHANOL] / solvent)
        ratios["solute"].append(1.0 - solvent / liquor.sum())
    for carry in assembly.carries:
        out, total = run.carried[carry.step, :LIQUOR], run.gross[carry.step, :LIQUOR]
        ratios["share"].append(out[ETHANOL] / total[ETHANOL])
    for row in assembly.uptakes:
        liquor = run.gross[row.step, :LIQUOR]
        uptake = chain.uptakes[row.step]
        activity = int(assembly.occurring[list(assembly.gross[row.step]).index(row.total)]) - LIQUOR
        for table in row.tables:
            bound = uptake.left[activity] * uptake.bound[uptake.tables.index(table)][:, activity]
            ratios["dose"].append(masses[row.step] @ bound / (liquor[WATER] + liquor[ETHANOL]))
    for potency in assembly.potencies:
        place = list(assembly.gross[potency.step]).index(potency.total)
        total = run.gross[potency.step]
        ratios["potency"].append(total[assembly.occurring[place]] / total[:LIQUOR].sum())
    return ratios


def random_node(assembly: Assembly, point: Point, rng: np.random.Generator, width: float) -> Node:
    """A node around a recipe: each interval reaches a random part of `width` of its own size either way."""
    whole, ranges = root_node(assembly), {}
    for name, values in own_ratios(assembly, point).items():
        ends = []
        for value, limit in zip(values, getattr(whole, name), strict=True):
            below, above = width * rng.uniform(0.0, 1.0, 2) * value
            # A hair outside the recipe's own ratio: 1e-9 is the solver's tolerance on a row, in kg per litre.
            lower = max(value - below - 1e-9, limit.lower)
            ends.append(Interval(lower, min(value + above + 1e-9, limit.upper)))
        ranges[name] = tuple(ends)
    return Node(**ranges)


def relaxed_around(assembly: Assembly, point: Point, node: Node, *, settled: bool = True) -> LinearModel:
    """The rows of a node with a recipe's masses put in, and its step totals where `settled`; no limits."""
    program = BlendProgram(assembly)
    program.relax(node)
    model = program.engine.snapshot()
    lower, upper = model.column_lower.copy(), model.column_upper.copy()
    lower[: len(point.columns)] = upper[: len(point.columns)] = point.columns
    lower[assembly.batches] = upper[assembly.batches] = point.batches
    if settled:
        for step, (gross, carried) in enumerate(zip(assembly.gross, assembly.carried, strict=True)):
            for block, truth in ((gross, point.run.gross[step]), (carried, point.run.carried[step])):
                lower[block] = upper[block] = truth[assembly.occurring]
        for row in assembly.uptakes:
            liquor = point.run.gross[row.step]
            fraction = float(liquor[ETHANOL] / (liquor[WATER] + liquor[ETHANOL]))
            amounts = row.amounts @ point.columns[row.columns]
            truth = np.array([float(table.share(fraction)) for table in row.tables]) * amounts
            lower[row.given], upper[row.given] = truth - 1e-12, truth + 1e-12
    row_lower, row_upper = model.row_lower.copy(), model.row_upper.copy()
    row_lower[assembly.limit_rows], row_upper[assembly.limit_rows] = -np.inf, np.inf
    return replace(model, column_lower=lower, column_upper=upper, row_lower=row_lower, row_upper=row_upper)


def least(model: LinearModel, cost: FloatArray | None = None) -> float | None:
    """The least cost, by SciPy; None where there is no answer.

    Without presolve: with nearly every column fixed it adds rounding up beyond its own tolerance.
    """
    matrix = csr_matrix((model.values, model.indices, model.starts), shape=(model.rows, model.columns))
    above, below = np.isfinite(model.row_upper), np.isfinite(model.row_lower)
    found = linprog(
        np.zeros(model.columns) if cost is None else cost,
        A_ub=vstack([matrix[above], -matrix[below]]),
        b_ub=np.concatenate([model.row_upper[above], -model.row_lower[below]]),
        bounds=np.column_stack([model.column_lower, model.column_upper]),
        method="highs-ds",
        options={"presolve": False, "primal_feasibility_tolerance": 1e-9},
    )
    assert found.status in (0, 2)
    return float(found.fun) if found.status == 0 else None


@pytest.mark.parametrize("seed", SEEDS)
def test_recipes_satisfy_the_rows_of_every_node_that_holds_them(seed: int) -> None:
    rng = shelf_rng(seed)
    assembly = assemble(random_kitchen(rng, 14))
    for width in (2.0, 0.5, 0.05, 1e-3, 1e-5) * 6:
        point = random_recipe(assembly, rng)
        node = random_node(assembly, point, rng, width)
        assert least(relaxed_around(assembly, point, node)) is not None


@pytest.mark.parametrize("seed", SEEDS[:2])
@pytest.mark.parametrize("name", BRANCHING_VARIABLES)
def test_a_box_beside_a_recipe_does_not_hold_it(seed: int, name: str) -> None:
    """The check above can fail: with one range moved off the recipe there is no answer."""
    rng = shelf_rng(seed)
    assembly = assemble(random_kitchen(rng, 14))
    point = random_recipe(assembly, rng)
    node = random_node(assembly, point, rng, 0.5)
    values = own_ratios(assembly, point)[name]
    for number, value in enumerate(values):
        if value < 1e-6:
            continue
        ranges = list(getattr(node, name))
        ranges[number] = Interval(1.01 * value, 1.02 * value)
        beside = replace(node, **{name: tuple(ranges)})
        assert least(relaxed_around(assembly, point, beside)) is None


def test_the_freedom_of_a_cake_falls_with_the_square_of_the_width() -> None:
    """With the masses given, what a cake may do to the carried ethanol: share's width times strength's."""
    rng = shelf_rng(1)
    assembly = assemble(random_kitchen(rng, 14))
    point = random_recipe(assembly, rng)
    carry = assembly.carries[0]
    freedoms = []
    for width in (0.02, 0.01, 0.005):
        node = root_node(assembly)
        for name in ("ethanol", "share"):
            value = own_ratios(assembly, point)[name][0]
            around = Interval(value * (1.0 - width), value * (1.0 + width))
            node = replace(node, **{name: (around, *getattr(node, name)[1:])})
        model = relaxed_around(assembly, point, node, settled=False)
        ends = []
        for sign in (1.0, -1.0):
            cost = np.zeros(model.columns)
            cost[[carry.carried[assembly.ethanol], carry.carried[assembly.water]]] = (
                sign,
                -sign * (point.run.gross[0, ETHANOL] / point.run.gross[0, WATER]),
            )
            end = least(model, cost)
            assert end is not None
            ends.append(sign * end)
        freedoms.append(ends[1] - ends[0])
    assert freedoms[0] > 1e-6
    # Exactly a quarter each time, but for the solver's tolerance.
    assert freedoms[1] == pytest.approx(freedoms[0] / 4.0, rel=0.02)
    assert freedoms[2] == pytest.approx(freedoms[1] / 4.0, rel=0.02)


@pytest.mark.parametrize("seed", SEEDS)
def test_what_was_written_last_does_not_show(seed: int) -> None:
    """Only changed relations are written again: the program is that of a node written from nothing."""
    rng = shelf_rng(seed)
    assembly = assemble(random_kitchen(rng, 12))
    point = random_recipe(assembly, rng)
    first, second = (random_node(assembly, point, rng, 0.5) for _ in range(2))
    mixed = replace(second, share=first.share, ethanol=(first.ethanol[0], *second.ethanol[1:]))
    travelled, fresh = BlendProgram(assembly), BlendProgram(assembly)
    travelled.relax(first)
    travelled.relax(second)
    travelled.linearise(point, frozen=False)
    travelled.relax(first)
    travelled.relax(mixed)
    fresh.relax(mixed)
    one, other = travelled.engine.snapshot(), fresh.engine.snapshot()
    for name in ("row_lower", "row_upper", "column_lower", "column_upper"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    for row in range(one.rows):
        entries = [
            {
                int(column): float(value)
                for column, value in zip(
                    model.indices[model.starts[row] : model.starts[row + 1]],
                    model.values[model.starts[row] : model.starts[row + 1]],
                    strict=True,
                )
                if value
            }
            for model in (one, other)
        ]
        assert entries[0] == entries[1]


@pytest.mark.parametrize("seed", SEEDS)
def test_tightening_keeps_every_recipe_below_the_cost(seed: int) -> None:
    """The loop's recipe stays in the node narrowed for recipes up to its own cost."""
    assembly = assemble(random_kitchen(shelf_rng(seed), 14))
    program = BlendProgram(assembly)
    point = run_slp(program, first_guess(assembly)).point
    assert point is not None
    assert point.violation <= 1e-8
    tightening = BoundTightening(program.engine.snapshot(), assembly)
    node = tightening.tightened(root_node(assembly), point.cost_per_l * (1.0 + 1e-7), rounds=3)
    assert node is not None
    assert halved_around(assembly, point, node) >= 5


def halved_around(assembly: Assembly, point: Point, node: Node) -> int:
    """Check that a recipe is still in a node, and count the ranges that lost half of what they had."""
    whole = root_node(assembly)
    halved = 0
    for name, values in own_ratios(assembly, point).items():
        for value, range_, before in zip(values, getattr(node, name), getattr(whole, name), strict=True):
            if np.isnan(value):
                continue
            # A recipe may slip by 1e-8 of its limits: its ratios by as much, relative.
            slip = 1e-7 * max(abs(value), 1e-3)
            assert range_.lower - slip <= value <= range_.upper + slip, name
            halved += range_.width < 0.5 * before.width
    return halved


@pytest.mark.parametrize("lossy_shelf", [False, True])
@pytest.mark.parametrize("seed", SEEDS)
def test_what_could_be_needed_keeps_every_recipe_below_the_cost(seed: int, lossy_shelf: bool) -> None:
    """The same of the narrowing for whole numbers; potencies, endless at first, get an end there too."""
    rng = shelf_rng(seed)
    problem = random_shelf(rng, 14, "narrow", lossy=True) if lossy_shelf else random_kitchen(rng, 14)
    assembly = assemble(problem)
    program = BlendProgram(assembly)
    point = run_slp(program, first_guess(assembly)).point
    assert point is not None
    assert point.violation <= 1e-8
    program.relax(root_node(assembly))
    cost = point.cost_per_l * (1.0 + 1e-7)
    model = with_integers(program.engine.snapshot(), assembly, IntegerTerms(5.0)).model
    bounds = LinearBounds(Engine(with_cost_row(model, cost), only_costs_change=True))
    node = tighten_over(bounds, ratios_of(assembly), root_node(assembly), {})
    assert node is not None
    assert halved_around(assembly, point, node) >= 3
    assert any(np.isfinite(potency.upper) for potency in node.potency) or not assembly.potencies


def test_tightening_says_when_nothing_is_left() -> None:
    assembly = assemble(random_kitchen(shelf_rng(502), 14))
    program = BlendProgram(assembly)
    tightening = BoundTightening(program.engine.snapshot(), assembly)
    assert tightening.tightened(root_node(assembly), 1e-3) is None  # cheaper than any drink


def test_strong_branching_closes_a_small_kitchen_to_the_cost_of_its_recipe() -> None:
    assembly = assemble(random_kitchen(shelf_rng(503), 12))
    program = BlendProgram(assembly)
    point = run_slp(program, first_guess(assembly)).point
    assert point is not None
    proof = StrongBranching(program, point, 1e-4).run(most_solves=4000, seconds=60.0)
    assert proof.complete
    assert proof.gap <= 1e-4 * (1.0 + 1e-9)


@pytest.mark.parametrize("seed", [1, 8, 15])
def test_a_proof_that_starts_no_loops_bounds_all_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Boxes alone: their bound is never above the optimum that the whole search proves, nor far below it."""
    problem = random_shelf(shelf_rng(seed), 14, "wide", lossy=True)
    answer = solve(problem)
    assert answer.proven_gap <= 1e-6
    program = BlendProgram(assemble(problem))
    start = run_slp(program, first_guess(program.assembly)).point
    assert start is not None
    monkeypatch.setattr(BranchAndBound, "_start_loop", lambda *given: pytest.fail("a loop was started"))
    proof = prove(program, start, gap=1e-6, most_solves=400, seconds=60.0, starts_loops=False)
    assert proof.best is not None
    assert proof.best.violation <= 1e-8
    assert proof.lower_bound <= answer.cost_per_l * (1.0 + 1e-9)
    assert proof.lower_bound >= 0.5 * answer.cost_per_l
    assert proof.best.cost_per_l >= answer.cost_per_l * (1.0 - 1e-6)


def test_lines_hold_the_table_between_them() -> None:
    """Random tables with rising, level and falling pieces, random intervals, many fractions in each."""
    rng = shelf_rng(0)
    for _ in range(300):
        many = int(rng.integers(2, 7))
        strengths = np.sort(rng.choice(np.arange(0.0, 97.0), many, replace=False))
        shares = rng.uniform(0.0, 1.0, many)
        table = StrengthTable(tuple(zip(strengths.tolist(), shares.tolist(), strict=True)))
        lower = float(rng.uniform(0.0, 0.99))
        upper = float(rng.uniform(lower, 1.0)) if rng.random() < 0.7 else lower + 1e-4
        lines = table.lines(lower, upper)
        points = np.asarray(mass_fraction_from_abv(strengths))
        fractions = np.append(np.linspace(lower, upper, 400), points[(points > lower) & (points < upper)])
        truth = table.share(fractions)
        assert (lines.low + lines.slope * fractions <= truth + 1e-14).all()
        assert (lines.high + lines.slope * fractions >= truth - 1e-14).all()
        # No looser than the parallel band through the table's own spread, but for the bend of a piece.
        spread = float(np.ptp(truth - lines.slope * fractions))
        steepest = float(np.abs(np.diff(shares) / np.diff(strengths)).max())
        bend = steepest * STRENGTH_BEND * (upper - lower) ** 2 / 8.0
        assert lines.high - lines.low <= spread + 2.0 * bend + 1e-10


def test_strength_is_concave_in_the_ethanol_fraction_and_bends_less_than_stated() -> None:
    """100 p rho(p)/rho(1) of OIML R 22: the second derivative's extremes are at roots of the third."""
    density = Polynomial(OIML_A)
    assert density(0.3) == pytest.approx(density_ethanol_water(0.3), rel=1e-12)
    strength = 100.0 * Polynomial([0.0, 1.0]) * density / density(1.0)
    second, third = strength.deriv(2), strength.deriv(3)
    roots = third.roots()
    inside = [root.real for root in roots if abs(root.imag) < 1e-9 and 0.0 < root.real < 1.0]
    values = second(np.array([0.0, 1.0, *inside]))
    assert len(inside) >= 1
    assert values.max() < -25.0
    assert values.min() > -STRENGTH_BEND + 10.0


def test_without_alcohol_every_infusing_step_is_in_the_weakest_piece() -> None:
    problem = random_kitchen(shelf_rng(500), 14)
    materials = problem.chain.materials
    content = materials.content.copy()
    content[:, WATER] += content[:, ETHANOL]
    content[:, ETHANOL] = 0.0
    chain = replace(problem.chain, materials=replace(materials, content=content))
    assembly = assemble(replace(problem, chain=chain))
    point = random_recipe(assembly, np.random.default_rng(0))
    steps = sorted({row.step for row in assembly.uptakes})
    assert steps
    for step in steps:
        (only,) = smooth_intervals(assembly, step)
        assert only.lower == 0.0
        assert smooth_intervals_at(assembly, point)[assembly.stream_numbers[step, False]] == only
