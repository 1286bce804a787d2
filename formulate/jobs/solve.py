"""`solve`: a bottle file to the cheapest recipe, proved and verified."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry
from formulate.describe.no_recipe import no_recipe
from formulate.describe.solved import SolvedBottle, solved_record
from formulate.describe.targets import at_the_edge, in_the_middle
from formulate.errors import InfeasibleError, UnboundedError
from formulate.files.bottle import Bottle, load_bottle
from formulate.files.infusing import PlanText, parse_plan
from formulate.files.models import Source
from formulate.formulation.planned_step import with_plan
from formulate.formulation.solving import question_of, size_not_tied, solve_formulation
from formulate.jobs.nearest import at_the_middle
from formulate.rules.law_notes import shown_everywhere

__all__ = ["solve_bottle", "solve_loaded"]


def solve_bottle(
    path: Source,
    today: date | None = None,
    plan: PlanText | str | None = None,
    step: str | None = None,
    *,
    middle: bool = False,
) -> SolvedBottle:
    """Solve a bottle file.

    Parameters
    ----------
    today : date, optional
        What `keep_by` dates and the age of the stock are held against; the day it is if not given.
    plan : PlanText or str, optional
        Time, temperature and enzyme of the infusing step, instead of the file's: ``3 h at 40 °C``.
    step : str, optional
        Name of that step; the first one that strains if not given.
    middle : bool
        Whether to aim at the middle of each band instead of just inside.

    Raises
    ------
    SpecError
        If a file is wrong.
    InfeasibleError
        With a `NoRecipe`, when no recipe exists.
    UnboundedError, NotConvergedError, VerificationError
        See `optimise.search.solve`.
    """
    bottle = load_bottle(path)
    if isinstance(plan, str):
        plan = parse_plan(plan)
    if plan is not None:
        bottle = with_plan(bottle, plan, step)
    return solve_loaded(bottle, today=today, middle=middle)


def solve_loaded(
    bottle: Bottle, *, today: date | None = None, middle: bool = False, pantry: Pantry | None = None
) -> SolvedBottle:
    """Solve a bottle that was read, and perhaps changed, already.

    Parameters
    ----------
    today, middle
        As for `solve_bottle`, and it raises the same.
    pantry : Pantry, optional
        In place of the shelf that the file names.
    """
    if pantry is None:
        pantry = open_pantry(bottle.shelf_path, bottle.places, today=today)
    formulation = question_of(bottle, pantry)
    formulation = at_the_middle(formulation) if middle else formulation
    try:
        answer = solve_formulation(formulation)
    except InfeasibleError:
        raise InfeasibleError(no_recipe(formulation, lambda other: question_of(other, pantry))) from None
    except UnboundedError:
        raise size_not_tied(bottle) from None
    record = solved_record(formulation, answer)
    aim_notes = in_the_middle(formulation.off_middle) if middle else at_the_edge(record.targets)
    law_notes = shown_everywhere(record.notes)
    rest = [note for note in record.notes if note not in law_notes]
    return SolvedBottle(replace(record, notes=(*law_notes, *aim_notes, *rest)), formulation, answer)
