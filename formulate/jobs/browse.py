"""`library`: search what is built in, and show one ingredient with its sources."""

from __future__ import annotations

from pathlib import Path

from formulate.errors import SpecError, SpecProblem
from formulate.jobs.pantry import Pantry
from formulate.spec.fields import did_you_mean
from formulate.spec.ingredient import Ingredient
from formulate.spec.library import Library
from formulate.spec.shelf import load_shelf

__all__ = ["find_ingredients"]


def find_ingredients(words: str, shelf_path: Path | None = None) -> tuple[Ingredient, ...]:
    """Find ingredients by id, name, family or property.

    Parameters
    ----------
    words : str
        An id shows that one; else every ingredient that fits all the words. Empty lists everything.
    shelf_path : Path, optional
        A shelf whose own values stand over the library's.

    Returns
    -------
    tuple of Ingredient

    Raises
    ------
    SpecError
        If nothing fits.
    """
    library = Library.built_in()
    pantry = Pantry(load_shelf(shelf_path) if shelf_path else None, library)
    own = (*pantry.shelf.ingredients, *pantry.shelf.house_made) if pantry.shelf else ()
    if words in library or words in own:
        return (pantry.ingredient(words),)
    found = library.search(words) if words else library.all()
    if not found:
        raise SpecError(_nothing(words, library))
    return tuple(pantry.ingredient(ingredient.id) for ingredient in found)


def _nothing(words: str, library: Library) -> list[SpecProblem]:
    hint = did_you_mean(words, library.ids(), list_up_to=0)
    hint = hint or "Try one word: a name, a family, bitter, sour, sweet, red."
    text = f"nothing in the library fits '{words}'. {hint}"
    return [SpecProblem(None, "", text)]
