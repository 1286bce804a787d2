"""`library`: search what is built in, and show one ingredient with its sources."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from formulate.bar.opening import pantry_of
from formulate.bar.pantry import Pantry
from formulate.bar.potency import potency_text, stocked
from formulate.bar.restricted import prohibited_by_name, restricted_facts, rules_on
from formulate.blend.materials import class_of, kinetics_of
from formulate.describe.records import IngredientFacts
from formulate.errors import SpecError, SpecProblem
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import Ingredient
from formulate.files.listed_shelf import load_shelf
from formulate.files.search import search
from formulate.physics.ageing import fresh_to_dried_ratio
from formulate.quantity.document import Result, shown

__all__ = ["LibraryRecord", "browse", "facts_of", "find_ingredients"]

DRIED, FRESH = "-dried", "-fresh"
"""Endings by which ids of a fresh thing and the same dried belong together."""


def _laid_out(value: Any) -> Any:
    """Turn a model of a file, whatever fields it has, into plain maps and lists without the empty ones."""
    fields = getattr(type(value), "model_fields", None)
    if fields is not None:
        given = {name: getattr(value, name) for name in fields}
        return {name: _laid_out(item) for name, item in given.items() if item is not None}
    if isinstance(value, Mapping):
        # A colon stands in marks of the program's own, which `worked_out` says in words.
        return {name: _laid_out(item) for name, item in value.items() if ":" not in str(name)}
    return [_laid_out(item) for item in value] if isinstance(value, (list, tuple)) else value


@dataclass(frozen=True)
class LibraryRecord(Result):
    """Ingredients with their sources.

    Attributes
    ----------
    ingredients : tuple of Ingredient
        As when new.
    facts : IngredientFacts or None
        What is worked out about a single one.
    """

    ingredients: tuple[Ingredient, ...] = field(metadata=shown(by=_laid_out))
    facts: IngredientFacts | None = field(default=None, metadata=shown("worked_out", if_any=True))


def browse(words: str, shelf_path: Path | None = None, today: date | None = None) -> LibraryRecord:
    """Find ingredients, and work out what there is to tell about one that stands alone.

    Parameters
    ----------
    words, shelf_path
        As for `find_ingredients`.
    today : date, optional
        What the age of the stock is counted to.

    Raises
    ------
    SpecError
        If nothing fits.
    """
    found = find_ingredients(words, shelf_path)
    return LibraryRecord(found, facts_of(found[0], shelf_path, today) if len(found) == 1 else None)


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
        As when new: age is told by `facts_of`.

    Raises
    ------
    SpecError
        If nothing fits.
    """
    pantry = _pantry(shelf_path, None)
    library, shelf = pantry.library, pantry.shelf
    own = tuple(shelf.ingredients) if shelf else ()
    if words in library or words in own or (shelf is not None and words in shelf.house_made):
        return (pantry.unaged(words),)
    listed = [*library.ids(), *(name for name in own if name not in library)]
    every = tuple(pantry.unaged(name) for name in listed) if own else library.all()
    matching = search(every, words) if words else every
    if not matching:
        raise SpecError(_nothing(words, listed))
    return matching


def facts_of(
    ingredient: Ingredient, shelf_path: Path | None = None, today: date | None = None
) -> IngredientFacts:
    """Work out what is not in an entry: how it infuses, what it is dried or fresh, how old the stock is.

    Parameters
    ----------
    ingredient : Ingredient
        As `find_ingredients` gives it.
    shelf_path : Path, optional
        A shelf that may say how old the stock is.
    today : date, optional
        What its age is counted to; the day it is if not given.

    Raises
    ------
    SpecError
        If the shelf's stock entry is wrong.
    """
    pantry = _pantry(shelf_path, today)
    plant_class, kinetics = class_of(ingredient), kinetics_of(ingredient)
    pair, ratio, pair_text = _pair(ingredient, pantry)
    potency = stocked(pantry, ingredient)
    return IngredientFacts(
        own=pantry.shelf is not None and ingredient.id in pantry.shelf.ingredients,
        infusion_class=plant_class,
        time_constant_h=None if kinetics is None else kinetics.time_constant_h,
        wash_share=None if kinetics is None else kinetics.wash_share,
        at_c=None if kinetics is None else kinetics.reference_c,
        infusion_source="" if kinetics is None else kinetics.source,
        infusion_confidence="" if kinetics is None else kinetics.confidence,
        fresh_g_per_g_dried=ratio,
        pair=pair,
        pair_text=pair_text,
        potency_text="" if potency is None else f"On your shelf it {potency_text(ingredient, potency)}.",
        potency=None if potency is None else potency.bitterness_share,
        restricted=restricted_facts(ingredient),
        rules=rules_on(ingredient),
    )


def _pantry(shelf_path: Path | None, today: date | None) -> Pantry:
    return pantry_of(load_shelf(shelf_path) if shelf_path else None, today)


def _pair(ingredient: Ingredient, pantry: Pantry) -> tuple[str, float | None, str]:
    """Find the same thing fresh or dried, and how much of one stands for how much of the other."""
    name = ingredient.id
    is_dried = name.endswith(DRIED)
    stem = name.removesuffix(DRIED) if is_dried else name.removesuffix(FRESH)
    others = [stem, f"{stem}{FRESH}"] if is_dried else [f"{stem}{DRIED}"]
    other = next((other for other in others if other in pantry.library), None)
    if other is None:
        return "", None, ""
    partner = pantry.unaged(other)
    fresh, dried = (partner, ingredient) if is_dried else (ingredient, partner)
    solid_fresh, solid_dried = (1.0 - plant.composition.get("water", 1.0) for plant in (fresh, dried))
    if not 0.01 <= solid_fresh < solid_dried:
        return "", None, ""
    ratio = float(fresh_to_dried_ratio(solid_fresh, solid_dried))
    text = (
        f"1 g dried stands for about {ratio:.2g} g fresh by dry matter ({'fresh' if is_dried else 'dried'}: "
        f"{other}). Drying costs aroma, and fresh brings its own water."
    )
    return other, ratio, text


def _nothing(words: str, ids: list[str]) -> list[SpecProblem]:
    # Two plants that are both a leaf are not each other: the first word has to be near too.
    first = words.split()[0].lower() if words.split() else ""
    near = [known for known in ids if did_you_mean(first, [known.split("-")[0]], list_up_to=0)]
    hint = did_you_mean(words, near, list_up_to=0)
    own = "What you buy and the library does not know goes under `ingredients:` of your shelf."
    hint = f"{hint or 'Try one word: a name, a family, bitter, sour, sweet, red.'} {own}"
    hint = prohibited_by_name(words) or hint
    text = f"nothing in the library fits '{words}'. {hint}"
    return [SpecProblem(None, "", text)]
