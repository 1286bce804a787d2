"""Jars, drinks, menus, recipes, readings and trials on the page: the file as a form, its answer beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from formulate.errors import FormulateError, SpecError
from formulate.jobs.adjust import adjust_texts
from formulate.jobs.compare import compare_trials
from formulate.jobs.draft import load_draft
from formulate.jobs.filled_in import (
    FileModel,
    Group,
    counts,
    filled_in,
    groups_of,
    has_aims,
    kind_of_document,
    model_of,
    with_counts,
)
from formulate.jobs.gauge import gauge_file
from formulate.jobs.infuse import infuse_texts
from formulate.jobs.jar import predict_jar
from formulate.jobs.menu import plan_menu
from formulate.jobs.pour import pour_drink
from formulate.jobs.predict import predict_recipe
from formulate.jobs.sheet import print_files
from formulate.page.bottle import answer_parts
from formulate.page.folder import Folder, Opened
from formulate.report.first_screen import More
from formulate.report.infuse_text import plans_text
from formulate.report.measuring_text import adjust_text, card_text, care_text, gauge_text, jar_text
from formulate.report.menu_text import menu_text
from formulate.report.paper import paper_html
from formulate.report.pour_text import pour_text
from formulate.report.trials_text import compare_text

__all__ = [
    "count_view",
    "infuse_view",
    "kind_of_file",
    "paper",
    "save_counts",
    "save_work",
    "view_work",
]

Answer = dict[str, Any]
MENU_SECONDS = 60.0
"""How long a plan is looked for, as long as by the command."""
LONGEST_NAME = 60


def _drink(model: FileModel) -> Answer:
    return {"texts": [("In the glass", pour_text(pour_drink(model), More.CAUTIONS))]}


def _menu(model: FileModel) -> Answer:
    record = plan_menu(model, seconds=MENU_SECONDS)
    return {"texts": [("The plan", menu_text(record, More.ALL))]}


def _recipe(model: FileModel) -> Answer:
    return answer_parts(predict_recipe(model))


def _jar(model: FileModel) -> Answer:
    record = predict_jar(model)
    texts = [("What went in and came out", jar_text(record))]
    if has_aims(model):
        texts += _adjusted(model)
    return answer_parts(record.drink) | {"texts": texts}


def _reading(model: FileModel) -> Answer:
    texts = [("What it is", gauge_text(gauge_file(model)))]
    if has_aims(model):
        texts += _adjusted(model)
    return {"texts": texts}


def _adjusted(model: FileModel) -> list[tuple[str, str]]:
    record = adjust_texts(model, card=True)
    texts = [("What to add", "\n".join((adjust_text(record), care_text(record, More.ALL))))]
    if record.card:
        texts.append(("If it reads otherwise", card_text(record.card, record.volume_l)))
    return texts


def _trial(model: FileModel) -> Answer:
    return {"texts": [("The trial", compare_text(compare_trials(model)))]}


WORK: Mapping[str, Callable[[FileModel], Answer]] = {
    "trial": _trial,
    "jar": _jar,
    "recipe": _recipe,
    "drink": _drink,
    "menu": _menu,
    "reading": _reading,
}
"""What is worked out of a file, by its kind."""


def kind_of_file(folder: Folder, name: str) -> str:
    """Say of what kind a file is, in a word; nothing where it is none.

    Raises
    ------
    NotHereError
        If there is no such file.
    SpecError
        If it cannot be read.
    """
    opened = folder.open(name)
    return kind_of_document(load_draft(opened.path, opened.text))


def view_work(folder: Folder, name: str, fields: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Lay out a file as it stands, or as fields change it, with its answer.

    Parameters
    ----------
    name : str
        Of the file.
    fields : mapping of str to str, optional
        As filled in. Without them a menu is shown and not planned: that takes a while.

    Raises
    ------
    NotHereError
        If there is no such file.
    """
    opened = folder.open(name)
    is_first, fields = fields is None, fields or {}
    parts = _frame(opened, fields)
    try:
        document = load_draft(opened.path, opened.text)
        parts["groups"] = _as_filled_in(groups_of(document), fields)
        model = model_of(filled_in(document, fields))
        kind = kind_of_document(document)
        work = WORK.get(kind)
        parts |= {"kind": kind if work else "", "counts": bool(counts(document)), "slow": kind == "menu"}
        if work and not (is_first and parts["slow"]):
            parts |= work(model)
    except SpecError as error:
        parts["problems"] = [(problem.path, problem.message) for problem in error.problems]
    except FormulateError as error:
        parts["problems"] = [("", str(error))]
    return parts


