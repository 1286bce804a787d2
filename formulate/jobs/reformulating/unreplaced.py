"""Which missing ingredients cannot be replaced, why, and what to buy instead."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

from formulate.errors import FormulateError, SourceLocation
from formulate.jobs.question.choices import choices_of, possible_with
from formulate.jobs.question.formulation import Formulation
from formulate.jobs.question.pantry import Pantry
from formulate.jobs.reformulating.asked_again import Again
from formulate.jobs.reformulating.circumstances import with_prices
from formulate.jobs.reformulating.stand_ins import StandIns
from formulate.jobs.solve import NoRecipe
from formulate.optimise.diagnose import ClashMember, is_possible, nearest_value
from formulate.optimise.problem import Over
from formulate.quantity.amounts import Money
from formulate.spec.bottle import Bottle

__all__ = ["Unreplaced", "unreplaced"]

SECONDS = 5.0
"""Time for trying what could be bought; what was not tried by then is not named."""


@dataclass(frozen=True)
class Unreplaced:
    """A missing ingredient that nothing makes up for.

    Attributes
    ----------
    missing : str
    is_gone : bool
        Else it is short.
    stand_ins : tuple of str
        What could take its place on the shelf, and does not suffice.
    buy : tuple of str
        What the library knows and the shelf has no price for: with any one of these a recipe exists, its
        price and the targets on cost left aside.
    tried : tuple of str
        All of those that were tried.
    enough_kg : float or None
        Of what is short: how much of it, for the batch, would do.
    """

    missing: str
    is_gone: bool
    stand_ins: tuple[str, ...]
    buy: tuple[str, ...]
    tried: tuple[str, ...]
    enough_kg: float | None = None


def unreplaced(
    why: NoRecipe, again: Again, found: Sequence[StandIns], pantry: Pantry
) -> tuple[Unreplaced, ...]:
    """Say which of the missing ones the clash is about, and look for what would make up for it.

    Parameters
    ----------
    why : NoRecipe
        Why the question without them has no answer.
    again : Again
    found : sequence of StandIns
    pantry : Pantry

    Returns
    -------
    tuple of Unreplaced
        None where the clash is there with all of them on the shelf.
    """
    end = time.monotonic() + SECONDS
    told = []
    for one in found:
        if not why.choices and not _takes_part(one.missing, why, again.bottle):
            continue
        buy, tried = _to_buy(one, again, found, pantry, end)
        stand_ins = (*one.listed, *one.offered)
        is_gone = one.missing in again.gone
        enough = None if is_gone else _enough_kg(one.missing, why.formulation)
        told.append(Unreplaced(one.missing, is_gone, stand_ins, buy, tried, enough))
    return tuple(told)


def _takes_part(missing: str, why: NoRecipe, bottle: Bottle) -> bool:
    """Say whether a limit on what is missing, or one handed on from it, is in the clash."""
    places = _places_of(missing, bottle)
    return any(_is_about(member, missing, places) for member in why.explanation.clash)


def _is_about(member: ClashMember, missing: str, places: set[SourceLocation | None]) -> bool:
    origin = member.limit.origin
    return (origin.name == missing and member.limit.firm) or (
        origin.location is not None and origin.location in places
    )


def _places_of(missing: str, bottle: Bottle) -> set[SourceLocation | None]:
    for index, use in enumerate(bottle.ingredients):
        if use.id == missing:
            keys = ("at_least", "exactly", "share_of_bitterness", "share_of_mass")
            return {bottle.places.value(("ingredients", index, missing, key)) for key in keys}
    return set()


def _to_buy(
    one: StandIns, again: Again, found: Sequence[StandIns], pantry: Pantry, end: float
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Try what the library knows, one thing at a time, each as if it cost nothing."""
    buy, tried = [], []
    for name in one.suggested:
        if time.monotonic() > end:
            break
        more = replace(one, offered=(*one.offered, name))
        free = with_prices(pantry, [(name, Money(0.0, pantry.currency, "kg", "free"))])
        try:
            formulation, _ = again.asked(free, [more if other is one else other for other in found])
        except FormulateError:  # it cannot be used at all: not known well enough, or not allowed here
            continue
        tried.append(name)
        limits = [limit for limit in formulation.problem.limits if limit.over is not Over.COST]
        problem = formulation.problem.asking(limits)
        choices = choices_of(formulation)
        if possible_with(problem, choices) if choices else is_possible(problem):
            buy.append(name)
    return tuple(buy), tuple(tried)


def _enough_kg(missing: str, formulation: Formulation) -> float | None:
    """Find how much of what is short would do; None where no amount does or the batch has no size yet."""
    problem = formulation.problem
    if problem.volume_l is None:
        return None
    for limit in problem.limits:
        if limit.origin.name == missing and limit.firm:
            value, _ = nearest_value(problem, limit)
            if value is None:
                return None
            member = ClashMember(limit, limit.upper * limit.display, value)
            choices = choices_of(formulation)
            kept = not choices or possible_with(member.moved_in(problem), choices)
            return value / 1000.0 if kept else None
    return None
