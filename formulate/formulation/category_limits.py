"""A category asked for in a bottle file, as limits that the solver keeps."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry
from formulate.blend.materials import Materials
from formulate.files.bottle import Bottle
from formulate.files.categories import CategoryRow, category_row
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.measures import BY_WEIGHT, INVERT, MOST_BY_WEIGHT, STRENGTH, SUGAR, TOTAL, measure_of
from formulate.formulation.targets import measure_limit
from formulate.optimise.problem import Limit, Origin, Over
from formulate.physics.components import COMPONENTS, INVERT_EQUIVALENT, SUGARS
from formulate.quantity import Band
from formulate.rules.categories import (
    SLACK,
    alcohol_kg,
    aromatics,
    is_mostly,
    other_alcohol,
    wine_alcohol_kg,
    wine_volume_l,
)
from formulate.rules.contents import Content, contents_of, named, shown_names

__all__ = ["category_limits"]

FloatArray = NDArray[np.float64]

PATH = ("targets", "category")
JUST_BELOW = 1.0 - SLACK
MOST_INVERT = max(INVERT_EQUIVALENT.values())
"""Invert sugar that a gram of sugar counts as at the most."""


def category_limits(
    bottle: Bottle,
    pantry: Pantry,
    ingredients: Sequence[Ingredient],
    materials: Materials,
    problems: Problems,
) -> list[Limit]:
    """Turn the category of a bottle file into limits; none without one.

    Parameters
    ----------
    ingredients
        That may be used, in the order of `materials`.
    problems
        Told where the list of ingredients cannot make it.
    """
    aim = bottle.targets.category
    if aim is None:
        return []
    row = category_row(aim)
    contents = contents_of(ingredients, materials.ids, pantry)
    title = f"{aim.name} ({aim.jurisdiction})"
    for match in (row.with_any, row.with_also, row.only_alcohol):
        if match is not None and not named(match, contents):
            wanted = shown_names((*match.ingredients, *match.families) or match.words)
            problems.add(PATH, f"{title} needs one of {wanted}, and none is listed. Add it, or another name.")
    if row.without is not None and (names := named(row.without, contents)):
        problems.add(PATH, f"{title} may hold no {shown_names(names)}. Take it off the list.")
    if others := other_alcohol(row, contents, ingredients):
        problems.add(PATH, f"{title} may hold no alcohol of {shown_names(others)}. Take it off the list.")
    if is_mostly(row, contents, ingredients, np.zeros(len(ingredients))):
        assert row.not_mostly is not None
        alone = shown_names(named(row.not_mostly, contents))
        problems.add(PATH, f"{title} cannot be of {alone} alone. {row.says} Ask for that, or add another.")
    if row.only_plants:
        others = [one.shown for one in aromatics(contents) if not one.ids & set(row.only_plants)]
        if others:
            allowed = shown_names(row.only_plants)
            problems.add(
                PATH,
                f"{title} is for {allowed} alone. Take {shown_names(others)} off the list, or write liqueur.",
            )
    place = bottle.places.value(PATH)

    def origin(name: str) -> Origin:
        return Origin(f"{title} {name}", f"{row.says} [{row.provenance}]", place)

    tolerance = pantry.usual_tolerance[STRENGTH]
    asked = bottle.targets.band(STRENGTH)
    band = None if asked is None else asked.with_tolerance(tolerance)
    asked = bottle.targets.band(SUGAR)
    sweet = None if asked is None else asked.with_tolerance(pantry.usual_tolerance[SUGAR])
    limits = [
        *_of_drink(row, materials, band, sweet, origin),
        *_of_masses(row, ingredients, contents, band, origin),
    ]
    return [replace(limit, firm=True) for limit in limits]


def _of_drink(
    row: CategoryRow,
    materials: Materials,
    asked: Band | None,
    sugar: Band | None,
    origin: Callable[[str], Origin],
) -> Iterator[Limit]:
    """Limit what is in the bottle: strength, sugar as invert, sugars by weight."""

    def limit(name: str, low: float, high: float) -> Limit:
        measure = measure_of(name)
        bounds = low / measure.per_kg_l, high / measure.per_kg_l
        return measure_limit(measure, materials, bounds, origin(name))

    low = -np.inf if row.strength is None or row.strength.lower is None else row.strength.lower
    high = np.inf if row.strength is None or row.strength.upper is None else row.strength.upper
    if row.strength_below is not None:
        high = min(high, row.strength_below * JUST_BELOW)
    if asked is not None:
        # What the bottle asks of the strength says it already.
        low = -np.inf if asked.lower is not None and asked.lower >= low else low
        high = np.inf if asked.upper is not None and asked.upper <= high else high
    if np.isfinite(low) or np.isfinite(high):
        yield limit(STRENGTH, low, high)
    if row.invert_sugar is not None:
        low = -np.inf if row.invert_sugar.lower is None else row.invert_sugar.lower
        high = np.inf if row.invert_sugar.upper is None else row.invert_sugar.upper
        yield limit(INVERT, low, high)
    if row.total_strength is not None:
        # Dry ones need less, by sugar that is not known yet: the full figure unless the file asks for dry.
        least = row.least_total(np.inf if sugar is None or sugar.upper is None else sugar.upper * MOST_INVERT)
        yield limit(TOTAL, least, np.inf)
    shares = []
    if row.sugar_share is not None:
        shares += [(row.sugar_share.lower, True), (row.sugar_share.upper, False)]
    if row.sugar_share_below is not None:
        shares.append((row.sugar_share_below * JUST_BELOW, False))
    for share, is_lower in shares:
        if share is None:
            continue
        # Sugars over all that is in the bottle, as a row without a constant: g/L of sugar above the share.
        weights = {name: (1.0 if name in SUGARS else 0.0) - share for name in COMPONENTS}
        name = BY_WEIGHT if is_lower else MOST_BY_WEIGHT
        measure = replace(measure_of(name), weights=weights)
        bounds = (0.0, np.inf) if is_lower else (-np.inf, 0.0)
        above = f"{measure.unit} above {100.0 * share:.3g} % w/w"
        yield replace(measure_limit(measure, materials, bounds, origin(name)), unit=above, out_of_reach=None)


def _of_masses(
    row: CategoryRow,
    ingredients: Sequence[Ingredient],
    contents: Sequence[Content],
    asked: Band | None,
    origin: Callable[[str], Origin],
) -> Iterator[Limit]:
    """Limit what is weighed in: wine as a share of the volume or the alcohol, least and most amounts."""
    if row.wine_share is not None:
        weights = np.array([wine_volume_l(one) for one in ingredients])
        yield _mass_limit(weights, row.wine_share, origin("wine"), "% of the volume", 100.0)
    if row.wine_share_below is not None:
        weights = np.array([wine_volume_l(one) for one in ingredients])
        if weights.any():
            most = -row.wine_share_below * JUST_BELOW
            yield _mass_limit(-weights, most, origin("less wine"), "% of the volume", 100.0)
    if row.with_least_g_l is not None and row.with_any is not None:
        names = named(row.with_any, contents, inside=False)
        weights = np.array([1.0 if one.id in names else 0.0 for one in ingredients])
        least = row.with_least_g_l / 1000.0
        yield _mass_limit(weights, least, origin(shown_names(names)), "g per L bottled", 1000.0)
    if row.not_mostly is not None and row.with_any is not None:
        every, those = (named(match, contents, inside=False) for match in (row.with_any, row.not_mostly))
        if those:
            # Half or more of it would have another name: a hair less than half.
            weights = np.array([float(one.id in every) - 2.0 * float(one.id in those) for one in ingredients])
            weights -= SLACK * np.array([float(one.id in every) for one in ingredients])
            yield _mass_limit(
                weights, 0.0, origin(f"less than half {shown_names(those)}"), "g per L bottled", 1000.0
            )
    if row.alcohol_of_wine is not None and row.of_wine_up_to is not None:
        # Above that strength wine does not matter; a bottle that may be weaker keeps the share.
        stronger = asked is not None and asked.lower is not None and asked.lower > row.of_wine_up_to
        wine = wine_alcohol_kg(ingredients)
        if wine.any() and not stronger:
            weights = row.alcohol_of_wine * alcohol_kg(ingredients) - wine
            yield _mass_limit(weights, 0.0, origin("alcohol not of wine"), "g per L bottled", 1000.0)


def _mass_limit(weights: FloatArray, lower: float, origin: Origin, unit: str, display: float) -> Limit:
    used = np.flatnonzero(weights)
    return Limit(
        over=Over.MASSES,
        indices=used.astype(np.int32),
        weights=weights[used],
        lower=lower,
        upper=np.inf,
        origin=origin,
        unit=unit,
        display=display,
    )
