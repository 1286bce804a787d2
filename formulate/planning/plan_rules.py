"""The rules of a plan in words: what the plan keeps, and every plan that it is held against."""

from __future__ import annotations

from formulate.files.days import WEEKDAYS
from formulate.optimise.mip.packs import Thing
from formulate.planning.calendar import SAME_EVENING_H
from formulate.planning.goods import MenuGoods
from formulate.planning.slots import GONE
from formulate.quantity.words import day_text, listed

__all__ = ["plan_rules"]


def plan_rules(goods: MenuGoods) -> tuple[str, ...]:
    """List the rules, in the order in which a plan meets them."""
    rules = [_days(goods), _coming(goods)]
    if goods.question.makings:
        rules += _making(goods)
    rules.append(
        "What is poured on a day is there on it, the oldest first. What comes or is ready counts from that "
        "day on for as many days as it keeps, the day itself among them, and past them no more. What keeps "
        "longer than the menu may come on any delivery."
    )
    shelf = goods.pantry.shelf
    assert shelf is not None
    if goods.question.least_order:
        names = [supplier for supplier, _ in goods.question.least_order]
        rules.append(
            f"An order from {listed(names)} comes to the least order at the least, counted without tax and "
            "deposit; each delivery is an order."
        )
    if goods.question.carriage:
        rules.append("Carriage is paid for each delivery whose order, without tax, is below what is free.")
    if any(pack.at_least for pack in goods.question.packs):
        rules.append("A price from so many packs on holds where one delivery has as many of that pack.")
    if goods.menu.budget is not None:
        rules.append(
            f"What comes in one week, without tax and deposit, is no more than {goods.menu.budget.text}."
        )
    rules.append(_counted(goods))
    return tuple(rules)


def _days(goods: MenuGoods) -> str:
    calendar = goods.calendar
    start = goods.day(calendar.start).text
    if calendar.is_fixed:
        text = f"Nothing is ordered or begun before {start}"
    elif calendar.start < 0:
        text = f"The first day for a delivery or a batch is {start}, the menu's own is {goods.day(0).text}"
    else:
        text = f"What comes is there by the first day, {start}; it may be ordered before"
    weekdays = [WEEKDAYS[day] for day in goods.menu.closed if isinstance(day, int)]
    dates = [day_text(day) for day in goods.menu.closed if not isinstance(day, int)]
    if weekdays or dates:
        text += f". Nothing is sold or begun on {listed([*(f'{day}s' for day in weekdays), *dates])}"
    return f"{text}. A week's sales are the same on each of its open days."


def _coming(goods: MenuGoods) -> str:
    shelf = goods.pantry.shelf
    assert shelf is not None
    said = {pack.supplier for pack in goods.question.packs if pack.supplier in shelf.suppliers}
    parts = []
    for name in sorted(said):
        terms = shelf.suppliers[name]
        if terms.delivers_on:
            parts.append(f"{name} on {listed([f'{WEEKDAYS[day]}s' for day in terms.delivers_on])}")
    usual = (
        "Suppliers come on the first day of a week, the first time as soon as they can; what keeps less than "
    )
    usual += "a week comes every so many days from there as it keeps"
    return f"{usual}; {listed(parts)}." if parts else f"{usual}."


def _making(goods: MenuGoods) -> list[str]:
    menu, calendar = goods.menu, goods.calendar
    if menu.makes_on:
        when = f"on {listed([f'{WEEKDAYS[day]}s' for day in menu.makes_on])}"
    elif calendar.fewer_days:
        when = "on two days a week, so that so many bottles can be planned"
    else:
        when = "on any open day"
    rules = [
        f"Batches are begun {when}, in the morning, with all that goes into them there. What takes "
        f"{SAME_EVENING_H:g} hours or less is poured the same evening; else a batch is poured after as many "
        "days as it takes, counted up. A vessel holds one batch at a time, from when it is begun for as long "
        "as it takes; batches are no larger than it gives and no smaller than the least."
    ]
    if any(making.batch_kg is None for making in goods.question.makings):
        rules.append(
            "What is made without a vessel is made once a week, on its first open day, and what keeps less "
            "than a week as often as it needs."
        )
    if any(making.filled_kg for making in goods.question.makings):
        rules.append("A bottle begun takes a whole empty one.")
    if any(good.waste_cost and good.keeps is not None for good in goods.question.goods):
        rules.append(
            "What is made and not poured in its time counts once more at what is in it, whether that was "
            "bought or there."
        )
    return rules


def _counted(goods: MenuGoods) -> str:
    text = "Least is the sum of packs at their prices, carriage and work on batches"
    if goods.question.leftover_share:
        share = 100.0 * goods.question.leftover_share
        text += f", less {share:g} % of the lowest price for what is left of what keeps"
    loose = {
        goods.question.goods[pack.thing.number].name
        for pack in goods.question.packs
        if pack.loose and pack.name != GONE and pack.thing == Thing(False, pack.thing.number)
    }
    if loose:
        text += "; packs are whole, and what is sold by weight is not"
    return f"{text}."
