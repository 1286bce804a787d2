"""`menu`: what a menu sells to what the house makes, what is bought, and what it brings.

Recipes stay as they are unless asked to adapt (`planning.adapt`). The plan is one program over all bottles,
weeks and packs; it is played through again week by week, without the program, before it is shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

from formulate.bar.opening import open_pantry
from formulate.describe.menu_record import (
    MenuRecord,
)
from formulate.describe.solved import SolvedBottle
from formulate.files.count import load_count
from formulate.files.menu import load_menu
from formulate.files.models import Source, says
from formulate.jobs.solve import solve_bottle
from formulate.optimise.stock.plan import plan_stock
from formulate.optimise.tolerances import GAP_INTEGER
from formulate.optimise.watch import tell
from formulate.planning.adapt import adapted_plan, seconds_for_fixed
from formulate.planning.goods import menu_goods
from formulate.planning.menu_description import SECONDS, menu_record
from formulate.planning.other_recipes import spare_ingredients

__all__ = ["plan_menu", "solved_bottles"]


def plan_menu(
    path: Source,
    *,
    leftover_share: float = 0.0,
    use_stock: bool = True,
    adapt: bool = False,
    seconds: float = SECONDS,
    today: date | None = None,
    count: Source | None = None,
) -> MenuRecord:
    """Plan a menu file.

    Parameters
    ----------
    leftover_share : float
        What a rest of what keeps is still worth, 0 to 1 of its price; only for choosing.
    use_stock : bool
        Whether what is on hand counts.
    adapt : bool
        Whether house bottles that are bottle files may be made by other recipes within their limits, where
        that saves money.
    seconds : float
        How long to look for a better plan.
    today : date, optional
        What the age of the stock is counted to.
    count : path or Count, optional
        A count of what is there: the rest of the menu is planned from its day.

    Raises
    ------
    SpecError
        If a file is wrong.
    NotConvergedError
        If no plan was found in time.
    VerificationError
        If the plan leaves something missing.
    """
    menu = load_menu(path)
    pantry = open_pantry(menu.shelf_path, menu.places, today=today)
    counted = None if count is None else load_count(count)
    goods = menu_goods(menu, pantry, leftover_share=leftover_share, use_stock=use_stock, count=counted)
    tell("looking for a plan")
    if not adapt:
        return menu_record(goods, plan_stock(goods.question, seconds=seconds, gap=GAP_INTEGER))
    bottles = solved_bottles(goods.house)
    spare = [name for name in spare_ingredients(bottles) if pantry.offers(name)]
    goods = menu_goods(
        menu, pantry, leftover_share=leftover_share, use_stock=use_stock, spare=spare, count=counted
    )
    first = seconds_for_fixed(seconds)
    fixed = plan_stock(goods.question, seconds=first, gap=GAP_INTEGER)
    tell("looking for other recipes", best=fixed.net_cost)
    adapting, plan, others = adapted_plan(goods, fixed, bottles, seconds=seconds - first, gap=GAP_INTEGER)
    record = menu_record(adapting, plan, others)
    if record.status == "short":
        return record  # its cost holds what being short counts, which is no money
    return replace(record, saved=round(fixed.net_cost - plan.net_cost, 2) + 0.0)


def solved_bottles(house: Mapping[str, Path]) -> dict[str, SolvedBottle]:
    """Solve the house bottles that are bottle files; a recipe file has no limits to move within."""
    return {name: solve_bottle(path) for name, path in house.items() if says(path, "targets")}
