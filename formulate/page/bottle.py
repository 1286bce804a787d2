"""A bottle on the page: its fields, the answer beside them, and the changes that would work as buttons."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from formulate.describe.first_remarks import first_remarks
from formulate.describe.no_recipe import NoRecipe
from formulate.describe.records import ADVICE, DrinkRecord
from formulate.errors import FormulateError, InfeasibleError, SpecError
from formulate.jobs.draft import BottleForm, bottle_form, draft_of, load_draft, solve_draft
from formulate.page.folder import Folder
from formulate.report.no_recipe_text import asked_text, move_text, moved_target
from formulate.report.numbers import money
from formulate.report.plain import flavour_short
from formulate.report.profile_text import cost_first, price_lines, profile_rows, readings_text
from formulate.report.recipe_text import recipe_rows
from formulate.report.rules_text import law_lines, over_lines

__all__ = ["answer_parts", "groups", "save", "view"]

PRICE, APPLY = "price.", "apply"
KINDS = (
    ("bottles", "Bottles"),
    ("recipes", "Recipes"),
    ("drinks", "Drinks"),
    ("menus", "Menus"),
)


def groups(folder: Folder) -> list[tuple[str, list[str]]]:
    """Sort the files of a folder by the folder that they stand in, bottles first."""
    by_folder: dict[str, list[str]] = {name: [] for name, _ in KINDS}
    for name in folder.names():
        by_folder.setdefault(name.partition("/")[0] if "/" in name else "", []).append(name)
    heads = dict(KINDS)
    return [(heads.get(name, name or "Here"), files) for name, files in by_folder.items() if files]


def view(folder: Folder, name: str, fields: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Lay out a bottle file as it stands, or as fields change it, with its answer.

    Parameters
    ----------
    name : str
        Of the file.
    fields : mapping of str to str, optional
        As filled in; ``apply`` holds more of them, for a change that was offered.

    Raises
    ------
    NotHereError
        If there is no such file.
    """
    opened = folder.open(name)
    fields = _with_applied(fields or {})
    parts: dict[str, Any] = {
        "file": name,
        "version": fields.get("version", opened.version),
        "changed_there": fields.get("version", opened.version) != opened.version,
        "prices": {key.removeprefix(PRICE): text for key, text in fields.items() if key.startswith(PRICE)},
        "out": {key for key, text in fields.items() if key.endswith(".out") and text},
        "added": fields.get("add", ""),
        "told": "",
    }
    try:
        document = load_draft(opened.path, opened.text)
        parts["form"] = _as_filled_in(bottle_form(document), fields)
        document = draft_of(document, fields)
        parts["text"] = document.places.text
        parts |= answer_parts(solve_draft(opened.path, document, parts["prices"]).record)
    except InfeasibleError as error:
        parts |= _no_recipe(error.explanation)
    except SpecError as error:
        parts["problems"] = [(problem.path, problem.message) for problem in error.problems]
    except (FormulateError, KeyError) as error:
        parts["problems"] = [("", str(error))]
    parts.setdefault("form", BottleForm("", "", (), (), False))
    parts.setdefault("text", opened.text)
    return parts


def _with_applied(fields: Mapping[str, str]) -> dict[str, str]:
    try:
        applied = json.loads(fields.get(APPLY) or "{}")
    except ValueError:
        applied = {}
    more = applied if isinstance(applied, dict) else {}
    return {key: text for key, text in fields.items() if key != APPLY} | {
        str(key): text for key, text in more.items() if isinstance(text, str)
    }


def _as_filled_in(form: BottleForm, fields: Mapping[str, str]) -> BottleForm:
    """Show what was typed over what stands in the file, so that nothing typed is lost."""
    return replace(
        form,
        size=fields.get("size", form.size),
        aims=tuple((name, fields.get(f"targets.{name}", text)) for name, text in form.aims),
        lines=tuple(
            replace(
                line,
                at_least=fields.get(f"{line.key}.at_least", line.at_least),
                at_most=fields.get(f"{line.key}.at_most", line.at_most),
            )
            for line in form.lines
        ),
        any_dose=fields.get("doses", "any" if form.any_dose else "") == "any",
    )


def answer_parts(record: DrinkRecord) -> dict[str, Any]:
    """Lay out what a batch is, for `answer.html`."""
    head, *rows = recipe_rows(record)
    return {
        "record": record,
        "recipe_head": head,
        "recipe": rows,
        "profile": profile_rows(record),
        "readings": readings_text(record, proof=False),
        "flavour": flavour_short(record.flavour),
        "remarks": [note.short or note.text for note in first_remarks(record.notes)],
        "over": over_lines(record.law),
        "guests": [note.short or note.text for note in record.cautions if note.for_guests],
        "cautions": [note for note in record.cautions if not note.for_guests],
        "advice_line": ADVICE,
        "law": law_lines(record.law),
        "cost": cost_first(record.cost, record.status) if record.cost else "",
        "limits_cost": price_lines(record),
        "per_litre": money(record.cost.per_litre) if record.cost else "",
    }


def _no_recipe(nothing: NoRecipe) -> dict[str, Any]:
    clash = [(member.limit.origin.name, asked_text(member)) for member in nothing.explanation.clash]
    changes = []
    for member in nothing.explanation.clash:
        text, moved = move_text(member), moved_target(member, nothing.formulation.problem.limits)
        if text and moved:
            changes.append((text, json.dumps({f"targets.{member.limit.origin.name}": moved})))
    doses = nothing.doses
    if doses is not None:
        changes.append(("Lift every usual dose", json.dumps({"doses": "any"})))
    return {
        "clash": clash,
        "choices": [str(problem) for problem in nothing.choices],
        "why_not": doses.why if doses is not None else "",
        "advice": doses.changes if doses is not None else (),
        "changes": changes,
    }


def save(folder: Folder, name: str, fields: Mapping[str, str]) -> str:
    """Save a bottle file with what was filled in, over itself or under a new name.

    Returns
    -------
    str
        Name of the file that was written.

    Raises
    ------
    ChangedElsewhereError
        If the file is not what it was when it was opened, or the new name is taken.
    FormulateError
        If what was filled in cannot be read, or the file cannot be written.
    """
    opened = folder.open(name)
    version = fields.get("version", "")
    is_new = fields.get("do") == "save as"
    if not is_new and opened.version != version:
        folder.save(name, opened.text, version)  # tells what is in the way
    text = draft_of(load_draft(opened.path, opened.text), _with_applied(fields)).places.text
    target = _new_name(name, fields.get("as", "")) if is_new else name
    return folder.save(target, text, None if is_new else version).name


def _new_name(name: str, typed: str) -> str:
    """Put a new file beside the one it is made from."""
    stem = "-".join(typed.removesuffix(".yaml").lower().split())
    if not stem:
        raise FormulateError("Give the new file a name.")
    head = name.rpartition("/")[0]
    return f"{head}/{stem}.yaml" if head else f"{stem}.yaml"
