"""Limits on restricted substances as rows that the solver keeps."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from formulate.bar.permitted import PCT_VOL_PER_KG_L, Rules, strength_asked
from formulate.blend.chain import Chain
from formulate.blend.materials import LIQUOR, RESTRICTED
from formulate.files.limit_rows import AlcoholOnlyRow, CapRow, alcohol_only, caps
from formulate.optimise.problem import Limit, Origin, Over
from formulate.physics.components import INDEX
from formulate.rules.caps import _columns, in_spirit_only

__all__ = ["ADJUSTED_BELOW", "cap_limits"]

FloatArray = NDArray[np.float64]

KEPT_BELOW = 1e-6
"""Share by which the solver stays under a cap, so that no rounding in its arithmetic can reach over it."""
ADJUSTED_BELOW = KEPT_BELOW / 2.0
"""The same where a batch is put right: one that was solved to its cap is within it as it is."""


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
