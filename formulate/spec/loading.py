"""Reading a file whose kind is not known beforehand."""

from __future__ import annotations

from pathlib import Path

from formulate.errors import SpecError
from formulate.spec.bottle import Bottle
from formulate.spec.drink import Drink
from formulate.spec.jar import Jar
from formulate.spec.located import load_document
from formulate.spec.menu import Menu
from formulate.spec.problems import read_model
from formulate.spec.reading import ReadingFile
from formulate.spec.recipe import Recipe
from formulate.spec.scenarios import Scenarios
from formulate.spec.shelf import Shelf, with_price_lists

__all__ = ["load_any"]


def load_any(path: Path | str) -> Bottle | Shelf | Recipe | ReadingFile | Drink | Menu | Scenarios:
    """Read a file of any kind, told apart by its keys; a jar is a recipe too.

    Raises
    ------
    SpecError
        With every problem found, in file order; or if the file is none of them.
    """
    document = load_document(Path(path))
    kinds: dict[
        type[Bottle]
        | type[Shelf]
        | type[Recipe]
        | type[ReadingFile]
        | type[Drink]
        | type[Menu]
        | type[Scenarios],
        tuple[str, ...],
    ] = {
        Scenarios: ("suppose",),
        Menu: ("menu",),
        Drink: ("drink",),
        Recipe: ("recipe",),
        Jar: ("jar",),
        ReadingFile: ("reading",),
        Bottle: ("targets",),
        Shelf: ("currency", "offers"),
    }
    for model, keys in kinds.items():
        if any(key in document.data for key in keys):
            read = read_model(model, document)
            return with_price_lists(read) if isinstance(read, Shelf) else read
    message = (
        "cannot tell what this file is. A bottle file has `targets:`, a shelf `currency:` and `offers:`, "
        "a recipe `recipe:`, a jar `jar:`, a reading `reading:`, a drink `drink:`, a menu `menu:`, "
        "a scenarios file `suppose:`. Add the key that fits."
    )
    raise SpecError([document.places.problem((), message)])
