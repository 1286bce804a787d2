"""What trials taught, as a person reads it: the library's figure, the kitchen's own, and how sure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp, sqrt

import numpy as np

from formulate.errors import Note
from formulate.files.ingredient import Ingredient
from formulate.learn.kitchen import NORMAL, Kitchen, Unknown, factor_of
from formulate.optimise.least_squares import chance_of_misfit
from formulate.physics.components import ACIDS, SUGARS
from formulate.physics.kinetics import factor_unchecked
from formulate.quantity.document import HIDDEN, Result, shown
from formulate.quantity.words import listed

__all__ = ["TOLD", "Learned", "LearnedThing", "Misfitting", "learned_of"]

TOLD = 0.2
"""Share of a doubt that the trials must take away for a figure to be worth writing (our judgement)."""
OUT_OF_LINE = 3.3
"""A reading so many standard uncertainties off what all others say is named: one in a thousand by chance."""
UNFIT = 0.01
WORDS = {
    "keeps": "cake keeps",
    "strains": "straining takes",
    "speed": "63 % out in",
    "gives": "bitterness value",
    "sugar": "sugar",
    "acid": "acid",
    "spirit": "strength",
    "colour": "colouring matter",
    "glass": "reference glass",
}
UNITS = {
    "keeps": "kg/kg",
    "strains": "%",
    "speed": "h at 20 °C",
    "gives": "",
    "sugar": "% w/w",
    "acid": "% w/w",
    "spirit": "% vol",
    "colour": "g/kg",
    "glass": "",
}
GROUPED = {
    "keeps": "how much liquor {} each keep",
    "gives": "how bitter {} each are",
    "speed": "how fast {} each give",
    "sugar": "how sweet {} each are",
    "acid": "how sour {} each are",
    "colour": "how much colour {} each bring",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedThing:
    """One thing the kitchen does of its own.

    Attributes
    ----------
    what, ingredient, unit : str
    library, own : float
    low, high : float
        Between which it lies in 95 of 100.
    standard_uncertainty : float
    told : float
        Share of the doubt before that the trials took away.
    kept : bool
        Whether it is worth writing on the shelf.
    """

    what: str
    ingredient: str
    unit: str
    library: float
    own: float
    low: float
    high: float
    standard_uncertainty: float
    told: float
    kept: bool


@dataclass(frozen=True, slots=True)
class Misfitting:
    """A reading against what all others say.

    Attributes
    ----------
    residual : float
        In standard uncertainties of the reading.
    studentized : float
        In those of the difference to what the others say.
    """

    trial: str
    what: str
    residual: float
    studentized: float


@dataclass(frozen=True, kw_only=True)
class Learned(Result):
    """What trials taught.

    Attributes
    ----------
    trials : tuple of str
    things : tuple of LearnedThing
        In the order of the work.
    not_told_apart : tuple of str
        Sentences on what the trials know only together.
    residuals : tuple of Misfitting
    correlations : tuple of tuple of float
        Between `things`, in their order.
    chance_of_misfit : float
        How often trials that fit would lie so far off.
    outlier : Misfitting or None
    kitchen : Kitchen
    """

    status: str = field(default="learned", init=False)
    trials: tuple[str, ...]
    things: tuple[LearnedThing, ...] = field(metadata=shown("learned"))
    not_told_apart: tuple[str, ...]
    residuals: tuple[Misfitting, ...]
    correlations: tuple[tuple[float, ...], ...]
    chance_of_misfit: float
    outlier: Misfitting | None
    kitchen: Kitchen = field(metadata=HIDDEN)
    notes: tuple[Note, ...] = field(default=(), metadata=shown("warnings"))


def learned_of(kitchen: Kitchen) -> Learned:
    """Tell what was learned, what the trials cannot tell apart, and what does not fit."""
    named = {one.id: one for jar in kitchen.jars for one in jar.batch.ingredients}
    things = []
    order = []
    for index, unknown in enumerate(kitchen.unknowns):
        if unknown.kind == "glass":
            continue
        order.append(index)
        things.append(_thing(kitchen, index, unknown, named.get(unknown.ingredient)))
    misses = _misses(kitchen)
    worst = max(misses, key=lambda one: abs(one.studentized), default=None)
    outlier = worst if worst is not None and abs(worst.studentized) > OUT_OF_LINE else None
    chance = chance_of_misfit(kitchen.fit.misfit, len(misses)) if misses else 1.0
    correlations = kitchen.correlations[np.ix_(order, order)]
    return Learned(
        trials=tuple(jar.name for jar in kitchen.jars),
        things=tuple(things),
        not_told_apart=tuple(_together(kitchen)),
        residuals=tuple(misses),
        correlations=tuple(tuple(float(value) for value in row) for row in correlations),
        chance_of_misfit=chance,
        outlier=outlier,
        kitchen=kitchen,
        notes=tuple(_notes(chance, outlier)),
    )


def scaled_by(kitchen: Kitchen, index: int, ingredient: Ingredient | None) -> float:
    """Return the library's value of an unknown, in its unit."""
    unknown = kitchen.unknowns[index]
    if unknown.kind == "strains":
        return 100.0 * max(jar.batch.chain.steps[jar.position].loss_fraction for jar in kitchen.jars)
    assert ingredient is not None
    if unknown.kind == "keeps":
        return ingredient.retention_kg_per_kg
    if unknown.kind == "gives":
        return 0.0 if ingredient.bitterness is None else ingredient.bitterness.value
    if unknown.kind == "spirit":
        return ingredient.strength_pct_vol or 0.0
    if unknown.kind == "colour":
        return ingredient.attributes.get("anthocyanin", 0.0)
    if unknown.kind in ("sugar", "acid"):
        parts = SUGARS if unknown.kind == "sugar" else ACIDS
        return 100.0 * sum(ingredient.composition.get(name, 0.0) for name in parts)
    kinetics = next(
        one
        for jar in kitchen.jars
        for name, kinds in zip(jar.batch.chain.materials.ids, jar.batch.chain.materials.kinetics, strict=True)
        if name == unknown.ingredient
        for one in kinds
        if one is not None
    )
    quicker = float(factor_unchecked(np.array(20.0), kinetics.reference_c, kinetics.activation_kj_mol))
    return kinetics.time_constant_h / quicker


