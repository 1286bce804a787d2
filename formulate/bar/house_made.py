"""What the house makes itself: worked out from its recipe, then used like anything that is bought.

A preparation may use others, of the same shelf or of the shelf its own recipe names, to any
depth. Each is worked out once per pantry; one that needs itself is refused with the whole circle.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.pantry import Pantry, checked_shelf
from formulate.bar.restricted import restricted_in
from formulate.blend.flavour import flavour_of
from formulate.blend.lots import CONFIDENCES, bitterness_range
from formulate.blend.materials import BITTERNESS, LIQUOR, RESTRICTED
from formulate.errors import SpecError
from formulate.files.bottle import Bottle
from formulate.files.disk import is_there, resolved
from formulate.files.doses import Dose, dose_of_made
from formulate.files.fields import work_money
from formulate.files.ingredient import Bitterness, Ingredient, Source
from formulate.files.models import resolved_beside
from formulate.files.recipe import Recipe, load_recipe
from formulate.files.shelf import Shelf
from formulate.files.stock import FAMILY, HouseMade
from formulate.physics.mixture import COMPONENTS
from formulate.quantity import Money

__all__ = ["Made", "made_of", "make", "pantry_for", "story_of", "tastes_of"]

MOSTLY = 0.5
"""A thing tastes of what brings this share of its flavour or more."""

DEEPEST = 60
"""Preparations inside preparations: no bar comes near it, and the interpreter's stack ends at about 130."""


@dataclass(frozen=True)
class Made:
    """A house-made thing, worked out.

    Attributes
    ----------
    ingredient : Ingredient
        As the rest of the program knows it.
    batch : BarBatch
        Its recipe.
    price_per_kg : float or None
        Ingredients and, where the shelf gives it, labour; None when a price is missing.
    unpriced : tuple of str
        Ids in its recipe without a price.
    """

    ingredient: Ingredient
    batch: BarBatch
    price_per_kg: float | None
    unpriced: tuple[str, ...]


def make(pantry: Pantry, preparation: str) -> Made:
    """Work out a house-made thing.

    Parameters
    ----------
    pantry : Pantry
        With a shelf that lists it.
    preparation : str
        Its id.

    Raises
    ------
    SpecError
        If its recipe is missing, wrong, outside the range of the model, or needs the thing itself; or
        if it stands more than `DEEPEST` recipes deep.
    """
    shelf = pantry.shelf
    assert shelf is not None
    key = (_resolved(shelf), preparation)
    if key not in pantry.cache.made:
        _refuse_circle(pantry, preparation)
        if len(pantry.making) >= DEEPEST:
            message = f"stands more than {DEEPEST} recipes deep. Write some of them as one recipe."
            raise SpecError([shelf.places.problem(("house_made", preparation, "recipe"), message)])
        pantry.cache.made[key] = _make(pantry, shelf, preparation)
    return pantry.cache.made[key]


def story_of(entry: HouseMade) -> str:
    """Say from which recipe, lot and day a house-made thing comes."""
    parts = [entry.recipe]
    if entry.lot is not None:
        parts.append(f"lot {entry.lot}")
    if entry.made is not None:
        parts.append(f"made {entry.made}")
    return ", ".join(parts)


def _resolved(shelf: Shelf) -> Path | None:
    return None if shelf.path is None else resolved(shelf.path)


def _refuse_circle(pantry: Pantry, preparation: str) -> None:
    """Refuse a thing that is being worked out already."""
    assert pantry.shelf is not None
    line = [(_resolved(shelf), name, shelf) for shelf, name in pantry.making]
    here = (_resolved(pantry.shelf), preparation)
    start = next((index for index, (path, name, _) in enumerate(line) if (path, name) == here), None)
    if start is None:
        return
    circle = line[start:]
    # The same circle entered anywhere is told once, from the member that stands first on its shelf.
    first = min(
        range(len(circle)),
        key=lambda index: (
            str(circle[index][0]),
            circle[index][2].places.key(("house_made", circle[index][1])),
        ),
    )
    circle = [*circle[first:], *circle[:first]]
    shelves = {path for path, _, _ in circle}
    names = [name if len(shelves) == 1 else f"{name} ({shelf.places.file})" for _, name, shelf in circle]
    following = [*names[1:], names[0]]
    steps = ", ".join(f"{name} needs {other}" for name, other in zip(names, following, strict=True))
    _, name, shelf = circle[0]
    message = f"cannot be made from itself: {steps}. Take one of them out of the recipe before it."
    raise SpecError([shelf.places.problem(("house_made", name, "recipe"), message)])


def _make(pantry: Pantry, shelf: Shelf, preparation: str) -> Made:
    entry = shelf.house_made[preparation]
    place = ("house_made", preparation, "recipe")
    path = resolved_beside(shelf.path, entry.recipe)
    assert path is not None
    if not is_there(path):
        message = f"no file there, got '{path.as_posix()}'. Check the path."
        raise SpecError([shelf.places.problem(place, message)])
    recipe = load_recipe(path)
    inner = pantry_for(recipe, replace(pantry, making=(*pantry.making, (shelf, preparation))))
    batch = weigh_batch(recipe, inner, f", for {preparation} on {shelf.places.file}")
    return made_of(preparation, entry, batch, shelf.wage)


