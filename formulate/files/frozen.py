"""The base of every model here: frozen, strict, unknown keys refused."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, ClassVar, TypeVar

from pydantic import BaseModel, ConfigDict, PrivateAttr

from formulate.files.issues import Issue
from formulate.files.located import Places

__all__ = ["FileModel", "Frozen", "FrozenMap"]

K = TypeVar("K")
V = TypeVar("V")


class FrozenMap(Mapping[K, V]):
    """A map that cannot be changed, keeps its order, and survives pickling and hashing."""

    __slots__ = ("_items",)

    def __init__(self, items: Mapping[K, V] | None = None) -> None:
        self._items: dict[K, V] = dict(items or {})

    def __getitem__(self, key: K) -> V:
        return self._items[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __hash__(self) -> int:
        return hash(frozenset(self._items.items()))

    def __repr__(self) -> str:
        return f"FrozenMap({self._items!r})"


class Frozen(BaseModel):
    """A frozen, strict model: no unknown keys, no number out of text, no infinities."""

    not_written: ClassVar[frozenset[str]] = frozenset()
    """Fields that do not stand among the keys a person writes."""

    model_config = ConfigDict(
        frozen=True,
        strict=True,
        extra="forbid",
        allow_inf_nan=False,
        validate_by_name=True,
        validate_by_alias=True,
        defer_build=True,  # many commands need few of the models
    )


class FileModel(Frozen):
    """A model that came out of a file and knows the places of its values.

    The places and the path do not count when two models are compared.
    """

    _places: Places = PrivateAttr(default_factory=Places)
    _path: Path | None = PrivateAttr(default=None)

    @property
    def places(self) -> Places:
        """Where each key and value stands in the file; empty for a model built in Python."""
        return self._places

    @property
    def path(self) -> Path | None:
        """The file this came from, or None."""
        return self._path

    @classmethod
    def issues_as_typed(cls, raw: Mapping[str, Any]) -> list[Issue]:
        """Find what can be found wrong across the file although some of it could not be read."""
        del raw
        return []

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and self.__dict__ == other.__dict__

    def __hash__(self) -> int:
        return hash((type(self), tuple(self.__dict__.values())))
