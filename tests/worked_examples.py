"""Examples worked out as they stand, once in a process, for every test that only looks at the answer."""

from __future__ import annotations

import functools

from conftest import ROOT

from formulate.describe.buy_record import BuyRecord
from formulate.describe.menu_record import MenuRecord
from formulate.describe.solved import SolvedBottle
from formulate.jobs.buy import buy_bottle
from formulate.jobs.menu import plan_menu
from formulate.jobs.solve import solve_bottle

__all__ = ["bought_example", "planned_example", "solved_example"]

EXAMPLES = ROOT / "examples"


@functools.cache
def solved_example(name: str) -> SolvedBottle:
    return solve_bottle(EXAMPLES / "bottles" / f"{name}.yaml")


@functools.cache
def bought_example(name: str) -> BuyRecord:
    return buy_bottle(EXAMPLES / "bottles" / f"{name}.yaml")


@functools.cache
def planned_example(name: str) -> MenuRecord:
    return plan_menu(EXAMPLES / "menus" / f"{name}.yaml")
