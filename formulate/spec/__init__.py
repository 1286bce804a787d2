"""What a person writes, as frozen models: bottle, shelf, recipe and ingredient files.

Reading is located (each value knows its line and column) and strict (nothing is guessed, all problems of
a file are told at once). This room may import `formulate.errors` and `formulate.quantity` only. Names
are loaded when first used, so that asking for one does not pay for all.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from formulate.spec.aims import BITTERNESS_WORDS as BITTERNESS_WORDS
    from formulate.spec.aims import BitternessAim as BitternessAim
    from formulate.spec.aims import Bottled as Bottled
    from formulate.spec.aims import Fill as Fill
    from formulate.spec.aims import Like as Like
    from formulate.spec.aims import Measured as Measured
    from formulate.spec.aims import SameAs as SameAs
    from formulate.spec.aims import Size as Size
    from formulate.spec.aims import Use as Use
    from formulate.spec.aims import Word as Word
    from formulate.spec.bottle import Bottle as Bottle
    from formulate.spec.bottle import IngredientUse as IngredientUse
    from formulate.spec.bottle import MeasuredBitterness as MeasuredBitterness
    from formulate.spec.bottle import Ratio as Ratio
    from formulate.spec.bottle import ShareOf as ShareOf
    from formulate.spec.bottle import Sum as Sum
    from formulate.spec.bottle import Targets as Targets
    from formulate.spec.bottle import load_bottle as load_bottle
    from formulate.spec.drink import Drink as Drink
    from formulate.spec.drink import DrinkLine as DrinkLine
    from formulate.spec.drink import GarnishLine as GarnishLine
    from formulate.spec.drink import load_drink as load_drink
    from formulate.spec.house_made import HouseMade as HouseMade
    from formulate.spec.ingredient import COMPONENTS as COMPONENTS
    from formulate.spec.ingredient import Bitterness as Bitterness
    from formulate.spec.ingredient import Ingredient as Ingredient
    from formulate.spec.ingredient import OwnIngredient as OwnIngredient
    from formulate.spec.ingredient import Source as Source
    from formulate.spec.library import Library as Library
    from formulate.spec.loading import load_any as load_any
    from formulate.spec.located import Document as Document
    from formulate.spec.located import Places as Places
    from formulate.spec.located import load_document as load_document
    from formulate.spec.menu import Menu as Menu
    from formulate.spec.menu import load_menu as load_menu
    from formulate.spec.recipe import Recipe as Recipe
    from formulate.spec.recipe import RecipeLine as RecipeLine
    from formulate.spec.recipe import dump_recipe as dump_recipe
    from formulate.spec.recipe import load_recipe as load_recipe
    from formulate.spec.schema import json_schema as json_schema
    from formulate.spec.shelf import Balance as Balance
    from formulate.spec.shelf import Offer as Offer
    from formulate.spec.shelf import Shelf as Shelf
    from formulate.spec.shelf import Tolerances as Tolerances
    from formulate.spec.shelf import load_shelf as load_shelf
    from formulate.spec.steps import StepSpec as StepSpec
    from formulate.spec.stock import Stock as Stock
    from formulate.spec.whole import Whole as Whole

_HOMES = {
    "aims": "BITTERNESS_WORDS BitternessAim Bottled Fill Like Measured SameAs Size Use Word",
    "bottle": "Bottle IngredientUse MeasuredBitterness Ratio ShareOf Sum Targets load_bottle",
    "drink": "Drink DrinkLine GarnishLine load_drink",
    "house_made": "HouseMade",
    "ingredient": "COMPONENTS Bitterness Ingredient OwnIngredient Source",
    "library": "Library",
    "loading": "load_any",
    "located": "Document Places load_document",
    "menu": "Menu load_menu",
    "recipe": "Recipe RecipeLine dump_recipe load_recipe",
    "schema": "json_schema",
    "shelf": "Balance Offer Shelf Tolerances load_shelf",
    "steps": "StepSpec",
    "stock": "Stock",
    "whole": "Whole",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = [*_HOME_OF]


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module 'formulate.spec' has no attribute {name!r}")
    return getattr(importlib.import_module(f"formulate.spec.{_HOME_OF[name]}"), name)


def __dir__() -> list[str]:
    return sorted(_HOME_OF)
