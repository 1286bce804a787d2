"""Limits on restricted substances as rows that the solver keeps."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.permitted import Rules
from formulate.bar.restricted import IN_SPIRIT
from formulate.blend.chain import Chain
from formulate.blend.materials import LIQUOR, RESTRICTED, Materials
from formulate.files.limit_rows import AlcoholOnlyRow, CapRow, alcohol_only, caps
from formulate.files.measures import PCT_VOL_PER_KG_L
from formulate.optimise.problem import BlendProblem, Case, Disjunction, Limit, Origin, Over
from formulate.optimise.tolerances import INSIDE_FIRM
from formulate.physics.components import INDEX
from formulate.rules.law import counted_columns, in_spirit_only

__all__ = ["ADJUSTED_BELOW", "cap_limits", "with_caps"]

FloatArray = NDArray[np.float64]

ADJUSTED_BELOW = INSIDE_FIRM / 2.0
"""Share by which caps are kept where a batch is put right: one solved to its cap is within it as it is."""


def cap_limits(
    rules: Rules,
    chain: Chain,
    late: Collection[int] = (),
    below: float = INSIDE_FIRM,
    strengths: tuple[float, float] = (0.0, np.inf),
) -> tuple[tuple[Limit, ...], tuple[Disjunction, ...]]:
    """Write the limits on what these ingredients bring as rows for the solver.

    A cap per kilogram is held as if nothing were lost, because a cake pressed harder gives more of what was
    drawn out of it. For what goes in with the first liquor that is the worst there is: losses take of the
    substance as much as of the liquor, and what comes later only thins it. What may come after a loss is
    held for the drink as calculated too, since less liquor is left then to thin it. A limit per litre or
    per serve counts all that is weighed in.

    Parameters
    ----------
    chain
        Whose materials carry the restricted substances.
    late
        Ingredients that may be added after the first step.
    below
        Share by which to stay under each cap.
    strengths
        Least and most strength the drink may have, % vol.

    Returns
    -------
    tuple of Limit
        What holds for every drink of these strengths, each with the row of the standards as its origin.
    tuple of Disjunction
        What holds only where something is used, or for some of these strengths: the way round the rule
        first, the rule itself last.
    """
    if not any(name.startswith(RESTRICTED) for name in chain.materials.carried):
        return (), ()
    limits: list[Limit] = []
    disjunctions: list[Disjunction] = []
    for spirit in in_spirit_only(rules, chain.materials):
        if strengths[0] > spirit.least_pct_vol * (1.0 + INSIDE_FIRM):
            continue
        rule, plants = _strong_enough(spirit), _bringing(IN_SPIRIT + spirit.id, chain.materials)
        disjunctions.append(Disjunction((Case(without=plants), Case((rule,)))))
    for row in rules.kept:
        if not row.holds_between(*strengths):
            continue
        rows = tuple(_limits(row, rules, chain, late, 1.0 - below))
        ways = _ways_round(row, strengths, chain.materials) if rows else []
        if ways:
            disjunctions.append(Disjunction((*ways, Case(rows))))
        else:
            limits += rows
    return tuple(limits), tuple(_gathered(disjunctions))


def with_caps(problem: BlendProblem, rules: Rules, strengths: tuple[float, float]) -> BlendProblem:
    """Ask a question under the limits of the law for drinks of these strengths, in place of those it has.

    Parameters
    ----------
    strengths
        Least and most, % vol.
    """
    late = set(problem.place_ingredient[problem.place_step > 0].tolist())
    caps, disjunctions = cap_limits(rules, problem.chain, late, strengths=strengths)
    asked = [limit for limit in problem.limits if not limit.rule]
    others = tuple(one for one in problem.disjunctions if one.apart)
    return replace(problem, limits=(*asked, *caps), disjunctions=(*others, *disjunctions))


def _bringing(name: str, materials: Materials) -> frozenset[int]:
    """Return the ingredients that bring a restricted substance, or carry a mark."""
    column = RESTRICTED + name
    if column not in materials.carried:
        return frozenset()
    return frozenset(np.flatnonzero(materials.content[:, materials.column(column)] > 0.0).tolist())


def _ways_round(row: CapRow, strengths: tuple[float, float], materials: Materials) -> list[Case]:
    """Say when a limit does not hold: in a stronger or weaker drink, or without what it holds for alone."""
    ways = []
    if row.up_to_pct_vol is not None and row.up_to_pct_vol < strengths[1]:
        ways.append(Case((_strength(row, least=row.up_to_pct_vol),)))
    if row.above_pct_vol is not None and row.above_pct_vol > strengths[0]:
        ways.append(Case((_strength(row, most=row.above_pct_vol),)))
    if row.only_with:
        plants = frozenset[int]().union(*(_bringing(name, materials) for name in row.only_with))
        ways.append(Case(without=plants))
    return ways


def _gathered(disjunctions: Iterable[Disjunction]) -> Iterator[Disjunction]:
    """Put rules with the same ways round them together: a drink is strong enough for all of them, or none."""
    together: dict[Hashable, list[Disjunction]] = {}
    for disjunction in disjunctions:
        ways = tuple(
            (case.without, tuple((limit.lower, limit.upper) for limit in case.limits))
            for case in disjunction.cases[:-1]
        )
        together.setdefault(ways, []).append(disjunction)
    for alike in together.values():
        rules = tuple(limit for disjunction in alike for limit in disjunction.cases[-1].limits)
        yield Disjunction((*alike[0].cases[:-1], Case(rules)))


def _strong_enough(row: AlcoholOnlyRow) -> Limit:
    """Ask for the least strength."""
    text = f"at least {row.least_pct_vol:g} % vol ({', '.join(row.jurisdiction)}: {row.provenance})"
    origin = Origin(f"plants for alcoholic drinks only ({row.id})", text, alcohol_only().place(row.id))
    return _strength(row, origin, least=row.least_pct_vol)


def _strength(
    row: AlcoholOnlyRow | CapRow, origin: Origin | None = None, *, least: float = 0.0, most: float = np.inf
) -> Limit:
    """Limit the strength; from below more than a hair above the bound, so that no rounding falls below."""
    if origin is None:
        name = f"{row.id} does not hold"
        text = f"stronger than {least:g} % vol" if least else f"no stronger than {most:g} % vol"
        origin = Origin(name, text, caps().place(row.id))
    return Limit(
        over=Over.BOTTLE,
        indices=np.array([INDEX["ethanol"]], dtype=np.int32),
        weights=np.ones(1),
        lower=least / PCT_VOL_PER_KG_L * (1.0 + INSIDE_FIRM) if least else -np.inf,
        upper=most / PCT_VOL_PER_KG_L,
        origin=origin,
        unit="% vol",
        display=PCT_VOL_PER_KG_L,
        rule=row.id,
        firm=True,
    )


def _limits(row: CapRow, rules: Rules, chain: Chain, late: Collection[int], below: float) -> list[Limit]:
    materials = chain.materials
    columns = counted_columns(row, materials)
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
