"""What validators raise: things wrong, by path, before they are given their place in the file."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

__all__ = ["Issue", "IssuesError"]


class Issue(NamedTuple):
    """One thing wrong: the path below the value being read, the words, and whether the key is meant."""

    path: tuple[str | int, ...]
    message: str
    at_key: bool = False


class IssuesError(ValueError):
    """Several things wrong below one value; raised inside validators, never shown as it is."""

    def __init__(self, issues: Iterable[Issue]) -> None:
        self.issues = tuple(issues)
        super().__init__("; ".join(".".join(map(str, [*i.path, ""])) + f" {i.message}" for i in self.issues))
