"""Usual doses as limits: what a bottle lists is in it, from noticeable to the most a bar would serve.

A bottle's own limits replace the range, each side its own. Of what may be left out only the upper end is a
limit; that it is left out or taken from its low up is a choice (`choices_of`). A low that the law forbids
gives way to the law.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from formulate.bar.house_made import tastes_of
from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.blend.materials import LIQUOR
from formulate.blend.pectin import brings_pectin
from formulate.errors import Note, SourceLocation
from formulate.files.bottle import Bottle, IngredientUse
from formulate.files.ingredient import Ingredient
from formulate.files.limit_rows import caps
from formulate.files.search import is_bitter
from formulate.files.steps import ENZYME
from formulate.optimise.problem import BlendProblem, Limit, Origin, Over
from formulate.quantity import Amount, AmountBasis
from formulate.quantity.words import listed

__all__ = ["Taken", "dose_limits", "doses_of", "dosing_notes", "enzyme_limits", "within_law"]

FRUIT = "fruit"
SEVERAL_FRUITS = 1.0 / 3.0
"""Several fruits come together to at least this part of a usual dose (from memory)."""

HALF = 0.5
"""What may be no more than less than is noticed is in with at least this part of it."""

LEAST_KG_PER_L = 0.9
"""No drink weighs less: what a limit per kilogram allows a litre at the least."""

ROUNDING = 1e-5
"""What a row of the law says less of a substance is none."""

MOST_ENZYME = 1.5
"""So many times the enzyme asked for do no harm: room for what a balance shows."""

PER_LITRE = (AmountBasis.MASS_PER_LITRE, AmountBasis.VOLUME_PER_LITRE)


@dataclass(frozen=True, slots=True)
class Taken:
    """How much a bottle takes of something that has a dose, or may be left out.

    Attributes
    ----------
    index
        Position of the ingredient.
    low_kg_l, high_kg_l
        Per litre bottled; 0 and infinite where nothing is asked, or another limit of the bottle says it.
    optional
        Whether it may be left out; then it is left out or taken from its low up.
    beyond
        The bottle's own limit where it lies outside the usual range, as typed; else empty.
    by_law
        What keeps it below its low, in words; empty where the law allows that.
    """

    index: int
    low_kg_l: float
    high_kg_l: float
    optional: bool = False
    beyond: str = ""
    by_law: str = ""


def doses_of(
    bottle: Bottle, ingredients: Sequence[Ingredient], pantry: Pantry, volume_l: float | None
) -> tuple[Taken, ...]:
    """Say how much a bottle takes of what has a dose and of what may be left out.

    Parameters
    ----------
    ingredients
        One for each of the bottle's `uses`.
    volume_l
        Size of the batch where it is known.

    Returns
    -------
    tuple of Taken
        In the order of the bottle.
    """
    choose = bottle.choose
    with_least = frozenset(choose.least_if_used) if choose else frozenset()
    chosen = with_least | {name for group in (choose.one_of if choose else ()) for name in group}
    everything = list(zip(bottle.uses, ingredients, strict=True))
    dosed = {
        index: ingredient.dose
        for index, (_, ingredient) in enumerate(everything)
        if ingredient.dose is not None and bottle.doses == "usual"
    }
    sure = {
        index for index in dosed if not (everything[index][0].optional or everything[index][0].id in chosen)
    }
    fruits = {index for index in dosed if everything[index][1].family == FRUIT}
    found = []
    for index, (use, ingredient) in enumerate(everything):
        dose = dosed.get(index)
        low, high = 0.0, np.inf
        if dose is not None:
            beside = bool((sure & fruits if index in fruits else sure) - {index})
            low = dose.least_g_l(bottle.kind, beside=beside) / 1000.0
            if sure == {index} and not _measured_otherwise(bottle, ingredient):
                low = dose.range_for(bottle.kind).usual_g_l / 1000.0
            high = dose.range_for(bottle.kind).high_g_l / 1000.0
        taken = Taken(index, low, high, index not in sure if dose is not None else use.optional)
        taken = _with_own_limits(taken, use, ingredient, pantry, volume_l)
        if use.id in with_least:
            taken = replace(taken, low_kg_l=0.0)
        if dose is not None or (taken.optional and taken.low_kg_l > 0.0):
            found.append(taken)
    return tuple(found)


def _measured_otherwise(bottle: Bottle, ingredient: Ingredient) -> bool:
    """Say whether more than its dose says how much of a thing alone in a drink there is.

    A cordial named after a flower tastes of it, so that what is alone is in with its usual dose at the
    least. Fruit and the like have their range from drinks led by them; how much of a bitter plant there is
    the bitterness says.
    """
    led = ingredient.dose is not None and ingredient.dose.accent_g_l is not None
    return led or (bottle.targets.bitterness is not None and is_bitter(ingredient))


def _with_own_limits(
    taken: Taken, use: IngredientUse, ingredient: Ingredient, pantry: Pantry, volume_l: float | None
) -> Taken:
    """Put a bottle's own limits in the place of the usual ones, each side its own."""
    usual, beyond = taken, []
    for amount, is_least, is_most in (
        (use.at_least, True, False),
        (use.at_most, False, True),
        (use.exactly, True, True),
    ):
        if amount is None:
            continue
        own = _kg_per_l(amount, ingredient, pantry, volume_l)
        if is_least:
            taken = replace(taken, low_kg_l=own or 0.0 if use.optional else 0.0)
            if own is None or own > usual.high_kg_l:
                taken = replace(taken, high_kg_l=np.inf)
        if is_most:
            taken = replace(taken, high_kg_l=np.inf)
            if use.exactly is None and own is not None and own < taken.low_kg_l:
                taken = replace(taken, low_kg_l=HALF * own)
        outside = own is not None and (own > usual.high_kg_l or (is_most and 0.0 < own < usual.low_kg_l))
        if outside:
            beyond.append(amount.text)
    return replace(taken, beyond=" and ".join(beyond))


