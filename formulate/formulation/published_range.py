"""The end of the published densities as a limit: beyond it the cheapest recipe could not be reckoned."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from formulate.blend.materials import LIQUOR
from formulate.errors import Note
from formulate.optimise.answer import LimitValue
from formulate.optimise.problem import Limit, Origin, Over
from formulate.optimise.tolerances import INSIDE_FIRM
from formulate.physics.coefficients import SPS4_HIGHEST_MASS_FRACTION
from formulate.physics.mixture import INDEX

__all__ = ["published_range", "range_notes"]

NAME = "dissolved share"


def published_range() -> Limit:
    """Keep what is dissolved in the bottle to the mass fraction that densities are published for.

    Returns
    -------
    Limit
        On the carried components; ICUMSA SPS-4 ends at 0.85 g/g.
    """
    most = SPS4_HIGHEST_MASS_FRACTION - INSIDE_FIRM
    weights = np.full(LIQUOR, 1.0 - most)
    weights[[INDEX["water"], INDEX["ethanol"]]] = -most
    text = f"at most {SPS4_HIGHEST_MASS_FRACTION * 100:.0f} % by mass, where published densities end"
    return Limit(
        over=Over.BOTTLE,
        indices=np.arange(LIQUOR, dtype=np.int32),
        weights=weights,
        lower=-np.inf,
        upper=0.0,
        origin=Origin(NAME, text),
        display=np.nan,
        firm=True,
    )


def range_notes(limits: Sequence[LimitValue]) -> list[Note]:
    """Say so when a recipe stands at that end, as a cheaper one may lie beyond.

    Parameters
    ----------
    limits : sequence of LimitValue
        Of the answer.
    """
    if not any(value.binding and value.limit.origin.name == NAME for value in limits):
        return []
    text = (
        f"This recipe stands where published densities end ({SPS4_HIGHEST_MASS_FRACTION * 100:.0f} % "
        "dissolved, by mass): a cheaper one may lie beyond, but its volume cannot be reckoned. Add a target "
        "for what it is short of, a strength say, or water to the list."
    )
    return [Note("most_dissolved", text)]
