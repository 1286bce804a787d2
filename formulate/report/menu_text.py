"""A menu to plain text of 80 columns and to JSON."""

from __future__ import annotations

import math
from itertools import groupby
from typing import TYPE_CHECKING, Literal, get_args

from formulate.files.measures import IN_EVERY_DRINK
from formulate.quantity.words import duration
from formulate.report.buy_text import paid_text, proof_text, take_text
from formulate.report.first_screen import More, closing, more_line, rest
from formulate.report.numbers import grams, money, target_value
from formulate.report.plain import grouped_table, notes_text, paragraph, shortened, table_text
from formulate.report.rules_text import caution_lines
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.menu_record import MenuDay, MenuLine, MenuRecord, ParRow

__all__ = ["PARTS", "Part", "counted", "menu_text"]

LONGEST_NAME = 26
LEAST_SHOWN_L = 5e-4
PIECE = 1e-6
LEAST_SHOWN_KG = 5e-4


Part = Literal["order", "production", "stock", "drinks"]
PARTS: tuple[Part, ...] = get_args(Part)


@on_screen
def menu_text(record: MenuRecord, more: More = More.NONE, part: Part | None = None) -> str:
    """Lay out a menu: on one page, or one part of it in full, or all of it.

    Parameters
    ----------
    record : MenuRecord
    more : More
        Which parts beyond the first screen.
    part : str, optional
        One of `PARTS`, by itself: what to order, what to make when, what is there, or the drinks.
    """
    broken = [note for note in record.notes if note.forbids]
    head = [line for note in broken for line in paragraph(note.text)]
    head += paragraph(f"{record.name}: {record.weeks} week{'s' if record.weeks > 1 else ''}")
    others = [note for note in record.notes if note not in broken]
    if part is not None:
        return "\n".join([*head, *_apart(_part(record, part))])
    if more is More.ALL:
        lines = [*head, *_apart(*(_part(record, one) for one in ("stock", "drinks", "production", "order")))]
        lines += [*_rules(record), *notes_text("Good to know", others)]
        return "\n".join([*lines, *caution_lines(record.cautions, in_full=True)])
    mind = [*_late(record), *_spoiled(record)]
    lines = [*head, *_apart(_drinks(record), _calendar(record), _orders(record), [*_short(record), *mind])]
    lines += ["", *closing(others, record.cautions, more)]
    lines.append(more_line(more, f"--part {'|'.join(PARTS)}", cautions=record.cautions, law=False))
    lines += _rules(record) if More.WHY in more else []
    return "\n".join([*lines, *rest(others, record.cautions, more)])


def _rules(record: MenuRecord) -> list[str]:
    lines = ["", "Rules that this plan keeps, and every plan it is held against"]
    return lines + [line for rule in record.rules for line in paragraph(rule, first="  · ", rest="    ")]


def _part(record: MenuRecord, part: Part) -> list[str]:
    """Lay out one part of a menu in full."""
    if part == "stock":
        return _stock(record)
    if part == "drinks":
        return _drinks(record)
    if part == "order":
        return _list(record)
    return _apart(_house(record), _calendar(record), _adapted(record))[1:]


def _apart(*blocks: list[str]) -> list[str]:
    """Set an empty line above each block that says anything."""
    return [line for block in blocks if block for line in ("", *block)]


def _orders(record: MenuRecord) -> list[str]:
    """Say in a line per order of whom, by when and when it is there; its lines stand in their own part."""
    if not record.lines:
        return ["Nothing to buy."]
    rows = [["order from", "order by", "there on", "lines", record.currency]]
    for (supplier, order_by, day), group in groupby(record.lines, key=_one_order):
        bought = list(group)
        paid = money(sum(line.to_pay for line in bought))
        by = order_by.text if order_by != day else ""
        rows.append(
            [shortened(supplier or "no named supplier", LONGEST_NAME), by, day.text, str(len(bought)), paid]
        )
    if not any(row[1] for row in rows[1:]):
        rows = [[row[0], *row[2:]] for row in rows]
    work = ""
    if record.labour:
        hours = f" ({duration(record.labour_h)})" if record.labour_h else ""
        work = f" Work: {money(record.labour)} {record.currency}{hours}."
    last = len(rows[0]) - 1
    lines = [*table_text(rows, right=(last - 1, last)), *paragraph(f"{paid_text(record)}{work}")]
    return [*lines, *paragraph(_proof(record)), *_saved(record)]


def _one_order(line: MenuLine) -> tuple[str, MenuDay, MenuDay]:
    return line.supplier, line.order_by, line.day


def counted(row: ParRow, mass_kg: float) -> str:
    """Write an amount as it is counted at the shelf: bottles in tenths, litres, grams or pieces."""
    if row.in_pieces:
        return f"{math.ceil(mass_kg - PIECE)} pcs"
    if row.litre_kg is not None:
        litres = mass_kg / row.litre_kg
        if row.bottle_l is not None:
            return f"{litres / row.bottle_l:.1f} btl"
        return f"{litres:.2f} L"
    return f"{mass_kg:.2f} kg" if mass_kg >= 0.9995 else f"{grams(mass_kg)} g"


