"""Recipes in whole numbers: the loop and the proof with a mixed-integer program at each turn.

The continuous recipe is solved first. Around it the program with whole numbers (`whole`) is
solved; with the packs it finds, the masses are settled as any other recipe (`settled`). What
that costs says how much of each thing could be worth having (`need`), and so which packs are
too many or too large. The proof then splits the same boxes as `proof`, with the whole numbers
kept in each relaxation, so the gap reported covers both.
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
from formulate.optimise.linear import LinearModel, LinearResult, LinearStatus
from formulate.optimise.mip.fixed_integers import Found, cover, floors_of, settled
from formulate.optimise.mip.integer_terms import Choices, WholeTerms, with_whole_numbers
from formulate.optimise.mip.need import Bounds
from formulate.optimise.mip.packs import things_of
from formulate.optimise.problem import USED_KG_PER_L, BlendProblem, Over
from formulate.optimise.program import LiveModel, Point
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.solve import cheapest, solve
from formulate.optimise.tree.proof import A_TIE, BoxSearch, Proof, whole_space
from formulate.optimise.tree.relaxation import Box

__all__ = ["WholeAnswer", "answer_of", "at_size", "solve_chosen", "solve_whole"]

FloatArray = NDArray[np.float64]

ROUNDS = 4
GAP = 1e-4
"""Gap at which a recipe in whole packs or with choices is called the cheapest."""
SETTLING_ROOM = 1e-6
"""Part of that gap left for a recipe settled a second time, which may come out a hair dearer."""
INNER_GAP = 2e-5
"""Gap of each program in whole numbers."""
NARROWINGS = 3
WORTH_ANOTHER = 0.7
"""A box is narrowed again when its width fell below this share."""
AROUND_BOXES = 1
"""With a recipe known, the loop is started too from so many boxes, where they cannot be settled."""
FIRST_SHARE = 0.4
"""Share of the time that may go by until a first recipe is known."""
A_HAIR = 1e-9
LEAST_SECONDS = 0.1
"""No program is given less time than this, however little is left."""


@dataclass(frozen=True)
class WholeAnswer:
    """A recipe in whole numbers.

    Attributes
    ----------
    status : Status
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
    seconds : float
    """

    status: Status
    point: Point
    packs: FloatArray
    paid: float
    proven_gap: float
    rounds: int
    proof_solves: int
    seconds: float


def solve_whole(
    problem: BlendProblem, terms: WholeTerms, *, seconds: float = 20.0, gap: float = GAP
) -> WholeAnswer:
    """Find the cheapest recipe in whole packs, or with choices of what to use, and bound it.

    Parameters
    ----------
    problem : BlendProblem
        Of known size where there are packs, and then without limits on cost: those count use.
    terms : WholeTerms
    seconds : float
        Time in all; the gap reached by then is reported.
    gap : float
        Relative gap to close.

    Returns
    -------
    WholeAnswer
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
        return _whole_by_cases(problem, terms, seconds=seconds, gap=gap)
    search = _WholeSearch(LiveModel(assemble(problem)), _for_losses(problem, terms), gap)
    proof = search.run(10**6, seconds)
    if proof.best is None or search.found is None:
        if proof.complete:
            raise InfeasibleError(None)
        raise NotConvergedError(search.rounds, np.inf)
    return WholeAnswer(
        status=Status.OPTIMAL if proof.complete else Status.FEASIBLE,
        point=search.found.point,
        packs=search.found.packs,
        paid=search.found.paid,
        proven_gap=proof.gap,
        rounds=search.rounds,
        proof_solves=search.proof_rounds,
        seconds=time.monotonic() - started,
    )


def _whole_by_cases(problem: BlendProblem, terms: WholeTerms, *, seconds: float, gap: float) -> WholeAnswer:
    """Do the same where a case of each disjunction must hold."""

    def ask(case: BlendProblem, left: float) -> Outcome[WholeAnswer]:
        whole = solve_whole(case, terms, seconds=left, gap=gap)
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


def solve_chosen(problem: BlendProblem, choices: Choices, *, seconds: float = 20.0) -> Answer:
    """Find the cheapest recipe that also keeps choices of what is used at all.

    Parameters
    ----------
    problem : BlendProblem
    choices : Choices
    seconds : float

    Returns
    -------
    Answer
        Prices of limits hold with the chosen ingredients as they are; the gap covers the choice.

    Raises
    ------
    InfeasibleError, NotConvergedError, UnboundedError, VerificationError
        As `search.solve`.
    """
    started = time.perf_counter()
    if problem.disjunctions:
        return answer_by_cases(
            problem, lambda case, left: solve_chosen(case, choices, seconds=left), seconds=seconds, gap=GAP
        )
    terms = WholeTerms(problem.volume_l or 1.0, choices=choices)
    is_money = problem.money_counts and not any(limit.soft for limit in problem.limits)
    # Where it is not money the two gaps add up below, so each closes its half.
    whole = solve_whole(problem, terms, seconds=seconds, gap=GAP - SETTLING_ROOM if is_money else GAP / 2.0)
    used = problem.masses(whole.point.columns).sum(axis=0) > USED_KG_PER_L
    kept = used[problem.place_ingredient]
    chosen = replace(
        problem,
        place_ingredient=problem.place_ingredient[kept],
        place_step=problem.place_step[kept],
        limits=(*problem.limits, *floors_of(terms, used)),
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
        status=Status.OPTIMAL if gap <= GAP else Status.FEASIBLE,
        proven_gap=gap,
        passes=answer.passes + whole.rounds,
        proof_solves=answer.proof_solves + whole.proof_solves,
        seconds=time.perf_counter() - started,
    )


