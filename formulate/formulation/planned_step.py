"""A bottle or a recipe with another time, temperature or enzyme in its infusing step."""

from __future__ import annotations

from typing import TypeVar

from formulate.errors import FormulateError, SpecError, SpecProblem
from formulate.files.bottle import Bottle
from formulate.files.fields import did_you_mean
from formulate.files.infusing import PlanText
from formulate.files.recipe import Recipe
from formulate.files.steps import EnzymeUse, StepSpec

__all__ = ["USUAL_DOSE_G_PER_KG", "infusing_step", "with_plan", "with_planned_step"]

USUAL_DOSE_G_PER_KG = 2.0
"""Where a plan wants enzyme and the file gives no dose: the middle of retail practice (common practice)."""

Made = TypeVar("Made", Bottle, Recipe)


def infusing_step(made: Bottle | Recipe, step: str | None = None) -> int:
    """Find the step that infuses: the first one that strains, or the one named.

    Parameters
    ----------
    step
        Name of the step.

    Returns
    -------
    int
        Its position.

    Raises
    ------
    FormulateError
        If no step has that name.
    SpecError
        If no step strains, or the named one does not.
    """
    specs = made.resolved_steps()
    names = [spec.name for spec in specs]
    if step is not None:
        if step not in names:
            raise FormulateError(f"no step called '{step}' here. {did_you_mean(step, names)}")
        if not specs[names.index(step)].strain:
            raise SpecError([_unstrained(made, f"nothing is strained off at the end of {step}")])
        return names.index(step)
    straining = [position for position, spec in enumerate(specs) if spec.strain]
    if not straining:
        raise SpecError([_unstrained(made, "no step strains, so there is nothing to infuse")])
    return straining[0]


def with_plan(made: Made, plan: PlanText, step: str | None = None) -> Made:
    """Put a plan into the infusing step.

    Parameters
    ----------
    made
        Stays as it is.
    step
        Name of the step; see `infusing_step`.

    Returns
    -------
    Bottle or Recipe
        With every step written out.

    Raises
    ------
    FormulateError, SpecError
        See `infusing_step`.
    """
    position = infusing_step(made, step)
    specs = list(made.resolved_steps())
    specs[position] = with_planned_step(specs[position], plan)
    return made.model_copy(update={"steps": tuple(specs)})


def with_planned_step(spec: StepSpec, plan: PlanText) -> StepSpec:
    """Put a plan into a step; what the plan does not say stays."""
    enzyme = spec.enzyme
    if plan.enzyme is False:
        enzyme = None
    elif plan.enzyme:
        dose = USUAL_DOSE_G_PER_KG if enzyme is None else enzyme.dose_g_per_kg
        order = plan.order or ("before spirit" if enzyme is None else enzyme.when)
        enzyme = EnzymeUse(dose_g_per_kg=dose, when=order)
    return spec.model_copy(
        update={"time_h": plan.time_h, "temperature_c": plan.temperature_c, "enzyme": enzyme}
    )


def _unstrained(made: Bottle | Recipe, what: str) -> SpecProblem:
    path = ("steps",) if made.steps else ("ingredients",)
    return made.places.problem(path, f"{what}. Add `strain: true` to the step the plants are in.", key=True)
