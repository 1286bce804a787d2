"""What an ingredient brings of restricted substances at worst, and whether it may be used at all.

The worst case is the content of the richest lots, all of it drawn out. A bar's own measured figure takes
its place, never silently. A plant that is prohibited somewhere is carried along like a substance, so
that it is found inside house-made things too.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import TYPE_CHECKING

from formulate.errors import SpecError, SpecProblem
from formulate.spec.fields import did_you_mean
from formulate.spec.folder import specs_folder
from formulate.spec.frozen import FrozenMap
from formulate.spec.limit_rows import (
    ALCOHOL_ONLY,
    CONTENTS,
    PROHIBITED,
    ContentRow,
    NamedRow,
    PlantRow,
    alcohol_only,
    contents,
    prohibited,
)

if TYPE_CHECKING:
    from formulate.spec.ingredient import Ingredient
    from formulate.spec.library import Library
    from formulate.spec.shelf import Shelf

__all__ = [
    "IN_SPIRIT",
    "PLANT",
    "contents_of",
    "limited",
    "names_it",
    "prohibition",
    "restricted_facts",
    "rules_on",
    "unknown_contents",
    "with_restricted",
]

PLANT = "plant:"
"""What a prohibited plant is carried as: this and the id of the row that prohibits it."""

IN_SPIRIT = "spirit:"
"""What a plant for alcoholic drinks only is carried as: this and the id of the row that says so."""

WHOLE_G_PER_KG = 1000.0

_NAMES = re.compile(r"^ +(?:latin|words): \[([^\]]*)\]", re.MULTILINE)


def with_restricted(
    ingredient: Ingredient, shelf: Shelf | None = None, library: Library | None = None
) -> Ingredient:
    """Return an ingredient with everything a limit counts in `restricted`, at worst.

    Parameters
    ----------
    ingredient : Ingredient
        As the shelf or the library has it; `restricted` holds the bar's own figures only.
    shelf : Shelf, optional
        Where its own entry may stand.
    library : Library, optional
        Where the entry it is based on, or shares its name with, stands: what that one brings cannot be
        taken off by giving it another botanical name.

    Raises
    ------
    SpecError
        If an own figure is of an unknown substance, is nothing, or does not say where it comes from.
    """
    alike = [ingredient, *_alike(ingredient, library)]
    own = dict(ingredient.restricted)
    if not own and not any(_may_be_meant(one) for one in alike):
        return ingredient
    _refuse_bad_figures(ingredient, shelf)
    brings: dict[str, float] = {}
    for row in contents_of(alike):
        content = own.get(row.substance, row.worst_g_kg)
        brings[row.counted_as] = max(brings.get(row.counted_as, 0.0), content)
    told = {row.substance for row in contents_of(alike)}
    brings |= {substance: content for substance, content in own.items() if substance not in told}
    marks: list[tuple[str, NamedRow]] = [(PLANT, row) for row in prohibited().rows]
    marks += [(IN_SPIRIT, row) for row in alcohol_only().rows]
    for mark, meant in marks:
        if any(names_it(meant, one) for one in alike):
            brings[mark + meant.id] = WHOLE_G_PER_KG
    return ingredient.model_copy(update={"restricted": FrozenMap(brings)})


def contents_of(alike: Iterable[Ingredient]) -> list[ContentRow]:
    """Return what is known of restricted substances in an ingredient, under any of its names."""
    names = list(alike)
    return [row for row in contents().rows if any(names_it(row, one) for one in names)]


def prohibition(ingredient: Ingredient, jurisdiction: str | None) -> PlantRow | None:
    """Return the rule by which an ingredient may not be used, or None.

    Parameters
    ----------
    ingredient : Ingredient
        Out of a pantry.
    jurisdiction : str or None
        None counts every rule.
    """
    named = [name.removeprefix(PLANT) for name in ingredient.restricted if name.startswith(PLANT)]
    rows = [prohibited()[name] for name in named]
    return next((row for row in rows if row.holds_in(jurisdiction)), None)


def limited(ingredient: Ingredient) -> bool:
    """Tell whether an ingredient out of a pantry brings a substance that some limit counts."""
    return any(not name.startswith((PLANT, IN_SPIRIT)) for name in ingredient.restricted)


def restricted_facts(ingredient: Ingredient) -> tuple[tuple[str, float, str], ...]:
    """List what an ingredient out of a pantry brings of restricted substances: name, mg/g, where from.

    Parameters
    ----------
    ingredient : Ingredient
    """
    rows = {row.counted_as: row for row in contents_of([ingredient])}
    measured = "; ".join(source.source for source in ingredient.sources if "restricted" in source.figures)
    facts = []
    for name, content in ingredient.restricted.items():
        if name.startswith((PLANT, IN_SPIRIT)):
            continue
        row = rows.get(name)
        if row is not None and row.worst_g_kg == content:
            facts.append((row.substance.replace("-", " "), content, f"at worst: {row.provenance}"))
        else:
            substance = name if row is None else row.substance
            facts.append((substance.replace("-", " "), content, measured or "worked out from its recipe"))
    return tuple(facts)


def rules_on(ingredient: Ingredient) -> tuple[str, ...]:
    """Say where an ingredient out of a pantry may not be used, or in drinks with alcohol only.

    Parameters
    ----------
    ingredient : Ingredient
    """
    rows: list[NamedRow] = []
    for name in ingredient.restricted:
        if name.startswith(PLANT):
            rows.append(prohibited()[name.removeprefix(PLANT)])
        elif name.startswith(IN_SPIRIT):
            rows.append(alcohol_only()[name.removeprefix(IN_SPIRIT)])
    return tuple(f"{row.says} ({', '.join(row.jurisdiction)}: {row.provenance})" for row in rows)


def names_it(row: NamedRow, ingredient: Ingredient) -> bool:
    """Tell whether a row means an ingredient.

    By its botanical name, or by a word of its id or its name where that names no plant the row leaves out.
    A drink somebody else made is taken to be lawful: a word in its name says what it tastes of, not what
    it is.
    """
    latin = _latin(ingredient)
    if any(name.lower() in latin for name in row.unless):
        return False
    if any(name.lower() in latin for name in row.latin):
        return True
    return not _is_drink(ingredient) and _word_in(row, ingredient)


def unknown_contents(ingredient: Ingredient) -> tuple[str, ...]:
    """Name what a drink may hold, going by its own name, of restricted substances nobody gave a figure for.

    Parameters
    ----------
    ingredient : Ingredient
        As the shelf has it.
    """
    if ingredient.restricted or ingredient.latin is not None or not _is_drink(ingredient):
        return ()
    found = (row.substance for row in contents().rows if _word_in(row, ingredient))
    return tuple(dict.fromkeys(name.replace("-", " ") for name in found))


def _is_drink(ingredient: Ingredient) -> bool:
    return ingredient.strength_pct_vol is not None or ingredient.composition.get("ethanol", 0.0) > 0.0


def _word_in(row: NamedRow, ingredient: Ingredient) -> bool:
    """Tell whether a word of a row, or its plural, stands in an id or a name."""
    texts = [f"-{text}-" for text in (ingredient.id, _dashed(ingredient.name))]
    forms = [f"-{word}{ending}-" for word in row.words for ending in ("", "s")]
    return any(form in text for form in forms for text in texts)


def _latin(ingredient: Ingredient) -> str:
    """Write a botanical name in small letters, a hybrid with an x."""
    return (ingredient.latin or "").lower().replace("\u00d7", "x")


def _dashed(name: str) -> str:
    """Write a name as an id is written."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")


