"""What a recipe is like, as far as a caution asks: facts by name, each with what it is about.

A new fact is one more function in `FACTS`; its name is the function's. It returns what it is about (perhaps
nothing) when it holds, else None, and may add words for the texts that ask for them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry
from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR, composition_row
from formulate.blend.pectin import PectinRun, follow_pectin
from formulate.blend.profile import Profile
from formulate.blend.steps import LEAST_SHOWN_KG_L, LEAST_SPIRIT_PCT_VOL
from formulate.files.house_made import FAMILY
from formulate.files.ingredient import Ingredient
from formulate.files.steps import StepSpec
from formulate.physics.flash import FLASH_POINT_C, at_or_above_flash_point, flash_point_c
from formulate.physics.mixture import INDEX, strength_pct_vol
from formulate.rules.allergens import found_allergens
from formulate.rules.contents import Content, contents_of
from formulate.rules.methanol import methanol_short, methanol_text

__all__ = ["FACTS", "RecipeFacts", "Worked", "allergens_told", "delle_units", "facts_of"]

FloatArray = NDArray[np.float64]

HEATED_NAMES_C = {"simmer": 90.0, "boil": 100.0, "cook": 95.0}
"""A step called so without a temperature is taken to be this hot."""

DISTILLING = re.compile(r"\b(?:re)?distil(?:l|ling|lation|late)?\b")

STEAMS_OFF_C = 60.0
"""Above this an open vessel loses strength by the minute (common practice: 60 °C and below)."""

WARM_SPIRIT_C, WARM_C, BOILING_C = 30.0, 40.0, 85.0
"""Spirit this warm builds pressure; glass this warm breaks; this hot counts as boiled (common practice)."""

FORTIFIED_PCT_VOL = 10.0
"""A mash of this strength is spirit to a blender (our judgement)."""

STRONG_PCT_VOL = 57.0
"""From here the flash point is at room temperature, and old proof begins."""

CONCENTRATED = 5000.0
"""Bitterness value per gram from which a gram matters: the strong roots and barks, not the mild ones."""

CONCENTRATED_MADE = 1000.0
"""The same of what is made here: a tincture of one part in ten of such a root."""

WORTH_BLENDING = 0.05
"""Less than this of the liquor's mass goes in by hand (our judgement)."""

FRESH_WATER = 0.3
"""A plant with more water than this is fresh."""

BITTER = 10.0
"""Bitterness value of a drink that is tasted with care; our working figure."""

LITTLE_ACID_G_L = 3.0
"""Acid below which a pH of 4.2 is not to be relied on, whatever else is in it; our working figure."""

DELLE_LOW, DELLE_HIGH = 78.0, 85.0
"""Delle units that stop yeast, and those that were needed in practice (trade literature)."""

FERMENTABLE_G_L = 5.0
"""Sugar below this cannot lift a cork (our judgement)."""

SYRUP_DISSOLVED = 0.65
"""Dissolved share of a syrup that keeps by its sugar alone (common practice: 65 °Brix)."""

PLANTS = frozenset({"fruit", "vegetable", "citrus", "juice", "herb", "flower", "root"})


def delle_units(sugar_g_l: float, strength: float) -> float:
    """Delle units: sugar in g per 100 mL, and 4.5 for each % vol.

    Parameters
    ----------
    sugar_g_l : float
    strength : float
        % vol.
    """
    return sugar_g_l / 10.0 + 4.5 * strength


@dataclass(frozen=True)
class Worked:
    """A batch worked out, as the facts ask about it.

    Attributes
    ----------
    specs : tuple of StepSpec
        Defaults filled in.
    ingredients : tuple of Ingredient
        n of them.
    masses_kg : ndarray, shape (steps, n)
    run : ChainRun
    drink : Profile
    contents : tuple of Content
    pectin : PectinRun
    """

    specs: tuple[StepSpec, ...]
    ingredients: tuple[Ingredient, ...]
    masses_kg: FloatArray
    run: ChainRun
    drink: Profile
    contents: tuple[Content, ...]
    pectin: PectinRun

    @property
    def delle(self) -> float:
        """Delle units of the drink."""
        return delle_units(float(self.drink.sugar_g_l), float(self.drink.strength_pct_vol))

    def strength_in(self, position: int) -> float:
        """Strength of the liquor in a step before it is strained."""
        liquor = self.run.gross[position, :LIQUOR]
        return float(strength_pct_vol(liquor, check=False)) if liquor.sum() > 0.0 else 0.0

    def temperature_in(self, position: int) -> float | None:
        """How warm a step is, by its own figure or by its name; None where nothing says."""
        spec = self.specs[position]
        if spec.temperature_c is not None:
            return spec.temperature_c
        words = re.split(r"[^a-z]+", spec.name)
        return max((hot for word, hot in HEATED_NAMES_C.items() if word in words), default=None)

    def heated(self) -> list[tuple[int, float]]:
        """List the steps whose temperature is known, with it."""
        known = [(position, self.temperature_in(position)) for position in range(len(self.specs))]
        return [(position, degrees) for position, degrees in known if degrees is not None]


