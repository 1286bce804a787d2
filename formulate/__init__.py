"""Finds the cheapest house liqueur that hits a target profile, and proves it.

The commands as functions, each on a path or on a model built in Python::

    import formulate

    solved = formulate.solve("bottles/damson-aperitif.yaml")
    solved.record.cost.per_litre
    solved.to_dict()["recipe"]

`Bottle.of`, `Shelf.of` and the others build a model from what such a file says, without a file. Every answer
is a frozen record whose `to_dict()` gives what `--json` prints. What goes wrong is a `FormulateError`. Names
are loaded when first used: importing this package costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from formulate.errors import FormulateError as FormulateError
    from formulate.errors import InfeasibleError as InfeasibleError
    from formulate.errors import NotConvergedError as NotConvergedError
    from formulate.errors import ReadingError as ReadingError
    from formulate.errors import SpecError as SpecError
    from formulate.errors import UnboundedError as UnboundedError
    from formulate.errors import UnitError as UnitError
    from formulate.errors import VerificationError as VerificationError
    from formulate.files.bottle import Bottle as Bottle
    from formulate.files.count import Count as Count
    from formulate.files.drink import Drink as Drink
    from formulate.files.jar import Jar as Jar
    from formulate.files.loading import load_any as load
    from formulate.files.menu import Menu as Menu
    from formulate.files.reading import ReadingFile as Reading
    from formulate.files.recipe import Recipe as Recipe
    from formulate.files.scenarios import Scenarios as Scenarios
    from formulate.files.shelf import Shelf as Shelf
    from formulate.files.trial import Trial as Trial
    from formulate.jobs.adjust import adjust_texts as adjust
    from formulate.jobs.buy import buy_bottle as buy
    from formulate.jobs.check import check as check
    from formulate.jobs.compare import blind_sheet as blind_sheet
    from formulate.jobs.compare import compare_trials as compare
    from formulate.jobs.gauge import gauge_texts as gauge
    from formulate.jobs.infuse import infuse_texts as infuse
    from formulate.jobs.jar import predict_file as predict
    from formulate.jobs.label import label_file as label
    from formulate.jobs.learn import forget as forget
    from formulate.jobs.learn import learn_trials as learn_from
    from formulate.jobs.menu import plan_menu as menu
    from formulate.jobs.pour import pour_drink as pour
    from formulate.jobs.reformulate import reformulate_texts as reformulate
    from formulate.jobs.scale import scale_recipe as scale
    from formulate.jobs.sheet import print_files as sheet
    from formulate.jobs.solve import solve_bottle as solve
    from formulate.jobs.suppose import suppose as suppose
    from formulate.jobs.tradeoff import trade_off as tradeoff
    from formulate.jobs.workbook import lay_out as workbook
    from formulate.jobs.workbook import take as take

__version__ = "0.1.0"

__all__ = [
    "Bottle",
    "Count",
    "Drink",
    "FormulateError",
    "InfeasibleError",
    "Jar",
    "Menu",
    "NotConvergedError",
    "Reading",
    "ReadingError",
    "Recipe",
    "Scenarios",
    "Shelf",
    "SpecError",
    "Trial",
    "UnboundedError",
    "UnitError",
    "VerificationError",
    "__version__",
    "adjust",
    "blind_sheet",
    "buy",
    "check",
    "compare",
    "forget",
    "gauge",
    "infuse",
    "label",
    "learn_from",
    "load",
    "menu",
    "pour",
    "predict",
    "reformulate",
    "scale",
    "sheet",
    "solve",
    "suppose",
    "take",
    "tradeoff",
    "workbook",
]

_HOMES = {
    "errors": "FormulateError InfeasibleError NotConvergedError ReadingError SpecError UnboundedError "
    "UnitError VerificationError",
    "files.bottle": "Bottle",
    "files.count": "Count",
    "files.drink": "Drink",
    "files.jar": "Jar",
    "files.loading": "load=load_any",
    "files.menu": "Menu",
    "files.reading": "Reading=ReadingFile",
    "files.recipe": "Recipe",
    "files.scenarios": "Scenarios",
    "files.shelf": "Shelf",
    "files.trial": "Trial",
    "jobs.adjust": "adjust=adjust_texts",
    "jobs.buy": "buy=buy_bottle",
    "jobs.check": "check",
    "jobs.compare": "blind_sheet compare=compare_trials",
    "jobs.gauge": "gauge=gauge_texts",
    "jobs.infuse": "infuse=infuse_texts",
    "jobs.jar": "predict=predict_file",
    "jobs.label": "label=label_file",
    "jobs.learn": "forget learn_from=learn_trials",
    "jobs.menu": "menu=plan_menu",
    "jobs.pour": "pour=pour_drink",
    "jobs.reformulate": "reformulate=reformulate_texts",
    "jobs.scale": "scale=scale_recipe",
    "jobs.sheet": "sheet=print_files",
    "jobs.solve": "solve=solve_bottle",
    "jobs.suppose": "suppose",
    "jobs.tradeoff": "tradeoff=trade_off",
    "jobs.workbook": "take workbook=lay_out",
}
"""Module to the names it gives, and what they are called there where that is something else."""


def __getattr__(name: str) -> Any:
    for module, names in _HOMES.items():
        for known in names.split():
            outside, _, inside = known.partition("=")
            if outside == name:
                return getattr(importlib.import_module(f"formulate.{module}"), inside or outside)
    raise AttributeError(f"module 'formulate' has no attribute {name!r}")


def __dir__() -> list[str]:
    return __all__