def _thing(kitchen: Kitchen, index: int, unknown: Unknown, ingredient: Ingredient | None) -> LearnedThing:
    library = scaled_by(kitchen, index, ingredient)
    value, doubt = float(kitchen.fit.values[index]), float(kitchen.standard[index])
    if unknown.kind == "strains":
        own = library + 100.0 * value
        low, high, standard = own - 100.0 * NORMAL * doubt, own + 100.0 * NORMAL * doubt, 100.0 * doubt
    elif unknown.kind == "keeps":
        own = library * float(factor_of(unknown, np.array(value)))
        low, high, standard = own - NORMAL * library * doubt, own + NORMAL * library * doubt, library * doubt
    else:
        own = library * exp(value)
        low, high, standard = own * exp(-NORMAL * doubt), own * exp(NORMAL * doubt), own * doubt
    told = float(kitchen.told[index])
    return LearnedThing(
        what=WORDS[unknown.kind],
        ingredient=unknown.ingredient,
        unit=UNITS[unknown.kind],
        library=library,
        own=own,
        low=low,
        high=high,
        standard_uncertainty=standard,
        told=told,
        kept=told >= TOLD,
    )


def _misses(kitchen: Kitchen) -> list[Misfitting]:
    fit = kitchen.fit
    leverage = np.einsum("np,pq,nq->n", fit.jacobian, fit.covariance, fit.jacobian)
    names = [(jar.name, one.what) for jar in kitchen.jars for one in jar.observed]
    return [
        Misfitting(trial, what, float(miss), float(miss / sqrt(max(1.0 - lever, 1e-9))))
        for (trial, what), miss, lever in zip(names, fit.residuals, leverage, strict=True)
    ]


def _together(kitchen: Kitchen) -> list[str]:
    told = []
    for group in kitchen.not_told_apart():
        members = [kitchen.unknowns[index] for index in group]
        kinds = {one.kind for one in members}
        names = [one.ingredient or WORDS[one.kind] for one in members]
        if len(kinds) == 1 and (words := GROUPED.get(members[0].kind)):
            told.append(words.format(listed(names)))
        else:
            told.append(listed([_named(one) for one in members]))
    return told


def _named(unknown: Unknown) -> str:
    return {
        "keeps": f"what {unknown.ingredient} keeps",
        "gives": f"how bitter {unknown.ingredient} is",
        "speed": f"how fast {unknown.ingredient} gives",
        "colour": f"how much colour {unknown.ingredient} brings",
        "glass": "how deep the reference glass is",
        "strains": "what straining takes",
    }.get(unknown.kind, f"the {WORDS[unknown.kind]} of {unknown.ingredient}")


def _notes(chance: float, outlier: Misfitting | None) -> Sequence[Note]:
    notes = []
    if outlier is not None:
        side = "more" if outlier.residual > 0.0 else "less"
        notes.append(
            Note(
                "out_of_line",
                f"{outlier.trial}: its {outlier.what} says {side} than all the rest allows. Check it, or "
                "leave that trial out.",
            )
        )
    elif chance < UNFIT:
        notes.append(
            Note(
                "do_not_fit",
                "The trials do not fit together as well as scales and tools should let them: something "
                "differed that is not in the files. The figures are less sure than they look.",
            )
        )
    return notes
