"""Any file as a form: its figures and words by the way to them, and the text that they make of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from formulate.errors import UnitError
from formulate.files.editing import with_value, without
from formulate.files.issues import KeyPath
from formulate.files.loading import read_any
from formulate.files.located import Document
from formulate.files.models import FileModel
from formulate.files.problems import kind_of

__all__ = [
    "Field",
    "FileModel",
    "Group",
    "counts",
    "filled_in",
    "groups_of",
    "has_aims",
    "kind_of_document",
    "model_of",
    "with_counts",
]

APART = "/"
PATHS = frozenset({"shelf", "bottle", "drink", "recipe", "house", "trial", "photo", "lists", "list"})
"""Keys under which files are named: what is typed here shall open none."""
FILE_ENDINGS = (".yaml", ".yml", ".csv", ".xlsx", ".ods", ".json")


@dataclass(frozen=True, slots=True)
class Field:
    """One figure or word of a file.

    Attributes
    ----------
    key : str
        The way to it, its parts joined by slashes.
    label : str
        The same for people.
    text : str
        As it stands.
    """

    key: str
    label: str
    text: str


@dataclass(frozen=True, slots=True)
class Group:
    """The fields below one key at the top of a file."""

    name: str
    fields: tuple[Field, ...]


def kind_of_document(document: Document) -> str:
    """Tell what a document is by its keys, in a word: `bottle`, `jar`, `menu`; nothing where it is none."""
    return (kind_of(document.data) or "").removesuffix("File").lower()


def model_of(document: Document) -> FileModel:
    """Read a document of any kind; what it makes stands wherever its path may.

    Raises
    ------
    SpecError
        With every problem found.
    """
    return read_any(document)


def has_aims(model: FileModel) -> bool:
    """Whether a file names the bottle that a batch shall become."""
    return getattr(model, "bottle", None) is not None


def groups_of(document: Document) -> tuple[Group, ...]:
    """List what may be changed in a file, in its order; names of other files are left as they stand."""
    groups: dict[str, list[Field]] = {}
    for path, value in _leaves(document.data, ()):
        label = " ".join(part for part in _spoken(document.data, path) if part) or str(path[0])
        field = Field(APART.join(map(str, path)), label, _text(value))
        groups.setdefault(str(path[0]) if len(path) > 1 else "", []).append(field)
    return tuple(Group(name, tuple(fields)) for name, fields in groups.items())


def _leaves(node: Any, path: KeyPath) -> Iterator[tuple[KeyPath, Any]]:
    if isinstance(node, Mapping):
        for key, value in node.items():
            holds_files = key in PATHS and (not isinstance(value, Mapping) or _names_files(value))
            if not holds_files and APART not in str(key):
                yield from _leaves(value, (*path, str(key)))
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from _leaves(value, (*path, number))
    elif node is not None and not _text(node).lower().endswith(FILE_ENDINGS):
        yield path, node


def _names_files(values: Mapping[Any, Any]) -> bool:
    return any(isinstance(one, str) for one in values.values())


def _spoken(data: Any, path: KeyPath) -> Iterator[str]:
    """Leave out numbers of a list whose items have a name of their own."""
    node = data
    for depth, part in enumerate(path):
        node = node[part]
        if isinstance(part, int):
            named = isinstance(node, Mapping) and len(node) == 1
            if isinstance(node, Mapping) and not named:
                yield _name_of(node) or str(part + 1)
            elif not named:
                yield str(part + 1) if len(path) - 1 > depth else ""
        elif depth:
            yield part.replace("_", " ")


def _name_of(item: Mapping[Any, Any]) -> str:
    named = next((value for value in item.values() if isinstance(value, str)), "")
    return named.rpartition("/")[2].rpartition(".")[0] if named.endswith(FILE_ENDINGS) else ""


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return value.isoformat() if isinstance(value, date) else str(value)


def filled_in(document: Document, fields: Mapping[str, str]) -> Document:
    """Write fields into the text of a file; what is as it was stays, comments too.

    Parameters
    ----------
    document : Document
    fields : mapping of str to str
        Texts by the key of a field of `groups_of`; others are passed over. An empty text takes the key out.

    Raises
    ------
    SpecError
        If the text that they make cannot be read.
    """
    there = {field.key: field for group in groups_of(document) for field in group.fields}
    for key, field in reversed(there.items()):  # from the end, so that no place moves before its turn
        text = fields.get(key, field.text).strip()
        if text == field.text or text.lower().endswith(FILE_ENDINGS):
            continue
        path = _path(key)
        document = (
            with_value(document, path, _plain(text, _at(document.data, path)))
            if text
            else (without(document, path))
        )
    return document


def _path(key: str) -> KeyPath:
    return tuple(int(part) if part.isdigit() else part for part in key.split(APART))


def _at(data: Any, path: KeyPath) -> Any:
    for part in path:
        data = data[part]
    return data


def _plain(text: str, was: Any) -> Any:
    """Keep a number a number and a yes a yes."""
    if isinstance(was, bool) and text in ("true", "false"):
        return text == "true"
    if isinstance(was, (int, float)) and not isinstance(was, bool):
        for kind in (int, float):
            try:
                return kind(text)
            except ValueError:
                continue
    return text


# ---- counting what is there -----------------------------------------------------------------------------


def counts(document: Document) -> tuple[tuple[str, str], ...]:
    """List what a menu says to hold, with what was counted last: ids, and tenths of a bottle as a number."""
    pars = document.data.get("pars")
    rows = pars.items() if isinstance(pars, Mapping) else ()
    return tuple(
        (str(name), _bottles(entry.get("on_hand") if isinstance(entry, Mapping) else None))
        for name, entry in rows
    )


def _bottles(text: Any) -> str:
    number, _, unit = str(text or "").partition(" ")
    return number if unit in ("bottle", "bottles") else ""


def with_counts(document: Document, counted: Mapping[str, str]) -> Document:
    """Write what was counted into a menu.

    Parameters
    ----------
    document : Document
    counted : mapping of str to str
        Bottles by id, in tenths: ``2.3``; nothing leaves what stands there.

    Raises
    ------
    UnitError
        If one is no such number.
    SpecError
        If the text that they make cannot be read.
    """
    for name, was in counts(document):
        text = counted.get(name, "").strip().replace(",", ".")
        if not text or text == was:
            continue
        try:
            number = float(text)
        except ValueError:
            number = -1.0
        if not 0.0 <= number <= 10_000.0:
            raise UnitError(
                f"{name}: so many bottles cannot be there, got '{text}'. Write a number such as 2.3."
            )
        said = f"{number:.2f}".rstrip("0").rstrip(".")
        document = with_value(document, ("pars", name, "on_hand"), f"{said} bottles")
    return document
