"""From a question to a verified answer: loop, proof, prices of limits."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.errors import InfeasibleError, NotConvergedError, UnboundedError
from formulate.optimise.answer import Answer, Measured, Status, limit_values, stands_at_bound, verify
from formulate.optimise.assembly import Assembly, assemble
from formulate.optimise.breakpoints import pieces_of
from formulate.optimise.disjunctions import answer_by_cases
from formulate.optimise.linear import LinearModel, LinearResult, LinearStatus
from formulate.optimise.problem import BATCHES_LARGEST, BATCHES_SMALLEST, BlendProblem
from formulate.optimise.program import LiveModel, Point, evaluate
from formulate.optimise.slp import LoopResult, first_guess, improve, settle
from formulate.optimise.tree.proof import MOST_SOLVES, Proof, prove

__all__ = ["TIE_ALLOWANCE", "cheapest", "model_at", "solve", "start_of"]

FloatArray = NDArray[np.float64]

TIE_ALLOWANCE = 1e-7
"""Cost that may be spent on breaking ties in the order of the file, per litre, in typical kilogram prices."""

GAP_ONE_STEP = 5e-7
GAP_SEVERAL_STEPS = 5e-5
"""Gaps at which the proof stops and the recipe is called the cheapest."""


def solve(problem: BlendProblem, *, seconds: float = 20.0, most_solves: int = MOST_SOLVES) -> Answer:
    """Find the cheapest recipe, prove it, and verify it.

    Parameters
    ----------
    problem : BlendProblem
    seconds : float
        Time the proof may take; the gap reached by then is reported.
    most_solves : int
        Linear programs it may take; unlike time, the same on every machine.

    Returns
    -------
    Answer

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
    live = LiveModel(assembly)
    found = cheapest(live)
    live.set_cost(assembly.cost)
    proof = prove(
        live, found.point if found.converged else None, gap=goal, most_solves=most_solves, seconds=seconds
    )
    if proof.best is None:
        if proof.complete:
            raise InfeasibleError(None)
        raise NotConvergedError(found.passes, found.point.violation if found.point else np.inf)
    answer = _answer(live, proof, found)
    return replace(answer, seconds=time.perf_counter() - started)


def model_at(answer: Answer) -> LinearModel:
    """Return the linear program at an answer, for export and second opinions.

    Parameters
    ----------
    answer : Answer

    Returns
    -------
    LinearModel
        Per litre bottled, linearised at the recipe; its optimum is the recipe.
    """
    live = LiveModel(assemble(answer.problem))
    live.linearise(start_of(answer, live), frozen=False)
    return live.engine.snapshot()


def start_of(answer: Answer, live: LiveModel) -> Point:
    """Return an answer per litre, measured by a live model's own question.

    Parameters
    ----------
    answer : Answer
    live : LiveModel
        Of the same unknown masses, whatever else it asks.
    """
    problem = answer.problem
    columns = answer.masses_kg[problem.place_step, problem.place_ingredient] / answer.volume_l
    bought = answer.purchases_kg / answer.volume_l
    return evaluate(live.assembly, columns, 1.0 / answer.volume_l, bought)


def cheapest(live: LiveModel) -> LoopResult:
    """Run the loop from the targets' own guess and, where steps are free, from each step in turn.

    Parameters
    ----------
    live : LiveModel

    Returns
    -------
    LoopResult
        The best of the starts; `passes` counts all of them.
    """
    assembly = live.assembly
    live.set_cost(_with_tie_break(assembly))
    guess = first_guess(assembly)
    best = improve(live, guess)
    passes = best.passes
    for step in range(len(assembly.problem.chain.steps)):
        elsewhere = _free_elsewhere(assembly.problem, step)
        if not len(elsewhere):
            continue
        for column in elsewhere:
            live.engine.set_column_bounds(int(column), 0.0, 0.0)
        together = improve(live, guess)
        for column in elsewhere:
            live.engine.set_column_bounds(int(column), 0.0, np.inf)
        passes += together.passes
        if together.point is None or not together.converged:
            continue
        apart = improve(live, together.point)
        passes += apart.passes
        for trial in (together, apart):
            if _better(trial, best):
                best = trial
    best, more = _piece_by_piece(live, best, guess)
    return replace(best, passes=passes + more)


