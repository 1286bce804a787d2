"""A trial held against itself: what contradicts is told before anything is worked out of it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.opening import open_pantry
from formulate.blend.materials import LIQUOR
from formulate.errors import Note, ReadingError
from formulate.files.frozen import FrozenMap
from formulate.files.issues import Problems
from formulate.files.trial import Trial
from formulate.learn.doubt import Doubt, Figure, figure_of
from formulate.learn.gauge import gauge
from formulate.learn.kitchen import NUDGE, Kitchen, TriedJar, learn_kitchen, observed_of, run_of
from formulate.learn.own_values import is_learned
from formulate.learn.readings import Readings
from formulate.learn.scales import refuse_impossible
from formulate.physics import mixture
from formulate.quantity.document import HIDDEN, Record, shown

if TYPE_CHECKING:
    from datetime import date

__all__ = ["Estimate", "estimate_of", "figures_at", "tried_jar"]

FloatArray = NDArray[np.float64]

SLACK, SLACK_STEPS = 0.001, 2.0
"""Weights contradict beyond this share and so many steps of the scale (common practice)."""
MUCH_MISSING = 0.05
"""Share of what went in that may be neither in the cake nor in the bottle before it is remarked on."""


@dataclass(frozen=True, kw_only=True)
class Estimate(Record):
    """All weights and readings of one jar joined, each figure with its doubt.

    Attributes
    ----------
    kept_kg_per_kg : Figure or None
        Liquor in the cake for each kilogram of what soaks, as bought.
    lost_share : Figure
        Liquor that sieves and spoons took, as a share.
    yield_share : float
        Bottled of what went in.
    volume_l, strength_pct_vol, sugar_g_l, acid_g_l, bitterness_value : Figure
        Of the drink.
    kitchen : Kitchen
    """

    volume_l: Figure
    strength_pct_vol: Figure
    sugar_g_l: Figure
    acid_g_l: Figure
    bitterness_value: Figure
    kept_kg_per_kg: Figure | None
    lost_share: Figure
    yield_share: float
    kitchen: Kitchen = field(metadata=HIDDEN)
    notes: tuple[Note, ...] = field(default=(), metadata=shown("warnings"))


def tried_jar(trial: Trial, today: date | None = None, *, afresh: bool = False) -> TriedJar:
    """Weigh a trial out, and hold what was found against what went in.

    Parameters
    ----------
    trial : Trial
    today : date, optional
        What the age of the stock is counted to.
    afresh : bool
        Whether what was learned before is left out: the same trials must not count twice.

    Raises
    ------
    SpecError
        With everything that contradicts, at its place in the file.
    """
    recipe = trial.as_recipe()
    pantry = open_pantry(recipe.shelf_path, recipe.places, today=today)
    if afresh and pantry.shelf is not None:
        own = {name: one for name, one in pantry.shelf.ingredients.items() if not is_learned(one)}
        shelf = pantry.shelf.model_copy(update={"ingredients": FrozenMap(own)})
        pantry = replace(pantry, shelf=shelf)
    batch = weigh_batch(recipe, pantry)
    position = next((at for at, step in enumerate(batch.chain.steps) if step.strains), 0)
    problems = Problems(trial.places)
    _refuse_weights(trial, batch, position, problems)
    _refuse_readings(trial, batch, problems)
    problems.raise_if_any()
    return TriedJar(trial, batch, position, observed_of(trial, batch))


def estimate_of(jar: TriedJar) -> Estimate:
    """Join all that was weighed and read of one jar into one estimate."""
    kitchen = learn_kitchen([jar])
    values, count = kitchen.fit.values, len(kitchen.unknowns)
    moved = np.concatenate([values[None, :], values + NUDGE * np.eye(count), values - NUDGE * np.eye(count)])
    rows = figures_at(jar, kitchen, moved)
    slope = (rows[1 : count + 1] - rows[count + 1 :]).T / (2.0 * NUDGE)
    doubt = kitchen.spread(slope)
    figures = [
        figure_of(float(value), [Doubt("weights, readings and the library together", float(one), False)])
        for value, one in zip(rows[0], doubt, strict=True)
    ]
    went_in = float(jar.batch.masses_kg.sum())
    soaks = _soaking_kg(jar) > 0.0
    trial = jar.trial
    bottled = trial.bottled if trial.bottled is not None else float(rows[0][7])
    return Estimate(
        volume_l=figures[0],
        strength_pct_vol=figures[1],
        sugar_g_l=figures[2],
        acid_g_l=figures[3],
        bitterness_value=figures[4],
        kept_kg_per_kg=figures[5] if soaks else None,
        lost_share=figures[6],
        yield_share=bottled / went_in,
        kitchen=kitchen,
        notes=_remarks(jar),
    )


def figures_at(jar: TriedJar, kitchen: Kitchen, values: FloatArray) -> FloatArray:
    """Work out a jar for values of the unknowns, shape (runs, p).

    Returns
    -------
    ndarray, shape (runs, 8)
        Litres, % vol, g/L sugar, g/L acid, bitterness value, kg/kg kept, share lost, kg bottled.
    """
    run = run_of(jar.batch, kitchen.unknowns, values)
    liquor = run.bottled[:, :LIQUOR]
    volume = np.asarray(mixture.volume_l(liquor, check=False))
    pressed = run.gross[:, jar.position, :LIQUOR].sum(axis=1) - run.kept_kg[:, jar.position]
    leaves = run.carried[:, jar.position, :LIQUOR].sum(axis=1)
    return np.stack(
        [
            volume,
            np.asarray(mixture.strength_pct_vol(liquor, check=False)),
            np.asarray(mixture.sugar_g_l(liquor, check=False)),
            np.asarray(mixture.acid_g_l(liquor, check=False)),
            run.bottled[:, LIQUOR] * 1000.0 / volume,
            run.kept_kg[:, jar.position] / max(_soaking_kg(jar), 1e-12),
            (pressed - leaves) / pressed,
            liquor.sum(axis=1),
        ],
        axis=1,
    )


def _soaking_kg(jar: TriedJar) -> float:
    """Return the mass of what keeps liquor, as bought, up to the press."""
    masses = jar.batch.masses_kg[: jar.position + 1].sum(axis=0)
    return float(masses[jar.batch.chain.materials.retention > 0.0].sum())


def _refuse_weights(trial: Trial, batch: BarBatch, position: int, problems: Problems) -> None:
    before = float(batch.masses_kg[: position + 1].sum())
    went_in = float(batch.masses_kg.sum())
    dry = float(batch.run.solids_kg[: position + 1].sum())

    def over(weight: float | None, most: float) -> bool:
        slack = SLACK * most + SLACK_STEPS * trial.scale_step
        return weight is not None and weight > most + slack

    if over(trial.jar_full, before):
        problems.add(
            ("jar_full",),
            f"{_grams(trial.jar_full)} are in the jar, and {_grams(before)} went in before the press. Check "
            "the scale, the empty jar, and whether a line is missing.",
        )
    there = before if trial.jar_full is None else min(before, trial.jar_full)
    if over(trial.cake, there):
        problems.add(
            ("cake",),
            f"the cake weighs {_grams(trial.cake)}, more than all that was in the jar, {_grams(there)}. "
            "Check the scale and the bowl.",
        )
    elif trial.cake is not None and trial.cake < dry * (1.0 - 0.1) - SLACK_STEPS * trial.scale_step:
        problems.add(
            ("cake",),
            f"the cake weighs {_grams(trial.cake)}, less than the {_grams(dry)} of dry matter in it. Check "
            "the scale, and whether all of it was weighed.",
        )
    if over(trial.bottled, went_in):
        problems.add(
            ("bottled",),
            f"{_grams(trial.bottled)} came out, and {_grams(went_in)} went in. Check the scale, the empty "
            "bottles, and whether a line is missing.",
        )
    elif trial.cake is not None and trial.bottled is not None and over(trial.cake + trial.bottled, went_in):
        problems.add(
            ("bottled",),
            f"cake and bottles weigh {_grams(trial.cake + trial.bottled)} together, and {_grams(went_in)} "
            "went in. Check the scale, the empty bowl and bottles, and whether a line is missing.",
        )


def _refuse_readings(trial: Trial, batch: BarBatch, problems: Problems) -> None:
    """Let readings say that no drink shows them, alone or together, before anything is fitted to them."""
    for key, reading, at_c in (
        ("density", trial.density, trial.at),
        ("refraction", trial.refraction, trial.at if trial.refraction_at is None else trial.refraction_at),
    ):
        if reading is None:
            continue
        try:
            refuse_impossible(reading, at_c)
        except ReadingError as error:
            problems.add((key,), str(error))
            return
    both = trial.density is not None and trial.refraction is not None
    known = trial.strength is not None or trial.sugar is not None
    if (trial.density is None and trial.refraction is None) or not (both or known):
        return
    liquor = batch.bottled[:LIQUOR] / batch.volume_l
    others = [mixture.INDEX[name] for name in ("glycerol", "salt", "other_soluble")]
    readings = Readings(
        density=trial.density,
        refraction=trial.refraction,
        density_c=trial.at,
        refraction_c=trial.at if trial.refraction_at is None else trial.refraction_at,
        density_step=trial.density_step_value,
        refraction_step=trial.refraction_step_value,
        thermometer_k=trial.thermometer,
        self_correcting=trial.corrects_itself,
        strength=None if both else trial.strength,
        sugar=None if both or trial.strength is not None else trial.sugar,
        acid_g_l=float(batch.drink.acid_g_l),
        solids_g_l=float(liquor[others].sum()) * 1000.0,
    )
    try:
        gauge(readings)
    except ReadingError as error:
        problems.add(("density" if trial.density is not None else "refraction",), str(error))


def _remarks(jar: TriedJar) -> tuple[Note, ...]:
    trial, batch = jar.trial, jar.batch
    notes = []
    went_in = float(batch.masses_kg.sum())
    if trial.cake is not None and trial.bottled is not None:
        missing = went_in - trial.cake - trial.bottled
        if missing > MUCH_MISSING * went_in:
            text = (
                f"{jar.name}: {_grams(missing)} of {_grams(went_in)} are neither in the cake nor in the "
                "bottles: left in sieve and bowl, drunk, or not weighed."
            )
            notes.append(Note("much_missing", text))
    return tuple(notes)


def _grams(mass_kg: float | None) -> str:
    assert mass_kg is not None
    return f"{mass_kg * 1000.0:.0f} g"
