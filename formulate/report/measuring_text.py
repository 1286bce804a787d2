"""What is there already, as text: readings, a jar, and a batch put right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.errors import VESSEL_TOO_SMALL
from formulate.report.first_screen import More, closing, more_line
from formulate.report.numbers import band_text, grams, money, target_value
from formulate.report.plain import measured_at, notes_text, paragraph, table_text, too_small_lines
from formulate.report.rules_text import caution_lines, law_lines, over_lines
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.adjust_record import Adjustment, CardRow
    from formulate.jobs.jar import JarRecord
    from formulate.learn.doubt import Figure
    from formulate.learn.readings import GaugeRecord

__all__ = ["adjust_text", "card_text", "care_text", "gauge_text", "jar_text"]


@on_screen
def gauge_text(record: GaugeRecord) -> str:
    """Write what readings say, at most 80 columns."""
    readings = record.readings
    read = []
    if readings.density is not None:
        read.append(f"{readings.density.text} at {readings.density_c:.3g} °C")
    if readings.refraction is not None:
        read.append(f"{readings.refraction.text} at {readings.refraction_c:.3g} °C")
    lines = [*paragraph(f"{readings.name + ': ' if readings.name else ''}{' and '.join(read)}"), ""]
    rows = [["in the drink, at 20 °C", "is", "", "between", "and", ""]]
    for name, figure, unit, digits, most in (
        ("strength", record.strength, "% vol", 1, 100.0),
        ("sugar, as sucrose", record.sugar, "g/L", 0, float("inf")),
    ):
        digits = _digits(figure, digits)
        low, high = max(figure.value - figure.expanded, 0.0), min(figure.value + figure.expanded, most)
        ends = [f"{low:.{digits}f}", f"{high:.{digits}f}"] if figure.expanded else ["", ""]
        rows.append([name, f"{figure.value:.{digits}f}", unit, *ends, "as given" if figure.given else ""])
    lines += table_text(rows, right=(1, 3, 4))
    lines += ["", *paragraph("It lies between them in 95 of 100 such readings.")]
    doubted = next((one for one in (record.strength, record.sugar) if not one.given and one.doubts), None)
    if doubted is not None:
        unit = "% vol" if doubted is record.strength else "g/L"
        digits = max(_digits(doubted, 1), 1)
        causes = [(doubt.cause, f"{doubt.expanded:.{digits}f}") for doubt in doubted.doubts]
        shown = [f"{cause} ±{much}" for cause, much in causes if float(much) > 0.0]
        lines += paragraph(f"What it comes from, in {unit}: {'; '.join(shown)}.")
    lines += notes_text("Good to know", record.notes)
    return "\n".join(lines)


def _digits(figure: Figure, usual: int) -> int:
    """Show one digit more where the doubt is small enough to mean something."""
    return usual + 1 if 0.0 < figure.expanded < 0.3 * 10.0**-usual * 10.0 else usual


@on_screen
def jar_text(record: JarRecord) -> str:
    """Write what went in, came out and stayed behind, at most 80 columns; the drink is shown besides."""
    lines = [f"{record.weighed_in_kg:.3f} kg went in."]
    for out in record.out:
        where = "stayed in what was strained out" if out.in_cake else "was lost"
        lines += paragraph(
            f"{out.step}: {out.text} came out ({out.mass_kg:.3f} kg, {out.volume_l:.2f} L); "
            f"{out.missing_kg * 1000:.0f} g {where}. By the starting values it had been "
            f"{out.calculated_kg:.3f} kg, {out.calculated_l:.2f} L."
        )
    if not record.out:
        lines += paragraph("What came out is not said: losses are the starting values of the ingredients.")
    for fill in record.fills:
        lines += paragraph(
            f"{fill.step}: {fill.volume_l:.2f} L with the solids in it, {fill.share * 100:.0f} % of "
            f"{fill.vessel} ({fill.holds_l:g} L)."
        )
    return "\n".join(lines)


@on_screen
def adjust_text(record: Adjustment, more: More = More.NONE) -> str:
    """Write what to add and what it does, at most 80 columns; `care_text` goes below it, and below a card.

    Parameters
    ----------
    record : Adjustment
    more : More
        Which parts beyond the first screen.
    """
    lines = over_lines(record.law)
    lines += paragraph(
        f"{record.name}: {record.volume_l:.2f} L ({record.mass_kg:.3f} kg), for {record.bottle}"
    )
    lines += too_small_lines(record.notes)
    lines.append("")
    if record.status == "nothing":
        doubted = any(note.code == "within_doubt" for note in record.notes)
        lines += paragraph(
            "Nothing to add: no aim is missed by more than your reading tells."
            if doubted
            else "Nothing to add: it meets every aim that could be looked at."
        )
    elif record.status == "impossible":
        room = [one.limit.origin.text for one in record.clash if one.limit.origin.name == "room"]
        lines += paragraph(
            f"There is {room[0]}, and nothing that fits in brings it onto all its aims (proved). Leave "
            "--room out to see what it would take."
            if room
            else "Adding does not help: nothing that dissolves, in any amount, brings it onto all its aims "
            "(proved)."
        )
    else:
        priced = any(addition.cost is not None for addition in record.additions)
        rows = [["add", "g", "or measure", record.currency if priced else ""]]
        for one in record.additions:
            cost = "" if one.cost is None else money(one.cost)
            rows.append([one.ingredient, grams(one.mass_kg, down=one.no_more), one.measure.text, cost])
        lines += table_text(rows, right=(1, 3))
        if more is More.ALL:
            lines += measured_at(one.measure for one in record.additions)
        lines += ["", *paragraph(_claim(record))]
        if record.status == "partly":
            lines += paragraph("It mends what adding can mend. What it does not is said below.")
    lines.append("")
    impossible = record.status == "impossible"
    head = ["in the batch", "now", "" if impossible else "then", "", "aim"]
    rows = [head]
    for aim in record.aims:
        lower = None if math.isinf(aim.lower) else aim.lower
        upper = None if math.isinf(aim.upper) else aim.upper
        after = "" if impossible else target_value(aim.target, aim.after, lower, upper)
        rows.append(
            [
                aim.target,
                target_value(aim.target, aim.before, lower, upper),
                after,
                aim.unit,
                band_text(aim.target, lower, upper),
            ]
        )
    lines += table_text(rows, right=(1, 2))
    if More.LAW in more:
        lines += law_lines(record.law)
    others = [note for note in record.notes if note.code != VESSEL_TOO_SMALL]
    if impossible or More.WHY in more:
        lines += notes_text("What would help" if impossible else "Good to know", others)
    return "\n".join(lines)


def _claim(record: Adjustment) -> str:
    added = f"{grams(record.added_kg)} g in all"
    if record.drink is not None:
        added += f"; there will be {record.drink.volume_l:.2f} L"
    what = "cheaper" if record.by_cost else "smaller"
    if record.proved:
        return f"{added}. No {what} addition does it (proved to 0.1 %)."
    return f"{added}. The best found; that none is {what} was not proved."


@on_screen
def card_text(rows: Sequence[CardRow], volume_l: float) -> str:
    """Write the table of a prep card: if it reads this, add that."""
    lines = ["", f"If {volume_l:.2f} L of it reads ... add:"]
    table = [["% vol", "g/L", "add"]]
    for row in rows:
        if row.additions is None:
            what = f"cannot be put right by adding{f': {row.why}' if row.why else ''}"
        elif not row.additions:
            what = "nothing"
        else:
            what = ", ".join(f"{grams(mass)} g {name}" for name, mass in row.additions)
        table.append([f"{row.strength_pct_vol:.2f}", f"{row.sugar_g_l:.0f}", what])
    for line in table_text(table, right=(0, 1)):
        lines += paragraph(line, rest=" " * 12) if len(line) > 80 else [line]
    return "\n".join(lines)


@on_screen
def care_text(record: Adjustment, more: More = More.NONE) -> str:
    """Write what the batch put right, and who makes it by the card, must take care of.

    Parameters
    ----------
    record : Adjustment
    more : More
        Which parts beyond the first screen.
    """
    told = record.status == "impossible" or More.WHY in more
    lines = ["", *closing(() if told else record.notes, record.cautions, more)]
    if more is not More.ALL:
        lines.append(more_line(more, cautions=record.cautions, law=bool(record.law and record.law.caps)))
    return "\n".join(
        [*lines, *(caution_lines(record.cautions, in_full=True) if More.CAUTIONS in more else ())]
    )
