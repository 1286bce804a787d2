"""Will it stay clear, how thick is it: what a batch will look like in the bottle.

Four questions, each with a test that needs no instrument: does the sugar stay dissolved, can pectin set
or be thrown out, does oil cloud, how thick is it cold. What holds no risk is not mentioned.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch
from formulate.bar.house_made import Made
from formulate.bar.pantry import Pantry
from formulate.blend.materials import LIQUOR, class_of
from formulate.blend.pectin import DRY_PLANTS, follow_pectin
from formulate.describe.records import ClarityRecord
from formulate.errors import Note, RangeError
from formulate.files.frozen import FrozenMap
from formulate.files.ingredient import Ingredient
from formulate.physics.texture import (
    BAR_TESTS,
    FRIDGE_C,
    RISK_LEVELS,
    VISCOSITY_UNCERTAINTY_SHARE,
    Risk,
    gel_risk,
    oil_haze_risk,
    sucrose_saturation,
    viscosity_ethanol_water_mpa_s,
    viscosity_mpa_s,
)
from formulate.quantity.words import listed

__all__ = ["clarity_of", "times_water"]

FloatArray = NDArray[np.float64]

ROOM_C = 20.0

LEAST_OILY_G_L: dict[str, float] = {"zest": 4.0, "seed": 1.0, "dried_peel": 2.0}
"""From so much per litre of drink on a plant of that class is asked about (working lines of ours).

