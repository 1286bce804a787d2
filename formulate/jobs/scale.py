"""`scale`: the same drink in another size.

What is lost once per batch, in a filter or a pan, does not grow with it. So each step is scaled by a
factor of its own, such that the liquor that flows into every step stands in the recipe's own ratio to
what is added there: then every step has the recipe's composition and the bottle the recipe's profile.
With c what leaves a step of the recipe, f its fixed loss and s the factors,
``s[next] c = s (c + f) - f``, backwards from the volume asked, or forwards from a vessel to be filled.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import ChainRun
from formulate.blend.materials import LIQUOR, SOLID_VOLUME_L_KG
from formulate.blend.profile import Profile, profile
from formulate.errors import FormulateError, UnitError
from formulate.jobs.batch import Batch, weigh_batch
from formulate.jobs.jar import FillRecord
from formulate.jobs.law import law_of
from formulate.jobs.pantry import Pantry, UnknownMassError, open_pantry
from formulate.jobs.predict import predict_batch
from formulate.jobs.records import DrinkRecord, Note
from formulate.jobs.wholes import bill_of
from formulate.physics.mixture import volume_l
from formulate.quantity import Amount, AmountBasis
from formulate.spec import aims
from formulate.spec.fields import did_you_mean
from formulate.spec.recipe import Recipe, load_recipe

__all__ = ["ScaledRecipe", "scale_recipe", "written_recipe"]

FloatArray = NDArray[np.float64]

SAME_PCT_VOL, SAME_G_L = 0.05, 0.5
"""The profile counts as kept within these."""

FULL, BRIM = 0.9, 1.0
"""Fuller than this a vessel leaves no room to stir (common practice)."""

USUAL_STEPS = ((0.2, 0.0001), (5.0, 0.001), (np.inf, 0.005))
"""Up to so many kg, steps of so many kg: what kitchen balances show, where the shelf names none."""


@dataclass(frozen=True)
class ScaledRecipe:
    """A recipe in another size.

    Attributes
    ----------
    drink : DrinkRecord
        What a report shows, notes on the scaling first.
    recipe : Recipe
        The new one, weighed in grams.
    before_l, after_l : float
        Bottled.
    factors : tuple of (str, float)
        By how much each step was scaled.
    fills : tuple of FillRecord
        Vessels named by the recipe.
    """

    drink: DrinkRecord
    recipe: Recipe
    before_l: float
    after_l: float
    factors: tuple[tuple[str, float], ...]
    fills: tuple[FillRecord, ...]


def scale_recipe(path: Path, to: str, today: date | None = None) -> ScaledRecipe:
    """Scale a recipe file.

    Parameters
    ----------
    path : Path
    to : str
        A size as a bottle file says it: ``12 L bottled``, ``24 bottles of 50 cl``,
        ``fill kettle-12l (80 % of the vessel)``, ``use 3 bottles of vodka-40``.
    today : date, optional

    Returns
    -------
    ScaledRecipe

    Raises
    ------
    SpecError
        If a file is wrong.
    UnitError
        If the size cannot be read.
    FormulateError
        If the size cannot be reached.
    """
    try:
        size = aims.parse_size(to)
    except UnitError as error:
        raise UnitError(f"--to: {error}") from None
    recipe = load_recipe(path)
    pantry = open_pantry(recipe.shelf_path, recipe.places, today=today)
    batch = weigh_batch(recipe, pantry)
    factors = _factors(batch, size)
    masses = batch.masses_kg * factors[:-1, None]
    run = batch.chain.run(masses)
    if not (run.carried[:, :LIQUOR].sum(axis=1) > 0.0).all():
        raise FormulateError(f"--to: so little is lost whole in filters and vessels, got {to}. Make more.")
    drink = profile(run.bottled, batch.chain.materials)
    scaled = _recipe(recipe, batch, factors, float(drink.volume_l))
    bill, unpriced = bill_of(pantry, batch.ingredients, masses.sum(axis=0))
    new = replace(
        batch, recipe=scaled, masses_kg=masses, run=run, drink=drink, bill=bill, unpriced=tuple(unpriced)
    )
    fills = _fills(recipe, pantry, run)
    record = predict_batch(new, today)
    notes = [*_notes(batch, new, factors), *_fill_notes(fills)]
    return ScaledRecipe(
        drink=replace(record, status="scaled", size_text=to, notes=(*notes, *record.notes)),
        recipe=scaled,
        before_l=float(batch.drink.volume_l),
        after_l=float(drink.volume_l),
        factors=tuple((step.name, float(f)) for step, f in zip(batch.chain.steps, factors, strict=False)),
        fills=fills,
    )


def written_recipe(scaled: ScaledRecipe, path: Path) -> str:
    """Return the text of the new recipe file, its paths as seen from where it is written."""
    from formulate.spec.recipe import dump_recipe

    recipe = scaled.recipe

    def beside(target: Path | None) -> str | None:
        return None if target is None else Path(os.path.relpath(target, path.parent)).as_posix()

    return dump_recipe(
        recipe.model_copy(update={"bottle": beside(recipe.bottle_path), "shelf": beside(recipe.shelf_path)})
    )


# --- the factors --------------------------------------------------------------------------------------


def _factors(batch: Batch, size: aims.Size) -> FloatArray:
    """Return the factor of each step and, last, that of what is bottled; shape (steps + 1,)."""
    steps = batch.chain.steps
    carried = batch.run.carried[:, :LIQUOR].sum(axis=1)
    fixed = np.array([step.fixed_loss_kg for step in steps])
    factors = np.empty(len(steps) + 1)
    if isinstance(size, aims.Bottled):
        start = len(steps)
        factors[start] = size.volume_l / float(batch.drink.volume_l)
    elif isinstance(size, aims.Fill):
        start = _step_of_vessel(batch.recipe, size.vessel)
        vessels = batch.pantry.shelf.vessels if batch.pantry.shelf else {}
        if size.vessel not in vessels:
            hint = did_you_mean(size.vessel, vessels)
            raise FormulateError(f"--to: no vessel called '{size.vessel}' on the shelf. {hint}".rstrip())
        factors[start] = vessels[size.vessel] * size.fraction / _contents_l(batch.run, start)
    else:
        start, factors[start] = _used(batch, size)
    for step in range(start - 1, -1, -1):
        factors[step] = (factors[step + 1] * carried[step] + fixed[step]) / (carried[step] + fixed[step])
    for step in range(start, len(steps)):
        factors[step + 1] = (factors[step] * (carried[step] + fixed[step]) - fixed[step]) / carried[step]
    if not (factors > 0.0).all():
        raise FormulateError(
            f"--to: a batch this small is lost whole in filters and vessels, got {size.text}. Make more."
        )
    return factors


def _used(batch: Batch, size: aims.Use) -> tuple[int, float]:
    """Return the step an ingredient goes into, and the factor that uses it up."""
    ids = [ingredient.id for ingredient in batch.ingredients]
    if size.ingredient not in ids:
        hint = did_you_mean(size.ingredient, ids)
        raise FormulateError(f"--to: {size.ingredient} is not in the recipe. {hint}".rstrip())
    column = ids.index(size.ingredient)
    steps = np.flatnonzero(batch.masses_kg[:, column] > 0.0)
    if len(steps) != 1:
        raise FormulateError(
            f"--to: {size.ingredient} goes into {len(steps)} steps, so using it up is not one size. "
            "Give the volume bottled."
        )
    try:
        if size.amount is None:
            mass = batch.pantry.on_hand_kg(batch.ingredients[column])
        else:
            mass = batch.pantry.mass_kg(size.amount, batch.ingredients[column])
    except UnknownMassError as error:
        raise FormulateError(f"--to: {error}") from None
    if not mass:
        raise FormulateError(f"--to: the shelf does not say how much {size.ingredient} is left. Add on_hand.")
    step = int(steps[0])
    return step, mass / float(batch.masses_kg[step, column])


def _step_of_vessel(recipe: Recipe, vessel: str) -> int:
    """Return the step done in a vessel; the first where no step names it."""
    named = [position for position, step in enumerate(recipe.resolved_steps()) if step.vessel == vessel]
    return named[0] if named else 0


def _contents_l(run: ChainRun, step: int) -> float:
    """Liquor and solids of a step before it is strained, litres."""
    liquor = float(volume_l(run.gross[step, :LIQUOR], check=False))
    return liquor + SOLID_VOLUME_L_KG * float(run.solids_kg[step])


def _recipe(recipe: Recipe, batch: Batch, factors: FloatArray, volume: float) -> Recipe:
    names = [step.name for step in batch.chain.steps]
    by_id = {ingredient.id: ingredient for ingredient in batch.ingredients}
    lines = []
    for line in recipe.ingredients:
        position = names.index(line.step) if line.step is not None else 0
        mass = batch.pantry.mass_kg(line.amount, by_id[line.id]) * float(factors[position])
        lines.append(line.model_copy(update={"amount": Amount(mass, AmountBasis.MASS)}))
    from formulate import __version__

    return recipe.model_copy(
        update={
            "ingredients": tuple(lines),
            "volume_l": volume,
            "steps": recipe.resolved_steps(),
            "made_by": f"formulate {__version__}",
        }
    )


# --- what is said ---------------------------------------------------------------------------------------


def _fills(recipe: Recipe, pantry: Pantry, run: ChainRun) -> tuple[FillRecord, ...]:
    vessels = pantry.shelf.vessels if pantry.shelf else {}
    return tuple(
        FillRecord(step.name, step.vessel, _contents_l(run, position), float(vessels[step.vessel]))
        for position, step in enumerate(recipe.resolved_steps())
        if step.vessel is not None and step.vessel in vessels
    )


def _fill_notes(fills: Sequence[FillRecord]) -> list[Note]:
    notes = []
    for fill in fills:
        share = fill.volume_l / fill.holds_l
        end = (
            " It does not fit: make it in parts."
            if share > BRIM
            else " That leaves no room to stir."
            if share > FULL
            else ""
        )
        notes.append(
            Note(
                "vessel",
                f"`{fill.step}` fills {fill.vessel} to {fill.volume_l:.2f} of {fill.holds_l:g} L "
                f"({share * 100:.0f} %), solids and all.{end}",
            )
        )
    return notes


def _notes(before: Batch, after: Batch, factors: FloatArray) -> list[Note]:
    notes = []
    if np.ptp(factors) > 1e-9 * factors.max():
        by_step = ", ".join(
            f"{step.name} × {factor:.4g}" for step, factor in zip(before.chain.steps, factors, strict=False)
        )
        notes.append(
            Note(
                "not_a_multiplier",
                f"What is lost once per batch does not grow with it: {by_step} for {factors[-1]:.4g} times "
                "the bottles.",
            )
        )
    strength = float(after.drink.strength_pct_vol - before.drink.strength_pct_vol)
    sugar = float(after.drink.sugar_g_l - before.drink.sugar_g_l)
    if abs(strength) > SAME_PCT_VOL or abs(sugar) > SAME_G_L:
        notes.append(
            Note(
                "profile_moved",
                f"A fixed loss and a rinse in one step change its composition: strength moves by "
                f"{strength:+.2f} % vol and sugar by {sugar:+.1f} g/L. Put it right with `adjust`.",
            )
        )
    return [*notes, _weighing(after)]


def _weighing(batch: Batch) -> Note:
    """Round every mass to what the balances show, and say what that does."""
    rounded = np.vectorize(lambda mass: _rounded(float(mass), batch.pantry))(batch.masses_kg)
    drink = profile(batch.chain.run(rounded).bottled, batch.chain.materials)
    strength = abs(float(drink.strength_pct_vol - batch.drink.strength_pct_vol))
    sugar = abs(float(drink.sugar_g_l - batch.drink.sugar_g_l))
    kept = strength <= SAME_PCT_VOL and sugar <= SAME_G_L
    said = "stays the same" if kept else "moves: weigh the small things on a finer balance"
    if broken := _law_broken(batch, rounded, drink):
        said = f"would break the limit on {broken}: weigh what brings it on a finer balance, or round it down"
    return Note(
        "weighing",
        f"Rounded to the steps of your balances the drink {said} "
        f"(by {strength:.3f} % vol and {sugar:.2f} g/L).",
    )


def _law_broken(batch: Batch, masses: FloatArray, drink: Profile) -> str:
    """Name what goes over a limit of the law by rounding that it kept before."""
    bottled = batch.chain.run(masses).bottled
    materials = batch.chain.materials
    before = law_of(
        batch.rules, materials, batch.used_kg, batch.run.bottled, float(batch.drink.volume_l)
    ).over
    after = law_of(batch.rules, materials, masses.sum(axis=0), bottled, float(drink.volume_l)).over
    known = {cap.rule for cap in before}
    return ", ".join(dict.fromkeys(cap.substance for cap in after if cap.rule not in known))


def _rounded(mass_kg: float, pantry: Pantry) -> float:
    balances = pantry.shelf.balances if pantry.shelf else ()
    fitting = [balance.step_kg for balance in balances if mass_kg <= balance.up_to_kg]
    if fitting:
        step = min(fitting)
    elif balances:
        step = max(balance.step_kg for balance in balances)
    else:
        step = next(step for up_to, step in USUAL_STEPS if mass_kg <= up_to)
    return round(mass_kg / step) * step