def answer_of(problem: BlendProblem, whole: WholeAnswer) -> Answer:
    """Verify a recipe in whole numbers and lay it out as any other answer.

    Parameters
    ----------
    problem : BlendProblem
        Of known size, as solved.
    whole : WholeAnswer

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


def _for_losses(problem: BlendProblem, terms: WholeTerms) -> WholeTerms:
    """Return the terms with the most of each thing raised for the liquor that steps lose.

    The usual bounds are of a litre bottled; where half of it is lost twice as much goes in.
    """
    kept = float(np.prod([1.0 - step.loss_fraction for step in problem.chain.steps]))
    things = {*things_of(terms.packs), *terms.choices.things(len(problem.price_per_kg))}
    most = {thing: terms.most_kg_per_l(thing) / max(kept, A_HAIR) for thing in things}
    return replace(terms, most=most | terms.most)


class _WholeSearch(BoxSearch):
    """The search over boxes with whole numbers kept in every relaxation; used once."""

    edge = 0.4
    """Boxes are narrowed before they are looked at, so halves serve better than slices."""

    def __init__(self, live: LiveModel, terms: WholeTerms, gap: float) -> None:
        super().__init__(live, None, gap)
        self.terms = terms
        self.deadline = np.inf
        self.found: Found | None = None
        self.rounds = 0
        self.proof_rounds = 0
        self._packs = np.zeros(0)
        self._closer = terms

    def run(self, most_solves: int, seconds: float) -> Proof:
        """Look for a first recipe, then split boxes until the gap is closed or time is up."""
        self.deadline = time.monotonic() + seconds
        start = cheapest(self.live).point
        self.live.set_cost(self.assembly.cost)
        if start is not None:
            packs = cover(self.terms, self.assembly, start)
            if packs is not None:
                self._offer(self._settle(start, packs))
            if self._narrowed(whole_space(self.assembly)) is not None:
                self.terms = self._closer
            self._offer(self._around(start, self._seconds_left() * FIRST_SHARE))
        return super().run(most_solves, max(self._seconds_left(), LEAST_SECONDS))

    def _seconds_left(self) -> float:
        return self.deadline - time.monotonic()

    def _around(self, start: Point, seconds: float) -> Point | None:
        """Solve with whole numbers around a recipe until what they say can be settled."""
        at, until = start, time.monotonic() + seconds
        for _ in range(ROUNDS):
            self.live.linearise(at, frozen=False)
            model = self.live.engine.snapshot()
            self.rounds += 1
            result, packs = self._solve(model, self._closer, until - time.monotonic(), self.cut_off)
            if not result.values.size:
                return None
            at = self.live.point(result)
            point = self._settle(at, packs)
            if point is not None or time.monotonic() > until:
                return point
        return None

    def _solve(
        self, model: LinearModel, terms: WholeTerms, seconds: float, cut_off: float = np.inf
    ) -> tuple[LinearResult, FloatArray]:
        """Solve a snapshot of the live program with the whole numbers added."""
        whole = with_whole_numbers(model, self.assembly, terms)
        result = solve_model(whole.model, seconds=max(seconds, LEAST_SECONDS), gap=INNER_GAP, cut_off=cut_off)
        if not result.values.size:
            return result, np.zeros(0)
        packs = result.values[whole.pack_columns]
        loose = np.array([pack.loose for pack in self.terms.packs], dtype=bool)
        return result, np.where(loose, np.maximum(packs, 0.0), np.rint(packs))

    def _settle(self, start: Point, packs: FloatArray) -> Point | None:
        found = settled(self.assembly, self.terms, start, packs)
        if found is None:
            return None
        if self.found is None or found.point.cost_per_l < self.found.point.cost_per_l * (1.0 - A_TIE):
            self.found = found
        return found.point

    def _narrowed(self, box: Box) -> Box | None:
        """Narrow a box, and with it what could be needed of each thing in it."""
        self._closer = self.terms
        for _ in range(NARROWINGS):
            self.live.relax(box)
            bounds = Bounds(self.live.engine.snapshot(), self.assembly, self._closer, self.cut_off)
            narrowed = bounds.box(box)
            closer = bounds.needs() if narrowed is not None else None
            if narrowed is None or closer is None:
                return None
            gained = _width(narrowed) < WORTH_ANOTHER * _width(box)
            box, self._closer = narrowed, closer
            if not gained:
                break
        return box

    def _relaxation(self) -> LinearResult:
        model = self.live.engine.snapshot()
        self.proof_rounds += 1
        result, self._packs = self._solve(model, self._closer, self._seconds_left(), self.cut_off)
        if result.status is LinearStatus.INTERRUPTED and not np.isfinite(result.proven_bound):
            return replace(result, proven_bound=0.0)
        return result

    def _recipe(self, result: LinearResult) -> Point | None:
        return self._settle(self.live.point(result), self._packs)

    def _start_loop(self, result: LinearResult) -> Point | None:
        point = self._recipe(result)
        if point is not None or (self.best is not None and self.boxes > AROUND_BOXES):
            return point
        return self._around(self.live.point(result), self._seconds_left() / 2.0)


def _width(box: Box) -> float:
    return sum(range_.width for range_ in (*box.ethanol, *box.solute, *box.share, *box.dose))
