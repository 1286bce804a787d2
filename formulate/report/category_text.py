"""What a drink may be called: a few lines on the screen, all of it for JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.report.plain import paragraph

if TYPE_CHECKING:
    from formulate.rules.records import CategoryRecord

__all__ = ["UNVERIFIED", "category_lines", "fitting_names"]

MOST_NEAR = 2
NEAR_ENOUGH = 0.6
"""A name whose figures are further off than this share of what is asked is another drink."""

UNVERIFIED = "* from memory, or a copy of the law not seen: check before you print a label."


def category_lines(categories: Sequence[CategoryRecord]) -> list[str]:
    """Say the names that fit, law by law, and what is missing for the nearest others."""
    if not categories:
        return []
    told = fitting_names(categories)
    marks = any("*" in text for text in told)
    lines = [line for text in told for line in paragraph(f"{text}.", first="  · ", rest="    ")]
    near = sorted(
        (
            one
            for one in categories
            if one.relevant and one.missing and not one.by_hand and one.shortfall <= NEAR_ENOUGH
        ),
        key=lambda one: one.shortfall,
    )
    by_name = {_name(one): one for one in reversed(near)}  # the nearer of two laws with the same name
    for one in [one for one in near if by_name[_name(one)] is one][:MOST_NEAR]:
        text = f"For {_name(one)} ({', '.join(one.jurisdictions)}): {' and '.join(one.missing)}."
        marks |= not one.verified
        lines += paragraph(text, first="  · ", rest="    ")
    if marks:
        lines.append(f"  {UNVERIFIED}")
    return ["", "May be called", *lines]


def fitting_names(categories: Sequence[CategoryRecord]) -> list[str]:
    """Say the names that fit, law by law; a star marks what rests on memory."""
    told: dict[str, list[str]] = {}
    for place in dict.fromkeys(place for one in categories for place in one.jurisdictions):
        fitting = [one for one in categories if one.fits and place in one.jurisdictions]
        plain = [one for one in fitting if not one.general and not one.by_hand]
        # A catch-all is worth a word only where nothing says more.
        names = [
            f"{_name(one)}{f', if {one.by_hand}' if one.by_hand else ''}"
            for one in fitting
            if not (one.general and plain)
        ]
        told.setdefault("; ".join(names) or "none of the names here fits", []).append(place)
    return [f"{', '.join(places)}: {names}" for names, places in told.items()]


def _name(one: CategoryRecord) -> str:
    unaccented = {"creme": "crème"}  # the same name typed on another keyboard
    names = dict.fromkeys(" ".join(unaccented.get(word, word) for word in name.split()) for name in one.names)
    return f"{' or '.join(names)}{'' if one.verified else '*'}"
