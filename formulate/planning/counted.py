"""What a count says of the goods of a menu: lots with their age, what is on order, batches under way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.files.count import Count
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import Ingredient
from formulate.files.issues import KeyPath, Problems
from formulate.files.menu import HouseBottle, Menu
from formulate.optimise.stock.question import Lot
from formulate.planning.calendar import Calendar
from formulate.quantity import Amount, AmountBasis

__all__ = ["Arrival", "arrivals_of", "held_until", "lots_of", "weighed_kg"]


@dataclass(frozen=True, slots=True)
class Arrival:
    """Something that is there, or will be, without being planned: since when, from when, how much."""

    name: str
    since: int
    day: int
    kg: float


def weighed_kg(menu: Menu, pantry: Pantry, amount: Amount, ingredient: Ingredient) -> float:
    """Weigh an amount; a bottle of the house holds what it is filled with.

    Raises
    ------
    UnknownMassError
        If it cannot be weighed.
    """
    said = menu.house.get(ingredient.id, HouseBottle())
    if said.bottled is not None and amount.basis is AmountBasis.BOTTLES:
        amount = Amount(amount.value * said.bottled.size_l, AmountBasis.VOLUME, amount.text)
    return pantry.mass_kg(amount, ingredient)


def arrivals_of(
    count: Count, menu: Menu, pantry: Pantry, ingredients: Sequence[Ingredient], calendar: Calendar
) -> tuple[Arrival, ...]:
    """Weigh what a count says.

    Raises
    ------
    SpecError
        With the names that the menu does not know, days that cannot be, and amounts that cannot be weighed.
    """
    problems = Problems(count.places)
    known = {ingredient.id: ingredient for ingredient in ingredients}
    assert menu.first_day is not None
    first = menu.first_day
    found: list[Arrival] = []

    def take(path: KeyPath, name: str, amount: Amount, since: date, day: date) -> None:
        if name not in known:
            hint = did_you_mean(name, known)
            problems.add(path, f"'{name}' is not used on this menu. {hint}".rstrip())
            return
        if since > count.day and day == count.day:
            problems.add(path, f"came after the day of the count, got {since}. Check the two days.")
            return
        if day < count.day:
            problems.add(path, f"before the day of the count, got {day}. Put it under `lots`.")
            return
        try:
            kg = weighed_kg(menu, pantry, amount, known[name])
        except UnknownMassError as error:
            problems.add(path, str(error))
            return
        found.append(Arrival(name, (since - first).days, (day - first).days, kg))

    for name, amount in count.on_hand.items():
        take(("on_hand", name), name, amount, count.day, count.day)
    for number, lot in enumerate(count.lots):
        take(("lots", number), lot.name, lot.amount, lot.since, count.day)
    for number, order in enumerate(count.on_order):
        take(("on_order", number), order.name, order.amount, order.comes, order.comes)
    for number, begun in enumerate(count.begun):
        take(("begun", number), begun.name, begun.gives, begun.ready, begun.ready)
        vessels = pantry.shelf.vessels if pantry.shelf else {}
        if begun.vessel is not None and begun.vessel not in vessels:
            hint = did_you_mean(begun.vessel, vessels)
            problems.add(("begun", number, "vessel"), f"no vessel called '{begun.vessel}'. {hint}".rstrip())
    problems.raise_if_any()
    return tuple(one for one in found if calendar.start <= one.day < calendar.end)


def lots_of(arrivals: Sequence[Arrival], name: str, calendar: Calendar) -> tuple[Lot, ...]:
    """Return what is there of one good as lots of the plan."""
    return tuple(
        Lot(calendar.period(one.day), one.kg, float(one.day - one.since))
        for one in arrivals
        if one.name == name and one.kg > 0.0
    )


def held_until(count: Count, vessels: Mapping[str, float], first: date) -> dict[int, int]:
    """Return the day until which each vessel is held by a batch under way, by its number on the shelf."""
    order = {name: number for number, name in enumerate(vessels)}
    held: dict[int, int] = {}
    for begun in count.begun:
        if begun.vessel is not None:
            number, day = order[begun.vessel], (begun.ready - first).days
            held[number] = max(held.get(number, day), day)
    return held
