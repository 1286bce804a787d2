"""Which infusing plan to take: the quickest that keeps every limit, or what lies between the rows."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.describe.infuse_record import Plan
from formulate.files.infusing import PlanText
from formulate.files.steps import EnzymeOrder, StepSpec
from formulate.planning.infusion_plans import PlanTable

__all__ = ["GRID", "LONGEST_H", "choose", "is_hours_for_days", "own_plans", "plan_between", "plan_rows"]

FloatArray = NDArray[np.float64]

GRID: tuple[tuple[float, float], ...] = (
    (20.0 / 60.0, 78.0),
    (0.5, 65.0),
    (1.0, 50.0),
    (2.0, 50.0),
    (2.0, 60.0),
    (4.0, 35.0),
    (4.0, 50.0),
    (6.0, 20.0),
    (24.0, 20.0),
    (48.0, 20.0),
    (96.0, 20.0),
    (24.0, 4.0),
    (48.0, 4.0),
    (240.0, 5.0),
)
"""Hours and degrees Celsius compared, from 20 minutes at 78 °C to ten days at 5 °C."""
COLDEST_C = 2.0
SHORTEST_H, LONGEST_H = 1.0 / 12.0, 60.0 * 24.0
ROUNDED_TO_H, LONG_H = 1.0 / 12.0, 12.0
"""Bounds and rounding of the plan between the rows."""


def choose(plans: Sequence[Plan]) -> tuple[Plan, bool, str]:
    """Choose the quickest plan that keeps every limit, else the nearest.

    Parameters
    ----------
    plans : sequence of Plan
        At least one.

    Returns
    -------
    sentence : str
        Which limit stops the next quicker plan; or which ones the nearest misses.
    """
    ranked = sorted(plans, key=lambda plan: (plan.clock_h, plan.enzyme or "", plan.temperature_c))
    keeping = [plan for plan in ranked if not plan.misses]
    if not keeping:
        nearest = min(ranked, key=lambda plan: round(sum(miss.shortfall for miss in plan.misses), 9))
        missed = "; ".join(miss.text for miss in nearest.misses)
        return nearest, False, f"No plan here keeps every limit. Nearest: {_spoken(nearest)}, with {missed}."
    best = keeping[0]
    quicker = [plan for plan in ranked if plan.clock_h < best.clock_h - 1e-9]
    first = f"Quickest row that keeps every limit: {_spoken(best)}"
    if not quicker:
        return best, True, f"{first}. No plan here is quicker."
    stopped = max(quicker, key=lambda plan: (plan.clock_h, -sum(miss.shortfall for miss in plan.misses)))
    # The same time and temperature with the enzyme as recommended says it more plainly.
    plainer = [plan for plan in quicker if plan.name == stopped.name and plan.enzyme == best.enzyme]
    stopped = plainer[0] if plainer else stopped
    second = f"The next quicker, {_spoken(stopped)}, is stopped by {stopped.misses[0].text}"
    alike = [plan for plan in quicker if plan.enzyme == best.enzyme and plan.name != stopped.name]
    if stopped.enzyme != best.enzyme and alike:
        same = max(alike, key=lambda plan: plan.clock_h)
        second += f"; with the enzyme as here, {same.name} by {same.misses[0].text}"
    return best, True, f"{first}. {second}."


def _spoken(plan: Plan) -> str:
    orders = {
        None: "",
        "before spirit": ", enzyme before the spirit",
        "with spirit": ", enzyme with the spirit",
    }
    return f"{plan.name}{orders[plan.enzyme]}"


def own_plans(spec: StepSpec, plans: Sequence[PlanText]) -> tuple[tuple[float, float], ...]:
    """List the hours and degrees somebody asked for: the step's own, then those named, each once."""
    asked = [(plan.time_h, plan.temperature_c) for plan in plans]
    if spec.time_h is not None and spec.temperature_c is not None:
        asked.insert(0, (spec.time_h, spec.temperature_c))
    return tuple(dict.fromkeys(asked))


def plan_rows(own: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Return the grid, with own plans where they are not in it."""
    more = [plan for plan in own if plan not in GRID]
    return tuple(sorted((*GRID, *more))) if more else GRID


def is_hours_for_days(plan: Plan, other: Plan) -> bool:
    """Say whether a plan is done within a working day and another is not."""
    return plan.clock_h <= LONG_H < other.clock_h


def plan_between(table: PlanTable, chosen: Plan, plans: Sequence[Plan], meets: bool) -> Plan | None:
    """Look between the rows for a plan that keeps every limit sooner; rounded, and checked again."""
    every: tuple[EnzymeOrder | None, ...] = (chosen.enzyme,)
    if chosen.clock_h > LONG_H:  # hours with enzyme may do where days without do
        every = (chosen.enzyme, *(order for order in table.orders() if order != chosen.enzyme))
    found = [plan for order in every if (plan := _between(table, chosen, plans, order)) is not None]
    best = min(found, key=lambda plan: (plan.clock_h, plan.temperature_c), default=None)
    if best is None or (meets and best.clock_h >= chosen.clock_h - 1e-9):
        return None
    return best


def _between(table: PlanTable, chosen: Plan, plans: Sequence[Plan], order: EnzymeOrder | None) -> Plan | None:
    """Look for the quickest plan with the enzyme given in one way."""
    from formulate.optimise.refinement import minimise_few

    hottest = max(min(table.limits.hottest_c, 100.0), COLDEST_C + 1.0)

    def clock(numbers: FloatArray) -> float:
        return math.log(table.clock_h(math.exp(numbers[0]), float(numbers[1]), order))

    def margins(numbers: FloatArray) -> FloatArray:
        return table.margins(table.course(math.exp(numbers[0]), float(numbers[1]), order))

    near = sorted(
        (plan for plan in plans if plan.enzyme == order and plan.temperature_c <= hottest),
        key=lambda plan: sum(miss.shortfall for miss in plan.misses),
    )
    starts = [
        (math.log(plan.time_h), plan.temperature_c) for plan in (chosen, *near[:1]) if plan.time_h > 0.0
    ]
    point = minimise_few(
        clock,
        margins,
        starts,
        ((math.log(SHORTEST_H), math.log(LONGEST_H)), (COLDEST_C, hottest)),
    )
    if point is None:
        return None
    near_point = _rounded(table, math.exp(point[0]), float(point[1]), hottest, order)
    return min(near_point, key=lambda plan: (plan.clock_h, plan.temperature_c), default=None)


def _rounded(
    table: PlanTable, time_h: float, temperature_c: float, hottest_c: float, order: EnzymeOrder | None
) -> list[Plan]:
    """Round to 5 min (from half a day on to hours) and 1 K near a point; only what still meets the limits."""
    step_h = ROUNDED_TO_H if time_h < LONG_H else 1.0
    keeping = []
    for degrees in range(math.floor(temperature_c) - 1, math.ceil(temperature_c) + 2):
        if not COLDEST_C <= degrees <= hottest_c:
            continue
        times = [time_h * (1.0 + 0.005 * step) for step in range(-12, 25)]
        for rounded in dict.fromkeys(math.ceil(time / step_h - 1e-6) for time in times):
            plan = table.plan(max(rounded, 1) * step_h, float(degrees), order)
            if not plan.misses:
                keeping.append(plan)
                break
    return keeping
