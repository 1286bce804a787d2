"""A drink to plain text of 80 columns and to JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from formulate.files.measures import BITTERNESS, IN_EVERY_DRINK, STRENGTH
from formulate.quantity.amounts import cents_adding_up
from formulate.report.first_screen import SAID_FIRST, More, closing, more_line, rest
from formulate.report.numbers import band_text, grams, money, target_value
from formulate.report.plain import AT, notes_text, paragraph, shortened, table_text
from formulate.report.rules_text import caution_lines, law_lines, over_lines
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.bar.costing import PriceRecord
    from formulate.describe.pour_record import PourLine, PourRecord, PrebatchRecord
    from formulate.jobs.fit import FittedBottle

__all__ = ["fit_text", "millilitres", "pour_text"]

LONGEST_NAME = 30
NO_METHOD_WORDS = {"batched": "poured as it is"}


def millilitres(volume_l: float) -> str:
    """Write a small volume as a jigger or a jug shows it."""
    volume = volume_l * 1000.0
    if volume < 9.995:
        return f"{volume:.2g}" if volume < 1.0 else f"{volume:.1f}"
    return f"{volume:.0f}"


@on_screen
def pour_text(record: PourRecord, more: More = More.NONE) -> str:
    """Lay out one drink: what is poured, what is in the glass, what it costs.

    Parameters
    ----------
    record : PourRecord
    more : More
        Which parts beyond the first screen.
    """
    return "\n".join(_everything(record) if more is More.ALL else _first(record, more))


def _first(record: PourRecord, more: More) -> list[str]:
    lines = [*over_lines(record.law), *_head(record), *_poured(record, beside=True), ""]
    lines += table_text(_in_the_glass(record), right=(1,))
    lines += _ice(record)
    lines += paragraph(_alcohol(record))
    if record.batch is not None:
        lines += ["", *_batch_lines(record.batch)]
    cost = [] if record.price is None else paragraph(_price_first(record.price))
    lines += ["", *closing(record.notes, record.cautions, more, last=cost)]
    lines.append(more_line(more, cautions=record.cautions, law=bool(record.law.caps)))
    return lines + rest(record.notes, record.cautions, more, law=record.law)


def _everything(record: PourRecord) -> list[str]:
    lines = [*over_lines(record.law), *_head(record), "", *_poured(record, beside=False), AT, ""]
    lines += table_text([*_in_the_glass(record), _alcohol_row(record)], right=(1,))
    lines += _ice(record)
    lines += law_lines(record.law)
    lines += _told(record)
    if record.price is not None:
        lines += ["", *_price_lines(record.price, _parts(record.price))]
    if record.batch is not None:
        lines += ["", *_batch_lines(record.batch)]
    lines += notes_text("Good to know", record.notes)
    return lines + caution_lines(record.cautions, in_full=True)


def _head(record: PourRecord) -> list[str]:
    served = record.served
    how = NO_METHOD_WORDS.get(record.method, record.method)
    return paragraph(
        f"{record.name}: {how}, {float(served.volume_l) * 1000.0:.0f} mL in the glass at "
        f"{float(served.strength_pct_vol):.1f} % vol"
    )


def _poured(record: PourRecord, *, beside: bool) -> list[str]:
    """Lay out what is poured; what is on top or on the glass says so beside itself, or under a heading."""
    currency = "" if record.price is None else record.price.currency
    rows = [["pour", "", "mL", "g", currency]]
    lines_costs = _with_costs(record)
    rows += [_row(line, cost) for line, cost in lines_costs if not line.after]
    if record.melt.mass_kg > 0.0:
        what = "ice melt, weighed" if record.melt.weighed else "ice melt"
        share = f"{100.0 * record.melt.share:.0f} % of it"
        melt_l = record.melt.volume_l
        rows.append([f"  {what}", share, millilitres(melt_l), grams(record.melt.mass_kg), ""])
    for heading, chosen in (
        ("on top", [one for one in lines_costs if one[0].after and not one[0].is_garnish]),
        ("on the glass", [one for one in lines_costs if one[0].is_garnish]),
    ):
        under = [_row(line, cost) for line, cost in chosen]
        if beside:
            rows += [[row[0], ", ".join(filter(None, (row[1], heading))), *row[2:]] for row in under]
        elif under:
            rows += [[heading, "", "", "", ""], *under]
    return table_text(rows, right=(2, 3, 4))


def _alcohol(record: PourRecord) -> str:
    """Say in a line how much alcohol a glass holds, as a menu or a guest asks for it, and its allergens."""
    by_country = {one.country: one.per_serve for one in record.drinks}
    counted = [f"{by_country[name]:.1f} {short}" for name, short in SAID_FIRST.items() if name in by_country]
    drinks = f" ({', '.join(counted)} standard drinks)" if counted and record.ethanol_kg > 0.0 else ""
    named = ", ".join(one.name for one in record.allergens) or "none by name"
    return f"Alcohol {record.ethanol_kg * 1000.0:.1f} g{drinks}. Allergens: {named}."


def _alcohol_row(record: PourRecord) -> list[str]:
    return ["alcohol", f"{record.ethanol_kg * 1000.0:.1f}", "g", ""]


def _price_first(price: PriceRecord) -> str:
    """Say in a line what a drink costs and leaves."""
    text = f"Costs {money(price.cost)} {price.currency}"
    if price.price is not None and price.cost_share is not None and price.contribution is not None:
        taxed = " after tax" if price.prices_with_tax else ""
        text += f" of {money(price.price)} ({100.0 * price.cost_share:.1f} %{taxed}), leaves "
        text += money(price.contribution)
    if price.target_share is not None and price.price_for_target is not None:
        text += f"; {100.0 * price.target_share:g} % would be {money(price.price_for_target)}"
    return f"{text}."


@on_screen
def fit_text(fitted: FittedBottle, *, saved: bool) -> str:
    """Lay out what was asked of a bottle for a drink, and what it will be."""
    record = fitted.solved.record
    cost = "" if record.cost is None else f", {money(record.cost.per_litre)} {record.cost.currency} a litre"
    lines = paragraph(f"{fitted.name} made for {fitted.pour.name}: {record.name}{cost}")
    rows = [["in the bottle", "will be", "", "asked of it"]]
    for one in record.targets:
        asked = band_text(one.target, one.lower, one.upper)
        rows += [[one.target, target_value(one.target, one.value, one.lower, one.upper), one.unit, asked]]
    lines += ["", *table_text(rows, right=(1,))]
    proof = "No bottle within these limits costs less" if record.status == "optimal" else "The best found"
    held = f"{proof}; they hold for {millilitres(float(fitted.pour.served.volume_l))} mL in the glass."
    return "\n".join([*lines, *paragraph(held if saved else f"{held} Save its recipe with -o.")])


def _parts(price: PriceRecord) -> list[float]:
    """Return what is poured, on the glass and wasted, in cents that add up to what one costs."""
    return cents_adding_up((price.ingredients, price.garnish, price.waste), float(money(price.cost)))


def _with_costs(record: PourRecord) -> list[tuple[PourLine, str]]:
    """Write what each line costs, in cents that add up to what is said of them below."""
    costs = ["" if line.cost is None else money(line.cost) for line in record.lines]
    poured, garnish, _ = (0.0, 0.0, 0.0) if record.price is None else _parts(record.price)
    for is_garnish, total in ((False, poured), (True, garnish)):
        priced = [
            (number, line.cost)
            for number, line in enumerate(record.lines)
            if record.price is not None and line.is_garnish == is_garnish and line.cost is not None
        ]
        cents = cents_adding_up([cost for _, cost in priced], total)
        for (number, _), cent in zip(priced, cents, strict=True):
            costs[number] = money(cent)
    return list(zip(record.lines, costs, strict=True))


def _row(line: PourLine, cost: str) -> list[str]:
    name = shortened(line.ingredient, LONGEST_NAME)
    volume = "" if line.volume_l is None else millilitres(line.volume_l)
    mass = grams(line.mass_kg) if line.mass_kg else ""
    return [f"  {name}", line.text, volume, mass, cost]


def _in_the_glass(record: PourRecord) -> list[list[str]]:
    served = record.served
    low, high = record.strength_range
    said = [f"{low:.1f} to {high:.1f} as the ice goes"] if high - low > 0.05 else []
    if record.melt.mass_kg > 0.0:
        said.append(f"from {record.poured_strength_pct_vol:.1f} before it")
    litres = float(served.volume_l)
    rows = [["in the glass", "", "", "you asked" if record.aims else "", ""]]
    for measure in (*IN_EVERY_DRINK, *record.contents):
        name, value = measure.name, float(served.value(measure.name))
        if name == BITTERNESS and value < 0.5 and name not in record.aims:
            continue
        remark = ", ".join(said) if name == STRENGTH else ""
        if measure.unit.endswith("g/L"):
            remark = f"{value * litres:.1f} {measure.unit.removesuffix('/L')} in all"
        asked, ends = "", record.aims.get(name, (None, None))
        if name in record.aims:
            lower, upper = record.aims[name]
            asked = band_text(name, lower or None, None if math.isinf(upper) else upper)
            slack = 1e-5 * max(abs(value), 1.0)
            asked += "" if lower - slack <= value <= upper + slack else "  off"
        rows.append([name, target_value(name, value, *ends), measure.unit, asked, remark])
    # Beside what was asked there is no room for remarks: those on strength are said below.
    return [row[:4] for row in rows] if record.aims else [[*row[:3], row[4]] for row in rows]


def _ice(record: PourRecord) -> list[str]:
    """Say what the ice does, where it does not stand in the table."""
    if not record.aims or record.melt.mass_kg <= 0.0:
        return []
    low, high = record.strength_range
    spread = f"; {low:.1f} to {high:.1f} as the ice goes" if high - low > 0.05 else ""
    return paragraph(f"The ice thins it from {record.poured_strength_pct_vol:.1f} % vol{spread}.")


def _told(record: PourRecord) -> list[str]:
    """Write standard drinks and allergens as a menu or a guest asks for them."""
    lines: list[str] = [""]
    if record.drinks and record.ethanol_kg > 0.0:
        counted = ", ".join(f"{one.country} {one.per_serve:.1f}" for one in record.drinks)
        lines += paragraph(f"Standard drinks: {counted}. (formulate standards standard-drinks)")
    named = "; ".join(f"{one.name} ({', '.join(one.brought_by)})" for one in record.allergens)
    return lines + paragraph(f"Allergens: {named or 'none told by the names'}. Ask your supplier.")


def _price_lines(price: PriceRecord, to_cents: Sequence[float]) -> list[str]:
    poured, garnish, waste = to_cents
    parts = [f"{money(poured)} poured"]
    if price.garnish:
        parts.append(f"{money(garnish)} garnish")
    if price.waste:
        parts.append(f"{money(waste)} waste")
    lines = paragraph(f"Costs {money(price.cost)} {price.currency} a drink: {', '.join(parts)}.")
    taxed = " with tax" if price.prices_with_tax else ""
    if price.price is not None and price.cost_share is not None and price.contribution is not None:
        lines += paragraph(
            f"At {money(price.price)} {price.currency}{taxed} that is {100.0 * price.cost_share:.1f} % of "
            f"the price without tax, and one leaves {money(price.contribution)} {price.currency}."
        )
    if price.target_share is not None and price.price_for_target is not None:
        lines += paragraph(
            f"For {100.0 * price.target_share:g} % it would sell at {money(price.price_for_target)} "
            f"{price.currency}{taxed}."
        )
    return lines


def _batch_lines(batch: PrebatchRecord) -> list[str]:
    lines = paragraph(
        f"Batched ahead, {batch.size_text}: {float(batch.drink.volume_l):.2f} L at "
        f"{float(batch.drink.strength_pct_vol):.1f} % vol, {batch.serves:.1f} drinks of "
        f"{batch.serve_l * 1000.0:.0f} mL"
    )
    rows = [["measure in", "mL", "g", "or"]]
    for line in batch.lines:
        volume = "" if line.volume_l is None else millilitres(line.volume_l)
        measure = line.measure.text if line.measure.bottles else ""
        rows.append([f"  {line.ingredient}", volume, grams(line.mass_kg), measure])
    lines += table_text(rows, right=(1, 2))
    if batch.at_service:
        added = ", ".join(_to_glass(line) for line in batch.at_service)
        lines += paragraph(f"To each glass: {added}.")
    return lines


def _to_glass(line: PourLine) -> str:
    if not line.mass_kg:
        return line.ingredient
    if line.volume_l is not None and line.text.endswith(("part", "parts")):
        return f"{millilitres(line.volume_l)} mL {line.ingredient}"
    return f"{line.text} {line.ingredient}"
