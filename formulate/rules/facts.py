"""What a batch is like, as far as a caution asks: facts by name, each with what it is about.

A new fact is one more function, listed at the end; its name is the function's. It returns `Held`, with what
it is about (perhaps nothing) and words for the texts that ask for them, or None where it does not hold.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import TypeVar

from formulate.blend.batch import Batch
from formulate.blend.materials import composition_row
from formulate.blend.pectin import follow_pectin
from formulate.blend.profile import Profile
from formulate.blend.steps import LEAST_SPIRIT_PCT_VOL
from formulate.files.ingredient import Ingredient
from formulate.files.steps import StepSpec
from formulate.files.stock import FAMILY
from formulate.physics.flash import FLASH_POINT_C, at_or_above_flash_point, flash_point_c
from formulate.physics.mixture import INDEX, strength_pct_vol
from formulate.rules.contents import Content, found_allergens
from formulate.rules.methanol import methanol_short, methanol_text

__all__ = ["OF_BATCH", "OF_CONTENTS", "Facts", "Held", "delle_units", "facts_of", "facts_of_glass"]

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
    strength : float
        % vol.
    """
    return sugar_g_l / 10.0 + 4.5 * strength


F = TypeVar("F", bound=Callable[..., object])


@dataclass(frozen=True, slots=True)
class Held:
    """A fact that holds.

    Attributes
    ----------
    about : tuple of str
        Ids or names it is about; perhaps none.
    words : mapping of str to str
        What texts may fill in.
    """

    about: tuple[str, ...] = ()
    words: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Facts:
    """What cautions are evaluated on.

    Attributes
    ----------
    held : mapping of str to Held
        Facts that hold, by name.
    """

    contents: tuple[Content, ...]
    drink: Profile
    held: Mapping[str, Held] = field(default_factory=dict)

    @cached_property
    def words(self) -> dict[str, str]:
        """What texts may fill in; of two facts that give one word the first does."""
        words = {"drink": f"{float(self.drink.strength_pct_vol):.1f}", "delle": f"{_delle(self.drink):.0f}"}
        for held in self.held.values():
            words = {**held.words, **words}
        return words


def facts_of(batch: Batch, contents: Sequence[Content]) -> Facts:
    """Work out the facts of a batch.

    Parameters
    ----------
    contents : sequence of Content
        What is in it.
    """
    held = {name: fact(batch) for name, fact in OF_BATCH.items()}
    of_glass = facts_of_glass(batch.drink, contents)
    known = {name: fact for name, fact in held.items() if fact is not None}
    return replace(of_glass, held={**known, **of_glass.held})


def facts_of_glass(drink: Profile, contents: Sequence[Content]) -> Facts:
    """Work out what can be said of a drink by its figures and contents, however it was made."""
    held = {name: fact(contents) for name, fact in OF_CONTENTS.items()}
    return Facts(tuple(contents), drink, {name: fact for name, fact in held.items() if fact is not None})


@dataclass(frozen=True, slots=True)
class _Hot:
    """Liquor at or above its flash point; `words` are for the texts."""

    above_k: float
    temperature_c: float
    words: Mapping[str, str]


def _temperature_c(spec: StepSpec) -> float | None:
    """Return how warm a step is, by its own figure or by its name; None where nothing says."""
    if spec.temperature_c is not None:
        return spec.temperature_c
    words = re.split(r"[^a-z]+", spec.name)
    return max((hot for word, hot in HEATED_NAMES_C.items() if word in words), default=None)


def _heated(batch: Batch) -> list[tuple[int, float]]:
    """List the steps whose temperature is known, with it."""
    known = [(position, _temperature_c(spec)) for position, spec in enumerate(batch.specs)]
    return [(position, temperature_c) for position, temperature_c in known if temperature_c is not None]


