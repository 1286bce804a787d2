"""Where keys and values stand in a file, and what is wrong there: by path first, then by place."""

from __future__ import annotations

import os
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from formulate.errors import SourceLocation, SpecError, SpecProblem
from formulate.quantity.words import visible

__all__ = ["Issue", "IssuesError", "KeyPath", "Places", "Problems", "Span", "dotted", "printable"]

KeyPath = tuple[str | int, ...]
Span = tuple[int, int]  # offsets of first character and one past the last

_WIDEST_EXCERPT = 96


def printable(text: str) -> str:
    """Write out what would move a terminal's cursor or turn text around."""
    return visible(text.replace("\t", " "))


def _in_one_column(text: str) -> str:
    """Keep every character in its column above a caret; what cannot be printed is a question mark."""
    return "".join(one if one.isprintable() else " " if one == "\t" else "?" for one in text)


def dotted(path: KeyPath) -> str:
    """Write a path as it stands in messages: ``ingredients.2.damson``."""
    return printable(".".join(str(part) for part in path))


@dataclass(frozen=True, slots=True)
class Places:
    """Where each key and value of one file stands.

    Attributes
    ----------
    file : str
        The path as given, with forward slashes.
    text : str
        The whole text, for excerpts.
    in_file : bool
        False for what was given in Python, where no line is to be shown.
    """

    file: str = ""
    text: str = field(default="", repr=False)
    first_line: int = 1
    values: Mapping[KeyPath, Span] = field(default_factory=dict, repr=False)
    keys: Mapping[KeyPath, Span] = field(default_factory=dict, repr=False)
    line_starts: tuple[int, ...] = field(default=(0,), repr=False)
    in_file: bool = True

    def _line_column(self, offset: int) -> tuple[int, int]:
        line = bisect_right(self.line_starts, offset) - 1
        return line, offset - self.line_starts[line]

    def location(self, offset: int) -> SourceLocation:
        """Give the place of a character offset."""
        if not self.in_file:
            return SourceLocation(self.file, 0, 0)
        line, column = self._line_column(offset)
        return SourceLocation(self.file, line + self.first_line, column + 1)

    def _nearest(self, path: KeyPath, *, key: bool) -> Span:
        path = tuple(path)
        if key and path in self.keys:
            return self.keys[path]
        if path in self.values:
            return self.values[path]
        while path:
            path = path[:-1]
            # The key of the parent is a better place to point at than its first child.
            if path in self.keys:
                return self.keys[path]
            if path in self.values:
                return self.values[path]
        return (0, 0)

    def value(self, path: KeyPath) -> SourceLocation:
        """Give the place of the value at `path`, or of its nearest parent's key."""
        return self.location(self._nearest(path, key=False)[0])

    def key(self, path: KeyPath) -> SourceLocation:
        """Give the place of the key at `path`, or of its nearest parent's key."""
        return self.location(self._nearest(path, key=True)[0])

    def typed(self, path: KeyPath) -> str:
        """Return the characters of the value at `path` as they stand in the file."""
        start, end = self._nearest(path, key=False)
        return self.text[start:end]

    def excerpt(self, path: KeyPath, *, key: bool = False) -> str:
        """Show the line of a key or value under the line above it, with a caret."""
        start, end = self._nearest(path, key=key)
        return self.excerpt_at(start, end)

    def excerpt_at(self, start: int, end: int) -> str:
        """Show the line of an offset under the line above it, with carets from `start` to `end`."""
        if not self.in_file:
            return ""
        line, column = self._line_column(start)
        shown = [
            number
            for number in (line - 1, line)
            if number >= 0 and (number == line or self._line(number).strip())
        ]
        width = max(len(str(line + self.first_line)), 4)
        widest = min(_WIDEST_EXCERPT, max(_columns() - width - 4, 20))
        cut = max(0, column - widest // 2) if column > widest - 20 else 0
        rows = []
        for number in shown:
            text = _in_one_column(self._line(number)[cut : cut + widest])
            rows.append(f"{number + self.first_line:>{width}} | {text}".rstrip())
        room = len(self._line(line).rstrip()[: cut + widest]) - column
        carets = "^" * max(1, min(end - start, room))
        return "\n".join([*rows, f"{'':>{width}} | {'':>{column - cut}}{carets}"])

    def _line(self, number: int) -> str:
        start = self.line_starts[number]
        after = self.line_starts[number + 1] - 1 if number + 1 < len(self.line_starts) else len(self.text)
        return self.text[start:after].rstrip("\r")

    def problem(self, path: KeyPath, message: str, *, key: bool = False) -> SpecProblem:
        """Build a problem at the value (or key) of `path`."""
        start, end = self._nearest(path, key=key)
        return SpecProblem(
            self.location(start), dotted(path), printable(message), self.excerpt_at(start, end)
        )


def _columns() -> int:
    """Count the columns there are for what is said beside an answer; many where it goes to no terminal."""
    try:
        return os.get_terminal_size(2).columns or _WIDEST_EXCERPT + 8
    except OSError:
        return _WIDEST_EXCERPT + 8


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
