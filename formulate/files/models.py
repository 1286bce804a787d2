"""Models of whole files: read from a path, or built in Python from what such a file would say.

A model that was built in Python stands wherever a path may: in the calls of `formulate`, and under the keys
by which one file names another. It is handed on as a path, whose reading gives the model itself.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from os import PathLike
from os.path import normpath
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any, Self, TypeVar

from pydantic import PrivateAttr

from formulate.errors import SpecError
from formulate.files.book import InBook, beside_book, document_of, in_book, is_book, read_book, several_in
from formulate.files.disk import resolved
from formulate.files.fields import shown
from formulate.files.frozen import Frozen
from formulate.files.issues import KeyPath, Places, Span
from formulate.files.located import Document
from formulate.files.problems import kind_of, read_model, wrong_kind

__all__ = ["IN_PYTHON", "FileModel", "InMemory", "Source", "opened", "path_of", "resolved_beside", "says"]

M = TypeVar("M", bound="FileModel")

IN_PYTHON = Places(file="in Python", in_file=False)
"""Of what was not read from a file."""


class FileModel(Frozen):
    """A model of a whole file that knows the places of its values.

    The places and the path do not count when two models are compared.
    """

    _places: Places = PrivateAttr(default=IN_PYTHON)
    _path: Path | None = PrivateAttr(default=None)

    @classmethod
    def of(cls, **keys: Any) -> Self:
        """Build a model from what a file of its kind says.

        Parameters
        ----------
        **keys
            The keys of the file; texts, numbers, lists and maps, written as in the file. Where a file names
            another one, a path or a model.

        Raises
        ------
        SpecError
            With every problem; its place is ``in Python`` and the dotted way to the value.

        Examples
        --------
        >>> from formulate import Bottle
        >>> bottle = Bottle.of(
        ...     name="Lemon liqueur",
        ...     size="2 L bottled",
        ...     targets={"strength": "25 ± 0.3 % vol"},
        ...     ingredients=["vodka-40", "water"],
        ... )
        """
        tree = _Tree()
        data = {key: tree.plain(value, (key,)) for key, value in keys.items()}
        model = read_model(cls, Document(data, replace(IN_PYTHON, text=tree.text, values=tree.values)))
        model._path = InMemory(model, tree.named)
        return model

    @property
    def places(self) -> Places:
        """Where each key and value stands in the file."""
        return self._places

    @property
    def path(self) -> Path | None:
        """The file this came from; None for a model that only its constructor knows."""
        return self._path

    def _read_from(self, document: Document) -> None:
        self._places, self._path = document.places, document.path

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and self.__dict__ == other.__dict__

    def __hash__(self) -> int:
        return hash((type(self), tuple(self.__dict__.values())))


if TYPE_CHECKING:
    _Path = Path
else:
    _Path = type(Path())


class InMemory(_Path):
    """Stands for a model where a path is handed on; equal where it is the same model.

    Parameters
    ----------
    named : mapping of str to InMemory
        The models that stand in it, by the names of files given to them.
    """

    model: FileModel
    named: Mapping[str, InMemory]

    def __new__(cls, model: FileModel, named: Mapping[str, InMemory]) -> Self:
        """Stand for a model."""
        name = (getattr(model, "name", None) or type(model).__name__).replace("/", "-")
        made = cls._of(f"{IN_PYTHON.file}/{name}.yaml")
        made.model, made.named = model, named
        return made

    def __init__(self, model: FileModel, named: Mapping[str, InMemory]) -> None:
        """Made already."""

    @classmethod
    def _of(cls, text: str) -> Self:
        made = super().__new__(cls, text)
        if sys.version_info >= (3, 12):
            super(InMemory, made).__init__(text)
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        return InMemory._of, (self.as_posix(),), {"model": self.model, "named": self.named}

    @property
    def parent(self) -> Path:  # type: ignore[override]  # what else it names is found from where one works
        """Folder that one works in: what else it names is found from there."""
        return Path()

    def with_segments(self, *pathsegments: str | PathLike[str]) -> Path:
        """Make a plain path: what is made of this one stands for nothing."""
        return Path(*pathsegments)

    def exists(self, *, follow_symlinks: bool = True) -> bool:
        """Say that it is there."""
        del follow_symlinks
        return True

    def is_file(self, *, follow_symlinks: bool = True) -> bool:
        """Say that it is none."""
        del follow_symlinks
        return False

    def resolve(self, strict: bool = False) -> Self:
        """Stay as it is."""
        del strict
        return self

    def __eq__(self, other: object) -> bool:
        return isinstance(other, InMemory) and self.model is other.model

    def __hash__(self) -> int:
        return id(self.model)


Source = Path | str | FileModel
"""What a file is read from: a path, or a model built in Python."""


def path_of(source: Source) -> Path:
    """Return the path of a source; for a model one that stands for it."""
    if isinstance(source, FileModel):
        return standing_for(source)
    path = source if isinstance(source, Path) else Path(source)
    return path if isinstance(path, InMemory) else in_book(path)


def standing_for(model: FileModel) -> InMemory:
    """Return the path that stands for a model; a changed copy still names the files that the first did."""
    path = model.path
    if not isinstance(path, InMemory):
        return InMemory(model, {})
    return path if path.model is model else InMemory(model, path.named)


def opened(kind: type[M], source: Source) -> M:
    """Read a file of one kind, or take the model.

    Raises
    ------
    SpecError
        With every problem found, in file order; or if it is of another kind.
    """
    path = path_of(source)
    if not isinstance(path, InMemory):
        return read_model(kind, document_of(only_one(kind, path)))
    if isinstance(path.model, kind):
        return path.model
    raise SpecError([wrong_kind(type(path.model).__name__, kind.__name__, path.model.places)])


def only_one(kind: type[FileModel], path: Path) -> Path:
    """Return the one file of a kind in a workbook; a path that is none as it is.

    Raises
    ------
    SpecError
        If the workbook has none of them, or several.
    """
    if not is_book(path):
        return path
    names = [
        name for name, document in read_book(path).files.items() if kind_of(document.data) == kind.__name__
    ]
    if len(names) == 1:
        return InBook(path, names[0])
    raise several_in(path, kind.__name__.lower(), names)


def resolved_beside(path: Path | None, other: str | None) -> Path | None:
    """Resolve a path written in a file against the folder of that file.

    Folders that are only stepped out of again are left out, unless one is a link that leads elsewhere. What
    was built in Python may name a model.
    """
    if other is None:
        return None
    if isinstance(path, InMemory) and other in path.named:
        return path.named[other]
    if isinstance(path, InBook):
        return beside_book(path, other)
    found = in_book(Path(other) if path is None else path.parent / other)
    if isinstance(found, InBook):
        return found
    shorter = Path(normpath(found))
    return shorter if resolved(shorter) == resolved(found) else found


def says(path: Path, key: str) -> bool:
    """Whether a key stands in a file: it tells a bottle from a recipe, and a jar from a recipe."""
    if not isinstance(path, InMemory):
        return key in document_of(path).data
    return any(key in (name, one.validation_alias) for name, one in type(path.model).model_fields.items())


@dataclass
class _Tree:
    """Turns what was given in Python into what stands in a file, with the typed text of each value."""

    text: str = ""
    values: dict[KeyPath, Span] = field(default_factory=dict)
    named: dict[str, InMemory] = field(default_factory=dict)

    def plain(self, value: Any, path: KeyPath) -> Any:
        if isinstance(value, Mapping):
            return {str(key): self.plain(item, (*path, str(key))) for key, item in value.items()}
        if isinstance(value, (list, tuple)):
            return [self.plain(item, (*path, index)) for index, item in enumerate(value)]
        if isinstance(value, FileModel):
            value = self._name(value)
        elif isinstance(value, (PurePath, date)):
            value = value.as_posix() if isinstance(value, PurePath) else value.isoformat()
        if value is not None and not isinstance(value, (str, int, float)):
            message = f"must be text, a number, a list, a map or a model, got {shown(value)}."
            raise SpecError([IN_PYTHON.problem(path, message)])
        start = len(self.text)
        self.text += f"{value}\n"
        self.values[path] = (start, len(self.text) - 1)
        return value

    def _name(self, model: FileModel) -> str:
        standing = standing_for(model)
        name, others = standing.as_posix(), 1
        while self.named.setdefault(name, standing) != standing:
            others += 1
            name = f"{standing.as_posix().removesuffix('.yaml')} {others}.yaml"
        return name
