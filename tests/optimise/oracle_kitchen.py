"""What plants give up in a step, stated a second time, and the staged program for Ipopt.

Not a test. Extends `oracle.Oracle` to steps with a time and a temperature. Nothing of the package's own
arithmetic is used: only the figures that are part of the question (content, time constant, activation
energy, wash, points of a strength table) and the order of its components.

Stated here
-----------
Approach to equilibrium: w + (1 - w)(1 - exp(-k t)), with 1/k at the reference temperature scaled by
Arrhenius' law, R = 8.314462618 J/(mol K) (SI 2019).
Strength of the solvent, sugar and other solutes aside: 100 p rho(p)/rho(1), OIML R 22 at 20 C.
Share by strength: straight lines between the points of the table, level beyond them, written exactly as
y_0 + sum over points of (change of slope) x max(strength - point, 0).
Anthocyanin left: exp(-k t), k = 0.009/h at 50 C (published rate of a blueberry extract at pH 3) with
80 kJ/mol (middle of the published 59 to 94); it takes what flows in and what is drawn out alike.

Kinks
-----
Ipopt needs smooth functions and a recipe may be cheapest just at a kink of a table. So each start is run
twice: with the maxima above, and then, from where that ended, with the strength of every infusing step
held between two neighbouring points, where all tables are straight. An end within `NEAR_A_KINK` of a point
is taken up on both sides. Each of these programs is exact on its part; the best feasible end counts.
"""

from __future__ import annotations

from itertools import pairwise, product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import Step
from formulate.optimise.problem import BlendProblem
from formulate.physics.extraction import Kinetics

from .oracle import ORDER, PURE_ETHANOL_KG_M3, Found, Oracle, ethanol_water_density_kg_m3

FloatArray = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]

GAS_CONSTANT_J_MOL_K = 8.314462618
ANTHOCYANIN_LOSS_50C_PER_H, ANTHOCYANIN_LOSS_KJ_MOL = 0.009, 80.0
NEAR_A_KINK = 0.02  # % vol
KINKED_ITERATIONS, STRAIGHT_ITERATIONS = 120, 300


def rate_factor(temperature_c: float, reference_c: float, activation_kj_mol: float) -> float:
    """Rate over the rate at the reference, by Arrhenius' law."""
    inverse = 1.0 / (reference_c + 273.15) - 1.0 / (temperature_c + 273.15)
    return float(np.exp(1000.0 * activation_kj_mol / GAS_CONSTANT_J_MOL_K * inverse))


def reached(step: Step, kinetics: Kinetics) -> float:
    """Share of the way to equilibrium at the end of a step with a time and a temperature."""
    assert step.time_h is not None
    assert step.temperature_c is not None
    factor = rate_factor(step.temperature_c, kinetics.reference_c, kinetics.activation_kj_mol)
    turnovers = step.time_h * factor / kinetics.time_constant_h
    return float(kinetics.wash_share + (1.0 - kinetics.wash_share) * (1.0 - np.exp(-turnovers)))


def colour_left(step: Step) -> float:
    """Share of the anthocyanin that a step with a time and a temperature leaves."""
    assert step.time_h is not None
    assert step.temperature_c is not None
    rate = ANTHOCYANIN_LOSS_50C_PER_H * rate_factor(step.temperature_c, 50.0, ANTHOCYANIN_LOSS_KJ_MOL)
    return float(np.exp(-rate * step.time_h))


def strength_pct_vol(water: Any, ethanol: Any) -> Any:
    """Strength of ethanol and water alone."""
    fraction = ethanol / (water + ethanol)
    return 100.0 * fraction * ethanol_water_density_kg_m3(fraction) / PURE_ETHANOL_KG_M3


def share_at(points: Points, strength: Any, larger: Any = max) -> Any:
    """Share of a strength table, exactly, as a sum of ramps."""
    slopes = [(y1 - y0) / (x1 - x0) for (x0, y0), (x1, y1) in pairwise(points)]
    total = points[0][1]
    for (point, _), before, after in zip(points, [0.0, *slopes], [*slopes, 0.0], strict=True):
        total = total + (after - before) * larger(strength - point, 0.0)
    return total


def line_at(points: Points, strength: float) -> tuple[float, float]:
    """Share at 0 % vol and slope of the straight piece of a table that a strength lies in."""
    for (x0, y0), (x1, y1) in pairwise(points):
        if x0 < strength < x1:
            slope = (y1 - y0) / (x1 - x0)
            return y0 - slope * x0, slope
    return (points[0][1], 0.0) if strength < points[0][0] else (points[-1][1], 0.0)


