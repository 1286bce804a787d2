"""Whose law counts for a file, and what may not be used by it at all."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np

from formulate.bar.pantry import Pantry
from formulate.bar.restricted import counted_in_spirit, prohibition, sold_with_at_most, uncounted
from formulate.errors import SpecError, SpecProblem
from formulate.files.bottle import Bottle, Lifted, load_bottle
from formulate.files.disk import is_there
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import Ingredient
from formulate.files.limit_rows import CapRow, caps
from formulate.files.measures import PCT_VOL_PER_KG_L
from formulate.files.recipe import Recipe
from formulate.files.stock import FAMILY
from formulate.optimise.problem import Limit, Over
from formulate.physics.components import INDEX
from formulate.quantity.words import listed

__all__ = ["SERVE_L", "Rules", "refusal", "rules_of", "rules_of_recipe", "strength_asked"]

SERVE_L = 0.0444
"""What one guest gets where the bottle file does not say: 1.5 US fl oz, the largest usual pour of a liqueur
(common practice)."""
LEAST_SERVE_L = 0.015
"""The least that counts as a serve for a limit per serve: a third of the usual pour (our own choice). A file
that calls a drop a serve would make the limit mean nothing, since nobody is kept from a second one."""


@dataclass(frozen=True)
class Rules:
    """Which limits count for a drink.

    Attributes
    ----------
    jurisdiction : str or None
        None counts those of all, so the strictest applies.
    serve_l : float
        What one guest gets.
    serve_given : bool
        Whether the file says it.
    lifted : tuple of Lifted
        Limits the file does not keep.
    """

    jurisdiction: str | None = None
    serve_l: float = SERVE_L
    serve_given: bool = False
    lifted: tuple[Lifted, ...] = ()

    @property
    def limited_serve_l(self) -> float:
        """What a limit per serve is held for, litres: the serve, but at least `LEAST_SERVE_L`."""
        return max(self.serve_l, LEAST_SERVE_L)

    @property
    def kept(self) -> tuple[CapRow, ...]:
        """Limits that must hold, in the order of the standards."""
        lifted = {lift.limit for lift in self.lifted}
        return tuple(row for row in self.counting if row.id not in lifted)

    @property
    def counting(self) -> tuple[CapRow, ...]:
        """Limits of this jurisdiction, lifted or not."""
        return caps().holding_in(self.jurisdiction)


def rules_of(bottle: Bottle | None, pantry: Pantry) -> Rules:
    """Gather the rules for a bottle: its own word first, then the shelf's, else the strictest.

    Raises
    ------
    SpecError
        If the file lifts a limit that there is not, or that cannot be lifted, or from a day still to come.
    """
    shelf = None if pantry.shelf is None else pantry.shelf.jurisdiction
    if bottle is None:
        return Rules(shelf)
    lifted = enumerate(bottle.lifted)
    problems = [problem for index, lift in lifted if (problem := _bad(bottle, index, lift, pantry.day))]
    if problems:
        raise SpecError(problems)
    return Rules(
        bottle.jurisdiction or shelf,
        bottle.serve_l or SERVE_L,
        bottle.serve_l is not None,
        bottle.lifted,
    )


def rules_of_recipe(recipe: Recipe, pantry: Pantry) -> Rules:
    """Gather the rules for a recipe: those of the bottle file it names, else the shelf's.

    A bottle file that cannot be read lifts nothing and names no jurisdiction; whoever needs its
    targets tells what is wrong with it.
    """
    bottle = None
    if recipe.bottle_path is not None and is_there(recipe.bottle_path):
        try:
            bottle = load_bottle(recipe.bottle_path)
            return rules_of(bottle, pantry)
        except SpecError:
            pass
    return rules_of(None, pantry)


def _bad(bottle: Bottle, index: int, lift: Lifted, today: date) -> SpecProblem | None:
    known = caps()
    if lift.limit not in known:
        liftable = [row.id for row in known.rows if row.lift != "never"]
        message = f"no limit called '{lift.limit}'. {did_you_mean(lift.limit, liftable)}"
    elif known[lift.limit].lift == "never":
        message = (
            f"{lift.limit} cannot be lifted: {known[lift.limit].substance} is toxic. Take the line out, and "
            "use less of what brings it, or put a measured content on the shelf."
        )
    elif date.fromisoformat(lift.date) > today:
        message = f"is still to come: today is {today.isoformat()}. Check the date."
        return bottle.places.problem(("lifted", index, "date"), message)
    else:
        return None
    return bottle.places.problem(("lifted", index, "limit"), message)


def refusal(ingredient: Ingredient, rules: Rules) -> str:
    """Say why an ingredient may not be used: prohibited, or of unknown content; empty where it may."""
    row = prohibition(ingredient, rules.jurisdiction)
    if row is None:
        return _not_counted(ingredient, counted_in_spirit(rules.kept))
    where = ", ".join(row.jurisdiction)
    text = f"{ingredient.id} may not be used. {row.says} [{where}: {row.provenance}] Take it out"
    if rules.jurisdiction is None and "any" not in row.jurisdiction:
        return f"{text}, or say whose law counts: with no `jurisdiction:` the strictest applies."
    return f"{text}."


def _not_counted(ingredient: Ingredient, counts: Collection[str]) -> str:
    """Say what nobody gave a figure for, and the way out; empty where every figure is there."""
    unknown = uncounted(ingredient, counts)
    if not unknown:
        return ""
    text = f"{ingredient.id} may not be used as it stands: nobody says how much {listed(unknown)} "
    if ingredient.family == FAMILY:
        return (
            f"{text}something in its recipe holds, which the law limits. `formulate predict` with that "
            "recipe names it and says what to do."
        )
    text += "it holds, which the law limits. "
    if most := sold_with_at_most(ingredient, counts):
        figures = ", ".join(f"{name}: {content:g} mg/g" for name, content in most.items())
        text += (
            "If it is bought as a drink, count the most it may be sold with: put `restricted: "
            f"{{{figures}}}, sources: [{{figures: [restricted], source: lawful as sold, confidence: common "
            "practice}]` into its entry on the shelf. If not, put"
        )
    else:
        text += "Put"
    return (
        f"{text} its recipe under `house_made:` on the shelf, or `based_on:` the plant of the library, "
        "or a measured figure under `restricted:`; else take it out."
    )


def strength_asked(limits: Iterable[Limit]) -> tuple[float, float]:
    """Return the least and the most strength that limits leave, % vol.

    Parameters
    ----------
    limits : iterable of Limit
        Those that are not on the strength alone, or may be missed, are passed over.
    """
    low, high = 0.0, np.inf
    for limit in limits:
        alone = limit.over is Over.BOTTLE and limit.indices.tolist() == [INDEX["ethanol"]]
        if not alone or limit.soft or limit.weights[0] <= 0.0:
            continue
        pct_vol = PCT_VOL_PER_KG_L / float(limit.weights[0])
        low, high = max(low, limit.lower * pct_vol), min(high, limit.upper * pct_vol)
    return low, high
