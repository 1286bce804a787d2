"""A question solved with the choices of its file."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from formulate.bar.pantry import Pantry
from formulate.blend.steps import LEAST_SHOWN_KG_L
from formulate.errors import UnboundedError
from formulate.files.bottle import Bottle
from formulate.files.measures import STRENGTH
from formulate.files.recipe import Recipe, RecipeLine
from formulate.formulation.bottle import Formulation, formulate_bottle
from formulate.formulation.choices import choices_of
from formulate.formulation.ingredient_limits import gone_limits
from formulate.optimise.answer import Answer
from formulate.optimise.mip.solve import at_size
from formulate.optimise.problem import BlendProblem, Over
from formulate.optimise.solve import solve
from formulate.quantity.amounts import Amount, AmountBasis

__all__ = [
    "as_it_stands",
    "ceiling_of",
    "question_of",
    "recipe_of",
    "size_not_tied",
    "sized_problem",
    "solve_formulation",
]

SECONDS = 20.0
"""Time a proof may take."""


def question_of(bottle: Bottle, pantry: Pantry) -> Formulation:
    """Ask the question of a bottle as its pantry stands; see `as_it_stands`.

    Raises
    ------
    SpecError
        If something in the files is wrong.
    """
    return as_it_stands(formulate_bottle(bottle, pantry))


def as_it_stands(formulation: Formulation) -> Formulation:
    """Take out of a question what the pantry says is gone, and limits on a cost that is set aside."""
    pantry, problem = formulation.pantry, formulation.problem
    if not pantry.gone and not pantry.cost_aside:
        return formulation
    gone = gone_limits(pantry, formulation.ingredients, problem.volume_l)
    formulation = formulation.without_doses([limit.origin.name for limit in gone], lows_only=True)
    limits = [*formulation.problem.limits, *gone]
    kept = [limit for limit in limits if not (pantry.cost_aside and limit.over is Over.COST)]
    return replace(formulation, problem=problem.asking(kept))


def ceiling_of(formulation: Formulation) -> float | None:
    """Return the most a litre may cost by a bottle file; None where it does not say.

    Parameters
    ----------
    formulation
        As the file asks.
    """
    limits = formulation.problem.limits
    most = [limit.upper for limit in limits if limit.over is Over.COST and np.isfinite(limit.upper)]
    return min(most, default=None)


def solve_formulation(formulation: Formulation, *, seconds: float = SECONDS) -> Answer:
    """Solve a question with the choices of its file.

    Parameters
    ----------
    seconds
        For the proof.

    Raises
    ------
    InfeasibleError, UnboundedError, NotConvergedError, VerificationError
        See `optimise.search.solve`.
    """
    choices = choices_of(formulation)
    if choices:
        from formulate.optimise.mip.solve import solve_with_choices

        return solve_with_choices(formulation.problem, choices, seconds=seconds)
    return solve(formulation.problem, seconds=seconds)


def size_not_tied(bottle: Bottle) -> UnboundedError:
    """Say why a size such as `use 3 bottles of vodka-40` may give no batch at all."""
    target = "" if bottle.targets.band(STRENGTH) else "a target that needs it (a strength, say), or "
    text = (
        f"the more of everything else, the cheaper the litre, without end, got {bottle.size.text}. "
        f"Add {target}an `at_least` on the ingredient used up."
    )
    return UnboundedError(bottle.places.problem(("size",), text))


def sized_problem(problem: BlendProblem, volume_l: float) -> BlendProblem:
    """Fix the size of the batch; a target on cost counts what is used, so whole packs are not held to it.

    Parameters
    ----------
    volume_l
        For a size that a limit or a vessel ties.
    """
    if problem.volume_l is None:
        size = [limit for limit in problem.limits if limit.origin == problem.size_origin]
        problem = at_size(problem, volume_l)
        # Where the size was what is there of a thing, no more of it than that is used.
        problem = problem.asking([*problem.limits, *(replace(limit, lower=-np.inf) for limit in size)])
    return problem.asking([limit for limit in problem.limits if limit.over is not Over.COST])


def recipe_of(
    bottle: Bottle,
    answer: Answer,
    *,
    name: str = "",
    bottle_path: str | None = None,
    shelf_path: str | None = None,
) -> Recipe:
    """Write what was solved for a bottle file as a recipe.

    Parameters
    ----------
    name
        Of the recipe; that of the bottle if not given.
    bottle_path, shelf_path
        How the recipe file names them.
    """
    from formulate import __version__

    chain, uses = answer.problem.chain, {use.id: use for use in bottle.uses}
    lines = tuple(
        RecipeLine(
            id=ingredient,
            amount=Amount(float(mass), AmountBasis.MASS),
            step=step.name,
            cut=None if ingredient not in uses else uses[ingredient].cut,
            drawn=None if ingredient not in uses else uses[ingredient].drawn,
        )
        for step, masses in zip(chain.steps, answer.masses_kg, strict=True)
        for ingredient, mass in zip(chain.materials.ids, masses, strict=True)
        if mass > LEAST_SHOWN_KG_L * answer.volume_l
    )
    return Recipe(
        name=name or bottle.name,
        bottle=bottle_path,
        shelf=shelf_path,
        volume_l=answer.volume_l,
        steps=bottle.resolved_steps(),
        ingredients=lines,
        measured=bottle.measured,
        kind=bottle.kind,
        plans=bottle.plans,
        made_by=f"formulate {__version__}",
    )
