"""What a drink may be called by law, and what it lacks for other names."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.blend.batch import Batch
from formulate.blend.materials import composition_row, density_as_bought_kg_m3
from formulate.errors import Note
from formulate.files.categories import CategoryAim, CategoryRow, categories
from formulate.files.ingredient import Ingredient
from formulate.files.measures import SUGAR_OF_A_PCT_VOL_G_L
from formulate.files.standards import Match
from formulate.files.stock import FAMILY
from formulate.physics.mixture import INDEX
from formulate.rules.contents import Content, named, shown_names
from formulate.rules.records import CategoryRecord

__all__ = [
    "SLACK",
    "alcohol_kg",
    "aromatics",
    "categories_of",
    "category_notes",
    "is_mostly",
    "mass_of",
    "other_alcohol",
    "wine_alcohol_kg",
    "wine_volume_l",
]

FloatArray = NDArray[np.float64]

SLACK = 1e-6
"""Relative; a recipe solved onto a limit stands on it to 1e-7."""

NOTHING_MISSING = 0.005
"""Half a hundredth of a g/L or % vol is neither weighed nor measured by anybody; of a share in % a tenth."""

NO_AROMATIC = frozenset({"spirit", "wine", "water", "sweetener", "acid", "enzyme", FAMILY})
"""Families that are no aromatic of their own; what is in a house-made thing is looked at by itself."""

WINE = Match(families=("wine",))
FLAVOURED = Match(ingredients=("gin-40",), words=("gin", "aquavit", "absinthe", "pastis"))
"""Spirits that bring plants of their own, so that no other plant is the only aromatic."""
SWEETENING = Match(words=("honey", "sugar", "molasses", "treacle"), not_phrases=("honey bush", "sugar kelp"))
"""What the bar calls so is a sweetener whatever its family; honey is one by the definition of sweetening."""
Lack = tuple[str, float]


def categories_of(
    batch: Batch, contents: Sequence[Content], jurisdiction: str | None = None
) -> tuple[CategoryRecord, ...]:
    """Hold a drink against every category.

    Parameters
    ----------
    contents : sequence of Content
        What is in it by name.
    jurisdiction : str, optional
        Only categories of this law; all if not given.
    """
    records = []
    for row in categories().holding_in(jurisdiction):
        relevant = _is_relevant(row, batch, contents)
        lacks = list(_lacks(row, batch, contents)) if relevant else []
        records.append(
            CategoryRecord(
                id=row.id,
                name=row.names[0],
                names=row.names,
                jurisdictions=tuple(row.jurisdiction if jurisdiction is None else (jurisdiction,)),
                relevant=relevant,
                missing=tuple(text for text, _ in lacks),
                shortfall=max((share for _, share in lacks), default=0.0),
                by_hand=row.by_hand or "",
                general=row.general,
                verified=row.verified,
                source=row.provenance,
            )
        )
    return tuple(records)


def category_notes(aim: CategoryAim | None, batch: Batch, contents: Sequence[Content]) -> list[Note]:
    """Say what the category asked for still needs: what only a person can judge, or what is missing.

    Parameters
    ----------
    aim : CategoryAim or None
        None for a bottle that asks for none.
    contents : sequence of Content
        What is in it by name.
    """
    if aim is None:
        return []
    records = categories_of(batch, contents, aim.jurisdiction)
    record = next(record for record in records if record.id == aim.row_id)
    title = f"{aim.name} ({aim.jurisdiction})"
    if not record.relevant:
        text = f"{title}: the figures are kept, but nothing is used that makes it one. Give it an `at_least`."
        return [Note("category_not_met", text, record.source)]
    if record.missing:
        text = f"{title} is not met: {' and '.join(record.missing)}."
        return [Note("category_not_met", text, record.source)]
    if record.by_hand:
        text = f"{title} also asks: {record.by_hand}. Judge that yourself."
        return [Note("category_by_hand", text, record.source)]
    return []


def mass_of(names: Sequence[str], ingredients: Sequence[Ingredient], used_kg: FloatArray) -> float:
    """Add up the mass of what is weighed in under these ids, kg."""
    return sum(
        float(mass) for ingredient, mass in zip(ingredients, used_kg, strict=True) if ingredient.id in names
    )


def aromatics(contents: Sequence[Content]) -> list[Content]:
    """List what gives a drink its taste beside spirit, wine, sugar and acid; salt does not count."""
    return [
        content
        for content in contents
        if content.family not in NO_AROMATIC
        and "salt" not in content.ids
        and not named(SWEETENING, [content])
    ]


def wine_volume_l(ingredient: Ingredient) -> float:
    """Litres that a kilogram of a wine is; 0 for anything else."""
    density = density_as_bought_kg_m3(ingredient) if ingredient.family in WINE.families else None
    return 1000.0 / density if density else 0.0


def is_mostly(
    row: CategoryRow, contents: Sequence[Content], ingredients: Sequence[Ingredient], used_kg: FloatArray
) -> bool:
    """Tell whether half or more of what a category is of is something that has a name of its own.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        n of them.
    used_kg : ndarray, shape (n,)
    """
    if row.not_mostly is None or row.with_any is None:
        return False
    every, those = (named(match, contents, inside=False) for match in (row.with_any, row.not_mostly))
    total = mass_of(every, ingredients, used_kg)
    if total > 0.0:
        return mass_of(those, ingredients, used_kg) >= total / 2.0
    return set(named(row.with_any, contents)) <= set(named(row.not_mostly, contents))


def other_alcohol(
    row: CategoryRow, contents: Sequence[Content], ingredients: Sequence[Ingredient]
) -> list[str]:
    """Name what brings alcohol that the category does not allow."""
    if row.only_alcohol is None:
        return []
    allowed = set(named(row.only_alcohol, contents))
    without_alcohol = {
        ingredient.id for ingredient in ingredients if not composition_row(ingredient)[INDEX["ethanol"]] > 0.0
    }
    outside = [content for content in contents if content.family != FAMILY and content.shown not in allowed]
    # What is inside a house-made thing is known by its family alone.
    return [
        content.shown
        for content in outside
        if (content.family in ("spirit", "wine") if content.inside else content.id not in without_alcohol)
    ]


def alcohol_kg(ingredients: Sequence[Ingredient]) -> FloatArray:
    """Return the pure ethanol in a kilogram of each, shape (n,); its shares are those of proof gallons."""
    return np.array([float(composition_row(ingredient)[INDEX["ethanol"]]) for ingredient in ingredients])


def wine_alcohol_kg(ingredients: Sequence[Ingredient]) -> FloatArray:
    """Return the same of what is wine, 0 for the rest, shape (n,)."""
    wine = np.array([float(ingredient.family in WINE.families) for ingredient in ingredients])
    return wine * alcohol_kg(ingredients)


def _is_relevant(row: CategoryRow, batch: Batch, contents: Sequence[Content]) -> bool:
    if is_mostly(row, contents, batch.ingredients, batch.used_kg):
        return False
    if any(match is not None and not named(match, contents) for match in (row.with_any, row.with_also)):
        return False
    if row.wine_share is not None and not named(WINE, contents):
        return False
    if row.wine_share_below is not None and _wine_share(batch) >= row.wine_share_below:
        return False
    if row.flavoured and not (aromatics(contents) or named(FLAVOURED, contents) or named(WINE, contents)):
        return False
    if row.only_alcohol is not None and not named(row.only_alcohol, contents):
        return False
    if row.bitterness is not None and float(batch.drink.bitterness_value) < row.bitterness:
        return False
    if not row.only_plants:
        return True
    plants = aromatics(contents)
    sole = any(all(name in plant.ids for plant in plants) for name in row.only_plants)
    return bool(plants) and sole and not named(FLAVOURED, contents)


def _lacks(row: CategoryRow, batch: Batch, contents: Sequence[Content]) -> Iterator[Lack]:
    """Say what is missing, each with how far it is off as a share of what is asked."""
    ingredients, used_kg, drink, volume = batch.ingredients, batch.used_kg, batch.drink, batch.volume_l
    strength, invert = float(drink.strength_pct_vol), float(drink.invert_sugar_g_l)
    share = 100.0 * float(drink.sugar_g_l) / float(drink.density_kg_m3)
    if row.strength is not None:
        yield from _outside(strength, row.strength.lower, row.strength.upper, 1, "% vol {} strength")
    if row.strength_below is not None and strength >= row.strength_below * (1.0 - SLACK / 2.0):
        yield from _outside(strength, None, row.strength_below - 0.1, 1, "% vol {} strength")
    if row.invert_sugar is not None:
        unit = "g/L {} sugar, counted as invert"
        yield from _outside(invert, row.invert_sugar.lower, row.invert_sugar.upper, 0, unit)
    unit = "% w/w {} sugar, by weight of the drink"
    if row.sugar_share is not None:
        ends = (row.sugar_share.lower, row.sugar_share.upper)
        low, high = (None if end is None else 100.0 * end for end in ends)
        yield from _outside(share, low, high, 1, unit)
    if row.sugar_share_below is not None and share >= row.sugar_share_below * 100.0 * (1.0 - SLACK / 2.0):
        yield from _outside(share, None, row.sugar_share_below * 100.0 - 0.1, 1, unit)
    if row.wine_share is not None:
        wine = 100.0 * _wine_share(batch)
        yield from _outside(wine, row.wine_share * 100.0, None, 0, "% of the volume {} wine")
    if row.total_strength is not None:
        total = strength + invert / SUGAR_OF_A_PCT_VOL_G_L
        yield from _outside(total, row.least_total(invert), None, 1, "% vol {} in all, sugar counted")
    if row.with_least_g_l is not None and row.with_any is not None:
        names = named(row.with_any, contents)
        held = 1000.0 * mass_of(names, ingredients, used_kg) / volume
        yield from _outside(held, row.with_least_g_l, None, 0, f"g/L {{}} of {shown_names(names)}")
    if row.without is not None and (names := named(row.without, contents)):
        yield f"no {shown_names(names)}", 1.0
    if others := other_alcohol(row, contents, ingredients):
        yield f"no {shown_names(others)}", 1.0
    alcohol = float(alcohol_kg(ingredients) @ used_kg)
    if row.alcohol_of_wine is None or row.of_wine_up_to is None or not alcohol > 0.0:
        return
    if strength <= row.of_wine_up_to:
        of_wine = 100.0 * float(wine_alcohol_kg(ingredients) @ used_kg) / alcohol
        unit = f"% of the alcohol {{}} from wine, or above {row.of_wine_up_to:g} % vol"
        yield from _outside(of_wine, None, 100.0 * row.alcohol_of_wine, 0, unit)


def _wine_share(batch: Batch) -> float:
    """Return the share of the volume that is wine."""
    wine = sum(
        float(mass) * wine_volume_l(ingredient)
        for ingredient, mass in zip(batch.ingredients, batch.used_kg, strict=True)
    )
    return wine / float(batch.drink.volume_l)


def _outside(
    value: float, lower: float | None, upper: float | None, digits: int, unit: str
) -> Iterator[Lack]:
    """Say by how much a value misses its limits, rounded so that it suffices."""
    least = NOTHING_MISSING * (0.1 if unit.startswith("%") and not unit.startswith("% vol") else 1.0)
    if lower is not None and lower - value > least:
        yield f"{_up(lower - value, digits)} {unit.format('more')}", (lower - value) / lower
    if upper is not None and value - upper > least:
        yield f"{_up(value - upper, digits)} {unit.format('less')}", (value - upper) / upper


def _up(gap: float, digits: int) -> str:
    """Round up to what can be weighed or read off: a tenth at the least."""
    if digits == 0 and gap < 10.0:
        digits = 1
    scale = 10.0**digits
    return f"{math.ceil(gap * scale * (1.0 - 1e-9) - 1e-9) / scale:.{digits}f}"
