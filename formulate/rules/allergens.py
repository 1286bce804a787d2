"""Which allergens a drink brings, told from its ingredients."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from formulate.files.labelling import AllergenRow, allergen_rules
from formulate.files.limit_rows import known_plants
from formulate.rules.contents import Content, named

__all__ = ["FoundAllergen", "found_allergens"]

DISTILLED = re.compile(r" (?:re)?distill?(?:ed|ate)s? ")


@dataclass(frozen=True, slots=True)
class FoundAllergen:
    """One allergen and what brings it.

    Attributes
    ----------
    id, name : str
    brought_by : tuple of str
    jurisdictions : tuple of str
        Where it has to be named.
    source : str
        With how far to trust it.
    """

    id: str
    name: str
    brought_by: tuple[str, ...]
    jurisdictions: tuple[str, ...]
    source: str


def found_allergens(
    contents: Sequence[Content], jurisdiction: str | None = None
) -> tuple[FoundAllergen, ...]:
    """List the allergens a drink brings.

    Parameters
    ----------
    contents : sequence of Content
    jurisdiction : str, optional
        Only what has to be named there; everywhere if not given.
    """
    found = []
    for row in allergen_rules().holding_in(jurisdiction):
        match = row.brought_by
        names = tuple(one.shown for one in contents if named(match, [one]) or _as_a_plant(row, one))
        if names:
            found.append(FoundAllergen(row.id, row.name, names, row.jurisdiction, row.provenance))
    return tuple(found)


def _as_a_plant(row: AllergenRow, content: Content) -> bool:
    """Tell whether its botanical name brings an allergen; a distillate is left to the words of the row."""
    if row.distillate_exempt and DISTILLED.search(content.text):
        return False
    return any(row.id in known_plants()[name].allergens for name in content.plants)
