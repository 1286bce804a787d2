"""The base of every model here: frozen, strict, unknown keys refused."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from pydantic import BaseModel, ConfigDict

from formulate.files.issues import Issue

if TYPE_CHECKING:
    from formulate.files.located import Document

__all__ = ["Frozen", "FrozenMap"]

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

    @classmethod
    def issues_as_typed(cls, raw: Mapping[str, Any]) -> list[Issue]:
        """Find what can be found wrong across the file although some of it could not be read."""
        del raw
        return []

    def _read_from(self, document: Document) -> None:
        """Take note of what this was read from."""
