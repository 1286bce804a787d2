"""Amounts in a saved recipe that are far from what its bottle file asks: a slip of the unit, most likely."""

from __future__ import annotations

from collections.abc import Mapping

from formulate.bar.batch import BarBatch
from formulate.bar.pantry import UnknownMassError
from formulate.errors import SpecProblem
from formulate.files.recipe import Recipe

__all__ = ["far_off_amounts"]

FAR = 100.0
"""An amount this many times what the bottle's cheapest recipe takes, or this part of it, is questioned."""
MOST_KG_L = 5.0
"""More of one thing than this for a litre bottled is no recipe (working limit)."""
UNIT_SLIP = (300.0, 3000.0)
"""So many times as much looks like kg for g."""
OTHER_UNIT = {"kg": "g", "g": "kg", "L": "mL", "mL": "L", "l": "ml", "ml": "l"}


def far_off_amounts(
    recipe: Recipe, batch: BarBatch, asked_kg_l: Mapping[str, float]
) -> tuple[SpecProblem, ...]:
    """List the lines of a recipe that are far from what its bottle file asks.

    Parameters
    ----------
    recipe
        As saved.
    batch
        What it makes.
    asked_kg_l
        What the cheapest recipe of the bottle file takes of each ingredient, kg per litre bottled.

    Returns
    -------
    tuple of SpecProblem
        Each at the amount, as a question.
    """
    # What a slip makes of the batch is no measure for it: the volume that was written down is.
    volume = recipe.volume_l or float(batch.drink.volume_l)
    by_id = {ingredient.id: ingredient for ingredient in batch.ingredients}
    problems = []
    for index, line in enumerate(recipe.ingredients):
        try:
            mass = batch.pantry.mass_kg(line.amount, by_id[line.id]) / volume
        except UnknownMassError:
            continue
        asked = asked_kg_l.get(line.id, 0.0)
        times = mass / asked if asked > 0.0 else 0.0
        if not (mass > MOST_KG_L or (asked > 0.0 and mass > 0.0 and not 1.0 / FAR < times < FAR)):
            continue
        path = ("ingredients", index, line.id, "amount")
        typed = recipe.places.typed(path)
        grams = asked * volume * 1000.0
        about = f"{grams:.0f}" if grams >= 100.0 else f"{grams:.3g}"
        message = (
            f"{line.id} {typed} is far from what the bottle asks ({about} g in its "
            f"cheapest recipe){_is_it(typed, times)}"
        )
        problems.append(recipe.places.problem(path, message))
    return tuple(problems)


def _is_it(typed: str, times: float) -> str:
    """Ask after the unit where that would explain it."""
    unit = typed.split()[-1] if len(typed.split()) > 1 else ""
    low, high = UNIT_SLIP
    slipped = low <= times <= high or (times > 0.0 and low <= 1.0 / times <= high)
    if slipped and unit in OTHER_UNIT:
        return f": is it {OTHER_UNIT[unit]}?"
    return ". Check the amount."
