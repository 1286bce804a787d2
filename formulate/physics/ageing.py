"""What age leaves of a dried botanical, how long to keep it, and fresh against dried.

First order at a yearly loss from common practice. Oxygen, light, warmth and a half-empty jar decide more
than the species does (published reviews agree, without a number one could use), so every figure here is a
starting value: nose and a one-spoon test come first.
"""

from __future__ import annotations

import numpy as np

from formulate.errors import FormulateError
from formulate.physics.numerics import Figure, Number, as_given, checked

__all__ = [
    "LOSS_PER_YEAR",
    "POWDER_FACTOR",
    "SHELF_LIFE_YEARS",
    "STORAGE_FACTOR",
    "fresh_to_dried_ratio",
    "potency_left",
    "shelf_life_years",
]

PRACTICE = "herb trade's rule of thumb"


def _loss(low: float, high: float, source: str = PRACTICE, confidence: str = "common practice") -> Figure:
    return Figure(low, high, "share lost per year", source, confidence)


# Of the aromatic oil, unless the name says bitter. Dry, dark, sealed.
LOSS_PER_YEAR: dict[str, Figure] = {
    "whole_seed": _loss(0.10, 0.15),
    "whole_bark": _loss(0.10, 0.15),
    "whole_root": _loss(0.10, 0.15),
    "cut_root": _loss(0.15, 0.20),
    "leaf": _loss(0.20, 0.30),
    "flower": _loss(0.20, 0.30),
    # Basil and its like lose most of their oil in a year: 62 % in 6 months (Baritaux 1992).
    "soft_leaf": _loss(0.70, 0.80),
    "bitter_glycoside": _loss(0.05, 0.10),
    "bitter_lactone": _loss(0.10, 0.15, "wormwood's lactones, herb trade's rule of thumb", "from memory"),
}
# Ground, the loss per year runs two to four times as fast.
POWDER_FACTOR = Figure(2.0, 4.0, "times the rate", PRACTICE, "common practice")
# Ours: no source gives a number. Coriander oil kept its linalool cold and lost a fifth at room temperature
# (Wahba 2020), which is why cold is below 1.
STORAGE_FACTOR: dict[str, Figure] = {
    "cold_sealed": Figure(0.5, 0.5, "times the rate", "assumption", "assumption"),
    "sealed_dark": Figure(1.0, 1.0, "times the rate", "the condition the losses are given for", "assumption"),
    "open_or_light": Figure(2.0, 2.0, "times the rate", "assumption", "assumption"),
}


def _life(low: float, high: float, source: str = PRACTICE, confidence: str = "common practice") -> Figure:
    return Figure(low, high, "years", source, confidence)


SHELF_LIFE_YEARS: dict[str, Figure] = {
    "whole_seed": _life(3.0, 4.0, "no figure found; taken as whole root", "assumption"),
    "whole_bark": _life(3.0, 4.0),
    "whole_root": _life(3.0, 4.0),
    "cut_root": _life(2.0, 3.0, "no figure found; a year off the whole root", "assumption"),
    "leaf": _life(1.0, 2.0),
    "flower": _life(1.0, 2.0, "no figure found; taken as leaf", "assumption"),
    "soft_leaf": _life(0.5, 1.0, "no figure found; two half-lives at most", "assumption"),
    "powder": _life(0.5, 1.0),
}


def _known(function: str, table: dict[str, Figure], key: str, what: str) -> Figure:
    try:
        return table[key]
    except KeyError:
        raise FormulateError(f"{function}: unknown {what} {key!r}. Known: {', '.join(table)}.") from None


def potency_left(
    age_years: Number, kind: str, storage: str = "sealed_dark", *, powder: bool = False
) -> Number:
    """Share of the potency left at an age.

    Parameters
    ----------
    age_years : float or ndarray
        Since harvest or purchase, 0 to 100 years.
    kind : str
        A key of `LOSS_PER_YEAR`; the middle of its range is used.
    storage : str, default "sealed_dark"
        A key of `STORAGE_FACTOR`.
    powder : bool, default False
        Ground: three times the rate, the middle of `POWDER_FACTOR`.

    Returns
    -------
    float or ndarray
        (1 - loss)^(age x factors), above 0 to 1, falling with age.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    FormulateError
        An unknown kind or storage.
    """
    age = checked(age_years, 0.0, 100.0, "potency_left: age_years", "years", "ages of stock")
    loss = _known("potency_left", LOSS_PER_YEAR, kind, "kind").middle
    pace = _known("potency_left", STORAGE_FACTOR, storage, "storage").middle
    if powder:
        pace *= POWDER_FACTOR.middle
    return as_given(np.power(1.0 - loss, age * pace), age_years)


def shelf_life_years(kind: str, *, powder: bool = False) -> Figure:
    """How long a dried botanical is worth keeping.

    Parameters
    ----------
    kind : str
        A key of `SHELF_LIFE_YEARS`.
    powder : bool, default False
        Ground: half a year to a year, whatever it was.

    Returns
    -------
    Figure
        Years: from `low` on raise the dose or replace it, past `high` refuse it.

    Raises
    ------
    FormulateError
        An unknown kind.
    """
    whole = _known("shelf_life_years", SHELF_LIFE_YEARS, kind, "kind")
    return SHELF_LIFE_YEARS["powder"] if powder else whole


def fresh_to_dried_ratio(dry_matter_fresh: Number, dry_matter_dried: Number | float = 0.9) -> Number:
    """Grams of fresh plant that hold the dry matter of one gram of dried.

    Parameters
    ----------
    dry_matter_fresh : float or ndarray
        Share of the fresh plant, 0.01 to 1.
    dry_matter_dried : float or ndarray, default 0.9
        Share of the dried plant, 0.01 to 1; 0.9 is common practice.

    Returns
    -------
    float or ndarray
        dried/fresh. It says nothing of the aroma lost in drying, and fresh plant brings its own water,
        which belongs in the balance.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "fresh_to_dried_ratio"
    fresh = checked(dry_matter_fresh, 0.01, 1.0, f"{name}: dry_matter_fresh", "", "a share of dry matter")
    dried = checked(dry_matter_dried, 0.01, 1.0, f"{name}: dry_matter_dried", "", "a share of dry matter")
    return as_given(dried / fresh, dry_matter_fresh)
