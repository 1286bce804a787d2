"""Trials as text: side by side, a sheet to taste by, what was learned."""

from __future__ import annotations

from typing import TYPE_CHECKING

from formulate.report.plain import notes_text, paragraph, shortened, table_text
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.learn.comparison import Comparison, Row
    from formulate.learn.tasting import TasteTest, TastingSheet

__all__ = ["compare_text", "key_text", "sheet_text"]

NAME_WIDTH = 15
SIDE_BY_SIDE = 3


@on_screen
def compare_text(record: Comparison) -> str:
    """Write trials side by side, at most 80 columns; more than three in several tables."""
    lines: list[str] = []
    for start in range(0, len(record.trials), SIDE_BY_SIDE):
        places = range(start, min(start + SIDE_BY_SIDE, len(record.trials)))
        head = ["", *(shortened(record.trials[at], NAME_WIDTH) for at in places), ""]
        plans = ["drew", *(record.plans[at] for at in places), ""]
        rows = [[row.what, *(_cell(row, at) for at in places), row.unit] for row in record.rows]
        lines += [*table_text([head, plans, *rows], right=range(1, len(places) + 1)), ""]
    if any(row.best for row in record.rows):
        lines.append("* best in its row.  ± holds 95 of 100.")
    for test in record.tests:
        lines += paragraph(_test_line(test))
    if record.dose_factor is not None:
        lines += paragraph(
            f"Thinned to {1.0 / record.dose_factor:.2g} of itself the stronger one tastes alike: take "
            f"{record.dose_factor:.2f} times the dose in the weaker."
        )
    lines += paragraph(record.following)
    lines += notes_text("Good to know", record.notes)
    return "\n".join(lines)


def _cell(row: Row, at: int) -> str:
    value = row.values[at]
    if value is None:
        return "-"
    doubt = f" ±{row.doubts[at]:.{row.digits}f}" if row.doubts[at] else ""
    return f"{value:.{row.digits}f}{doubt}{'*' if at in row.best else ' '}"


def _test_line(test: TasteTest) -> str:
    what = {"triangle": "picked the odd glass", "paired": "preferred the same one"}[test.test]
    verdict = (
        ("a difference is shown" if test.test == "triangle" else "a preference is shown")
        if test.shown
        else "not shown"
    )
    more = ""
    if not test.shown:
        more = (
            f"; it takes {test.needed} of {test.of}" if test.needed is not None else "; it takes more tasters"
        )
    return (
        f"{test.right} of {test.of} {what}: by guessing alone {100.0 * test.chance:.2g} in 100 tables would "
        f"(p = {test.chance:.2g}), so {verdict}{more}."
    )


@on_screen
def sheet_text(sheet: TastingSheet) -> str:
    """Write the sheet for the tasters: codes only."""
    if sheet.test == "triangle":
        ask = "Two of the three are alike. Taste from left to right and ring the odd one."
    else:
        ask = "Taste from left to right, water between, and mark each from 1 (hardly) to 5 (very)."
    words = "bitter, sour, sweet, fruit, herbal, body, rough, length"
    rows = [["taster", *("glass" for _ in sheet.tasters[0])]]
    for number, glasses in enumerate(sheet.tasters, start=1):
        rows.append([str(number), *(str(glass.code) for glass in glasses)])
    lines = [*paragraph(ask), "", *table_text(rows, right=range(len(rows[0])))]
    if sheet.test != "triangle":
        lines += ["", *paragraph(f"Marks for: {words}.")]
    lines += ["", *paragraph(f"Who pours needs the key: the same command with --key (seed {sheet.seed}).")]
    return "\n".join(lines)


@on_screen
def key_text(sheet: TastingSheet) -> str:
    """Write which glass is which, for whoever pours."""
    rows = [["taster", *("glass" for _ in sheet.tasters[0])]]
    letters = {drink: chr(ord("A") + number) for number, drink in enumerate(sheet.drinks)}
    for number, glasses in enumerate(sheet.tasters, start=1):
        rows.append([str(number), *(f"{glass.code} {letters[glass.drink]}" for glass in glasses)])
    named = [f"{letter} is {drink}." for drink, letter in letters.items()]
    return "\n".join(["Not for the tasters.", *named, "", *table_text(rows, right=[0])])