def _alike(ingredient: Ingredient, library: Library | None) -> list[Ingredient]:
    if library is None:
        return []
    names = dict.fromkeys((ingredient.based_on, ingredient.id))
    return [library.get(name) for name in names if name is not None and name in library]


@cache
def _words_in_files() -> tuple[str, ...]:
    """Return every name that any row goes by, without reading the rows.

    Most recipes hold nothing restricted; they need not pay for reading the rows.
    """
    folder = specs_folder() / "standards"
    texts = [(folder / f"{name}.yaml").read_text("utf-8") for name in (CONTENTS, PROHIBITED, ALCOHOL_ONLY)]
    found = (name for text in texts for group in _NAMES.findall(text) for name in group.split(","))
    return tuple(sorted({" ".join(name.lower().split()) for name in found if name.strip()}))


def _may_be_meant(ingredient: Ingredient) -> bool:
    text = f"{ingredient.id} {_dashed(ingredient.name)} {_latin(ingredient)}"
    return any(name in text for name in _words_in_files())


def _refuse_bad_figures(ingredient: Ingredient, shelf: Shelf | None) -> None:
    known = {row.substance for row in contents().rows}
    problems = []
    for substance, content in ingredient.restricted.items():
        message = ""
        if substance not in known:
            message = f"no restricted substance called '{substance}'. {did_you_mean(substance, known)}"
        elif not content > 0.0:
            message = "a figure of nothing. Give what the laboratory could still have found."
        elif not any("restricted" in source.figures for source in ingredient.sources):
            message = (
                "your own figure needs its source. Add `sources: [{figures: [restricted], source: ..., "
                "confidence: measured here}]`."
            )
        if message:
            path = ("ingredients", ingredient.id, "restricted", substance)
            problems.append(
                SpecProblem(None, ".".join(path), message)
                if shelf is None
                else shelf.places.problem(path, message)
            )
    if problems:
        raise SpecError(problems)
