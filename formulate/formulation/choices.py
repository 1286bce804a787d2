"""The `choose` part of a bottle file as the optimiser's choices, and why they cannot be kept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from formulate.bar.pantry import UnknownMassError
from formulate.errors import InfeasibleError, NotConvergedError, SpecError, SpecProblem
from formulate.files.issues import KeyPath, Problems
from formulate.formulation.bottle import Formulation
from formulate.optimise.diagnose import is_possible
from formulate.optimise.mip.integer_terms import Choices, IntegerTerms
from formulate.optimise.problem import BlendProblem
from formulate.quantity import AmountBasis

__all__ = ["broken_choices", "choices_of", "has_recipe", "possible_with"]

SECONDS = 3.0
"""Time for each question of what would do instead."""
ANY_RECIPE = 1.0
"""Gap at which a search stops with the first recipe it meets."""
MOST_MORE = 6


def choices_of(formulation: Formulation) -> Choices:
    """Turn names and amounts into positions and kilograms per litre.

    Returns
    -------
    Choices
        Empty (false) when the file chooses nothing.

    Raises
    ------
    SpecError
        If an amount cannot be weighed or needs the size of the batch.
    """
    least = [(one.index, one.low_kg_l) for one in formulation.doses if one.optional and one.low_kg_l > 0.0]
    choose = formulation.bottle.choose
    if choose is None:
        return Choices(least_if_used=tuple(least))
    number = {ingredient.id: position for position, ingredient in enumerate(formulation.ingredients)}
    problems = Problems(formulation.bottle.places)
    for name, amount in choose.least_if_used.items():
        path = ("choose", "least_if_used", name)
        ingredient = formulation.ingredients[number[name]]
        per_litre = amount.basis in (AmountBasis.MASS_PER_LITRE, AmountBasis.VOLUME_PER_LITRE)
        size = 1.0 if per_litre else formulation.problem.volume_l
        if size is None:
            problems.add(path, f"the size is not in litres, so say it per L bottled, got {amount.text!r}.")
            continue
        try:
            least.append((number[name], formulation.pantry.mass_kg(amount, ingredient) / size))
        except UnknownMassError as error:
            problems.add(path, str(error))
    problems.raise_if_any()
    return Choices(
        most_ingredients=choose.at_most,
        least_if_used=tuple(least),
        one_of=tuple(tuple(number[name] for name in group) for group in choose.one_of),
    )


def broken_choices(formulation: Formulation) -> tuple[SpecProblem, ...]:
    """Point at the choices that cannot be kept, where there is a recipe without them.

    Parameters
    ----------
    formulation
        Without a recipe that keeps its choices, with one that does not.

    Returns
    -------
    tuple of SpecProblem
        In the order of the file; dropping any one leaves choices that can be kept together, as far as that
        was settled in time.
    """
    choices = choices_of(formulation)
    kept = _parts(choices, formulation)
    for candidate in tuple(kept):
        fewer = [other for other in kept if other != candidate]
        if possible_with(formulation.problem, _joined(fewer)) is False:
            kept = fewer
    problems = Problems(formulation.bottle.places)
    beside = " beside the others named here" if len(kept) > 1 else ""
    for path, part in kept:
        text = f"cannot be kept{beside}: no recipe within the limits does."
        if part.most_ingredients is not None:
            others = [other for other in kept if other != (path, part)]
            needed = _enough(formulation, part.most_ingredients, others)
            sure = any(not taken.optional for taken in formulation.doses)
            leave = ", mark what may be left out `optional: true`" if sure else ""
            advice = f"Allow {needed}{leave}, or widen a target."
            if not needed:
                advice = f"Widen a target{leave}, or leave it out."
        elif part.one_of:
            advice = "Name another ingredient in the group, or widen a target."
        else:
            advice = "Ask for less of it, or widen a target."
        problems.add(path, f"{text} {advice}")
    return SpecError(problems.found).problems


def has_recipe(formulation: Formulation) -> bool | None:
    """Say whether any recipe keeps the limits and the choices of a question.

    Returns
    -------
    bool or None
        None when it was not settled in time.
    """
    choices = choices_of(formulation)
    return possible_with(formulation.problem, choices) if choices else is_possible(formulation.problem)


def possible_with(problem: BlendProblem, choices: Choices) -> bool | None:
    """Say whether any recipe keeps the limits and the choices.

    Returns
    -------
    bool or None
        None when it was not settled in time.
    """
    from formulate.optimise.mip.solve import solve_integer

    terms = IntegerTerms(problem.volume_l or 1.0, choices=choices)
    try:
        solve_integer(problem, terms, seconds=SECONDS, gap=ANY_RECIPE)
    except InfeasibleError:
        return False
    except NotConvergedError:
        return None
    return True


def _parts(choices: Choices, formulation: Formulation) -> list[tuple[KeyPath, Choices]]:
    """Take choices apart, each with its place in the file."""
    parts: list[tuple[KeyPath, Choices]] = []
    if choices.most_ingredients is not None:
        parts.append((("choose", "at_most"), Choices(most_ingredients=choices.most_ingredients)))
    for index, group in enumerate(choices.one_of):
        parts.append((("choose", "one_of", index), Choices(one_of=(group,))))
    bottle = formulation.bottle
    asked = bottle.choose.least_if_used if bottle.choose else {}
    for ingredient, least in choices.least_if_used:
        name = formulation.ingredients[ingredient].id
        path = ("choose", "least_if_used", name) if name in asked else bottle.path_of(ingredient)
        parts.append((path, Choices(least_if_used=((ingredient, least),))))
    return parts


def _joined(parts: Iterable[tuple[KeyPath, Choices]]) -> Choices:
    joined = Choices()
    for _, part in parts:
        joined = Choices(
            most_ingredients=joined.most_ingredients or part.most_ingredients,
            least_if_used=(*joined.least_if_used, *part.least_if_used),
            one_of=(*joined.one_of, *part.one_of),
        )
    return joined


def _enough(formulation: Formulation, allowed: int, others: Iterable[tuple[KeyPath, Choices]]) -> int | None:
    """Find the least number of ingredients that would do, everything else kept."""
    beside = _joined(others)
    for most in range(allowed + 1, min(allowed + MOST_MORE, len(formulation.ingredients)) + 1):
        if possible_with(formulation.problem, replace(beside, most_ingredients=most)):
            return most
    return None
