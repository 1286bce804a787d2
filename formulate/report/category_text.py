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
    for one in near[:MOST_NEAR]:
        text = f"For {_name(one)} ({', '.join(one.jurisdictions)}): {' and '.join(one.missing)}."
        marks |= not one.verified
        lines += paragraph(text, first="  · ", rest="    ")
    if marks:
        lines.append(f"  {UNVERIFIED}")
    return ["", "May be called", *lines]


def fitting_names(categories: Sequence[CategoryRecord]) -> list[str]:
    """Say the names that fit, law by law; a star marks what rests on memory."""
    told = []
    for place in dict.fromkeys(", ".join(one.jurisdictions) for one in categories):
        fitting = [one for one in categories if one.fits and ", ".join(one.jurisdictions) == place]
        plain = [one for one in fitting if not one.general and not one.by_hand]
        # A catch-all is worth a word only where nothing says more.
        names = [
            f"{_name(one)}{f', if {one.by_hand}' if one.by_hand else ''}"
            for one in fitting
            if not (one.general and plain)
        ]
        told.append(f"{place}: {'; '.join(names) if names else 'none of the names here fits'}")
    return told


def _name(one: CategoryRecord) -> str:
    unaccented = {"creme": "crème"}  # the same name typed on another keyboard
    names = dict.fromkeys(" ".join(unaccented.get(word, word) for word in name.split()) for name in one.names)
    return f"{' or '.join(names)}{'' if one.verified else '*'}"
