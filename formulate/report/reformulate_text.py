"""A reformulated recipe as text and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from formulate.report.first_screen import More, closing, more_line, rest
from formulate.report.numbers import grams, money
from formulate.report.plain import notes_text, paragraph, table_text
from formulate.report.recipe_text import figure_rows, move_lines
from formulate.report.rules_text import caution_lines, law_lines, over_lines
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.records import DrinkRecord
    from formulate.describe.reformulate_record import Move, Reformulation, Way
    from formulate.describe.unreplaced import NoReplacement, Unreplaced

__all__ = [
    "no_replacement_lines",
    "reformulation_text",
]

_SAME_SIZE = 1e-3
"""Batches whose sizes differ by a smaller share are of one size."""

MOST_NAMED, MOST_SHIFTS = 4, 2

AIMS = {
    "least change": "the least change that lands in spec",
    "cheapest": "the cheapest recipe that lands in spec",
    "nearest flavour": "the nearest flavour that lands in spec",
}


@on_screen
def reformulation_text(record: Reformulation, more: More = More.NONE) -> str:
    """Show what to weigh now, what moved, what the bottle becomes, and the other ways.

    Parameters
    ----------
    record : Reformulation
    more : More
        Which parts beyond the first screen.
    """
    drink = record.best.drink
    lines = [*over_lines(drink.law), f"{record.name}: {float(drink.predicted.volume_l):.2f} L bottled"]
    changes = "; ".join(record.changes)
    lines += paragraph(f"{changes}: {AIMS[record.mode]}" if changes else AIMS[record.mode])
    now_l = float(drink.predicted.volume_l)
    if abs(record.before_l - now_l) > _SAME_SIZE * now_l:
        lines += paragraph(
            f"The old recipe makes {record.before_l:.2f} L: `before g` is what it takes for {now_l:.2f} L."
        )
    full = more is More.ALL
    lines += ["", *move_lines(record.best.moves, drink, at_end=full), ""]
    between = [("unchanged", record.unchanged)] if record.unchanged else []
    columns = [("before", record.before), *between, ("now", record.best.figures)]
    rows = figure_rows(drink, [head for head, _ in columns], [figures for _, figures in columns])
    lines += [*table_text(rows, right=range(1, len(columns) + 1))]
    notes = (*record.notes, *drink.notes)
    if more is not More.ALL:
        lines += paragraph(_flavour_in_short(record.best))
        cost = [*paragraph(_cost_text(record)), *paragraph(_others_in_short(record))]
        lines += ["", *closing(notes, drink.cautions, more, last=cost)]
        law = drink.law is not None and bool(drink.law.caps)
        lines.append(more_line(more, cautions=drink.cautions, law=law))
        if More.WHY in more:
            lines += [*_others(record, drink), *_suggestions(record.suggested)]
        return "\n".join([*lines, *rest(notes, drink.cautions, more, law=drink.law)])
    lines += law_lines(drink.law)
    lines += paragraph(_flavour_text(record.best))
    lines += ["", *paragraph(_cost_text(record))]
    lines += [*_others(record, drink), *_suggestions(record.suggested)]
    lines += notes_text("Good to know", notes)
    lines += caution_lines(drink.cautions, in_full=True)
    return "\n".join(lines)


def _others(record: Reformulation, drink: DrinkRecord) -> list[str]:
    if not record.others:
        return []
    lines = ["", "Other ways, really different"]
    for way in record.others:
        lines += paragraph(_way_text(way, drink), first="  · ", rest="    ")
    return lines


def _others_in_short(record: Reformulation) -> str:
    """Name the other ways with what they cost; what they weigh stands under `--why`."""
    named = [
        way.title if way.figures.cost_per_l is None else f"{way.title} {money(way.figures.cost_per_l)}"
        for way in record.others
    ]
    return f"Other ways: {'; '.join(named)} (--why)." if named else ""


@on_screen
def no_replacement_lines(nothing: NoReplacement) -> list[str]:
    """Say what changed, what cannot be replaced and why, and what to buy."""
    changes = "; ".join(nothing.changes)
    lines = paragraph(f"Changed: {changes}.") if changes else []
    for one in nothing.unreplaced:
        lines += paragraph(_why_not(one))
        text = _what_to_buy(one, nothing.formulation.pantry.currency)
        lines += paragraph(text, first="  ", rest="  ")
    if not nothing.unreplaced and changes:
        lines += paragraph("That is not the reason: these limits clash with everything on the shelf too.")
    return lines


def _why_not(one: Unreplaced) -> str:
    what = "cannot be replaced" if one.is_gone else "cannot be made up for"
    what = "is too dear now" if one.is_dearer else what
    if not one.stand_ins:
        return f"{one.missing} {what}: no stand-in on your shelf."
    named, more = list(one.stand_ins[:MOST_NAMED]), len(one.stand_ins) - MOST_NAMED
    if more > 0:
        named.append(f"{more} more")
    some = named[0] if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]}"
    return f"{one.missing} {what}: {some} could stand in, but not within these limits."


def _what_to_buy(one: Unreplaced, currency: str) -> str:
    texts = []
    names = [
        name if most is None else f"{name} (up to {money(math.floor(100.0 * most) / 100.0)} {currency}/kg)"
        for name, most in one.buy
    ]
    if one.enough_kg is not None:
        texts.append(f"With {math.ceil(one.enough_kg * 1000.0 - 1e-6)} g of it in all there is a recipe.")
    if len(names) == 1:
        texts.append(f"Buy {names[0]}: with it there is a recipe.")
    elif names:
        some = f"{', '.join(names[:-1])} or {names[-1]}"
        texts.append(f"Buy {some}: with any one of them there is a recipe.")
    elif one.tried:
        texts.append(f"Nor would buying {', '.join(one.tried)} be enough.")
    else:
        texts.append("The library knows nothing else like it.")
    if not names and not one.is_dearer:
        texts.append(f"Buy {one.missing}.")
    return " ".join(texts)


def _cost_text(record: Reformulation) -> str:
    cost, before = record.best.drink.cost, record.before.cost_per_l
    if cost is None:
        return ""
    text = f"{money(cost.per_litre)} {cost.currency} per litre, {money(cost.total)} in all"
    if before is None:
        return f"{text}."
    change = cost.per_litre - before
    if abs(change) < 0.005:
        return f"{text}: as before."
    return f"{text}: {money(abs(change))} per litre {'more' if change > 0 else 'less'} than before."


def _way_text(way: Way, best: DrinkRecord) -> str:
    currency = best.cost.currency if best.cost else ""
    cost = "" if way.figures.cost_per_l is None else f"{money(way.figures.cost_per_l)} {currency} per litre; "
    no_more = {line.ingredient for line in way.drink.recipe if line.no_more}
    moves = [_short_move(move, move.ingredient in no_more) for move in way.moves if move.moved]
    return f"{way.title}: {cost}{', '.join(moves)}."


def _flavour_text(way: Way) -> str:
    """Say which flavours go, come and shift; empty where none does."""
    gone = [f"{one.ingredient} ({_share(one.before)})" for one in way.flavours if not one.after]
    come = [f"{one.ingredient} ({_share(one.after)})" for one in way.flavours if not one.before]
    shift = [
        f"{one.ingredient} {_share(one.before)} to {_share(one.after)}"
        for one in way.flavours
        if one.before and one.after
    ]
    said = [
        f"{what}: {', '.join(which)}"
        for what, which in (("gone", gone), ("new", come), ("shifts", shift))
        if which
    ]
    return f"Flavour, a measure of ours: {'; '.join(said)}." if said else ""


def _flavour_in_short(way: Way) -> str:
    """Say in a line or two which flavours go, come and shift most; empty where none does."""
    said = [f"no {one.ingredient} (was {_share(one.before)})" for one in way.flavours if not one.after]
    said += [f"{one.ingredient} {_share(one.after)} (new)" for one in way.flavours if not one.before]
    kept = [one for one in way.flavours if one.before and one.after]
    most = sorted(kept, key=lambda one: -abs(one.after - one.before))[:MOST_SHIFTS]
    said += [f"{one.ingredient} {_share(one.after)} (was {_share(one.before)})" for one in most]
    return f"Flavour: {', '.join(said)}." if said else ""


def _share(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _short_move(move: Move, down: bool) -> str:
    if not move.after_kg:
        return f"no {move.ingredient}"
    return f"{move.ingredient} {grams(move.after_kg, down=down)} g{'' if move.before_kg else ' (new)'}"


def _suggestions(suggested: tuple[tuple[str, tuple[str, ...]], ...]) -> list[str]:
    lines: list[str] = []
    for missing, names in suggested:
        text = f"Also like {missing}, but without a price on your shelf: {', '.join(names)}."
        lines += ["", *paragraph(text)]
    return lines
