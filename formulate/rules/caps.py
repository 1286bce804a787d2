"""Limits on restricted substances: which ones count, and the rows by which the solver keeps them.

A cap per kilogram is linear as it stands: what there is of the substance, over the cap, is no more than
the mass of the liquor that is bottled. So nothing has to be linearised, and doses per litre and caps
per kilogram meet through the density of the very drink that is solved for.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.bar.permitted import Rules
from formulate.bar.restricted import (
    IN_SPIRIT,
    _worst_g_kg,
)
from formulate.blend.materials import RESTRICTED, Materials
from formulate.files.limit_rows import AlcoholOnlyRow, CapRow, alcohol_only

__all__ = ["in_spirit_only", "measure"]

FloatArray = NDArray[np.float64]


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


def _columns(row: CapRow, materials: Materials, used_kg: FloatArray | None = None) -> list[int]:
    """Return where the materials carry what a limit counts; nowhere if it is for other drinks."""
    amounts = np.ones(len(materials.ids)) if used_kg is None else used_kg
    brought = amounts @ materials.content

    def columns(counts: Sequence[str]) -> list[int]:
        names = [RESTRICTED + name for name in counts]
        there = [materials.column(name) for name in names if name in materials.carried]
        return [column for column in there if brought[column] > 0.0]

    return columns(row.counts) if not row.only_with or columns(row.only_with) else []


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
