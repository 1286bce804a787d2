"""Infusing plans to the terminal and to JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.errors import VESSEL_TOO_SMALL
from formulate.quantity.words import duration
from formulate.report.first_screen import More, closing, more_line, rest
from formulate.report.numbers import money
from formulate.report.plain import WIDTH, notes_text, paragraph, too_small_lines
from formulate.report.rules_text import caution_lines, law_lines, over_lines
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.infuse_record import InfuseRecord, Plan
    from formulate.files.steps import EnzymeOrder

__all__ = ["plans_text"]

GAP = 1
WORKING_DAY_H = 12.0
PARTS = frozenset({"pith", "zest", "peel", "juice", "flesh"})


SHOWN_PLANS = 5
"""Rows of the first screen; all of them stand under `--all`."""


@on_screen
def plans_text(record: InfuseRecord, more: More = More.NONE) -> str:
    """Write a table of plans, at most 80 columns.

    Parameters
    ----------
    record : InfuseRecord
    more : More
        Which parts beyond the first screen.
    """
    lines = _everything(record) if more is More.ALL else _first(record, more)
    return "\n".join(line.rstrip() for line in lines)


def _first(record: InfuseRecord, more: More) -> list[str]:
    lines = [*over_lines(record.law), f"{record.name}: plans for `{record.step}`"]
    lines += too_small_lines(record.notes)
    shown = _nearest_rows(record)
    lines += ["", *_table(record, shown)]
    left = sum(plan.enzyme is None for plan in record.plans) - len(shown)
    lines += paragraph(_limits_in_short(record) + (f" {left} more plans: --all." if left else ""))
    lines += [
        "",
        *paragraph(record.sentence),
        *_refined(record),
        *paragraph(_clock(record)),
        *_next(record),
        *_probe(record),
        "",
    ]
    lines += closing(record.notes, record.cautions, more)
    lines.append(more_line(more, cautions=record.cautions, law=bool(record.law.caps)))
    return lines + rest(record.notes, record.cautions, more, law=record.law)


def _nearest_rows(record: InfuseRecord) -> list[Plan]:
    """Choose the rows that somebody weighs against the plan to take: it, and the next by the clock."""
    plain = [plan for plan in record.plans if plan.enzyme is None]
    place = next(index for index, plan in enumerate(plain) if _mark(record, plan))
    first = max(0, min(place - SHOWN_PLANS // 2, len(plain) - SHOWN_PLANS))
    return plain[first : first + SHOWN_PLANS]


def _limits_in_short(record: InfuseRecord) -> str:
    limits = record.limits
    text = f"A figure with ! misses its limit: {limits.drawn * 100:.0f} % drawn out"
    if record.chosen.colour_left is not None:
        text += f", {limits.colour_left * 100:.0f} % of the colour left"
    if record.chosen.harsh_share is not None:
        text += f", {limits.harsh * 100:.0f} % coarse"
    if limits.pectin_left_g_l is not None and any(plan.enzyme is not None for plan in record.plans):
        text += f", {limits.pectin_left_g_l:g} g/L pectin"
    return f"{text}, {limits.hottest_c:.0f} °C."


def _everything(record: InfuseRecord) -> list[str]:
    lines = [*over_lines(record.law), f"{record.name}: plans for `{record.step}`"]
    lines += paragraph(
        f"({record.basis}; {record.liquor_l:.2f} L of liquor at {record.strength_pct_vol:.0f} % vol)"
    )
    lines += too_small_lines(record.notes)
    lines += ["", *_table(record, [plan for plan in record.plans if plan.enzyme is None]), ""]
    lines += paragraph(_legend(record))
    lines += ["", *paragraph(_yield(record)), ""]
    lines += paragraph(record.sentence)
    lines += [*_refined(record), *paragraph(_clock(record)), *_next(record), *_probe(record)]
    lines += law_lines(record.law)
    lines += notes_text("Good to know", [note for note in record.notes if note.code != VESSEL_TOO_SMALL])
    return lines + caution_lines(record.cautions, in_full=True)


def _refined(record: InfuseRecord) -> list[str]:
    if record.refined is None:
        return []
    refined = record.refined
    enzyme = "" if refined.enzyme is None else f" with enzyme {refined.enzyme}"
    return paragraph(
        f"Between the rows, {refined.name}{enzyme} keeps every limit in {duration(refined.clock_h)}: "
        f"{_in_words(refined)}."
    )


def _probe(record: InfuseRecord) -> list[str]:
    if record.probe is None:
        return []
    probe = record.probe
    return paragraph(
        f"Probe: {probe.reading_c:g} °C after {duration(probe.time_h)} in a {probe.bath_c:g} °C bath. "
        f"The middle is warm in about {duration(probe.remaining_h)} more, at the latest in "
        f"{duration(probe.latest_remaining_h)}."
    )


def _table(record: InfuseRecord, plain: Sequence[Plan]) -> list[str]:
    """Lay out a row per time and temperature; the ways of giving enzyme stand beside each other."""
    beside = {
        (plan.time_h, plan.temperature_c, plan.enzyme): plan
        for plan in record.plans
        if plan.enzyme is not None
    }
    best = record.chosen
    columns: list[tuple[str, list[str]]] = [("", [_mark(record, plan) for plan in plain])]
    columns.append(("plan", [_flag(plan.short_name, plan, "hottest") for plan in plain]))
    tail: list[tuple[str, list[str]]] = []
    if any(plan.bitterness_value > 0.0 for plan in plain):
        tail.append(("bitter", [f"{plan.bitterness_value:.0f}" for plan in plain]))
    if best.colour_left is not None:
        tail.append(("colour left %", [_share(plan.colour_left, plan, "colour_left") for plan in plain]))
    if best.harsh_share is not None:
        tail.append(("coarse %", [_share(plan.harsh_share, plan, "harsh") for plan in plain]))
    orders: tuple[tuple[EnzymeOrder, str], ...] = (
        ("before spirit", "enzyme first"),
        ("with spirit", "enzyme with"),
    )
    for order, head in orders:
        if any(plan.enzyme == order for plan in record.plans):
            rows = [beside[plan.time_h, plan.temperature_c, order] for plan in plain]
            tail.append(
                (f"{head} g/L", [_flag(f"{row.pectin_left_g_l:.1f}", row, "pectin_left") for row in rows])
            )
    clocks = [plan.clock_h for plan in record.plans if plan.enzyme == best.enzyme]
    tail.append(("clock", [duration(_to_five_minutes(clock_h)) for clock_h in clocks]))
    columns += _drawn_columns(plain, record, WIDTH - sum(_width(column) + GAP for column in columns + tail))
    return _laid_out(columns + tail)


def _drawn_columns(plain: Sequence[Plan], record: InfuseRecord, room: int) -> list[tuple[str, list[str]]]:
    """Give what is drawn out, the least drawn first where not all have room."""
    order = sorted(range(len(record.chosen.drawn)), key=lambda place: record.chosen.drawn[place].share)
    short: set[tuple[str, str, str]] = {
        (plan.command_text, drawn.ingredient, drawn.what)
        for plan in plain
        for drawn in plan.drawn
        if any(miss.limit == "drawn" for miss in plan.misses) and drawn.share < record.limits.drawn
    }
    chosen: dict[int, tuple[str, list[str]]] = {}
    for place in order:
        first = record.chosen.drawn[place]
        both = sum(drawn.ingredient == first.ingredient for drawn in record.chosen.drawn) > 1
        head = _short(first.ingredient, record) + (f" {first.what}" if both else "") + " %"
        cells = []
        for plan in plain:
            drawn = plan.drawn[place]
            late = (plan.command_text, drawn.ingredient, drawn.what) in short and _counts(record, drawn.what)
            cells.append(f"{drawn.share * 100:.0f}{'!' if late else ' '}")
        column = (head, cells)
        if _width(column) + GAP > room:
            continue
        room -= _width(column) + GAP
        chosen[place] = column
    return [chosen[place] for place in sorted(chosen)]


def _short(ingredient: str, record: InfuseRecord) -> str:
    """Shorten `grapefruit-pith` to `pith` where nothing else is pith; wrap other names at hyphens."""
    part = ingredient.rsplit("-", 1)[-1]
    others = {drawn.ingredient for drawn in record.chosen.drawn} - {ingredient}
    if part in PARTS and not any(other.endswith(part) for other in others):
        return part
    return ingredient.replace("-", "- ")


def _counts(record: InfuseRecord, what: str) -> bool:
    kinds = {drawn.what for drawn in record.chosen.drawn}
    return what != "flavour" or kinds == {"flavour"}


def _mark(record: InfuseRecord, plan: Plan) -> str:
    best = record.chosen
    if (plan.time_h, plan.temperature_c) == (best.time_h, best.temperature_c):
        return ">"
    return "+" if plan.name in record.own else ""


def _flag(text: str, plan: Plan, limit: str) -> str:
    return f"{text}{'!' if any(miss.limit == limit for miss in plan.misses) else ' '}"


def _share(share: float | None, plan: Plan, limit: str) -> str:
    return "" if share is None else _flag(f"{share * 100:.0f}", plan, limit)


def _heads(head: str) -> list[str]:
    return head.split(" ")


def _width(column: tuple[str, list[str]]) -> int:
    head, cells = column
    return max(len(part.rstrip()) for part in [*_heads(head), *cells])


def _laid_out(columns: Sequence[tuple[str, list[str]]]) -> list[str]:
    tall = max(len(_heads(head)) for head, _ in columns)
    lines = []
    for row in range(tall):
        parts = []
        for place, column in enumerate(columns):
            words = _heads(column[0])
            word = words[row - (tall - len(words))] if row >= tall - len(words) else ""
            parts.append(word.ljust(_width(column)) if place < 2 else word.rjust(_width(column)))
        lines.append((" " * GAP).join(parts))
    for row in range(len(columns[0][1])):
        parts = [
            column[1][row].ljust(_width(column)) if place < 2 else column[1][row].rjust(_width(column))
            for place, column in enumerate(columns)
        ]
        lines.append((" " * GAP).join(parts))
    return lines


def _legend(record: InfuseRecord) -> str:
    """Explain the columns and say the limits."""
    limits = record.limits
    text = (
        f"Drawn out: of what this liquor can give in the end; at least {limits.drawn * 100:.0f} % is asked."
    )
    plants = list(dict.fromkeys(drawn.ingredient for drawn in record.chosen.drawn))
    free = [name for name in plants if name not in record.held]
    if free and record.held:
        text += f" Only {_listed(record.held)} must reach that; {_listed(free)} need not:"
        text += " no bitterness, no colour."
    if record.chosen.colour_left is not None:
        text += f" Colour left: at least {limits.colour_left * 100:.0f} %."
    if record.chosen.harsh_share is not None:
        text += f" Coarse: of the bitterness; at most {limits.harsh * 100:.0f} %."
    if any(plan.enzyme is not None for plan in record.plans):
        text += f" Enzyme: pectin left, of {record.pectin_g_l:.1f} g/L without"
        text += (
            "."
            if limits.pectin_left_g_l is None
            else f"; at most {limits.pectin_left_g_l:g} g/L for a clear bottle."
        )
        if any(plan.enzyme_hold_h for plan in record.plans):
            hold = next(plan for plan in record.plans if plan.enzyme_hold_h)
            text += (
                f" Enzyme first: {duration(hold.enzyme_hold_h)} at {hold.enzyme_hold_c:.0f} °C with the "
                "fruit alone."
            )
    text += " Clock: from start to bottle, warm-up and straining too"
    text += ", enzyme first." if record.chosen.enzyme == "before spirit" else "."
    if any(plan.name in record.own for plan in record.plans):
        text += " +: asked for."
    text += f" At most {limits.hottest_c:.0f} °C. A figure with ! misses its limit."
    return text


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _yield(record: InfuseRecord) -> str:
    plan = record.chosen
    text = f"Every plan bottles {plan.volume_l:.2f} L"
    costs = [one.cost_per_l for one in record.plans if one.cost_per_l is not None]
    if costs:
        low, high = money(min(costs)), money(max(costs))
        text += f" at {low} {record.currency} per litre"
        text += "" if low == high else f" ({high} with enzyme)"
    return f"{text}."


def _to_five_minutes(time_h: float) -> float:
    return math.ceil(time_h * 12.0 - 1e-6) / 12.0


def _clock(record: InfuseRecord) -> str:
    """Say how long the plan to take keeps somebody, and with what."""
    plan = record.best
    parts = []
    if plan.warm_up_h:
        parts.append(f"{duration(_to_five_minutes(plan.warm_up_h))} until it is warm")
    if plan.enzyme_hold_h:
        parts.append(f"{duration(plan.enzyme_hold_h)} of fruit and enzyme at {plan.enzyme_hold_c:.0f} °C")
    parts.append(f"{plan.time_text} of steeping")
    each = [f"{strainer.name.replace('-', ' ')} {duration(strainer.time_h)}" for strainer in record.strainers]
    if each:
        parts.append(f"straining ({', '.join(each)})")
    whole = duration(_to_five_minutes(plan.clock_h))
    there = "Be there" if plan.clock_h <= WORKING_DAY_H else "From start to bottle"
    return f"{there} {whole}: {_listed(parts)}."


def _in_words(plan: Plan) -> str:
    least = min(plan.drawn, key=lambda drawn: drawn.share)
    parts = [f"{least.share * 100:.0f} % of the {least.ingredient} drawn out"]
    if plan.colour_left is not None:
        parts.append(f"{plan.colour_left * 100:.0f} % of the colour left")
    if plan.harsh_share is not None:
        parts.append(f"{plan.harsh_share * 100:.0f} % coarse")
    return ", ".join(parts)


def _next(record: InfuseRecord) -> list[str]:
    command = record.refined_command if record.between else record.command
    if not command:
        plan = record.best
        return paragraph(
            f"In the recipe file: `time: {plan.time_text}, temperature: "
            f"{plan.temperature_c:.0f} °C` on the step {record.step}."
        )
    lines = []
    redosed = record.redosed
    if redosed is not None and redosed.found and redosed.cost_per_l is not None:
        lines += paragraph(
            f"With doses set for it, the bottle meets its targets at about {money(redosed.cost_per_l)} "
            f"{record.currency} per litre:"
        )
    elif redosed is not None:
        lines += paragraph(
            "With doses set for it, no recipe within the bottle's limits was found; see which clash:"
        )
    return [*lines, f"  {command}"]  # a command is never broken
