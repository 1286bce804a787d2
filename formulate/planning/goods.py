"""From a menu to what must be there: drinks weighed out, house bottles taken apart, packs on sale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from formulate.bar.least_orders import least_orders
from formulate.bar.offers import PricedPack, pack_of_whole, pack_on_offer
from formulate.bar.pantry import TAP_WATER, Pantry, UnknownMassError
from formulate.bar.prices import UnitPrice, untaxed
from formulate.bar.serve import Serve, serve_of
from formulate.bar.supplies import supply_as_ingredient, supply_names
from formulate.blend.materials import density_as_bought_kg_m3
from formulate.errors import SpecError
from formulate.files.drink import Drink, load_drink
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.menu import HOURS_PER_WEEK, HouseBottle, Menu, Par
from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.stock.question import Good, Making, Split, StockQuestion
from formulate.planning.fading import fading_of
from formulate.planning.house_bottles import with_house_bottles
from formulate.planning.makings import house_makings
from formulate.quantity import Amount, AmountBasis

__all__ = ["GONE", "MenuGoods", "menu_goods"]

FloatArray = NDArray[np.float64]

GONE = "gone"
"""Name of the packs of what cannot be had: a plan that takes any of them is none."""
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
    """

    menu: Menu
    pantry: Pantry
    serves: tuple[Serve, ...]
    ingredients: tuple[Ingredient, ...]
    question: StockQuestion
    prices: tuple[UnitPrice, ...]
    per_week: FloatArray
    house: Mapping[str, Path]

    def litre_kg(self, good: int) -> float:
        """Return the mass of a litre of something the house makes."""
        density = density_as_bought_kg_m3(self.ingredients[good])
        assert density is not None, "what the house makes has a density"
        return density / 1000.0