def _kg_per_l(amount: Amount, ingredient: Ingredient, pantry: Pantry, volume_l: float | None) -> float | None:
    """Return an amount per litre bottled; None where that is not known before it is solved."""
    if amount.basis is AmountBasis.SHARE_OF_MASS:
        return None
    size = 1.0 if amount.basis in PER_LITRE else volume_l
    try:
        return None if size is None else pantry.mass_kg(amount, ingredient) / size
    except UnknownMassError:  # told with its place by the limit itself
        return None


def within_law(taken: Sequence[Taken], problem: BlendProblem) -> tuple[Taken, ...]:
    """Lower what is surely taken where the law allows less than the lows come to together.

    Parameters
    ----------
    problem
        With the limits of the law.
    """
    materials = problem.chain.materials
    lows = np.zeros(len(materials.ids))
    for one in taken:
        lows[one.index] = 0.0 if one.optional else one.low_kg_l
    least, why = lows.copy(), [""] * len(lows)
    for cap in _sure_rules(problem, frozenset(np.flatnonzero(lows).tolist())):
        if cap.over is not Over.MASSES or not np.isfinite(cap.upper):
            continue
        brings, allowed = np.zeros(len(lows)), cap.upper
        brings[cap.indices] = cap.weights
        if cap.upper <= 0.0:  # a limit per kilogram, its row less the liquor itself
            brings, allowed = brings + materials.content[:, :LIQUOR].sum(axis=1), LEAST_KG_PER_L
        brings = np.where((lows > 0.0) & (brings > ROUNDING), brings, 0.0)
        total = float(brings @ least)
        if total > allowed:
            lowered = (brings > 0.0) & (lows > 0.0)
            least[lowered] *= max(allowed, 0.0) / total
            for index in np.flatnonzero(lowered):
                why[index] = caps()[cap.rule].substance
    return tuple(
        one
        if one.optional or not why[one.index]
        else replace(one, low_kg_l=float(least[one.index]), by_law=why[one.index])
        for one in taken
    )


def _sure_rules(problem: BlendProblem, used: frozenset[int]) -> list[Limit]:
    """List the limits of the law that hold whatever the recipe, as these ingredients are in it."""
    rules = [limit for limit in problem.limits if limit.rule]
    for disjunction in problem.disjunctions:
        *ways, rule = disjunction.cases
        if all(case.without & used for case in ways):
            rules += rule.limits
    return rules


def dose_limits(
    bottle: Bottle, ingredients: Sequence[Ingredient], taken: Sequence[Taken], pantry: Pantry
) -> list[Limit]:
    """Write doses as rows for the solver; of what may be left out only the most."""
    limits = []
    for one in taken:
        lower = -np.inf if one.optional or one.low_kg_l <= 0.0 else one.low_kg_l
        if not (np.isfinite(lower) or np.isfinite(one.high_kg_l)):
            continue
        name = ingredients[one.index].id
        limits.append(
            Limit(
                over=Over.MASSES,
                indices=np.array([one.index], dtype=np.int32),
                weights=np.ones(1),
                lower=lower,
                upper=one.high_kg_l,
                origin=Origin(
                    f"{name} dose", _said(one, bottle.kind), _place(bottle, one.index), dose_of=(name,)
                ),
                unit="g per L bottled",
                display=1000.0,
            )
        )
    limits += _root_and_tincture(bottle, ingredients, taken, pantry)
    return [*limits, *_several_fruits(bottle, ingredients, taken)]


def _said(taken: Taken, kind: str | None) -> str:
    of = "in a concentrate" if kind else "by the glass"
    low = 1000.0 * taken.low_kg_l
    if not np.isfinite(taken.high_kg_l):
        return f"usual from {low:g} g/L {of}"
    return f"usual {low:g} to {1000.0 * taken.high_kg_l:g} g/L {of}"


def _place(bottle: Bottle, index: int) -> SourceLocation | None:
    return bottle.places.value(bottle.path_of(index))


