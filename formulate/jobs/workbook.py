"""`workbook` and `take`: a folder as one workbook, and back without losing what a file can say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from formulate.describe.book_record import BarBook, Taken
from formulate.errors import FormulateError, SpecError, SpecProblem
from formulate.files.book import read_book
from formulate.files.book_reader import BookPlaces
from formulate.files.book_rows import SHELF, as_text, rows_of
from formulate.files.disk import Content, write_all
from formulate.files.editing import with_value, without
from formulate.files.issues import KeyPath
from formulate.files.library import Library
from formulate.files.loading import load_any
from formulate.files.located import Document, load_document
from formulate.files.problems import kind_of

__all__ = ["empty_workbook", "lay_out", "take"]

YAML_ENDINGS = (".yaml", ".yml")


def lay_out(folder: Path) -> BarBook:
    """Lay the files of a folder out for a workbook.

    Parameters
    ----------
    folder : path
        Its shelf is ``shelf.yaml``; every other file may stand in any folder below.

    Raises
    ------
    SpecError
        With every problem in any of its files: nothing wrong goes into a workbook.
    FormulateError
        If there is no such folder or no file in it.
    """
    if not folder.is_dir():
        raise FormulateError(f"{folder.as_posix()}: no such folder. Check the name.")
    files: dict[str, tuple[str, Mapping[str, Any], str]] = {}
    for path in _yaml_in(folder):
        load_any(path)
        document = load_document(path)
        kind = (kind_of(document.data) or "").lower()
        files[path.relative_to(folder).as_posix()] = (kind, document.data, document.places.text)
    if not files:
        raise FormulateError(f"{folder.as_posix()}: no .yaml file in it. Start one with `formulate init`.")
    return _book(files)


def empty_workbook() -> BarBook:
    """Lay out a workbook with nothing in it but how to fill it in."""
    return _book({})


def _book(files: Mapping[str, tuple[str, Mapping[str, Any], str]]) -> BarBook:
    shelf = files.get(SHELF, ("", {}, ""))[1]
    library = Library.built_in()
    own = {name: name for key in ("house_made", "whole", "ingredients") for name in shelf.get(key, ())}
    named = {one: library.get(one).name for one in library.ids()}
    return BarBook(
        name=str(shelf.get("name", "The bar")),
        files=tuple(files),
        sheets=rows_of(files),
        choices=tuple(sorted((named | own).items())),
    )


def _yaml_in(folder: Path) -> Iterator[Path]:
    """Give the files of a folder in order, its shelf first, what begins with a dot left out."""
    found = sorted(path for path in folder.rglob("*") if path.suffix in YAML_ENDINGS and path.is_file())
    own = [path for path in found if not any(part.startswith(".") for part in path.relative_to(folder).parts)]
    return iter(sorted(own, key=lambda path: path != folder / SHELF))


def take(book: Path, folder: Path) -> Taken:
    """Take the files of a workbook into a folder: all of them, or nothing.

    What is the same stays as it is, to the letter; of what is not, only the values that differ are written.

    Parameters
    ----------
    book : path
    folder : path
        Made if it is not there.

    Raises
    ------
    SpecError
        With every cell that is wrong, in the workbook and in each of its files.
    FormulateError
        If a file cannot be written.
    """
    read = read_book(book)
    problems: list[SpecProblem] = []
    for inner in read.files:
        try:
            load_any(book / inner)
        except SpecError as error:
            problems += error.problems
    if problems:
        raise SpecError(problems)
    texts: dict[str, str] = {}
    new: list[str] = []
    changed: list[str] = []
    same: list[str] = []
    for inner, document in read.files.items():
        path = folder / inner
        if not path.is_file():
            new.append(inner)
            texts[inner] = _written(document)
            continue
        before = load_document(path)
        after = _updated(before, document.data)
        (same if after is before else changed).append(inner)
        if after is not before:
            texts[inner] = after.places.text
    there = {path.relative_to(folder).as_posix() for path in _yaml_in(folder)} if folder.is_dir() else set()
    contents: dict[Path, Content] = {folder / inner: text for inner, text in texts.items()}
    for path in contents:
        path.parent.mkdir(parents=True, exist_ok=True)
    write_all(contents)
    return Taken(
        new=tuple(new),
        changed=tuple(changed),
        same=tuple(same),
        only_there=tuple(sorted(there - set(read.files))),
        folder=folder,
    )


def _written(document: Document) -> str:
    """Write a file that is not there yet; one that stands in the workbook as its text, as that text."""
    in_cells = isinstance(document.places, BookPlaces)
    return as_text(_plain(document.data)) if in_cells else document.places.text


def _updated(document: Document, tree: Mapping[str, Any]) -> Document:
    """Write what differs into the text of a file; the document itself where nothing does."""
    for path, value in _differences((), _plain(document.data), _plain(tree)):
        try:
            document = without(document, path) if value is None else with_value(document, path, value)
        except KeyError:
            document = with_value(document, path[:-1], _at(tree, path[:-1]))
    return document


def _at(tree: Any, path: KeyPath) -> Any:
    for part in path:
        tree = tree[part]
    return tree


def _differences(path: KeyPath, old: Any, new: Any) -> Iterator[tuple[KeyPath, Any]]:
    """Give the way to each value that differs and what it becomes; None for what is no longer there."""
    if old == new:
        return
    if isinstance(old, dict) and isinstance(new, dict) and old:
        for key in [key for key in old if key not in new]:
            yield (*path, key), None
        for key, value in new.items():
            if key in old:
                yield from _differences((*path, key), old[key], value)
            else:
                yield (*path, key), value
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for index, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from _differences((*path, index), one, other)
    else:
        yield path, new


def _plain(value: Any, key: str = "") -> Any:
    """Write what can be said in two ways in one of them, as a workbook gives it back."""
    if isinstance(value, dict):
        poured = "drink" in value and "method" in value
        plain = {name: _plain(item, name) for name, item in value.items() if item is not None}
        if poured:
            for name in ("ingredients", "garnish"):
                plain |= {name: [_amount_alone(item) for item in plain[name]]} if name in plain else {}
        return plain
    if isinstance(value, list):
        items = [_plain(item, key) for item in value]
        return items[0] if key == "vessel" and len(items) == 1 else items
    return value


def _amount_alone(item: Any) -> Any:
    """Write what is poured as ``gin-40: 45 mL`` where nothing else is said of it."""
    if isinstance(item, dict) and len(item) == 1:
        name, inside = next(iter(item.items()))
        if isinstance(inside, dict) and set(inside) == {"amount"}:
            return {name: inside["amount"]}
    return item
