"""What a batch will be and cost, in rows and lines that every report shows alike."""

from __future__ import annotations

from formulate.describe.records import CostLine, DrinkRecord, TargetRecord
from formulate.files.measures import BITTERNESS, COST, IN_EVERY_DRINK, STRENGTH, measure_of
from formulate.report.numbers import band_text, money, percent, proved, target_value

__all__ = ["AT_ITS_LIMIT", "cost_first", "cost_line", "price_lines", "profile_rows", "readings_text"]

AT_ITS_LIMIT = "at its limit"
_WORTH_SAYING = 5e-4
"""A saving below this share of the price of a litre (half a cent at ten) is not told."""


def profile_rows(record: DrinkRecord) -> list[tuple[str, str, str, str, str]]:
    """Lay out what a batch will be: measure, figure, unit, what was asked, and how that is met."""
    drink = record.predicted
    asked = {target.target: target for target in record.targets}
    of_category: list[TargetRecord] = []
    for target in record.targets:
        if target.measure == STRENGTH and STRENGTH not in asked:
            asked[STRENGTH] = target
        elif target.measure != target.target:
            of_category.append(target)
    rows: list[tuple[str, float, str, TargetRecord | None]] = []
    contents = [measure_of(name) for name in drink.attributes_g_l if name in asked]
    for measure in (*IN_EVERY_DRINK, *contents):
        value, held = float(drink.value(measure.name)), asked.get(measure.name)
        if measure.name != BITTERNESS or value > 0.0 or held is not None:
            unit = _spread(record, measure.name) or measure.unit_bottled
            rows.append((measure.name, value, unit, held))
    rows += [(target.measure, target.value, target.unit, target) for target in of_category]
    if record.cost is not None and COST in asked:
        unit = measure_of(COST).unit_bottled.format(currency=record.cost.currency)
        rows.append((COST, record.cost.per_litre, unit, asked[COST]))
    return [
        (
            label,
            target_value(label, value, *((held.lower, held.upper) if held else ())),
            unit,
            band_text(label, held.lower, held.upper) if held else "",
            (held.verdict or (AT_ITS_LIMIT if held.binding else "")) if held else "",
        )
        for label, value, unit, held in rows
    ]


def _spread(record: DrinkRecord, name: str) -> str:
    if name == BITTERNESS and record.bitterness_range is not None:
        low, high = record.bitterness_range
        lots = f"({low:.0f} to {high:.0f} by lot)" if high > low * 1.01 and high >= 0.5 else ""
        return f"{record.bitterness_word} {lots}".strip()
    if name == STRENGTH and record.confirmable_pct_vol is not None:
        return f"% vol (tools: ±{record.confirmable_pct_vol:.1f})"
    return ""


def readings_text(record: DrinkRecord, *, proof: bool) -> str:
    """Say what the tools of a bar show at 20 °C, so that a batch can be checked."""
    parts = [f"hydrometer SG {record.hydrometer_sg:.3f}"]
    if record.refractometer_brix is not None:
        parts.append(f"refractometer {record.refractometer_brix:.1f} Brix")
    if proof:
        parts.append(f"{record.predicted.proof_us:.1f} proof US")
    return f"At 20 °C: {', '.join(parts)}."


def cost_line(cost: CostLine, status: str) -> str:
    """Say what a batch costs and what is proved of that, with how far."""
    line = f"{money(cost.per_litre)} {cost.currency} per litre, {money(cost.total)} in all."
    if cost.proven_gap is None:
        return line
    if status == "optimal":
        return f"{line} No cheaper recipe exists within these limits ({proved(cost.proven_gap)})."
    return f"{line} Best found: at most {percent(cost.proven_gap)} % dearer than any other."


def cost_first(cost: CostLine, status: str, asked: str = "") -> str:
    """Say what it costs, what was asked, and what is proved of that, in a line."""
    asked = f" ({asked})" if asked else ""
    line = f"{money(cost.per_litre)} {cost.currency} per litre{asked}, {money(cost.total)} in all"
    if cost.proven_gap is not None and status == "optimal":
        none = "none cheaper exists" if asked else "no cheaper recipe exists"
        return f"{line}; {none} (proved)."
    return cost_line(cost, status) if cost.proven_gap is not None else f"{line}."


def price_lines(record: DrinkRecord) -> list[str]:
    """Say which targets cost money, in the target's own unit."""
    if record.cost is None:
        return []
    lines = []
    per_litre = record.cost.per_litre
    for target in record.targets:
        price = target.shadow_price
        if price is None or target.target == COST or abs(price) < _WORTH_SAYING * max(per_litre, 0.01):
            continue
        amount = abs(price)
        saved = f"{amount:.2f}" if amount >= 0.01 else f"{amount:.1g}"
        if target.unit:
            moved = f"1 {target.unit} {'less' if price > 0 else 'more'} {target.measure}"
        else:
            moved = f"{target.measure} {'lower' if price > 0 else 'higher'} by 1"
        lines.append(f"  {moved} would save {saved} {record.cost.currency} per litre.")
    return lines
