"""Doses too small for the balances of the shelf, and doses no bar would serve: what to do about them."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from formulate.bar.batch import BarBatch
from formulate.bar.house_made import Made
from formulate.bar.pantry import Pantry
from formulate.blend.batch import Batch
from formulate.blend.flavour import FlavourPart
from formulate.blend.materials import BITTERNESS
from formulate.describe.recipe_lines import bar_measure
from formulate.describe.records import RecipeLineRecord
from formulate.errors import Note, SpecError
from formulate.files.ingredient import Ingredient
from formulate.optimise.tolerances import USED_KG_PER_L
from formulate.quantity.words import listed

__all__ = ["named_after_notes", "too_little_notes", "unusual_dose_notes"]

NEVER_DOSED = frozenset({"aloin", "hydroxyanthracenes-strong"})
"""What brings these is told to be left out: no advice how to dose it."""

USUAL_STEP_KG = 0.0001
"""What a small kitchen balance shows, used where the shelf names none (common practice)."""

LARGEST_ERROR = 0.05
"""A dose is weighed well when one step of the balance is at most this share of it."""

MAINLY = 0.5
"""A house-made thing is made mainly from an ingredient that brings this share or more."""

SHORTEST_WORD, NAMED_SHARE = 4, 0.25
"""Letters of a word that may name an ingredient; what it is named after brings so much."""

A_HAIR = 1e-6
"""Share by which a dose solved to the end of its range may lie outside by rounding."""


def named_after_notes(name: str, flavour: Sequence[FlavourPart]) -> list[Note]:
    """Say that a drink tastes mostly of something else than its name promises.

    Parameters
    ----------
    name : str
        Of the drink; a word of it that begins an ingredient's id names that ingredient.
    flavour : sequence of FlavourPart
    """
    words = [word for word in re.findall(r"[a-z]+", name.lower()) if len(word) >= SHORTEST_WORD]
    named = [part for part in flavour if part.ingredient.split("-")[0] in words]
    if not named or sum(part.share for part in named) >= NAMED_SHARE:
        return []
    first = min(named, key=lambda part: words.index(part.ingredient.split("-")[0]))
    leads = max(flavour, key=lambda part: part.share)
    text = (
        f"Named after {first.ingredient}, which brings {100 * first.share:.0f} % of the flavour; "
        f"{leads.ingredient} brings {100 * leads.share:.0f} %. `lead: {first.ingredient}` would make it lead."
    )
    return [Note("named_after", text)]


def unusual_dose_notes(
    batch: Batch,
    kind: str | None,
    known: Collection[str] = (),
    *,
    added: bool = False,
) -> list[Note]:
    """Name what is in a drink at more than is usually served, or at less than is noticed.

    Parameters
    ----------
    kind : str or None
        `concentrate`; None for a drink by the glass.
    known : collection of str
        Ids that another note tells of.
    added : bool
        Whether it goes into what may hold some of it already; then a little is nothing unusual.
    """
    much, little, fits_concentrate = [], [], []
    served = [
        (ingredient.id, 1000.0 * float(mass), ingredient.dose)
        for ingredient, mass in zip(batch.ingredients, batch.used_kg / batch.volume_l, strict=True)
        if ingredient.dose is not None and mass > USED_KG_PER_L
    ]
    beside = len(served) > 1
    for name, g_l, dose in served:
        usual = dose.range_for(kind)
        low = dose.least_g_l(kind, beside=beside)
        if name in known or low * (1.0 - A_HAIR) <= g_l <= usual.high_g_l * (1.0 + A_HAIR):
            continue
        said = f"{name} {g_l:.3g} g/L (usual {usual.low_g_l:.3g} to {usual.high_g_l:.3g}"
        if g_l > usual.high_g_l:
            much.append(f"{said}; {dose.in_print})")
            fits_concentrate.append(g_l <= dose.range_for("concentrate").high_g_l)
        elif not added:
            little.append(f"{said})")
    notes = []
    of = "in a concentrate" if kind else "by the glass"
    if much:
        text = f"More than is usual {of}: {listed(much)}."
        if kind is None and len(much) == len(served) and all(fits_concentrate):
            text += " If it is a tincture or dashing bitter, say `kind: concentrate`."
        notes.append(Note("unusual_dose", text))
    if little:
        notes.append(Note("unusual_dose", f"Less than is noticed {of}: {listed(little)}."))
    return notes


def too_little_notes(lines: Sequence[RecipeLineRecord], batch: BarBatch) -> list[Note]:
    """Point out what is too little to weigh to 5 %, and which house-made thing would do instead.

    Parameters
    ----------
    lines : sequence of RecipeLineRecord
        Of the batch.
    """
    pantry = batch.pantry
    balances = pantry.shelf.balances if pantry.shelf else ()
    step_kg = min((balance.step_kg for balance in balances), default=USUAL_STEP_KG)
    balance = (
        f"your finest balance steps {_grams(step_kg)}" if balances else f"on a {_grams(step_kg)} balance"
    )
    by_id = {ingredient.id: ingredient for ingredient in batch.ingredients}
    notes = []
    for line in lines:
        if line.mass_kg * LARGEST_ERROR >= step_kg * (1.0 - 1e-9):
            continue
        ingredient = by_id[line.ingredient]
        if ingredient.family in ("water", "enzyme") or NEVER_DOSED & ingredient.restricted.keys():
            continue  # of water and enzyme nobody tastes a drop more
        instead = _instead(ingredient, line.mass_kg, pantry)
        advice = "; ".join([_advice(ingredient), *instead])
        notes.append(
            Note(
                "too_little_to_weigh",
                f"{line.ingredient} comes to {_grams(line.mass_kg)}, too little to weigh well ({balance}): "
                f"{advice}.",
                about=(f"{line.ingredient} ({_grams(line.mass_kg)})",),
                of_several=f"Too little to weigh well ({balance}): {{about}}. Make tinctures and dose those.",
            )
        )
    return notes


def _advice(ingredient: Ingredient) -> str:
    liquid = ingredient.strength_pct_vol is not None or ingredient.composition.get("water", 0.0) >= 0.5
    dissolves = ingredient.retention_kg_per_kg == 0.0 and ingredient.composition.get("insoluble", 0.0) <= 0.02
    if liquid and dissolves:
        return "thin 10 g of it with water to 100 g and dose ten times as much of that"
    if dissolves and sum(ingredient.composition.values()) > 0.9:
        return "dissolve 10 g in 90 g of water and dose ten times as much of that"
    return "make a tincture and dose that"


def _instead(ingredient: Ingredient, mass_kg: float, pantry: Pantry) -> list[str]:
    """Name the house-made things that would do the same."""
    advice = []
    for name in pantry.shelf.house_made if pantry.shelf else ():
        try:
            made = pantry.made(name)
        except SpecError:  # only a hint: `check` on the shelf tells what is wrong with the others
            continue
        same_kg = _same_kg(ingredient, mass_kg, made)
        if same_kg is None:
            continue
        measure = bar_measure(made.ingredient, same_kg, pantry)
        also = f" ({measure})" if measure.text else ""
        advice.append(f"{_grams(same_kg)}{also} of {name} from your shelf would do the same")
    return advice


def _same_kg(ingredient: Ingredient, mass_kg: float, made: Made) -> float | None:
    """Return how much of a house-made thing does what a mass of an ingredient does, or None.

    By bitterness where the ingredient is bitter, else by how much of it went in.
    """
    batch = made.batch
    if ingredient.id not in batch.chain.materials.ids:
        return None
    number = batch.chain.materials.ids.index(ingredient.id)
    if ingredient.bitterness is not None and made.ingredient.bitterness is not None:
        column = batch.chain.materials.content[:, batch.chain.materials.column(BITTERNESS)]
        parts = batch.used_kg * column
        if parts[number] < MAINLY * parts.sum():
            return None
        wanted = mass_kg * ingredient.bitterness.value * ingredient.bitterness.extracted
        return wanted / made.ingredient.bitterness.value
    flavours = [
        index for index, other in enumerate(batch.ingredients) if not _is_carrier(other) or index == number
    ]
    if not batch.used_kg[number] > MAINLY * batch.used_kg[flavours].sum():
        return None
    return mass_kg * float(batch.drink.mass_kg) / float(batch.used_kg[number])


def _is_carrier(ingredient: Ingredient) -> bool:
    """Whether a thing is there to dissolve or preserve: water, plain spirit, sugar."""
    return ingredient.strength_pct_vol is not None or ingredient.family in ("water", "spirit", "sweetener")


def _grams(mass_kg: float) -> str:
    grams = mass_kg * 1000.0
    return f"{grams:.3g} g" if grams < 100.0 else f"{grams:.0f} g"