@dataclass(frozen=True)
class RecipeFacts:
    """What cautions are evaluated on.

    Attributes
    ----------
    contents : tuple of Content
    strength_pct_vol, sugar_g_l, acid_g_l : float
        Of the drink.
    holds : mapping of str to tuple of str
        Facts that hold, with the ids they are about.
    words : mapping of str to str
        What texts may fill in.
    """

    contents: tuple[Content, ...]
    strength_pct_vol: float
    sugar_g_l: float
    acid_g_l: float
    holds: Mapping[str, tuple[str, ...]]
    words: Mapping[str, str] = field(default_factory=dict)


Words = dict[str, str]
Fact = Callable[[Worked, Words], tuple[str, ...] | None]


def facts_of(
    specs: Sequence[StepSpec],
    ingredients: Sequence[Ingredient],
    masses_kg: FloatArray,
    run: ChainRun,
    drink: Profile,
    pantry: Pantry,
    contents: Sequence[Content] | None = None,
) -> RecipeFacts:
    """Work out the facts of a batch.

    Parameters
    ----------
    specs : sequence of StepSpec
        One per step, defaults filled in.
    ingredients : sequence of Ingredient
        n of them.
    masses_kg : ndarray, shape (steps, n)
    run : ChainRun
    drink : Profile
    pantry : Pantry
    contents : sequence of Content, optional
        What is in it, where the pantry does not know it of an ingredient.
    """
    masses_kg = np.where(masses_kg > LEAST_SHOWN_KG_L * float(drink.volume_l), masses_kg, 0.0)
    used = [one.id for one, mass in zip(ingredients, masses_kg.sum(axis=0), strict=True) if mass > 0.0]
    contents = contents_of(ingredients, used, pantry) if contents is None else tuple(contents)
    worked = Worked(
        tuple(specs),
        tuple(ingredients),
        masses_kg,
        run,
        drink,
        contents,
        follow_pectin(specs, ingredients, masses_kg, run),
    )
    words = {"drink": f"{float(drink.strength_pct_vol):.1f}", "delle": f"{worked.delle:.0f}"}
    found = {name: function(worked, words) for name, function in FACTS.items()}
    return RecipeFacts(
        contents=contents,
        strength_pct_vol=float(drink.strength_pct_vol),
        sugar_g_l=float(drink.sugar_g_l),
        acid_g_l=float(drink.acid_g_l),
        holds={name: about for name, about in found.items() if about is not None},
        words=words,
    )


@dataclass(frozen=True, slots=True)
class _Hot:
    """Liquor at or above its flash point; `words` are for the texts."""

    above_k: float
    temperature_c: float
    words: Words


def _at_flash_point(worked: Worked) -> list[_Hot]:
    low, high = FLASH_POINT_C[0][0], FLASH_POINT_C[-1][0]
    found = []
    for position, degrees in worked.heated():
        strength = worked.strength_in(position)
        if not at_or_above_flash_point(min(strength, 100.0), degrees):
            continue
        flash, lower_k, _ = flash_point_c(min(max(strength, low), high))
        words = {
            "step": f"`{worked.specs[position].name}`",
            "strength": f"{strength:.0f}",
            "bath": f"{degrees:.0f}",
            "flash": f"{float(flash):.0f}",
            "doubt": f"{lower_k:g}",
        }
        found.append(_Hot(degrees - float(flash), degrees, words))
    return found


