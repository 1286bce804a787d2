"""House bottles that a drink or a menu pours: each a recipe file, or a bottle file solved for the cheapest.

They join the shelf under the name the drink gives them and are then used like anything that stands on
it, their figures, price and cautions worked out from their recipe.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from formulate.bar.batch import weigh_batch
from formulate.bar.house_made import Made, made_of, pantry_for
from formulate.bar.pantry import Pantry
from formulate.errors import InfeasibleError, SpecError, UnboundedError
from formulate.files.bottle import load_bottle
from formulate.files.disk import is_there, resolved
from formulate.files.drink import Drink
from formulate.files.frozen import FrozenMap
from formulate.files.issues import Problems
from formulate.files.models import InMemory, says
from formulate.files.recipe import load_recipe
from formulate.files.stock import HouseMade

__all__ = ["with_house_bottles", "with_house_of"]


def with_house_of(drink: Drink, pantry: Pantry) -> Pantry:
    """Put the house bottles of a drink file on the shelf of a pantry.

    Parameters
    ----------
    pantry : Pantry
        With a shelf.

    Raises
    ------
    SpecError
        With all that is wrong with them.
    """
    problems = Problems(drink.places)
    pantry = with_house_bottles(pantry, {name: drink.house_path(name) for name in drink.house}, problems)
    problems.raise_if_any()
    return pantry


def with_house_bottles(pantry: Pantry, house: Mapping[str, Path], problems: Problems) -> Pantry:
    """Put house bottles on the shelf of a pantry.

    Parameters
    ----------
    pantry : Pantry
        With a shelf.
    house : mapping of str to Path
        Name to recipe or bottle file.
    problems : Problems
        Of the file that names them under ``house``; takes what is wrong with them.

    Returns
    -------
    Pantry
        With those that could be worked out.
    """
    shelf = pantry.shelf
    assert shelf is not None
    entries: dict[str, HouseMade] = {}
    for name, path in house.items():
        place = ("house", name)
        if not is_there(path):
            problems.add(place, f"no file there, got '{path.as_posix()}'. Check the path.")
            continue
        taken = [
            words
            for words, things in (
                ("on the shelf", {*shelf.offers, *shelf.ingredients, *shelf.whole, *shelf.house_made}),
                ("in the library", set(pantry.library.ids())),
            )
            if name in things
        ]
        if taken:
            problems.add(
                place, f"'{name}' is something else {taken[0]}. Give it a name of its own.", key=True
            )
            continue
        entry = HouseMade(recipe=_seen_from(shelf.path, path))
        try:
            pantry.cache.made[(None if shelf.path is None else resolved(shelf.path), name)] = _made(
                pantry, name, entry, path
            )
        except SpecError as error:
            problems.add_from(place, error)
            continue
        except (InfeasibleError, UnboundedError):
            message = f"no recipe was found for it. Run `formulate solve {path.as_posix()}` to see why."
            problems.add(place, message)
            continue
        entries[name] = entry
    return replace(
        pantry,
        shelf=shelf.model_copy(update={"house_made": FrozenMap({**shelf.house_made, **entries})}),
    )


def _made(pantry: Pantry, name: str, entry: HouseMade, path: Path) -> Made:
    if says(path, "targets"):
        from formulate.formulation.solving import question_of, recipe_of, solve_formulation

        bottle = load_bottle(path)
        inner = pantry_for(bottle, pantry)
        formulation = question_of(bottle, inner)
        solved = recipe_of(bottle, solve_formulation(formulation))
        batch = weigh_batch(solved, inner, rules=formulation.rules)
        return made_of(name, entry, batch)
    recipe = load_recipe(path)
    return made_of(name, entry, weigh_batch(recipe, pantry_for(recipe, pantry), f", for {name}"))


def _seen_from(shelf: Path | None, path: Path) -> str:
    """Name a file as seen from the folder of the shelf."""
    if shelf is None or isinstance(path, InMemory):
        return path.as_posix()
    return Path(os.path.relpath(path, shelf.parent)).as_posix()
