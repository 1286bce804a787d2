"""What validators raise: things wrong, by path, before they are given their place in the file."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from formulate.errors import SpecError, SpecProblem
from formulate.files.located import KeyPath, Places

__all__ = ["Issue", "IssuesError", "Problems"]


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


class Problems:
    """Collects what is wrong in one file, so that all of it is told at once."""

    def __init__(self, places: Places) -> None:
        self.places = places
        self.found: list[SpecProblem] = []

    def add(self, path: KeyPath, message: str, *, key: bool = False) -> None:
        """Note a problem at a place of the file."""
        self.found.append(self.places.problem(path, message, key=key))

    def add_from(self, path: KeyPath, error: SpecError) -> None:
        """Note the problems of an error at a place of the file where they name none themselves."""
        for problem in error.problems:
            if problem.location is None:
                self.add(path, problem.message)
            else:
                self.found.append(problem)

    def raise_if_any(self) -> None:
        """Raise everything noted so far.

        Raises
        ------
        SpecError
        """
        if self.found:
            # One faulty recipe of the house may be met on several ways.
            raise SpecError(dict.fromkeys(self.found))