def made_of(preparation: str, entry: HouseMade, batch: BarBatch, wage: Money | None = None) -> Made:
    """Describe a batch as a house-made thing.

    Parameters
    ----------
    preparation : str
        Its id.
    entry : HouseMade
        What the shelf says of it.
    batch : BarBatch
        Its recipe, weighed out and run.
    wage : Money, optional
        Of an hour; needed where the work is given in minutes.
    """
    made_kg = float(batch.drink.mass_kg)
    price = None
    if batch.bill is not None:
        price = batch.bill.total / made_kg + _labour_per_kg(entry, wage, made_kg, batch.volume_l)
    return Made(_ingredient(preparation, entry, batch), batch, price, batch.unpriced)


def pantry_for(recipe: Recipe | Bottle, pantry: Pantry) -> Pantry:
    """Give the pantry a file uses: the shelf it names, else the shelf it is listed on.

    Parameters
    ----------
    pantry : Pantry
        Of the shelf it is listed on.

    Raises
    ------
    SpecError
        If the two shelves count in different money, or the other cannot be read.
    """
    path = recipe.shelf_path
    assert pantry.shelf is not None
    if path is None or (pantry.shelf.path is not None and resolved(path) == resolved(pantry.shelf.path)):
        return pantry
    place = resolved(path)
    if place not in pantry.cache.shelves:
        pantry.cache.shelves[place] = checked_shelf(path, recipe.places, pantry.today)
    shelf = pantry.cache.shelves[place]
    if shelf.currency != pantry.currency:
        message = (
            f"counts in {shelf.currency}, but the shelf that uses this recipe counts in {pantry.currency}. "
            "Use one currency."
        )
        raise SpecError([recipe.places.problem(("shelf",), message)])
    return replace(pantry, shelf=shelf)


def _labour_per_kg(entry: HouseMade, wage: Money | None, made_kg: float, made_l: float) -> float:
    labour = entry.labour
    money = work_money(labour, wage)
    if isinstance(labour, Money) and labour.per is not None:
        return money if labour.per == "kg" else money * made_l / made_kg
    return money / made_kg


def _ingredient(preparation: str, entry: HouseMade, batch: BarBatch) -> Ingredient:
    """Describe what a batch gives as an ingredient: all of it is liquor, all of it is extracted."""
    carried = batch.bottled / float(batch.drink.mass_kg)
    by_name = dict(zip(batch.chain.materials.carried, carried, strict=True))
    total = float(carried[:LIQUOR].sum())
    bitter_per_g = 1000.0 * float(by_name[BITTERNESS])
    return Ingredient(
        id=preparation,
        name=batch.name,
        family=FAMILY,
        composition={name: float(by_name[name]) / total for name in COMPONENTS if by_name[name] > 0.0},
        density_kg_m3=float(batch.drink.density_kg_m3),
        bitterness=_bitterness(bitter_per_g, batch) if bitter_per_g > 0.0 else None,
        dose=_dose(batch),
        attributes={
            name: 1000.0 * float(by_name[name])
            for name in batch.chain.materials.carried[LIQUOR + 1 :]
            if by_name[name] > 0.0 and not name.startswith(RESTRICTED)
        },
        restricted=restricted_in(batch),
        cautions=tuple(
            dict.fromkeys(caution for ingredient, _ in batch.holdings() for caution in ingredient.cautions)
        ),
        notes=f"made here from {story_of(entry)}",
        sources=_sources(entry, batch),
    )


def _dose(batch: BarBatch) -> Dose | None:
    """Say how much of it is usual, from the plants and fruit that a gram of it was drawn from."""
    liquor_kg = float(batch.drink.mass_kg + batch.run.kept_kg.sum() + batch.run.lost_kg.sum())
    return dose_of_made(
        (float(mass) / liquor_kg, ingredient.dose)
        for ingredient, mass in zip(batch.ingredients, batch.used_kg, strict=True)
        if ingredient.dose is not None
    )


def tastes_of(pantry: Pantry, name: str) -> str:
    """Name the plant or fruit that a house-made thing tastes mostly of, through others too; else itself."""
    if pantry.shelf is None or name not in pantry.shelf.house_made:
        return name
    batch = pantry.made(name).batch
    parts = flavour_of(batch, None)
    return tastes_of(batch.pantry, parts[0].ingredient) if parts and parts[0].share >= MOSTLY else name


def _bitterness(value: float, batch: BarBatch) -> Bitterness:
    """Give the value per gram of what was made; weak and strong lots of the plants carry over."""
    low, high = bitterness_range(batch) or (None, None)
    usual = float(batch.drink.bitterness_value)
    return Bitterness(
        value=value,
        low=None if low is None else min(value * low / usual, value),
        high=None if high is None else max(value * high / usual, value),
        extracted=1.0,
    )


def _sources(entry: HouseMade, batch: BarBatch) -> tuple[Source, ...]:
    """Say that figures were worked out, and trust them as little as the weakest that went in."""
    used = [ingredient for ingredient, _ in batch.holdings()]
    asked = {
        "composition": ("composition", "strength"),
        "density": ("composition", "strength", "density"),
        "bitterness": ("bitterness",),
        "attributes": ("attributes",),
    }
    if not any(ingredient.bitterness for ingredient in used):
        del asked["bitterness"]
    if not any(ingredient.attributes for ingredient in used):
        del asked["attributes"]
    sources = []
    for figure, needed in asked.items():
        given = [
            source.confidence
            for ingredient in used
            for source in ingredient.sources
            if any(name in source.figures for name in needed)
        ]
        weakest = min(given, key=CONFIDENCES.index, default=CONFIDENCES[-1])
        text = f"worked out from {entry.recipe}"
        sources.append(Source(figures=(figure,), source=text, confidence=weakest))
    return tuple(sources)
