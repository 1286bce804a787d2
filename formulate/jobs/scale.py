"""`scale`: the same drink in another size.

What is lost once per batch, in a filter or a pan, does not grow with it. So each step is scaled by a
factor of its own, such that the liquor that flows into every step stands in the recipe's own ratio to
what is added there: then every step has the recipe's composition and the bottle the recipe's profile.
With c what leaves a step of the recipe, f its fixed loss and s the factors,
``s[next] c = s (c + f) - f``, backwards from the volume asked, or forwards from a vessel to be filled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formulate.bar.balances import steps_kg
from formulate.bar.batch import Batch, weigh_batch
from formulate.bar.changed import Circumstances
from formulate.bar.emptying import EmptyingSize, PackCount, emptying_size, pack_notes, packs_for
from formulate.bar.opening import open_pantry
from formulate.bar.pantry import UnknownMassError
from formulate.bar.vessels import FillRecord, contents_l
from formulate.bar.wholes import bill_of
from formulate.blend.materials import LIQUOR
from formulate.blend.profile import Profile, profile
from formulate.describe.records import DrinkRecord
from formulate.describe.vessels import TOLD, fitting_notes
from formulate.errors import FormulateError, Note
from formulate.files import aims
from formulate.files.fields import did_you_mean
from formulate.files.recipe import Recipe, RecipeLine, load_recipe
from formulate.jobs.files import beside
from formulate.jobs.predict import predict_batch
from formulate.jobs.reformulate import reformulate
from formulate.quantity import Amount, AmountBasis
from formulate.quantity.document import HIDDEN, Record, shown
from formulate.quantity.words import read_option
from formulate.rules.standing import law_of

__all__ = ["ScaledRecipe", "scale_recipe", "written_recipe"]

FloatArray = NDArray[np.float64]

SAME_PCT_VOL, SAME_G_L = 0.05, 0.5
"""The profile counts as kept within these."""

SAME_SHARE = 0.05
"""Rounding an ingredient by more than this share of it is told (working limit)."""


MIDDLE = (
    "Brought to the middle of each band first, with the least change; `formulate reformulate --middle` shows "
    "what moves."
)


@dataclass(frozen=True)
class ScaledRecipe(Record):
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
    missed : tuple of str
        Targets that the recipe met and that are off in this size.
    packs : tuple of PackCount
        What it takes of what is sold in packs.
    empties : EmptyingSize or None
        The nearest size that uses packs up.
    """

    drink: DrinkRecord = field(metadata=shown(""))
    recipe: Recipe = field(metadata=HIDDEN)
    before_l: float = field(metadata=shown("scaling.before_l"))
    after_l: float = field(metadata=shown("scaling.after_l"))
    factors: tuple[tuple[str, float], ...] = field(metadata=shown("scaling.factors", rows=("step", "factor")))
    fills: tuple[FillRecord, ...] = field(metadata=shown("scaling.vessels"))
    missed: tuple[str, ...] = field(default=(), metadata=HIDDEN)
    packs: tuple[PackCount, ...] = field(default=(), metadata=shown("scaling.packs"))
    empties: EmptyingSize | None = field(default=None, metadata=shown("scaling.empties_packs"))


