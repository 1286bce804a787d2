"""Recipes in rows: what to weigh in, what is bought whole, and two recipes side by side."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.files.measures import COST, IN_EVERY_DRINK, MEASURES, measure_of
from formulate.quantity.amounts import cents_adding_up
from formulate.report.numbers import band_text, grams, kilograms, money, target_value
from formulate.report.plain import WIDTH, measured_at, paragraph, table_text

if TYPE_CHECKING:
    from formulate.describe.records import DrinkRecord, PurchaseRecord
    from formulate.describe.reformulate_record import Figures, Move

__all__ = ["figure_rows", "move_lines", "purchase_lines", "purchase_rows", "recipe_rows", "whole_lines"]

_IN_KILOGRAMS_KG = 100.0
"""A recipe that takes so much of one thing is shown in kilograms."""
_NOTHING_LEFT_KG = 5e-5
"""Less than 0.05 g is no rest anybody keeps."""


def recipe_rows(record: DrinkRecord) -> list[list[str]]:
    """Lay out what to weigh in, step by step; the first row is the head."""
    large = max((line.mass_kg for line in record.recipe), default=0.0) >= _IN_KILOGRAMS_KG
    mass = kilograms if large else grams
    weighed = any(line.running_total_kg is not None for line in record.recipe)
    last = record.cost.currency if record.cost else ""
    rows = [["step", "weigh in", "kg" if large else "g", "or measure", "on the scale" if weighed else last]]
    costs = iter(_costs(record))
    previous = ""
    for line in record.recipe:
        step = "" if line.step == previous else line.step
        previous = line.step
        last = "" if line.cost is None else money(next(costs))
        if weighed:
            last = "" if line.running_total_kg is None else mass(line.running_total_kg)
        rows.append([step, line.ingredient, mass(line.mass_kg, down=line.no_more), line.measure.text, last])
    return rows


def _costs(record: DrinkRecord) -> list[float]:
    """Return what the priced lines cost, to the cent; with all of them priced, as the sum below is shown."""
    costs = [line.cost for line in record.recipe if line.cost is not None]
    return costs if record.cost is None else cents_adding_up(costs, float(money(record.cost.total)))


def purchase_rows(record: DrinkRecord) -> list[list[str]]:
    """Lay out what is bought whole; the first row is the head."""
    rows = [["from whole, counted above", "g", record.cost.currency if record.cost else ""]]
    for bought in record.purchases:
        count = "" if bought.pieces is None else f"{bought.pieces:.1f} "
        name = f"{count}{bought.name}{_to_buy(bought)}"
        rows.append([name, grams(bought.mass_kg), money(bought.cost)])
    return rows


def purchase_lines(record: DrinkRecord, width: int) -> list[str]:
    """Say of each whole thing what is used of it and what is left over."""
    lines = []
    for bought in record.purchases:
        used = [
            f"all {grams(part.used_kg)} g {part.ingredient}"
            if part.left_kg <= _NOTHING_LEFT_KG
            else f"{grams(part.used_kg)} of {grams(part.used_kg + part.left_kg)} g {part.ingredient}"
            for part in bought.parts
            if part.used_kg > _NOTHING_LEFT_KG
        ]
        left = [
            f"{grams(part.left_kg)} g {part.ingredient}"
            for part in bought.parts
            if part.left_kg > _NOTHING_LEFT_KG
        ]
        text = f"{bought.name}: {', '.join(used)} used; {', '.join(left) if left else 'nothing'} left over"
        text = text.replace(" g ", "\N{NO-BREAK SPACE}g ")  # a figure stays with its unit
        wrapped = textwrap.wrap(
            text, width, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
        )
        lines += [line.replace("\N{NO-BREAK SPACE}", " ") for line in wrapped]
    return lines


def whole_lines(record: DrinkRecord) -> list[str]:
    """Say in a line what is bought whole, and what is left over of it."""
    lines = []
    for bought in record.purchases:
        left = [
            f"{grams(part.left_kg)}\N{NO-BREAK SPACE}g {part.ingredient}"
            for part in bought.parts
            if part.left_kg > _NOTHING_LEFT_KG
        ]
        what = _to_buy(bought).strip(" ()") or f"buy {grams(bought.mass_kg)}\N{NO-BREAK SPACE}g"
        text = f"{what.capitalize()} {bought.name}: {', '.join(left) if left else 'nothing'} left."
        lines += [line.replace("\N{NO-BREAK SPACE}", " ") for line in paragraph(text, rest="  ")]
    return lines


def _to_buy(bought: PurchaseRecord) -> str:
    """Say how many pieces to take, and how many of them are there already."""
    if bought.pieces is None or bought.whole_pieces is None:
        return ""
    if bought.on_hand_kg is None:
        return f" (buy {bought.whole_pieces})"
    there = math.floor(bought.on_hand_kg / (bought.mass_kg / bought.pieces) + 1e-6)
    if there >= bought.whole_pieces:
        return f" (take {bought.whole_pieces} of {there})"
    return f" (buy {bought.whole_pieces - there}, have {there})"


def move_lines(moves: Sequence[Move], drink: DrinkRecord, *, at_end: bool = True) -> list[str]:
    """Lay out what is weighed before and now, with its measure where there is room.

    Parameters
    ----------
    drink : DrinkRecord
        The recipe as it is now.
    at_end : bool, default True
        Whether to say at which temperature the measures hold.
    """
    rows = [["step", "weigh in", "before g", "now g", "", "or measure"]]
    measures = {(line.step, line.ingredient): line.measure for line in drink.recipe}
    no_more = {line.ingredient for line in drink.recipe if line.no_more}
    previous = ""
    for move in moves:
        step = "" if move.step == previous else move.step
        previous = move.step
        before = grams(move.before_kg) if move.before_kg else "-"
        after = grams(move.after_kg, down=move.ingredient in no_more) if move.after_kg else "-"
        measure = measures.get((move.step, move.ingredient))
        rows.append([step, move.ingredient, before, after, _change(move), measure.text if measure else ""])
    table = table_text(rows, right=(2, 3))
    if max(map(len, table)) > WIDTH:
        return table_text([row[:-1] for row in rows], right=(2, 3))
    return [*table, *(measured_at(measures.values()) if at_end else ())]


def figure_rows(drink: DrinkRecord, heads: Sequence[str], columns: Sequence[Figures]) -> list[list[str]]:
    """Lay out the figures in the bottle side by side, with what was asked.

    Parameters
    ----------
    drink : DrinkRecord
        Its targets say what was asked.
    heads : sequence of str
        Of the columns.
    """
    rows = [["in the bottle", *heads, "", "you asked"]]
    asked = {target.target: target for target in drink.targets}
    currency = drink.cost.currency if drink.cost else ""
    contents = [measure for one in drink.targets if (measure := measure_of(one.measure)).is_content]
    for measure in (*IN_EVERY_DRINK, *contents, MEASURES[COST]):
        name = measure.name
        values = [figures.value(name) for figures in columns]
        if name not in asked and not any(values):
            continue
        target = asked.get(name)
        band = band_text(name, target.lower, target.upper) if target else ""
        ends = (target.lower, target.upper) if target else (None, None)
        shown = ["?" if value is None else target_value(name, value, *ends) for value in values]
        rows.append([name, *shown, measure.unit.format(currency=currency), band])
    return rows


def _change(move: Move) -> str:
    if not move.after_kg:
        return "left out"
    if not move.before_kg:
        return "new"
    if not move.moved:
        return ""
    change = move.after_kg - move.before_kg
    return f"{'+' if change > 0 else '-'}{grams(abs(change))}"
