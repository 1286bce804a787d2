"""By what a rule knows a plant: its botanical name, or words of an id or a name."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from formulate.files.limit_rows import (
    ALCOHOL_ONLY,
    CONTENTS,
    PROHIBITED,
    NamedRow,
    alcohol_only,
    contents,
    known_plants,
    prohibited,
)
from formulate.files.standards import specs_folder

if TYPE_CHECKING:
    from formulate.files.ingredient import Ingredient

__all__ = [
    "is_bought_drink",
    "is_drawn",
    "is_sold_ready",
    "is_unknown_plant",
    "may_be_meant",
    "names_it",
    "plain",
    "plants_named",
    "rows_named",
    "shown",
]

Words = tuple[str, ...]
Names = tuple[str, ...]

APART = "|"
"""Stands where words of a name do not belong together."""

_ROWS = re.compile(r"^ +(latin|words): \[([^\]]*)\]", re.MULTILINE)
_WORDS = re.compile(r"[^\W_]+|[,;:()/+&|]")
_JOINED_LETTERS = (("\u0153", "oe"), ("\u00e6", "ae"), ("\u00df", "ss"), ("\u00f8", "o"))
_NOT_SAID = frozenset({"x", "of", "the", "from"})
_JOINED = frozenset({"and", "with", "plus", "mix", "blend"})
_DRAWN = frozenset(
    {"tincture", "extract", "drop", "essence", "concentrate", "oil", "oleoresin", "absolute", "elixir"}
)
"""Words for what was drawn out of a plant, which may hold more of a substance than the plant itself."""

_MADE_HERE = frozenset({"infusion", "infused", "macerate", "maceration", "macerated", "house", "homemade"})
"""Words for what a bar drew out itself: no law has looked at that."""

_SOLD_READY = frozenset(
    {"vermouth", "bitter", "amaro", "absinthe", "aperitif", "aperitivo", "digestif", "americano", "quinquina"}
)
"""Words for drinks that are made with restricted plants as a rule, though they do not name them."""

_PLANT_FAMILIES = frozenset(
    {"herb", "flower", "root", "bark", "spice", "fruit", "vegetable", "nut", "seed", "leaf", "mushroom"}
)
_PARTS = frozenset(
    {"root", "rhizome", "bulb", "bark", "wood", "twig", "stem", "stalk", "leaf", "needle", "bud", "herb"}
    | {"flower", "blossom", "petal", "berry", "seed", "pod", "bean", "resin", "moss", "lichen", "mushroom"}
    | {"fungus", "fern", "weed", "wort", "vine", "lotus", "orchid", "lily", "cactus", "botanical"}
)
"""Words for what grew, whatever it was filed under."""


def names_it(row: NamedRow, ingredient: Ingredient) -> bool:
    """Tell whether a row means an ingredient.

    By its botanical name, in full or with the genus as an initial, or by words of its id or its name,
    singular or plural and in either order. Another plant that the row leaves out frees it, unless the name
    says that there is more than that plant in it.
    """
    names = _Names(row.latin, row.unless, row.words, row.not_phrases)
    return _are_meant(names, ingredient.latin or "", ingredient.id, ingredient.name)


class _Names(NamedTuple):
    """What a row goes by."""

    latin: Names
    unless: Names
    words: Names
    not_phrases: Names


@cache
def _are_meant(row: _Names, latin: str, ingredient_id: str, name: str) -> bool:
    plants = _botanical_names(latin)
    left_out = [_any_of(row.unless, plant) for plant in plants]
    if any(_any_of(row.latin, plant) for plant, out in zip(plants, left_out, strict=True) if not out):
        return True
    if plants and all(left_out):
        return False
    texts = _words(ingredient_id), _words(name)
    alone = not any(word in _JOINED for text in texts for word in text)
    if not plants and alone and any(_any_of(_in_full(row.unless), text) for text in texts):
        return False
    return any(_words_in(row, text) for text in texts)


def plants_named(ingredient: Ingredient) -> tuple[str, ...]:
    """Return the rows of the register of plants that mean an ingredient."""
    return tuple(row.id for row in known_plants().rows if names_it(row, ingredient))


def is_unknown_plant(ingredient: Ingredient) -> bool:
    """Tell whether an ingredient is a plant, or drawn out of one, that no row of any file names.

    A botanical name decides where it is given: a word of everyday speech does not make it known.
    """
    if ingredient.latin is None:
        words = {word for text in _texts(ingredient) for word in text}
        grew = ingredient.family in _PLANT_FAMILIES or bool(words & _PARTS)
        if not grew or ingredient.based_on is not None:
            return False
    elif ingredient.based_on is not None and "latin" not in ingredient.overrides:
        return False
    return not any(
        names_it(row, ingredient)
        if ingredient.latin is None
        else any(_any_of(row.latin, plant) for plant in _botanical_names(ingredient.latin))
        for row in (*known_plants().rows, *contents().rows, *prohibited().rows, *alcohol_only().rows)
    )


def rows_named(rows: Sequence[NamedRow], name: str) -> list[NamedRow]:
    """Return the rows that an id nobody knows brings to mind.

    Parameters
    ----------
    name : str
        As typed.
    """
    return [row for row in rows if _words_in(row, _words(name))]


def may_be_meant(ingredient: Ingredient) -> bool:
    """Tell whether any row may mean an ingredient, without reading the rows.

    Most recipes hold nothing restricted; they need not pay for reading the rows.
    """
    said = {word for text in (*_texts(ingredient), _words(ingredient.latin or "")) for word in text}
    return any(genus <= said or initial <= said for genus, initial in _terms_in_files())


def is_drawn(ingredient: Ingredient) -> bool:
    """Tell whether an ingredient holds what was drawn out of plants: by its alcohol, or by its name."""
    return _has_ethanol(ingredient) or any(word in _DRAWN for text in _texts(ingredient) for word in text)


def is_bought_drink(ingredient: Ingredient) -> bool:
    """Tell whether an ingredient is a drink with alcohol as sold, no tincture, extract or infusion."""
    words = {word for text in _texts(ingredient) for word in text}
    return _has_ethanol(ingredient) and not words & (_DRAWN | _MADE_HERE)


def is_sold_ready(ingredient: Ingredient) -> bool:
    """Tell whether an ingredient is a vermouth, a bitter or the like."""
    words = (word for text in _texts(ingredient) for word in text)
    return _has_ethanol(ingredient) and any(word in _SOLD_READY for word in words)


def plain(text: str) -> str:
    """Write small letters without accents, as on another keyboard."""
    for joined, apart in _JOINED_LETTERS:
        text = text.lower().replace(joined, apart)
    letters = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in letters if not unicodedata.combining(letter))


def shown(name: str) -> str:
    """Write the name of a substance as one says it."""
    return name.replace("-", " ")


def _has_ethanol(ingredient: Ingredient) -> bool:
    return bool(ingredient.strength_pct_vol) or ingredient.composition.get("ethanol", 0.0) > 0.0


def _texts(ingredient: Ingredient) -> tuple[Words, Words]:
    return _words(ingredient.id), _words(ingredient.name)


@cache
def _words(text: str) -> Words:
    """Split a text into words in the singular, small letters, without accents."""
    found = _WORDS.findall(re.sub("['\u2019]", "", plain(text.replace("\u00d7", " x "))))
    return tuple(
        _singular(word) if word.isalnum() else APART if word in ",;:()|" else "and"
        for word in found
        if word not in _NOT_SAID
    )


def _singular(word: str) -> str:
    """Write a word in the singular; French ones in -ie and -che meet their plurals in the same form."""
    if word.endswith("leaves"):
        return f"{word[:-3]}f"
    if len(word) > 4 and word.endswith(("ies", "ie")):
        return f"{word.removesuffix('s')[:-2]}y"
    if word.endswith(("ches", "shes", "xes", "sses", "che", "she", "xe", "sse")):
        return word.removesuffix("s")[:-1]
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word


@cache
def _botanical_names(latin: str) -> tuple[Words, ...]:
    """Split a botanical name that stands for several plants; a species alone takes the genus before it."""
    found: list[Words] = []
    for part in re.split(r"[,;/+&]| and ", latin):
        name = tuple(word for word in _words(part) if word != APART)
        if len(name) == 1 and found and part.strip()[:1].islower():
            name = (found[-1][0], *name)
        if name:
            found.append(name)
    return tuple(found)


def _any_of(names: Sequence[str], plant: Words) -> bool:
    """Tell whether any of these botanical names stands in a text; the genus may be an initial."""
    wanted = (_botanical_names(name)[0] for name in names)
    return any(
        _same(name, plant[start : start + len(name)])
        for name in wanted
        for start in range(len(plant) - len(name) + 1)
    )


def _same(name: Words, there: Words) -> bool:
    if name == there:
        return True
    return len(name) > 1 and len(there[0]) == 1 and there[0] == name[0][0] and name[1:] == there[1:]


def _in_full(names: Sequence[str]) -> list[str]:
    """Keep the names of species: a genus alone may be a word of everyday speech."""
    return [name for name in names if len(_botanical_names(name)[0]) > 1]


def _words_in(row: _Names | NamedRow, text: Words) -> bool:
    for phrase in sorted(map(_words, row.not_phrases), key=len, reverse=True):
        text = _without(phrase, text)
        text = _without((*phrase[1:], APART, phrase[0]), text)  # as in Kernels, walnut
        text = _without((phrase[-1], APART, *phrase[:-1]), text)
    if any(_any_of([name], text) for name in _in_full(row.latin)):
        return True
    said = tuple(word for word in text if word != APART)
    terms = (order for word in row.words for order in {_words(word), _words(word)[::-1]})
    return any(not _is_free(said, end) for term in terms for end in _ends(term, said))


def _ends(term: Words, text: Words) -> Iterator[int]:
    """Give the position after each place where words stand beside each other."""
    for start in range(len(text) - len(term) + 1):
        if text[start : start + len(term)] == term:
            yield start + len(term)


def _is_free(text: Words, end: int) -> bool:
    """Tell whether what is named is said not to be in it, as in thujone-free."""
    return text[end : end + 1] == ("free",)


def _without(phrase: Words, text: Words) -> Words:
    for end in reversed(list(_ends(phrase, text))):
        text = (*text[: end - len(phrase)], APART, *text[end:])
    return text


@cache
def _terms_in_files() -> tuple[tuple[frozenset[str], frozenset[str]], ...]:
    """Return the words of every name that any row goes by, in full and with the genus as an initial."""
    folder = specs_folder() / "standards"
    texts = [(folder / f"{name}.yaml").read_text("utf-8") for name in (CONTENTS, PROHIBITED, ALCOHOL_ONLY)]
    found = set()
    for key, group in (row for text in texts for row in _ROWS.findall(text)):
        for name in group.split(","):
            words = _words(name)
            if words:
                short = (words[0][0], *words[1:]) if key == "latin" and len(words) > 1 else words
                found.add((frozenset(words), frozenset(short)))
    return tuple(found)
