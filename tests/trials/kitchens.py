"""Kitchens whose habits are known, and jars that they make: what `learn` must find again.

Two simulations. `ours` runs the package's own forward model. `by_hand` shares none of it but the density and
the index of a mixture: contents as typed from the library's file, a cake, a first-order rate, no arrays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from formulate.files.trial import Trial
from formulate.learn.kitchen import Kitchen, Observed, TriedJar, Unknown, learn_kitchen, predicted
from formulate.learn.trials import tried_jar
from formulate.physics.components import INDEX
from formulate.physics.gauging import index_at_temperature
from formulate.physics.strength import abv_from_mass_fraction
from formulate.physics.thermal import density_mixture_kg_m3

FloatArray = NDArray[np.float64]


def jar(name: str, plan: str, grams: Mapping[str, float], *, bitter: bool = False) -> TriedJar:
    """Make a jar whose weights and readings are still those of the library's kitchen."""
    trial = Trial.of(
        trial=name,
        plan=plan,
        ingredients=[{what: {"amount": f"{mass} g"}} for what, mass in grams.items()],
    )
    made = tried_jar(trial)
    return replace(made, observed=_standing(made, bitter))


def _standing(made: TriedJar, bitter: bool) -> tuple[Observed, ...]:
    """What a good bar observes, each with the doubt that its tools have."""
    doubts = {"cake": 0.001, "bottled": 0.0015, "density": 1.2, "refraction": 3e-4, "acid": 0.15}
    doubts |= {"bitterness": 0.15} if bitter else {}
    blank = tuple(Observed(what, 0.0, standard) for what, standard in doubts.items())
    seen = predicted(replace(made, observed=blank), (), np.zeros((1, 0)))[0]
    return tuple(replace(one, value=float(value)) for one, value in zip(blank, seen, strict=True))


@dataclass(frozen=True)
class Found:
    """What 200 kitchens and their fits came to.

    Attributes
    ----------
    errors : ndarray, shape (runs, unknowns)
        Found less true, in the standard uncertainty that the fit claims.
    """

    unknowns: tuple[Unknown, ...]
    errors: FloatArray


def ours(jars: Sequence[TriedJar], runs: int, seed: int) -> Found:
    """Draw kitchens as far off the library as it is doubted, let them make the jars, and learn from those."""
    start = learn_kitchen(jars)
    rng = np.random.default_rng(seed)
    doubt = np.array([one.doubt for one in start.unknowns])
    errors = []
    for _ in range(runs):
        true = rng.normal(0.0, doubt)
        made = []
        for one in jars:
            exact = predicted(one, start.unknowns, true[None, :])[0]
            noise = [rng.normal(0.0, old.standard) for old in one.observed]
            seen = [
                replace(old, value=float(value + off))
                for old, value, off in zip(one.observed, exact, noise, strict=True)
            ]
            made.append(replace(one, observed=tuple(seen)))
        errors.append(_off(learn_kitchen(made, start.unknowns), true))
    return Found(start.unknowns, np.array(errors))


def _off(found: Kitchen, true: FloatArray) -> FloatArray:
    return np.asarray((found.fit.values - true) / found.standard)


def by_hand(jars: Sequence[TriedJar], runs: int, seed: int) -> Found:
    """The same with a jar worked out by hand, even errors of the tools and rounded weights."""
    start = learn_kitchen(jars)
    rng = np.random.default_rng(seed)
    errors = []
    for _ in range(runs):
        true = {(one.kind, one.ingredient): float(rng.normal(0.0, one.doubt)) for one in start.unknowns}
        made = []
        for one in jars:
            exact = _jar_by_hand(one, true)
            seen = []
            for old in one.observed:
                width = old.standard * 3.0**0.5
                value = exact[old.what] + float(rng.uniform(-width, width))
                seen.append(replace(old, value=value))
            made.append(replace(one, observed=tuple(seen)))
        values = np.array([true[one.kind, one.ingredient] for one in start.unknowns])
        errors.append(_off(learn_kitchen(made, start.unknowns), values))
    return Found(start.unknowns, np.array(errors))


def _jar_by_hand(one: TriedJar, true: Mapping[tuple[str, str], float]) -> dict[str, float]:
    liquor = dict.fromkeys(INDEX, 0.0)
    solids = kept = bitter = 0.0
    step = one.batch.chain.steps[0]
    assert step.time_h is not None
    assert step.temperature_c is not None
    for ingredient, mass in zip(one.batch.ingredients, one.batch.masses_kg[0], strict=True):
        name = ingredient.id
        parts = {key: share for key, share in ingredient.composition.items() if key in INDEX}
        if ingredient.strength_pct_vol is not None:
            ethanol = float(one.batch.chain.materials.content[0, INDEX["ethanol"]])
            parts = {"ethanol": ethanol, "water": 1.0 - ethanol}
        total = sum(parts.values())
        for key in parts:
            kind = "sugar" if key in ("sucrose", "glucose", "fructose", "maltose") else ""
            kind = "acid" if key.endswith("_acid") else "spirit" if key == "ethanol" else kind
            if kind and (kind, name) in true:
                parts[key] *= exp(true[kind, name])
        parts["water"] = parts.get("water", 0.0) + total - sum(parts.values())
        for key, share in parts.items():
            liquor[key] += mass * share
        solids += mass * max(1.0 - total, 0.0)
        kept += mass * ingredient.retention_kg_per_kg * max(1.0 + true.get(("keeps", name), 0.0), 0.02)
    solvent = liquor["ethanol"] + liquor["water"]
    strength = float(abv_from_mass_fraction(liquor["ethanol"] / solvent))
    for ingredient, mass in zip(one.batch.ingredients, one.batch.masses_kg[0], strict=True):
        name = ingredient.id
        if ingredient.bitterness is not None:
            kinetics = one.batch.chain.materials.kinetics[one.batch.ingredients.index(ingredient)][0]
            assert kinetics is not None
            kelvin = 1.0 / (kinetics.reference_c + 273.15) - 1.0 / (step.temperature_c + 273.15)
            rate = exp(kinetics.activation_kj_mol / 0.0083144626 * kelvin)
            slow = kinetics.time_constant_h * exp(true.get(("speed", name), 0.0))
            out = 1.0 - (1.0 - kinetics.wash_share) * exp(-rate * step.time_h / slow)
            gives = ingredient.bitterness.value * ingredient.bitterness.extracted
            gives *= float(np.interp(strength, *zip(*kinetics.equilibrium, strict=True)))
            bitter += mass * 1000.0 * gives * out * exp(true.get(("gives", name), 0.0))
    whole = sum(liquor.values())
    leaves = (1.0 - true.get(("strains", ""), 0.0)) * (whole - kept)
    row = np.array([[liquor[key] for key in INDEX]])
    volume_l = whole / float(density_mixture_kg_m3(row, 20.0)[0]) * 1000.0
    acid = {"citric_acid": 1.0, "malic_acid": 0.9552, "tartaric_acid": 0.8534, "quinic_acid": 0.3332}
    return {
        "cake": kept + solids,
        "bottled": leaves,
        "density": float(density_mixture_kg_m3(row, 20.0)[0]),
        "refraction": float(index_at_temperature(row, 20.0)[0]),
        "acid": sum(liquor[key] * acid.get(key, 0.0) for key in liquor) * 1000.0 / volume_l,
        "bitterness": log(bitter / (volume_l * 1000.0)) if bitter else 0.0,
    }
