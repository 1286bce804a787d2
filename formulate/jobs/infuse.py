"""`infuse`: how long and how warm, with or without enzyme, for a bottle or a recipe.

The amounts are those of the recipe (a bottle is solved first); every plan is worked out with them,
so that plans can be compared. `solve --infuse` then weighs in anew for the plan chosen.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.bar.vessels import fills_of
from formulate.describe.doses import unusual_dose_notes
from formulate.describe.infuse_record import InfuseRecord, Plan, PlanLimits, Probe, Redosed
from formulate.describe.vessels import fill_notes, fitting_notes
from formulate.errors import (
    InfeasibleError,
    NotConvergedError,
    Note,
    SpecError,
    UnboundedError,
    VerificationError,
)
from formulate.files.bottle import Bottle
from formulate.files.disk import is_there
from formulate.files.infusing import PlanText, parse_plan, plan_text
from formulate.files.loading import load_any
from formulate.files.models import InMemory, Source, path_of
from formulate.files.recipe import Recipe
from formulate.files.steps import ENZYME, StepSpec
from formulate.formulation.bottle import Formulation, formulate_bottle
from formulate.formulation.choices import choices_of
from formulate.formulation.planned_step import infusing_step, with_plan
from formulate.formulation.solving import recipe_of
from formulate.jobs.options import read_limits, read_probe, read_temperature
from formulate.jobs.solve import solve_bottle
from formulate.optimise.watch import tell
from formulate.planning.infusion_choice import (
    LONGEST_H,
    choose,
    is_hours_for_days,
    own_plans,
    plan_between,
    plan_rows,
)
from formulate.planning.infusion_notes import plan_cautions, plan_notes
from formulate.planning.infusion_plans import PlanTable
from formulate.quantity.words import read_option
from formulate.rules.law import law_of
from formulate.rules.law_notes import law_notes, own_content_notes

__all__ = ["compare_plans", "infuse_texts"]


SECONDS = 5.0
"""For weighing in anew where the bottle chooses among its ingredients."""


def infuse_texts(
    file: Source,
    *,
    plans: Sequence[str] = (),
    step: str | None = None,
    start: str = "20 °C",
    drawn: str | None = None,
    harsh: str | None = None,
    colour_left: str | None = None,
    pectin_left: str | None = None,
    hottest: str | None = None,
    clear: bool | None = None,
    still: bool = False,
    probe: str | None = None,
    bath: str | None = None,
    today: date | None = None,
) -> InfuseRecord:
    """Compare infusing plans for a bottle or a recipe, what is asked typed as texts.

    Parameters
    ----------
    plans : sequence of str
        Plans to compare besides the usual ones and those of the file, such as ``36 h at 4 °C``.
    step : str, optional
        The step that infuses; else the first one that strains.
    start : str
        What the jar starts from.
    drawn, harsh, colour_left : str, optional
        Shares such as ``80 %``: least drawn out of each plant, most coarse bitterness, least colour left.
    pectin_left : str, optional
        Most pectin left, such as ``0.3 g/L``; says that the bottle shall be clear.
    hottest : str, optional
        Hottest plan to recommend, such as ``60 °C``.
    clear : bool, optional
        Whether the bottle shall be clear; else as the file filters it.
    still : bool
        Whether nobody stirs, so that the jar warms by conduction alone.
    probe, bath : str, optional
        A reading in the jar, ``35 °C after 20 min``, and how warm the bath is.
    today : date, optional
        What dates on the shelf are held against.

    Raises
    ------
    FormulateError
        Naming what cannot be read; and as `compare_plans`.
    """
    start_c = read_temperature("--start", start)
    return compare_plans(
        file,
        limits=read_limits(drawn, harsh, colour_left, pectin_left, hottest),
        plans=tuple(read_option("--plan", plan, parse_plan) for plan in plans),
        clear=True if clear is None and pectin_left is not None else clear,
        step=step,
        start_c=start_c,
        still=still,
        probe=read_probe(probe, bath, start_c),
        today=today,
    )


def compare_plans(
    file: Source,
    *,
    limits: PlanLimits | None = None,
    plans: Sequence[PlanText] = (),
    clear: bool | None = None,
    step: str | None = None,
    start_c: float = 20.0,
    still: bool = False,
    probe: Probe | None = None,
    today: date | None = None,
) -> InfuseRecord:
    """Compare infusing plans for a bottle or a recipe file.

    Parameters
    ----------
    limits : PlanLimits, optional
        What a recommended plan must keep.
    plans : sequence of PlanText
        To compare besides the usual ones and those of the file.
    clear : bool, optional
        Whether the pectin limit counts; if not said, where a paper filter or an enzyme stands in the file.
    step : str, optional
        Name of the infusing step; the first one that strains if not given.
    start_c : float, default 20
        What the jar starts from, degrees Celsius.
    still : bool, default False
        Whether nobody stirs, so that the jar warms by conduction alone.
    probe : Probe, optional
        A reading, which replaces the warm-up estimate.
    today : date, optional
        What dates are held against.

    Raises
    ------
    SpecError
        If a file is wrong, or there is nothing to infuse.
    FormulateError
        If no step has the name.
    InfeasibleError
        When the bottle has no recipe.
    """
    path = path_of(file)
    made = load_any(path)
    if not isinstance(made, (Bottle, Recipe)):
        raise SpecError([made.places.problem((), "has no steps to plan. Give a bottle or a recipe file.")])
    position = infusing_step(made, step)
    tell("solving the bottle first")
    batch, basis, bottle = _batch(made, path, position, step, today)
    specs = batch.specs
    limits = limits or PlanLimits()
    wants_clear = _is_clear(specs, position) if clear is None else clear
    table = PlanTable(
        batch,
        specs,
        position,
        limits if wants_clear else replace(limits, pectin_left_g_l=None),
        start_c,
        None if probe is None else probe.time_constant_h,
        still,
        _enzyme_price(batch.pantry),
    )
    tell("comparing plans")
    if not table.plants:
        raise SpecError(
            [
                made.places.problem(
                    ("ingredients",),
                    f"nothing in {specs[position].name} is drawn out by time: no plant there has a "
                    "bitterness, a colour or a kind of infusing. Name another step with --step.",
                    key=True,
                )
            ]
        )
    asked = own_plans(specs[position], (*made.plans, *plans))
    rows = tuple(
        table.plan(time_h, temperature_c, order)
        for time_h, temperature_c in plan_rows(asked)
        for order in table.orders()
    )
    chosen, meets, sentence = choose(rows)
    refined = plan_between(table, chosen, rows, meets)
    between = refined is not None and (not meets or is_hours_for_days(refined, chosen))
    best = refined if between and refined is not None else chosen
    law = law_of(batch, batch.rules)
    fills = fills_of(batch, batch.pantry)
    return InfuseRecord(
        name=made.name,
        step=specs[position].name,
        basis=basis,
        liquor_l=table.liquor_l,
        strength_pct_vol=table.strength_pct_vol,
        pectin_g_l=table.pectin.before_g_l,
        jar_l=table.jar_l,
        start_c=start_c,
        limits=table.limits,
        plans=rows,
        own=tuple(plan_text(*plan) for plan in asked),
        strainers=table.strainers,
        chosen=chosen,
        held=tuple(dict.fromkeys(drawn.ingredient for drawn in table.counted(chosen))),
        meets=meets,
        sentence=sentence,
        refined=refined,
        between=between,
        command=_command(bottle, specs[position], chosen, step),
        refined_command="" if refined is None else _command(bottle, specs[position], refined, step),
        redosed=_redosed(made, best, step, batch.pantry) if isinstance(made, Bottle) else None,
        probe=probe,
        currency=batch.pantry.currency,
        notes=(
            *law_notes(law, batch.rules),
            *fill_notes(batch),
            *fitting_notes(fills),
            *_own_content_notes(batch),
            *unusual_dose_notes(batch, batch.kind),
            *plan_notes(table, batch, best, rows),
        ),
        cautions=plan_cautions(table, batch, best, rows),
        law=law,
        fills=fills,
    )


def _batch(
    made: Bottle | Recipe, path: Path, position: int, step: str | None, today: date | None
) -> tuple[BarBatch, str, Path | None]:
    """Weigh the batch; a bottle is solved first."""
    if isinstance(made, Recipe):
        pantry = open_pantry(made.shelf_path, made.places, today=today)
        bottle = made.bottle_path
        there = bottle if bottle is not None and is_there(bottle) else None
        return weigh_batch(made, pantry), "with the amounts of the recipe", there
    spec = made.resolved_steps()[position]
    basis = "solved first; every plan with the amounts of that recipe"
    try:
        solved = solve_bottle(path, today)
    except InfeasibleError:
        # A time in the file that is too short for the targets must not keep us from looking for a better one.
        if spec.time_h is None:
            raise
        solved = solve_bottle(path, today, PlanText(LONGEST_H, spec.temperature_c or 20.0), step)
        basis = "no recipe as the file stands; every plan with the amounts for plants drawn out to the end"
    recipe = recipe_of(solved.formulation.bottle, solved.answer)
    formulation = solved.formulation
    return weigh_batch(recipe, formulation.pantry, rules=formulation.rules), basis, path


def _own_content_notes(batch: BarBatch) -> list[Note]:
    used = [ingredient.id for ingredient, _ in batch.holdings()]
    return own_content_notes(batch.pantry, used, float(batch.drink.strength_pct_vol))


def _is_clear(specs: Sequence[StepSpec], position: int) -> bool:
    return any("paper" in spec.separate for spec in specs[position:]) or specs[position].enzyme is not None


def _enzyme_price(pantry: Pantry) -> float | None:
    try:
        return pantry.price_per_kg(pantry.ingredient(ENZYME))
    except (SpecError, UnknownMassError):
        return None


def _command(bottle: Path | None, spec: StepSpec, plan: Plan, step: str | None) -> str:
    if bottle is None or isinstance(bottle, InMemory):
        return ""
    text = plan.command_text
    if plan.enzyme is None and spec.enzyme is not None:
        text += " without enzyme"
    tidy = Path(os.path.normpath(bottle)).as_posix()
    named = f" --step {shlex.quote(step)}" if step is not None else ""
    return f'formulate solve {shlex.quote(tidy)} --infuse "{text}"{named}'


def _redosed(bottle: Bottle, plan: Plan, step: str | None, pantry: Pantry) -> Redosed:
    """Weigh in anew for a plan; what the bottle chooses is kept."""
    planned = with_plan(bottle, parse_plan(plan.command_text), step)
    formulation = formulate_bottle(planned, pantry)
    try:
        cost = _chosen_cost(formulation) if choices_of(formulation) else _quick_cost(formulation)
    except (InfeasibleError, NotConvergedError, UnboundedError, VerificationError):
        cost = None
    return Redosed(plan.command_text, cost is not None, cost)


def _chosen_cost(formulation: Formulation) -> float:
    from formulate.optimise.mip.solve import solve_with_choices

    return float(solve_with_choices(formulation.problem, choices_of(formulation), seconds=SECONDS).cost_per_l)


def _quick_cost(formulation: Formulation) -> float | None:
    """Return what the loop alone finds: quick, and no proof."""
    from formulate.optimise.assembly import assemble
    from formulate.optimise.program import BlendProgram
    from formulate.optimise.solve import multistart

    loop = multistart(BlendProgram(assemble(formulation.problem)))
    return float(loop.point.cost_per_l) if loop.converged and loop.point is not None else None
