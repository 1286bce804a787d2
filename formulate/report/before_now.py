"""Two recipes side by side: what is weighed before and now, and the figures in the bottle."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.files.measures import COST, IN_EVERY_DRINK, MEASURES, measure_of
from formulate.report.numbers import band_text, grams, target_value
from formulate.report.plain import WIDTH, measured_at, table_text

if TYPE_CHECKING:
    from formulate.describe.records import DrinkRecord
    from formulate.describe.reformulate_record import Figures, Move

__all__ = ["figure_rows", "move_lines"]


def move_lines(moves: Sequence[Move], drink: DrinkRecord) -> list[str]:
    """Lay out what is weighed before and now, with its measure where there is room.

    Parameters
    ----------
    moves : sequence of Move
    drink : DrinkRecord
        The recipe as it is now.
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
    return [*table, *measured_at(measures.values())]


def figure_rows(drink: DrinkRecord, heads: Sequence[str], columns: Sequence[Figures]) -> list[list[str]]:
    """Lay out the figures in the bottle side by side, with what was asked.

    Parameters
    ----------
    drink : DrinkRecord
        Its targets say what was asked.
    heads : sequence of str
        Of the columns.
    columns : sequence of Figures
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
        shown = ["?" if value is None else target_value(name, value) for value in values]
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