class Infusion:
    """What the unknown masses of one step give up.

    Attributes
    ----------
    free : ndarray, shape (columns, activities)
        Given whatever the strength.
    bound : dict
        By table of strength, what is given at a share of 1; same shape.
    left : ndarray, shape (activities,)
        What the heat leaves.
    """

    def __init__(self, problem: BlendProblem, position: int) -> None:
        materials, step = problem.chain.materials, problem.chain.steps[position]
        here = problem.place_ingredient[problem.place_step == position]
        self.free = materials.content[here, len(ORDER) :].copy()
        self.bound: dict[Points, FloatArray] = {}
        self.left = np.ones(self.free.shape[1])
        if step.time_h is None or step.temperature_c is None:
            return
        names = materials.carried[len(ORDER) :]
        if "anthocyanin" in names:
            self.left[names.index("anthocyanin")] = colour_left(step)
        for row, ingredient in enumerate(here.tolist() if materials.kinetics else []):
            for activity, kinetics in enumerate(materials.kinetics[ingredient]):
                if kinetics is None or self.free[row, activity] == 0.0:
                    continue
                table = self.bound.setdefault(kinetics.equilibrium, np.zeros_like(self.free))
                table[row, activity] = self.free[row, activity] * reached(step, kinetics)
                self.free[row, activity] = 0.0


class KitchenOracle(Oracle):
    """A staged question as a nonlinear program, exact on every straight piece of its strength tables."""

    def ipopt(self, starts: int, seed: int = 0, seconds: float = 20.0) -> Found:
        """Solve from several starts, each polished with its strengths held between neighbouring points."""
        import casadi as ca

        if not self.shares:
            return super().ipopt(starts, seed, seconds)
        lines = ca.SX.sym("line", 2 * len(self.shares))
        strengths = ca.vertcat(*(share.strength for share in self.shares))
        straight = [lines[2 * k] + lines[2 * k + 1] * share.strength for k, share in enumerate(self.shares)]
        symbols = ca.vertcat(*(share.symbol for share in self.shares))
        rows = ca.substitute(self.rows_with_shares, symbols, ca.vertcat(*straight))
        # At a kink the first program may wander for ever; it only has to say which pieces to look at.
        solver = self.solver(self.rows, seconds, most_iterations=KINKED_ITERATIONS)
        polisher = self.solver(ca.vertcat(rows, strengths), seconds, lines, STRAIGHT_ITERATIONS)
        at = ca.Function("strengths", [self.all_unknowns], [strengths])
        rng = np.random.default_rng(seed)
        best = Found(np.inf, np.zeros(0), np.inf, 0)
        feasible = 0
        polished_before: set[tuple[tuple[tuple[float, float], ...], float]] = set()
        for _ in range(starts):
            end = self.run(solver, self.start(rng))[0]
            ends = [end] if self.violation(end) <= 1e-9 else []
            for pieces in self._pieces(np.asarray(at(end)).ravel()):
                # Starts that ended in the same recipe would be polished to the same.
                if (pieces, cost := round(self.objective(end), 9)) in polished_before:
                    continue
                polished_before.add((pieces, cost))
                lower, upper = (np.array(side) for side in zip(*pieces, strict=True))
                table = [
                    number
                    for share, (low, high) in zip(self.shares, pieces, strict=True)
                    for number in line_at(share.points, (low + high) / 2.0)
                ]
                polished, success = self.run(polisher, end, lower, upper, np.array(table))
                if success and self.violation(polished) <= 1e-9:
                    ends.append(polished)
            feasible += bool(ends)
            for values in ends:
                cost = self.objective(values)
                if cost < best.cost_per_l:
                    best = Found(cost, values[: self.problem.unknowns], self.violation(values), 0)
        return Found(best.cost_per_l, best.columns, best.violation, feasible)

    def _pieces(self, strengths: FloatArray) -> list[tuple[tuple[float, float], ...]]:
        """Intervals of strength for every share: those around an end, both sides of a kink it lies at."""
        by_step: dict[int, list[tuple[float, float]]] = {}
        for share, strength in zip(self.shares, strengths.tolist(), strict=True):
            if share.position in by_step:
                continue
            kinks = {x for other in self.shares if other.position == share.position for x, _ in other.points}
            edges = [0.0, *sorted(kinks - {0.0, 100.0}), 100.0]
            by_step[share.position] = [
                piece
                for piece in pairwise(edges)
                if piece[0] - NEAR_A_KINK <= strength <= piece[1] + NEAR_A_KINK
            ]
        combinations = product(*by_step.values())
        order = list(by_step)
        return [
            tuple(chosen[order.index(share.position)] for share in self.shares) for chosen in combinations
        ]
