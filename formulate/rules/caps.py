"""Limits on restricted substances: which ones count, and the rows by which the solver keeps them.

A cap per kilogram is linear as it stands: what there is of the substance, over the cap, is no more than
the mass of the liquor that is bottled. So nothing has to be linearised, and doses per litre and caps
per kilogram meet through the density of the very drink that is solved for.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry
from formulate.bar.restricted import (
    IN_SPIRIT,
    counted_in_spirit,
    prohibition,
    sold_with_at_most,
    uncounted,
)
from formulate.blend.chain import Chain
from formulate.blend.materials import LIQUOR, RESTRICTED, Materials
from formulate.describe.telling import listed
from formulate.errors import SpecError, SpecProblem
from formulate.files.bottle import Bottle, load_bottle
from formulate.files.fields import did_you_mean
from formulate.files.house_made import FAMILY
from formulate.files.ingredient import Ingredient
from formulate.files.lifted import Lifted
from formulate.files.limit_rows import AlcoholOnlyRow, CapRow, alcohol_only, caps
from formulate.files.recipe import Recipe
from formulate.optimise.problem import Limit, Origin, Over
from formulate.physics.mixture import ETHANOL_KG_L, INDEX

__all__ = [
    "ADJUSTED_BELOW",
    "SERVE_L",
    "Rules",
    "cap_limits",
    "in_spirit_only",
    "measure",
    "refusal",
    "restricted_in",
    "rules_of",
    "rules_of_recipe",
    "strength_asked",
]

FloatArray = NDArray[np.float64]

SERVE_L = 0.0444
"""What one guest gets where the bottle file does not say: 1.5 US fl oz, the largest usual pour of a liqueur
(common practice)."""

LEAST_SERVE_L = 0.015
"""The least that counts as a serve for a limit per serve: a third of the usual pour (our own choice). A file
that calls a drop a serve would make the limit mean nothing, since nobody is kept from a second one."""

PCT_VOL_PER_KG_L = 100.0 / ETHANOL_KG_L

KEPT_BELOW = 1e-6
"""Share by which the solver stays under a cap, so that no rounding in its arithmetic can reach over it."""
ADJUSTED_BELOW = KEPT_BELOW / 2.0
"""The same where a batch is put right: one that was solved to its cap is within it as it is."""


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
        If the file lifts a limit that there is not, or that cannot be lifted, or from a day still to come.
    """
    shelf = None if pantry.shelf is None else pantry.shelf.jurisdiction
    if bottle is None:
        return Rules(shelf)
    lifted = enumerate(bottle.lifted)
    problems = [problem for index, one in lifted if (problem := _bad(bottle, index, one, pantry.day))]
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


def _bad(bottle: Bottle, index: int, one: Lifted, today: date) -> SpecProblem | None:
    known = caps()
    if one.limit not in known:
        liftable = [row.id for row in known.rows if row.lift != "never"]
        message = f"no limit called '{one.limit}'. {did_you_mean(one.limit, liftable)}"
    elif known[one.limit].lift == "never":
        message = (
            f"{one.limit} cannot be lifted: {known[one.limit].substance} is toxic. Take the line out, and "
            "use less of what brings it, or put a measured content on the shelf."
        )
    elif date.fromisoformat(one.date) > today:
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


def cap_limits(
    rules: Rules,
    chain: Chain,
    late: Collection[int] = (),
    below: float = KEPT_BELOW,
    strengths: tuple[float, float] = (0.0, np.inf),
) -> tuple[Limit, ...]:
    """Write the limits on what these ingredients bring as rows for the solver.

    A cap per kilogram is held as if nothing were lost, because a cake pressed harder gives more of what was
    drawn out of it. For what goes in with the first liquor that is the worst there is: losses take of the
    substance as much as of the liquor, and what comes later only thins it. What may come after a loss is
    held for the drink as calculated too, since less liquor is left then to thin it. A limit per litre or
    per serve counts all that is weighed in.

    Parameters
    ----------
    rules : Rules
    chain : Chain
        Whose materials carry the restricted substances.
    late : collection of int
        Ingredients that may be added after the first step.
    below : float
        Share by which to stay under each cap.
    strengths : tuple of float
        Least and most strength the drink may have, % vol. What the law limits for a part of them only is
        kept for all: the strictest counts.

    Returns
    -------
    tuple of Limit
        Each with the row of the standards as its origin.
    """
    if not any(name.startswith(RESTRICTED) for name in chain.materials.carried):
        return ()
    strong = tuple(_strong_enough(row) for row in in_spirit_only(rules, chain.materials))
    low, high = max(strengths[0], strength_asked(strong)[0]), strengths[1]
    rows = [row for row in rules.kept if row.holds_between(low, high)]
    kept = [limit for row in rows for limit in _limits(row, rules, chain, late, 1.0 - below)]
    return (*kept, *strong)


def in_spirit_only(
    rules: Rules, materials: Materials, used_kg: FloatArray | None = None
) -> list[AlcoholOnlyRow]:
    """Return the rules by which something here may go into drinks with alcohol only.

    Parameters
    ----------
    rules : Rules
    materials : Materials
        n ingredients.
    used_kg : ndarray, shape (n,), optional
        Only what is used counts; everything that may be if not given.
    """
    amounts = np.ones(len(materials.ids)) if used_kg is None else used_kg
    brought = amounts @ materials.content
    found = {name for name, much in zip(materials.carried, brought, strict=True) if much > 0.0}
    rows = alcohol_only().holding_in(rules.jurisdiction) if any(IN_SPIRIT in name for name in found) else ()
    return [row for row in rows if RESTRICTED + IN_SPIRIT + row.id in found]