def _stock(record: MenuRecord) -> list[str]:
    rows = [["stock", "there now", "a week", "at the end", "par", "order at"]]
    for row in record.stock:
        order_at = "" if row.order_at_kg is None else counted(row, row.order_at_kg)
        order_at += " !" if row.runs_out else ""
        rows.append(
            [
                shortened(row.name, LONGEST_NAME),
                counted(row, row.on_hand_kg) if row.on_hand_kg > LEAST_SHOWN_KG else "",
                counted(row, row.per_week_kg),
                counted(row, row.left_kg) if row.left_kg > LEAST_SHOWN_KG else "",
                counted(row, row.par_kg) if row.par_kg else "",
                order_at,
            ]
        )
    if len(rows) == 1:
        return []
    lines = [*table_text(rows, right=(1, 2, 3, 4, 5)), *_late(record), *_spoiled(record)]
    left = sum(row.left_worth for row in record.stock)
    if left >= 0.005:
        text = f"What is there at the end is worth {money(left)} {record.currency} at the lowest prices."
        lines += paragraph(text)
    return lines


def _late(record: MenuRecord) -> list[str]:
    return [
        line
        for row in record.stock
        if row.runs_out
        for line in paragraph(f"! {row.name}: {counted(row, row.short_kg)} cannot be there in time.")
    ]


def _spoiled(record: MenuRecord) -> list[str]:
    lines: list[str] = []
    for row in record.stock:
        if row.spoiled_kg > LEAST_SHOWN_KG:
            worth = f" ({money(row.spoiled_worth)} {record.currency})" if row.spoiled_worth >= 0.005 else ""
            lines += paragraph(f"{row.name}: {counted(row, row.spoiled_kg)} will spoil unused{worth}.")
    return lines


def _drinks(record: MenuRecord) -> list[str]:
    if not record.drinks:
        return []
    target = next(
        (row.price.target_share for row in record.drinks if row.price and row.price.target_share), None
    )
    rows = [["drink", "sold", "costs", "price", "cost %", "leaves", f"for {100.0 * (target or 0.0):g} %"]]
    for row in record.drinks:
        price = row.price
        if price is None:
            rows.append([shortened(row.name, LONGEST_NAME), f"{row.sold:.0f}", "?", "", "", "", ""])
            continue
        rows.append(
            [
                shortened(row.name, LONGEST_NAME),
                f"{row.sold:.0f}",
                money(price.cost),
                "" if price.price is None else money(price.price),
                "" if price.cost_share is None else f"{100.0 * price.cost_share:.1f}",
                "" if price.contribution is None else money(price.contribution),
                "" if price.price_for_target is None else money(price.price_for_target),
            ]
        )
    if target is None:
        rows = [row[:-1] for row in rows]
    lines = table_text(rows, right=range(1, 7))
    mix = record.mix
    if mix is not None:
        with_tax = any(row.price is not None and row.price.prices_with_tax for row in record.drinks)
        words = " Prices are with tax; cost % is without it." if with_tax else ""
        lines += paragraph(
            f"All drinks: {money(mix.sales_without_tax)} {record.currency} sales without tax, "
            f"{money(mix.cost)} cost by use ({100.0 * mix.cost_share:.1f} %), "
            f"{money(mix.contribution)} left.{words}"
        )
    return lines


def _house(record: MenuRecord) -> list[str]:
    if not record.house:
        return []
    rows = [["made here, L", "used", "there now", "make", "left", "par", "spoils", "keeps"]]
    for row in record.house:
        keeps = "" if row.keeps_days is None else _kept(row.keeps_days)
        rows.append(
            [shortened(row.name, LONGEST_NAME), f"{row.poured_l:.2f}", *_shown(row.on_hand_l, row.made_l)]
        )
        rows[-1] += [*_shown(row.left_l, row.par_l, row.spoiled_l), keeps]
    if not any(row.par_l for row in record.house):
        rows = [[*row[:5], *row[6:]] for row in rows]
    return [*table_text(rows, right=range(1, len(rows[0]))), *_short(record)]


def _short(record: MenuRecord) -> list[str]:
    lines: list[str] = []
    for row in record.house:
        if row.short_l > LEAST_SHOWN_L:
            lines += paragraph(
                f"! {row.name}: {row.short_l:.2f} L cannot be made in time. Free a vessel, use a larger, or "
                "begin earlier."
            )
        if row.spoiled_l > LEAST_SHOWN_L:
            worth = f" (in it: {money(row.spoiled_worth)} {record.currency})" if row.spoiled_worth else ""
            lines += paragraph(f"{row.name}: {row.spoiled_l:.2f} L will spoil unused{worth}.")
    return lines


