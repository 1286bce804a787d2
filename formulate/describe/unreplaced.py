"""Which missing ingredients cannot be replaced, why, and what to buy instead."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from formulate.bar.changed import with_prices
from formulate.bar.pantry import Pantry
from formulate.describe.no_recipe import NoRecipe
from formulate.errors import FormulateError, InfeasibleError, SourceLocation
from formulate.files.bottle import Bottle
from formulate.formulation.bottle import Formulation
from formulate.formulation.choices import choices_of, possible_with
from formulate.formulation.made_again import Remake
from formulate.formulation.solving import solve_formulation
from formulate.formulation.stand_ins import StandIns
from formulate.optimise.answer import Answer
from formulate.optimise.diagnose import ClashMember, nearest_value
from formulate.optimise.problem import Over
from formulate.quantity.amounts import Money
from formulate.quantity.document import HIDDEN, shown

__all__ = ["NoReplacement", "Unreplaced", "unreplaced"]

SECONDS, SECONDS_EACH = 5.0, 1.0
"""Time for trying what could be bought; what was not tried by then is not named."""


@dataclass(frozen=True)
class Unreplaced:
    """A missing ingredient that nothing makes up for.

    Attributes
    ----------
    is_gone : bool
        Else it is short.
    stand_ins : tuple of str
        What could take its place on the shelf, and does not suffice.
    buy : tuple of (str, float or None)
        What the library knows and the shelf has no price for: with any one of these there is a recipe, and
        where the file limits the cost it keeps that at this price per kg; a dearer one may do too.
    tried : tuple of str
        All of those that were tried.
    is_dearer : bool
        Whether it is there, and only costs more than before.
    enough_kg : float or None
        Of what is short: how much of it, for the batch, would do.
    """

    missing: str
    is_gone: bool = field(metadata=HIDDEN)
    stand_ins: tuple[str, ...]
    buy: tuple[tuple[str, float | None], ...] = field(
        metadata=shown(rows=("ingredient", "enough_up_to_per_kg"))
    )
    tried: tuple[str, ...]
    is_dearer: bool = False
    enough_kg: float | None = None


def unreplaced(
    why: NoRecipe, remake: Remake, stand_ins: Sequence[StandIns], pantry: Pantry
) -> tuple[Unreplaced, ...]:
    """Say which of the missing ones the clash is about, and look for what would make up for it.

    Parameters
    ----------
    why : NoRecipe
        Why the question without them has no answer.

    Returns
    -------
    tuple of Unreplaced
        None where the clash is there with all of them on the shelf.
    """
    end = time.monotonic() + SECONDS
    missing = []
    for stand_in in stand_ins:
        is_dearer = stand_in.missing in remake.dearer
        if not why.choices and not (
            _costs_too_much(why) if is_dearer else _takes_part(stand_in.missing, why, remake.bottle)
        ):
            continue
        buy, tried = _to_buy(stand_in, remake, stand_ins, pantry, end)
        on_the_shelf = (*stand_in.listed, *stand_in.offered)
        is_gone = stand_in.missing in remake.gone
        enough = None if is_gone or is_dearer else _enough_kg(stand_in.missing, why.formulation)
        missing.append(Unreplaced(stand_in.missing, is_gone, on_the_shelf, buy, tried, is_dearer, enough))
    return tuple(missing)


def _takes_part(missing: str, why: NoRecipe, bottle: Bottle) -> bool:
    """Say whether a limit on what is missing, or one handed on from it, is in the clash."""
    places = _places_of(missing, bottle)
    return any(_is_about(member, missing, places) for member in why.explanation.clash)


def _costs_too_much(why: NoRecipe) -> bool:
    """Say whether a limit on the cost is in the clash."""
    return any(member.limit.over is Over.COST for member in why.explanation.clash)


def _is_about(member: ClashMember, missing: str, places: set[SourceLocation | None]) -> bool:
    origin = member.limit.origin
    return (origin.name == missing and member.limit.firm) or (
        origin.location is not None and origin.location in places
    )


def _places_of(missing: str, bottle: Bottle) -> set[SourceLocation | None]:
    for index, use in enumerate(bottle.ingredients):
        if use.id == missing:
            keys = ("at_least", "at_most", "exactly", "share_of_bitterness", "share_of_mass")
            return {bottle.places.value(("ingredients", index, missing, key)) for key in keys}
    return set()


def _to_buy(
    stand_in: StandIns, remake: Remake, stand_ins: Sequence[StandIns], pantry: Pantry, end: float
) -> tuple[tuple[tuple[str, float | None], ...], tuple[str, ...]]:
    """Try what the library knows, one thing at a time, each as if it cost nothing."""
    buy: list[tuple[str, float | None]] = []
    tried = []
    for name in stand_in.suggested:
        if time.monotonic() > end:
            break
        more = replace(stand_in, offered=(*stand_in.offered, name))
        free = with_prices(pantry, [(name, Money(0.0, pantry.currency, "kg", "free"))])
        try:
            formulation, _ = remake.formulated(
                free, [more if other is stand_in else other for other in stand_ins]
            )
            answer = solve_formulation(formulation, seconds=SECONDS_EACH)
        except InfeasibleError:
            tried.append(name)
            continue
        except FormulateError:  # not known well enough, not allowed here, or not settled
            continue
        tried.append(name)
        buy.append((name, _most_per_kg(name, answer)))
    return tuple(buy), tuple(tried)


def _most_per_kg(name: str, answer: Answer) -> float | None:
    """Return what a kilogram may cost until the recipe found reaches the limit on the cost of a litre."""
    most = min((limit.upper for limit in answer.problem.limits if limit.over is Over.COST), default=np.inf)
    used = answer.masses_kg.sum(axis=0)[answer.problem.chain.materials.ids.index(name)] / answer.volume_l
    return float((most - answer.cost_per_l) / used) if np.isfinite(most) and used > 0.0 else None


def _enough_kg(missing: str, formulation: Formulation) -> float | None:
    """Find how much of what is short would do; None where no amount does or the batch has no size yet."""
    problem = formulation.problem
    if problem.volume_l is None:
        return None
    for limit in problem.limits:
        if limit.origin.name == missing and limit.firm:
            value, _ = nearest_value(problem, limit)
            member = ClashMember(limit, limit.upper * limit.display, value)
            if value is None or not member.has_figure:
                return None
            choices = choices_of(formulation)
            is_enough = not choices or possible_with(member.moved_in(problem), choices)
            return value / 1000.0 if is_enough else None
    return None


@dataclass(frozen=True)
class NoReplacement(NoRecipe):
    """Why a recipe cannot be made again; carried by `InfeasibleError.explanation`.

    Attributes
    ----------
    changes : tuple of str
        What changed.
    suggested : tuple of (str, tuple of str)
        Per missing ingredient, what the library knows that the shelf has no price for.
    unreplaced : tuple of Unreplaced
        Which of them cannot be replaced, why, and what to buy.
    """

    changes: tuple[str, ...] = ()
    suggested: tuple[tuple[str, tuple[str, ...]], ...] = field(
        default=(), metadata=shown(rows=("missing", "library"))
    )
    unreplaced: tuple[Unreplaced, ...] = field(default=(), metadata=shown("cannot_replace"))