def _at_flash_point(batch: Batch) -> list[_Hot]:
    low, high = FLASH_POINT_C[0][0], FLASH_POINT_C[-1][0]
    hot = []
    for position, temperature_c in _heated(batch):
        strength = batch.liquor_pct_vol(position)
        if not at_or_above_flash_point(min(strength, 100.0), temperature_c):
            continue
        flash, lower_k, _ = flash_point_c(min(max(strength, low), high))
        words = {
            "step": f"`{batch.specs[position].name}`",
            "strength": f"{strength:.0f}",
            "bath": f"{temperature_c:.0f}",
            "flash": f"{float(flash):.0f}",
            "doubt": f"{lower_k:g}",
        }
        hot.append(_Hot(temperature_c - float(flash), temperature_c, words))
    return hot


def spirit_at_flash_point(batch: Batch) -> Held | None:
    """Find the liquor that is held furthest above its flash point."""
    hot = max(_at_flash_point(batch), key=lambda liquor: liquor.above_k, default=None)
    return None if hot is None else Held(words=hot.words)


def spirit_steams_off(batch: Batch) -> Held | None:
    """Find the hottest liquor whose spirit leaves it where nothing covers it."""
    steaming = [liquor for liquor in _at_flash_point(batch) if liquor.temperature_c > STEAMS_OFF_C]
    hottest = max(steaming, key=lambda liquor: liquor.temperature_c, default=None)
    if hottest is None:
        return None
    return Held(words={f"hot_{name}": word for name, word in hottest.words.items()})


def warm_spirit(batch: Batch) -> Held | None:
    """Find spirit that is kept warm."""
    warm = [
        temperature_c
        for position, temperature_c in _heated(batch)
        if temperature_c >= WARM_SPIRIT_C and batch.liquor_pct_vol(position) > LEAST_SPIRIT_PCT_VOL
    ]
    return Held(words={"bath": f"{max(warm):.0f}"}) if warm else None


def warm_step(batch: Batch) -> Held | None:
    """Find a vessel in hot water, with spirit or, for the enzyme, without."""
    holds = [step.hold.temperature_c for step in follow_pectin(batch).steps if step.hold is not None]
    heated = [temperature_c for _, temperature_c in _heated(batch)]
    # What boils stands in a pot, not in a jar.
    return Held() if any(WARM_C <= warm < BOILING_C for warm in (*holds, *heated)) else None


def nothing_boiled(batch: Batch) -> Held | None:
    """Tell that no step comes near boiling."""
    return Held() if all(temperature_c < BOILING_C for _, temperature_c in _heated(batch)) else None


def fresh_plants_in_spirit(batch: Batch) -> Held | None:
    """Find fresh fruit, vegetables or peel in spirit, as much as one might blend."""
    plants = [
        ingredient.id
        for position, masses_kg in enumerate(batch.weighed_kg)
        if batch.liquor_pct_vol(position) >= FORTIFIED_PCT_VOL
        for ingredient, mass in zip(batch.ingredients, masses_kg, strict=True)
        if mass >= WORTH_BLENDING * batch.liquor_kg(position).sum()
        and ingredient.family in ("fruit", "vegetable", "citrus")
        and ingredient.composition.get("water", 0.0) > FRESH_WATER
    ]
    return Held(tuple(dict.fromkeys(plants))) if plants else None


def strong_spirit(batch: Batch) -> Held | None:
    """Find what is overproof."""
    strong = []
    for ingredient in _weighed(batch):
        row = composition_row(ingredient)
        if not row[INDEX["ethanol"]] > 0.0:
            continue
        strength = ingredient.strength_pct_vol
        if strength is None:
            strength = float(strength_pct_vol(row, check=False))
        if strength >= STRONG_PCT_VOL:
            strong.append(ingredient.id)
    return Held(tuple(strong)) if strong else None


def concentrated_bitter(batch: Batch) -> Held | None:
    """Find what is so bitter that a gram matters."""
    bitter = [
        ingredient.id
        for ingredient in _weighed(batch)
        if ingredient.bitterness is not None
        and ingredient.bitterness.value
        >= (CONCENTRATED_MADE if ingredient.family == FAMILY else CONCENTRATED)
    ]
    return Held(tuple(bitter)) if bitter else None


