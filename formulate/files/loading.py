"""Reading a file whose kind is not known beforehand."""

from __future__ import annotations

from pathlib import Path

from formulate.errors import SpecError
from formulate.files.bottle import Bottle
from formulate.files.drink import Drink
from formulate.files.jar import Jar
from formulate.files.kinds import kind_of
from formulate.files.listed_shelf import with_price_lists
from formulate.files.located import load_document
from formulate.files.menu import Menu
from formulate.files.problems import read_model
from formulate.files.reading import ReadingFile
from formulate.files.recipe import Recipe
from formulate.files.scenarios import Scenarios
from formulate.files.shelf import Shelf

__all__ = ["load_any"]


AnyFile = Bottle | Shelf | Recipe | ReadingFile | Drink | Menu | Scenarios


def load_any(path: Path | str) -> AnyFile:
    """Read a file of any kind, told apart by its keys; a jar is a recipe too.

    Raises
    ------
    SpecError
        With every problem found, in file order; or if the file is none of them.
    """
    document = load_document(Path(path))
    models: tuple[type[AnyFile], ...] = (Scenarios, Menu, Drink, Recipe, Jar, ReadingFile, Bottle, Shelf)
    kind = kind_of(document.data)
    for model in models:
        if model.__name__ == kind:
            read = read_model(model, document)
            return with_price_lists(read) if isinstance(read, Shelf) else read
    message = (
        "cannot tell what this file is. A bottle file has `targets:`, a shelf `currency:` and `offers:`, "
        "a recipe `recipe:`, a jar `jar:`, a reading `reading:`, a drink `drink:`, a menu `menu:`, "
        "a scenarios file `suppose:`. Add the key that fits."
    )
    raise SpecError([document.places.problem((), message)])
