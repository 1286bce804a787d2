"""What a person writes, as frozen models: bottle, shelf, recipe and ingredient files.

Reading is located (each value knows its line and column) and strict (nothing is guessed, all problems of
a file are told at once). This room may import `formulate.errors` and `formulate.quantity` only. Names
are loaded when first used, so that asking for one does not pay for all.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from formulate.files.aims import BITTERNESS_WORDS as BITTERNESS_WORDS
    from formulate.files.aims import BitternessAim as BitternessAim
    from formulate.files.aims import Bottled as Bottled
    from formulate.files.aims import Fill as Fill
    from formulate.files.aims import Like as Like
    from formulate.files.aims import Measured as Measured
    from formulate.files.aims import SameAs as SameAs
    from formulate.files.aims import Size as Size
    from formulate.files.aims import Use as Use
    from formulate.files.aims import Word as Word
    from formulate.files.bottle import Bottle as Bottle
    from formulate.files.bottle import IngredientUse as IngredientUse
    from formulate.files.bottle import MeasuredBitterness as MeasuredBitterness
    from formulate.files.bottle import load_bottle as load_bottle
    from formulate.files.drink import Drink as Drink
    from formulate.files.drink import DrinkLine as DrinkLine
    from formulate.files.drink import GarnishLine as GarnishLine
    from formulate.files.drink import load_drink as load_drink
    from formulate.files.ingredient import COMPONENTS as COMPONENTS
    from formulate.files.ingredient import Bitterness as Bitterness
    from formulate.files.ingredient import Ingredient as Ingredient
    from formulate.files.ingredient import OwnIngredient as OwnIngredient
    from formulate.files.ingredient import Source as Source
    from formulate.files.issues import Places as Places
    from formulate.files.library import Library as Library
    from formulate.files.listed_shelf import load_shelf as load_shelf
    from formulate.files.loading import load_any as load_any
    from formulate.files.located import Document as Document
    from formulate.files.located import load_document as load_document
    from formulate.files.menu import Menu as Menu
    from formulate.files.menu import load_menu as load_menu
    from formulate.files.recipe import Recipe as Recipe
    from formulate.files.recipe import RecipeLine as RecipeLine
    from formulate.files.recipe import dump_recipe as dump_recipe
    from formulate.files.recipe import load_recipe as load_recipe
    from formulate.files.schema import json_schema as json_schema
    from formulate.files.shelf import Balance as Balance
    from formulate.files.shelf import Offer as Offer
    from formulate.files.shelf import Shelf as Shelf
    from formulate.files.shelf import Tolerances as Tolerances
    from formulate.files.steps import StepSpec as StepSpec
    from formulate.files.stock import HouseMade as HouseMade
    from formulate.files.stock import Stock as Stock
    from formulate.files.stock import Whole as Whole
    from formulate.files.targets import Targets as Targets
    from formulate.files.together import Ratio as Ratio
    from formulate.files.together import ShareOf as ShareOf
    from formulate.files.together import Sum as Sum

_HOMES = {
    "aims": "BITTERNESS_WORDS BitternessAim Bottled Fill Like Measured SameAs Size Use Word",
    "bottle": "Bottle IngredientUse MeasuredBitterness load_bottle",
    "drink": "Drink DrinkLine GarnishLine load_drink",
    "ingredient": "COMPONENTS Bitterness Ingredient OwnIngredient Source",
    "library": "Library",
    "loading": "load_any",
    "issues": "Places",
    "located": "Document load_document",
    "menu": "Menu load_menu",
    "recipe": "Recipe RecipeLine dump_recipe load_recipe",
    "schema": "json_schema",
    "shelf": "Balance Offer Shelf Tolerances",
    "listed_shelf": "load_shelf",
    "steps": "StepSpec",
    "stock": "HouseMade Stock Whole",
    "targets": "Targets",
    "together": "Ratio ShareOf Sum",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = [*_HOME_OF]


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module 'formulate.files' has no attribute {name!r}")
    return getattr(importlib.import_module(f"formulate.files.{_HOME_OF[name]}"), name)


def __dir__() -> list[str]:
    return sorted(_HOME_OF)
