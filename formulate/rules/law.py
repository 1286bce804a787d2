"""How near a drink comes to the limits on restricted substances."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.bar.permitted import Rules
from formulate.bar.restricted import IN_SPIRIT, worst_g_kg
from formulate.blend.batch import Batch
from formulate.blend.materials import LIQUOR, RESTRICTED, Materials
from formulate.files.limit_rows import AlcoholOnlyRow, CapRow, alcohol_only, caps
from formulate.physics.mixture import strength_pct_vol
from formulate.quantity.words import listed
from formulate.rules.records import CapRecord, LawRecord

__all__ = ["at_a_limit", "counted_columns", "held_at_worst", "in_spirit_only", "law_of"]

FloatArray = NDArray[np.float64]

AT_THE_CAP = 1e-4
"""A drink that comes this near to a limit, relative, stands at it."""

NEAR_A_CAP = 0.1
"""So near that rounding half a gram up could reach over it."""


def law_of(batch: Batch, rules: Rules) -> LawRecord:
    """Hold a drink against every limit that counts for it."""
    materials, used_kg = batch.chain.materials, batch.used_kg
    if not any(name.startswith(RESTRICTED) for name in materials.carried):
        return LawRecord(jurisdiction=rules.jurisdiction, serve_l=rules.serve_l)
    lifted = {lift.limit: lift for lift in rules.lifted}
    strength = float(strength_pct_vol(batch.bottled[:LIQUOR], check=False))
    too_weak = tuple(
        f"{listed(_marked(row.id, materials, used_kg))} may go into drinks of {row.least_pct_vol:g} % vol "
        f"and more only ({', '.join(row.jurisdiction)}: {row.provenance})"
        for row in in_spirit_only(rules, materials, used_kg)
        if strength < row.least_pct_vol
    )
    records = []
    for row in rules.counting:
        if not row.holds_between(strength, strength):
            continue
        value = held_at_worst(batch, row, rules)
        if not value > 0.0:
            continue
        records.append(
            CapRecord(
                rule=row.id,
                substance=row.substance,
                says=row.says,
                value=value,
                most=row.most_mg,
                unit=row.basis,
                binding=abs(value / row.most_mg - 1.0) <= AT_THE_CAP,
                over=value > row.most_mg,
                brought_by=_brought_by(row, materials, used_kg),
                jurisdiction=row.jurisdiction,
                provenance=row.provenance,
                source=str(caps().place(row.id)),
                verified=row.verified,
                lifted=lifted.get(row.id),
            )
        )
    records.sort(key=lambda cap: -cap.value / cap.most)
    return LawRecord(
        jurisdiction=rules.jurisdiction, serve_l=rules.serve_l, caps=tuple(records), too_weak=too_weak
    )


def at_a_limit(law: LawRecord) -> frozenset[str]:
    """Return what brings a substance that is near its limit: its figures are rounded down.

    A figure rounded to the nearest would lead a cook over the limit by half its last digit; a bar measure
    is coarser still.
    """
    near = (cap for cap in law.caps if cap.value > cap.most * (1.0 - NEAR_A_CAP))
    return frozenset(name for cap in near for name, _ in cap.brought_by)


def in_spirit_only(
    rules: Rules, materials: Materials, used_kg: FloatArray | None = None
) -> list[AlcoholOnlyRow]:
    """Return the rules by which something here may go into drinks with alcohol only.

    Parameters
    ----------
    materials : Materials
        n ingredients.
    used_kg : ndarray, shape (n,), optional
        Only what is used counts; everything that may be if not given.
    """
    amounts = np.ones(len(materials.ids)) if used_kg is None else used_kg
    held = amounts @ materials.content
    present = {name for name, much in zip(materials.carried, held, strict=True) if much > 0.0}
    rows = alcohol_only().holding_in(rules.jurisdiction) if any(IN_SPIRIT in name for name in present) else ()
    return [row for row in rows if RESTRICTED + IN_SPIRIT + row.id in present]


def counted_columns(row: CapRow, materials: Materials, used_kg: FloatArray | None = None) -> list[int]:
    """Return where the materials carry what a limit counts; nowhere if it is for other drinks.

    Parameters
    ----------
    materials : Materials
        n ingredients.
    used_kg : ndarray, shape (n,), optional
        As for `in_spirit_only`.
    """
    amounts = np.ones(len(materials.ids)) if used_kg is None else used_kg
    held = amounts @ materials.content

    def columns(counts: Sequence[str]) -> list[int]:
        names = [RESTRICTED + name for name in counts]
        there = [materials.column(name) for name in names if name in materials.carried]
        return [column for column in there if held[column] > 0.0]

    return columns(row.counts) if not row.only_with or columns(row.only_with) else []


def held_at_worst(batch: Batch, row: CapRow, rules: Rules) -> float:
    """Return what a drink holds at worst, in the unit of the limit."""
    materials, used_kg = batch.chain.materials, batch.used_kg
    columns = counted_columns(row, materials, used_kg)
    if row.most_g_kg is not None:
        return 1000.0 * worst_g_kg(batch, columns)
    litres = 1.0 if row.most_g_l is not None else rules.limited_serve_l
    return 1000.0 * float((used_kg @ materials.content[:, columns]).sum()) / batch.volume_l * litres


def _marked(rule: str, materials: Materials, used_kg: FloatArray) -> list[str]:
    column = materials.column(RESTRICTED + IN_SPIRIT + rule)
    return [materials.ids[index] for index in np.flatnonzero(used_kg * materials.content[:, column])]


def _brought_by(row: CapRow, materials: Materials, used_kg: FloatArray) -> tuple[tuple[str, float], ...]:
    columns = [
        materials.column(name)
        for counted in row.counts
        if (name := RESTRICTED + counted) in materials.carried
    ]
    parts = used_kg * materials.content[:, columns].sum(axis=1)
    shares = parts / parts.sum()
    order = np.argsort(-shares, kind="stable")
    return tuple((materials.ids[index], float(shares[index])) for index in order if shares[index] > 0.0)
