"""From a menu to what must be there: drinks weighed out, house bottles taken apart, packs on sale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formulate.bar.least_orders import least_orders
from formulate.bar.offers import PricedPack, pack_of_whole, pack_on_offer
from formulate.bar.pantry import TAP_WATER, Pantry, UnknownMassError
from formulate.bar.prices import UnitPrice, untaxed
from formulate.bar.serve import Serve, serve_of
from formulate.bar.supplies import supply_as_ingredient, supply_names
from formulate.blend.materials import density_as_bought_kg_m3
from formulate.describe.menu_record import MenuDay
from formulate.errors import SpecError
from formulate.files.count import Count
from formulate.files.disk import is_there, resolved
from formulate.files.drink import Drink, load_drink
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.menu import HouseBottle, Menu, Par, WeeksOfUse
from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.stock.question import Good, Making, Split, StockQuestion
from formulate.planning.calendar import (
    HOURS_PER_DAY,
    WEEK,
    Calendar,
    Delivery,
    calendar_of,
)
from formulate.planning.counted import arrivals_of, held_until, lots_of, weighed_kg
from formulate.planning.demand import Sales, demand_of, direct_kg, sales_of
from formulate.planning.fading import fading_of
from formulate.planning.house_bottles import with_house_bottles
from formulate.planning.makings import house_makings
from formulate.planning.slots import (
    GONE,
    batch_slots,
    budgets_of,
    carriage_of,
    grid_days,
    longest_days,
    pack_deliveries,
)

__all__ = ["MenuGoods", "menu_goods"]

FloatArray = NDArray[np.float64]

DEAR_TIMES, LEAST_DEAR_PER_KG = 100.0, 10.0
NEEDED_KG = 1e-9
"""Less of a thing in a drink is none."""


@dataclass(frozen=True)
class MenuGoods:
    """A menu as numbers.

    Attributes
    ----------
    pantry : Pantry
        With all house bottles on its shelf.
    serves : tuple of Serve
        One per drink.
    ingredients : tuple of Ingredient
        One per good of the question; a supply is one of a kilogram apiece.
    prices : tuple of UnitPrice
        One per pack of the question.
    per_week : ndarray, shape (goods, 2)
        Mean and spread of what goes in a week, through house bottles too, waste with it, kg.
    house : mapping of str to Path
        House bottles that drinks name, and their files.
    comes : tuple of tuple of Delivery
        When each pack of the question may come.
    """

    menu: Menu
    pantry: Pantry
    serves: tuple[Serve, ...]
    ingredients: tuple[Ingredient, ...]
    question: StockQuestion
    prices: tuple[UnitPrice, ...]
    per_week: FloatArray
    house: Mapping[str, Path]
    calendar: Calendar
    sales: Sales
    comes: tuple[tuple[Delivery, ...], ...]

    def litre_kg(self, good: int) -> float:
        """Return the mass of a litre of something the house makes."""
        density = density_as_bought_kg_m3(self.ingredients[good])
        assert density is not None, "what the house makes has a density"
        return density / 1000.0

    def day(self, day: int) -> MenuDay:
        """Name a day, 0 being the first of the menu."""
        on = self.calendar.date_of(day)
        return MenuDay(day + 1, None if on is None else on.isoformat())

    def delivery(self, pack: int, period: int) -> Delivery:
        """Return the delivery that brings a pack in a period."""
        day = self.calendar.grid[period]
        return next(one for one in self.comes[pack] if one.day == day)


def menu_goods(
    menu: Menu,
    pantry: Pantry,
    *,
    leftover_share: float = 0.0,
    use_stock: bool = True,
    spare: Sequence[str] = (),
    count: Count | None = None,
) -> MenuGoods:
    """Work out what a menu needs, and what is on sale for it.

    Parameters
    ----------
    pantry : Pantry
        Of its shelf.
    leftover_share : float
        What a rest is still worth.
    use_stock : bool
        Whether what is on hand counts.
    spare : sequence of str
        What else may be bought for house bottles, though their recipes do without.
    count : Count, optional
        What is there on the day from which the rest of the menu is planned, in place of what files say.

    Raises
    ------
    SpecError
        With all that is wrong in the menu and in the files it names.
    """
    problems = Problems(menu.places)
    drinks, house, pantry = _drinks(menu, pantry, problems)
    problems.raise_if_any()
    serves = tuple(serve_of(drink, pantry) for drink in drinks)
    shelf = pantry.shelf
    assert shelf is not None
    for name in menu.pars:
        if name in shelf.supplies:
            continue
        try:
            pantry.ingredient(name)
        except SpecError as error:
            problems.add_from(("pars", name), error)
    problems.raise_if_any()
    supplies = supply_names(menu, drinks, shelf, problems)
    names = (*_names(menu, serves, pantry, spare), *supplies)
    ingredients = tuple(
        supply_as_ingredient(name) if name in shelf.supplies else pantry.ingredient(name) for name in names
    )
    makings = house_makings(menu, pantry, names, problems)
    problems.raise_if_any()
    said = [_said(menu, pantry, name) for name in names]
    keeps = [None if one.keeps_h is None else one.keeps_h / HOURS_PER_DAY for one in said]
    if count is not None:
        _refuse_day(menu, count)
    now, use_stock = (None, use_stock) if count is None else (count.day, False)
    calendar = calendar_of(menu, longest_days(makings), len(makings), now=now)
    sales = sales_of(menu, calendar, problems)
    waste = np.array([shelf.service.waste_of_one(one.id, one.family) for one in ingredients])
    demand = demand_of(menu, sales, direct_kg(serves, names), makings, keeps, waste)
    splits, priced = _on_sale(pantry, ingredients, problems, use_stock=use_stock)
    packs = tuple(pack for pack, _ in priced)
    comes = [pack_deliveries(menu, calendar, shelf, pack, names, splits, keeps) for pack in packs]
    arrivals = () if count is None else arrivals_of(count, menu, pantry, ingredients, calendar)
    held = {} if count is None else held_until(count, shelf.vessels, count.day)
    calendar = calendar.with_grid(
        grid_days(calendar, makings, packs, splits, comes, keeps) | {one.day for one in arrivals}
    )
    starts = np.array(calendar.grid[:-1]) - calendar.start
    by_period = np.add.reduceat(demand.poured_kg, starts, axis=1)
    goods = tuple(
        _good(
            menu,
            pantry,
            ingredient,
            calendar,
            by_period[number],
            float(demand.per_week[number, 0]),
            problems,
            use_stock=use_stock,
        )
        for number, ingredient in enumerate(ingredients)
    )
    packs = tuple(
        replace(pack, deliveries=tuple(calendar.period(delivery.day) for delivery in deliveries))
        for pack, deliveries in zip(packs, comes, strict=True)
    )
    makings = tuple(
        replace(
            making,
            slots=batch_slots(
                calendar,
                making,
                keeps[making.good],
                calendar.start + held.get(-1 if making.vessel is None else making.vessel, 0),
            ),
        )
        for making in makings
    )
    goods = tuple(replace(good, lots=lots_of(arrivals, good.name, calendar)) for good in goods)
    _refuse_unpriced(menu, pantry, goods, splits, packs, makings, problems)
    problems.raise_if_any()
    question = StockQuestion(
        periods=len(calendar.grid) - 1,
        goods=goods,
        splits=splits,
        packs=packs,
        makings=makings,
        least_order=least_orders(pantry, packs),
        leftover_share=leftover_share,
        starts=calendar.clock,
        carriage=carriage_of(shelf, packs),
        budgets=budgets_of(menu, calendar),
    )
    prices = tuple(price for _, price in priced)
    return MenuGoods(
        menu,
        pantry,
        serves,
        ingredients,
        question,
        prices,
        demand.per_week,
        house,
        calendar,
        sales,
        tuple(comes),
    )


def _refuse_day(menu: Menu, count: Count) -> None:
    problems = Problems(count.places)
    last = None if menu.first_day is None else menu.first_day + timedelta(weeks=menu.weeks)
    if menu.first_day is None or last is None:
        problems.add(("count",), "the menu does not say when it begins. Add `from: 2 November 2026` there.")
    elif not menu.first_day <= count.day < last:
        problems.add(("count",), f"not a day of {menu.name}, got {count.day}. Check it.")
    problems.raise_if_any()


def _drinks(menu: Menu, pantry: Pantry, problems: Problems) -> tuple[list[Drink], dict[str, Path], Pantry]:
    """Read the drinks, and put the house bottles of all of them on the shelf."""
    shelf = resolved(menu.shelf_path)
    house: dict[str, Path] = {}
    drinks = []
    for index, entry in enumerate(menu.drinks):
        if foreign := pantry.foreign(entry.price):
            problems.add(("drinks", index, "price"), foreign)
            continue
        path = menu.drink_path(index)
        if not is_there(path):
            message = f"no file there, got '{path.as_posix()}'. Check the path."
            problems.add(("drinks", index, "drink"), message)
            continue
        try:
            drink = load_drink(path)
        except SpecError as error:
            problems.add_from(("drinks", index, "drink"), error)
            continue
        if resolved(drink.shelf_path) != shelf:
            message = f"'{drink.name}' names another shelf, {drink.shelf}. A menu has one: use it in both."
            problems.add(("drinks", index, "drink"), message)
            continue
        own = Problems(drink.places)
        for name in drink.house:
            file = resolved(drink.house_path(name))
            if name in house and house[name] != file:
                message = f"'{name}' is another file in another drink. Give one of them a name of its own."
                own.add(("house", name), message)
        new = {name: drink.house_path(name) for name in drink.house if name not in house}
        pantry = with_house_bottles(pantry, new, own)
        problems.found += own.found
        house |= {name: resolved(file) for name, file in new.items()}
        drinks.append(drink if entry.price is None else drink.model_copy(update={"price": entry.price}))
    return drinks, house, pantry


def _names(menu: Menu, serves: Sequence[Serve], pantry: Pantry, spare: Sequence[str]) -> tuple[str, ...]:
    """List every good once: what is poured, what house bottles are made of, what has a par."""
    names: dict[str, None] = {}

    def add(name: str) -> None:
        if name in names or (name == TAP_WATER and not pantry.offers(name)):
            return
        names[name] = None
        if pantry.shelf is not None and name in pantry.shelf.house_made:
            for inner, _ in pantry.made(name).batch.holdings():
                add(inner.id)

    for serve in serves:
        for ingredient, mass in zip(serve.ingredients, serve.paid_kg, strict=True):
            if mass > NEEDED_KG:
                add(ingredient.id)
    supplies = pantry.shelf.supplies if pantry.shelf else {}
    for name in (*menu.pars, *spare):
        if name not in supplies:
            add(name)
    return tuple(names)


def _said(menu: Menu, pantry: Pantry, name: str) -> HouseBottle | Par:
    """Return what the menu says of a good; what is usual where it says nothing."""
    if pantry.shelf is not None and name in pantry.shelf.house_made:
        return menu.house.get(name, HouseBottle())
    return menu.pars.get(name, Par())


def _good(
    menu: Menu,
    pantry: Pantry,
    ingredient: Ingredient,
    calendar: Calendar,
    demand_kg: FloatArray,
    goes_kg: float,
    problems: Problems,
    *,
    use_stock: bool,
) -> Good:
    name = ingredient.id
    said = _said(menu, pantry, name)
    is_house = isinstance(said, HouseBottle)
    place = ("house" if is_house else "pars", name)
    keeps = None if said.keeps_h is None else said.keeps_h / HOURS_PER_DAY
    stock = end = 0.0
    try:
        there = [said.on_hand] if said.on_hand is not None else []
        if not there and is_house:
            own = pantry.shelf.house_made[name].on_hand if pantry.shelf else None
            own = own or (pantry.shelf.house_on_hand.get(name) if pantry.shelf else None)
            there = [] if own is None else [own]
        if not there and not is_house:
            there = [offer.on_hand for offer in pantry.every_offer(name) if offer.on_hand is not None]
        if use_stock:
            stock = sum(weighed_kg(menu, pantry, amount, ingredient) for amount in there)
        if isinstance(said.par, WeeksOfUse):
            end = said.par.weeks * goes_kg
        elif said.par is not None:
            end = weighed_kg(menu, pantry, said.par, ingredient)
    except UnknownMassError as error:
        problems.add(place, str(error), key=True)
    if end > 0.0 and keeps is not None and keeps < 2.0:
        problems.add((*place, "keeps"), "what is good for one day cannot be there after it. Delete the par.")
    days = calendar.end - calendar.start
    rest = np.inf if keeps is None else max(keeps - days, 0.0) / WEEK * goes_kg
    fading = fading_of(pantry, ingredient, days, goes_kg, keeps)
    return Good(
        name,
        tuple(float(kg) for kg in demand_kg),
        stock,
        end,
        keeps,
        rest,
        fading.strength_left,
        fading.rest_steps,
        waste_cost=(pantry.price_per_kg(ingredient) or 0.0) if is_house else 0.0,
    )


def _on_sale(
    pantry: Pantry, ingredients: tuple[Ingredient, ...], problems: Problems, *, use_stock: bool
) -> tuple[tuple[Split, ...], list[PricedPack]]:
    shelf = pantry.shelf
    assert shelf is not None
    order = {ingredient.id: number for number, ingredient in enumerate(ingredients)}
    packs: list[PricedPack] = []
    for number, ingredient in enumerate(ingredients):
        if ingredient.id in pantry.gone:
            packs.append(_out_of_reach(pantry, ingredient, Thing(False, number)))
            continue
        for offer in pantry.offers(ingredient.id):
            try:
                packs.append(pack_on_offer(pantry, offer, ingredient, Thing(False, number)))
            except UnknownMassError as error:
                problems.add(("drinks",), str(error), key=True)
    splits: list[Split] = []
    for name, whole in shelf.whole.items():
        parts = tuple((order[part], share) for part, share in whole.parts.items() if part in order)
        if parts:
            pack = pack_of_whole(pantry, whole, Thing(True, len(splits)))
            splits.append(Split(name, parts, (whole.on_hand_kg or 0.0) if use_stock else 0.0))
            if name in pantry.gone:
                continue
            packs.append(pack)
    return tuple(splits), packs


def _out_of_reach(pantry: Pantry, ingredient: Ingredient, thing: Thing) -> PricedPack:
    """Offer what nobody sells any more so dear that a plan takes no more of it than it cannot do without."""
    usual = pantry.price_per_kg(ingredient) or 0.0
    price = untaxed(DEAR_TIMES * max(usual, LEAST_DEAR_PER_KG))
    return PricedPack(Pack(thing, 1.0, price.cost, "", GONE, loose=True), price)


def _refuse_unpriced(
    menu: Menu,
    pantry: Pantry,
    goods: tuple[Good, ...],
    splits: tuple[Split, ...],
    packs: tuple[Pack, ...],
    makings: tuple[Making, ...],
    problems: Problems,
) -> None:
    """Refuse what must be had and is neither sold nor made here."""
    had = {pack.thing.number for pack in packs if not pack.thing.is_purchase}
    had |= {good for split in splits for good, _ in split.parts}
    had |= {making.good for making in makings}
    for number, good in enumerate(goods):
        if number not in had:
            place: tuple[str, ...] = ("pars", good.name) if good.name in menu.pars else ("drinks",)
            problems.add(place, pantry.no_price_text(good.name), key=True)
