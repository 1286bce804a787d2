"""The built-in ingredient library: many entries, few of them needed, so blocks are read on demand.

A library file is ``family: fruit`` and ``ingredients:`` with ids indented by two spaces. One scan of the
lines notes where each block starts; only the blocks asked for are parsed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from formulate.errors import SourceLocation, SpecError, SpecProblem
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import Ingredient
from formulate.files.located import load_document
from formulate.files.problems import read_model
from formulate.files.search import search
from formulate.files.standards import specs_folder

__all__ = ["Library"]

_BLOCK = re.compile(r"^  ([a-z0-9]+(?:-[a-z0-9]+)*):[ \t]*(?:#.*)?\r?$", re.MULTILINE)
_FAMILY = re.compile(r"^family:[ \t]*([^#\r\n]*[^#\s])", re.MULTILINE)
_START = re.compile(r"^ingredients:[ \t]*(?:#.*)?\r?$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class _Block:
    """Where one ingredient stands."""

    file: str
    first_line: int
    family: str
    text: str


class Library:
    """Ingredients by id, parsed when asked for.

    Parameters
    ----------
    files : iterable of (name, text)
        Library files: the name shown in messages, and the whole text.

    Raises
    ------
    SpecError
        If an id stands in two places or a file lacks its family.
    """

    def __init__(self, files: Iterable[tuple[str, str]]) -> None:
        self._blocks: dict[str, _Block] = {}
        self._parsed: dict[str, Ingredient] = {}
        problems: list[SpecProblem] = []
        for name, text in files:
            problems += self._scan(name, text)
        if problems:
            raise SpecError(problems)

    @classmethod
    def from_folder(cls, folder: Path) -> Library:
        """Read every ``*.yaml`` of a folder, in the order of their names.

        Raises
        ------
        SpecError
            If there is none, or one of them is wrong.
        """
        paths = sorted(folder.glob("*.yaml"))
        if not paths:
            message = f"no library files (*.yaml) in this folder: {folder.as_posix()}."
            raise SpecError([SpecProblem(None, "", message)])
        return cls((path.name, path.read_text("utf-8")) for path in paths)

    @staticmethod
    def built_in() -> Library:
        """Give the library that travels with the package, read once per process."""
        return _built_in()

    def _scan(self, name: str, text: str) -> Iterator[SpecProblem]:
        family = _FAMILY.search(text)
        start = _START.search(text)
        if family is None or start is None:
            missing = "family" if family is None else "ingredients"
            message = (
                f"'{missing}' is missing. A library file starts with `family: fruit` and `ingredients:`."
            )
            yield SpecProblem(SourceLocation(name, 1, 1), "", message)
            return
        found = list(_BLOCK.finditer(text, start.end()))
        line, position = 1, 0
        for this, following in zip(found, [*found[1:], None], strict=True):
            line += text.count("\n", position, this.start())
            position = this.start()
            end = following.start() if following else len(text)
            first = self._blocks.get(this[1])
            if first is not None:
                message = (
                    f"'{this[1]}' is given twice, first in {first.file} line {first.first_line}. Keep one."
                )
                yield SpecProblem(SourceLocation(name, line, 3), f"ingredients.{this[1]}", message)
                continue
            self._blocks[this[1]] = _Block(name, line, family[1].strip("'\" "), text[this.start() : end])

    def __contains__(self, ingredient_id: object) -> bool:
        return ingredient_id in self._blocks

    def __len__(self) -> int:
        return len(self._blocks)

    def ids(self) -> tuple[str, ...]:
        """List every id, in file order."""
        return tuple(self._blocks)

    def place(self, ingredient_id: str) -> SourceLocation:
        """Tell where an ingredient stands."""
        self._known(ingredient_id)
        block = self._blocks[ingredient_id]
        return SourceLocation(block.file, block.first_line, 3)

    def _known(self, ingredient_id: str) -> None:
        if ingredient_id not in self._blocks:
            hint = did_you_mean(ingredient_id, self._blocks)
            message = (
                f"no ingredient called '{ingredient_id}' in the library. {hint or 'Search it by a word.'}"
            )
            raise SpecError([SpecProblem(None, "", message)])

    def get(self, ingredient_id: str) -> Ingredient:
        """Read one ingredient.

        Raises
        ------
        SpecError
            If there is none of that id (with the nearest name), or its block is wrong.
        """
        self._known(ingredient_id)
        if ingredient_id not in self._parsed:
            block = self._blocks[ingredient_id]
            document = load_document(block.text, block.file, first_line=block.first_line, ours=True)
            extra = {"id": ingredient_id, "family": block.family}
            self._parsed[ingredient_id] = read_model(
                Ingredient, document, prefix=(ingredient_id,), extra=extra
            )
        return self._parsed[ingredient_id]

    def all(self) -> tuple[Ingredient, ...]:
        """Read every ingredient, in file order; all problems at once.

        Raises
        ------
        SpecError
            With the problems of every block.
        """
        ingredients: list[Ingredient] = []
        problems: list[SpecProblem] = []
        for ingredient_id in self._blocks:
            try:
                ingredients.append(self.get(ingredient_id))
            except SpecError as error:
                problems += error.problems
        if problems:
            raise SpecError(problems)
        return tuple(ingredients)

    def search(self, words: str) -> tuple[Ingredient, ...]:
        """Find ingredients by words and properties; every word must fit.

        Parameters
        ----------
        words : str
            A word fits when a word of the id, name, Latin name or family starts or ends with it, in the
            singular or the plural. ``bitter`` (bitterness value 100 and more), ``sour`` (acids of 1 % and
            more), ``sweet`` (sugars of 8 % and more) and ``red`` (anthocyanin) fit by property too, and the
            name of an attribute or component such as ``caffeine`` or ``pectin`` fits what has it.
            ``under 5 g sugar``, ``over 10 % acid``, ``pectin at least 1 %`` limit a component, an attribute,
            ``sugar`` or ``acid``, in g per 100 g, which is % of the mass; ``over 50 % vol`` the strength,
            ``over 5000 bitterness`` the bitterness value; ``no sugar`` and ``high pectin`` are short for
            such limits.

        Returns
        -------
        tuple of Ingredient
            Those whose id or name starts with the first word come first, then that family, then file order.

        Raises
        ------
        SpecError
            If a limit is on something nothing has a figure for.
        """
        return search(self.all(), words)


@cache
def _built_in() -> Library:
    return Library.from_folder(specs_folder() / "ingredients")
