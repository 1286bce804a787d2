"""How much ice melts into a drink while it is stirred, shaken, thrown or built.

The melt is counted as litres of water per litre of what was poured over the ice. With wet ice at 0 °C in
excess, shaking for 12 to 15 s comes close to equilibrium whatever the ice or the arm, so that strength
alone decides; stirring needs over two minutes to get there, so a stirred drink depends on who stirs it
(experiments published 2009 and 2010). Stirred is the heat balance of wet ice, stopped when the drink is at
-2 °C: that melts 35 to 40 % less than stirring to the end. Shaken is a fit from memory, nobody here held it
against raw data. A bar that weighs its own drinks puts its own figure in their place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.errors import FormulateError
from formulate.physics.numerics import CONFIDENCES, Number, as_given, checked

__all__ = ["MELT_RELATIONS", "MeltRelation", "melt_share"]

STRONGEST_PCT_VOL = 50.0
"""Where the fits stop rising, within a percent or two: beyond, more strength would melt less ice."""

FITTED_FROM_PCT_VOL, FITTED_TO_PCT_VOL = 15.0, 35.0
"""Within this a table worked out from the fits was at hand."""

_FIT = "fit to shaken drinks"


@dataclass(frozen=True, slots=True)
class MeltRelation:
    """Water melted per volume poured over ice, a polynomial in the strength of what is poured.

    Attributes
    ----------
    constant, slope, square : float
        Of the polynomial; strength as a fraction, 0 to 1.
    spread_share : float
        By how much of itself the melt may be off, either way: our judgement.
    source, confidence : str
        Where it comes from, and how far it may be trusted (`figures.CONFIDENCES`).

    Raises
    ------
    FormulateError
        For an unknown confidence.
    """

    method: str
    constant: float
    slope: float
    square: float
    spread_share: float
    source: str
    confidence: str

    def __post_init__(self) -> None:
        if self.confidence not in CONFIDENCES:
            raise FormulateError(f"Unknown confidence {self.confidence!r}. Known: {', '.join(CONFIDENCES)}.")


MELT_RELATIONS: dict[str, MeltRelation] = {
    # 0.26 to 0.27 from 15 to 40 % vol, whatever the strength: 22 K of cooling in all. Stirred on to
    # equilibrium it is 0.33 to 0.48, hence the spread.
    "stirred": MeltRelation(
        "stirred", 0.264, 0.0, 0.0, 0.3, "heat balance of wet ice, stirred to -2 °C", "derived"
    ),
    "shaken": MeltRelation("shaken", 0.203, 1.742, -1.567, 0.1, _FIT, "from memory"),
    # No source was found: half way between the two, because it is poured over ice many times, openly.
    "thrown": MeltRelation(
        "thrown", 0.2335, 0.871, -0.7835, 0.3, "half way between stirred and shaken", "assumption"
    ),
    # 10 to 15 %, on serving; a long drink goes on thinning in the glass.
    "built": MeltRelation("built", 0.125, 0.0, 0.0, 0.2, "bar practice: 10 to 15 %", "common practice"),
    # Its water was added up front, or it is poured as it is: no ice touches it before the glass.
    "batched": MeltRelation("batched", 0.0, 0.0, 0.0, 0.0, "by definition", "derived"),
}
"""By method."""


def melt_share(method: str, strength_pct_vol: Number) -> Number:
    """Litres of water melted per litre poured over ice.

    Parameters
    ----------
    method : str
        A key of `MELT_RELATIONS`.
    strength_pct_vol : float or array_like
        Of what is poured over the ice, 0 to 50 % vol.

    Raises
    ------
    FormulateError
        For an unknown method.
    RangeError
        For more than 50 % vol, where the fits turn round.
    """
    if method not in MELT_RELATIONS:
        raise FormulateError(f"Unknown method {method!r}. Known: {', '.join(MELT_RELATIONS)}.")
    relation = MELT_RELATIONS[method]
    strength = (
        checked(strength_pct_vol, 0.0, STRONGEST_PCT_VOL, f"melt_share: {method}", "% vol", relation.source)
        / 100.0
        if relation.slope
        else np.asarray(strength_pct_vol, dtype=float) / 100.0
    )
    share = relation.constant + relation.slope * strength + relation.square * strength**2
    return as_given(share, strength_pct_vol)
