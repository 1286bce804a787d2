"""What is in a drink by name, the inside of house-made things included, and the allergens that brings."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from formulate.bar.pantry import Pantry
from formulate.bar.plant_names import is_unknown_plant, plain, plants_named
from formulate.bar.restricted import by_its_name, held
from formulate.files.ingredient import Ingredient
from formulate.files.labelling import AllergenRow, allergen_rules
from formulate.files.limit_rows import known_plants
from formulate.files.standards import Match, Provenance

__all__ = [
    "Content",
    "FoundAllergen",
    "contents_of",
    "found_allergens",
    "named",
    "only_named",
    "shown_names",
]

DISTILLED = re.compile(r" (?:re)?distill?(?:ed|ate)s? ")

SHOWN_AT_MOST = 3
"""More names than this are counted on a short line."""


@dataclass(frozen=True, slots=True)
class Content:
    """One ingredient as a rule sees it.

    Attributes
    ----------
    id : str
        As in the recipe, or in the recipe of the house-made thing it is in.
    ids : frozenset of str
        The same, and what it is based on.
    text : str
        Words of what the library does not know, one blank between and around, and a bar where the name
        begins or a comma stood; empty for what it knows and for house-made things, whose contents are
        listed instead.
    inside : str
        The house-made thing of the recipe it is in; empty for what is weighed in itself.
    plants : tuple of str
        Rows of the register of plants that mean what the library does not know.
    unknown : bool
        Whether it is a plant that nobody here has looked at.
    brings : tuple of (str, float)
        Restricted substances, g/kg at worst; infinite where nobody knows how much.
    """

    id: str
    ids: frozenset[str]
    family: str
    text: str
    inside: str = ""
    plants: tuple[str, ...] = ()
    unknown: bool = False
    brings: tuple[tuple[str, float], ...] = ()

    @property
    def shown(self) -> str:
        """How a person is told of it."""
        return f"{self.id} (in {self.inside})" if self.inside else self.id


@dataclass(frozen=True, slots=True)
class FoundAllergen:
    """One allergen and what brings it.

    Attributes
    ----------
    jurisdictions : tuple of str
        Where it has to be named.
    source : str
        With how far to trust it.
    """

    id: str
    name: str
    brought_by: tuple[str, ...]
    jurisdictions: tuple[str, ...]
    source: Provenance


def contents_of(
    ingredients: Sequence[Ingredient], used: Sequence[str], pantry: Pantry
) -> tuple[Content, ...]:
    """List what is used, and after each house-made thing what is in it, to any depth.

    Parameters
    ----------
    used : sequence of str
        Ids in the recipe.
    pantry : Pantry
        Knows what house-made things are made of.
    """
    every = (
        content
        for ingredient in ingredients
        if ingredient.id in used
        for content in _contents(ingredient, pantry, "")
    )
    return tuple(dict.fromkeys(every))


def only_named(ingredient_id: str) -> Content:
    """Return something nothing but the id of which is known, such as a garnish that has a price."""
    bare = by_its_name(ingredient_id)
    return _content(bare, "", _words(bare))


def named(match: Match, contents: Sequence[Content], *, inside: bool = True) -> tuple[str, ...]:
    """Name what a rule means among the contents.

    Parameters
    ----------
    inside : bool, default True
        Whether the insides of house-made things count.
    """
    return tuple(
        content.shown
        for content in contents
        if (inside or not content.inside) and match.fits(content.ids, content.family, content.text)
    )


def found_allergens(
    contents: Sequence[Content], jurisdiction: str | None = None
) -> tuple[FoundAllergen, ...]:
    """List the allergens a drink brings.

    Parameters
    ----------
    jurisdiction : str, optional
        Only what has to be named there; everywhere if not given.
    """
    allergens = []
    for row in allergen_rules().holding_in(jurisdiction):
        match = row.brought_by
        names = tuple(
            content.shown for content in contents if named(match, [content]) or _as_a_plant(row, content)
        )
        if names:
            allergens.append(FoundAllergen(row.id, row.name, names, row.jurisdiction, row.provenance))
    return tuple(allergens)


def _as_a_plant(row: AllergenRow, content: Content) -> bool:
    """Tell whether its botanical name brings an allergen; a distillate is left to the words of the row."""
    if row.distillate_exempt and DISTILLED.search(content.text):
        return False
    return any(row.id in known_plants()[name].allergens for name in content.plants)


def shown_names(names: Sequence[str], *, short: bool = False) -> str:
    """Join names as one says them; a long list is cut on a short line."""
    if short and len(names) > SHOWN_AT_MOST:
        return f"{', '.join(names[: SHOWN_AT_MOST - 1])} and {len(names) - SHOWN_AT_MOST + 1} more"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _contents(ingredient: Ingredient, pantry: Pantry, inside: str) -> Iterator[Content]:
    made = pantry.shelf is not None and ingredient.id in pantry.shelf.house_made
    if not made:
        yield _content(ingredient, inside, "" if ingredient.id in pantry.library else _words(ingredient))
        return
    yield Content(ingredient.id, _ids(ingredient), ingredient.family, "", inside)
    batch = pantry.made(ingredient.id).batch
    for inner, _ in batch.holdings():
        yield from _contents(inner, batch.pantry, inside or ingredient.id)


def _content(ingredient: Ingredient, inside: str, text: str) -> Content:
    # What the library knows and the shelf did not rename is told by its id alone.
    renamed = text or {"name", "latin"} & set(ingredient.overrides)
    return Content(
        ingredient.id,
        _ids(ingredient),
        ingredient.family,
        text,
        inside,
        plants_named(ingredient) if renamed else (),
        bool(renamed) and is_unknown_plant(ingredient),
        tuple(held(ingredient).items()),
    )


def _ids(ingredient: Ingredient) -> frozenset[str]:
    return frozenset(name for name in (ingredient.id, ingredient.based_on) if name is not None)


def _words(ingredient: Ingredient) -> str:
    # "Almond, milk" is no almond milk: a bar stands where the words do not belong together.
    words = re.findall(r"[^\W_]+|[|,;:()/+&]", plain(f"{ingredient.id} | {ingredient.name}"))
    return f" {' '.join(word if word[0].isalnum() else '|' for word in words)} "
