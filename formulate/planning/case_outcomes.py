"""The files once read, and one case worked out in them: nothing in an answer tells when or where."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Mapping
from datetime import date
from math import ceil
from pathlib import Path
from typing import Any

import numpy as np

from formulate.bar.house_made import pantry_for
from formulate.bar.pantry import Pantry
from formulate.blend.materials import density_as_bought_kg_m3
from formulate.describe.menu_record import MenuRecord
from formulate.errors import (
    InfeasibleError,
    NotConvergedError,
    Note,
    SpecError,
    UnboundedError,
    VerificationError,
)
from formulate.files.bottle import Bottle, load_bottle
from formulate.files.disk import resolved
from formulate.files.drink import load_drink
from formulate.files.located import noting_files
from formulate.files.measures import IN_EVERY_DRINK, measure_of
from formulate.files.menu import Menu
from formulate.files.models import InMemory, says
from formulate.formulation.bottle import formulate_bottle
from formulate.formulation.solving import as_it_stands, ceiling_of, question_of, solve_formulation
from formulate.optimise.answer import Answer
from formulate.optimise.diagnose import clash_of, is_possible
from formulate.optimise.problem import BlendProblem, Limit
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.stock.question import StockPlan
from formulate.optimise.tolerances import GAP_INTEGER, VERIFIED_SLACK
from formulate.planning.cases import Case, with_case, with_demand, with_targets
from formulate.planning.goods import MenuGoods, menu_goods
from formulate.planning.menu_description import SECONDS, menu_record
from formulate.planning.slots import GONE
from formulate.planning.subjects import Subject, SubjectFiles, read_subject
from formulate.rules.law_notes import question_notes, shown_everywhere

__all__ = ["AS_IT_IS", "outcome_of", "subject_as_it_is"]

AS_IT_IS = Case("as it is", "case")
DIGITS = 9
"""Significant digits kept of an answer: the last ones of a float may differ from machine to machine."""
LEAST_KG_L = 1e-7
MISSING_KG = 1e-5
"""Less than ten milligrams of what is gone is nothing."""

Outcome = dict[str, Any]


def subject_as_it_is(path: Path, day: date, *, is_menu: bool) -> tuple[Subject, SubjectFiles, Outcome]:
    """Read all that a bottle or menu is made of, and work it out as it is.

    Raises
    ------
    SpecError
        If a file is wrong.
    """
    from formulate import __version__
    from formulate.files.standards import specs_folder

    with noting_files() as noted:
        subject = read_subject(path, day, is_menu=is_menu)
        outcome = outcome_of(subject, AS_IT_IS, refuse=True)
    own = resolved(specs_folder())
    read = {file: raw for file, raw in noted.items() if not file.is_relative_to(own)}
    root = Path(os.path.commonpath([file.parent for file in read])) if read else Path()
    files = tuple(sorted((file.relative_to(root).as_posix(), raw) for file, raw in read.items()))
    model = path if isinstance(path, InMemory) else None
    name = path.name if model is not None else resolved(path).relative_to(root).as_posix()
    return subject, SubjectFiles(root, name, is_menu, files, day, __version__, model), outcome


def outcome_of(subject: Subject, case: Case, *, refuse: bool = False) -> Outcome:
    """Work out one case.

    Parameters
    ----------
    refuse : bool
        Whether files that are wrong are an error; else they are why there is no recipe.

    Returns
    -------
    dict
        Texts and figures alone, the same wherever it is worked out.

    Raises
    ------
    SpecError
        If `refuse` and a file is wrong.
    """
    pantry = with_case(subject.pantry, case)
    try:
        if isinstance(subject.file, Menu):
            return _menu_outcome(with_demand(subject.file, case), pantry)
        return _bottle_outcome(with_targets(subject.file, case), pantry)
    except SpecError as error:
        if refuse:
            raise
        return _nothing("no_recipe", why=error.problems[0].message)


def _bottle_outcome(bottle: Bottle, pantry: Pantry) -> Outcome:
    asked = formulate_bottle(bottle, pantry)
    formulation = as_it_stands(asked)
    try:
        answer = solve_formulation(formulation)
    except InfeasibleError:
        return _nothing("no_recipe", clash=_clash(formulation.problem))
    except UnboundedError:
        return _nothing("no_size", why="nothing fixes the size of the batch")
    except (NotConvergedError, VerificationError):
        return _nothing("not_settled", why="no recipe was found in time, and no proof that none exists")
    drink = answer.profile
    ceiling = ceiling_of(asked)
    return {
        "status": str(answer.status),
        "figure": _figure(answer.cost_per_l),
        "cost_per_litre": _figure(answer.cost_per_l),
        "cost": _figure(answer.cost),
        "volume_l": _figure(answer.volume_l),
        "too_dear": _too_dear({bottle.name: (answer.cost_per_l, ceiling)}),
        "proven_gap": float(f"{answer.proven_gap:.2g}"),
        "predicted": {
            measure.key: _figure(drink.value(measure.name))
            for measure in (*IN_EVERY_DRINK, *map(measure_of, bottle.targets.contents))
        },
        "uses": _grams_per_litre(answer),
        **_law(question_notes(asked.rules, asked.problem.limits)),
    }


def _law(notes: Iterable[Note]) -> dict[str, list[list[str]]]:
    """Keep what the law has to say: code, text and source of each note; nothing where it is silent."""
    said = [[note.code, note.text, note.source] for note in notes]
    return {"law": said} if said else {}


def _too_dear(costs: Mapping[str, tuple[float, float | None]]) -> dict[str, list[float]]:
    """Keep the bottles that cost more per litre than their files allow: what they cost, and may cost."""
    return {
        name: [_figure(cost), _figure(most)]
        for name, (cost, most) in costs.items()
        if most is not None and cost > most * (1.0 + VERIFIED_SLACK)
    }


def _grams_per_litre(answer: Answer) -> dict[str, float]:
    masses = answer.masses_kg.sum(axis=0) / answer.volume_l
    return {
        name: _figure(1000.0 * mass)
        for name, mass in zip(answer.problem.chain.materials.ids, masses, strict=True)
        if mass > LEAST_KG_L
    }


def _clash(problem: BlendProblem) -> list[dict[str, Any]]:
    """Say which limits clash; nothing where it is the choices that cannot be kept."""
    if is_possible(problem):
        return []
    return [
        {
            "limit": side.origin.name,
            "side": "at least" if np.isfinite(side.lower) else "at most",
            "bound": _bound(side),
            "unit": side.unit,
            "text": side.origin.text,
            "says": side.origin.says,
        }
        for side in clash_of(problem)
    ]


def _bound(side: Limit) -> float | None:
    """Return where a one-sided limit stands; None where it has no unit of its own."""
    bound = (side.lower if np.isfinite(side.lower) else side.upper) * side.display
    return _figure(bound) if np.isfinite(bound) else None


def _menu_outcome(menu: Menu, pantry: Pantry) -> Outcome:
    try:
        goods = menu_goods(menu, pantry)
    except SpecError:
        nothing = _without_bottles(menu, pantry)
        if nothing is None:
            raise
        return nothing
    try:
        plan = plan_stock(goods.question, seconds=SECONDS, gap=GAP_INTEGER)
        record = menu_record(goods, plan)
    except (NotConvergedError, VerificationError):
        return _nothing("not_settled", why="no plan was found in time")
    return _not_to_be_had(goods, plan) or _plan(goods, record)


def _not_to_be_had(goods: MenuGoods, plan: StockPlan) -> Outcome | None:
    """Say what a plan takes of what is gone, in g, or whole pieces of a supply; None for a plan without."""
    shelf = goods.pantry.shelf
    assert shelf is not None
    taken_kg = {
        goods.question.goods[pack.thing.number].name: pack.size_kg * float(plan.packs[number].sum())
        for number, pack in enumerate(goods.question.packs)
        if pack.name == GONE
    }
    taken_kg = {name: mass for name, mass in taken_kg.items() if mass > MISSING_KG}
    if not taken_kg:
        return None
    masses = {name: _figure(1000.0 * mass) for name, mass in taken_kg.items() if name not in shelf.supplies}
    pieces = {name: ceil(count - MISSING_KG) for name, count in taken_kg.items() if name in shelf.supplies}
    missing_by_kind = {"missing": masses, "missing_pieces": pieces}
    return _nothing(
        "no_plan",
        **{kind: missing for kind, missing in missing_by_kind.items() if missing},
        needed_by=_needed_by(goods, taken_kg),
    )


def _plan(goods: MenuGoods, record: MenuRecord) -> Outcome:
    bought: dict[str, float] = {}
    for line in record.lines:
        bought[line.name] = bought.get(line.name, 0.0) + line.cost
    mix = record.mix
    weeks = goods.menu.weeks
    return {
        "status": record.status,
        "figure": round(record.total + record.labour, 2),
        "total": record.total,
        "labour": record.labour,
        "to_pay": record.to_pay,
        "proven_gap": float(f"{record.proven_gap:.2g}"),
        "sales_without_tax": None if mix is None else _figure(mix.sales_without_tax),
        "cost_by_use": None if mix is None else _figure(mix.cost),
        "contribution": None if mix is None else _figure(mix.contribution),
        "too_dear": _too_dear(_house_costs(goods)),
        "short_l": {row.name: _figure(row.short_l) for row in record.house if row.short_l > 0.0},
        "goes_g": {
            good.name: _figure(1000.0 * weeks * float(mean))
            for good, mean in zip(goods.question.goods, goods.per_week[:, 0], strict=True)
        },
        "uses": {name: round(cost, 2) for name, cost in bought.items()},
        **_law(shown_everywhere(record.notes)),
    }


def _house_costs(goods: MenuGoods) -> dict[str, tuple[float, float | None]]:
    """Return what the house bottles that are bottle files cost per litre, and may cost."""
    costs: dict[str, tuple[float, float | None]] = {}
    for name, path in goods.house.items():
        if not says(path, "targets"):
            continue
        made = goods.pantry.made(name)
        density = density_as_bought_kg_m3(made.ingredient)
        if made.price_per_kg is None or density is None:
            continue
        bottle = load_bottle(path)
        most = ceiling_of(formulate_bottle(bottle, pantry_for(bottle, goods.pantry)))
        costs[name] = (made.price_per_kg * density / 1000.0, most)
    return costs


def _needed_by(goods: MenuGoods, missing: Collection[str]) -> list[str]:
    """Name the drinks that what is missing goes into, through house bottles too."""
    shelf = goods.pantry.shelf
    assert shelf is not None
    filled_with = {
        name: {*entry.each_batch, *(entry.bottled.takes if entry.bottled else ())}
        for name, entry in goods.menu.house.items()
    }

    def holds(name: str) -> bool:
        if name in missing or not filled_with.get(name, set()).isdisjoint(missing):
            return True
        if shelf is None or name not in shelf.house_made:
            return False
        batch = goods.pantry.made(name).batch
        used = zip(batch.ingredients, batch.used_kg, strict=True)
        return any(mass > 0.0 and holds(inner.id) for inner, mass in used)

    return [
        serve.drink.name
        for serve in goods.serves
        if any(name in missing for name, _ in serve.supplies)
        or any(
            mass > 0.0 and holds(ingredient.id)
            for ingredient, mass in zip(serve.ingredients, serve.paid_kg, strict=True)
        )
    ]


def _without_bottles(menu: Menu, pantry: Pantry) -> Outcome | None:
    """Say which house bottle has no recipe in this case, where it is that."""
    for index in range(len(menu.drinks)):
        drink = load_drink(menu.drink_path(index))
        for name in drink.house:
            path = drink.house_path(name)
            if not says(path, "targets"):
                continue
            bottle = load_bottle(path)
            formulation = question_of(bottle, pantry_for(bottle, pantry))
            try:
                solve_formulation(formulation)
            except InfeasibleError:
                clash = _clash(formulation.problem)
                return _nothing("no_recipe", bottle=name, clash=clash, needed_by=[drink.name])
    return None


def _nothing(status: str, **why: object) -> Outcome:
    return {"status": status, "figure": None, **why}


def _figure(value: float | np.floating[Any]) -> float:
    return float(f"{float(value):.{DIGITS}g}")