Fresh zest and dried seed hold some per cent of oil: these are some tens of milligrams of oil per litre,
about what weak spirit holds (from memory).
"""

TASTES_SOUR_G_L, SOUR_PH, MILD_PH = 2.0, 3.3, 4.5
"""From 2 g/L of acid as citric the drink counts as pH 3.3: 2 g/L alone in water is about pH 2.8."""

THICK = 10.0
"""Times as thick as water in the fridge from which it is worth saying; thin cream is (from memory)."""

MENTIONED_G_L = 0.05
"""Pectin of one ingredient, g per litre of drink, from which it is named."""

SPIRITLESS_PCT_VOL = 0.5

TOLD_UP_TO = 10.0
"""From so many times what stays dissolved on, the number says nothing more."""

VISCOSITY_LIMITS = (
    "a rule for sugar, spirit and water at 0 to 40 °C and up to 75 % dissolved; pectin and gums thicken far "
    "more and are not in it"
)
SUGAR_ASSUMPTION = (
    "sucrose in water is published; what spirit does to it is an assumption from one old table, and glucose "
    "and fructose, which dissolve better, are left out"
)


Oil = dict[tuple[str, float], float]
"""Mass of oil-rich plants, kg, by their class and the strength of the liquor they lie in, % vol."""


@dataclass(frozen=True, slots=True)
class _Cloudy:
    """What one ingredient brings that may cloud: pectin still there at the end, in g, and oil-rich plants."""

    pectin_g: float
    oil: Oil


def clarity_of(batch: BarBatch) -> ClarityRecord:
    """Say whether a batch stays clear and how thick it is."""
    bottled, drink, volume = batch.bottled[:LIQUOR], batch.drink, batch.volume_l
    strength = float(drink.strength_pct_vol)
    warm, cold = _viscosity(bottled, ROOM_C), _viscosity(bottled, FRIDGE_C)
    warm_sugar, warm_doubt = map(float, sucrose_saturation(bottled, ROOM_C))
    cold_sugar, cold_doubt = map(float, sucrose_saturation(bottled, FRIDGE_C))
    house_made = _house_made(batch, {})
    own_g_l, removal = _own_pectin_g_l(batch)
    pectin = own_g_l + sum(part.pectin_g for part in house_made.values()) / volume
    names = _pectin_names(batch, house_made)
    ph = SOUR_PH if float(drink.acid_g_l) >= TASTES_SOUR_G_L else MILD_PH
    sugar = min(float(drink.sugar_g_l), 1300.0)
    gel = gel_risk(min(pectin, 1000.0), sugar, ph, min(strength, 100.0))
    oil_from, extract = _too_oily(_all_oil(batch, house_made), volume)
    haze = None if extract is None else oil_haze_risk(min(extract, 100.0), min(strength, 100.0))
    lines = [
        _sugar_line(warm_sugar, cold_sugar, cold_doubt, strength),
        _gel_line(gel, pectin, removal, names),
        _haze_line(haze, oil_from, extract, strength),
        _thick_line(warm, cold),
    ]
    said = [line for line in lines if line is not None]
    if len(said) < len(lines) and any(line.code in ("gel", "oil_haze") for line in said):
        said.append(Note("clarity_test", f"Before you bottle it all: {_lower(BAR_TESTS['clarity'])}"))
    return ClarityRecord(
        viscosity_20c_mpa_s=warm,
        viscosity_5c_mpa_s=cold,
        viscosity_uncertainty_share=VISCOSITY_UNCERTAINTY_SHARE,
        viscosity_limits=VISCOSITY_LIMITS,
        sugar_saturation_20c=warm_sugar,
        sugar_saturation_5c=cold_sugar,
        sugar_uncertainty_20c=warm_doubt,
        sugar_uncertainty_5c=cold_doubt,
        sugar_assumption=SUGAR_ASSUMPTION,
        pectin_g_l=pectin,
        pectin_removal=removal,
        gel_risk=gel.level,
        oil_haze_risk=RISK_LEVELS[0] if haze is None else haze.level,
        oil_from=oil_from,
        oil_extract_strength_pct_vol=extract,
        lines=tuple(said),
    )


def times_water(viscosity: float, temperature_c: float) -> str:
    """Say a viscosity as times that of water at the same temperature, no finer than it can be known.

    Parameters
    ----------
    viscosity : float
        mPa s.
    """
    times = viscosity / float(viscosity_ethanol_water_mpa_s(0.0, temperature_c))
    step = next((step for below, step in ((10.0, 1.0), (30.0, 5.0), (100.0, 10.0)) if times < below), 50.0)
    return f"about {max(round(times / step) * step, 1.0):.0f} times"


def _viscosity(bottled: FloatArray, temperature_c: float) -> float | None:
    try:
        return float(viscosity_mpa_s(bottled, temperature_c))
    except RangeError:
        return None


def _is_made(ingredient: Ingredient, pantry: Pantry) -> bool:
    return pantry.shelf is not None and ingredient.id in pantry.shelf.house_made


def _without_leaf_pectin(ingredients: Sequence[Ingredient]) -> tuple[Ingredient, ...]:
    """Leave out what stays in a fresh leaf: its pectin is part of the cell wall (assumption)."""
    return tuple(
        ingredient
        if class_of(ingredient) != "leaf" or "pectin" not in ingredient.composition
        else ingredient.model_copy(
            update={"composition": FrozenMap({**ingredient.composition, "pectin": 0.0})}
        )
        for ingredient in ingredients
    )


def _house_made(batch: BarBatch, known: dict[int, _Cloudy]) -> dict[str, _Cloudy]:
    """Say what each house-made thing among the ingredients brings; each is looked into once per kg."""
    house_made = {}
    for ingredient, mass in batch.holdings():
        if not _is_made(ingredient, batch.pantry):
            continue
        made = batch.pantry.made(ingredient.id)
        if id(made) not in known:
            known[id(made)] = _per_kg(made, known)
        per_kg = known[id(made)]
        oil = {key: mass * kg for key, kg in per_kg.oil.items()}
        house_made[ingredient.id] = _Cloudy(mass * per_kg.pectin_g, oil)
    return house_made


def _per_kg(made: Made, known: dict[int, _Cloudy]) -> _Cloudy:
    batch = made.batch
    inner = _house_made(batch, known)
    own_g_l, _ = _own_pectin_g_l(batch)
    pectin_g = own_g_l * batch.volume_l + sum(part.pectin_g for part in inner.values())
    oil: Oil = {}
    for _, key, kg in _all_oil(batch, inner):
        oil[key] = oil.get(key, 0.0) + kg
    mass = float(batch.drink.mass_kg)
    return _Cloudy(pectin_g / mass, {key: kg / mass for key, kg in oil.items()})


def _own_pectin_g_l(batch: BarBatch) -> tuple[float, str]:
    """Most pectin that fruit and pith can leave in the bottle, and what was counted as taken out."""
    followed = follow_pectin(replace(batch, ingredients=_without_leaf_pectin(batch.ingredients)))
    last = followed.steps[-1]
    used = [step for step in followed.steps if step.enzyme is not None]
    removal = "none of it counted as removed"
    if used and all(math.isfinite(step.left_g_l) for step in used):
        removal = "what the enzyme leaves, a starting guess"
    elif used:
        removal = "the enzyme's share not counted, as its step has no time and temperature"
    return float(last.left_g_l if math.isfinite(last.left_g_l) else last.before_g_l), removal


def _pectin_names(batch: BarBatch, house_made: dict[str, _Cloudy]) -> list[str]:
    """Name what brings pectin worth mentioning; house-made things by their own name."""
    names = []
    for ingredient, mass in zip(_without_leaf_pectin(batch.ingredients), batch.used_kg, strict=True):
        pectin_g = float(mass) * ingredient.composition.get("pectin", 0.0) * 1000.0
        if ingredient.family in DRY_PLANTS:
            pectin_g = 0.0
        if ingredient.id in house_made:
            pectin_g = house_made[ingredient.id].pectin_g
        if pectin_g >= MENTIONED_G_L * batch.volume_l:
            names.append(ingredient.id)
    return names


def _all_oil(
    batch: BarBatch, house_made: dict[str, _Cloudy]
) -> Iterator[tuple[str, tuple[str, float], float]]:
    """List oil-rich plants: which ingredient, class and strength of the liquor, kg."""
    for number, ingredient in enumerate(batch.ingredients):
        if ingredient.id in house_made:
            for key, kg in house_made[ingredient.id].oil.items():
                yield ingredient.id, key, kg
            continue
        plant_class = class_of(ingredient)
        if plant_class not in LEAST_OILY_G_L:
            continue
        for position, mass in enumerate(batch.masses_kg[:, number]):
            if mass > 0.0 and batch.liquor_kg(position).sum() > 0.0:
                yield ingredient.id, (plant_class, batch.liquor_pct_vol(position)), float(mass)


def _too_oily(
    oil: Iterable[tuple[str, tuple[str, float], float]], volume: float
) -> tuple[tuple[str, ...], float | None]:
    """Name what brings so much oil that it may show, with the strongest liquor it lay in."""
    oil = tuple(oil)
    totals = dict.fromkeys(LEAST_OILY_G_L, 0.0)
    for _, (plant_class, _), kg in oil:
        totals[plant_class] += kg * 1000.0 / volume
    shown = [entry for entry in oil if totals[entry[1][0]] >= LEAST_OILY_G_L[entry[1][0]]]
    strongest = max((strength for _, (_, strength), _ in shown), default=None)
    return tuple(dict.fromkeys(name for name, _, _ in shown)), strongest


def _sugar_line(warm: float, cold: float, doubt: float, strength: float) -> Note | None:
    if cold + doubt < 1.0:
        return None
    shares = (
        "more than its alcohol and water can hold"
        if cold >= TOLD_UP_TO
        else f"about {_to_five(cold)} % of what stays dissolved at 5 °C, {_to_five(warm)} % at 20 °C"
    )
    word = "will crystallise in time" if cold - doubt > 1.0 else "may crystallise in the fridge"
    unsure = " What spirit does to sugar is an assumption." if strength >= SPIRITLESS_PCT_VOL else ""
    return Note("sugar_crystals", f"Sugar: {shares}, so it {word}.{unsure} {BAR_TESTS['sugar']}")


def _gel_line(gel: Risk, pectin: float, removal: str, names: Sequence[str]) -> Note | None:
    if gel.level == RISK_LEVELS[0]:
        return None
    source = f" from {listed(names)}" if names else ""
    word = "likely" if gel.level == RISK_LEVELS[2] else "possible"
    return Note(
        "gel",
        f"Pectin: at most about {_one_digit(pectin)} g/L{source} ({removal}). Jelly, strings or a haze are "
        f"{word}: {gel.reason}. {BAR_TESTS['gel']}",
        "working classification",
    )


def _haze_line(
    haze: Risk | None, names: Sequence[str], extract: float | None, strength: float
) -> Note | None:
    if haze is None or extract is None or haze.level == RISK_LEVELS[0]:
        return None
    verb = "gives" if len(names) == 1 else "give"
    word = "likely" if haze.level == RISK_LEVELS[2] else "possible"
    return Note(
        "oil_haze",
        f"Oil: {listed(names)} {verb} oil at about {extract:.0f} % vol, and the bottle has {strength:.0f}: "
        f"a cloud is {word}. {BAR_TESTS['haze']}",
        "working classification",
    )


def _thick_line(warm: float | None, cold: float | None) -> Note | None:
    tilt = "Tilt the bottle beside one of water, cold and at room temperature."
    if warm is None or cold is None:
        return Note("thick", f"Thick: more is dissolved than our formula for thickness covers. {tilt}")
    if cold / float(viscosity_ethanol_water_mpa_s(0.0, FRIDGE_C)) < THICK:
        return None
    return Note(
        "thick",
        f"Thick: {times_water(warm, ROOM_C)} water at room temperature, {times_water(cold, FRIDGE_C)} in the "
        f"fridge, to a quarter either way. {tilt}",
    )


def _to_five(share: float) -> str:
    return f"{round(share * 20.0) * 5:.0f}"


def _one_digit(value: float) -> str:
    return f"{value:.0f}" if value >= 10.0 else f"{float(f'{value:.1g}'):g}"


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]
