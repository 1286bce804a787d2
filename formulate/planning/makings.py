"""How the house makes its bottles: by which recipe, in which vessels, with what work and supplies."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from formulate.bar.pantry import Pantry
from formulate.bar.vessels import contents_l
from formulate.blend.chain import ChainRun
from formulate.files.fields import did_you_mean, work_money
from formulate.files.issues import Problems
from formulate.files.menu import HouseBottle, Menu
from formulate.files.shelf import Shelf
from formulate.optimise.stock.question import Making
from formulate.planning.calendar import HOURS_PER_DAY
from formulate.quantity import Money

__all__ = ["house_makings", "vessel_gives_l"]


def house_makings(
    menu: Menu, pantry: Pantry, names: tuple[str, ...], problems: Problems
) -> tuple[Making, ...]:
    """List the ways in which house bottles are made by their recipes, one for each vessel.

    Parameters
    ----------
    pantry : Pantry
        With the house bottles on its shelf.
    names : tuple of str
        Of the goods.
    problems : Problems
        Of the menu file; takes what is wrong.
    """
    shelf = pantry.shelf
    assert shelf is not None
    order = {name: number for number, name in enumerate(names)}
    made_here = [name for name in names if name in shelf.house_made]
    for name in menu.house:
        if name not in made_here:
            hint = did_you_mean(name, made_here)
            problems.add(
                ("house", name), f"no house bottle called '{name}' is used. {hint}".rstrip(), key=True
            )
    makings: list[Making] = []
    for name in made_here:
        batch = pantry.made(name).batch
        own = batch.pantry.shelf
        if own is None or own.path != shelf.path:
            message = f"the recipe of {name} uses another shelf. A menu has one: use it in both."
            problems.add(("house", name) if name in menu.house else ("drinks",), message, key=True)
            continue
        mass, volume = float(batch.drink.mass_kg), float(batch.drink.volume_l)
        uses: dict[int, float] = {}
        for inner, used in zip(batch.ingredients, batch.used_kg, strict=True):
            if used > 0.0 and inner.id in order:
                uses[order[inner.id]] = uses.get(order[inner.id], 0.0) + float(used) / mass
        entry = menu.house.get(name, HouseBottle())
        making = Making(order[name], tuple(uses.items()))
        if entry.bottled is not None:
            bottles = Counter(order[supply] for supply in entry.bottled.takes if supply in order)
            making = replace(
                making,
                filled_kg=entry.bottled.size_l * mass / volume,
                filled_with=tuple((supply, float(count)) for supply, count in bottles.items()),
            )
        if "takes_h" in entry.model_fields_set:
            making = replace(making, takes=entry.takes_h / HOURS_PER_DAY)
        makings += _in_vessels(name, entry, pantry, making, batch.run, (mass, volume), problems)
        by_batch = Counter(order[supply] for supply in entry.each_batch if supply in order)
        if by_batch:
            amounts = tuple((supply, float(count)) for supply, count in by_batch.items())
            makings = [
                replace(making, batch_uses=amounts)
                if making.good == order[name] and making.batch_kg
                else making
                for making in makings
            ]
    return tuple(makings)


def _in_vessels(
    name: str,
    entry: HouseBottle,
    pantry: Pantry,
    making: Making,
    run: ChainRun,
    gives: tuple[float, float],
    problems: Problems,
) -> list[Making]:
    """Make it in each of its vessels, or in any amount where none is named."""
    shelf = pantry.shelf
    assert shelf is not None
    if not entry.vessels:
        return [making]
    if isinstance(entry.labour, float) and shelf.wage is None:
        message = "work in minutes needs a wage. Add `wage: 18 EUR/h` to the shelf, or give money."
        problems.add(("house", name, "labour"), message)
    if isinstance(entry.labour, Money) and (foreign := pantry.foreign(entry.labour)):
        problems.add(("house", name, "labour"), foreign)
    mass, volume = gives
    vessels = {vessel: number for number, vessel in enumerate(shelf.vessels)}
    ways = []
    for index, vessel in enumerate(entry.vessels):
        place = ("house", name, "vessel") if len(entry.vessels) == 1 else ("house", name, "vessel", index)
        if vessel not in vessels:
            hint = did_you_mean(vessel, vessels)
            problems.add(place, f"no vessel called '{vessel}' on the shelf. {hint}".rstrip())
            continue
        most_l = vessel_gives_l(entry, vessel, shelf, run, volume)
        if entry.least_batch_l > most_l:
            message = f"{vessel} gives {most_l:.2f} L at most. Take a larger vessel or a smaller batch."
            problems.add(("house", name, "least_batch"), message)
        ways.append(
            replace(
                making,
                batch_kg=most_l * mass / volume,
                least_kg=entry.least_batch_l * mass / volume,
                vessel=vessels[vessel],
                takes=entry.takes_h / HOURS_PER_DAY,
                labour=work_money(entry.labour, shelf.wage),
            )
        )
    return ways


def vessel_gives_l(entry: HouseBottle, vessel: str, shelf: Shelf, run: ChainRun, volume_l: float) -> float:
    """Return how much one batch in a vessel gives at most, litres; the fullest step decides.

    Parameters
    ----------
    vessel : str
        On the shelf.
    run : ChainRun
        Of a batch of any size.
    volume_l : float
        What that batch gives.
    """
    fullest = max(contents_l(run, step) for step in range(run.gross.shape[-2]))
    return entry.fill_share * shelf.vessels[vessel] * volume_l / fullest