def _strong_enough(row: AlcoholOnlyRow) -> Limit:
    """Ask for the least strength; more than a hair above it, so that no rounding falls below."""
    text = f"at least {row.least_pct_vol:g} % vol ({', '.join(row.jurisdiction)}: {row.provenance})"
    return Limit(
        over=Over.BOTTLE,
        indices=np.array([INDEX["ethanol"]], dtype=np.int32),
        weights=np.ones(1),
        lower=row.least_pct_vol / PCT_VOL_PER_KG_L * (1.0 + KEPT_BELOW),
        upper=np.inf,
        origin=Origin(f"plants for alcoholic drinks only ({row.id})", text, alcohol_only().place(row.id)),
        unit="% vol",
        display=PCT_VOL_PER_KG_L,
        rule=row.id,
        firm=True,
    )


def _columns(row: CapRow, materials: Materials, used_kg: FloatArray | None = None) -> list[int]:
    """Return where the materials carry what a limit counts; nowhere if it is for other drinks."""
    amounts = np.ones(len(materials.ids)) if used_kg is None else used_kg
    brought = amounts @ materials.content

    def columns(counts: Sequence[str]) -> list[int]:
        names = [RESTRICTED + name for name in counts]
        there = [materials.column(name) for name in names if name in materials.carried]
        return [column for column in there if brought[column] > 0.0]

    return columns(row.counts) if not row.only_with or columns(row.only_with) else []


def _limits(row: CapRow, rules: Rules, chain: Chain, late: Collection[int], below: float) -> list[Limit]:
    materials = chain.materials
    columns = _columns(row, materials)
    if not columns:
        return []
    text = f"at most {row.most_mg:g} {row.basis} ({', '.join(row.jurisdiction)}: {row.provenance})"
    origin = Origin(f"{row.substance} ({row.id})", text, caps().place(row.id))
    brings = materials.content[:, columns].sum(axis=1)

    def limit(over: Over, weights: FloatArray, upper: float, display: float) -> Limit:
        used = np.flatnonzero(weights)
        return Limit(
            over=over,
            indices=used.astype(np.int32),
            weights=weights[used],
            lower=-np.inf,
            upper=upper,
            origin=origin,
            unit=row.basis,
            display=display,
            rule=row.id,
            firm=True,
        )

    if row.most_g_kg is None:
        litres = 1.0 if row.most_g_l is not None else rules.limited_serve_l
        return [limit(Over.MASSES, brings, below * row.most_mg / 1000.0 / litres, 1000.0 * litres)]
    # grams of the substance over the cap in g/kg - (1 - a hair) x kilograms of liquor <= 0
    whole = brings / row.most_g_kg - below * materials.content[:, :LIQUOR].sum(axis=1)
    limits = [limit(Over.MASSES, whole, 0.0, np.nan)]
    if any(brings[number] > 0.0 for number in late):
        weights = np.zeros(len(materials.carried))
        weights[columns] = 1.0 / row.most_g_kg
        weights[:LIQUOR] = -below
        limits.append(limit(Over.BOTTLE, weights, 0.0, np.nan))
    return limits


def restricted_in(bottled: FloatArray, materials: Materials, used_kg: FloatArray) -> dict[str, float]:
    """Return what a liquor holds of restricted substances at worst, g/kg by name.

    Parameters
    ----------
    bottled : ndarray, shape (carried,)
    materials : Materials
        n ingredients.
    used_kg : ndarray, shape (n,)
    """
    content = {
        name.removeprefix(RESTRICTED): _worst_g_kg([column], materials, used_kg, bottled)
        for column, name in enumerate(materials.carried)
        if name.startswith(RESTRICTED)
    }
    return {name: worst for name, worst in content.items() if worst > 0.0}


def _worst_g_kg(
    columns: Sequence[int], materials: Materials, used_kg: FloatArray, bottled: FloatArray
) -> float:
    """Return the content as calculated or as if nothing were lost, whichever is more."""
    put_in = used_kg @ materials.content
    return max(
        float(liquor[columns].sum()) / mass
        for liquor in (bottled, put_in)
        if (mass := float(liquor[:LIQUOR].sum())) > 0.0
    )


def measure(
    row: CapRow,
    rules: Rules,
    materials: Materials,
    used_kg: FloatArray,
    bottled: FloatArray,
    volume_l: float,
) -> float:
    """Return what a drink holds at worst, in the unit of the limit.

    Parameters
    ----------
    row : CapRow
    rules : Rules
    materials : Materials
        n ingredients.
    used_kg : ndarray, shape (n,)
        Weighed in.
    bottled : ndarray, shape (carried,)
        kg of liquor, g of restricted substances.
    volume_l : float
        What is bottled.
    """
    columns = _columns(row, materials, used_kg)
    if row.most_g_kg is not None:
        return 1000.0 * _worst_g_kg(columns, materials, used_kg, bottled)
    litres = 1.0 if row.most_g_l is not None else rules.limited_serve_l
    return 1000.0 * float((used_kg @ materials.content[:, columns]).sum()) / volume_l * litres
