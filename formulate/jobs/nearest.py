"""The nearest there is: to targets that no recipe meets (`solve --nearest`), to the middles of bands."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from formulate.describe.no_recipe import NoRecipe
from formulate.describe.records import TargetRecord
from formulate.describe.solved import SolvedBottle, solved_record
from formulate.errors import InfeasibleError, NotConvergedError, Note, UnboundedError, VerificationError
from formulate.formulation.bottle import Formulation
from formulate.formulation.choices import choices_of, has_recipe
from formulate.formulation.targets import is_band, middle_of
from formulate.optimise.answer import Answer
from formulate.optimise.diagnose import nearest_question
from formulate.optimise.mip.integer_terms import Choices
from formulate.optimise.problem import BlendProblem, Limit
from formulate.optimise.solve import solve
from formulate.optimise.tolerances import HELD_TO

__all__ = ["NEAREST", "at_the_middle", "nearest_answer", "nearest_recipe"]

NEAREST = "nearest"
"""Status of a recipe that misses a target by as little as can be."""

SECONDS = 5.0


def nearest_recipe(nothing: NoRecipe) -> SolvedBottle | None:
    """Find the recipe that comes nearest to the targets of a bottle file that has none.

    The misses are counted in tolerances (half the width of a band, a twentieth of a one-sided bound) and
    added up; limits on ingredients hold. Of the recipes that come equally near the cheapest is taken.

    Returns
    -------
    SolvedBottle or None
        With status `nearest`; None when the limits on ingredients clash by themselves, so that nothing
        comes near, or none was found.
    """
    formulation = nothing.formulation
    found = _nearest(formulation)
    if found is not None and found.record.law is not None and found.record.law.over:
        # Weaker or stronger than was asked for, it comes under limits that were not in the question.
        found = _nearest(formulation.at_strengths(0.0, inf))
    return found


def _nearest(formulation: Formulation) -> SolvedBottle | None:
    choices = choices_of(formulation)
    answer = nearest_answer(formulation.problem, choices)
    kept = bool(choices) and answer is not None
    if answer is None and choices:  # the choices cannot be kept whatever the targets miss
        answer = nearest_answer(formulation.problem)
    if answer is None:
        return None
    record = solved_record(formulation, answer, chosen=kept)
    asked = [limit for limit in formulation.problem.limits if limit.is_target]
    targets = tuple(_target(target, limit) for target, limit in zip(record.targets, asked, strict=True))
    notes = [_note()] if choices and not kept else []
    cost = None if record.cost is None else replace(record.cost, proven_gap=None)
    record = replace(record, status=NEAREST, targets=targets, cost=cost, notes=(*notes, *record.notes))
    return SolvedBottle(record, replace(formulation, problem=answer.problem), answer)


def nearest_answer(problem: BlendProblem, choices: Choices | None = None) -> Answer | None:
    """Solve for the least miss, then for the cheapest recipe that misses no more.

    Parameters
    ----------
    problem
        Without a recipe.
    choices
        Which ingredients may go together; kept.

    Returns
    -------
    Answer or None
        Its problem has the missed bounds moved to what is reached.
    """
    try:
        nearest = _solved(nearest_question(problem), choices)
    except (InfeasibleError, NotConvergedError, UnboundedError):
        return None
    moved = [
        _moved(limit, value.value / value.limit.display) if limit.is_target else limit
        for limit, value in zip(problem.limits, nearest.limits, strict=True)
    ]
    try:
        return _solved(problem.asking(moved), choices)
    except (InfeasibleError, NotConvergedError, UnboundedError, VerificationError):
        return nearest


def at_the_middle(asked: Formulation) -> Formulation:
    """Aim at the middle of every band; where they cannot all have it, as near to theirs as they can come.

    How far off each is counts in halves of its band, added up.
    """
    narrowed = asked.aiming_at_the_middle()
    if has_recipe(narrowed) is not False or has_recipe(asked) is not True:
        return narrowed
    limits = asked.problem.limits
    middles = [middle_of(limit) for limit in limits]
    wished = [
        replace(middle, penalty=2.0 / (limit.upper - limit.lower), is_target=False)
        for limit, middle in zip(limits, middles, strict=True)
        if is_band(limit)
    ]
    try:
        nearest = _solved(asked.problem.asking([*limits, *wished]).for_free(), choices_of(asked))
    except (InfeasibleError, NotConvergedError, UnboundedError, VerificationError):
        return narrowed
    moved, off = [], []
    for limit, middle, reached in zip(limits, middles, nearest.limits, strict=False):
        value = reached.value / reached.limit.display if is_band(limit) else limit.lower
        aimed = _moved(middle, value) if is_band(limit) else limit
        off += [] if aimed == middle else [limit.origin.name]
        moved.append(aimed)
    return replace(narrowed, problem=asked.problem.asking(moved), off_middle=tuple(off))


def _solved(problem: BlendProblem, choices: Choices | None) -> Answer:
    if choices:
        from formulate.optimise.mip.solve import solve_with_choices

        return solve_with_choices(problem, choices, seconds=SECONDS)
    return solve(problem, seconds=SECONDS)


def _moved(limit: Limit, value: float) -> Limit:
    """Move a missed bound to what is reached, and leave a met one where it is."""
    room = HELD_TO * limit.scale
    if value < limit.lower - room:
        return replace(limit, lower=value - room)
    return replace(limit, upper=value + room) if value > limit.upper + room else limit


def _note() -> Note:
    return Note("choices_left_out", "What the file says under `choose` was left out of the nearest recipe.")


def _target(target: TargetRecord, asked: Limit) -> TargetRecord:
    """Hold what is reached against what was asked, not against the bound that was moved."""
    lower, upper = asked.lower * asked.display, asked.upper * asked.display
    return replace(
        target,
        lower=None if target.lower is None else lower,
        upper=None if target.upper is None else upper,
        binding=target.binding or _missed(target, asked),
        shadow_price=None,
    )


def _missed(target: TargetRecord, asked: Limit) -> bool:
    return asked.violation(target.value / asked.display) > HELD_TO * asked.scale
