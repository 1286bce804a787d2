"""A plan for a menu as a record: what is made, bought and left, what it costs and brings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from statistics import NormalDist

import numpy as np

from formulate.bar.least_orders import kept_orders
from formulate.bar.prices import split_price, untaxed
from formulate.blend.materials import density_as_bought_kg_m3
from formulate.describe.menu_record import (
    AdaptedLine,
    AdaptedRow,
    BatchRow,
    HouseRow,
    MenuDay,
    MenuDrinkRow,
    MenuLine,
    MenuRecord,
    MixTotals,
    ParRow,
)
from formulate.describe.poured import care_of, costs_of
from formulate.errors import Note, VerificationError
from formulate.files.ingredient import Ingredient
from formulate.files.menu import Par
from formulate.optimise.mip.packs import Thing
from formulate.optimise.stock.played import Played, broken_rule, carriage_paid, play
from formulate.optimise.stock.question import StockPlan
from formulate.optimise.tolerances import INTEGER_FEASIBILITY
from formulate.planning.goods import MenuGoods
from formulate.planning.other_recipes import OtherRecipe, recipe_file
from formulate.planning.plan_notes import plan_notes
from formulate.planning.plan_rules import plan_rules
from formulate.quantity.amounts import AmountBasis
from formulate.rules.duty import duty_note

__all__ = ["SECONDS", "menu_record"]

SHORT_L = 5e-4
LEAST_SHOWN_G_L = 5e-3
HOURS_PER_DAY = 24.0
DAYS_PER_WEEK = 7.0


SECONDS = 60.0


def menu_record(goods: MenuGoods, plan: StockPlan, others: Sequence[OtherRecipe] = ()) -> MenuRecord:
    """Tell of a plan.

    Parameters
    ----------
    others : sequence of OtherRecipe
        Recipes beside the first ones, among the makings of the question.

    Raises
    ------
    VerificationError
        If the plan leaves something missing that it does not say, or breaks a rule of making or ordering.
    """
    played = play(goods.question, plan)
    _verify(goods, plan, played)
    menu, shelf = goods.menu, goods.pantry.shelf
    assert shelf is not None
    drinks = tuple(
        MenuDrinkRow(
            serve.drink.name,
            float(sold),
            price,
            poured,
        )
        for sold, serve in zip(goods.sales.mean.sum(axis=1), goods.serves, strict=True)
        for poured, price in [costs_of(serve)]
    )
    law, cautions, broken = care_of(goods.serves)
    lines = (*_lines(goods, plan), *_pieces(goods))
    house = _house(goods, plan, played)
    stock = _stock(goods, plan, played)
    short = any(row.short_l > SHORT_L for row in house) or any(row.short_kg > 0.0 for row in stock)
    bought_from = {line.supplier for line in lines}
    return MenuRecord(
        name=menu.name,
        weeks=menu.weeks,
        cover_share=menu.cover_share,
        drinks=drinks,
        mix=_mix(drinks),
        house=house,
        calendar=_calendar(goods, plan, others),
        lines=lines,
        labour=_labour(goods, plan),
        labour_h=_labour_h(goods, plan),
        stock=stock,
        total=_sum(line.cost for line in lines),
        to_pay=_sum(line.to_pay for line in lines),
        tax=_sum(line.tax for line in lines),
        deposit=_sum(line.deposit for line in lines),
        currency=shelf.currency,
        tax_reclaimed=shelf.tax.reclaimed,
        status="short" if short else "optimal" if plan.proved else "feasible",
        proven_gap=plan.proven_gap,
        leftover_share=goods.question.leftover_share,
        least_orders=kept_orders(goods.question.least_order, bought_from),
        rules=plan_rules(goods),
        first_day=None if menu.first_day is None else menu.first_day.isoformat(),
        notes=(*law, *plan_notes(goods, drinks), *_duty(goods, plan)),
        cautions=cautions,
        over_a_limit=broken,
        adapted=_adapted(goods, plan, others),
        shelf_path=menu.shelf_path,
    )


def _sum(amounts: Iterable[float]) -> float:
    """Add up money that is in cents already."""
    return round(sum(amounts), 2)


def _verify(goods: MenuGoods, plan: StockPlan, played: Played) -> None:
    if broken := broken_rule(goods.question, plan):
        raise VerificationError(broken)
    said = np.zeros_like(played.missing_kg)
    said[:, :-1] = plan.short_kg
    for number, good in enumerate(goods.question.goods):
        missing = float(played.missing_kg[number].sum()) - float(said[number].sum())
        goes = max(sum(good.demand_kg) + good.end_kg, float(goods.per_week[number, 0]) * goods.menu.weeks)
        if missing > INTEGER_FEASIBILITY * max(goes, 1e-3):
            raise VerificationError(
                f"{good.name} would be missing: {missing * 1000.0:.3g} g of {goes * 1000.0:.3g} g"
            )


def _mix(drinks: tuple[MenuDrinkRow, ...]) -> MixTotals | None:
    sales = cost = 0.0
    for row in drinks:
        if row.price is not None and row.price.price_without_tax is not None:
            sales += row.sold * row.price.price_without_tax
            cost += row.sold * row.price.cost
    return MixTotals(sales, cost, sales - cost, cost / sales) if sales > 0.0 else None


def _lines(goods: MenuGoods, plan: StockPlan) -> tuple[MenuLine, ...]:
    question, lines = goods.question, []
    shelf = goods.pantry.shelf
    assert shelf is not None
    for number, (pack, price) in enumerate(zip(question.packs, goods.prices, strict=True)):
        thing = pack.thing
        name = question.splits[thing.number].name if thing.is_purchase else question.goods[thing.number].name
        for period in range(question.periods):
            count = float(plan.packs[number, period])
            if count * pack.size_kg <= (1e-6 if pack.loose else 0.0):
                continue
            billed = price.billed(count)
            comes = goods.delivery(number, period)
            day = goods.day(comes.day)
            lines.append(
                MenuLine(
                    name=name,
                    supplier=pack.supplier,
                    week=day.week,
                    day=day,
                    order_by=goods.day(comes.order_by),
                    packs=None if pack.loose else round(count),
                    pack=pack.name,
                    amount_kg=0.0 if name in shelf.supplies else count * pack.size_kg,
                    without_tax=billed.net,
                    tax=billed.tax,
                    deposit=billed.deposit,
                    cost=billed.cost,
                    each=price,
                )
            )
    lines += _carriage(goods, plan)
    lines.sort(key=lambda line: (line.supplier == "", line.supplier, line.day.day))
    # One delivery is one order: what must be ordered first says by when.
    soonest: dict[tuple[str, int], MenuDay] = {}
    for line in lines:
        order = line.supplier, line.day.day
        soonest[order] = min(soonest.get(order, line.order_by), line.order_by, key=lambda day: day.day)
    return tuple(replace(line, order_by=soonest[line.supplier, line.day.day]) for line in lines)


def _carriage(goods: MenuGoods, plan: StockPlan) -> list[MenuLine]:
    """List what bringing orders costs, as a line of each order that is not brought for nothing."""
    question, shelf = goods.question, goods.pantry.shelf
    assert shelf is not None
    lines = []
    for supplier, period in carriage_paid(question, plan):
        asked = shelf.suppliers[supplier].carriage
        assert asked is not None
        each = split_price(asked.value, shelf.tax, tax_in="without")
        billed = each.billed(1)
        comes = [
            goods.delivery(number, period)
            for number, pack in enumerate(question.packs)
            if pack.supplier == supplier and plan.packs[number, period] > 0.0
        ]
        day = goods.day(comes[0].day)
        lines.append(
            MenuLine(
                name="carriage",
                supplier=supplier,
                week=day.week,
                day=day,
                order_by=goods.day(min(one.order_by for one in comes)),
                packs=1,
                pack="delivery",
                amount_kg=0.0,
                without_tax=billed.net,
                tax=billed.tax,
                deposit=billed.deposit,
                cost=billed.cost,
                each=each,
            )
        )
    return lines


def _pieces(goods: MenuGoods) -> tuple[MenuLine, ...]:
    """List what is on glasses by the piece and has no offer on the shelf: its price is taken as it costs."""
    counts: dict[tuple[str, float], tuple[float, float]] = {}
    shelf = goods.pantry.shelf
    assert shelf is not None
    means = goods.sales.mean.sum(axis=1)
    variances = (goods.sales.spread**2).sum(axis=1)
    for mean, own, serve in zip(means, variances, goods.serves, strict=True):
        for garnish in serve.drink.garnish:
            if garnish.price is not None:
                key = (garnish.id, garnish.price.value)
                sold, variance = counts.get(key, (0.0, 0.0))
                counts[key] = sold + float(mean), variance + float(own)
    margin = NormalDist().inv_cdf(goods.menu.cover_share)
    lines = []
    for (name, price), (sold, variance) in counts.items():
        count = (1.0 + shelf.service.waste_of_one(name, "")) * (sold + margin * variance**0.5)
        whole = int(np.ceil(count - 1e-6))
        each = untaxed(price)
        cost = each.billed(whole).cost
        day = goods.day(max(goods.calendar.start, 0))
        lines.append(MenuLine(name, "", day.week, day, day, whole, "piece", 0.0, cost, 0.0, 0.0, cost, each))
    return tuple(lines)


def _house(goods: MenuGoods, plan: StockPlan, played: Played) -> tuple[HouseRow, ...]:
    rows = []
    makings = goods.question.makings
    for number in dict.fromkeys(making.good for making in makings):
        good = goods.question.goods[number]
        litre = goods.litre_kg(number)
        made = sum(
            float(plan.made_kg[other].sum()) for other, making in enumerate(makings) if making.good == number
        )
        used = sum(
            rate * float(plan.made_kg[other].sum())
            for other, making in enumerate(makings)
            for part, rate in making.uses
            if part == number
        )
        rows.append(
            HouseRow(
                name=good.name,
                poured_l=(sum(good.demand_kg) + used) / litre,
                on_hand_l=sum(lot.kg for lot in goods.question.given[number]) / litre,
                made_l=made / litre,
                left_l=float(played.left_kg[number]) / litre,
                spoiled_l=float(played.spoiled_kg[number].sum()) / litre,
                short_l=float(plan.short_kg[number].sum()) / litre,
                keeps_days=good.keeps,
                par_l=good.end_kg / litre,
                spoiled_worth=good.waste_cost * float(played.spoiled_kg[number].sum()),
            )
        )
    return tuple(rows)


def _calendar(goods: MenuGoods, plan: StockPlan, others: Sequence[OtherRecipe]) -> tuple[BatchRow, ...]:
    recipes = _recipe_numbers(plan, others)
    shelf = goods.pantry.shelf
    assert shelf is not None
    vessels = list(shelf.vessels)
    rows, filled = [], plan.bottles(goods.question)
    for number, making in enumerate(goods.question.makings):
        for ready, begun in making.begun(goods.question.periods).items():
            made = float(plan.made_kg[number, ready])
            litres = made / goods.litre_kg(making.good)
            if litres <= SHORT_L:
                continue
            count = round(float(plan.batches[number, ready]))
            vessel = "" if making.vessel is None else vessels[making.vessel]
            name = goods.question.goods[making.good].name
            begin = goods.day(goods.calendar.grid[begun])
            entry = goods.menu.house.get(name)
            bottled = None if entry is None else entry.bottled
            rows.append(
                BatchRow(
                    begin.week,
                    begin,
                    goods.day(goods.calendar.grid[ready]),
                    name,
                    vessel,
                    count,
                    litres / max(count, 1),
                    recipes.get(number, 1),
                    None if bottled is None else round(float(filled[number, ready])),
                    None if bottled is None else bottled.size_l,
                )
            )
    return tuple(sorted(rows, key=lambda row: row.begin.day))


def _recipe_numbers(plan: StockPlan, others: Sequence[OtherRecipe]) -> dict[int, int]:
    """Count the recipes that are made of each bottle, its own being 1; by making."""
    numbers: dict[int, int] = {}
    met: dict[int, int] = {}
    for recipe in others:
        if float(plan.made_kg[list(recipe.makings)].sum()) <= SHORT_L:
            continue
        met[recipe.good] = met.get(recipe.good, 1) + 1
        numbers |= dict.fromkeys(recipe.makings, met[recipe.good])
    return numbers


def _adapted(goods: MenuGoods, plan: StockPlan, others: Sequence[OtherRecipe]) -> tuple[AdaptedRow, ...]:
    rows = []
    numbers = _recipe_numbers(plan, others)
    for adapted in others:
        if adapted.makings[0] not in numbers:
            continue
        made_l = float(plan.made_kg[list(adapted.makings)].sum()) / goods.litre_kg(adapted.good)
        chain = adapted.first.problem.chain
        before = 1000.0 * adapted.first.masses_kg / adapted.first.volume_l
        now = 1000.0 * adapted.other.masses_kg / adapted.other.volume_l
        lines = tuple(
            AdaptedLine(name, step.name, float(before[row, column]), float(now[row, column]))
            for row, step in enumerate(chain.steps)
            for column, name in enumerate(chain.materials.ids)
            if max(before[row, column], now[row, column]) > LEAST_SHOWN_G_L
        )
        name = goods.question.goods[adapted.good].name
        rows.append(
            AdaptedRow(
                name=name,
                recipe=numbers[adapted.makings[0]],
                made_l=made_l,
                lines=lines,
                first=adapted.first.profile,
                now=adapted.other.profile,
                file=recipe_file(adapted, numbers[adapted.makings[0]]),
            )
        )
    return tuple(rows)


def _labour(goods: MenuGoods, plan: StockPlan) -> float:
    return _sum(
        making.labour * float(plan.batches[number].sum())
        for number, making in enumerate(goods.question.makings)
    )


def _labour_h(goods: MenuGoods, plan: StockPlan) -> float:
    hours = 0.0
    for number, making in enumerate(goods.question.makings):
        entry = goods.menu.house.get(goods.question.goods[making.good].name)
        if entry is not None and isinstance(entry.labour, float):
            hours += entry.labour * float(plan.batches[number].sum())
    return hours


def _stock(goods: MenuGoods, plan: StockPlan, played: Played) -> tuple[ParRow, ...]:
    shelf = goods.pantry.shelf
    assert shelf is not None
    made = {making.good for making in goods.question.makings}
    margin = NormalDist().inv_cdf(goods.menu.cover_share)
    rows = []
    for number, good in enumerate(goods.question.goods):
        if number in made:
            continue
        ingredient = goods.ingredients[number]
        said = goods.menu.pars.get(good.name, Par())
        mean, spread = (float(value) for value in goods.per_week[number])
        packs = [pack for pack in goods.question.packs if pack.thing == Thing(False, number)]
        worth = min((pack.price / pack.size_kg for pack in packs), default=0.0)
        days = None if said.lead_time_h is None else said.lead_time_h / HOURS_PER_DAY
        order_at = None
        short_kg = float(plan.short_kg[number].sum())
        short_kg = short_kg if short_kg > SHORT_L else 0.0
        if days is not None:
            weeks = days / DAYS_PER_WEEK
            order_at = weeks * mean + margin * float(np.sqrt(weeks)) * spread
        rows.append(
            ParRow(
                name=good.name,
                on_hand_kg=sum(lot.kg for lot in goods.question.given[number] if lot.period == 0),
                par_kg=good.end_kg,
                left_kg=float(played.left_kg[number]),
                spoiled_kg=float(played.spoiled_kg[number].sum()),
                per_week_kg=mean,
                lead_time_days=days,
                order_at_kg=order_at,
                runs_out=short_kg > 0.0,
                short_kg=short_kg,
                litre_kg=_poured_litre_kg(ingredient),
                bottle_l=_bottle_l(goods, good.name),
                in_pieces=good.name in shelf.supplies,
                left_worth=worth * float(played.left_kg[number]),
                spoiled_worth=worth * float(played.spoiled_kg[number].sum()),
            )
        )
    return tuple(rows)


def _poured_litre_kg(ingredient: Ingredient) -> float | None:
    """Return the mass of a litre of what is measured by volume; None for what is weighed."""
    solids = ingredient.composition.get("insoluble", 0.0)
    wet = ingredient.strength_pct_vol is not None or ingredient.composition.get("water", 0.0) >= 0.15
    density = density_as_bought_kg_m3(ingredient)
    if density is None or not wet or solids > 0.02 or ingredient.retention_kg_per_kg > 0.0:
        return None
    return density / 1000.0


def _bottle_l(goods: MenuGoods, name: str) -> float | None:
    sizes = [
        offer.pack.value / offer.pack.count
        for offer in goods.pantry.every_offer(name)
        if offer.pack is not None and offer.pack.basis is AmountBasis.VOLUME
    ]
    return min(sizes, default=None)


def _duty(goods: MenuGoods, plan: StockPlan) -> tuple[Note, ...]:
    """Tell of the duty on house bottles that are poured; what goes into another is counted there."""
    shelf = goods.pantry.shelf
    assert shelf is not None
    strengths, pure = [], 0.0
    for number, making in enumerate(goods.question.makings):
        good = goods.question.goods[making.good]
        made_kg = float(plan.made_kg[number].sum())
        if made_kg <= 0.0 or sum(good.demand_kg) <= 0.0:
            continue
        strength = float(goods.pantry.made(good.name).batch.drink.strength_pct_vol)
        strengths.append(strength)
        pure += strength / 100.0 * made_kg / goods.litre_kg(making.good)
    note = duty_note(tuple(strengths), pure, shelf, shelf.jurisdiction, goods.pantry.day)
    return () if note is None else (note,)
