"""Rules that hold only where something is used, or only for weak drinks: one case of several must hold whole.

A disjunction is branched on only where it has to be. The question without it is a relaxation: where the
recipe it gives keeps a case of every disjunction, that recipe and its proof stand. Otherwise the cases are
asked one by one, those that cannot be cheaper are left out, and the bounds of all are put together.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from formulate.errors import InfeasibleError, NotConvergedError, VerificationError
from formulate.optimise.answer import Answer, Status, measure
from formulate.optimise.problem import BlendProblem, Case, Disjunction, Over, limit_value
from formulate.optimise.tolerances import VERIFIED_SLACK

__all__ = [
    "Outcome",
    "answer_by_cases",
    "cheapest_case",
    "empty_first_steps",
    "every_case",
    "gap_to",
    "keeps",
    "strictest",
    "with_case",
]

FloatArray = NDArray[np.float64]
T = TypeVar("T")

LEAST_SECONDS = 0.5
"""Time each case is given at the least, so that one that comes last is asked at all."""


@dataclass(frozen=True)
class Outcome(Generic[T]):
    """What a question without disjunctions answered.

    Attributes
    ----------
    masses_kg : ndarray, shape (steps, n)
        Of any size of batch.
    bottled : ndarray, shape (carried,)
        What these masses give.
    volume_l : float
        The same.
    cost_per_l : float
        Whatever is minimised, per litre bottled.
    bound : float
        Less than this no recipe of the question comes to.
    """

    answer: T
    masses_kg: FloatArray
    bottled: FloatArray
    volume_l: float
    cost_per_l: float
    bound: float


def cheapest_case(
    problem: BlendProblem, ask: Callable[[BlendProblem, float], Outcome[T]], *, seconds: float
) -> Outcome[T]:
    """Find the best answer over every way to keep the disjunctions of a question.

    Parameters
    ----------
    ask : callable
        Answers a question without disjunctions within some seconds, or raises.
    seconds : float
        In all.

    Returns
    -------
    Outcome
        `bound` holds for the whole question.

    Raises
    ------
    InfeasibleError
        When that is proved of every case.
    NotConvergedError, VerificationError
        What the last case without an answer raised, where none has one.
    """
    end = time.monotonic() + seconds
    best: Outcome[T] | None = None
    unanswered: NotConvergedError | VerificationError | None = None
    lowest = np.inf
    open_questions = [(problem, -np.inf)]
    while open_questions:
        question, floor = open_questions.pop()
        if best is not None and floor >= best.cost_per_l:
            lowest = min(lowest, floor)
            continue
        apart = next((rule for rule in question.disjunctions if rule.apart), None)
        if apart is not None:
            open_questions += [(case, floor) for case in _asked_in(question, apart)]
            continue
        plain = replace(question, disjunctions=())
        try:
            outcome = ask(plain, max(end - time.monotonic(), LEAST_SECONDS))
        except InfeasibleError:
            continue
        except (NotConvergedError, VerificationError) as error:
            # Its cases may still have an answer; what is not known here bounds nothing.
            if question.disjunctions:
                open_questions += [(case, floor) for case in _asked_in(question, question.disjunctions[0])]
            else:
                unanswered, lowest = error, min(lowest, floor)
            continue
        bound = max(outcome.bound, floor)
        broken = next((rule for rule in question.disjunctions if not _keeps_any(outcome, rule.cases)), None)
        if broken is None:
            lowest = min(lowest, bound)
            if best is None or outcome.cost_per_l < best.cost_per_l:
                best = outcome
            continue
        open_questions += [(case, bound) for case in _asked_in(question, broken)]
    if best is None:
        raise unanswered or InfeasibleError(None)
    return replace(best, bound=min(lowest, best.cost_per_l))


def answer_by_cases(
    problem: BlendProblem, solve: Callable[[BlendProblem, float], Answer], *, seconds: float, gap: float
) -> Answer:
    """Solve a question whose disjunctions must hold.

    Parameters
    ----------
    solve : callable
        Solves a question without disjunctions within some seconds.
    seconds : float
        In all.
    gap : float
        Up to which a recipe counts as the cheapest.

    Returns
    -------
    Answer
        Its problem holds the limits of the cases that it keeps.

    Raises
    ------
    InfeasibleError, NotConvergedError, UnboundedError, VerificationError
        As `cheapest_case` and `solve`.
    """
    started = time.perf_counter()

    def ask(case: BlendProblem, left: float) -> Outcome[Answer]:
        answer = solve(case, left)
        charged = _charged_per_l(answer)
        return Outcome(
            answer,
            answer.masses_kg,
            answer.run.bottled,
            answer.volume_l,
            charged,
            charged * (1.0 - answer.proven_gap),
        )

    best = cheapest_case(problem, ask, seconds=seconds)
    reached = gap_to(best)
    answer = _with_kept_cases(best, problem.disjunctions)
    return replace(
        answer,
        limits=answer.limits[: len(problem.limits)],
        proven_gap=reached,
        status=Status.OPTIMAL if reached <= gap else Status.FEASIBLE,
        seconds=time.perf_counter() - started,
    )


def gap_to(outcome: Outcome[T]) -> float:
    """Return how much dearer, relative, an outcome may be than the cheapest."""
    if outcome.cost_per_l <= 0.0:
        return 0.0
    return max(1.0 - outcome.bound / outcome.cost_per_l, 0.0)


def every_case(problem: BlendProblem) -> Iterator[BlendProblem]:
    """Ask a question in every way to keep its disjunctions."""
    plain = replace(problem, disjunctions=())
    for cases in product(*(disjunction.cases for disjunction in problem.disjunctions)):
        question = plain
        for case in cases:
            question = with_case(question, case)
        yield question


def strictest(problem: BlendProblem) -> BlendProblem:
    """Return a question in which the last case of each disjunction holds: the rule, not a way round it."""
    plain = replace(problem, disjunctions=())
    for disjunction in problem.disjunctions:
        plain = with_case(plain, disjunction.cases[-1])
    return plain


def _charged_per_l(answer: Answer) -> float:
    """Return what was minimised, per litre bottled: money where it counts, and what soft limits charge."""
    problem = answer.problem
    measured = measure(problem, answer.masses_kg, answer.purchases_kg)
    charged = sum(
        limit.penalty * limit.violation(float(value))
        for limit, value in zip(problem.limits, measured.values, strict=True)
        if limit.soft
    )
    return charged + (answer.cost_per_l if problem.money_counts else 0.0)


def _with_kept_cases(outcome: Outcome[Answer], disjunctions: Sequence[Disjunction]) -> Answer:
    """Put the limits of the cases that a recipe keeps into its question, so that rounding keeps them too."""
    answer = outcome.answer
    known = {id(limit) for limit in answer.problem.limits}
    cases = [
        next(case for case in rule.cases if keeps(case, outcome.masses_kg, outcome.bottled, outcome.volume_l))
        for rule in disjunctions
    ]
    new = tuple(limit for case in cases for limit in case.limits if id(limit) not in known)
    if not new:
        return answer
    problem = answer.problem.asking([*answer.problem.limits, *new])
    return replace(answer, problem=problem)


def _asked_in(problem: BlendProblem, disjunction: Disjunction) -> list[BlendProblem]:
    """Ask a question in each case of one of its disjunctions, the last case first."""
    rest = tuple(rule for rule in problem.disjunctions if rule is not disjunction)
    plain = replace(problem, disjunctions=rest)
    return [with_case(plain, case) for case in reversed(disjunction.cases)]


def empty_first_steps(problem: BlendProblem) -> tuple[Disjunction, ...]:
    """Say which first steps may stay empty, where that saves what a vessel keeps of every batch.

    Returns
    -------
    tuple of Disjunction
        None or one; its last case is that something goes in.
    """
    last_step = np.zeros(len(problem.price_per_kg), dtype=int)
    np.maximum.at(last_step, problem.place_ingredient, problem.place_step)
    needed = [
        int(last_step[limit.indices].max())
        for limit in problem.limits
        if limit.over is Over.MASSES
        and limit.lower > 0.0
        and len(limit.indices)
        and (limit.weights >= 0).all()
    ]
    cases = [
        Case(empty=frozenset(range(position + 1)))
        for position, step in enumerate(problem.chain.steps[:-1])
        if step.fixed_loss_kg > 0.0 and not any(position >= latest for latest in needed)
    ]
    return (Disjunction((*cases, Case()), apart=True),) if cases else ()


def with_case(problem: BlendProblem, case: Case) -> BlendProblem:
    """Return a question in which a case holds."""
    left_out = np.isin(problem.place_ingredient, list(case.without))
    is_left = ~(left_out | np.isin(problem.place_step, list(case.empty)))
    return replace(
        problem,
        place_ingredient=problem.place_ingredient[is_left],
        place_step=problem.place_step[is_left],
        limits=(*problem.limits, *case.limits),
    )


def keeps(case: Case, masses_kg: FloatArray, bottled: FloatArray, volume_l: float) -> bool:
    """Tell whether a batch keeps a case.

    Parameters
    ----------
    masses_kg : ndarray, shape (steps, n)
    bottled : ndarray, shape (carried,)
    """
    used = masses_kg.sum(axis=0) / volume_l
    if any(masses_kg[step].any() for step in case.empty) or any(
        used[ingredient] > 0.0 for ingredient in case.without
    ):
        return False
    values = [limit_value(limit, bottled / volume_l, used, 1.0 / volume_l, 0.0) for limit in case.limits]
    return all(
        limit.violation(value) <= VERIFIED_SLACK * limit.scale
        for limit, value in zip(case.limits, values, strict=True)
    )


def _keeps_any(outcome: Outcome[T], cases: Sequence[Case]) -> bool:
    return any(keeps(case, outcome.masses_kg, outcome.bottled, outcome.volume_l) for case in cases)
