"""A reformulated recipe as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from formulate.report.cautions_text import caution_lines
from formulate.report.document import SCHEMA_VERSION, drink_document
from formulate.report.law_text import law_lines
from formulate.report.numbers import band_text, grams, money, target_value
from formulate.report.plain import WIDTH, notes_text, paragraph, table_text

if TYPE_CHECKING:
    from formulate.jobs.records import DrinkRecord
    from formulate.jobs.reformulate import NoReplacement
    from formulate.jobs.reformulate_record import Figures, Move, Reformulation, Way

__all__ = ["no_replacement_lines", "reformulation_document", "reformulation_text"]

AIMS = {
    "least change": "the least change that lands in spec",
    "cheapest": "the cheapest recipe that lands in spec",
    "nearest flavour": "the nearest flavour that lands in spec",
}
_FIGURES = (
    ("strength", "strength_pct_vol", "% vol"),
    ("sugar", "sugar_g_l", "g/L"),
    ("acid", "acid_g_l", "g/L"),
    ("bitterness", "bitterness_value", ""),
    ("cost", "cost_per_l", "{currency}/L"),
)


def reformulation_text(record: Reformulation, *, all_cautions: bool = False) -> str:
    """Show what to weigh now, what moved, what the bottle becomes, and the other ways."""
    drink = record.best.drink
    lines = [f"{record.name}: {float(drink.predicted.volume_l):.2f} L bottled"]
    changes = "; ".join(record.changes)
    lines += paragraph(f"{changes}: {AIMS[record.mode]}" if changes else AIMS[record.mode])
    lines += ["", *table_text(_move_rows(record.best), right=(2, 3)), ""]
    lines += [*table_text(_figure_rows(record), right=(1, 2, 3) if record.unchanged else (1, 2)), ""]
    lines += law_lines(drink.law)
    lines += (
        ["", *paragraph(_cost_text(record))]
        if drink.law and drink.law.caps
        else paragraph(_cost_text(record))
    )
    if record.others:
        lines += ["", "Other ways, really different"]
        for way in record.others:
            lines += paragraph(_way_text(way, drink), first="  · ", rest="    ")
    lines += _suggestions(record.suggested)
    lines += notes_text("Good to know", (*record.notes, *drink.notes))
    lines += caution_lines(drink.cautions, in_full=all_cautions)
    return "\n".join(lines)


def reformulation_document(record: Reformulation) -> dict[str, Any]:
    """Lay out the same for JSON; `recipe`, `predicted` and the rest are those of `solve`."""
    return drink_document(record.best.drink) | {
        "schema_version": SCHEMA_VERSION,
        "status": "reformulated",
        "changes": list(record.changes),
        "mode": record.mode,
        "before": _figures(record.before),
        "unchanged": None if record.unchanged is None else _figures(record.unchanged),
        "after": _figures(record.best.figures),
        "moved": record.best.moved,
        "moves": [_move(move) for move in record.best.moves],
        "others": [
            {
                "title": way.title,
                "moved": way.moved,
                "figures": _figures(way.figures),
                "moves": [_move(move) for move in way.moves],
            }
            for way in record.others
        ],
        "suggested": [{"missing": missing, "library": list(names)} for missing, names in record.suggested],
        "notes": [{"code": note.code, "text": note.text} for note in record.notes],
    }


def no_replacement_lines(nothing: NoReplacement) -> list[str]:
    """Say what changed, and what the library knows that the shelf has no price for."""
    changes = "; ".join(nothing.changes)
    return [*(paragraph(f"Changed: {changes}.") if changes else []), *_suggestions(nothing.suggested)]


def _move_rows(way: Way) -> list[list[str]]:
    rows = [["step", "weigh in", "before g", "now g", "", "or measure"]]
    measures = {(line.step, line.ingredient): line.measure for line in way.drink.recipe}
    no_more = {line.ingredient for line in way.drink.recipe if line.no_more}
    previous = ""
    for move in way.moves:
        step = "" if move.step == previous else move.step
        previous = move.step
        before = grams(move.before_kg) if move.before_kg else "-"
        down = move.ingredient in no_more
        after = grams(move.after_kg, down=down) if move.after_kg else "-"
        measure = measures.get((move.step, move.ingredient), "")
        rows.append([step, move.ingredient, before, after, _change(move), measure])
    if max(map(len, table_text(rows))) > WIDTH:
        return [row[:-1] for row in rows]
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


def _figure_rows(record: Reformulation) -> list[list[str]]:
    head = ["in the bottle", "before", *(["unchanged"] if record.unchanged else []), "now", "", "you asked"]
    rows = [head]
    asked = {target.target: target for target in record.best.drink.targets}
    currency = record.best.drink.cost.currency if record.best.drink.cost else ""
    columns = [record.before, *([record.unchanged] if record.unchanged else []), record.best.figures]
    for name, field, unit in _FIGURES:
        values = [getattr(figures, field) for figures in columns]
        if name not in asked and not any(values):
            continue
        target = asked.get(name)
        band = band_text(name, target.lower, target.upper) if target else ""
        shown = ["?" if value is None else target_value(name, value) for value in values]
        rows.append([name, *shown, unit.format(currency=currency), band])
    return rows


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


def _figures(figures: Figures) -> dict[str, Any]:
    return {name: getattr(figures, name) for _, name, _ in _FIGURES}


def _move(move: Move) -> dict[str, Any]:
    return {
        "ingredient": move.ingredient,
        "step": move.step,
        "before_g": move.before_kg * 1000.0,
        "after_g": move.after_kg * 1000.0,
        "moved": move.moved,
    }