def menu_goods(
    menu: Menu,
    pantry: Pantry,
    *,
    leftover_share: float = 0.0,
    use_stock: bool = True,
    spare: Sequence[str] = (),
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
    direct = _direct(serves, names)
    demand, per_week = _demand(menu, pantry, names, direct, makings)
    goods = tuple(
        _good(menu, pantry, ingredient, demand[number], per_week[number, 0], problems, use_stock=use_stock)
        for number, ingredient in enumerate(ingredients)
    )
    splits, priced = _on_sale(pantry, ingredients, problems, use_stock=use_stock)
    packs = tuple(pack for pack, _ in priced)
    _refuse_unpriced(menu, pantry, goods, splits, packs, makings, problems)
    problems.raise_if_any()
    question = StockQuestion(
        weeks=menu.weeks,
        goods=goods,
        splits=splits,
        packs=packs,
        makings=makings,
        least_order=least_orders(pantry, packs),
        leftover_share=leftover_share,
    )
    prices = tuple(price for _, price in priced)
    return MenuGoods(menu, pantry, serves, ingredients, question, prices, per_week, house)


def _drinks(menu: Menu, pantry: Pantry, problems: Problems) -> tuple[list[Drink], dict[str, Path], Pantry]:
    """Read the drinks, and put the house bottles of all of them on the shelf."""
    shelf = menu.shelf_path.resolve()
    house: dict[str, Path] = {}
    drinks = []
    for index, entry in enumerate(menu.drinks):
        if foreign := pantry.foreign(entry.price):
            problems.add(("drinks", index, "price"), foreign)
            continue
        path = menu.drink_path(index)
        if not path.exists():
            message = f"no file there, got '{path.as_posix()}'. Check the path."
            problems.add(("drinks", index, "drink"), message)
            continue
        try:
            drink = load_drink(path)
        except SpecError as error:
            problems.add_from(("drinks", index, "drink"), error)
            continue
        if drink.shelf_path.resolve() != shelf:
            message = f"'{drink.name}' names another shelf, {drink.shelf}. A menu has one: use it in both."
            problems.add(("drinks", index, "drink"), message)
            continue
        own = Problems(drink.places)
        for name in drink.house:
            file = drink.house_path(name).resolve()
            if name in house and house[name] != file:
                message = f"'{name}' is another file in another drink. Give one of them a name of its own."
                own.add(("house", name), message)
        new = {name: drink.house_path(name) for name in drink.house if name not in house}
        pantry = with_house_bottles(pantry, new, own)
        problems.found += own.found
        house |= {name: file.resolve() for name, file in new.items()}
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


def _direct(serves: Sequence[Serve], names: tuple[str, ...]) -> FloatArray:
    """Return what one of each drink takes of each good, shape (drinks, goods), kg."""
    order = {name: number for number, name in enumerate(names)}
    direct = np.zeros((len(serves), len(names)))
    for row, serve in zip(direct, serves, strict=True):
        for ingredient, mass in zip(serve.ingredients[:-1], serve.paid_kg[:-1], strict=True):
            if ingredient.id in order:
                row[order[ingredient.id]] += float(mass)
        for name, pieces in serve.supplies:
            row[order[name]] += pieces
    return direct


def _demand(
    menu: Menu, pantry: Pantry, names: tuple[str, ...], direct: FloatArray, makings: tuple[Making, ...]
) -> tuple[FloatArray, FloatArray]:
    """Return what is poured in each week, shape (goods, weeks), and mean and spread of what goes in one.

    Drinks vary each by itself, and so do weeks: up to week n the mean grows with n, the margin with its root.
    A margin that was not needed is there later only while it keeps; then it begins anew.
    """
    shelf = pantry.shelf
    assert shelf is not None
    with_waste = (1.0 + shelf.service.waste_share) * direct
    sold = np.array([entry.sells.per_week(menu.open_days) for entry in menu.drinks]).reshape(-1, 2)
    mean = with_waste.T @ sold[:, 0]
    spread = np.sqrt((with_waste.T**2) @ sold[:, 1] ** 2)
    margin = NormalDist().inv_cdf(menu.cover_share)
    keeps = np.array([_keeps_weeks(_said(menu, pantry, name)) or menu.weeks for name in names])
    since = np.arange(menu.weeks) % keeps[:, np.newaxis]
    poured = mean[:, np.newaxis] + margin * spread[:, np.newaxis] * (np.sqrt(since + 1) - np.sqrt(since))
    through = with_waste.copy()
    ways = {making.good: making for making in reversed(makings)}.values()
    # From the drink down: a house bottle comes before what it is made of, but another may come between.
    for _ in ways:
        down = with_waste.copy()
        for making in ways:
            for good, rate in making.uses:
                down[:, good] += rate * through[:, making.good]
            for good, amount in making.batch_uses:
                down[:, good] += amount / (making.batch_kg or 1.0) * through[:, making.good]
        if np.array_equal(down, through):
            break
        through = down
    all_mean = through.T @ sold[:, 0]
    all_spread = np.sqrt((through.T**2) @ sold[:, 1] ** 2)
    return poured, np.stack([all_mean, all_spread], axis=1)


def _said(menu: Menu, pantry: Pantry, name: str) -> HouseBottle | Par:
    """Return what the menu says of a good; what is usual where it says nothing."""
    if pantry.shelf is not None and name in pantry.shelf.house_made:
        return menu.house.get(name, HouseBottle())
    return menu.pars.get(name, Par())


def _keeps_weeks(said: HouseBottle | Par) -> int | None:
    """Count the whole weeks something keeps, one at the least; None to the end."""
    return None if said.keeps_h is None else max(int(said.keeps_h / HOURS_PER_WEEK + 1e-9), 1)


def _good(
    menu: Menu,
    pantry: Pantry,
    ingredient: Ingredient,
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
    keeps = _keeps_weeks(said)
    stock = end = 0.0
    try:
        there = [said.on_hand] if said.on_hand is not None else []
        if not there and is_house:
            own = pantry.shelf.house_made[name].on_hand if pantry.shelf else None
            there = [] if own is None else [own]
        if not there and not is_house:
            there = [offer.on_hand for offer in pantry.every_offer(name) if offer.on_hand is not None]
        if use_stock:
            stock = sum(_weighed_kg(pantry, amount, ingredient, said) for amount in there)
        if said.par is not None:
            end = _weighed_kg(pantry, said.par, ingredient, said)
    except UnknownMassError as error:
        problems.add(place, str(error), key=True)
    if end > 0.0 and keeps == 1:
        problems.add((*place, "keeps"), "what is good for one week cannot be there after it. Delete the par.")
    rest = np.inf if keeps is None else max(keeps - menu.weeks, 0) * goes_kg
    fading = fading_of(pantry, ingredient, menu.weeks, goes_kg, keeps)
    demand = tuple(float(kg) for kg in demand_kg)
    return Good(name, demand, stock, end, keeps, rest, fading.strength_left, fading.rest_steps)


def _weighed_kg(pantry: Pantry, amount: Amount, ingredient: Ingredient, said: HouseBottle | Par) -> float:
    """Weigh an amount; a bottle of the house holds what it is filled with."""
    if isinstance(said, HouseBottle) and said.bottled is not None and amount.basis is AmountBasis.BOTTLES:
        litres = amount.value * said.bottled.size_l
        amount = Amount(litres, AmountBasis.VOLUME, amount.text)
    return pantry.mass_kg(amount, ingredient)


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
