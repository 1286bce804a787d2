"""Which allergens a drink brings, told from its ingredients."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from formulate.files.labelling import allergen_rules
from formulate.rules.contents import Content, named

__all__ = ["FoundAllergen", "found_allergens"]


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
        names = named(row.brought_by, contents)
        if names:
            found.append(FoundAllergen(row.id, row.name, names, row.jurisdiction, row.provenance))
    return tuple(found)
