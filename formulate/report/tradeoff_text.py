"""A trade-off as a table with a plot of letters, and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.files.measures import COST
from formulate.report.numbers import money, percent, target_value
from formulate.report.plain import WIDTH, notes_text, paragraph, table_text
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.tradeoff_record import Entry, ProvedEnd, Tradeoff, TradeoffPoint

__all__ = ["plot_lines", "thinned", "tradeoff_text"]

ROWS = 12
PLOT_HEIGHT, PLOT_WIDTH = 12, 64
RECIPE, NO_RECIPE = "recipe", "no recipe"


@on_screen
def tradeoff_text(record: Tradeoff) -> str:
    """Show a dozen rows, a plot of every point, and where an ingredient comes in or goes out."""
    head = f"{record.name}: {record.vary} {_span(record)} against {record.against}"
    lines = paragraph(head)
    what = "the cheapest recipe" if record.against == COST else "the least and the most"
    lines += paragraph(f"({what} at each value, {record.vary} {record.moved} that; other limits as they are)")
    lines += ["", *table_text(_rows(record), right=(0, 1, 2)), ""]
    lines += plot_lines(record)
    lines += _emptiness(record)
    lines += _entry_lines(record)
    proved = _proved_lines(record)
    lines += ["", *proved] if proved and lines[-1] else proved
    lines += notes_text("Good to know", record.notes)
    return "\n".join(lines).rstrip()


def thinned(points: Sequence[TradeoffPoint], most: int = ROWS) -> list[int]:
    """Pick positions evenly, the first and the last among them."""
    if len(points) <= most:
        return list(range(len(points)))
    return [round(index * (len(points) - 1) / (most - 1)) for index in range(most)]


def plot_lines(record: Tradeoff) -> list[str]:
    """Draw every point with letters, at most 80 columns wide.

    ``*`` is the cost or the least, ``+`` the most of another target; on the axis ``x`` is a value without
    a recipe, ``?`` one that was not settled.
    """
    points = record.points
    values = [value for point in points for value in (point.low, point.high) if value is not None]
    if not values:
        return []
    bottom, top = min(values), max(values)
    height = top - bottom or 1.0
    first, last = points[0].value, points[-1].value
    grid = [[" "] * PLOT_WIDTH for _ in range(PLOT_HEIGHT)]
    axis = ["-"] * PLOT_WIDTH
    for point in points:
        column = round((point.value - first) / (last - first) * (PLOT_WIDTH - 1))
        for value, mark in ((point.high, "+"), (point.low, "*")):
            if value is not None:
                grid[round((top - value) / height * (PLOT_HEIGHT - 1))][column] = mark
        if point.found != RECIPE:
            axis[column] = "x" if point.found == NO_RECIPE else "?"
    labels = [_shown(record.against, value, height) for value in (top, bottom)]
    wide = min(max(map(len, labels)), WIDTH - PLOT_WIDTH - 2)
    lines = []
    for number, row in enumerate(grid):
        label = labels[0] if number == 0 else labels[1] if number == PLOT_HEIGHT - 1 else ""
        lines.append(f"{label.rjust(wide)} |{''.join(row)}".rstrip())
    lines.append(f"{' ' * wide} +{''.join(axis)}")
    ends = [_shown(record.vary, value, abs(last - first)) for value in (first, last)]
    middle = f"{record.vary} {record.unit}".strip()
    room = PLOT_WIDTH - len(ends[0]) - len(ends[1])
    lines.append(f"{' ' * (wide + 2)}{ends[0]}{middle.center(room)}{ends[1]}")
    return [*lines, ""]


def _rows(record: Tradeoff) -> list[list[str]]:
    of_cost = record.against == COST
    unit = f" {record.unit}" if record.unit else ""
    other = f"{record.against} {record.against_unit}".strip()
    head = [f"{record.vary}{unit}", other if of_cost else f"least {other}"]
    head += [f"per 1{unit} more"] if of_cost else ["most"]
    rows = [[*head, ""]]
    wide = abs(record.points[-1].value - record.points[0].value)
    spread = _spread(record)
    for position in thinned(record.points):
        point = record.points[position]
        low = "-" if point.low is None else _shown(record.against, point.low, spread)
        if of_cost:
            second = _slope_text(record.points, position)
        else:
            open_ended = point.found == RECIPE and point.high is None
            second = "any" if open_ended else "-"
            if point.high is not None:
                second = _shown(record.against, point.high, spread)
        told = "" if point.found == RECIPE else point.found
        if record.ceiling is not None and point.low is not None and point.low > record.ceiling * (1.0 + 1e-7):
            told = f"above your {target_value(record.against, record.ceiling)}"
        rows.append([_shown(record.vary, point.value, wide), low, second, told])
    return rows


def _slope_text(points: Sequence[TradeoffPoint], position: int) -> str:
    """Cost per unit, from the points beside; empty at a gap."""
    near = [points[index] for index in (position - 1, position + 1) if 0 <= index < len(points)]
    ends = near if len(near) == 2 else [near[0], points[position]]
    if any(point.low is None for point in (*ends, points[position])):
        return ""
    rise = (ends[1].low or 0.0) - (ends[0].low or 0.0)
    slope = rise / (ends[1].value - ends[0].value)
    return f"{slope:+.2f}" if abs(slope) >= 0.1 else f"{slope:+.4f}"


def _emptiness(record: Tradeoff) -> list[str]:
    """Say which values have no recipe, run by run."""
    lines: list[str] = []
    runs: list[list[TradeoffPoint]] = []
    for point in record.points:
        if runs and runs[-1][0].found == point.found:
            runs[-1].append(point)
        else:
            runs.append([point])
    wide = abs(record.points[-1].value - record.points[0].value)
    for run in runs:
        if run[0].found == RECIPE:
            continue
        ends = [_shown(record.vary, point.value, wide) for point in (run[0], run[-1])]
        span = ends[0] if len(run) == 1 else f"{ends[0]} to {ends[1]}"
        why = "no recipe exists" if run[0].found == NO_RECIPE else "neither a recipe nor a proof was found"
        lines += paragraph(f"{record.vary} {span} {record.unit}: {why} within the other limits.")
    return lines


def _proved_lines(record: Tradeoff) -> list[str]:
    lines: list[str] = []
    for end in record.proved:
        lines += paragraph(_proved_text(record, end), first="  · ", rest="    ")
    return ["Proved at the ends:", *lines] if lines else []


def _proved_text(record: Tradeoff, end: ProvedEnd) -> str:
    wide = abs(record.points[-1].value - record.points[0].value)
    where = f"{record.vary} {_shown(record.vary, end.value, wide)} {record.unit}".rstrip()
    if end.cost_per_l is None or end.proven_gap is None:
        none = "no recipe exists." if end.found == NO_RECIPE else "neither a recipe nor a proof was found."
        return f"{where}: {none}"
    cost = f"{money(end.cost_per_l)} {record.against_unit}"
    return f"{where}: {cost}, and no recipe is cheaper by more than {percent(end.proven_gap)} %."


def _entry_lines(record: Tradeoff) -> list[str]:
    wide = abs(record.points[-1].value - record.points[0].value)
    lines: list[str] = []
    for entry in record.entries[:ROWS]:
        lines += paragraph(_entry_text(record, entry, wide), first="  · ", rest="    ")
    hidden = len(record.entries) - ROWS
    if hidden > 0:
        lines.append(f"  and {hidden} more: see --json")
    return ["What goes in changes:", *lines] if lines else []


def _entry_text(record: Tradeoff, entry: Entry, wide: float) -> str:
    word = "comes in" if entry.comes_in else "goes out"
    return f"from {_shown(record.vary, entry.value, wide)} {record.unit} {entry.ingredient} {word}"


def _span(record: Tradeoff) -> str:
    wide = abs(record.points[-1].value - record.points[0].value)
    first, last = (_shown(record.vary, record.points[index].value, wide) for index in (0, -1))
    return f"{first} to {last} {record.unit}".rstrip()


def _spread(record: Tradeoff) -> float:
    values = [value for point in record.points for value in (point.low, point.high) if value is not None]
    return max(values) - min(values) if values else 0.0


def _shown(name: str, value: float, spread: float) -> str:
    """Write a value with the digits of its kind, and more where the whole range is narrow."""
    usual = target_value(name, value)
    digits = len(usual.partition(".")[2])
    while digits < 5 and spread < 20.0 * 10.0**-digits:
        digits += 1
    return f"{value:.{digits}f}" if spread else usual
