"""What an ingredient brings of restricted substances at worst, and whether it may be used at all.

The worst case is the content of the richest lots, all of it drawn out. A bar's own measured figure takes
its place, never silently. A plant that is prohibited somewhere is carried along like a substance, so
that it is found inside house-made things too; and so is a substance that nobody gave a figure for.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from formulate.bar.plant_names import (
    is_bought_drink,
    is_drawn,
    may_be_meant,
    names_it,
    rows_named,
    shown,
)
from formulate.blend.materials import LIQUOR, RESTRICTED
from formulate.errors import SpecError, SpecProblem
from formulate.files.fields import did_you_mean
from formulate.files.frozen import FrozenMap
from formulate.files.limit_rows import (
    CapRow,
    ContentRow,
    NamedRow,
    PlantRow,
    alcohol_only,
    caps,
    contents,
    prohibited,
)
from formulate.files.standards import JURISDICTIONS

if TYPE_CHECKING:
    from formulate.blend.batch import Batch
    from formulate.files.ingredient import Ingredient
    from formulate.files.library import Library
    from formulate.files.shelf import Shelf

__all__ = [
    "IN_SPIRIT",
    "PLANT",
    "by_its_name",
    "content_rows",
    "counted_in_spirit",
    "held",
    "limited",
    "limited_in_spirit",
    "prohibited_by_name",
    "prohibition",
    "restricted_facts",
    "restricted_in",
    "rules_on",
    "sold_with_at_most",
    "uncounted",
    "with_restricted",
    "worst_g_kg",
]

PLANT = "plant:"
"""What a prohibited plant is carried as: this and the id of the row that prohibits it."""

IN_SPIRIT = "spirit:"
"""What a plant for alcoholic drinks only is carried as: this and the id of the row that says so."""

UNCOUNTED = "uncounted:"
"""What a substance nobody gave a figure for is carried as: this and what the limits count it as."""

WINE = "wine-base"
"""What wine is carried as, since some limits are lower in whatever it is in; as limits name it."""

MARKS = (PLANT, IN_SPIRIT, UNCOUNTED, WINE)

WINE_FAMILY = "wine"

WHOLE_G_PER_KG = 1000.0

MEASURED = "measured here"


def with_restricted(
    ingredient: Ingredient, shelf: Shelf | None = None, library: Library | None = None
) -> Ingredient:
    """Return an ingredient with everything a limit counts in `restricted`, at worst.

    A tincture, an extract or an oil does not hold what the plant holds: it counts by the bar's own figure or
    by the plant of the library it is based on, and what neither tells is marked as uncounted.

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
    base = _alike(ingredient, library)
    alike = [ingredient, *base]
    own = dict(ingredient.restricted)
    is_wine = ingredient.family == WINE_FAMILY
    if not own and not is_wine and not any(may_be_meant(entry) for entry in alike):
        return ingredient
    named = content_rows(alike)
    counted = content_rows(base) if is_drawn(ingredient) else named
    _refuse_bad_figures(ingredient, shelf, named, counted)
    brings: dict[str, float] = {}
    for row in named:
        content = own.get(row.substance, row.worst_g_kg if row in counted else 0.0)
        brings[row.counted_as] = max(brings.get(row.counted_as, 0.0), content)
    brings |= {UNCOUNTED + name: WHOLE_G_PER_KG for name, content in brings.items() if not content > 0.0}
    brings = {name: content for name, content in brings.items() if content > 0.0}
    given = {row.substance for row in named}
    brings |= {substance: content for substance, content in own.items() if substance not in given}
    marks: list[tuple[str, NamedRow]] = [(PLANT, row) for row in prohibited().rows]
    marks += [(IN_SPIRIT, row) for row in alcohol_only().rows]
    for mark, meant in marks:
        if any(names_it(meant, entry) for entry in alike):
            brings[mark + meant.id] = WHOLE_G_PER_KG
    if is_wine:
        brings[WINE] = WHOLE_G_PER_KG
    return ingredient.model_copy(update={"restricted": FrozenMap(brings)})


def by_its_name(ingredient_id: str) -> Ingredient:
    """Return something of which nothing but the id is known, such as a garnish with a price."""
    from formulate.files.ingredient import Ingredient

    name = ingredient_id.replace("-", " ")
    return with_restricted(Ingredient(id=ingredient_id, name=name, family="garnish"))