def _frame(opened: Opened, fields: Mapping[str, str]) -> dict[str, Any]:
    version = fields.get("version", opened.version)
    return {
        "file": opened.name,
        "version": version,
        "changed_there": version != opened.version,
        "groups": (),
        "kind": "",
        "counts": False,
        "slow": False,
        "texts": [],
        "told": "",
    }


def _as_filled_in(groups: tuple[Group, ...], fields: Mapping[str, str]) -> tuple[Group, ...]:
    """Show what was typed over what stands in the file, so that nothing typed is lost."""
    return tuple(
        replace(
            group,
            fields=tuple(replace(field, text=fields.get(field.key, field.text)) for field in group.fields),
        )
        for group in groups
    )


def save_work(folder: Folder, name: str, fields: Mapping[str, str]) -> None:
    """Save a file with what was filled in; comments stay.

    Raises
    ------
    ChangedElsewhereError
        If the file is not what it was when it was opened.
    FormulateError
        If what was filled in cannot be read, or the file cannot be written.
    """
    opened = folder.open(name)
    document = filled_in(load_draft(opened.path, opened.text), fields)
    model_of(document)
    folder.save(name, document.places.text, fields.get("version", ""))


# ---- counting -------------------------------------------------------------------------------------------


def count_view(folder: Folder, name: str, fields: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Lay out what a menu says to hold, one number for each bottle."""
    opened = folder.open(name)
    fields = fields or {}
    rows = counts(load_draft(opened.path, opened.text))
    return _frame(opened, fields) | {"rows": [(one, fields.get(one, was)) for one, was in rows]}


def save_counts(folder: Folder, name: str, fields: Mapping[str, str]) -> None:
    """Save what was counted; see `save_work`."""
    opened = folder.open(name)
    document = with_counts(load_draft(opened.path, opened.text), fields)
    model_of(document)
    folder.save(name, document.places.text, fields.get("version", ""))


# ---- infusing and paper -----------------------------------------------------------------------------------


def infuse_view(folder: Folder, name: str, plans: str = "") -> dict[str, Any]:
    """Lay out the plans of a bottle or recipe, and the times of the one recommended."""
    opened = folder.open(name)
    parts: dict[str, Any] = _frame(opened, {}) | {"plans": plans, "name": name, "times": []}
    try:
        asked = [one.strip() for one in plans.split(",") if one.strip()]
        record = infuse_texts(opened.path, plans=asked)
    except SpecError as error:
        return parts | {"problems": [(problem.path, problem.message) for problem in error.problems]}
    except FormulateError as error:
        return parts | {"problems": [("", str(error))]}
    plan = record.refined if record.between and record.refined is not None else record.chosen
    times = [
        ("warm through", plan.warm_up_h),
        (f"fruit and enzyme at {plan.enzyme_hold_c:g} °C", plan.enzyme_hold_h),
        (f"steep at {plan.temperature_c:g} °C", plan.time_h),
        ("strain and filter", plan.straining_h),
    ]
    return parts | {
        "name": record.name,
        "plan": plan.name,
        "texts": [("The plans", plans_text(record, More.ALL))],
        "times": [(said, round(3600.0 * hours)) for said, hours in times if hours > 0.0],
    }


def paper(folder: Folder, name: str) -> str:
    """Lay out a file for paper, as HTML that needs no other."""
    return paper_html(print_files(folder.open(name).path))
