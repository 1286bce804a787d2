"""Buying lists to plain text and JSON."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from formulate.report.document import SCHEMA_VERSION, drink_document
from formulate.report.law_text import law_lines
from formulate.report.numbers import grams, money, percent
from formulate.report.plain import WIDTH, notes_text, paragraph, table_text

if TYPE_CHECKING:
    from formulate.jobs.buy import BuyLine, BuyRecord

__all__ = ["buy_document", "buy_text"]

LEAST_LEFT_KG = 5e-4
"""Less than half a gram is no rest anybody keeps."""
LONGEST_NAME = 34


def buy_text(record: BuyRecord) -> str:
    """Lay a buying list out by supplier, with what is on hand and what is left over."""
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
    lines = [f"{record.drink.name}: {float(record.drink.predicted.volume_l):.2f} L bottled", "", laid_out[0]]
    for number, line in enumerate(laid_out[1:], start=1):
        if number in headings:
            lines.append(headings[number][:WIDTH])
        lines.append(line)
    lines += ["", *paragraph(f"{money(record.total)} {record.currency} to pay. {_proof(record)}")]
    for supplier, least in record.least_orders:
        lines += paragraph(f"The least order of {money(least)} {record.currency} from {supplier} is kept.")
    lines += law_lines(record.drink.law)
    return "\n".join([*lines, *notes_text("Good to know", record.notes)])


def buy_document(record: BuyRecord) -> dict[str, Any]:
    """Lay a buying list out for JSON."""
    return {
        "schema_version": SCHEMA_VERSION,
        "status": record.status,
        "name": record.drink.name,
        "lines": [
            {
                "ingredient": line.name,
                "supplier": line.supplier,
                "packs": line.packs,
                "pack": line.pack,
                "bought_g": line.bought_kg * 1000.0,
                "cost": line.cost,
                "used_g": line.used_kg * 1000.0,
                "from_stock_g": line.from_stock_kg * 1000.0,
                "left_g": line.left_kg * 1000.0,
            }
            for line in record.lines
        ],
        "total": record.total,
        "currency": record.currency,
        "proven_gap": record.proven_gap,
        "leftover_share": record.leftover_share,
        "least_orders": [{"supplier": name, "least": least} for name, least in record.least_orders],
        "warnings": [{"code": note.code, "text": note.text, "source": note.source} for note in record.notes],
        "drink": drink_document(record.drink),
    }


def _by_supplier(lines: list[BuyLine]) -> Any:
    return groupby(lines, key=lambda line: line.supplier)


def _proof(record: BuyRecord) -> str:
    worth = ""
    if record.leftover_share > 0.0:
        worth = f", what is left over counted at {100.0 * record.leftover_share:g} % of its price"
    if record.status == "optimal":
        return (
            f"No cheaper list exists within these limits (proved to {percent(record.proven_gap)} %{worth})."
        )
    return f"Best found in time: at most {percent(record.proven_gap)} % dearer than any other{worth}."


def _row(line: BuyLine) -> tuple[str, str, str, str, str]:
    take = line.pack
    if line.packs is not None:
        take = f"{line.packs} x {line.pack}"
        if line.pack == "piece":
            take = f"{line.packs} piece{'s' if line.packs != 1 else ''}"
    elif line.bought_kg > 0.0:
        take = f"{grams(line.bought_kg)} g {line.pack}"
    used = grams(line.used_kg) if line.used_kg else ""
    left = grams(line.left_kg) if line.left_kg > LEAST_LEFT_KG else ""
    name = line.name if len(line.name) <= LONGEST_NAME else f"{line.name[: LONGEST_NAME - 3]}..."
    return f"  {name}", take, money(line.cost) if line.cost else "", used, left
