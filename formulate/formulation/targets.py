"""The targets of a bottle file as limits, and of a drink file as bands, by the table of measures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from formulate.bar.pantry import Pantry
from formulate.blend.materials import Materials
from formulate.blend.profile import Profile
from formulate.files.aims import Measured, Word
from formulate.files.bottle import Bottle
from formulate.files.drink import Drink
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.measures import BITTERNESS, COST, Measure, measure_of
from formulate.formulation.bitterness import BitternessBand, aimed_band, word_band
from formulate.optimise.problem import Limit, Origin, Over
from formulate.quantity import Dimension

__all__ = [
    "Bands",
    "glass_aims",
    "glass_figures",
    "is_band",
    "measure_limit",
    "middle_of",
    "target_limits",
]

Bands = dict[str, tuple[float, float]]
"""Ends by measure, in the unit it is shown in."""

MIDDLE = 0.1
"""Share of a band, about its middle, that `--middle` aims at."""
NEVER_REACHED_KG_L = 1.0
"""A drink holds less than this of anything that is asked for by weight or as alcohol."""


def measure_limit(
    measure: Measure, materials: Materials, bounds: tuple[float, float], origin: Origin
) -> Limit:
    """Keep a measure of the bottle between bounds, in weighted kilograms in a litre."""
    by_weight = measure.dimension in (Dimension.STRENGTH, Dimension.MASS_CONCENTRATION)
    return Limit(
        over=Over.BOTTLE,
        indices=np.array([materials.column(name) for name in measure.weights], dtype=np.int32),
        weights=np.array(list(measure.weights.values())),
        lower=bounds[0],
        upper=bounds[1],
        origin=replace(origin, measure=measure.name),
        unit=measure.unit,
        display=measure.display,
        is_target=True,
        out_of_reach=NEVER_REACHED_KG_L if by_weight else None,
    )


def target_limits(
    bottle: Bottle,
    pantry: Pantry,
    by_id: Mapping[str, Ingredient],
    materials: Materials,
    volume_l: float | None,
    problems: Problems,
) -> tuple[list[Limit], BitternessBand | None]:
    """Turn what a bottle file asks of the drink into limits, its category aside.

    Parameters
    ----------
    by_id
        The ingredients that may be used.
    volume_l
        Size of the batch where it is given in litres.
    problems
        Told of what nothing here brings, and of a cost that cannot be counted.

    Returns
    -------
    BitternessBand or None
        What is aimed at, for the words of an answer.
    """

    def origin(name: str) -> Origin:
        path = ("targets", name)
        return Origin(name, bottle.places.typed(path), bottle.places.value(path), name)

    targets, tolerance = bottle.targets, pantry.usual_tolerance
    known = {content for ingredient in by_id.values() for content in ingredient.attributes}
    limits = []
    for name, band in targets.bands().items():
        if name in targets.contents and name not in known:
            problems.add(
                ("targets", name),
                f"no ingredient here says how much {name} it brings. {did_you_mean(name, known)}",
                key=True,
            )
            continue
        measure = measure_of(name)
        asked = measure.plain(band, tolerance[name]) if name in tolerance else band
        limits.append(measure_limit(measure, materials, measure.bounds(asked), origin(name)))
    if targets.cost is not None:
        limits += _cost_limit(bottle, pantry.currency, volume_l, origin(COST), problems)
    if targets.bitterness is None:
        return limits, None
    bitter = aimed_band(targets.bitterness, by_id, bottle.measured, tolerance[BITTERNESS], pantry, problems)
    if bitter is None:
        return limits, None
    column = materials.column(BITTERNESS)
    if bitter.lower > 0.0 and not materials.content[:, column].any():
        text = "nothing in the list is bitter. Add a bitter plant, or leave bitterness out."
        problems.add(("targets", BITTERNESS), text)
        return limits, bitter
    measure = measure_of(BITTERNESS)
    bounds = bitter.lower / measure.per_kg_l, bitter.upper / measure.per_kg_l
    return [*limits, measure_limit(measure, materials, bounds, origin(BITTERNESS))], bitter


def _cost_limit(
    bottle: Bottle, currency: str, volume_l: float | None, origin: Origin, problems: Problems
) -> list[Limit]:
    """Limit the cost of a litre; nothing, and a problem noted, where it is not said so that it counts."""
    band = bottle.targets.cost
    path = ("targets", COST)
    assert band is not None
    if currency and band.currency != currency:
        problems.add(path, f"the shelf counts in {currency}, got {band.text!r}. Use one currency.")
    if band.per == "kg":
        problems.add(
            path, f"a bottle is costed per litre or in all, got {band.text!r}. Write e.g. 9.50 {currency}/L."
        )
        return []
    share = 1.0
    if band.per is None:
        if volume_l is None:
            problems.add(
                path, f"the size is not given in litres, so say the cost per litre, got {band.text!r}."
            )
            return []
        share = 1.0 / volume_l
    return [
        Limit(
            over=Over.COST,
            indices=np.zeros(0, dtype=np.int32),
            weights=np.zeros(0),
            lower=-np.inf if band.lower is None else band.lower * share,
            upper=np.inf if band.upper is None else band.upper * share,
            origin=origin,
            unit=measure_of(COST).unit.format(currency=band.currency),
            is_target=True,
        )
    ]


def middle_of(limit: Limit) -> Limit:
    """Narrow a target with two ends to its middle, a tenth of it as wide; any other limit stays."""
    if not is_band(limit):
        return limit
    middle, half = (limit.lower + limit.upper) / 2.0, MIDDLE * (limit.upper - limit.lower) / 2.0
    return replace(limit, lower=middle - half, upper=middle + half)


def is_band(limit: Limit) -> bool:
    """Whether a limit is a target with two ends, the cost aside."""
    return (
        limit.is_target
        and limit.over is not Over.COST
        and bool(np.isfinite([limit.lower, limit.upper]).all())
        and limit.upper > limit.lower
    )


def glass_aims(drink: Drink, pantry: Pantry, problems: Problems) -> Bands:
    """Bring what a drink must be into numbers, per litre in the glass; nothing where its file says nothing.

    Parameters
    ----------
    pantry
        Its shelf says how far a plain value may be off.
    problems
        Of the drink file.
    """
    targets = drink.targets
    if targets is None:
        return {}
    aims: Bands = {}
    tolerance = pantry.usual_tolerance
    for name, band in targets.bands().items():
        measure = measure_of(name)
        aims[name] = measure.ends(measure.plain(band, tolerance[name]))
    aim = targets.bitterness
    if isinstance(aim, Word):
        words = word_band(aim.word)
        aims[BITTERNESS] = (words.lower, words.upper)
    elif isinstance(aim, Measured):
        measure = measure_of(BITTERNESS)
        aims[BITTERNESS] = measure.ends(measure.plain(aim.band, tolerance[BITTERNESS]))
    elif aim is not None:
        problems.add(
            ("targets", BITTERNESS),
            "a drink takes a word or a measured value. Write e.g. firm, or 25 ± 4 (measured).",
        )
    return aims


def glass_figures(drink: Profile, aims: Bands) -> dict[str, float]:
    """Return the figures of a drink that are aimed at, by the same names."""
    return {name: float(drink.value(name)) for name in aims}
