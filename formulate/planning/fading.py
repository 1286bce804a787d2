"""What age does to dried plants while a menu lasts and after it, so that a small pack may be the cheaper one.

The losses are those of `physics.ageing`, common practice at best. A batch takes as much more of a plant as
it has lost since it came; a rest is worth what age will leave of it by the time it is used.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from formulate.bar.pantry import Pantry
from formulate.bar.potency import DAYS_PER_YEAR, potency_of
from formulate.errors import SpecError
from formulate.files.ingredient import Ingredient
from formulate.files.stock import Stock

__all__ = ["Fading", "fading_of"]

LEAST_LOSS = 0.02
"""A plant that loses less than this while the menu lasts is planned as if it lost nothing."""
STEP_WEEKS = 13
DAYS_PER_WEEK = 7


@dataclass(frozen=True, slots=True)
class Fading:
    """What is left of a plant as it stands.

    Attributes
    ----------
    strength_left : tuple of float
        So many days after it came; empty where that is as good as all of it.
    rest_steps : tuple of (float, float)
        Kilograms of a rest, and what age leaves of them by the time they are used; empty for what does not
        fade.
    """

    strength_left: tuple[float, ...] = ()
    rest_steps: tuple[tuple[float, float], ...] = ()


def fading_of(
    pantry: Pantry, ingredient: Ingredient, days: int, goes_kg: float, keeps_days: float | None
) -> Fading:
    """Work out how a good of the menu fades.

    Parameters
    ----------
    pantry : Pantry
        Whose shelf may say in what shape it is kept; else it is taken as cut.
    days : int
        How long is planned for.
    goes_kg : float
        In a week.
    keeps_days : float or None
        As the menu says.
    """
    if pantry.shelf is None or not (ingredient.bitterness or ingredient.attributes):
        return Fading()
    entry = pantry.shelf.stock.get(ingredient.id)
    stored = "cut" if entry is None else entry.stored
    came = Stock(bought=pantry.day, stored=stored)

    def left(after_weeks: float) -> float:
        day = pantry.day + timedelta(days=after_weeks * DAYS_PER_WEEK)
        potency = potency_of(ingredient, came, day)
        return potency.bitterness_share if ingredient.bitterness else potency.aroma_share

    try:
        life = potency_of(ingredient, came, pantry.day).shelf_life.low * DAYS_PER_YEAR / DAYS_PER_WEEK
    except SpecError:
        return Fading()
    if keeps_days is not None:
        life = min(life, keeps_days / DAYS_PER_WEEK)
    strength = tuple(left(day / DAYS_PER_WEEK) for day in range(days + 1))
    steps = []
    after = days / DAYS_PER_WEEK
    while after < life and goes_kg > 0.0:
        until = min(after + STEP_WEEKS, life)
        steps.append(((until - after) * goes_kg, left((after + until) / 2.0)))
        after = until
    return Fading(
        strength if strength[-1] < 1.0 - LEAST_LOSS and keeps_days is None else (),
        tuple(steps) or ((0.0, 0.0),),
    )
