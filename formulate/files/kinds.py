"""Kinds of files, told apart by one key each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from formulate.errors import SpecProblem
from formulate.files.located import Document, Places

__all__ = ["kind_of", "of_another_kind", "wrong_kind"]

_MARKS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "Scenarios": ("scenarios", ("suppose",)),
    "Menu": ("menu", ("menu",)),
    "Drink": ("drink", ("drink",)),
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
