"""What age has left of a dried plant on the shelf: `stock:` entries to factors on its figures.

The yearly losses are the herb trade's rules of thumb (see `physics.ageing`), so every factor is a
starting value and every answer that used one says so. Only what is on the shelf ages: a house-made
thing is counted as it was made, and a bitterness somebody measured is never touched.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from formulate.blend.materials import class_of
from formulate.errors import Note, SpecError, SpecProblem
from formulate.files.fields import did_you_mean
from formulate.files.frozen import FrozenMap
from formulate.files.ingredient import Bitterness, Ingredient
from formulate.files.stock import Stock
from formulate.physics.ageing import potency_left, shelf_life_years
from formulate.physics.numerics import Figure

if TYPE_CHECKING:
    from formulate.bar.pantry import Pantry

__all__ = [
    "LASTING_ATTRIBUTES",
    "Potency",
    "aged",
    "past_stock",
    "potency_notes",
    "potency_of",
    "potency_text",
    "refuse_wrong_stock",
    "stock_problem",
    "stocked",
]

DAYS_PER_YEAR = 365.25

FRESH_WATER_SHARE = 0.4
"""From this much water on a plant is fresh, and no yearly loss describes what becomes of it."""

# Kind of `physics.ageing` by class of plant, whole and cut. Ground counts as the whole thing, faster.
KINDS: dict[str, tuple[str, str]] = {
    "root": ("whole_root", "cut_root"),
    "bark": ("whole_bark", "cut_root"),
    "seed": ("whole_seed", "cut_root"),
    "dried_peel": ("cut_root", "cut_root"),
    "leaf": ("leaf", "leaf"),
    "flower": ("flower", "flower"),
}
# What no source gives a figure for: cut root stands in, and the answer says so.
STAND_INS = {
    ("bark", "cut"),
    ("seed", "cut"),
    ("dried_peel", "whole"),
    ("dried_peel", "cut"),
    ("dried_peel", "powder"),
}

SOFT_LEAVES = ("basil", "chervil", "dill-leaf", "lemon-balm", "parsley", "tarragon")
"""Leaves that lose most of their oil within a year, by the beginning of their id (from memory)."""

# Whose bitterness is a lactone, which goes faster than a glycoside (from memory); the bitter acids of hops
# go about as fast as an oil (from memory). Leaves and flowers not named here count as lactones, the careful
# way; everything else as glycosides.
LACTONES = ("chicory-root", "dandelion-root")
GLYCOSIDES = ("centaury-herb", "bogbean-leaf")
LIKE_OIL = {"hops-cone": "flower"}

LASTING_ATTRIBUTES = frozenset(
    {
        "aloin",
        "beta_asarone",
        "caffeine",
        "capsaicin",
        "coumarin",
        "estragole",
        "glycyrrhizic_acid",
        "hydrocyanic_acid",
        "menthofuran",
        "methyleugenol",
        "pulegone",
        "quassin",
        "quinine",
        "safrole",
        "theobromine",
        "thujone",
    }
)
"""Substances with a limit or a warning of their own: never counted down, or age would loosen the limit."""


@dataclass(frozen=True, slots=True)
class Potency:
    """What age has left of one plant on the shelf.

    Attributes
    ----------
    age_years : float
        Since harvest, or since it was bought.
    since_purchase : bool
        Counted from the day it was bought: it was older than that already.
    bitterness_share, aroma_share : float
        What is left, 0 to 1: of the bitterness, and of the oil and everything else that fades.
    shelf_life : Figure
        Years: from `low` on replace it soon, past `high` it is refused.
    stand_in : bool
        No figure was found for this plant part; cut root stands in.
    """

    ingredient: str
    age_years: float
    since_purchase: bool
    bitterness_share: float
    aroma_share: float
    shelf_life: Figure
    stand_in: bool

    @property
    def is_past(self) -> bool:
        """Whether it is older than it is worth keeping."""
        return self.age_years > self.shelf_life.high


def potency_of(ingredient: Ingredient, stock: Stock, today: date) -> Potency:
    """Work out what age has left.

    Parameters
    ----------
    ingredient : Ingredient
        As it was when new.
    stock : Stock
        Not from the future.

    Raises
    ------
    SpecError
        Without a place, if it is not a dried plant.
    """
    plant_class = _class_of(ingredient)
    powder = stock.stored == "powder"
    kind = KINDS[plant_class][1 if stock.stored == "cut" else 0]
    names = (ingredient.id, ingredient.based_on or "")
    if kind == "leaf" and any(name.startswith(SOFT_LEAVES) for name in names):
        kind = "soft_leaf"
    age = (today - stock.since).days / DAYS_PER_YEAR
    return Potency(
        ingredient=ingredient.id,
        age_years=age,
        since_purchase=stock.harvested is None,
        bitterness_share=float(potency_left(age, _bitter_kind(names, plant_class), powder=powder)),
        aroma_share=float(potency_left(age, kind, powder=powder)),
        shelf_life=shelf_life_years(kind, powder=powder),
        stand_in=(plant_class, stock.stored) in STAND_INS,
    )


def aged(ingredient: Ingredient, potency: Potency) -> Ingredient:
    """Return an ingredient with what age has left of its bitterness and of the attributes that fade."""
    bitter, left = ingredient.bitterness, potency.bitterness_share
    if bitter is not None:
        bitter = Bitterness(
            value=bitter.value * left,
            low=None if bitter.low is None else bitter.low * left,
            high=None if bitter.high is None else bitter.high * left,
            extracted=bitter.extracted,
        )
    attributes = FrozenMap(
        {
            name: content if name in LASTING_ATTRIBUTES else content * potency.aroma_share
            for name, content in ingredient.attributes.items()
        }
    )
    return ingredient.model_copy(update={"bitterness": bitter, "attributes": attributes})


def stocked(pantry: Pantry, ingredient: Ingredient) -> Potency | None:
    """Return what age has left of an ingredient; None where the shelf says nothing or nothing ages.

    Nothing ages inside a house-made thing: what went into it stopped ageing when it was made.

    Raises
    ------
    SpecError
        With its place on the shelf: a date to come, or nothing that is dried.
    """
    if pantry.shelf is None or pantry.making:
        return None
    entry = pantry.shelf.stock.get(ingredient.id)
    if entry is None:
        return None
    path = ("stock", ingredient.id)
    if entry.since > pantry.day:
        message = f"is still to come: today is {pantry.day.isoformat()}. Check the date."
        raise SpecError([pantry.shelf.places.problem((*path, entry.date_key), message)])
    try:
        return potency_of(ingredient, entry, pantry.day)
    except SpecError as error:
        problems = [pantry.shelf.places.problem(path, p.message, key=True) for p in error.problems]
        raise SpecError(problems) from None


def stock_problem(pantry: Pantry, ingredient: Ingredient, potency: Potency) -> SpecProblem | None:
    """Say that a plant is past its shelf life and what to do about it; None while it is not."""
    if pantry.shelf is None or not potency.is_past:
        return None
    entry = pantry.shelf.stock[ingredient.id]
    life = potency.shelf_life
    instead = (
        ", or taste it out and give its bitterness under `measured:` in the bottle file"
        if ingredient.bitterness is not None
        else ""
    )
    message = (
        f"{ingredient.id} {_age_text(potency)}, past the {_span(life)} it is worth keeping "
        f"({life.confidence}). Buy fresh and change the date{instead}."
    )
    return pantry.shelf.places.problem(("stock", ingredient.id, entry.date_key), message)


def past_stock(pantry: Pantry) -> tuple[str, ...]:
    """List what is in stock past its shelf life; `refuse_wrong_stock` must have passed."""
    past = []
    for name in pantry.shelf.stock if pantry.shelf else ():
        potency = stocked(pantry, pantry.unaged(name))
        if potency is not None and potency.is_past:
            past.append(name)
    return tuple(past)


def refuse_wrong_stock(pantry: Pantry) -> None:
    """Hold the `stock:` block against what is known.

    What is past its shelf life is refused where it is used, see `Pantry.ingredient`.

    Raises
    ------
    SpecError
        For every entry that names nothing known, something house-made or not dried, or a day to come.
    """
    if pantry.shelf is None:
        return
    shelf, problems = pantry.shelf, []
    for name in shelf.stock:
        if name in shelf.house_made:
            message = (
                f"'{name}' is made here and does not age by these figures. Give it a `keep_by:` instead."
            )
            problems.append(shelf.places.problem(("stock", name), message, key=True))
            continue
        known = {*pantry.library.ids(), *shelf.ingredients}
        if name not in known:
            hint = did_you_mean(name, known)
            message = f"no ingredient called '{name}' on the shelf or in the library. {hint}".rstrip()
            problems.append(shelf.places.problem(("stock", name), message, key=True))
            continue
        try:
            stocked(pantry, pantry.unaged(name))
        except SpecError as error:
            problems += error.problems
    if problems:
        raise SpecError(dict.fromkeys(problems))


def potency_notes(pantry: Pantry, used: Sequence[str], measured: Collection[str] = ()) -> list[Note]:
    """Say which plants in a recipe were counted down for their age.

    Parameters
    ----------
    used : sequence of str
        Ids in the recipe.
    measured : collection of str
        Ids whose bitterness somebody measured, which is taken as it is.
    """
    notes = []
    for name in dict.fromkeys(used):
        if pantry.shelf is None or name not in pantry.shelf.stock:
            continue
        ingredient = pantry.unaged(name)
        potency = stocked(pantry, ingredient)
        if potency is not None:
            text = potency_text(ingredient, potency, measured=name in measured)
            notes.append(Note("aged_stock", f"{name} {text}.", "common practice"))
    return notes


def potency_text(ingredient: Ingredient, potency: Potency, *, measured: bool = False) -> str:
    """Say how old a plant is and what that did to its figures, without its name and a full stop."""
    fading = [name for name in ingredient.attributes if name not in LASTING_ATTRIBUTES]
    counted = []
    if ingredient.bitterness is not None:
        counted.append(
            "the bitterness you measured is taken as it is"
            if measured
            else f"counted at {_whole(potency.bitterness_share)} % of its bitterness"
        )
    if fading:
        verb = "at" if counted and not measured else "counted at"
        counted.append(f"{verb} {_whole(potency.aroma_share)} % of its {' and '.join(fading)}")
    if not counted:
        counted.append(
            f"about {_whole(potency.aroma_share)} % of its aroma may be left, which no figure here counts"
        )
    stand_in = ", taken as cut root" if potency.stand_in else ""
    rests = "" if measured and not fading else f" (starting value{stand_in})"
    text = f"{_age_text(potency)}: {', '.join(counted)}{rests}"
    if potency.is_past:
        return f"{text}; it is past the {_span(potency.shelf_life)} it is worth keeping"
    if potency.age_years >= potency.shelf_life.low:
        return f"{text}; smell it first and replace it soon"
    return text


def _class_of(ingredient: Ingredient) -> str:
    plant_class = class_of(ingredient)
    water = ingredient.composition.get("water", 0.0)
    if plant_class in KINDS and water < FRESH_WATER_SHARE:
        return plant_class
    if water >= FRESH_WATER_SHARE or plant_class is not None or ingredient.family != "own":
        message = (
            f"no loss by age is known for '{ingredient.id}', only for dried roots, barks, seeds, peels, "
            "leaves and flowers. Delete the line."
        )
    else:
        kinds = ", ".join(KINDS)
        message = (
            f"what kind of plant '{ingredient.id}' is, is not known. Add `infusion: {{like: root}}` to it "
            f"under ingredients (one of {kinds}), or delete the line."
        )
    raise SpecError([SpecProblem(None, "", message)])


def _bitter_kind(names: Sequence[str], plant_class: str) -> str:
    for name in names:
        if name in LIKE_OIL:
            return LIKE_OIL[name]
        if name in LACTONES:
            return "bitter_lactone"
        if name in GLYCOSIDES:
            return "bitter_glycoside"
    return "bitter_lactone" if plant_class in ("leaf", "flower") else "bitter_glycoside"


def _age_text(potency: Potency) -> str:
    years = potency.age_years
    months = round(12.0 * years)
    if years >= 1.0:
        span = f"{years:.1f} years"
    elif months >= 2:
        span = f"{months} months"
    else:
        days = round(years * DAYS_PER_YEAR)
        span = "1 day" if days == 1 else f"{days} days"
    return f"was bought {span} ago" if potency.since_purchase else f"is {span} old"


def _span(life: Figure) -> str:
    return f"{life.low:g} to {life.high:g} years"


def _whole(share: float) -> str:
    return f"{100.0 * share:.0f}"
