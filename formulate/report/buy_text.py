"""Buying lists to plain text and JSON."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from formulate.report.numbers import grams, money, percent, proved
from formulate.report.plain import grouped_table, notes_text, paragraph, shortened, table_text
from formulate.report.recipe_text import figure_rows, move_lines
from formulate.report.rules_text import caution_lines, law_lines
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.bar.least_orders import Shortfall
    from formulate.describe.buy_record import Adaptation, BuyLine, BuyRecord
    from formulate.describe.menu_record import MenuRecord

__all__ = ["buy_text", "paid_text", "proof_text", "take_text"]

LEAST_LEFT_KG = 5e-4
"""Less than half a gram is no rest anybody keeps."""
LONGEST_NAME = 34
_CENT = 0.005


@on_screen
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
    groups = [
        (f"from {name or 'no named supplier'}", [_row(line) for line in group])
        for name, group in groupby(to_pay, key=lambda line: line.supplier)
    ]
    if rest:
        groups.append(("nothing to pay", [_row(line) for line in rest]))
    head = ("to buy" if to_pay else "", "take", record.currency, "uses g", "left g")
    return grouped_table(head, groups, right=(2, 3, 4))


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


def _proof(record: BuyRecord) -> str:
    within = "within these limits" if record.adapted else "for this recipe"
    if record.shortfalls:
        within += ", least orders left aside"
    return proof_text(record, f"No cheaper list exists {within}")


def proof_text(record: BuyRecord | MenuRecord, claim: str) -> str:
    """Make a claim about a list as far as it was proved, and say what rests counted for."""
    worth = ""
    if record.leftover_share > 0.0:
        worth = f", what is left over counted at {100.0 * record.leftover_share:g} % of its price"
    if record.status == "optimal":
        return f"{claim} ({proved(record.proven_gap)}{worth})."
    return f"Best found in time: at most {percent(record.proven_gap)} % dearer than any other{worth}."


def take_text(packs: int | None, pack: str, mass_kg: float) -> str:
    """Say what to take: packs, pieces, or a mass of what is sold by weight."""
    if packs is None:
        return f"{grams(mass_kg)} g {pack}" if mass_kg > 0.0 else pack
    if pack == "piece":
        return f"{packs} piece{'s' if packs != 1 else ''}"
    return f"{packs} x {pack}"


def _take(line: BuyLine) -> str:
    return take_text(line.packs, line.pack, line.bought_kg)


def _row(line: BuyLine) -> tuple[str, str, str, str, str]:
    used = grams(line.used_kg) if line.used_kg else ""
    left = grams(line.left_kg) if line.left_kg > LEAST_LEFT_KG else ""
    name = shortened(line.name, LONGEST_NAME)
    return f"  {name}", _take(line), money(line.cost) if line.cost else "", used, left
