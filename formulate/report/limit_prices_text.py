"""What limits cost and when ingredients come in, as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

from formulate.report.numbers import grams, money, target_value
from formulate.report.plain import notes_text, paragraph
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.jobs.limit_prices import EntryRecord, LimitPriceRecord, Prices

__all__ = ["prices_lines"]


@on_screen
def prices_lines(prices: Prices) -> list[str]:
    """Say in plain words what each limit costs and how far, and when an ingredient would come in."""
    lines = ["", "What the limits cost, by solving again"]
    for price in prices.limits:
        lines += paragraph(_limit_text(price, prices.currency), first="  · ", rest="    ")
    if not prices.limits:
        lines.append("  No limit costs anything here.")
    if prices.entries:
        lines += ["", "What is not used"]
        for entry in prices.entries:
            lines += paragraph(_entry_text(entry, prices.currency), first="  · ", rest="    ")
    return [*lines, *notes_text("About these prices", prices.notes)]


def _limit_text(price: LimitPriceRecord, currency: str) -> str:
    word = "at least" if price.is_lower else "at most"
    name = price.limit if price.says_side else f"{price.limit} {word}"
    head = f"{name} {_bound(price, price.bound)}"
    if price.below is None and price.above is None:
        return f"{head}: no recipe on either side, so it has no price."
    if price.unique:
        value = price.below or 0.0
        if abs(value) < 5e-7:
            return f"{head}: free."
        saving = "less" if value > 0.0 else "more"
        text = f"{head}: {_one(price)} {saving} would save {_small(abs(value))} {currency} per litre"
        return f"{text}{_range_text(price)}."
    sides = []
    for slope, side in ((price.below, "less"), (price.above, "more")):
        if slope is None:
            sides.append(f"with any {side} there is no recipe")
            continue
        change = -slope if side == "less" else slope
        sides.append(f"{_one(price)} {side} {'costs' if change > 0.0 else 'saves'} {_small(abs(change))}")
    return f"{head}: two prices. {sides[0][0].upper()}{sides[0][1:]}, {sides[1]} ({currency} per litre)."


def _range_text(price: LimitPriceRecord) -> str:
    if price.low is None or price.high is None:
        return ""
    low = f"{_bound(price, price.low)}{' or less' if price.low_open else ''}"
    high = f"{_bound(price, price.high)}{' or more' if price.high_open else ''}"
    return f" (holds from {low} to {high})"


def _one(price: LimitPriceRecord) -> str:
    return f"1 {price.unit}" if price.unit else "1 point"


def _bound(price: LimitPriceRecord, value: float) -> str:
    if not price.is_target:
        return f"{value:.3g} {price.unit}".rstrip()
    return f"{target_value(price.limit, value)} {price.unit}".rstrip()


def _small(value: float) -> str:
    return f"{value:.2f}" if value >= 0.095 else f"{value:.2g}"


def _entry_text(entry: EntryRecord, currency: str) -> str:
    now = f"now {money(entry.price_per_kg)}"
    if entry.entry_per_kg is None:
        return f"{entry.ingredient} would not come in even for nothing ({now} {currency}/kg)."
    price = f"{money(entry.entry_per_kg)} {currency}/kg"
    return f"{entry.ingredient} comes in below {price} ({now}): {grams(entry.mass_kg)} g of it at first."
