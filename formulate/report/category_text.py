"""What a drink may be called: a few lines on the screen, all of it for JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from formulate.report.plain import paragraph

if TYPE_CHECKING:
    from formulate.jobs.category_record import CategoryRecord

__all__ = ["category_document", "category_lines"]

MOST_NEAR = 2
NEAR_ENOUGH = 0.6
"""A name whose figures are further off than this share of what is asked is another drink."""

UNVERIFIED = "* from memory, or a copy of the law not seen: check before you print a label."


def category_lines(categories: Sequence[CategoryRecord]) -> list[str]:
    """Say the names that fit, law by law, and what is missing for the nearest others."""
    if not categories:
        return []
    lines, marks = [], False
    places = dict.fromkeys(", ".join(one.jurisdictions) for one in categories)
    for place in places:
        here = [one for one in categories if ", ".join(one.jurisdictions) == place]
        fitting = [one for one in here if one.fits]
        plain = [one for one in fitting if not one.general and not one.by_hand]
        # A catch-all is worth a word only where nothing says more.
        told = [one for one in fitting if not (one.general and plain)]
        marks |= any(not one.verified for one in told)
        names = [f"{_name(one)}{f', if {one.by_hand}' if one.by_hand else ''}" for one in told]
        text = f"{place}: {'; '.join(names) if names else 'none of the names here fits'}."
        lines += paragraph(text, first="  · ", rest="    ")
    near = sorted(
        (
            one
            for one in categories
            if one.relevant and one.missing and not one.by_hand and one.shortfall <= NEAR_ENOUGH
        ),
        key=lambda one: one.shortfall,
    )
    for one in near[:MOST_NEAR]:
        text = f"For {_name(one)} ({', '.join(one.jurisdictions)}): {' and '.join(one.missing)}."
        marks |= not one.verified
        lines += paragraph(text, first="  · ", rest="    ")
    if marks:
        lines.append(f"  {UNVERIFIED}")
    return ["", "May be called", *lines]


def category_document(categories: Sequence[CategoryRecord]) -> list[dict[str, Any]]:
    """Lay out every category for JSON."""
    return [
        {
            "id": one.id,
            "name": one.name,
            "names": list(one.names),
            "jurisdictions": list(one.jurisdictions),
            "relevant": one.relevant,
            "fits": one.fits,
            "missing": list(one.missing),
            "by_hand": one.by_hand or None,
            "source": one.source,
        }
        for one in categories
    ]


def _name(one: CategoryRecord) -> str:
    unaccented = {"creme": "crème"}  # the same name typed on another keyboard
    names = dict.fromkeys(" ".join(unaccented.get(word, word) for word in name.split()) for name in one.names)
    return f"{' or '.join(names)}{'' if one.verified else '*'}"
