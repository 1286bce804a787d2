"""Targets as records: what was asked and what the drink makes of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from formulate.describe.records import TargetRecord
from formulate.errors import Note
from formulate.formulation.bottle import Formulation
from formulate.formulation.category_limits import BY_WEIGHT
from formulate.formulation.middle import _is_band
from formulate.optimise.problem import Limit
from formulate.physics.components import INDEX
from formulate.quantity.words import listed

__all__ = ["at_the_edge", "in_per_cent", "in_the_middle", "targets_as_asked"]


def targets_as_asked(formulation: Formulation, targets: tuple[TargetRecord, ...]) -> tuple[TargetRecord, ...]:
    """Show what was asked of each target, not the narrower band that was aimed at."""
    asked = {limit.origin.name: limit for limit in formulation.as_asked if limit.is_target}
    return tuple(
        replace(
            target,
            lower=_known(asked[target.target].lower * asked[target.target].display),
            upper=_known(asked[target.target].upper * asked[target.target].display),
            binding=target.binding and not _is_band(asked[target.target]),
            shadow_price=None if _is_band(asked[target.target]) else target.shadow_price,
        )
        if target.target in asked
        else target
        for target in targets
    )


def at_the_edge(targets: tuple[TargetRecord, ...]) -> list[Note]:
    """Say that the cheapest recipe stands at the edge of bands, and how to have it in the middle."""
    names = [
        target.target
        for target in targets
        if target.binding
        and target.lower is not None
        and target.upper is not None
        and target.upper > target.lower
    ]
    if not names:
        return []
    text = (
        f"The cheapest recipe stands at the edge of what you allow in {listed(names)}: a slip in weighing or "
        "another lot puts it out. `--middle` aims at the middle of each band."
    )
    return [Note("at_the_edge", text)]


def in_the_middle() -> list[Note]:
    """Say that the middle of each band was aimed at, and what is proved of it."""
    text = "Aimed at the middle of each band: no cheaper recipe lies in the middle tenth of them all."
    return [Note("in_the_middle", text)]


def _known(value: float) -> float | None:
    return value if np.isfinite(value) else None


def in_per_cent(record: TargetRecord, limit: Limit, density_kg_m3: float) -> TargetRecord:
    """Tell a limit on sugar by weight in % of the weight; any other record is returned as it is.

    Parameters
    ----------
    record : TargetRecord
        In g/L above what is asked, as the row is.
    limit : Limit
    density_kg_m3 : float
        Of the drink.
    """
    if not record.target.endswith(BY_WEIGHT):
        return record
    # The row is sugars less a share of everything: water weighs in with that share alone.
    asked = -100.0 * float(limit.weights[list(limit.indices).index(INDEX["water"])])
    g_l_per_pct = density_kg_m3 / 100.0
    price = record.shadow_price
    return replace(
        record,
        lower=None if record.lower is None else asked,
        upper=None if record.upper is None else asked,
        value=asked + record.value / g_l_per_pct,
        unit="% w/w",
        shadow_price=None if price is None else price * g_l_per_pct,
    )
