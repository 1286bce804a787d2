"""What is counted by the piece and not drunk: bottles, corks and labels, filters, what stands on a glass."""

from __future__ import annotations

from collections.abc import Sequence

from formulate.files.drink import Drink
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.menu import Menu
from formulate.files.shelf import Shelf

__all__ = ["supply_as_ingredient", "supply_names"]


def supply_as_ingredient(name: str) -> Ingredient:
    """Describe a supply as a good of a kilogram apiece, so that pieces are planned as everything else is."""
    return Ingredient(id=name, name=name, family="supply", piece_kg=1.0)


def supply_names(menu: Menu, drinks: Sequence[Drink], shelf: Shelf, problems: Problems) -> tuple[str, ...]:
    """List the supplies that a menu takes.

    Parameters
    ----------
    problems : Problems
        Of the menu file; takes what is not on the shelf.
    """
    names: dict[str, None] = {}

    def take(name: str, path: tuple[str | int, ...]) -> None:
        if name in shelf.supplies:
            names[name] = None
            return
        hint = did_you_mean(name, shelf.supplies) if shelf.supplies else ""
        message = f"no supply called '{name}' on the shelf. {hint or 'Add it under `supplies:` there.'}"
        problems.add(path, message)

    for drink in drinks:
        for garnish in drink.garnish:
            if garnish.id in shelf.supplies:
                names[garnish.id] = None
    for name, entry in menu.house.items():
        for index, supply in enumerate(entry.bottled.takes if entry.bottled else ()):
            take(supply, ("house", name, "bottled", "takes", index))
        for index, supply in enumerate(entry.each_batch):
            take(supply, ("house", name, "each_batch", index))
    for name in menu.pars:
        if name in shelf.supplies:
            names[name] = None
    return tuple(names)
