"""Buying lists to plain text and JSON."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from formulate.report.before_now import figure_rows, move_lines
from formulate.report.cautions_text import caution_lines
from formulate.report.law_text import law_lines
from formulate.report.numbers import grams, money, percent, proved
from formulate.report.plain import WIDTH, notes_text, paragraph, table_text

if TYPE_CHECKING:
    from formulate.bar.least_orders import Shortfall
    from formulate.describe.buy_record import Adaptation, BuyLine, BuyRecord
    from formulate.describe.menu_record import MenuRecord

__all__ = ["buy_text", "paid_text"]

LEAST_LEFT_KG = 5e-4
"""Less than half a gram is no rest anybody keeps."""
LONGEST_NAME = 34
_CENT = 0.005


def buy_text(record: BuyRecord, *, all_cautions: bool = False) -> str:
    """Lay a buying list out by supplier, with what is on hand and what is left over."""
    lines = [f"{record.drink.name}: {float(record.drink.predicted.volume_l):.2f} L bottled", ""]
    if record.adapted is not None:
        lines += [*_adapted_lines(record, record.adapted), ""]
    lines += [*_list_lines(record), ""]
    lines += paragraph(f"{paid_text(record)} {_proof(record)}")
    for supplier, least in record.least_orders:
        lines += paragraph(f"The least order of {money(least)} {record.currency} from {supplier} is kept.")
    if record.shortfalls:
        lines += _short_lines(record)
    if record.could_save is not None and record.could_save >= _CENT:
        lines += paragraph(
            f"With --adapt the recipe is fitted to whole packs, within your limits: "
            f"{money(record.could_save)} {record.currency} less"
            f"{', rests counted' if record.leftover_share else ''}. It shows what that does to the drink."
        )
    lines += law_lines(record.drink.law)
    lines += notes_text("Good to know", record.notes)
    return "\n".join([*lines, *caution_lines(record.drink.cautions, in_full=all_cautions)])


def paid_text(record: BuyRecord | MenuRecord) -> str:
    """Say what the bills of a buying list come to, and what of that is tax and deposit."""
    parts = [f"{money(record.without_tax)} {record.currency}"]
    if record.tax > 0.0:
        parts.append(f"{money(record.tax)} tax{' that comes back' if record.tax_reclaimed else ''}")
    if record.deposit > 0.0:
        parts.append(f"{money(record.deposit)} deposit")
    total = f"{money(record.to_pay)} {record.currency} to pay"
    return f"{total}: {', '.join(parts)}." if len(parts) > 1 else f"{total}."


def _list_lines(record: BuyRecord) -> list[str]:
    to_pay = [line for line in record.lines if line.cost > 0.0]
    rest = [line for line in record.lines if line.cost <= 0.0]
    rows: list[tuple[str, ...]] = [("to buy", "take", record.currency, "uses g", "left g")]
    headings: dict[int, str] = {}
    groups = [(f"from {name or 'no named supplier'}", list(group)) for name, group in _by_supplier(to_pay)]
    for heading, group in [*groups, *([("nothing to pay", rest)] if rest else [])]:
        headings[len(rows)] = heading
        rows += [_row(line) for line in group]
    if not to_pay:
        rows[0] = ("", *rows[0][1:])
    laid_out = table_text(rows, right=(2, 3, 4))
    lines = [laid_out[0]]
    for number, line in enumerate(laid_out[1:], start=1):
        if number in headings:
            lines.append(headings[number][:WIDTH])
        lines.append(line)
    return lines


def _adapted_lines(record: BuyRecord, adapted: Adaptation) -> list[str]:
    """Show what fitting the recipe to whole packs moved, and what it saves."""
    rests = ", rests counted" if record.leftover_share else ""
    lines = paragraph(
        f"The recipe is fitted to whole packs, within your limits: {money(adapted.saved)} {record.currency} "
        f"less than for {record.before}{rests}."
    )
    lines += ["", *move_lines(adapted.moves, record.drink), ""]
    rows = figure_rows(record.drink, ("before", "now"), (adapted.before, adapted.after))
    return [*lines, *table_text(rows, right=(1, 2))]


def _short_lines(record: BuyRecord) -> list[str]:
    """Say how far the list is from each least order, and what could be done about it."""
    lines: list[str] = []
    currency = record.currency
    for short in record.shortfalls:
        lines += paragraph(
            f"The order from {short.supplier} comes to {money(short.ordered)} {currency}, "
            f"{money(short.short)} short of their least order of {money(short.least)}."
        )
        lines += paragraph(_fill_up_text(short, currency), first="  · ", rest="    ")
    if record.elsewhere:
        lines += paragraph(_elsewhere_text(record), first="  · ", rest="    ")
    return lines


def _fill_up_text(short: Shortfall, currency: str) -> str:
    """Say what would reach a least order and is used up in time, or that nothing would."""
    if not short.keeping:
        have = ", ".join(short.others)
        others = f" What keeps for other drinks: {have}." if have else ""
        return (
            f"Nothing of theirs that keeps and this drink uses would fill it in a sensible time: "
            f"{money(short.short)} {currency} are missing.{others} Wait until you need more, or ask them."
        )
    parts = []
    for stock in short.keeping:
        more = f"{stock.batches:.1f}".removesuffix(".0")
        last = f"enough for {more} more batch{'' if more == '1' else 'es'} of this drink"
        parts.append(f"{stock.packs} x {stock.pack} {stock.ingredient} more ({last})")
    it = "it keeps" if len(parts) == 1 else "they keep"
    return f"Only to reach the least order: {', '.join(parts)}: {money(short.filling_up)} {currency}; {it}."


def _elsewhere_text(record: BuyRecord) -> str:
    """Say what to buy otherwise so that every least order is kept."""
    known = {(line.name, line.supplier, line.pack, line.packs) for line in record.lines}
    others = [
        f"{_take(line)} {line.name}{f' from {line.supplier}' if line.supplier else ''}"
        for line in record.elsewhere
        if line.cost > 0.0 and (line.name, line.supplier, line.pack, line.packs) not in known
    ]
    total = sum(line.cost for line in record.elsewhere)
    return (
        f"Or with {', '.join(others)} instead: {money(total)} {record.currency} in all, "
        "every least order kept."
    )


def _by_supplier(lines: list[BuyLine]) -> Any:
    return groupby(lines, key=lambda line: line.supplier)


def _proof(record: BuyRecord) -> str:
    worth = ""
    if record.leftover_share > 0.0:
        worth = f", what is left over counted at {100.0 * record.leftover_share:g} % of its price"
    within = "within these limits" if record.adapted else "for this recipe"
    if record.shortfalls:
        within += ", least orders left aside"
    if record.status == "optimal":
        return f"No cheaper list exists {within} ({proved(record.proven_gap)}{worth})."
    return f"Best found in time: at most {percent(record.proven_gap)} % dearer than any other{worth}."


def _take(line: BuyLine) -> str:
    if line.pack == "piece" and line.packs is not None:
        return f"{line.packs} piece{'s' if line.packs != 1 else ''}"
    if line.packs is not None:
        return f"{line.packs} x {line.pack}"
    return f"{grams(line.bought_kg)} g {line.pack}" if line.bought_kg > 0.0 else line.pack


def _row(line: BuyLine) -> tuple[str, str, str, str, str]:
    used = grams(line.used_kg) if line.used_kg else ""
    left = grams(line.left_kg) if line.left_kg > LEAST_LEFT_KG else ""
    name = line.name if len(line.name) <= LONGEST_NAME else f"{line.name[: LONGEST_NAME - 3]}..."
    return f"  {name}", _take(line), money(line.cost) if line.cost else "", used, left