def content_rows(alike: Iterable[Ingredient]) -> list[ContentRow]:
    """Return what is known of restricted substances in an ingredient, under any of its names."""
    entries = list(alike)
    return [row for row in contents().rows if any(names_it(row, entry) for entry in entries)]


def uncounted(ingredient: Ingredient, counts: Collection[str]) -> tuple[str, ...]:
    """Name what an ingredient out of a pantry holds of restricted substances, nobody says how much.

    Parameters
    ----------
    counts : collection of str
        What the limits in force count.
    """
    names = [name.removeprefix(UNCOUNTED) for name in ingredient.restricted if name.startswith(UNCOUNTED)]
    substances = [
        row.substance for row in contents().rows if row.counted_as in names and row.counted_as in counts
    ]
    return tuple(dict.fromkeys(shown(name) for name in substances))


def sold_with_at_most(ingredient: Ingredient, counts: Collection[str]) -> dict[str, float]:
    """Say what a bought drink may hold by law of what nobody gave a figure for, g/kg by substance.

    Parameters
    ----------
    ingredient : Ingredient
        Out of a pantry.
    counts : collection of str
        What the limits in force count.

    Returns
    -------
    dict of str to float
        Empty for what is no drink as sold, and where the law names no figure for one of the substances.
    """
    if not is_bought_drink(ingredient):
        return {}
    rows = [
        row
        for row in content_rows([ingredient])
        if row.counted_as in counts and UNCOUNTED + row.counted_as in ingredient.restricted
    ]
    most = {row.substance: _most_in_a_drink(row.counted_as) for row in rows}
    return most if all(most.values()) else {}


def _most_in_a_drink(counted_as: str) -> float:
    """Return the most, g/kg, that a drink with alcohol may hold where the law is mildest; 0 for no limit."""
    rows = [
        row
        for row in caps().rows
        if row.up_to_pct_vol is None and row.most_g_kg is not None and counted_as in row.counts
        if not row.only_with
    ]
    by_place = [
        [row.most_g_kg for row in rows if row.most_g_kg is not None and row.holds_in(place)]
        for place in JURISDICTIONS
    ]
    return max((min(figures) for figures in by_place if figures), default=0.0)


def counted_in_spirit(rows: Iterable[CapRow]) -> frozenset[str]:
    """Return what limits count in drinks with alcohol: all but what is limited in drinks without it only."""
    return frozenset(name for row in rows if row.up_to_pct_vol is None for name in row.counts)


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


def prohibited_by_name(name: str) -> str:
    """Say that what an id nobody knows brings to mind is prohibited somewhere; empty if it is not.

    Parameters
    ----------
    name : str
        As typed in a file.
    """
    rows = rows_named(prohibited().rows, name)
    if not rows:
        return ""
    says = " ".join(f"{row.says} [{', '.join(row.jurisdiction)}: {row.provenance}]" for row in rows)
    if any("any" in row.jurisdiction for row in rows):
        return f"{name} may not be used. {says} Take it out."
    where = " and ".join(
        f"the {place}" for place in JURISDICTIONS if any(row.holds_in(place) for row in rows)
    )
    return (
        f"{name} is prohibited in {where}, and neither on the shelf nor in the library. {says} Take it out; "
        "where your law allows it, put it on the shelf with its botanical name (`latin:`)."
    )


def held(ingredient: Ingredient) -> dict[str, float]:
    """Return what an ingredient out of a pantry brings of each restricted substance, g/kg at worst.

    Returns
    -------
    dict of str to float
        By the name limits count it under; infinite where nobody knows how much.
    """
    return {
        name.removeprefix(UNCOUNTED): np.inf if name.startswith(UNCOUNTED) else content
        for name, content in ingredient.restricted.items()
        if not name.startswith((PLANT, IN_SPIRIT, WINE))
    }


def limited(ingredient: Ingredient) -> bool:
    """Tell whether an ingredient out of a pantry brings a substance that some limit counts."""
    return any(not name.startswith(MARKS) for name in ingredient.restricted)


def limited_in_spirit(ingredient: Ingredient) -> frozenset[str]:
    """Return what an ingredient out of a pantry brings that is limited in drinks with alcohol too."""
    counted = {name for row in caps().rows for name in row.counts}
    weak_only = counted - counted_in_spirit(caps().rows)
    return frozenset(name for name in ingredient.restricted if name not in weak_only and name != WINE)


