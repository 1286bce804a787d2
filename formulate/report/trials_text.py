"""Trials as text: side by side, a sheet to taste by, what was learned."""

from __future__ import annotations

from typing import TYPE_CHECKING

from formulate.report.plain import notes_text, paragraph, shortened, table_text
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.jobs.learn import Taught
    from formulate.learn.comparison import Comparison, Row
    from formulate.learn.learned import Learned
    from formulate.learn.tasting import TasteTest, TastingSheet

__all__ = ["compare_text", "key_text", "learned_text", "sheet_text"]

NAME_WIDTH = 15
SIDE_BY_SIDE = 3
MOST_TOGETHER = 3
WHOLE_ABOVE = 100.0
LEAST_CORRELATION, MOST_PAIRS = 0.5, 8
"""Correlations told, and how many at most."""


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


def learned_text(record: Taught, *, why: bool = False) -> str:
    """Write what trials taught, at most 80 columns; with `why` every figure, residual and correlation."""
    learned = record.learned
    count = len(learned.trials)
    lines = paragraph(f"{count} trial{'' if count == 1 else 's'}: {'; '.join(learned.trials)}.")
    told = [thing for thing in learned.things if thing.kept or why]
    if told:
        rows = [["what your kitchen does", "library", "yours", "between", "and", ""]]
        for thing in told:
            figures = (thing.library, thing.own, max(thing.low, 0.0), thing.high)
            name = f"{thing.ingredient}: {thing.what}" if thing.ingredient else thing.what
            rows.append([name, *map(_figure, figures), thing.unit])
        lines += ["", *table_text(rows, right=(1, 2, 3, 4))]
        lines += ["It lies between them in 95 of 100."]
    else:
        lines += ["", "They tell too little of any one thing to change a figure."]
    lines.append("")
    if learned.not_told_apart:
        lines.append("Known only together, shared as the library doubts them:")
        for text in learned.not_told_apart[: None if why else MOST_TOGETHER]:
            lines += paragraph(text, first="  · ", rest="    ")
        if not why and len(learned.not_told_apart) > MOST_TOGETHER:
            lines.append(f"  and {len(learned.not_told_apart) - MOST_TOGETHER} more: add --why")
        lines += ["A jar with one of them alone would tell."]
    lines += notes_text("Look again", learned.notes)
    if why:
        lines += _residual_lines(learned)
    lines += ["", *paragraph(_written_line(record))]
    return "\n".join(lines)


def _figure(value: float) -> str:
    return f"{value:.0f}" if value >= WHOLE_ABOVE else f"{value:.3g}"


def _written_line(record: Taught) -> str:
    own = record.own_already
    text = ""
    if own:
        text = f" {', '.join(own)} has own values that somebody wrote: change those by hand."
    if record.written:
        return f"Written on the shelf: {', '.join(record.written)}. learn --undo takes it out again.{text}"
    return (
        f"Nothing was written. With --write your shelf gets them as own values, which --undo takes out.{text}"
    )


def _residual_lines(learned: Learned) -> list[str]:
    rows = [["reading against what the rest says", "", "off, in standard uncertainties"]]
    rows += [[one.trial, one.what, f"{one.studentized:+.1f}"] for one in learned.residuals]
    lines = ["", *table_text(rows, right=(2,))]
    pairs = [
        (abs(value), first, second, value)
        for first, row in enumerate(learned.correlations)
        for second, value in enumerate(row[:first])
        if abs(value) >= LEAST_CORRELATION
    ]
    for _, first, second, value in sorted(pairs, reverse=True)[:MOST_PAIRS]:
        one, other = learned.things[first], learned.things[second]
        text = f"{one.ingredient} {one.what} with {other.ingredient} {other.what}".replace("  ", " ").strip()
        lines += paragraph(f"correlation {value:+.2f}: {text}", first="  · ", rest="    ")
    lines += paragraph(
        f"Chance that trials which fit lie as far off: {100.0 * learned.chance_of_misfit:.2g} %."
    )
    return lines
