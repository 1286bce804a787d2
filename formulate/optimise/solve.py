"""From a question to a verified answer: loop, proof, prices of limits."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.errors import InfeasibleError, NotConvergedError, UnboundedError
from formulate.optimise.answer import Answer, Measured, Status, limit_values, stands_at_bound, verify
from formulate.optimise.assembly import assemble
from formulate.optimise.breakpoints import smooth_intervals
from formulate.optimise.disjunctions import answer_by_cases
from formulate.optimise.layout import Assembly
from formulate.optimise.linear import LinearModel, LinearResult, LinearStatus
from formulate.optimise.point import Point, evaluate
from formulate.optimise.problem import BATCHES_LARGEST, BATCHES_SMALLEST, BlendProblem
from formulate.optimise.program import BlendProgram
from formulate.optimise.slp import SlpResult, first_guess, run_slp, run_trust_region
from formulate.optimise.tolerances import GAP_ONE_STEP, GAP_SEVERAL_STEPS, TIE_ALLOWANCE
from formulate.optimise.tree.branch_and_bound import Proof
from formulate.optimise.tree.proof import MOST_SOLVES, prove

__all__ = ["model_at", "multistart", "solve", "start_of"]

FloatArray = NDArray[np.float64]


def solve(problem: BlendProblem, *, seconds: float = 20.0, most_solves: int = MOST_SOLVES) -> Answer:
    """Find the cheapest recipe, prove it, and verify it.

    Parameters
    ----------
    seconds : float
        Time the proof may take; the gap reached by then is reported.
    most_solves : int
        Linear programs it may take; unlike time, the same on every machine.

    Raises
    ------
    InfeasibleError
        With `explanation` None, when it is proved that no recipe meets every limit; the caller explains.
    UnboundedError
        When nothing fixes the size of the batch.
    NotConvergedError
        When there is neither a recipe nor a proof that there is none.
    VerificationError
        When the recipe fails its re-computation.
    """
    started = time.perf_counter()
    goal = GAP_ONE_STEP if len(problem.chain.steps) == 1 else GAP_SEVERAL_STEPS
    if problem.disjunctions:
        return answer_by_cases(
            problem,
            lambda case, left: solve(case, seconds=left, most_solves=most_solves),
            seconds=seconds,
            gap=goal,
        )
    assembly = assemble(problem)
    program = BlendProgram(assembly)
    local = multistart(program)
    program.set_cost(assembly.cost)
    proof = prove(
        program, local.point if local.converged else None, gap=goal, most_solves=most_solves, seconds=seconds
    )
    if proof.best is None:
        if proof.complete:
            raise InfeasibleError(None)
        raise NotConvergedError(local.passes, local.point.violation if local.point else np.inf)
    answer = _answer(program, proof, local.passes)
    return replace(answer, seconds=time.perf_counter() - started)


def model_at(answer: Answer) -> LinearModel:
    """Return the linear program at an answer, for export and second opinions.

    Returns
    -------
    LinearModel
        Per litre bottled, linearised at the recipe; its optimum is the recipe.
    """
    program = BlendProgram(assemble(answer.problem))
    program.linearise(start_of(answer, program), frozen=False)
    return program.engine.snapshot()


def start_of(answer: Answer, program: BlendProgram) -> Point:
    """Return an answer per litre, measured by a live model's own question.

    Parameters
    ----------
    program : BlendProgram
        Of the same unknown masses, whatever else it asks.
    """
    problem = answer.problem
    columns = answer.masses_kg[problem.place_step, problem.place_ingredient] / answer.volume_l
    bought = answer.purchases_kg / answer.volume_l
    return evaluate(program.assembly, columns, 1.0 / answer.volume_l, bought)


def multistart(program: BlendProgram) -> SlpResult:
    """Run the loop from the targets' own guess and, where steps are free, from each step in turn.

    Returns
    -------
    SlpResult
        The best of the starts; `passes` counts all of them.
    """
    assembly = program.assembly
    program.set_cost(_with_tie_break(assembly))
    guess = first_guess(assembly)
    best = run_slp(program, guess)
    passes = best.passes
    for step in range(len(assembly.problem.chain.steps)):
        elsewhere = _free_elsewhere(assembly.problem, step)
        if not len(elsewhere):
            continue
        for column in elsewhere:
            program.engine.set_column_bounds(int(column), 0.0, 0.0)
        together = run_slp(program, guess)
        for column in elsewhere:
            program.engine.set_column_bounds(int(column), 0.0, np.inf)
        passes += together.passes
        if together.point is None or not together.converged:
            continue
        apart = run_slp(program, together.point)
        passes += apart.passes
        for trial in (together, apart):
            if _better(trial, best):
                best = trial
    best, more = _between_breakpoints(program, best, guess)
    return replace(best, passes=passes + more)


def _between_breakpoints(program: BlendProgram, best: SlpResult, guess: Point) -> tuple[SlpResult, int]:
    """Look between each two breakpoints of the strength tables of every infusing step.

    An optimum often stands right at a breakpoint, where the two sides have different slopes
    and a loop over both would stall; on one side of it it settles.
    """
    passes = 0
    assembly = program.assembly
    for step in sorted({row.step for row in assembly.uptakes}):
        number = assembly.stream_numbers[step, False]
        for interval in smooth_intervals(assembly, step):
            program.confine_ethanol({number: interval})
            starts = [guess] if best.point is None else [best.point, guess]
            for start in starts:
                run = run_trust_region if start is best.point else run_slp
                trial = run(program, start)
                passes += trial.passes
                if _better(trial, best):
                    best = trial
            program.confine_ethanol({})
    return best, passes


def _better(trial: SlpResult, best: SlpResult) -> bool:
    if not trial.converged or trial.point is None:
        return False
    return not best.converged or best.point is None or trial.point.cost_per_l < best.point.cost_per_l


def _free_elsewhere(problem: BlendProblem, step: int) -> NDArray[np.intp]:
    """Columns of ingredients that may go into several steps, but for the one in `step`."""
    counts = np.bincount(problem.place_ingredient, minlength=len(problem.chain.materials.ids))
    may_go_here = np.zeros(len(counts), dtype=bool)
    may_go_here[problem.place_ingredient[problem.place_step == step]] = True
    free = (counts > 1) & may_go_here
    return np.flatnonzero(free[problem.place_ingredient] & (problem.place_step != step))


def _with_tie_break(assembly: Assembly) -> FloatArray:
    """Cost with next to nothing added in the order of the file, so that equal recipes have one winner."""
    problem = assembly.problem
    cost = assembly.cost.copy()
    dear = float(np.sort(problem.price_per_kg)[len(problem.price_per_kg) // 2])
    order = np.arange(problem.unknowns) / max(problem.unknowns, 1)
    cost[: problem.unknowns] += TIE_ALLOWANCE * dear * order
    return cost


def _answer(program: BlendProgram, proof: Proof, passes: int) -> Answer:
    assert proof.best is not None
    problem = program.assembly.problem
    batches = proof.best.batches / proof.best.volume_l if problem.volume_l is None else proof.best.batches
    if problem.volume_l is None and not 2 * BATCHES_SMALLEST < batches < BATCHES_LARGEST / 2:
        raise UnboundedError(f"Nothing ties the size of the batch: {problem.size_origin.text}.")
    masses = problem.masses(proof.best.columns) / proof.best.volume_l / batches
    bought = proof.best.purchases / proof.best.volume_l / batches
    measured = verify(problem, masses, bought)
    duals = _duals(program, proof.best)
    return Answer(
        problem=problem,
        status=Status.OPTIMAL if proof.complete else Status.FEASIBLE,
        masses_kg=masses,
        purchases_kg=bought,
        volume_l=measured.profile.volume_l,
        run=measured.run,
        profile=measured.profile,
        limits=limit_values(problem.limits, measured.values, _shadow_prices(program, measured, duals)),
        cost=measured.cost,
        cost_per_l=measured.cost_per_l,
        proven_gap=proof.gap,
        reduced_costs=np.maximum(duals.column_duals[: problem.unknowns], 0.0)
        if len(duals.column_duals)
        else np.full(problem.unknowns, np.nan),
        passes=passes,
        proof_solves=proof.solves,
        seconds=0.0,
    )


def _duals(program: BlendProgram, best: Point) -> LinearResult:
    """Prices of limits: linearise at the answer, nothing else in the way, and solve once."""
    program.set_cost(program.assembly.cost)
    at = evaluate(
        program.assembly, best.columns / best.volume_l, best.batches, best.purchases / best.volume_l
    )
    program.linearise(at, frozen=False)
    return program.solve()


def _shadow_prices(program: BlendProgram, measured: Measured, duals: LinearResult) -> FloatArray:
    """Prices of limits in the unit a person reads: nothing where a limit does not bind, NaN if not known."""
    limits = program.assembly.problem.limits
    if duals.status is not LinearStatus.OPTIMAL:
        return np.full(len(limits), np.nan)
    binding = [stands_at_bound(limit, value) for limit, value in zip(limits, measured.values, strict=True)]
    display = np.array([limit.display for limit in limits])
    return np.where(binding, duals.row_duals[program.assembly.limit_rows] / display, 0.0)
