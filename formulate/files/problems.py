"""From a validation error to problems in a person's own words, each with its place in the file."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from formulate.errors import SpecError, SpecProblem
from formulate.files.fields import FILE_CONTEXT, did_you_mean, shown
from formulate.files.frozen import Frozen
from formulate.files.issues import IssuesError, KeyPath, Places
from formulate.files.located import Document

__all__ = ["kind_of", "of_another_kind", "read_model", "wrong_kind"]

M = TypeVar("M", bound=Frozen)


def read_model(
    model: type[M], document: Document, *, prefix: KeyPath = (), extra: Mapping[str, Any] | None = None
) -> M:
    """Validate the map at `prefix` of a document.

    Parameters
    ----------
    model : type
        What to build.
    document : Document
        Where from.
    prefix : tuple
        Path of the map in the document.
    extra : mapping, optional
        Values that do not stand in the map itself, such as the id that is its key.

    Raises
    ------
    SpecError
        With every problem, in file order.
    """
    raw: Any = document.data
    for part in prefix:
        raw = raw[part]
    places = document.places
    if not isinstance(raw, dict):
        raise SpecError([places.problem(prefix, _must_be("map", raw))])
    if not prefix and (another := of_another_kind(model.__name__, document)):
        raise SpecError([another])
    problems = [
        places.problem((*prefix, *path), "nothing stands here. Give a value or delete the line.", key=True)
        for path in _empty(raw)
    ]
    # One slip, one message: what the reader made of the two halves of a number is not told.
    split = _split_numbers(raw)
    halves = {_dotted((*prefix, *path[:-1], key)) for path, rest in split for key in (path[-1], rest)}
    problems = [problem for problem in problems if problem.path not in halves]
    problems += [_decimal_comma(document, (*prefix, *path), rest) for path, rest in split]
    empty = {problem.path for problem in problems} | halves
    problems += [
        places.problem((*prefix, key), f"unknown key '{key}'. Delete it.", key=True)
        for key in raw
        if key in model.not_written
    ]
    result = None
    try:
        result = model.model_validate(
            {**raw, **(extra or {})}, context=FILE_CONTEXT, by_alias=True, by_name=False
        )
    except ValidationError as error:
        found = [
            problem
            for item in error.errors(include_url=False)
            for problem in _translate(model, document, raw, prefix, item)
        ]
        found += [
            places.problem(issue.path, issue.message, key=issue.at_key)
            for issue in model.issues_as_typed(raw)
        ]
        problems += [problem for problem in found if problem.path not in empty]
        # A name whose limits are not indented looks like an empty value too; one message is enough.
        unindented = {p.path.rsplit(".", 1)[0] for p in found if "must be indented deeper" in p.message}
        problems = [
            p
            for p in problems
            if "nothing stands" not in p.message or p.path.rsplit(".", 1)[0] not in unindented
        ]
    if problems or result is None:
        raise SpecError(dict.fromkeys(problems))
    result._read_from(document)
    return result


def _empty(node: Any, path: KeyPath = ()) -> list[KeyPath]:
    """Find keys without a value; ``- damson:`` in a list is a plain name with a stray colon."""
    children: list[tuple[str | int, Any]] = []
    if isinstance(node, dict):
        if len(node) == 1 and path and isinstance(path[-1], int) and None in node.values():
            return []
        children = list(node.items())
    elif isinstance(node, list):
        children = list(enumerate(node))
    found: list[KeyPath] = []
    for key, child in children:
        found += [(*path, key)] if child is None else _empty(child, (*path, key))
    return found


def _split_numbers(node: Any, path: KeyPath = ()) -> list[tuple[KeyPath, str]]:
    """Find numbers whose decimal comma ended the value inside ``{...}``: ``price: 7`` and ``50 EUR:``.

    Returns
    -------
    list of (tuple, str)
        Path of the first half, and the key that is the second.
    """
    if isinstance(node, list):
        return [one for index, item in enumerate(node) for one in _split_numbers(item, (*path, index))]
    if not isinstance(node, dict):
        return []
    found = []
    items = list(node.items())
    for (key, value), (after, nothing) in pairwise(items):
        whole = isinstance(value, int) and not isinstance(value, bool)
        # Read bare, `5` is a number and so a key too; mostly it is `50 EUR`, text.
        if whole and nothing is None and re.match(r"[0-9]+(\s*[^\W\d]|$)", str(after)):
            found.append(((*path, key), after))
    return found + [one for key, value in items for one in _split_numbers(value, (*path, key))]


def _decimal_comma(document: Document, path: KeyPath, rest: str) -> SpecProblem:
    number = document.places.typed(path)
    return document.places.problem(path, f"a decimal comma, got {number},{rest}. Write {number}.{rest}.")


def _dotted(path: KeyPath) -> str:
    return ".".join(str(part) for part in path)


def _file_path(raw: Any, loc: tuple[int | str, ...]) -> tuple[KeyPath, tuple[int | str, ...]]:
    """Follow a location through the tree as typed; return the path found and what was left over.

    Three things are not in the file: an index where one value stands for a list of one, the name of
    a group of fields that is written flat, and, the other way round, the id that is the only key of a
    list item.
    """
    path: KeyPath = ()
    node = raw
    rest = list(loc)
    while rest:
        part = rest[0]
        if _has(node, part):
            path, node = (*path, part), node[part]
        elif isinstance(node, dict) and len(node) == 1 and _has(next(iter(node.values())), part):
            key = next(iter(node))
            path, node = (*path, key, part), node[key][part]
        elif len(rest) > 1:
            pass
        else:
            break
        rest.pop(0)
    return path, tuple(rest)


def _has(node: Any, part: int | str) -> bool:
    if isinstance(node, dict):
        return part in node
    return isinstance(node, list) and isinstance(part, int) and part < len(node)


def _at(raw: Any, path: KeyPath) -> Any:
    for part in path:
        raw = raw[part]
    return raw


def _must_be(kind: str, value: Any) -> str:
    words = {
        "map": "must be `key: value` lines",
        "list": "must be a list, one `- ` line each",
        "text": "must be text",
        "number": "must be a plain number",
        "whole": "must be a whole number",
        "flag": "must be true or false",
    }[kind]
    hint = " Put it in quotes." if kind == "text" and isinstance(value, (int, float)) else ""
    return f"{words}, got {shown(value)}.{hint}"


_KINDS = {
    "model_type": "map",
    "dict_type": "map",
    "mapping_type": "map",
    "tuple_type": "list",
    "list_type": "list",
    "string_type": "text",
    "float_type": "number",
    "float_parsing": "number",
    "int_type": "whole",
    "int_from_float": "whole",
    "bool_type": "flag",
}
_LIMITS = {
    "greater_than": ("gt", "must be above"),
    "greater_than_equal": ("ge", "must be at least"),
    "less_than": ("lt", "must be below"),
    "less_than_equal": ("le", "must be at most"),
}


def _translate(
    model: type[BaseModel], document: Document, raw: Any, prefix: KeyPath, item: Any
) -> list[SpecProblem]:
    kind: str = item["type"]
    loc: tuple[int | str, ...] = item["loc"]
    at_key = bool(loc) and loc[-1] == "[key]"
    if at_key:
        loc = loc[:-1]
    value = item.get("input")
    context = item.get("ctx", {})
    cause = context.get("error")

    def problem(below: KeyPath, message: str, *, key: bool = False) -> SpecProblem:
        here, missing = _file_path(raw, (*loc, *below))
        node = _at(raw, here)
        if isinstance(node, (int, float)) and not isinstance(node, bool):
            message = message.replace(f"got {node!r}", f"got {document.places.typed((*prefix, *here))}")
        full = (*prefix, *here, *(missing if below else ()))
        return document.places.problem(full, message, key=key)

    if isinstance(cause, IssuesError):
        return [problem(issue.path, issue.message, key=issue.at_key) for issue in cause.issues]
    if cause is not None:
        return [problem((), str(cause), key=at_key)]
    if kind == "missing":
        example = _example(model, loc)
        hint = f" Add `{loc[-1]}: {example}`." if example else f" Add a line `{loc[-1]}:`."
        return [problem((), f"'{loc[-1]}' is missing.{hint}", key=True)]
    if kind == "extra_forbidden":
        owner = _model_at(model, loc[:-1])
        known = _keys(owner) if owner else []
        return [
            problem(
                (),
                f"unknown key '{loc[-1]}'. {did_you_mean(str(loc[-1]), known, list_up_to=20)}".strip(),
                key=True,
            )
        ]
    if kind in _KINDS:
        return [problem((), _must_be(_KINDS[kind], value))]
    if kind in _LIMITS:
        name, words = _LIMITS[kind]
        return [problem((), f"{words} {context[name]:g}, got {shown(value)}. Check the number.")]
    if kind == "literal_error":
        annotation = _annotation_at(model, loc)
        known = [str(choice) for choice in typing.get_args(annotation)]
        return [problem((), f"unknown word, got {shown(value)}. {did_you_mean(str(value), known)}".strip())]
    if kind == "string_too_short":
        return [problem((), "must not be empty. Write some text or delete the line.")]
    if kind == "finite_number":
        return [problem((), f"not a finite number, got {shown(value)}. Give a plain number.")]
    return [problem((), f"cannot be used here, got {shown(value)}. See the examples.")]


def _keys(model: type[BaseModel]) -> list[str]:
    """List the keys a person may write."""
    inner = model.not_written if issubclass(model, Frozen) else frozenset()
    return [
        str(field.validation_alias or name) for name, field in model.model_fields.items() if name not in inner
    ]


def _strip(annotation: Any) -> Any:
    """Take off Annotated, type aliases and ``| None``."""
    while True:
        origin = typing.get_origin(annotation)
        if origin is typing.Annotated:
            annotation = typing.get_args(annotation)[0]
        elif origin in (typing.Union, types.UnionType):
            choices = [choice for choice in typing.get_args(annotation) if choice is not type(None)]
            if len(choices) != 1:
                return annotation
            annotation = choices[0]
        else:
            return annotation


def _annotation_at(model: type[BaseModel], loc: tuple[int | str, ...]) -> Any:
    """Find the declared type at a location."""
    annotation: Any = model
    for part in loc:
        annotation = _strip(annotation)
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            field = next(
                (f for name, f in annotation.model_fields.items() if part in (name, f.validation_alias)), None
            )
            if field is None:
                return None
            annotation = field.annotation
        else:
            arguments = typing.get_args(annotation)
            if not arguments:
                return None
            annotation = arguments[0] if isinstance(part, int) else arguments[-1]
    return _strip(annotation)


def _model_at(model: type[BaseModel], loc: tuple[int | str, ...]) -> type[BaseModel] | None:
    found = _annotation_at(model, loc)
    return found if isinstance(found, type) and issubclass(found, BaseModel) else None


def _example(model: type[BaseModel], loc: tuple[int | str, ...]) -> str:
    owner = _model_at(model, loc[:-1])
    if owner is None:
        return ""
    for name, field in owner.model_fields.items():
        if loc[-1] in (name, field.validation_alias):
            return str(field.examples[0]) if field.examples else ""
    return ""


_MARKS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "Scenarios": ("scenarios", ("suppose",)),
    "Count": ("count", ("count",)),
    "Menu": ("menu", ("menu",)),
    "Drink": ("drink", ("drink",)),
    "Trial": ("trial", ("trial",)),
    "Recipe": ("recipe", ("recipe",)),
    "Jar": ("jar", ("jar",)),
    "ReadingFile": ("reading", ("reading",)),
    "Bottle": ("bottle", ("targets",)),
    "Shelf": ("shelf", ("currency", "offers")),
}
"""By the name of its model, in the order to look: what it is called, and the keys that tell it."""


def kind_of(keys: Iterable[str]) -> str | None:
    """Name the model of a file by its keys, or None if none tells it."""
    known = set(keys)
    return next((model for model, (_, marks) in _MARKS.items() if known.intersection(marks)), None)


def of_another_kind(wanted: str, document: Document) -> SpecProblem | None:
    """Say that a file is whole but of another kind than is needed.

    Parameters
    ----------
    wanted : str
        Name of the model to be read.

    Returns
    -------
    SpecProblem or None
        One problem at the key that tells the kind, in the place of one for every line; None if the file may
        be what is wanted.
    """
    found = kind_of(document.data)
    if (
        wanted not in _MARKS
        or found is None
        or found == wanted
        or set(_MARKS[wanted][1]) & set(document.data)
    ):
        return None
    key = next(mark for mark in _MARKS[found][1] if mark in document.data)
    return wrong_kind(found, wanted, document.places, (key,))


def wrong_kind(found: str, wanted: str, places: Places, key: tuple[str, ...] = ()) -> SpecProblem:
    """Say that something is of one kind, and another is needed; both by the names of their models."""
    has, needed, needs = _MARKS[found][0], *_MARKS[wanted]
    advice = f"Give a {needed} file, with `{needs[0]}:`."
    if (found, wanted) == ("Bottle", "Recipe"):
        advice = f"Save its recipe first: `formulate solve {places.file} -o recipe.yaml`."
    return places.problem(key, f"this is a {has} file, and a {needed} file is needed. {advice}", key=True)
