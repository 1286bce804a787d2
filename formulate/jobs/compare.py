"""`compare`: trials side by side, the sheet to taste them by, and what the answers are worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from formulate.bar.opening import open_pantry
from formulate.errors import FormulateError
from formulate.files.bottle import load_bottle
from formulate.files.models import Source
from formulate.files.trial import Trial, load_trial
from formulate.formulation.bottle import formulate_bottle
from formulate.learn.comparison import Comparison, compare_jars
from formulate.learn.tasting import (
    TastingSheet,
    dose_factor,
    paired_test,
    parse_right,
    sheet_of,
    triangle_test,
)
from formulate.learn.trials import estimate_of, tried_jar
from formulate.quantity import Dimension, parse_quantity
from formulate.quantity.words import read_given

__all__ = ["aims_of", "blind_sheet", "compare_trials"]

MOST_TASTERS = 200


def compare_trials(
    *files: Source,
    triangle: str | None = None,
    paired: str | None = None,
    dilution: str | None = None,
    today: date | None = None,
) -> Comparison:
    """Lay trials side by side.

    Parameters
    ----------
    *files : paths or trials
    triangle, paired : str, optional
        How many picked the odd glass, or preferred the first trial: ``5 of 6``.
    dilution : str, optional
        To what share the stronger drink is thinned until both taste alike: ``0.72``.
    today : date, optional
        What the age of the stock is counted to.

    Raises
    ------
    SpecError
        If a file is wrong, or what it says contradicts itself.
    UnitError
        With the option that cannot be read.
    """
    if not files:
        raise FormulateError("Give one trial file at least.")
    trials = [load_trial(file) for file in files]
    jars = [tried_jar(trial, today) for trial in trials]
    estimates = [estimate_of(jar) for jar in jars]
    costs = [
        None if jar.batch.bill is None else jar.batch.bill.total / one.volume_l.value
        for jar, one in zip(jars, estimates, strict=True)
    ]
    found = compare_jars(jars, estimates, aims_of(trials, today), costs, jars[0].batch.pantry.currency)
    picked = read_given("--triangle", triangle, parse_right)
    preferred = read_given("--paired", paired, parse_right)
    ratio = read_given("--dilution", dilution, _ratio)
    if (picked or preferred or ratio) and len(files) != 2:
        raise FormulateError("A triangle, a pair and a dilution are of two trials. Give just those two.")
    tests = [] if picked is None else [triangle_test(*picked)]
    tests += [] if preferred is None else [paired_test(*preferred)]
    return replace(found, tests=tuple(tests), dose_factor=None if ratio is None else dose_factor(ratio))


def blind_sheet(*files: Source, tasters: int = 6, seed: int = 1) -> TastingSheet:
    """Lay out a blind tasting of trials; the same seed gives the same sheet, and its key.

    Parameters
    ----------
    *files : paths or trials
        Two for triangles, more to rank.
    tasters : int
    seed : int
    """
    names = [load_trial(file).name for file in files]
    if len(names) < 2:
        raise FormulateError("To taste blind takes two trials at least.")
    if len(set(names)) < len(names):
        raise FormulateError("Two of the trials have one name. Give each its own.")
    if not 1 <= tasters <= MOST_TASTERS or tasters * max(len(names), 3) > 900:
        raise FormulateError(f"--tasters: from 1 to {min(MOST_TASTERS, 900 // max(len(names), 3))}.")
    return sheet_of(names, tasters, seed)


def aims_of(trials: Sequence[Trial], today: date | None = None) -> dict[str, tuple[float, float]]:
    """Return what the bottle asks that the trials are for, by measure; empty where none names one."""
    for trial in trials:
        recipe = trial.as_recipe()
        if recipe.bottle_path is None:
            continue
        bottle = load_bottle(recipe.bottle_path)
        pantry = open_pantry(bottle.shelf_path, bottle.places, today=today)
        limits = formulate_bottle(bottle, pantry).problem.limits
        return {
            limit.origin.name: (limit.lower * limit.display, limit.upper * limit.display)
            for limit in limits
            if limit.is_target
        }
    return {}


def _ratio(text: str) -> float:
    value = parse_quantity(text, Dimension.RATIO)
    if not 0.0 < value <= 1.0:
        raise FormulateError(
            f"--dilution: the share the stronger drink is thinned to, above 0 and up to 1, got {text}. "
            "Write e.g. 0.72."
        )
    return value
