"""Targets as records: what was asked and what the drink makes of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from formulate.blend.profile import Profile
from formulate.describe.records import TargetRecord
from formulate.errors import Note
from formulate.files.measures import BY_WEIGHT, COST, MOST_BY_WEIGHT, measure_of
from formulate.formulation.bottle import MOST_DISSOLVED, Formulation
from formulate.formulation.targets import is_band
from formulate.optimise.answer import LimitValue
from formulate.optimise.problem import Limit
from formulate.physics.coefficients import SPS4_HIGHEST_MASS_FRACTION
from formulate.physics.components import INDEX
from formulate.quantity.words import listed

__all__ = [
    "at_the_edge",
    "figure_of",
    "in_the_middle",
    "measure_notes",
    "range_notes",
    "target_record",
    "targets_as_asked",
]


def targets_as_asked(formulation: Formulation, targets: tuple[TargetRecord, ...]) -> tuple[TargetRecord, ...]:
    """Show what was asked of each target, not the narrower band that was aimed at."""
    asked = {limit.origin.name: limit for limit in formulation.as_asked if limit.is_target}
    return tuple(
        replace(
            target,
            lower=_known(asked[target.target].lower * asked[target.target].display),
            upper=_known(asked[target.target].upper * asked[target.target].display),
            binding=target.binding and not is_band(asked[target.target]),
            shadow_price=None if is_band(asked[target.target]) else target.shadow_price,
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
    what = names[0] if len(names) == 1 else f"{len(names)} limits"
    short = f"Stands at the edge of {what}: `--middle` leaves room for a slip."
    return [Note("at_the_edge", text, short=short)]


def range_notes(limits: Sequence[LimitValue]) -> list[Note]:
    """Say so when a recipe stands at that end, as a cheaper one may lie beyond."""
    if not any(value.binding and value.limit.origin.name == MOST_DISSOLVED for value in limits):
        return []
    text = (
        f"This recipe stands where published densities end ({SPS4_HIGHEST_MASS_FRACTION * 100:.0f} % "
        "dissolved, by mass): a cheaper one may lie beyond, but its volume cannot be reckoned. Add a target "
        "for what it is short of, a strength say, or water to the list."
    )
    return [Note("most_dissolved", text)]


def in_the_middle(off: Sequence[str] = ()) -> list[Note]:
    """Say that the middle of each band was aimed at, what stands off its own, and what is proved of it."""
    if off:
        text = f"As near the middles as your other limits let it come: {listed(off)} not at the middle."
        return [Note("in_the_middle", f"{text} No cheaper recipe comes as near.")]
    text = "Aimed at the middle of each band: no cheaper recipe lies in the middle tenth of them all."
    return [Note("in_the_middle", text)]


def _known(value: float) -> float | None:
    return value if np.isfinite(value) else None


def measure_notes(names: Iterable[str]) -> list[Note]:
    """Say how far to trust the figures of what was asked for."""
    asked = [measure_of(name) for name in names]
    return [Note(f"{measure.name}_figures", measure.caveat) for measure in asked if measure.caveat]


def figure_of(limit: Limit, drink: Profile, cost_per_l: float | None) -> float | None:
    """Return what a drink makes of a target, in the unit it is shown in; None where its figures do not say.

    Parameters
    ----------
    cost_per_l
        None where a price is missing.
    """
    measure = measure_of(limit.origin.measure)
    if limit.origin.name != measure.name:  # what a category asks: only the row knows
        return None
    if measure.name == COST:
        return cost_per_l
    if measure.is_content and measure.name not in drink.attributes_g_l:
        return None
    return float(drink.value(measure.name))


def target_record(
    limit: Limit, value: float, drink: Profile, *, binding: bool, shadow_price: float | None = None
) -> TargetRecord:
    """Say what was asked, and that a drink makes `value` of it, in `limit.unit`."""
    record = TargetRecord(
        target=limit.origin.name,
        lower=_known(limit.lower * limit.display),
        upper=_known(limit.upper * limit.display),
        value=value,
        unit=limit.unit,
        binding=binding,
        shadow_price=shadow_price,
        text=limit.origin.text,
        source=str(limit.origin.location or ""),
        measure=limit.origin.measure,
    )
    return _in_per_cent(record, limit, float(drink.density_kg_m3))


def _in_per_cent(record: TargetRecord, limit: Limit, density_kg_m3: float) -> TargetRecord:
    """Tell a limit on sugar by weight, held in g/L above what is asked, in % of the weight."""
    if limit.origin.measure not in (BY_WEIGHT, MOST_BY_WEIGHT):
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