def _piece_by_piece(live: LiveModel, best: LoopResult, guess: Point) -> tuple[LoopResult, int]:
    """Look in every piece of the strength tables of every infusing step.

    An optimum often stands right at a point of a table, where the two sides have different slopes
    and a loop over both would stall; within one piece it settles.
    """
    passes = 0
    assembly = live.assembly
    for step in sorted({row.step for row in assembly.uptakes}):
        number = assembly.stream_numbers[step, False]
        for piece in pieces_of(assembly, step):
            live.set_pieces({number: piece})
            starts = [guess] if best.point is None else [best.point, guess]
            for start in starts:
                trial = settle(live, start) if start is best.point else improve(live, start)
                passes += trial.passes
                if _better(trial, best):
                    best = trial
            live.set_pieces({})
    return best, passes


def _better(trial: LoopResult, best: LoopResult) -> bool:
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
    """Cost with a hair added in the order of the file, so that equal recipes have one winner."""
    problem = assembly.problem
    cost = assembly.cost.copy()
    dear = float(np.sort(problem.price_per_kg)[len(problem.price_per_kg) // 2])
    order = np.arange(problem.unknowns) / max(problem.unknowns, 1)
    cost[: problem.unknowns] += TIE_ALLOWANCE * dear * order
    return cost


def _answer(live: LiveModel, proof: Proof, found: LoopResult) -> Answer:
    assert proof.best is not None
    problem = live.assembly.problem
    batches = proof.best.batches / proof.best.volume_l if problem.volume_l is None else proof.best.batches
    if problem.volume_l is None and not 2 * BATCHES_SMALLEST < batches < BATCHES_LARGEST / 2:
        raise UnboundedError(f"Nothing ties the size of the batch: {problem.size_origin.text}.")
    masses = problem.masses(proof.best.columns) / proof.best.volume_l / batches
    bought = proof.best.purchases / proof.best.volume_l / batches
    measured = verify(problem, masses, bought)
    duals = _duals(live, proof.best)
    return Answer(
        problem=problem,
        status=Status.OPTIMAL if proof.complete else Status.FEASIBLE,
        masses_kg=masses,
        purchases_kg=bought,
        volume_l=measured.profile.volume_l,
        run=measured.run,
        profile=measured.profile,
        limits=limit_values(problem.limits, measured.values, _shadow_prices(live, measured, duals)),
        cost=measured.cost,
        cost_per_l=measured.cost_per_l,
        proven_gap=proof.gap,
        reduced_costs=np.maximum(duals.column_duals[: problem.unknowns], 0.0)
        if len(duals.column_duals)
        else np.full(problem.unknowns, np.nan),
        passes=found.passes,
        proof_solves=proof.solves,
        seconds=0.0,
    )


def _duals(live: LiveModel, best: Point) -> LinearResult:
    """Prices of limits: linearise at the answer, nothing else in the way, and solve once."""
    live.set_cost(live.assembly.cost)
    at = evaluate(live.assembly, best.columns / best.volume_l, best.batches, best.purchases / best.volume_l)
    live.linearise(at, frozen=False)
    return live.solve()


def _shadow_prices(live: LiveModel, measured: Measured, duals: LinearResult) -> FloatArray:
    """Prices of limits in the unit a person reads: nothing where a limit does not bind, NaN if not known."""
    limits = live.assembly.problem.limits
    if duals.status is not LinearStatus.OPTIMAL:
        return np.full(len(limits), np.nan)
    binding = [stands_at_bound(limit, value) for limit, value in zip(limits, measured.values, strict=True)]
    display = np.array([limit.display for limit in limits])
    return np.where(binding, duals.row_duals[live.assembly.limit_rows] / display, 0.0)
