"""Which files are read meanwhile, and what stood in them: so that the same can be done elsewhere."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path

__all__ = ["note_file", "noting_files"]

_NOTED: ContextVar[dict[Path, bytes] | None] = ContextVar("noted", default=None)


@contextlib.contextmanager
def noting_files() -> Iterator[dict[Path, bytes]]:
    """Note every file that is read meanwhile, with what stood in it; yields the notes."""
    noted: dict[Path, bytes] = {}
    before = _NOTED.set(noted)
    try:
        yield noted
    finally:
        _NOTED.reset(before)


def note_file(path: Path, raw: bytes | None = None) -> None:
    """Note that a file was read, for whoever asked by `noting_files`; without `raw` it is read for that."""
    noted = _NOTED.get()
    if noted is not None:
        noted[path.resolve()] = path.read_bytes() if raw is None else raw