def _root_and_tincture(
    bottle: Bottle, ingredients: Sequence[Ingredient], taken: Sequence[Taken], pantry: Pantry
) -> list[Limit]:
    """Keep a plant and what the house draws from it to one dose together."""
    by_taste: dict[str, list[Taken]] = {}
    for one in taken:
        if np.isfinite(one.high_kg_l):  # an own limit has taken the place of the others
            by_taste.setdefault(tastes_of(pantry, ingredients[one.index].id), []).append(one)
    limits = []
    for alike in by_taste.values():
        if len(alike) < 2:
            continue
        names = tuple(ingredients[one.index].id for one in alike)
        limits.append(
            Limit(
                over=Over.MASSES,
                indices=np.array([one.index for one in alike], dtype=np.int32),
                weights=np.array([1.0 / one.high_kg_l for one in alike]),
                lower=-np.inf,
                upper=1.0,
                origin=Origin(
                    f"{' + '.join(names)} together",
                    "no more than one high dose in all",
                    _place(bottle, alike[0].index),
                    dose_of=names,
                ),
                unit="high doses",
            )
        )
    return limits


def _several_fruits(bottle: Bottle, ingredients: Sequence[Ingredient], taken: Sequence[Taken]) -> list[Limit]:
    """Ask of fruits, and of what may lead or be an accent as they may, that together they are tasted.

    Nothing is asked where the bottle's own limits say how much there is.
    """
    fruits = [
        (one, dose.usual_g_l / 1000.0)
        for one in taken
        if (dose := ingredients[one.index].dose) is not None
        and (ingredients[one.index].family == FRUIT or dose.accent_g_l is not None)
    ]
    sure = [one for one, _ in fruits if not one.optional]
    if bottle.kind is not None or bottle.doses == "any" or len(sure) < 2:
        return []
    uses = [bottle.uses[one.index] for one in sure]
    if all(use.at_most is not None or use.exactly is not None for use in uses):
        return []  # how much fruit there is has been said
    names = tuple(ingredients[one.index].id for one in sure)
    return [
        Limit(
            over=Over.MASSES,
            indices=np.array([one.index for one, _ in fruits], dtype=np.int32),
            weights=np.array([1.0 / usual for _, usual in fruits]),
            lower=SEVERAL_FRUITS,
            upper=np.inf,
            origin=Origin(
                f"{' + '.join(names)} together",
                "a third of a usual dose in all",
                _place(bottle, sure[0].index),
                dose_of=names,
            ),
            unit="usual doses",
        )
    ]


def enzyme_limits(bottle: Bottle, ingredients: Sequence[Ingredient]) -> list[Limit]:
    """Dose the enzyme of a step by the fruit and pith that go into it, as bought."""
    number = {ingredient.id: index for index, ingredient in enumerate(ingredients)}
    if ENZYME not in number:
        return []
    per_kg = np.zeros(len(ingredients))
    for step in bottle.steps:
        for index, (use, ingredient) in enumerate(zip(bottle.uses, ingredients, strict=True)):
            if step.enzyme is not None and use.step in (None, step.name) and brings_pectin(ingredient):
                per_kg[index] = max(per_kg[index], step.enzyme.dose_g_per_kg / 1000.0)
    if not per_kg.any():
        return []
    place = bottle.path_of(number[ENZYME])
    origin = Origin("enzyme dose", bottle.places.typed(place), bottle.places.value(place), dose_of=(ENZYME,))
    indices = np.append(np.flatnonzero(per_kg), number[ENZYME]).astype(np.int32)

    def over(times: float, lower: float, upper: float) -> Limit:
        weights = np.append(-times * per_kg[indices[:-1]], 1.0)
        return Limit(Over.MASSES, indices, weights, lower, upper, origin, firm=True)

    return [over(1.0, 0.0, np.inf), over(MOST_ENZYME, -np.inf, 0.0)]


def dosing_notes(bottle: Bottle, ingredients: Sequence[Ingredient], taken: Sequence[Taken]) -> list[Note]:
    """Say where a bottle's own limits go beyond the usual, and where the law keeps a dose below it."""
    notes = []
    unknown = [one.id for one in ingredients if one.dose is None and one.retention_kg_per_kg > 0.0]
    if unknown and bottle.doses == "usual":
        text = f"No usual dose is known of {listed(unknown)}: nothing keeps it to one."
        text += " Give it a `dose:` on your shelf."
        notes.append(Note("dose_unknown", text))
    for one in taken:
        ingredient = ingredients[one.index]
        if one.beyond and ingredient.dose is not None:
            usual = ingredient.dose.range_for(bottle.kind)
            outside = f"{one.beyond} is outside the usual {usual.low_g_l:g} to {usual.high_g_l:g} g/L"
            notes.append(Note("own_dose", f"{ingredient.id}: {outside}; {ingredient.dose.in_print}."))
        if one.by_law:
            text = f"{ingredient.id}: the law on {one.by_law} allows less than is noticed, and the law wins."
            notes.append(Note("law_before_dose", text))
    return notes
