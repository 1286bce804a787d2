"""What people typed, made safe to show: a name may hold what moves a cursor, turns text around or hides it.

Documents keep every name as it is, escaped as JSON escapes; a screen shows what stands there, written out.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from formulate.errors import Note, SourceLocation, SpecProblem
from formulate.quantity.document import Record
from formulate.quantity.words import visible

__all__ = ["on_screen", "seen"]

P = ParamSpec("P")
T = TypeVar("T")


def on_screen(lay_out: Callable[P, T]) -> Callable[P, T]:
    """Let a function that lays out for a screen see what it is given with its texts written out."""

    @wraps(lay_out)
    def laid_out(*given: P.args, **named: P.kwargs) -> T:
        return lay_out(*map(seen, given), **{name: seen(value) for name, value in named.items()})

    return laid_out


def seen(value: Any) -> Any:
    """Return a record with every text in it written out; the same one where there is nothing to write out."""
    if isinstance(value, str):
        return visible(value)
    if isinstance(value, tuple):
        parts = [seen(part) for part in value]
        if all(new is old for new, old in zip(parts, value, strict=True)):
            return value
        return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
    if isinstance(value, list):
        return [seen(part) for part in value]
    if isinstance(value, Mapping):
        changed = {seen(name): seen(part) for name, part in value.items()}
        same = all(new is old for new, old in zip(changed.values(), value.values(), strict=True))
        return value if same and all(map(str.isprintable, map(str, changed))) else changed
    if is_dataclass(value) and not isinstance(value, type) and _is_told(value):
        return _seen_record(value)
    return value


def _is_told(value: Any) -> bool:
    """Tell records and what they hold from what they were worked out with, which no screen shows."""
    room = type(value).__module__.split(".")[1:2]
    return isinstance(value, (Record, Note, SourceLocation, SpecProblem)) or room not in (
        ["optimise"], ["formulation"], ["physics"], ["blend"],
    )  # fmt: skip


def _seen_record(record: Any) -> Any:
    changed = {}
    for one in fields(record):
        old = getattr(record, one.name)
        new = seen(old)
        if new is not old:
            changed[one.name] = new
    if not changed:
        return record
    twin = copy.copy(record)
    for name, new in changed.items():
        object.__setattr__(twin, name, new)
    return twin
