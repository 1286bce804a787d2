"""A bottle file being worked on: fields to fill in, the text that they make of the file, its answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from formulate.bar.changed import CannotChangeError
from formulate.bar.opening import open_pantry
from formulate.describe.solved import SolvedBottle
from formulate.errors import FormulateError, UnitError
from formulate.files.bottle import Bottle
from formulate.files.editing import with_item, with_value, without
from formulate.files.issues import KeyPath
from formulate.files.located import Document, load_document
from formulate.files.measures import ASKED_BY_BAND, BITTERNESS, COST
from formulate.files.problems import read_model
from formulate.jobs.solve import solve_loaded
from formulate.planning.cases import Case, with_case
from formulate.quantity.changes import parse_price_change

__all__ = ["AIMS", "BottleForm", "DosedLine", "bottle_form", "draft_of", "load_draft", "solve_draft"]

AIMS = (*(measure.name for measure in ASKED_BY_BAND), BITTERNESS, COST)
"""Targets that a form asks for, in its order."""
_LIMITS = ("at_least", "at_most")


@dataclass(frozen=True, slots=True)
class DosedLine:
    """An ingredient of a bottle file with the limits on it, as typed.

    Attributes
    ----------
    key : str
        Of its fields: ``ingredients.0``.
    at_least, at_most : str
        The same where it is exactly so much; empty where the file says nothing.
    """

    key: str
    ingredient: str
    at_least: str = ""
    at_most: str = ""


@dataclass(frozen=True, slots=True)
class BottleForm:
    """What a form shows of a bottle file, each text as it stands there.

    Attributes
    ----------
    aims : tuple of (str, str)
        Name and text of every target there is, empty where nothing is asked.
    lines : tuple of DosedLine
    any_dose : bool
        Whether usual doses are lifted.
    """

    name: str
    size: str
    aims: tuple[tuple[str, str], ...]
    lines: tuple[DosedLine, ...]
    any_dose: bool


def bottle_form(document: Document) -> BottleForm:
    """Read the fields of a form from a bottle file that may be wrong elsewhere."""
    data = document.data
    asked = data.get("targets")
    asked = asked if isinstance(asked, dict) else {}
    return BottleForm(
        _text(data.get("name")),
        _text(data.get("size")),
        tuple((name, _text(asked.get(name))) for name in AIMS),
        tuple(
            _line(f"{group}.{number}", item)
            for group in ("ingredients", "may_use")
            for number, item in enumerate(data.get(group) or ())
        ),
        data.get("doses") == "any",
    )


def _text(value: Any) -> str:
    return "" if value is None or isinstance(value, (dict, list)) else str(value)


def _line(key: str, item: Any) -> DosedLine:
    name, limits = next(iter(item.items())) if isinstance(item, dict) and item else (item, {})
    limits = limits if isinstance(limits, dict) else {}
    exactly = _text(limits.get("exactly"))
    low, high = (exactly or _text(limits.get(limit)) for limit in _LIMITS)
    return DosedLine(key, _text(name), low, high)


def draft_of(document: Document, fields: Mapping[str, str]) -> Document:
    """Write fields into the text of a bottle file; what is as it was stays, comments too.

    Parameters
    ----------
    document : Document
    fields : mapping of str to str
        Texts by key: ``name``, ``size``, ``doses``, ``targets.NAME``, ``ingredients.N.at_least`` and
        ``.at_most``; ``ingredients.N.out`` with any text takes one out, ``add`` names one more. Of a key that
        is not among them nothing changes.

    Raises
    ------
    SpecError
        If the text that they make cannot be read.
    """
    form = bottle_form(document)
    for key in ("name", "size"):
        if fields.get(key, getattr(form, key)) != getattr(form, key):
            document = with_value(document, (key,), fields[key])
    for name, was in form.aims:
        document = _with_text(document, ("targets", name), fields.get(f"targets.{name}", was), was)
    any_dose = fields.get("doses", "any" if form.any_dose else "") == "any"
    if any_dose and not form.any_dose:
        document = with_value(document, ("doses",), "any")
    elif form.any_dose and not any_dose:
        document = without(document, ("doses",))
    for line in reversed(form.lines):  # from the end, so that no place moves before its turn
        document = _with_line(document, line, fields)
    if added := fields.get("add", "").strip():
        document = with_item(document, ("ingredients",), added)
    return document


def _with_text(document: Document, path: KeyPath, text: str, was: str) -> Document:
    if text == was:
        return document
    return with_value(document, path, text) if text.strip() else without(document, path)


def _with_line(document: Document, line: DosedLine, fields: Mapping[str, str]) -> Document:
    group, _, number = line.key.partition(".")
    path: KeyPath = (group, int(number))
    if fields.get(f"{line.key}.out"):
        return without(document, path)
    low = fields.get(f"{line.key}.at_least", line.at_least).strip()
    high = fields.get(f"{line.key}.at_most", line.at_most).strip()
    if (low, high) == (line.at_least, line.at_most):
        return document
    item: Any = document.data[group][path[1]]
    others = dict(item[line.ingredient]) if isinstance(item, dict) and item[line.ingredient] else {}
    limits = {key: value for key, value in others.items() if key not in ("exactly", *_LIMITS)}
    if low and low == high:
        limits["exactly"] = low
    else:
        limits |= {key: text for key, text in zip(_LIMITS, (low, high), strict=True) if text}
    return with_value(document, path, {line.ingredient: limits} if limits else line.ingredient)


def solve_draft(path: Path, document: Document, prices: Mapping[str, str] | None = None) -> SolvedBottle:
    """Solve a bottle file as it would be with the text of a draft.

    Parameters
    ----------
    path : Path
        Of the file; the shelf is found from there.
    document : Document
        The draft.
    prices : mapping of str to str, optional
        Changes by ingredient, such as ``+20 %`` or ``12 EUR/kg``; nothing is written of them.

    Raises
    ------
    SpecError, InfeasibleError, UnboundedError
        See `solve_bottle`.
    FormulateError
        If a price cannot be changed so.
    """
    bottle = read_model(Bottle, replace(document, path=path))
    pantry = open_pantry(bottle.shelf_path, bottle.places)
    changes = []
    for name, text in (prices or {}).items():
        if not text.strip():
            continue
        try:
            changes.append((name, parse_price_change(text)))
        except UnitError as error:
            raise FormulateError(f"price of {name}: {error}") from None
    if changes:
        try:
            pantry = replace(with_case(pantry, Case("as typed", "case", tuple(changes))), cost_aside=False)
        except CannotChangeError as error:
            raise FormulateError(str(error)) from None
    return solve_loaded(bottle, pantry=pantry)


def load_draft(path: Path, text: str | None = None) -> Document:
    """Read the text of a file as it stands, or another text in its place."""
    document = load_document(path if text is None else text, path.as_posix())
    return replace(document, path=path)
