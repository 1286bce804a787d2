"""A third statement of the blend model, for a global solver: SCIP bounds the cheapest recipe from below.

Not a test. Where Ipopt ends with some recipe, SCIP branches over the exact nonlinear program until no recipe
can be cheaper, by relaxations of its own: nothing of ours but the question itself, and the published formulas
as `oracle` prints them. One step, with or without a cake.

Polynomials are expanded about the middle of what the shelf allows. That is the same polynomial: written by
powers of the mass fraction from zero, its terms are thousands of times larger than their sum, and no
relaxation term by term says anything about it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.polynomial import Polynomial

from formulate.optimise.problem import BlendProblem, Over

from .oracle import (
    CONSTANTS_L_KG,
    CRC_SUGARS,
    LEAST_SHARE,
    MOST_DISSOLVED,
    OIML_R22_20C,
    ORDER,
    SPS4_20C,
    SPS4_WATER,
)

FEASIBILITY = 1e-8
"""Largest violation SCIP lets pass, absolute; masses are kilograms per litre."""


@dataclass(frozen=True)
class Bounds:
    """What SCIP knows of the cheapest recipe, per litre; infinite where it proved that there is none."""

    lower: float
    upper: float


def bounds(problem: BlendProblem, *, seconds: float, gap: float) -> Bounds:
    """Bound the cost of the cheapest recipe of a question of one step.

    Parameters
    ----------
    seconds : float
        The search ends then with what it has.
    gap : float
        Relative, at which it ends too.
    """
    model, cost = _program(problem)
    model.setParam("limits/time", seconds)
    model.setParam("limits/gap", gap)
    model.optimize()
    if model.getStatus() == "infeasible":
        return Bounds(np.inf, np.inf)
    upper = model.getVal(cost) if model.getNSols() else np.inf
    return Bounds(float(model.getDualbound()), float(upper))


def _program(problem: BlendProblem) -> tuple[Any, Any]:
    from pyscipopt import Model, quicksum

    assert len(problem.chain.steps) == 1
    assert problem.volume_l is not None
    assert not problem.purchases
    (step,) = problem.chain.steps
    materials = problem.chain.materials
    content, retention = materials.content, materials.retention
    parts, many = len(ORDER), content.shape[1]
    model = Model()
    model.hideOutput()
    model.setParam("numerics/feastol", FEASIBILITY)
    # Aggregated, the powers about a middle are written out about zero again and cancel: SCIP 10 then cuts
    # good recipes off.
    model.setParam("presolving/donotaggr", True)
    model.setParam("presolving/donotmultaggr", True)

    def sum_of(weights: Any, variables: Any) -> Any:
        return quicksum(float(w) * v for w, v in zip(weights, variables, strict=True) if w)

    masses = [model.addVar(f"m{k}", ub=20.0) for k in range(len(problem.place_ingredient))]
    mine = problem.place_ingredient
    gross = [model.addVar(f"g{k}", ub=None) for k in range(many)]
    for k in range(many):
        model.addCons(gross[k] == sum_of(content[mine, k], masses))
    flowing = gross
    if retention[mine].any() or step.loss_fraction > 0.0 or step.fixed_loss_kg > 0.0:
        assert not step.rinse_kg_per_kg
        kept = step.cake_factor * sum_of(retention[mine], masses)
        share = model.addVar("share", lb=LEAST_SHARE, ub=1.0)
        flowing = [model.addVar(f"f{k}", ub=None) for k in range(many)]
        for k in range(many):
            model.addCons(flowing[k] == share * gross[k])
        leaving = (1.0 - step.loss_fraction) * (quicksum(gross[:parts]) - kept)
        model.addCons(quicksum(flowing[:parts]) == leaving - step.fixed_loss_kg / problem.volume_l)
    _fill_a_litre(model, flowing[:parts], content)
    prices = problem.price_per_kg[mine]
    for limit in problem.limits:
        if limit.over is Over.COST:
            value = sum_of(prices, masses)
        elif limit.over is Over.BOTTLE:
            value = sum_of(limit.weights, [flowing[k] for k in limit.indices])
        else:
            by_index = dict(zip(limit.indices.tolist(), limit.weights.tolist(), strict=True))
            value = sum_of([by_index.get(int(k), 0.0) for k in mine], masses)
        value = value + limit.batch_weight / problem.volume_l
        if np.isfinite(limit.lower):
            model.addCons(value >= limit.lower)
        if np.isfinite(limit.upper):
            model.addCons(value <= limit.upper)
    cost = model.addVar("cost", ub=None)
    model.addCons(cost == sum_of(prices, masses))
    model.setObjective(cost)
    return model, cost


def _fill_a_litre(model: Any, liquor: Any, content: Any) -> None:
    """Let a liquor have one litre: OIML R 22, ICUMSA SPS-4, and the apparent volumes of the rest."""
    from pyscipopt import quicksum

    mass = dict(zip(ORDER, liquor, strict=True))
    solvent = model.addVar("solvent", ub=1.2)
    model.addCons(solvent == mass["water"] + mass["ethanol"])
    strongest = _strongest(content)
    fraction = model.addVar("fraction", ub=strongest)
    model.addCons(fraction * solvent == mass["ethanol"])
    dissolved_mass = quicksum(mass[name] for name in ORDER[2:])
    dissolved = model.addVar("dissolved", ub=MOST_DISSOLVED)
    model.addCons(dissolved * (solvent + dissolved_mass) == dissolved_mass)
    density = _polynomial(model, np.array(OIML_R22_20C) / 1000.0, fraction, strongest)
    spirit = model.addVar("spirit volume", ub=1.2)
    model.addCons(spirit * density == solvent)
    sucrose = _sucrose_volume(model, dissolved)
    volume = spirit + mass["sucrose"] * sucrose
    for name, (end, c0, c1, c2) in CRC_SUGARS.items():
        if not content[:, ORDER.index(name)].any():
            continue
        # Past the end of its column a sugar's volume rises by as much as sucrose's.
        inside = model.addVar(f"{name} inside", ub=end)
        model.addCons(2.0 * inside == dissolved + end - abs(dissolved - end))
        past = sucrose - _sucrose_volume(model, inside)
        volume += mass[name] * (c0 + c1 * inside + c2 * inside * inside + past)
    for name, constant in CONSTANTS_L_KG.items():
        volume += constant * mass[name]
    model.addCons(volume == 1.0)


def _polynomial(model: Any, coefficients: Any, variable: Any, end: float) -> Any:
    """Return a polynomial of a variable between nothing and an end, by powers about the middle."""
    from pyscipopt import quicksum

    centred = model.addVar(lb=-1.0, ub=1.0)
    model.addCons(variable == end / 2.0 * (1.0 + centred))
    shifted = Polynomial(coefficients)(Polynomial([end / 2.0, end / 2.0])).coef
    value = model.addVar(ub=None)
    model.addCons(value == quicksum(float(c) * centred**k for k, c in enumerate(shifted)))
    return value


def _sucrose_volume(model: Any, dissolved: Any) -> Any:
    """Return the apparent specific volume of sucrose; see `oracle.sucrose_volume_l_kg`."""
    water = SPS4_WATER / 1000.0
    rise = _polynomial(model, np.array(SPS4_20C) / 1000.0, dissolved, MOST_DISSOLVED)
    volume = model.addVar(ub=2.0)
    model.addCons(volume * water * (water + dissolved * rise) == water - (1.0 - dissolved) * rise)
    return volume


def _strongest(content: Any) -> float:
    """Return the mass fraction of ethanol that no mix exceeds: that of the strongest thing in it."""
    alcohol = content[:, 0] + content[:, 1]
    return float((content[:, 1] / np.where(alcohol > 0.0, alcohol, 1.0)).max()) or 1e-3