def _kept(days: float) -> str:
    count, unit = (days / 7.0, "week") if days >= 7.0 and days % 7.0 == 0.0 else (days, "day")
    return f"{count:g} {unit}{'' if count == 1.0 else 's'}"


def _shown(*litres: float) -> list[str]:
    return [f"{one:.2f}" if one > LEAST_SHOWN_L else "" for one in litres]


def _calendar(record: MenuRecord) -> list[str]:
    rows = [["begin", "make", "L", "in", "fills", "poured from"]]
    for row in record.calendar:
        litres = f"{row.batches} x {row.each_l:.2f}" if row.batches > 1 else f"{row.each_l:.2f}"
        ready = row.ready.text if row.ready != row.begin else "the same evening"
        name = shortened(row.name, LONGEST_NAME)
        name += "" if row.recipe == 1 else f", recipe {row.recipe}"
        fills = "" if row.bottles is None or row.bottle_l is None else _fills(row.bottles, row.bottle_l)
        rows.append([row.begin.text, name, litres, row.vessel, fills, ready])
    if len(rows) == 1:
        return []
    if not any(row[4] for row in rows[1:]):
        rows = [[*row[:4], row[5]] for row in rows]
    return table_text(rows, right=(2,))


def _fills(bottles: int, bottle_l: float) -> str:
    return f"{bottles} x {100.0 * bottle_l:g} cl"


def _adapted(record: MenuRecord) -> list[str]:
    lines: list[str] = []
    for row in record.adapted:
        lines += ["", *paragraph(f"{row.name}, recipe {row.recipe}, {row.made_l:.2f} L of it:")]
        table = [["  g per L", "", "recipe 1", f"recipe {row.recipe}"]]
        table += [
            [f"  {one.ingredient}", one.step, _per_litre(one.first_g_l), _per_litre(one.now_g_l)]
            for one in row.lines
        ]
        first, now = row.first, row.now
        for measure in IN_EVERY_DRINK:
            name = ", ".join(filter(None, (measure.name, measure.unit)))
            shown = [target_value(measure.name, float(one.value(measure.name))) for one in (first, now)]
            table.append([f"  {name}", "", *shown])
        lines += table_text(table, right=(2, 3))
    return lines[1:]


def _per_litre(grams_l: float) -> str:
    return grams(grams_l / 1000.0) if grams_l > 0.0 else ""


def _list(record: MenuRecord) -> list[str]:
    if not record.lines:
        return ["Nothing to buy."]
    with_tax = record.tax > 0.0
    with_deposit = record.deposit > 0.0
    head = ["to buy", "take", record.currency, *(["tax"] if with_tax else [])]
    head += ["deposit"] if with_deposit else []
    groups = [
        (
            _order(*order),
            [_line(line, with_tax=with_tax, with_deposit=with_deposit) for line in group],
        )
        for order, group in groupby(record.lines, key=lambda line: (line.supplier, line.order_by, line.day))
    ]
    lines = grouped_table(head, groups, right=range(2, len(head)))
    lines += ["", *paragraph(paid_text(record))]
    if record.labour:
        hours = f" ({duration(record.labour_h)})" if record.labour_h else ""
        lines += paragraph(f"Work on the batches: {money(record.labour)} {record.currency}{hours}.")
    lines += [*paragraph(_proof(record)), *_saved(record)]
    for name, least in record.least_orders:
        lines += paragraph(f"The least order of {money(least)} {record.currency} from {name} is kept.")
    return lines


def _saved(record: MenuRecord) -> list[str]:
    lines: list[str] = []
    if record.saved is not None:
        lines += paragraph(
            f"Recipes that adapt within the limits of their bottle files save {money(record.saved)} "
            f"{record.currency}."
            if record.saved > 0.0
            else "No other recipe was found that saves anything."
        )
    return lines


def _order(supplier: str, order_by: MenuDay, day: MenuDay) -> str:
    """Name one order: of whom, by when, and when it is there."""
    order = f"order by {order_by.text}, " if order_by != day else ""
    return f"from {supplier or 'no named supplier'}: {order}there on {day.text}"


def _proof(record: MenuRecord) -> str:
    if record.status == "short":
        which = "of all plans this one falls" if record.proven_gap <= 1e-3 else "of those found this falls"
        return f"Not all of it can be there in time: {which} least short."
    wasted = any(row.spoiled_worth > 0.0 for row in record.house)
    counted = ", what is thrown away counted" if wasted else ""
    return proof_text(record, f"No plan with these recipes costs less{counted}")


def _line(line: MenuLine, *, with_tax: bool, with_deposit: bool) -> list[str]:
    take = take_text(line.packs, line.pack, line.amount_kg)
    row = [f"  {shortened(line.name, LONGEST_NAME)}", take, money(line.without_tax)]
    row += [money(line.tax) if line.tax else ""] if with_tax else []
    return [*row, money(line.deposit) if line.deposit else ""] if with_deposit else row