def scale_recipe(path: Path, to: str, today: date | None = None, *, middle: bool = False) -> ScaledRecipe:
    """Scale a recipe file.

    Parameters
    ----------
    path : Path
    to : str
        A size as a bottle file says it: ``12 L bottled``, ``24 bottles of 50 cl``,
        ``fill kettle-12l (80 % of the vessel)``, ``use 3 bottles of vodka-40``.
    today : date, optional
    middle : bool
        Whether the recipe is first brought to the middle of each band, by the least change.

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
    InfeasibleError, NotConvergedError, VerificationError
        If it cannot be brought to the middle.
    """
    size = read_option("--to", to, aims.parse_size)
    recipe = _in_the_middle(path, today) if middle else load_recipe(path)
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
    record = predict_batch(new, today)
    fills = record.fills
    told = [note for note in record.notes if note.code in TOLD]
    rest = [note for note in record.notes if note.code not in TOLD]
    missed = _missed(predict_batch(batch, today), record)
    aimed = [Note("in_the_middle", MIDDLE)] if middle else []
    packs = packs_for(new)
    nearest = emptying_size(new, packs, partial(_volume_l, new))
    notes = [*_missed_notes(missed), *aimed, *_notes(batch, new, factors), *told, *fitting_notes(fills)]
    notes += pack_notes(packs, nearest, float(drink.volume_l))
    return ScaledRecipe(
        drink=replace(record, status="scaled", size_text=to, notes=(*notes, *rest)),
        recipe=scaled,
        before_l=float(batch.drink.volume_l),
        after_l=float(drink.volume_l),
        factors=tuple((step.name, float(f)) for step, f in zip(batch.chain.steps, factors, strict=False)),
        fills=fills,
        missed=missed,
        packs=packs,
        empties=nearest,
    )


def _volume_l(batch: Batch, step: int, factor: float) -> float | None:
    """Return what is bottled when one step is scaled and the others go with it."""
    factors = _spread(batch, step, factor)
    return None if factors is None else float(batch.drink.volume_l) * float(factors[-1])


def _in_the_middle(path: Path, today: date | None) -> Recipe:
    """Return the recipe with the least change that brings it to the middle of each band, in its own size."""
    recipe = load_recipe(path)
    best = reformulate(path, Circumstances(), middle=True, today=today).best
    lines = [
        RecipeLine(id=line.ingredient, amount=Amount(line.mass_kg, AmountBasis.MASS), step=line.step)
        for line in best.record.recipe
    ]
    return recipe.model_copy(
        update={
            "ingredients": tuple(lines),
            "volume_l": best.answer.volume_l,
            "steps": best.formulation.bottle.resolved_steps(),
        }
    )


def written_recipe(scaled: ScaledRecipe, path: Path) -> str:
    """Return the text of the new recipe file, its paths as seen from where it is written."""
    from formulate.files.recipe import dump_recipe

    recipe = scaled.recipe
    bottle, shelf = beside(recipe.bottle_path, path), beside(recipe.shelf_path, path)
    return dump_recipe(recipe.model_copy(update={"bottle": bottle, "shelf": shelf}))


# --- the factors --------------------------------------------------------------------------------------


def _factors(batch: Batch, size: aims.Size) -> FloatArray:
    """Return the factor of each step and, last, that of what is bottled; shape (steps + 1,)."""
    if isinstance(size, aims.Bottled):
        start = len(batch.chain.steps)
        factor = size.volume_l / float(batch.drink.volume_l)
    elif isinstance(size, aims.Fill):
        start = _step_of_vessel(batch.recipe, size.vessel)
        vessels = batch.pantry.shelf.vessels if batch.pantry.shelf else {}
        if size.vessel not in vessels:
            hint = did_you_mean(size.vessel, vessels)
            raise FormulateError(f"--to: no vessel called '{size.vessel}' on the shelf. {hint}".rstrip())
        factor = vessels[size.vessel] * size.fraction / contents_l(batch.run, start)
    else:
        start, factor = _used(batch, size)
    factors = _spread(batch, start, factor)
    if factors is None:
        raise FormulateError(
            f"--to: a batch this small is lost whole in filters and vessels, got {size.text}. Make more."
        )
    return factors


def _spread(batch: Batch, start: int, factor: float) -> FloatArray | None:
    """Scale one step, and the others so that they go with it; None where all would be lost in vessels."""
    steps = batch.chain.steps
    carried = batch.run.carried[:, :LIQUOR].sum(axis=1)
    fixed = np.array([step.fixed_loss_kg for step in steps])
    factors = np.empty(len(steps) + 1)
    factors[start] = factor
    for step in range(start - 1, -1, -1):
        factors[step] = (factors[step + 1] * carried[step] + fixed[step]) / (carried[step] + fixed[step])
    for step in range(start, len(steps)):
        factors[step + 1] = (factors[step] * (carried[step] + fixed[step]) - fixed[step]) / carried[step]
    return factors if (factors > 0.0).all() else None


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


