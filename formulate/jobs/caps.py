"""Limits on restricted substances: which ones count, and the rows by which the solver keeps them.

A cap per kilogram is linear as it stands: what there is of the substance, over the cap, is no more than
the mass of the liquor that is bottled. So nothing has to be linearised, and doses per litre and caps
per kilogram meet through the density of the very drink that is solved for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, RESTRICTED, Materials
from formulate.errors import SpecError, SpecProblem
from formulate.jobs.pantry import Pantry
from formulate.jobs.restricted import prohibition
from formulate.optimise.problem import Limit, Origin, Over
from formulate.spec.bottle import Bottle, load_bottle
from formulate.spec.fields import did_you_mean
from formulate.spec.ingredient import Ingredient
from formulate.spec.lifted import Lifted
from formulate.spec.limit_rows import CapRow, caps
from formulate.spec.recipe import Recipe

__all__ = [
    "SERVE_L",
    "Rules",
    "cap_limits",
    "measure",
    "refusal",
    "restricted_in",
    "rules_of",
    "rules_of_recipe",
]

FloatArray = NDArray[np.float64]

SERVE_L = 0.0444
"""What one guest gets where the bottle file does not say: 1.5 US fl oz, the largest usual pour of a liqueur
(common practice)."""

KEPT_BELOW = 1e-6
"""Share by which the solver stays under a cap, so that no rounding in its arithmetic can reach over it."""


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
    def kept(self) -> tuple[CapRow, ...]:
        """Limits that must hold, in the order of the standards."""
        out = {one.limit for one in self.lifted}
        return tuple(row for row in self.counting if row.id not in out)

    @property
    def counting(self) -> tuple[CapRow, ...]:
        """Limits of this jurisdiction, lifted or not."""
        return caps().holding_in(self.jurisdiction)


def rules_of(bottle: Bottle | None, pantry: Pantry) -> Rules:
    """Gather the rules for a bottle: its own word first, then the shelf's, else the strictest.

    Parameters
    ----------
    bottle : Bottle or None
    pantry : Pantry

    Raises
    ------
    SpecError
        If the file lifts a limit that there is not, or that cannot be lifted.
    """
    shelf = None if pantry.shelf is None else pantry.shelf.jurisdiction
    if bottle is None:
        return Rules(shelf)
    problems = [problem for index, one in enumerate(bottle.lifted) if (problem := _bad(bottle, index, one))]
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
    if recipe.bottle_path is not None and recipe.bottle_path.exists():
        try:
            bottle = load_bottle(recipe.bottle_path)
            return rules_of(bottle, pantry)
        except SpecError:
            pass
    return rules_of(None, pantry)


def _bad(bottle: Bottle, index: int, one: Lifted) -> SpecProblem | None:
    known = caps()
    if one.limit not in known:
        liftable = [row.id for row in known.rows if row.lift != "never"]
        message = f"no limit called '{one.limit}'. {did_you_mean(one.limit, liftable)}"
    elif known[one.limit].lift == "never":
        message = (
            f"{one.limit} cannot be lifted: {known[one.limit].substance} is toxic. Take the line out, and "
            "use less of what brings it, or put a measured content on the shelf."
        )
    else:
        return None
    return bottle.places.problem(("lifted", index, "limit"), message)


def refusal(ingredient: Ingredient, rules: Rules) -> str:
    """Say why an ingredient may not be used; empty where it may."""
    row = prohibition(ingredient, rules.jurisdiction)
    if row is None:
        return ""
    where = ", ".join(row.jurisdiction)
    text = f"{ingredient.id} may not be used. {row.says} [{where}: {row.provenance}] Take it out"
    if rules.jurisdiction is None and "any" not in row.jurisdiction:
        return f"{text}, or say whose law counts: with no `jurisdiction:` the strictest applies."
    return f"{text}."


def cap_limits(rules: Rules, materials: Materials) -> tuple[Limit, ...]:
    """Write the limits on what these ingredients bring as rows over what is bottled.

    Parameters
    ----------
    rules : Rules
    materials : Materials
        That carry the restricted substances.

    Returns
    -------
    tuple of Limit
        Each with the row of the standards as its origin.
    """
    if not any(name.startswith(RESTRICTED) for name in materials.carried):
        return ()
    return tuple(limit for row in rules.kept if (limit := _limit(row, rules, materials)) is not None)


def _columns(row: CapRow, materials: Materials) -> list[int]:
    names = [RESTRICTED + name for name in row.counts]
    columns = [materials.column(name) for name in names if name in materials.carried]
    return [column for column in columns if materials.content[:, column].any()]


def _limit(row: CapRow, rules: Rules, materials: Materials) -> Limit | None:
    columns = _columns(row, materials)
    if not columns:
        return None
    text = f"at most {row.most_mg:g} {row.basis} ({', '.join(row.jurisdiction)}: {row.provenance})"
    origin = Origin(f"{row.substance} ({row.id})", text, caps().place(row.id))
    below = 1.0 - KEPT_BELOW
    if row.most_per_kg is not None:
        # mass of the substance in g, over the cap in g/kg, - (1 - hair) x mass of the liquor in kg <= 0
        liquor = np.arange(LIQUOR)
        return Limit(
            over=Over.BOTTLE,
            indices=np.array([*columns, *liquor], dtype=np.int32),
            weights=np.array([*(1.0 / row.most_per_kg for _ in columns), *(-below for _ in liquor)]),
            lower=-np.inf,
            upper=0.0,
            origin=origin,
            unit=row.basis,
            display=np.nan,
            rule=row.id,
        )
    litres = 1.0 if row.most_per_l is not None else rules.serve_l
    return Limit(
        over=Over.BOTTLE,
        indices=np.array(columns, dtype=np.int32),
        weights=np.ones(len(columns)),
        lower=-np.inf,
        upper=below * row.most_mg / 1000.0 / litres,
        origin=origin,
        unit=row.basis,
        display=1000.0 * litres,
        rule=row.id,
    )


def restricted_in(bottled: FloatArray, materials: Materials) -> dict[str, float]:
    """Return what a liquor holds of restricted substances at worst, g/kg by name.

    Parameters
    ----------
    bottled : ndarray, shape (carried,)
    materials : Materials
    """
    mass = float(bottled[:LIQUOR].sum())
    return {
        name.removeprefix(RESTRICTED): float(grams) / mass
        for name, grams in zip(materials.carried, bottled, strict=True)
        if name.startswith(RESTRICTED) and grams > 0.0
    }


def measure(row: CapRow, rules: Rules, materials: Materials, bottled: FloatArray, volume_l: float) -> float:
    """Return what a drink holds at worst, in the unit of the limit.

    Parameters
    ----------
    row : CapRow
    rules : Rules
    materials : Materials
    bottled : ndarray, shape (carried,)
        kg of liquor, g of restricted substances.
    volume_l : float
        What is bottled.
    """
    grams = float(bottled[_columns(row, materials)].sum())
    if row.most_per_kg is not None:
        return 1000.0 * grams / float(bottled[:LIQUOR].sum())
    litres = 1.0 if row.most_per_l is not None else rules.serve_l
    return 1000.0 * grams / volume_l * litres
