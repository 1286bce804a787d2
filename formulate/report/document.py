"""Records to one JSON document each, with names that stay."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from formulate.describe.records import (
    ClarityRecord,
    DrinkRecord,
    IngredientFacts,
    PurchaseRecord,
    RecipeLineRecord,
    TargetRecord,
)
from formulate.errors import VESSEL_TOO_SMALL, Note
from formulate.report.category_text import category_document
from formulate.report.cautions_text import ADVICE, caution_document
from formulate.report.law_text import law_document
from formulate.report.reach import reach_document

if TYPE_CHECKING:
    from formulate.bar.vessels import FillRecord
    from formulate.describe.no_recipe import NoRecipe
    from formulate.files.ingredient import Ingredient
    from formulate.jobs.check import CheckedFile
    from formulate.jobs.weighed import CannotWeigh

__all__ = [
    "SCHEMA_VERSION",
    "cannot_weigh_document",
    "checked_document",
    "drink_document",
    "dump",
    "error_document",
    "failed_document",
    "fill_documents",
    "library_document",
    "no_recipe_document",
    "note_documents",
]

SCHEMA_VERSION = 1


def dump(document: dict[str, Any]) -> str:
    """Write a document as text; figures that are not numbers become null."""
    return json.dumps(_clean(document), indent=1, ensure_ascii=False, allow_nan=False)


def drink_document(record: DrinkRecord) -> dict[str, Any]:
    """Lay out a worked-out batch."""
    drink = record.predicted
    document: dict[str, Any] = {
        "schema_version": SCHEMA_VERSION,
        "status": VESSEL_TOO_SMALL if record.overfull else record.status,
        "name": record.name,
        "size": record.size_text,
        "recipe": [
            {
                "ingredient": line.ingredient,
                "step": line.step,
                "mass_g": line.mass_kg * 1000.0,
                "measure": line.measure,
                "cost": line.cost,
                **_on_the_scale(line),
            }
            for line in record.recipe
        ],
        "steps": [
            {
                "step": step.name,
                "liquor_g": step.liquor_kg * 1000.0,
                "volume_l": step.volume_l,
                "strength_pct_vol": step.strength_pct_vol,
                "kept_in_cake_g": step.kept_kg * 1000.0,
                "lost_g": step.lost_kg * 1000.0,
                "solids_g": step.solids_kg * 1000.0,
            }
            for step in record.steps
        ],
        "predicted": {
            "volume_l": drink.volume_l,
            "mass_kg": drink.mass_kg,
            "strength_pct_vol": drink.strength_pct_vol,
            "proof_us": record.proof_us,
            "sugar_g_l": drink.sugar_g_l,
            "invert_sugar_g_l": drink.invert_sugar_g_l,
            "acid_g_l": drink.acid_g_l,
            "bitterness_value": drink.bitterness_value,
            "density_kg_m3": drink.density_kg_m3,
            "refractive_index": drink.refractive_index,
            "dissolved_mass_fraction": drink.dissolved_mass_fraction,
            "attributes_g_l": dict(drink.attributes_g_l),
            "confirmable_strength_pct_vol": record.confirmable_pct_vol,
            "bitterness_range": record.bitterness_range,
        },
        "targets": [_target(target) for target in record.targets],
        "limits_reached": [_target(target) for target in record.used_limits],
        **law_document(record.law),
        "cost": None
        if record.cost is None
        else {
            "total": record.cost.total,
            "per_litre": record.cost.per_litre,
            "currency": record.cost.currency,
            "proven_gap": record.cost.proven_gap,
        },
        "purchases": [_purchase(purchase) for purchase in record.purchases],
        "clarity": None if record.clarity is None else _clarity(record.clarity),
        "categories": category_document(record.categories),
        "warnings": note_documents((*record.notes, *record.cautions)),
        "cautions": [caution_document(note) for note in record.cautions],
        "advice": ADVICE,
    }
    if record.solver:
        document["solver"] = dict(record.solver)
    return document


def no_recipe_document(nothing: NoRecipe) -> dict[str, Any]:
    """Lay out why there is no recipe."""
    return {
        "schema_version": SCHEMA_VERSION,
        "status": "infeasible",
        "name": nothing.name,
        "clash": [
            {
                "limit": member.limit.origin.name,
                "side": "lower" if member.is_lower else "upper",
                "text": member.limit.origin.text,
                "bound": member.bound,
                "reachable": member.reachable,
                "unit": member.limit.unit,
                "source": str(member.limit.origin.location or ""),
            }
            for member in nothing.explanation.clash
        ],
        "irreducible": nothing.explanation.irreducible,
        "choices": [
            {"choice": problem.path, "text": problem.message, "source": str(problem.location or "")}
            for problem in nothing.choices
        ],
        "reach": reach_document(nothing.explanation),
        "warnings": note_documents(nothing.notes),
    }


def cannot_weigh_document(why: CannotWeigh) -> dict[str, Any]:
    """Lay out that no recipe in weighing steps is in spec."""
    return {
        "schema_version": SCHEMA_VERSION,
        "status": "cannot_weigh",
        "name": why.name,
        "broken": list(why.broken),
        "fits_l": why.fits_l,
        "message": str(why),
    }


def failed_document(status: str, text: str) -> dict[str, Any]:
    """Lay out that a question ended without an answer, and why."""
    return {"schema_version": SCHEMA_VERSION, "status": status, "message": text}


def error_document(error: Exception, checked: tuple[CheckedFile, ...] = ()) -> dict[str, Any]:
    """Lay out what is wrong with what was asked: each problem with its place, where it has one.

    Parameters
    ----------
    error : Exception
    checked : tuple of CheckedFile
        Of several files, those that have no problem.
    """
    problems = getattr(error, "problems", ())
    errors = [
        {
            "path": None if problem.location is None else problem.location.file,
            "line": None if problem.location is None else problem.location.line,
            "column": None if problem.location is None else problem.location.column,
            **({"cell": problem.location.cell} if problem.location and problem.location.cell else {}),
            "key": problem.path,
            "text": problem.message,
        }
        for problem in problems
    ] or [{"path": None, "line": None, "column": None, "key": "", "text": str(error)}]
    return {
        **failed_document("error", str(error)),
        "errors": errors,
        **({"files": _files(checked)} if checked else {}),
    }


def fill_documents(fills: Iterable[FillRecord]) -> list[dict[str, Any]]:
    """Lay out how full vessels get."""
    return [
        {"step": fill.step, "vessel": fill.vessel, "volume_l": fill.volume_l, "holds_l": fill.holds_l}
        for fill in fills
    ]


def note_documents(notes: Iterable[Note]) -> list[dict[str, Any]]:
    """Lay out remarks: what every command has under `warnings`, and some under `cautions`."""
    return [{"code": note.code, "text": note.text, "source": note.source} for note in notes]


def checked_document(files: tuple[CheckedFile, ...]) -> dict[str, Any]:
    """Lay out checked files."""
    return {
        "schema_version": SCHEMA_VERSION,
        "status": "ok",
        "files": _files(files),
    }


def _files(files: Iterable[CheckedFile]) -> list[dict[str, str]]:
    return [
        {"path": file.path, "kind": file.kind, "name": file.name, "summary": file.summary} for file in files
    ]


def library_document(
    ingredients: tuple[Ingredient, ...], facts: IngredientFacts | None = None
) -> dict[str, Any]:
    """Lay out ingredients with their sources; of a single one also what was worked out about it."""
    document: dict[str, Any] = {
        "schema_version": SCHEMA_VERSION,
        "ingredients": [_laid_out(ingredient) for ingredient in ingredients],
    }
    if facts is not None:
        document["worked_out"] = {field.name: getattr(facts, field.name) for field in fields(facts)}
    return document


def _on_the_scale(line: RecipeLineRecord) -> dict[str, float]:
    return {} if line.running_total_kg is None else {"running_total_g": line.running_total_kg * 1000.0}


def _target(target: TargetRecord) -> dict[str, Any]:
    return {
        "target": target.target,
        "lower": target.lower,
        "upper": target.upper,
        "value": target.value,
        "unit": target.unit,
        "binding": target.binding,
        "shadow_price": target.shadow_price,
        "text": target.text,
        "source": target.source,
    }


def _purchase(purchase: PurchaseRecord) -> dict[str, Any]:
    return {
        "whole": purchase.name,
        "mass_g": purchase.mass_kg * 1000.0,
        "pieces": purchase.pieces,
        "whole_pieces": purchase.whole_pieces,
        "on_hand_g": None if purchase.on_hand_kg is None else purchase.on_hand_kg * 1000.0,
        "cost": purchase.cost,
        "parts": [
            {"ingredient": part.ingredient, "used_g": part.used_kg * 1000.0, "left_g": part.left_kg * 1000.0}
            for part in purchase.parts
        ],
        "waste_g": purchase.waste_kg * 1000.0,
    }


def _clarity(clarity: ClarityRecord) -> dict[str, Any]:
    names = [field.name for field in fields(clarity) if field.name != "lines"]
    return {
        **{name: getattr(clarity, name) for name in names},
        "lines": note_documents(clarity.lines),
    }


def _laid_out(value: Any) -> Any:
    """Turn a model of a file, whatever fields it has, into plain maps and lists without the empty ones."""
    fields = getattr(type(value), "model_fields", None)
    if fields is not None:
        given = {name: getattr(value, name) for name in fields}
        return {name: _laid_out(item) for name, item in given.items() if item is not None}
    if isinstance(value, Mapping):
        # A colon stands in marks of the program's own, which `worked_out` says in words.
        return {name: _laid_out(item) for name, item in value.items() if ":" not in str(name)}
    return [_laid_out(item) for item in value] if isinstance(value, (list, tuple)) else value


def _clean(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _clean(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_clean(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if hasattr(value, "item"):
        return _clean(value.item())
    return value
