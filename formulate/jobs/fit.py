"""A house bottle made to suit a drink: its limits are worked out from what the drink must be in the glass.

What others bring into the glass is taken off, and what is left is asked of the bottle, per litre of it.
How much is in the glass, melt and shrinking with it, depends a little on the bottle: the limits are
worked out again from every answer until that no longer moves, and the drink is verified by itself. Proved
is that no cheaper bottle meets the limits shown, not that no other volume in the glass allowed one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from formulate.bar.batch import weigh_batch
from formulate.bar.house_made import Made, made_of, pantry_for
from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry
from formulate.bar.serve import Serve, serve_of
from formulate.describe.pour_record import PourRecord
from formulate.describe.poured import pour_record
from formulate.describe.solved import SolvedBottle
from formulate.errors import NotConvergedError, SpecError, VerificationError
from formulate.files.bottle import Bottle, load_bottle
from formulate.files.disk import resolved
from formulate.files.drink import load_drink
from formulate.files.fields import did_you_mean
from formulate.files.issues import Problems
from formulate.files.measures import measure_of
from formulate.files.models import Source, says
from formulate.formulation.solving import recipe_of
from formulate.formulation.targets import Bands, glass_aims, glass_figures
from formulate.jobs.solve import solve_loaded
from formulate.planning.house_bottles import with_house_bottles

__all__ = ["FittedBottle", "fit_bottle"]

ROUNDS = 30
SETTLED = 1e-7
"""Share by which the volume in the glass may still move."""
SLACK = 1e-5
"""Share of a limit by which rounding may miss it."""


@dataclass(frozen=True)
class FittedBottle:
    """A bottle that suits a drink.

    Attributes
    ----------
    name : str
        Of the house bottle in the drink file.
    solved : SolvedBottle
        By limits worked out for the drink.
    pour : PourRecord
        The drink poured with it.
    aims : mapping of str to (float, float)
        What the drink must be, per litre in the glass.
    """

    name: str
    solved: SolvedBottle
    pour: PourRecord
    aims: Mapping[str, tuple[float, float]]


def fit_bottle(path: Source, name: str, *, today: date | None = None) -> FittedBottle:
    """Solve a house bottle for what the drink must be.

    Parameters
    ----------
    path : path or Drink
        Drink file with targets.
    name : str
        Of the house bottle in it, a bottle file.
    today : date, optional
        What the age of the stock is counted to.

    Raises
    ------
    SpecError
        If a file is wrong, or what else is poured brings too much already.
    InfeasibleError
        With a `NoRecipe`, when the bottle's ingredients cannot give it.
    NotConvergedError
        If the limits do not settle.
    VerificationError
        If the drink misses what it must be.
    """
    drink = load_drink(path)
    problems = Problems(drink.places)
    aims = glass_aims(drink, open_pantry(drink.shelf_path, drink.places, today=today), problems)
    if not aims:
        problems.add((), "nothing to fit to. Add `targets:` with strength, sugar, acid or bitterness.")
    problems.raise_if_any()
    if name not in drink.house:
        hint = did_you_mean(name, drink.house)
        problems.add(("house",), f"no house bottle called '{name}' in this drink. {hint}".rstrip(), key=True)
        problems.raise_if_any()
    file = drink.house_path(name)
    pantry = with_house_bottles(
        open_pantry(drink.shelf_path, drink.places, today=today),
        {other: drink.house_path(other) for other in drink.house},
        problems,
    )
    problems.raise_if_any()
    if not says(file, "targets"):
        message = f"a recipe cannot be fitted, got {drink.house[name]}. Name its bottle file."
        raise SpecError([drink.places.problem(("house", name), message)])
    bottle = load_bottle(file)
    serve = serve_of(drink, pantry)
    before = 0.0
    for _ in range(ROUNDS):
        volume = serve.glass.volume_l
        if abs(volume - before) <= SETTLED * volume:
            break
        before = volume
        asked = _asked(serve, name, aims, bottle)
        solved = solve_loaded(asked, today=today)
        serve = _with(serve, pantry, name, solved)
    else:
        raise NotConvergedError(ROUNDS, abs(volume - before) / volume)
    _verify(serve, aims)
    return FittedBottle(name, solved, pour_record(serve), aims)


def _asked(serve: Serve, name: str, aims: Bands, bottle: Bottle) -> Bottle:
    """Turn what the drink must be into what the bottle must be."""
    made: Made = serve.pantry.made(name)
    volume = serve.glass.volume_l
    poured_kg = sum(mass for ingredient, mass in serve.poured.holdings() if ingredient.id == name)
    house_l = poured_kg / float(made.batch.drink.density_kg_m3) * 1000.0
    total, own = glass_figures(serve.glass.drink, aims), glass_figures(made.batch.drink, aims)
    problems = Problems(serve.drink.places)
    targets = bottle.targets
    for key, (lower, upper) in aims.items():
        others = total[key] * volume - own[key] * house_l
        least = max((lower * volume - others) / house_l, 0.0)
        most = (upper * volume - others) / house_l
        if most < 0.0:
            message = f"what else is poured brings {others / volume:.3g} already, more than {upper:g}."
            problems.add(("targets", key), message)
            continue
        band = measure_of(key).band(least, most, f"for {serve.drink.name}")
        targets = targets.asking(key, band)
    problems.raise_if_any()
    return bottle.model_copy(update={"targets": targets})


def _with(serve: Serve, pantry: Pantry, name: str, solved: SolvedBottle) -> Serve:
    """Pour the drink with another recipe of the bottle."""
    shelf = pantry.shelf
    assert shelf is not None
    recipe = recipe_of(solved.formulation.bottle, solved.answer)
    inner = pantry_for(solved.formulation.bottle, pantry)
    made = made_of(name, shelf.house_made[name], weigh_batch(recipe, inner))
    key = (None if shelf.path is None else resolved(shelf.path), name)
    cache = replace(pantry.cache, made={**pantry.cache.made, key: made})
    return serve_of(serve.drink, replace(pantry, cache=cache))


def _verify(serve: Serve, aims: Bands) -> None:
    figures = glass_figures(serve.glass.drink, aims)
    for key, (lower, upper) in aims.items():
        slack = SLACK * max(abs(lower), 1.0)
        if not lower - slack <= figures[key] <= upper + slack:
            raise VerificationError(f"{key} in the glass is {figures[key]:.6g}, not {lower:g} to {upper:g}")
