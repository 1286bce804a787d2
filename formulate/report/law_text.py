"""Limits on restricted substances, as lines on the screen and as a part of every document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from formulate.report.plain import paragraph, table_text

if TYPE_CHECKING:
    from formulate.rules.records import CapRecord, LawRecord

__all__ = ["law_lines", "over_lines"]

CONTENTS_DOUBT = "What plants hold at worst is mostly from memory, not verified (standards plant-contents)."


def law_lines(law: LawRecord | None) -> list[str]:
    """Show the nearest limit on each substance, with its source; nothing where there is none.

    Parameters
    ----------
    law : LawRecord or None
    """
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
    """Say above everything else that a drink may not be served; nothing where it may.

    Parameters
    ----------
    law : LawRecord or None
    """
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
