"""What law and care say to a drink, on the screen: limits, names, and what to mind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.describe.records import ADVICE
from formulate.errors import Note
from formulate.report.plain import paragraph, table_text

if TYPE_CHECKING:
    from formulate.rules.records import CapRecord, CategoryRecord, LawRecord

__all__ = [
    "SHOWN_AT_FIRST",
    "UNVERIFIED",
    "category_lines",
    "caution_lines",
    "fitting_names",
    "guest_lines",
    "law_lines",
    "over_lines",
]

CONTENTS_DOUBT = "What plants hold at worst is mostly from memory, not verified (standards plant-contents)."


def law_lines(law: LawRecord | None) -> list[str]:
    """Show the nearest limit on each substance, with its source; nothing where there is none."""
    if law is None or not law.caps:
        return []
    nearest: dict[str, CapRecord] = {}
    for cap in law.caps:  # the nearest comes first; a lifted one must not hide one that is kept
        if cap.lifted is None:
            nearest.setdefault(cap.substance, cap)
    shown = [*nearest.values(), *(cap for cap in law.caps if cap.lifted is not None)]
    rows = [["limits of the law, at worst", "may be", "", "at most", "where", ""]]
    rows += [
        [
            cap.substance,
            f"{cap.value:.3g}",
            cap.unit,
            f"{cap.most:g}",
            ", ".join(cap.jurisdiction),
            _verdict(cap),
        ]
        for cap in shown
    ]
    lines = ["", *table_text(rows, right=(1, 3))]
    for source in dict.fromkeys(cap.provenance for cap in shown):
        lines += paragraph(source, first="  ", rest="  ")
    return [*lines, *paragraph(CONTENTS_DOUBT, first="  ", rest="  ")]


def over_lines(law: LawRecord | None) -> list[str]:
    """Say above everything else that a drink may not be served; nothing where it may."""
    tightest: dict[str, CapRecord] = {}
    for cap in () if law is None else law.over:
        tightest.setdefault(cap.substance, cap)
    return [
        line
        for cap in tightest.values()
        for line in paragraph(
            f"OVER THE LIMIT: {cap.substance} {cap.value:.3g} {cap.unit}, at most {cap.most:g} is allowed. "
            "Do not serve it."
        )
    ] + [line for text in (law.too_weak if law else ()) for line in paragraph(f"NOT ALLOWED: {text}.")]


def _verdict(cap: CapRecord) -> str:
    if cap.lifted is not None:
        return "NOT KEPT"
    if cap.over:
        return "OVER THE LIMIT"
    return "at its limit" if cap.binding else ""


MOST_NEAR = 2
NEAR_ENOUGH = 0.6
"""A name whose figures are further off than this share of what is asked is another drink."""

UNVERIFIED = "* from memory, or a copy of the law not seen: check before you print a label."


def category_lines(categories: Sequence[CategoryRecord]) -> list[str]:
    """Say the names that fit, law by law, and what is missing for the nearest others."""
    if not categories:
        return []
    told, marks = fitting_names(categories)
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


def fitting_names(categories: Sequence[CategoryRecord]) -> tuple[list[str], bool]:
    """Say the names that fit, law by law; a star marks what rests on memory, and whether there is one."""
    told: dict[str, list[str]] = {}
    marks = False
    for place in dict.fromkeys(place for one in categories for place in one.jurisdictions):
        fitting = [one for one in categories if one.fits and place in one.jurisdictions]
        plain = [one for one in fitting if not one.general and not one.by_hand]
        # A catch-all is worth a word only where nothing says more.
        shown = [one for one in fitting if not (one.general and plain)]
        marks |= not all(one.verified for one in shown)
        names = [f"{_name(one)}{f', if {one.by_hand}' if one.by_hand else ''}" for one in shown]
        told.setdefault("; ".join(names) or "none of the names here fits", []).append(place)
    return [f"{', '.join(places)}: {names}" for names, places in told.items()], marks


def _name(one: CategoryRecord) -> str:
    unaccented = {"creme": "crème"}  # the same name typed on another keyboard
    names = dict.fromkeys(" ".join(unaccented.get(word, word) for word in name.split()) for name in one.names)
    return f"{' or '.join(names)}{'' if one.verified else '*'}"


SHOWN_AT_FIRST = 5
"""More than this is a wall of text; what guests must know, and fire, poison and burst glass, is never cut."""

GRAVE, GRAVE_AT_FIRST = 1, 2
"""Fire, poison, burst glass; so many of them stand on a first screen."""

OTHERS_AT_LEAST = 2
"""So many of the others are shown however many are about guests."""

IN_FULL_ONLY = 4
"""From this rank on a caution is good to know once, not on every screen."""


def caution_lines(cautions: Sequence[Note], *, in_full: bool = False, title: str = "Take care") -> list[str]:
    """Lay out cautions: all that guests must know, then the most serious of the others.

    Parameters
    ----------
    in_full : bool, default False
        All of them with text, source and place; else a line each of the first few.
    """
    if not cautions:
        return []
    shown = cautions if in_full else _at_first(cautions)
    lines = ["", title]
    for note in shown:
        lines += paragraph(_full(note) if in_full else note.short or note.text, first="  · ", rest="    ")
    hidden = len(cautions) - len(shown)
    if hidden:
        lines.append(f"  and {hidden} more: add --cautions")
    return [*lines, f"  {ADVICE}"]


def guest_lines(cautions: Sequence[Note]) -> list[str]:
    """Lay out all that guests must know, and the gravest for whoever makes the drink: fire, poison, glass."""
    grave = [note for note in cautions if note.rank == GRAVE and not note.for_guests]
    shown = [*(note for note in cautions if note.for_guests), *grave[:GRAVE_AT_FIRST]]
    lines = []
    for note in shown:
        lines += paragraph(note.short or note.text, first="  ! ", rest="    ")
    return [*lines, f"  {ADVICE}"] if lines else []


def _at_first(cautions: Sequence[Note]) -> list[Note]:
    guests = [note for note in cautions if note.for_guests]
    others = [note for note in cautions if not note.for_guests and note.rank < IN_FULL_ONLY]
    grave = sum(note.rank == GRAVE for note in others)
    return [*guests, *others[: max(grave, SHOWN_AT_FIRST - len(guests), OTHERS_AT_LEAST)]]


def _full(note: Note) -> str:
    if note.code == "ingredient":
        return note.text
    return f"{note.place.capitalize()}: {note.text} [{note.source}]"
