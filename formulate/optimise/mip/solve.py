"""Recipes in whole numbers: the loop and the proof with a mixed-integer program at each turn.

The continuous recipe is solved first. Around it the program with whole numbers (`integer_terms`) is
solved; with the packs it finds, the masses are settled as any other recipe (`fixed_integers`). What
that costs says how much of each thing could be worth having, and so which packs are too many or too
large. The proof then branches over the same nodes as `tree.proof`, with the whole numbers kept in each
relaxation, so the gap reported covers both.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.errors import InfeasibleError, NotConvergedError
from formulate.optimise.answer import Answer, Status, limit_values, verify
from formulate.optimise.assembly import assemble
from formulate.optimise.disjunctions import Outcome, answer_by_cases, cheapest_case, gap_to
from formulate.optimise.highs import Engine
from formulate.optimise.linear import LinearModel, LinearResult, LinearStatus
from formulate.optimise.mip.fixed_integers import IntegerRecipe, greedy_packs, refine_fixed
from formulate.optimise.mip.integer_terms import Choices, IntegerTerms, columns_of, with_integers
from formulate.optimise.mip.packs import things_of
from formulate.optimise.point import Point
from formulate.optimise.problem import BlendProblem, Over
from formulate.optimise.program import BlendProgram
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.solve import multistart, solve
from formulate.optimise.tolerances import (
    EQUAL_COST,
    GAP_INNER_PROGRAM,
    GAP_INTEGER,
    INTEGER_FEASIBILITY,
    RESOLVE_ALLOWANCE,
    ROUNDING,
    USED_KG_PER_L,
)
from formulate.optimise.tree.bound_tightening import LinearBounds, ratios_of, tighten_over, with_cost_row
from formulate.optimise.tree.branch_and_bound import BranchAndBound, Proof
from formulate.optimise.tree.node import Node, root_node

__all__ = ["IntegerAnswer", "answer_of", "at_size", "solve_integer", "solve_with_choices"]

FloatArray = NDArray[np.float64]

ROUNDS = 4
TIGHTENING_ROUNDS = 3
WORTH_ANOTHER = 0.7
"""A node is tightened again when its width fell below this share."""
NODES_AROUND = 1
"""With an incumbent, the loop is started too from so many nodes, where they cannot be settled."""
CLOSE_ENOUGH = 0.95
"""Where some answer uses this share of the most that is known, no closer bound is looked for."""
FIRST_SHARE = 0.4
"""Share of the time that may go by until a first recipe is known."""
LEAST_SECONDS = 0.1
"""No program is given less time than this, however little is left."""


@dataclass(frozen=True)
class IntegerAnswer:
    """A recipe in whole numbers.

    Attributes
    ----------
    point : Point
        Per litre bottled; its `cost` is what was minimised: what is paid, less what rests are worth.
    packs : ndarray, shape (packs,)
        How many of each pack; any number of what is sold loose.
    paid : float
        Money for the whole batch.
    proven_gap : float
        Of what was minimised.
    rounds, proof_solves : int
        Mixed-integer programs of the loop and of the proof.
    """

    status: Status
    point: Point
    packs: FloatArray
    paid: float
    proven_gap: float
    rounds: int
    proof_solves: int
    seconds: float


def solve_integer(
    problem: BlendProblem, terms: IntegerTerms, *, seconds: float = 20.0, gap: float = GAP_INTEGER
) -> IntegerAnswer:
    """Find the cheapest recipe in whole packs, or with choices of what to use, and bound it.

    Parameters
    ----------
    problem : BlendProblem
        Of known size where there are packs, and then without limits on cost: those count use.
    seconds : float
        Time in all; the gap reached by then is reported.
    gap : float
        Relative gap to close.

    Returns
    -------
    IntegerAnswer
        Optimal when the gap is closed in time.

    Raises
    ------
    ValueError
        With packs, when the size is open or there is a limit on cost.
    InfeasibleError
        With `explanation` None, when it is proved that no recipe meets every limit.
    NotConvergedError
        When there is neither a recipe nor a proof that there is none.
    """
    if terms.packs and (problem.volume_l is None or any(limit.over is Over.COST for limit in problem.limits)):
        raise ValueError("packs need a batch of known size and no limit on cost")
    started = time.monotonic()
    if problem.disjunctions:
        return _integer_by_cases(problem, terms, seconds=seconds, gap=gap)
    search = _IntegerSearch(BlendProgram(assemble(problem)), _for_losses(problem, terms), gap)
    proof = search.run(10**6, seconds)
    if proof.best is None or search.recipe is None:
        if proof.complete:
            raise InfeasibleError(None)
        raise NotConvergedError(search.rounds, np.inf)
    return IntegerAnswer(
        status=Status.OPTIMAL if proof.complete else Status.FEASIBLE,
        point=search.recipe.point,
        packs=search.recipe.packs,
        paid=search.recipe.paid,
        proven_gap=proof.gap,
        rounds=search.rounds,
        proof_solves=search.proof_rounds,
        seconds=time.monotonic() - started,
    )


def _integer_by_cases(
    problem: BlendProblem, terms: IntegerTerms, *, seconds: float, gap: float
) -> IntegerAnswer:
    """Do the same where a case of each disjunction must hold."""

    def ask(case: BlendProblem, left: float) -> Outcome[IntegerAnswer]:
        whole = solve_integer(case, terms, seconds=left, gap=gap)
        masses = case.masses(whole.point.columns)
        columns = masses[problem.place_step, problem.place_ingredient]
        return Outcome(
            replace(whole, point=replace(whole.point, columns=columns)),
            masses,
            case.chain.run(masses, whole.point.batches).bottled,
            1.0,
            whole.point.cost_per_l,
            whole.point.cost_per_l * (1.0 - whole.proven_gap),
        )

    best = cheapest_case(problem, ask, seconds=seconds)
    reached = gap_to(best)
    return replace(
        best.answer,
        proven_gap=reached,
        status=Status.OPTIMAL if reached <= gap else Status.FEASIBLE,
    )


def solve_with_choices(problem: BlendProblem, choices: Choices, *, seconds: float = 20.0) -> Answer:
    """Find the cheapest recipe that also keeps choices of what is used at all.

    Returns
    -------
    Answer
        Prices of limits hold with the chosen ingredients as they are; the gap covers the choice.

    Raises
    ------
    InfeasibleError, NotConvergedError, UnboundedError, VerificationError
        As `solve.solve`.
    """
    started = time.perf_counter()
    if problem.disjunctions:
        return answer_by_cases(
            problem,
            lambda case, left: solve_with_choices(case, choices, seconds=left),
            seconds=seconds,
            gap=GAP_INTEGER,
        )
    terms = IntegerTerms(problem.volume_l or 1.0, choices=choices)
    is_money = problem.money_counts and not any(limit.soft for limit in problem.limits)
    # Where it is not money the two gaps add up below, so each closes its half.
    whole = solve_integer(
        problem,
        terms,
        seconds=seconds,
        gap=GAP_INTEGER - RESOLVE_ALLOWANCE if is_money else GAP_INTEGER / 2.0,
    )
    used = problem.masses(whole.point.columns).sum(axis=0) > USED_KG_PER_L
    is_chosen = used[problem.place_ingredient]
    chosen = replace(
        problem,
        place_ingredient=problem.place_ingredient[is_chosen],
        place_step=problem.place_step[is_chosen],
        limits=(*problem.limits, *choices.minimum_dose_limits(used)),
    )
    answer = solve(chosen, seconds=max(seconds - (time.perf_counter() - started), LEAST_SECONDS))
    if is_money and answer.cost_per_l > 0.0:
        # The bound holds for every choice; how far the second proof came for this one adds nothing.
        gap = max(1.0 - whole.point.cost_per_l * (1.0 - whole.proven_gap) / answer.cost_per_l, 0.0)
    else:
        gap = 1.0 - (1.0 - whole.proven_gap) * (1.0 - answer.proven_gap)
    return replace(
        answer,
        limits=answer.limits[: len(problem.limits)],
        status=Status.OPTIMAL if gap <= GAP_INTEGER else Status.FEASIBLE,
        proven_gap=gap,
        passes=answer.passes + whole.rounds,
        proof_solves=answer.proof_solves + whole.proof_solves,
        seconds=time.perf_counter() - started,
    )


def answer_of(problem: BlendProblem, whole: IntegerAnswer) -> Answer:
    """Verify a recipe in whole numbers and lay it out as any other answer.

    Parameters
    ----------
    problem : BlendProblem
        Of known size, as solved.

    Returns
    -------
    Answer
        Its cost counts what is used, not what is paid; a program in whole numbers has no prices of
        limits, so those are NaN.

    Raises
    ------
    VerificationError
        When the recipe fails its re-computation.
    """
    volume = problem.volume_l or 1.0
    masses = problem.masses(whole.point.columns) * volume / whole.point.volume_l
    bought = whole.point.purchases * volume / whole.point.volume_l
    measured = verify(problem, masses, bought)
    unknown = np.full(len(problem.limits), np.nan)
    return Answer(
        problem=problem,
        status=whole.status,
        masses_kg=masses,
        purchases_kg=bought,
        volume_l=measured.profile.volume_l,
        run=measured.run,
        profile=measured.profile,
        limits=limit_values(problem.limits, measured.values, unknown),
        cost=measured.cost,
        cost_per_l=measured.cost_per_l,
        proven_gap=whole.proven_gap,
        reduced_costs=np.full(problem.unknowns, np.nan),
        passes=whole.rounds,
        proof_solves=whole.proof_solves,
        seconds=whole.seconds,
    )


def at_size(problem: BlendProblem, volume_l: float) -> BlendProblem:
    """Return the question for a batch of known size, without what tied its size."""
    limits = [limit for limit in problem.limits if limit.origin != problem.size_origin]
    return replace(problem, volume_l=volume_l, fill=None).asking(limits)


def _for_losses(problem: BlendProblem, terms: IntegerTerms) -> IntegerTerms:
    """Return the terms with the most of each thing raised for the liquor that steps lose.

    The usual bounds are of a litre bottled; where half of it is lost twice as much goes in.
    """
    left = float(np.prod([1.0 - step.loss_fraction for step in problem.chain.steps]))
    things = {*things_of(terms.packs), *terms.choices.things(len(problem.price_per_kg))}
    most = {thing: terms.most_kg_per_l(thing) / max(left, ROUNDING) for thing in things}
    return replace(terms, most=most | terms.most)


class _IntegerSearch(BranchAndBound):
    """Branch and bound with whole numbers kept in every relaxation; used once."""

    edge = 0.4
    """Nodes are tightened before they are looked at, so halves serve better than slices."""

    def __init__(self, program: BlendProgram, terms: IntegerTerms, gap: float) -> None:
        super().__init__(program, None, gap)
        self.terms = terms
        self.deadline = np.inf
        self.recipe: IntegerRecipe | None = None
        self.rounds = 0
        self.proof_rounds = 0
        self._packs = np.zeros(0)
        self._closer = terms
        self._ratios = ratios_of(self.assembly)
        self._least: dict[int, float] = {}

    def run(self, most_solves: int, seconds: float) -> Proof:
        """Look for a first recipe, then branch until the gap is closed or time is up."""
        self.deadline = time.monotonic() + seconds
        start = multistart(self.program).point
        self.program.set_cost(self.assembly.cost)
        if start is not None:
            packs = greedy_packs(self.terms, self.assembly, start)
            if packs is not None:
                self._offer(self._settle(start, packs))
            if self._tightened(root_node(self.assembly)) is not None:
                self.terms = self._closer
            self._offer(self._around(start, self._seconds_left() * FIRST_SHARE))
        return super().run(most_solves, max(self._seconds_left(), LEAST_SECONDS))

    def _seconds_left(self) -> float:
        return self.deadline - time.monotonic()

    def _around(self, start: Point, seconds: float) -> Point | None:
        """Solve with whole numbers around a recipe until what they say can be settled."""
        at, until = start, time.monotonic() + seconds
        for _ in range(ROUNDS):
            self.program.linearise(at, frozen=False)
            model = self.program.engine.snapshot()
            self.rounds += 1
            result, packs = self._solve(model, self._closer, until - time.monotonic(), self.cutoff)
            if not result.values.size:
                return None
            at = self.program.point(result)
            point = self._settle(at, packs)
            if point is not None or time.monotonic() > until:
                return point
        return None

    def _solve(
        self, model: LinearModel, terms: IntegerTerms, seconds: float, cutoff: float = np.inf
    ) -> tuple[LinearResult, FloatArray]:
        """Solve a snapshot of the live program with the whole numbers added."""
        whole = with_integers(model, self.assembly, terms)
        result = solve_model(
            whole.model, seconds=max(seconds, LEAST_SECONDS), gap=GAP_INNER_PROGRAM, cutoff=cutoff
        )
        if not result.values.size:
            return result, np.zeros(0)
        packs = result.values[whole.pack_columns]
        loose = np.array([pack.loose for pack in self.terms.packs], dtype=bool)
        return result, np.where(loose, np.maximum(packs, 0.0), np.rint(packs))

    def _settle(self, start: Point, packs: FloatArray) -> Point | None:
        """Settle the masses for the packs given, and keep the cheapest recipe so far."""
        recipe = refine_fixed(self.assembly, self.terms, start, packs)
        if recipe is None:
            return None
        best = self.recipe
        if best is None or recipe.point.cost_per_l < best.point.cost_per_l * (1.0 - EQUAL_COST):
            self.recipe = recipe
        return recipe.point

    def _tightened(self, node: Node) -> Node | None:
        """Tighten a node, and with it what could be needed of each thing in it."""
        self._closer = self.terms
        for _ in range(TIGHTENING_ROUNDS):
            self.program.relax(node)
            model = with_integers(self.program.engine.snapshot(), self.assembly, self._closer).model
            model = replace(model, integer=np.zeros(model.columns, dtype=bool))
            bounds = LinearBounds(Engine(with_cost_row(model, self.cutoff), only_costs_change=True))
            tighter = tighten_over(bounds, self._ratios, node, self._least)
            if tighter is None:
                return None
            self._closer = self._with_closer_needs(bounds)
            if bounds.is_empty:
                return None
            gained = _width(tighter) < WORTH_ANOTHER * _width(node)
            node = tighter
            if not gained:
                break
        return node

    def _with_closer_needs(self, bounds: LinearBounds) -> IntegerTerms:
        """Return the terms with the most of each thing that is worth having over a program."""
        terms, problem = self._closer, self.assembly.problem
        most = dict(terms.most)
        for thing in sorted({*things_of(terms.packs), *terms.choices.things(len(problem.price_per_kg))}):
            known = most.get(thing, np.inf)
            greatest = bounds.greatest(columns_of(self.assembly, thing), CLOSE_ENOUGH * known)
            if np.isfinite(greatest):
                most[thing] = min(known, greatest * (1.0 + INTEGER_FEASIBILITY) + INTEGER_FEASIBILITY)
        return replace(terms, most=most)

    def _solve_relaxation(self) -> LinearResult:
        model = self.program.engine.snapshot()
        self.proof_rounds += 1
        result, self._packs = self._solve(model, self._closer, self._seconds_left(), self.cutoff)
        if result.status is LinearStatus.INTERRUPTED and not np.isfinite(result.proven_bound):
            return replace(result, proven_bound=0.0)
        return result

    def _recipe(self, result: LinearResult) -> Point | None:
        return self._settle(self.program.point(result), self._packs)

    def _start_loop(self, result: LinearResult) -> Point | None:
        point = self._recipe(result)
        if point is not None or (self.incumbent is not None and self.nodes > NODES_AROUND):
            return point
        return self._around(self.program.point(result), self._seconds_left() / 2.0)


def _width(node: Node) -> float:
    return sum(interval.width for interval in (*node.ethanol, *node.solute, *node.share, *node.dose))