def _notes(before: Batch, after: Batch, factors: FloatArray) -> list[Note]:
    notes = []
    if np.ptp(factors) > 1e-9 * factors.max():
        parts: dict[str, list[str]] = {}
        for step, factor in zip(before.chain.steps, factors, strict=False):
            parts.setdefault(_share(factor), []).append(step.name)
        takes = ", ".join(
            f"{_listed(names)} take{'s' if len(names) == 1 else ''} {part}" for part, names in parts.items()
        )
        bottles = _share(factors[-1])
        grows = "grow" if factors[-1] >= 1.0 else "shrink"
        notes.append(
            Note(
                "not_a_multiplier",
                f"What is lost once per batch does not {grows} with it: for {bottles} the bottles "
                f"{takes} the ingredients.",
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
    balances = batch.pantry.shelf.balances if batch.pantry.shelf else ()
    step_kg = np.array([steps_kg(row, balances) for row in batch.masses_kg])
    rounded = np.round(batch.masses_kg / step_kg) * step_kg
    drink = profile(batch.chain.run(rounded).bottled, batch.chain.materials)
    strength = abs(float(drink.strength_pct_vol - batch.drink.strength_pct_vol))
    sugar = abs(float(drink.sugar_g_l - batch.drink.sugar_g_l))
    # Rounded up, so that it never moves further than is said.
    up = (math.ceil(strength * 100.0) / 100.0, math.ceil(sugar * 10.0) / 10.0)
    by = f"by at most {up[0]:.2f} % vol and {up[1]:.1f} g/L of sugar"
    rounded_off = np.divide(
        np.abs(rounded - batch.masses_kg),
        batch.masses_kg,
        out=np.zeros_like(rounded),
        where=batch.masses_kg > 0.0,
    )
    coarse = [
        (ingredient.id, float(rounded_off[step, column]))
        for step in range(len(rounded))
        for column, ingredient in enumerate(batch.ingredients)
        if batch.masses_kg[step, column] > 0.0 and rounded_off[step, column] > SAME_SHARE
    ]
    if broken := _law_broken(batch, rounded, drink):
        return Note(
            "weighing",
            f"Rounded to the steps of your balances the drink would break the limit on {broken}: weigh what "
            "brings it on a finer balance, or round it down.",
        )
    if coarse:
        # A pinch that is rounded away moves neither strength nor sugar, but what it is there for.
        names = _listed([f"{name} ({share * 100.0:.0f} %)" for name, share in coarse])
        return Note(
            "weighing",
            f"Rounded to the steps of your balances strength and sugar move {by}, but what there is little "
            f"of is off by much: {names}. A finer balance, a tincture or a larger batch helps.",
        )
    kept = strength <= SAME_PCT_VOL and sugar <= SAME_G_L
    said = "stays the same" if kept else "moves: weigh the small things on a finer balance"
    return Note("weighing", f"Rounded to the steps of your balances the drink {said} ({by}).")


def _share(factor: float) -> str:
    """Say how many times as much, as a kitchen would."""
    return f"{factor:.3g} times" if factor >= 1.0 else f"{factor * 100.0:.2g} % of"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _missed(before: DrinkRecord, after: DrinkRecord) -> tuple[str, ...]:
    """Name the targets that the recipe met and the new size does not."""
    met = {target.target for target in before.targets if target.verdict == ""}
    return tuple(target.target for target in after.targets if target.verdict and target.target in met)


def _missed_notes(missed: Sequence[str]) -> list[Note]:
    if not missed:
        return []
    text = f"In this size {_listed(missed)} is off target; in the recipe it was not. "
    text += (
        "What is lost once per batch costs more on a small one: make more, or give the target more room."
        if missed == ("cost",)
        else "Solve the bottle file in this size instead."
    )
    return [Note("off_target", text)]


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