def spirit_at_flash_point(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find the liquor that is held furthest above its flash point."""
    found = _at_flash_point(worked)
    if not found:
        return None
    words |= max(found, key=lambda hot: hot.above_k).words
    return ()


def spirit_steams_off(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find the hottest liquor whose spirit leaves it where nothing covers it."""
    found = [hot for hot in _at_flash_point(worked) if hot.temperature_c > STEAMS_OFF_C]
    if not found:
        return None
    hottest = max(found, key=lambda hot: hot.temperature_c)
    words |= {f"hot_{name}": word for name, word in hottest.words.items()}
    return ()


def warm_spirit(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find spirit that is kept warm."""
    warm = [
        degrees
        for position, degrees in worked.heated()
        if degrees >= WARM_SPIRIT_C and worked.strength_in(position) > LEAST_SPIRIT_PCT_VOL
    ]
    if not warm:
        return None
    words.setdefault("bath", f"{max(warm):.0f}")
    return ()


def warm_step(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find a vessel in hot water, with spirit or, for the enzyme, without."""
    del words
    holds = [step.hold.temperature_c for step in worked.pectin.steps if step.hold is not None]
    heated = [hot for _, hot in worked.heated()]
    # What boils stands in a pot, not in a jar.
    return () if any(WARM_C <= degrees < BOILING_C for degrees in (*holds, *heated)) else None


def nothing_boiled(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Tell that no step comes near boiling."""
    del words
    return () if all(degrees < BOILING_C for _, degrees in worked.heated()) else None


def fresh_plants_in_spirit(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find fresh fruit, vegetables or peel in spirit, as much as one might blend."""
    del words
    found = [
        one.id
        for position in range(len(worked.specs))
        if worked.strength_in(position) >= FORTIFIED_PCT_VOL
        for one, mass in zip(worked.ingredients, worked.masses_kg[position], strict=True)
        if mass >= WORTH_BLENDING * worked.run.gross[position, :LIQUOR].sum()
        and one.family in ("fruit", "vegetable", "citrus")
        and one.composition.get("water", 0.0) > FRESH_WATER
    ]
    return tuple(dict.fromkeys(found)) or None


def strong_spirit(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find what is overproof."""
    del words
    found = []
    for one, mass in zip(worked.ingredients, worked.masses_kg.sum(axis=0), strict=True):
        row = composition_row(one)
        if not mass > 0.0 or not row[INDEX["ethanol"]] > 0.0:
            continue
        strength = one.strength_pct_vol
        if strength is None:
            strength = float(strength_pct_vol(row, check=False))
        if strength >= STRONG_PCT_VOL:
            found.append(one.id)
    return tuple(found) or None


def concentrated_bitter(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find what is so bitter that a gram matters."""
    del words
    found = []
    for one, mass in zip(worked.ingredients, worked.masses_kg.sum(axis=0), strict=True):
        least = CONCENTRATED_MADE if one.family == FAMILY else CONCENTRATED
        if mass > 0.0 and one.bitterness is not None and one.bitterness.value >= least:
            found.append(one.id)
    return tuple(found) or None


def distilling_step(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find a step that is called distilling."""
    del words
    return () if any(DISTILLING.search(spec.name) for spec in worked.specs) else None


def enzyme_on_pectin(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find fruit or pith that is given pectinase."""
    if not any(step.enzyme is not None for step in worked.pectin.steps):
        return None
    words |= {
        "methanol_text": methanol_text(worked.pectin),
        "methanol_short": methanol_short(worked.pectin),
    }
    return ()


def has_allergens(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Find allergens; sulphites have a caution of their own."""
    return allergens_told(worked.contents, words)


def allergens_told(contents: Sequence[Content], words: dict[str, str]) -> tuple[str, ...] | None:
    """Put the allergens of some contents into words, sulphites left aside; None for none.

    Parameters
    ----------
    contents : sequence of Content
    words : dict of str to str
        Takes `allergens` and `allergens_by`.
    """
    found = [one for one in found_allergens(contents) if one.id != "sulphites"]
    if not found:
        return None
    # Wheat is one of the cereals with gluten: told once.
    names = {one.id for one in found}
    told = [one for one in found if not (one.id == "wheat" and "gluten-cereals" in names)]
    words |= {
        "allergens": ", ".join(one.name for one in told),
        "allergens_by": "; ".join(f"{one.name} ({', '.join(one.brought_by)})" for one in told),
    }
    return tuple(one.name for one in told)


def can_ferment(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Tell that yeast can live on it in a closed bottle."""
    del words
    return () if _fermentable(worked) and worked.delle < DELLE_LOW else None


def ferments_perhaps(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Tell that yeast may just live on it."""
    del words
    return () if _fermentable(worked) and DELLE_LOW <= worked.delle <= DELLE_HIGH else None


def will_not_ferment(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Tell that sugar and strength stop yeast, or that there is next to no sugar."""
    del words
    return None if _fermentable(worked) and worked.delle <= DELLE_HIGH else ()


def little_acid(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Tell that there is not enough acid to rely on."""
    del words
    return () if float(worked.drink.acid_g_l) < LITTLE_ACID_G_L else None


def plants_or_juice(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Tell that there is more in it than spirit, water, sugar and acid."""
    del words
    return () if any(content.family in PLANTS for content in worked.contents) else None


def bitter_drink(worked: Worked, words: Words) -> tuple[str, ...] | None:
    """Tell that it is tasted for bitterness."""
    del words
    return () if float(worked.drink.bitterness_value) >= BITTER else None


def _fermentable(worked: Worked) -> bool:
    drink = worked.drink
    enough = float(drink.sugar_g_l) >= FERMENTABLE_G_L
    return enough and float(drink.dissolved_mass_fraction) < SYRUP_DISSOLVED


FACTS: Mapping[str, Fact] = MappingProxyType(
    {
        function.__name__: function
        for function in (
            spirit_at_flash_point,
            spirit_steams_off,
            warm_spirit,
            warm_step,
            nothing_boiled,
            fresh_plants_in_spirit,
            strong_spirit,
            concentrated_bitter,
            distilling_step,
            enzyme_on_pectin,
            has_allergens,
            can_ferment,
            ferments_perhaps,
            will_not_ferment,
            little_acid,
            plants_or_juice,
            bitter_drink,
        )
    }
)
"""Every fact by name."""
