"""When usual doses leave no recipe: what a bar would change, each tried by solving before it is said."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.bar.permitted import refusal
from formulate.errors import SpecError
from formulate.files.aims import Word, parse_bitterness
from formulate.files.bottle import Bottle, IngredientUse
from formulate.files.ingredient import Ingredient
from formulate.files.measures import BITTERNESS
from formulate.formulation.bitterness import WORDS
from formulate.formulation.bottle import Formulation
from formulate.formulation.choices import has_recipe
from formulate.optimise.diagnose import ClashMember, Explanation, nearest_value
from formulate.quantity.words import listed

__all__ = ["DoseChanges", "dose_changes"]

FAR_BEYOND = 2.0
"""More than so many times the most usual is no advice."""
MOST_TRIED, MOST_NAMED = 5, 2
"""Other plants from the shelf, or moves, that are tried, and plants named."""

Again = Callable[[Bottle], Formulation]


@dataclass(frozen=True, slots=True)
class DoseChanges:
    """Why usual doses leave no recipe, and what would do instead.

    Attributes
    ----------
    changes : tuple of str
        Each alone gives a recipe; the last lifts every dose.
    """

    why: str
    changes: tuple[str, ...]


def dose_changes(
    formulation: Formulation, explanation: Explanation, again: Again | None = None
) -> DoseChanges | None:
    """Say whether usual doses stand in the way, and what to change.

    Parameters
    ----------
    formulation : Formulation
        Without a recipe.
    explanation : Explanation
        Its clash; every move it tells of was tried.
    again : callable, optional
        Asks the question of another bottle; without it no plant is added and no target changed.

    Returns
    -------
    DoseChanges or None
        None where there is no recipe whatever the doses, or that was not settled.
    """
    dosed = [formulation.ingredients[one.index].id for one in formulation.doses]
    free = formulation.without_doses(dosed)
    if again is not None:
        free = again(formulation.bottle.model_copy(update={"doses": "any"}))
    if not dosed or has_recipe(free) is not True:
        return None
    explanation = _settled(formulation, explanation)
    changes = [*_moved(formulation, explanation)]
    if again is not None:
        changes += _left_out(formulation, explanation, again)
        if _too_mild(formulation, explanation) is not None:
            changes += _longer(formulation, again)
            changes += _another_plant(formulation, again)
        changes += _another_word(formulation, again)
    return DoseChanges(_why(formulation, explanation), (*changes, "`doses: any`, which lifts every dose"))


def _settled(formulation: Formulation, explanation: Explanation) -> Explanation:
    """Look for the moves that the explanation had no time for: of doses, and of the bitterness asked."""
    left = MOST_TRIED
    members = list(explanation.clash)
    # The bitterness first: it is what the answer begins with.
    for index in sorted(range(len(members)), key=lambda index: bool(members[index].limit.origin.dose_of)):
        member = members[index]
        ours = member.limit.origin.dose_of or member.limit.origin.name == BITTERNESS
        if ours and not member.settled and left:
            left -= 1
            reachable, settled = nearest_value(formulation.problem, member.limit)
            members[index] = replace(member, reachable=reachable, settled=settled)
    return replace(explanation, clash=tuple(members))


def _too_mild(formulation: Formulation, explanation: Explanation) -> ClashMember | None:
    """Return the least bitterness asked, where it takes part in the clash."""
    if formulation.bitterness is None:
        return None
    return next(
        (one for one in explanation.clash if one.limit.origin.name == BITTERNESS and one.is_lower), None
    )


def _why(formulation: Formulation, explanation: Explanation) -> str:
    """Say it by how bitter the plants come out, or by which doses stand in the way."""
    mild = _too_mild(formulation, explanation)
    if mild is not None and mild.has_figure and formulation.bitterness is not None:
        return (
            f"Within usual doses these plants come to a bitterness of {mild.reachable:.0f}; "
            f"{formulation.bitterness.text} asks {mild.bound:.0f}."
        )
    names = [one.limit.origin for one in explanation.clash if one.limit.origin.dose_of]
    said = [f"{' and '.join(origin.dose_of)} ({origin.text})" for origin in names]
    if not said:
        return "No recipe keeps everything listed within its usual dose."
    return f"Usual doses stand in the way: {listed(tuple(dict.fromkeys(said)))}."


def _moved(formulation: Formulation, explanation: Explanation) -> Iterator[str]:
    """More or less of one plant, as far as that is sensible, or a target moved."""
    by_id = {one.id: one for one in formulation.ingredients}
    is_word = isinstance(formulation.bottle.targets.bitterness, Word)
    for member in explanation.clash:
        origin, unit = member.limit.origin, member.limit.unit
        if not member.has_figure or len(origin.dose_of) > 1:
            continue
        moved = _outward(member.reachable or 0.0, down=member.is_lower)
        if not origin.dose_of:
            if member.limit.is_target and not (is_word and origin.name == BITTERNESS):
                way = "down" if member.is_lower else "up"
                yield f"{origin.name} {way} to {moved:g} {unit}".rstrip()
            continue
        name = origin.dose_of[0]
        dose = by_id[name].dose
        if dose is None:
            continue
        usual = dose.range_for(formulation.bottle.kind)
        if member.is_lower:
            if moved > 0.0:
                yield f"less {name}, {moved:g} g/L (noticed from {member.bound:.3g})"
        elif moved <= max(FAR_BEYOND * usual.high_g_l, dose.printed_g_l or 0.0):
            yield f"more {name}, to {moved:g} g/L (usual to {usual.high_g_l:.3g}; {dose.in_print})"


def _outward(value: float, *, down: bool) -> float:
    """Round to three digits, never to where the change would not be enough."""
    if value <= 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return (math.floor if down else math.ceil)(value / step) * step


def _left_out(formulation: Formulation, explanation: Explanation, again: Again) -> Iterator[str]:
    """One plant fewer."""
    bottle = formulation.bottle
    for member in explanation.clash:
        names = member.limit.origin.dose_of
        if len(names) != 1 or not member.is_lower:
            continue
        uses = [
            use.model_copy(update={"optional": True}) if use.id in names else use
            for use in bottle.ingredients
        ]
        if has_recipe(again(bottle.model_copy(update={"ingredients": tuple(uses)}))):
            yield f"{names[0]} marked `optional: true`, so that it may be left out"


def _longer(formulation: Formulation, again: Again) -> list[str]:
    """Steep to the end what is timed."""
    bottle = formulation.bottle
    timed = [step for step in bottle.steps if step.time_h is not None]
    if not timed:
        return []
    whole = {"time_h": None, "temperature_c": None}
    steps = tuple(step.model_copy(update=whole) if step in timed else step for step in bottle.steps)
    if not has_recipe(again(bottle.model_copy(update={"steps": steps}))):
        return []
    return ["a longer steep, to the end (`infuse` compares how long and how warm)"]


def _another_plant(formulation: Formulation, again: Again) -> list[str]:
    """One more bitter plant that the shelf has a price for, within its own dose."""
    bottle, found = formulation.bottle, []
    strain = [step.name for step in bottle.resolved_steps() if step.strain is not False]
    step = strain[0] if bottle.steps and strain else None
    for one in _bitter_on_the_shelf(formulation)[:MOST_TRIED]:
        use = IngredientUse(id=one.id, step=step, optional=True)
        try:
            other = again(bottle.model_copy(update={"may_use": (*bottle.may_use, use)}))
        except SpecError:
            continue
        if has_recipe(other):
            found.append(one.id)
        if len(found) == MOST_NAMED:
            break
    if not found:
        return []
    return [f"another bitter plant from your shelf: {' or '.join(found)}"]


def _bitter_on_the_shelf(formulation: Formulation) -> list[Ingredient]:
    """List what is bitter, has a dose and a price, and is not in the bottle; what brings most comes first."""
    pantry = formulation.pantry
    known = {one.id for one in formulation.ingredients}
    shelf = pantry.shelf
    names = [] if shelf is None else [*shelf.offers, *shelf.house_made]
    names += [part for whole in (shelf.whole.values() if shelf else ()) for part in whole.parts]
    found = []
    for name in dict.fromkeys(names):
        if name in known:
            continue
        one = _priced(name, pantry)
        if one is None or one.bitterness is None or one.dose is None or refusal(one, formulation.rules):
            continue
        high = one.dose.range_for(formulation.bottle.kind).high_g_l
        found.append((one.bitterness.value * one.bitterness.extracted * high, one))
    return [one for _, one in sorted(found, key=lambda pair: -pair[0])]


def _priced(name: str, pantry: Pantry) -> Ingredient | None:
    try:
        one = pantry.ingredient(name)
        return one if pantry.price_per_kg(one) is not None else None
    except (SpecError, UnknownMassError):  # only advice: `check` on the shelf tells what is wrong with it
        return None


def _another_word(formulation: Formulation, again: Again) -> list[str]:
    """Ask for the nearest word that can be had."""
    bottle, aim = formulation.bottle, formulation.bottle.targets.bitterness
    if not isinstance(aim, Word):
        return []
    words = list(WORDS)
    here = words.index(aim.word)
    for word in sorted(words, key=lambda one: abs(words.index(one) - here))[1:]:
        targets = bottle.targets.model_copy(update={BITTERNESS: parse_bitterness(word)})
        if has_recipe(again(bottle.model_copy(update={"targets": targets}))):
            return [f"bitterness {word} instead of {aim.word}"]
    return []
