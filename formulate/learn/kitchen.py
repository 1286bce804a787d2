"""What a kitchen does of its own, learned from its trials: cakes, losses, speeds, fruit and bitterness.

The unknowns are factors on the library's values, mostly as logarithms, each with how far the library is
doubted. The forward model gives what every trial should have weighed and read; weighted least squares with
those doubts finds the unknowns. What the trials cannot tell apart keeps the library's shares.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import hypot, log, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch
from formulate.blend.lots import LOT_FACTOR, content_range
from formulate.blend.materials import LIQUOR
from formulate.blend.uptake import COLOUR
from formulate.blend.varied import GROUPS, Varied, VariedRun, run_varied
from formulate.errors import RangeError
from formulate.files.ingredient import Ingredient
from formulate.files.trial import Trial
from formulate.learn.readings import model_density_doubt, model_index_doubt
from formulate.learn.scales import STEPS, density_of_reading, index_of_reading
from formulate.optimise.least_squares import Fit, fit_least_squares
from formulate.physics import mixture
from formulate.physics.extraction import DOUBT_FACTOR, TRIED_DOUBT_FACTOR
from formulate.physics.gauging import index_at_temperature
from formulate.physics.thermal import density_mixture_kg_m3
from formulate.quantity import Band
from formulate.quantity.readings import Scale

__all__ = [
    "SHARED_ABOVE",
    "Kitchen",
    "Observed",
    "TriedJar",
    "Unknown",
    "factor_of",
    "learn_kitchen",
    "predicted",
    "unknowns_of",
]

FloatArray = NDArray[np.float64]

NORMAL = 1.96
"""Standard uncertainties from the middle to the ends that hold 95 of 100."""
CAKE_DOUBT = 0.35
"""Standard doubt about what a cake keeps, as a share: 0.3 to 1.7 times the table in 95 of 100 kitchens."""
SUGAR_FACTOR, ACID_FACTOR = 1.25, 1.35
"""Ripe and less ripe fruit against the library's value, 95 of 100 (common practice); tables may be wider."""
SPIRIT_PCT_VOL = 0.3
"""How far the strength on a label may be off (EU 1169/2011, Annex XII)."""
STRAINED_SHARE = 0.01
"""Standard doubt about what sieve, cloth and spoon take, as a share of the liquor (common practice)."""
GLASS = 3.0
"""Nobody knows how deep the bar's reference glass is: one standard doubt is a factor of e to the third."""
CAKE_HANDLED, BOTTLED_HANDLED = 0.01, 0.003
"""What drips or sticks when a cake and a bottle are weighed, a share of it (common practice)."""
TITRATED, THINNED, COLOUR_THINNED = 0.03, 0.15, 0.08
"""Standard doubt about a titration, a bitterness found by thinning, a colour found so, as shares: a good pair
of hands (common practice)."""
INDEX_PER_K = 1e-4
"""Change of the index of a drink by warmth, about (water: 1.0e-4 at 25 °C, from memory)."""
LEAST_KEPT = 0.02
NUDGE = 1e-4
SHARED_ABOVE = 0.98
"""What moves all data alike to this cosine cannot be told apart by them."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """One thing the kitchen does of its own.

    Attributes
    ----------
    kind : str
        ``keeps``, ``strains``, ``speed``, ``gives``, ``sugar``, ``acid``, ``spirit``, ``colour``,
        ``glass``.
    ingredient : str
        Id; empty for what is the kitchen's.
    doubt : float
        Standard, before any trial: of a logarithm; of a share for ``strains`` and ``keeps``.
    """

    kind: str
    ingredient: str
    doubt: float


@dataclass(frozen=True, slots=True)
class Observed:
    """One thing weighed, read or tasted.

    Attributes
    ----------
    what : str
    value, standard : float
        In SI or the trade's unit; logarithms of bitterness and colour.
    """

    what: str
    value: float
    standard: float


@dataclass(frozen=True)
class TriedJar:
    """A trial with its batch by the library's values.

    Attributes
    ----------
    position : int
        Of the step that is pressed.
    observed : tuple of Observed
    """

    trial: Trial
    batch: BarBatch
    position: int
    observed: tuple[Observed, ...]

    @property
    def name(self) -> str:
        """Of the trial."""
        return self.trial.name


@dataclass(frozen=True)
class Kitchen:
    """What was learned.

    Attributes
    ----------
    jars : tuple of TriedJar
    unknowns : tuple of Unknown
    fit : Fit
        `values` in the order of the unknowns.
    """

    jars: tuple[TriedJar, ...]
    unknowns: tuple[Unknown, ...]
    fit: Fit

    @cached_property
    def standard(self) -> FloatArray:
        """Standard uncertainty of each unknown now."""
        found: FloatArray = np.sqrt(np.diag(self.fit.covariance))
        return found

    @cached_property
    def correlations(self) -> FloatArray:
        """Between the unknowns, shape (p, p)."""
        found: FloatArray = self.fit.covariance / np.outer(self.standard, self.standard)
        return found

    @property
    def told(self) -> FloatArray:
        """Share of each doubt that the trials took away, 0 to 1."""
        before = np.array([unknown.doubt for unknown in self.unknowns])
        return np.asarray(np.clip(1.0 - self.standard / before, 0.0, 1.0))

    def not_told_apart(self) -> tuple[tuple[int, ...], ...]:
        """Group the unknowns that move everything observed alike, by position."""
        slope = self.fit.jacobian * np.array([unknown.doubt for unknown in self.unknowns])
        size = np.sqrt((slope**2).sum(axis=0))
        loud = [index for index in range(len(size)) if size[index] > 0.3]
        groups: list[list[int]] = []
        for index in loud:
            for group in groups:
                first = group[0]
                cosine = slope[:, index] @ slope[:, first] / (size[index] * size[first])
                if abs(cosine) > SHARED_ABOVE:
                    group.append(index)
                    break
            else:
                groups.append([index])
        return tuple(tuple(group) for group in groups if len(group) > 1)

    def spread(self, function: FloatArray) -> FloatArray:
        """Return the standard uncertainty of what moves with the unknowns by `function`, shape (k, p)."""
        found: FloatArray = np.sqrt(np.einsum("kp,pq,kq->k", function, self.fit.covariance, function))
        return found


def unknowns_of(jars: Sequence[TriedJar]) -> tuple[Unknown, ...]:
    """List what jars may tell of, each with how far the library is doubted."""
    found: dict[tuple[str, str], Unknown] = {}

    def add(kind: str, ingredient: str, doubt: float) -> None:
        found.setdefault((kind, ingredient), Unknown(kind, ingredient, doubt))

    observed = {one.what for jar in jars for one in jar.observed}
    if observed & {"bottled"}:
        add("strains", "", STRAINED_SHARE)
    for jar in jars:
        materials, masses = jar.batch.chain.materials, jar.batch.masses_kg
        pressed = masses[: jar.position + 1].sum(axis=0)
        step = jar.batch.chain.steps[jar.position]
        for index, ingredient in enumerate(jar.batch.ingredients):
            if not masses[:, index].any():
                continue
            name, content = ingredient.id, materials.content[index]
            if materials.retention[index] > 0.0 and pressed[index] > 0.0:
                add("keeps", name, CAKE_DOUBT)
            is_fruit = materials.solids[index] > 0.0 or ingredient.family in ("fruit", "juice")
            if is_fruit and content[list(GROUPS["sugar"])].sum() > 0.01:
                add("sugar", name, _content_doubt(ingredient, "sugars", SUGAR_FACTOR))
            if is_fruit and content[list(GROUPS["acid"])].sum() > 0.002:
                add("acid", name, _content_doubt(ingredient, "acid", ACID_FACTOR))
            if ingredient.strength_pct_vol:
                add("spirit", name, SPIRIT_PCT_VOL / ingredient.strength_pct_vol / NORMAL)
            bitter = "bitterness" in observed and content[LIQUOR] > 0.0
            coloured = "colour" in observed and _colour(materials.carried, content) > 0.0
            if bitter:
                add("gives", name, _lot_doubt(jar.batch, index))
            if coloured:
                add("colour", name, log(LOT_FACTOR) / NORMAL)
            kinetics = materials.kinetics[index][0] if materials.kinetics else None
            if (bitter or coloured) and kinetics is not None and step.time_h is not None:
                tried = kinetics.confidence == "measured here"
                add("speed", name, log(TRIED_DOUBT_FACTOR if tried else DOUBT_FACTOR) / NORMAL)
    if "colour" in observed:
        add("glass", "", GLASS)
    return tuple(found.values())


def learn_kitchen(jars: Sequence[TriedJar], unknowns: Sequence[Unknown] | None = None) -> Kitchen:
    """Estimate what a kitchen does of its own.

    Parameters
    ----------
    jars : sequence of TriedJar
        At least one.
    unknowns : sequence of Unknown, optional
        All that the jars may tell of, if not given.

    Raises
    ------
    FormulateError
        If the fit does not settle.
    """
    jars = tuple(jars)
    unknowns = unknowns_of(jars) if unknowns is None else tuple(unknowns)
    count = len(unknowns)

    def residuals(values: FloatArray) -> FloatArray:
        return np.asarray(_misses(jars, unknowns, values[None, :])[0])

    def jacobian(values: FloatArray) -> FloatArray:
        moved = np.concatenate([values + NUDGE * np.eye(count), values - NUDGE * np.eye(count)])
        misses = _misses(jars, unknowns, moved)
        return np.asarray((misses[:count] - misses[count:]).T / (2.0 * NUDGE))

    start = np.zeros(count)
    for index, unknown in enumerate(unknowns):
        if unknown.kind == "glass":
            start[index] = _glass(jars)
    doubt = np.array([unknown.doubt for unknown in unknowns])
    fit = fit_least_squares(residuals, start, believed=start, doubt=doubt, jacobian=jacobian)
    return Kitchen(jars, unknowns, fit)


def _misses(jars: Sequence[TriedJar], unknowns: Sequence[Unknown], values: FloatArray) -> FloatArray:
    parts = []
    for jar in jars:
        seen = np.array([one.value for one in jar.observed])
        standard = np.array([one.standard for one in jar.observed])
        parts.append((seen - predicted(jar, unknowns, values)) / standard)
    return np.asarray(np.concatenate(parts, axis=1))


def varied_of(batch: BarBatch, unknowns: Sequence[Unknown], values: FloatArray) -> Varied:
    """Turn values of unknowns, shape (runs, p), into what differs in a batch."""
    names = [ingredient.id for ingredient in batch.ingredients]
    activities = batch.chain.materials.carried[LIQUOR:]
    content, given, speed, kept = {}, {}, {}, {}
    lost = None
    for unknown, column in zip(unknowns, values.T, strict=True):
        if unknown.kind == "strains":
            lost = column
        if unknown.ingredient not in names:
            continue
        index, factor = names.index(unknown.ingredient), np.exp(column)
        if unknown.kind in GROUPS:
            content[unknown.kind, index] = factor
        elif unknown.kind == "gives":
            given[0, index] = factor
        elif unknown.kind == "colour" and COLOUR in activities:
            given[activities.index(COLOUR), index] = factor
        elif unknown.kind == "speed":
            speed[index] = factor
        elif unknown.kind == "keeps":
            kept[index] = factor_of(unknown, column)
    return Varied(content=content, given=given, speed=speed, kept=kept, lost=lost)


def factor_of(unknown: Unknown, value: FloatArray) -> FloatArray:
    """Turn values of an unknown into factors on the library's; a cake's count straight, as they add up."""
    return np.asarray(np.maximum(1.0 + value, LEAST_KEPT) if unknown.kind == "keeps" else np.exp(value))


def run_of(batch: BarBatch, unknowns: Sequence[Unknown], values: FloatArray) -> VariedRun:
    """Run a batch with values of unknowns, shape (runs, p)."""
    return run_varied(batch.chain, batch.masses_kg, varied_of(batch, unknowns, values), len(values))


def predicted(jar: TriedJar, unknowns: Sequence[Unknown], values: FloatArray) -> FloatArray:
    """Say what a jar should have weighed and read.

    Parameters
    ----------
    values : ndarray, shape (runs, p)

    Returns
    -------
    ndarray, shape (runs, observed)
    """
    run = run_of(jar.batch, unknowns, values)
    liquor = run.bottled[:, :LIQUOR]
    volume = np.asarray(mixture.volume_l(liquor, check=False))
    columns = []
    for one in jar.observed:
        if one.what == "cake":
            columns.append(run.kept_kg[:, jar.position] + run.solids_kg[:, jar.position])
        elif one.what == "bottled":
            columns.append(liquor.sum(axis=1))
        elif one.what == "density":
            columns.append(density_mixture_kg_m3(liquor, jar.trial.at))
        elif one.what == "refraction":
            at_c = jar.trial.at if jar.trial.refraction_at is None else jar.trial.refraction_at
            columns.append(index_at_temperature(liquor, at_c))
        elif one.what == "strength":
            columns.append(mixture.strength_pct_vol(liquor, check=False))
        elif one.what == "sugar":
            columns.append(mixture.sugar_g_l(liquor, check=False))
        elif one.what == "acid":
            columns.append(mixture.acid_g_l(liquor, check=False))
        elif one.what == "bitterness":
            columns.append(np.log(np.maximum(run.bottled[:, LIQUOR] * 1000.0 / volume, 1e-9)))
        else:
            place = LIQUOR + jar.batch.chain.materials.carried[LIQUOR:].index(COLOUR)
            deep = np.log(np.maximum(run.bottled[:, place] * 1000.0 / volume, 1e-9))
            glass = [unknown.kind for unknown in unknowns].index("glass")
            columns.append(deep + values[:, glass])
    return np.stack([np.asarray(column, dtype=float) for column in columns], axis=1)


def observed_of(trial: Trial, batch: BarBatch) -> tuple[Observed, ...]:
    """List what a trial weighed and read, each with its standard doubt."""
    found = []
    rounded = trial.scale_step / sqrt(12.0)
    if trial.cake is not None:
        found.append(Observed("cake", trial.cake, hypot(rounded, CAKE_HANDLED * trial.cake)))
    if trial.bottled is not None:
        found.append(Observed("bottled", trial.bottled, hypot(rounded, BOTTLED_HANDLED * trial.bottled)))
    liquor = batch.bottled[:LIQUOR]
    drink = batch.drink
    sizes = (float(drink.strength_pct_vol), float(drink.sugar_g_l))
    if trial.density is not None:
        step = trial.density_step_value or STEPS[trial.density.scale]
        here = density_of_reading(trial.density, trial.at)
        size = abs(density_of_reading(trial.density, trial.at, plus=step) - here)
        warming = _slope(lambda at: float(density_mixture_kg_m3(liquor, at)), trial.at)
        doubts = (size / sqrt(3.0), warming * trial.thermometer / sqrt(3.0), model_density_doubt(*sizes))
        found.append(Observed("density", here, hypot(*doubts)))
    if trial.refraction is not None:
        corrects = trial.corrects_itself
        if corrects is None:
            corrects = trial.refraction.scale is Scale.BRIX
        at_c = trial.at if trial.refraction_at is None else trial.refraction_at
        step = trial.refraction_step_value or STEPS[trial.refraction.scale]
        here = index_of_reading(trial.refraction, at_c, self_correcting=corrects)
        finer = index_of_reading(trial.refraction, at_c, self_correcting=corrects, plus=step)
        read, warmed = abs(finer - here) / sqrt(3.0), INDEX_PER_K * trial.thermometer / sqrt(3.0)
        found.append(Observed("refraction", here, hypot(read, warmed, model_index_doubt(*sizes))))
    for what, band, share in (
        ("strength", trial.strength, 0.0),
        ("sugar", trial.sugar, TITRATED),
        ("acid", trial.acid, TITRATED),
    ):
        if band is not None:
            value, half = middle_and_half(band)
            least = {"strength": 0.05, "sugar": 0.5, "acid": 0.05}[what]
            found.append(Observed(what, value, max(half / NORMAL, share * value if not half else 0.0, least)))
    if trial.bitterness is not None:
        found.append(Observed("bitterness", log(trial.bitterness), THINNED))
    if trial.colour_thinned is not None and COLOUR in batch.chain.materials.carried:
        found.append(Observed("colour", log(trial.colour_thinned), COLOUR_THINNED))
    return tuple(found)


def middle_and_half(band: Band) -> tuple[float, float]:
    """Return the middle of a band and half its width, 0 for a single value."""
    ends = [end for end in (band.lower, band.upper) if end is not None]
    return sum(ends) / len(ends), (max(ends) - min(ends)) / 2.0


def _slope(evaluate: object, at_c: float) -> float:
    low, high = max(at_c - 0.5, 0.0), min(at_c + 0.5, 40.0)
    assert callable(evaluate)
    try:
        return abs(float((evaluate(high) - evaluate(low)) / (high - low)))
    except RangeError:
        return 0.0


def _colour(carried: Sequence[str], content: FloatArray) -> float:
    return float(content[carried.index(COLOUR)]) if COLOUR in carried else 0.0


def _content_doubt(ingredient: Ingredient, held: Literal["sugars", "acid"], factor: float) -> float:
    """Return the standard doubt about what a lot holds, no less than published tables differ."""
    ends = content_range(ingredient, held)
    if ends is not None and ends[0] > 0.0:
        factor = max(factor, 1.0 / ends[0], ends[1])
    return log(factor) / NORMAL


def _lot_doubt(batch: BarBatch, index: int) -> float:
    bitter = batch.ingredients[index].bitterness
    if bitter is None or not bitter.value:
        return log(LOT_FACTOR) / NORMAL
    weak = log(bitter.value / bitter.low) if bitter.low else log(LOT_FACTOR)
    strong = log(bitter.high / bitter.value) if bitter.high else log(LOT_FACTOR)
    return max((weak + strong) / 2.0, log(TRIED_DOUBT_FACTOR)) / NORMAL


def _glass(jars: Sequence[TriedJar]) -> float:
    """Return how deep the glass must be by the library's values, to begin with."""
    for jar in jars:
        for one in jar.observed:
            if one.what == "colour":
                place = jar.batch.chain.materials.carried.index(COLOUR)
                deep = float(jar.batch.bottled[place]) * 1000.0 / jar.batch.volume_l
                return one.value - log(max(deep, 1e-9))
    return 0.0