def distilling_step(batch: Batch) -> Held | None:
    """Find a step that is called distilling."""
    return Held() if any(DISTILLING.search(spec.name) for spec in batch.specs) else None


def enzyme_on_pectin(batch: Batch) -> Held | None:
    """Find fruit or pith that is given pectinase."""
    pectin = follow_pectin(batch)
    if all(step.enzyme is None for step in pectin.steps):
        return None
    return Held(words={"methanol_text": methanol_text(pectin), "methanol_short": methanol_short(pectin)})


def can_ferment(batch: Batch) -> Held | None:
    """Tell that yeast can live on it in a closed bottle."""
    return Held() if _fermentable(batch.drink) and _delle(batch.drink) < DELLE_LOW else None


def ferments_perhaps(batch: Batch) -> Held | None:
    """Tell that yeast may just live on it."""
    perhaps = _fermentable(batch.drink) and DELLE_LOW <= _delle(batch.drink) <= DELLE_HIGH
    return Held() if perhaps else None


def will_not_ferment(batch: Batch) -> Held | None:
    """Tell that sugar and strength stop yeast, or that there is next to no sugar."""
    return None if _fermentable(batch.drink) and _delle(batch.drink) <= DELLE_HIGH else Held()


def little_acid(batch: Batch) -> Held | None:
    """Tell that there is not enough acid to rely on."""
    return Held() if float(batch.drink.acid_g_l) < LITTLE_ACID_G_L else None


def bitter_drink(batch: Batch) -> Held | None:
    """Tell that it is tasted for bitterness."""
    return Held() if float(batch.drink.bitterness_value) >= BITTER else None


def has_allergens(contents: Sequence[Content]) -> Held | None:
    """Find allergens; sulphites have a caution of their own."""
    allergens = [allergen for allergen in found_allergens(contents) if allergen.id != "sulphites"]
    if any(allergen.id == "gluten-cereals" for allergen in allergens):
        # Wheat is one of the cereals with gluten: named once.
        allergens = [allergen for allergen in allergens if allergen.id != "wheat"]
    if not allergens:
        return None
    by = "; ".join(f"{allergen.name} ({', '.join(allergen.brought_by)})" for allergen in allergens)
    names = tuple(allergen.name for allergen in allergens)
    return Held(names, {"allergens": ", ".join(names), "allergens_by": by})


def plants_or_juice(contents: Sequence[Content]) -> Held | None:
    """Tell that there is more in it than spirit, water, sugar and acid."""
    return Held() if any(content.family in PLANTS for content in contents) else None


def _weighed(batch: Batch) -> Iterator[Ingredient]:
    """List what goes in, in the order of the file."""
    used_kg = batch.weighed_kg.sum(axis=0)
    return (ingredient for ingredient, mass in zip(batch.ingredients, used_kg, strict=True) if mass > 0.0)


def _delle(drink: Profile) -> float:
    return delle_units(float(drink.sugar_g_l), float(drink.strength_pct_vol))


def _fermentable(drink: Profile) -> bool:
    enough = float(drink.sugar_g_l) >= FERMENTABLE_G_L
    return enough and float(drink.dissolved_mass_fraction) < SYRUP_DISSOLVED


def _by_name(*facts: F) -> Mapping[str, F]:
    return MappingProxyType({fact.__name__: fact for fact in facts})


OF_BATCH: Mapping[str, Callable[[Batch], Held | None]] = _by_name(
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
    can_ferment,
    ferments_perhaps,
    will_not_ferment,
    little_acid,
    bitter_drink,
)
"""Facts that only the making of a batch tells, by name."""

OF_CONTENTS: Mapping[str, Callable[[Sequence[Content]], Held | None]] = _by_name(
    has_allergens, plants_or_juice
)
"""Facts that what is in a drink tells, by name."""