def restricted_facts(ingredient: Ingredient) -> tuple[tuple[str, float, str], ...]:
    """List what an ingredient out of a pantry brings of restricted substances: name, mg/g, where from."""
    rows = {row.counted_as: row for row in content_rows([ingredient])}
    measured = "; ".join(source.source for source in ingredient.sources if "restricted" in source.figures)
    facts = []
    for name, content in ingredient.restricted.items():
        if name.startswith(MARKS):
            continue
        row = rows.get(name)
        if row is not None and row.worst_g_kg == content:
            facts.append((shown(row.substance), content, f"at worst: {row.provenance}"))
        else:
            substance = name if row is None else row.substance
            facts.append((shown(substance), content, measured or "worked out from its recipe"))
    return tuple(facts)


def rules_on(ingredient: Ingredient) -> tuple[str, ...]:
    """Say where an ingredient out of a pantry may not be used, or in drinks with alcohol only, or not yet."""
    rows: list[NamedRow] = []
    for name in ingredient.restricted:
        if name.startswith(PLANT):
            rows.append(prohibited()[name.removeprefix(PLANT)])
        elif name.startswith(IN_SPIRIT):
            rows.append(alcohol_only()[name.removeprefix(IN_SPIRIT)])
    says = [f"{row.says} ({', '.join(row.jurisdiction)}: {row.provenance})" for row in rows]
    every = {row.counted_as for row in contents().rows}
    says += [f"Refused until its content of {name} is known." for name in uncounted(ingredient, every)]
    return tuple(says)


def _alike(ingredient: Ingredient, library: Library | None) -> list[Ingredient]:
    if library is None:
        return []
    names = dict.fromkeys((ingredient.based_on, ingredient.id))
    return [library.get(name) for name in names if name is not None and name in library]


def _refuse_bad_figures(
    ingredient: Ingredient,
    shelf: Shelf | None,
    named: Iterable[ContentRow],
    counted: Collection[ContentRow],
) -> None:
    known = {row.substance for row in contents().rows}
    toxic = {name for row in caps().rows if row.lift == "never" for name in row.counts}
    as_sold = is_bought_drink(ingredient)
    what = "the most a drink may be sold with" if as_sold else "the worst of the plant"
    worst: dict[str, float] = {}
    for row in named:
        if row.counted_as in toxic:
            least = row.worst_g_kg
            if as_sold and row not in counted and (most := _most_in_a_drink(row.counted_as)):
                least = min(least, most)
            worst[row.substance] = max(least, worst.get(row.substance, 0.0))
    sources = [source for source in ingredient.sources if "restricted" in source.figures]
    measured = any(source.confidence == MEASURED for source in sources)
    problems = []
    for substance, content in ingredient.restricted.items():
        message = ""
        if substance not in known:
            message = f"no restricted substance called '{substance}'. {did_you_mean(substance, known)}"
        elif not content > 0.0:
            message = "a figure of nothing. Give what the laboratory could still have found."
        elif not sources:
            message = (
                "your own figure needs its source. Add `sources: [{figures: [restricted], source: ..., "
                "confidence: measured here}]`."
            )
        elif content < worst.get(substance, 0.0) and not measured:
            message = (
                f"{shown(substance)} is toxic: less than {worst[substance]:g} mg/g, {what}, "
                f"counts only where it was measured, got {content:g} mg/g. Have the lot measured and say "
                "`confidence: measured here` in its source, or take the figure out."
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


def restricted_in(batch: Batch) -> dict[str, float]:
    """Return what a drink holds of restricted substances at worst, g/kg by name."""
    content = {
        name.removeprefix(RESTRICTED): worst_g_kg(batch, [column])
        for column, name in enumerate(batch.chain.materials.carried)
        if name.startswith(RESTRICTED)
    }
    return {name: worst for name, worst in content.items() if worst > 0.0}


def worst_g_kg(batch: Batch, columns: Sequence[int]) -> float:
    """Return the content of carried columns as calculated or as if nothing were lost, whichever is more."""
    put_in = batch.used_kg @ batch.chain.materials.content
    return max(
        float(liquor[columns].sum()) / mass
        for liquor in (batch.bottled, put_in)
        if (mass := float(liquor[:LIQUOR].sum())) > 0.0
    )
