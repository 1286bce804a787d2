"""Cases side by side as text, and as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from formulate.quantity.document import SCHEMA_VERSION
from formulate.report.numbers import grams, money, target_value
from formulate.report.plain import notes_text, paragraph, shortened, table_text
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.suppose_record import CaseRecord, Move, Spread, Supposed

__all__ = ["stopped_document", "suppose_text"]

LONGEST_NAME = 38
MOST_COMBINED = 24
"""More combinations than this are told of together only."""
MOST_MOVES = 4
MOST_TELLING = 4
LEAST_TELLING = 0.02
STATUS = {"no_recipe": "no recipe", "no_plan": "no plan", "no_size": "no size", "not_settled": "not settled"}
KINDS = {"grid": "combinations", "draw": "draws"}


@on_screen
def suppose_text(record: Supposed) -> str:
    """Show every case, or many together, and why some have nothing."""
    lines = paragraph(f"{record.name}: {record.about}")
    what = "the cheapest recipe of each case"
    if record.is_menu:
        what = "what is bought and the work on it; what the drinks leave without tax and what they use"
    lines += paragraph(f"({_unit(record)}; {what})")
    listed = _listed(record)
    if listed:
        lines += ["", *_table(record, listed)]
        told = [line for one in listed for line in _told(record, one)]
        lines += ["", *told] if told else []
    for spread in record.spreads:
        if not any(one.kind == spread.kind for one in listed):
            lines += ["", *_spread(record, spread)]
    lines += notes_text("Good to know", record.notes)
    return "\n".join(lines)


def _unit(record: Supposed) -> str:
    return f"{record.currency} in all" if record.is_menu else f"{record.currency} per litre"


def _listed(record: Supposed) -> list[CaseRecord]:
    combined = sum(one.kind == "grid" for one in record.cases)
    shown = ("case", "grid") if combined <= MOST_COMBINED else ("case",)
    return [one for one in record.cases if one.kind in shown]


def _table(record: Supposed, cases: Sequence[CaseRecord]) -> list[str]:
    head = ["case", record.currency if record.is_menu else f"{record.currency}/L", "more", "%"]
    rows = [[*head, *(["leaves"] if record.is_menu else []), ""]]
    now = record.as_it_is["figure"]
    for one in (None, *cases):
        outcome = record.as_it_is if one is None else one.outcome
        difference = None if one is None else one.difference
        row = ["as it is" if one is None else shortened(one.name, LONGEST_NAME), _money(outcome["figure"])]
        row.append("" if difference is None else _signed(money(difference)))
        row.append("" if difference is None or not now else _signed(f"{100.0 * difference / now:.1f}"))
        row += [_money(outcome.get("contribution"))] if record.is_menu else []
        rows.append([*row, _remark(outcome)])
    return table_text(rows, right=range(1, len(rows[0]) - 1))


def _money(amount: float | None) -> str:
    return "" if amount is None else money(amount)


def _signed(text: str) -> str:
    return text if text.startswith("-") or not float(text) else f"+{text}"


def _remark(outcome: Mapping[str, Any]) -> str:
    status = str(outcome["status"])
    if status in STATUS:
        return STATUS[status]
    if outcome.get("too_dear"):
        _, most = next(iter(outcome["too_dear"].values()))
        return f"above your {money(most)}" if "cost_per_litre" in outcome else "a bottle too dear"
    if status == "short":
        return "falls short"
    return "not proved" if status == "feasible" else ""


def _told(record: Supposed, one: CaseRecord) -> list[str]:
    """Say what is otherwise in a case, and what that does."""
    text = "" if one.kind == "grid" or one.changes == (one.name,) else f" {'; '.join(one.changes)}."
    why = _why(one.outcome)
    if why:
        text += f" {why}"
    elif one.moves:
        text += f" {_moves(record, one.moves)}."
    if record.is_menu:
        for name, (cost, most) in one.outcome.get("too_dear", {}).items():
            text += f" {name} costs {money(cost)} per litre, above its {money(most)}."
        for name, litres in one.outcome.get("short_l", {}).items():
            text += f" {name}: {litres:.2f} L cannot be made in time."
    return paragraph(f"{one.name}:{text}", first="  ", rest="    ") if text else []


def _why(outcome: Mapping[str, Any]) -> str:
    """Say in one line why there is no recipe or plan; empty where there is one."""
    if outcome["figure"] is not None:
        return ""
    needed = outcome.get("needed_by", [])
    drinks = f" ({', '.join(needed)} needs it)" if len(needed) == 1 else ""
    drinks = f" ({', '.join(needed)} need it)" if len(needed) > 1 else drinks
    if outcome["status"] == "no_plan":
        short = [f"{grams(mass / 1000.0)} g of {name}" for name, mass in outcome.get("missing", {}).items()]
        short += [f"{count} of {name}" for name, count in outcome.get("missing_pieces", {}).items()]
        return f"No plan: {', '.join(short)} cannot be had{drinks}."
    whose = f" for {outcome['bottle']}" if "bottle" in outcome else ""
    if outcome.get("clash"):
        return f"No recipe{whose}{drinks}: {', '.join(map(_limit, outcome['clash']))} clash."
    if "why" in outcome:
        return f"{outcome['why'][:1].upper()}{outcome['why'][1:]}".rstrip(".") + "."
    return f"No recipe{whose}{drinks}: what the file says under `choose` cannot be kept."


def _limit(member: Mapping[str, Any]) -> str:
    name, text = str(member["limit"]), str(member["text"])
    if member["says"] == "all":
        return text
    if member["bound"] is None or member["says"] == "side":
        return f"{name} {text}"
    unit = f" {member['unit']}" if member["unit"] else ""
    return f"{name} {member['side']} {target_value(name, member['bound'])}{unit}"


def _moves(record: Supposed, moves: Sequence[Move]) -> str:
    parts = [_move(record, move) for move in moves[:MOST_MOVES]]
    if len(moves) > MOST_MOVES:
        parts.append(f"{len(moves) - MOST_MOVES} more")
    told = ", ".join(parts)
    return f"Bought, {record.currency}: {told}" if record.is_menu else f"Per litre: {told}"


def _move(record: Supposed, move: Move) -> str:
    if move.now <= 0.0:
        # Of a menu that is a pack less, which need not mean that none is used.
        return f"{move.name} {money(move.before)} to nothing" if record.is_menu else f"no {move.name}"
    before, now = (money(one) if record.is_menu else grams(one / 1000.0) for one in (move.before, move.now))
    unit = "" if record.is_menu else " g"
    return f"{move.name} {f'{before} to ' if move.before > 0.0 else ''}{now}{unit}"


def _spread(record: Supposed, spread: Spread) -> list[str]:
    lines = paragraph(f"{spread.count} {KINDS[spread.kind]}, {_unit(record)}:")
    if spread.median is not None:
        ends = (spread.least, spread.low, spread.median, spread.high, spread.most)
        rows = [["  lowest", "5 %", "median", "95 %", "highest"]]
        rows.append([_money(end) for end in ends])
        lines += table_text(rows, right=range(5))
    if spread.without:
        what = "plan" if record.is_menu else "recipe"
        lines += paragraph(f"{_of(spread.without, spread.count)} have no {what}.")
    if spread.too_dear:
        lines += paragraph(f"{_of(spread.too_dear, spread.count)} cost more than the bottle file allows.")
    if spread.short:
        told = _of(spread.short, spread.count)
        lines += paragraph(f"{told} leave something that cannot be made in time.")
    telling = [one for one in spread.telling if one.rank_correlation**2 >= LEAST_TELLING][:MOST_TELLING]
    if telling:
        # In few draws things that have nothing to do with each other seem to share a little.
        whole = max(1.0, sum(one.rank_correlation**2 for one in spread.telling))
        told = ", ".join(
            f"{one.name} ({100.0 * one.rank_correlation**2 / whole:.0f} %"
            f"{', the other way' if one.rank_correlation < 0.0 else ''})"
            for one in telling
        )
        lines += paragraph(f"What moves it most: {told}.")
    return lines


def _of(part: int, whole: int) -> str:
    return f"{part} of {whole} ({100.0 * part / whole:.1f} %)"


def stopped_document(text: str, done: int, count: int) -> dict[str, Any]:
    """Lay out a run that was stopped."""
    return {"schema_version": SCHEMA_VERSION, "status": "stopped", "text": text, "done": done, "count": count}
