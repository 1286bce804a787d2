"""Reading a file whose kind is not known beforehand."""

from __future__ import annotations

from formulate.errors import SpecError
from formulate.files.book import document_of
from formulate.files.bottle import Bottle
from formulate.files.count import Count
from formulate.files.drink import Drink
from formulate.files.jar import Jar
from formulate.files.listed_shelf import with_price_lists
from formulate.files.located import Document
from formulate.files.menu import Menu
from formulate.files.models import InMemory, Source, opened, path_of
from formulate.files.problems import kind_of, read_model
from formulate.files.reading import ReadingFile
from formulate.files.recipe import Recipe
from formulate.files.scenarios import Scenarios
from formulate.files.shelf import Shelf
from formulate.files.trial import Trial

__all__ = ["load_any", "read_any"]


AnyFile = Bottle | Shelf | Recipe | ReadingFile | Drink | Menu | Scenarios | Count
_KINDS: tuple[type[AnyFile], ...] = (
    Scenarios,
    Count,
    Menu,
    Drink,
    Trial,
    Recipe,
    Jar,
    ReadingFile,
    Bottle,
    Shelf,
)


def load_any(path: Source) -> AnyFile:
    """Read a file of any kind, told apart by its keys; a jar is a recipe too, and so is a trial.

    Raises
    ------
    SpecError
        With every problem found, in file order; or if the file is none of them.
    """
    path = path_of(path)
    if isinstance(path, InMemory):
        return next(_whole(opened(kind, path)) for kind in _KINDS if isinstance(path.model, kind))
    return read_any(document_of(path))


def read_any(document: Document) -> AnyFile:
    """Read a document of any kind, told apart by its keys.

    Raises
    ------
    SpecError
        With every problem found, in file order; or if it is of no kind.
    """
    name = kind_of(document.data)
    for kind in _KINDS:
        if kind.__name__ == name:
            return _whole(read_model(kind, document))
    message = (
        "cannot tell what this file is. A bottle file has `targets:`, a shelf `currency:` and `offers:`, "
        "a recipe `recipe:`, a jar `jar:`, a reading `reading:`, a trial `trial:`, a drink `drink:`, "
        "a menu `menu:`, a scenarios file `suppose:`, a count `count:`. Add the key that fits."
    )
    raise SpecError([document.places.problem((), message)])


def _whole(read: AnyFile) -> AnyFile:
    return with_price_lists(read) if isinstance(read, Shelf) else read
