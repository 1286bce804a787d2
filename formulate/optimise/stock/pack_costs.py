"""What packs of one thing cost at the least, however much of it a plan turns out to need.

Packs are whole, so what some amount costs climbs in steps. Without whole numbers a program sees only the
lowest price per kilogram. Where it is known that at least so much will be needed, straight lines under the
steps, from that amount on, say far more, and every plan satisfies them.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from itertools import pairwise

from formulate.optimise.mip.packs import Pack

__all__ = ["lines_under_steps", "steps_of_cost"]

MOST_STEPS = 4000
"""More are not worth the time; then nothing is said."""
ROUNDING = 1e-7
NOTHING_KG = 1e-6


def steps_of_cost(packs: Sequence[Pack], least_kg: float, most_kg: float) -> list[tuple[float, float]]:
    """List the steps of what an amount costs in whole packs.

    Parameters
    ----------
    packs : sequence of Pack
        Of one thing, none loose.
    least_kg, most_kg : float
        Between which the amount lies.

    Returns
    -------
    list of (float, float)
        The largest amount of each step, and its cost, from the step that holds `least_kg` to the one that
        holds `most_kg`; empty where there are too many.
    """
    found: list[tuple[float, float]] = []
    waiting = [(0.0, 0.0)]
    largest = -1.0
    taken = 0
    while waiting:
        cost, negative = heapq.heappop(waiting)
        held = -negative
        if held <= largest:
            continue
        taken += 1
        if taken > MOST_STEPS:
            return []
        largest = held
        if held >= least_kg:
            found.append((held, cost))
        if held >= most_kg:
            return found
        for pack in packs:
            heapq.heappush(waiting, (cost + pack.price, -(held + pack.size_kg)))
    return []


def lines_under_steps(packs: Sequence[Pack], least_kg: float, most_kg: float) -> list[tuple[float, float]]:
    """Draw lines that no buying of an amount, or of any larger one, can cost less than.

    Parameters
    ----------
    packs : sequence of Pack
        Of one thing.
    least_kg, most_kg : float
        The least amount; and up to which lines are of use.

    Returns
    -------
    list of (float, float)
        Money at no amount at all, and money per kilogram, of each line.

    Notes
    -----
    Steps are looked at to well beyond `most_kg`. A line flatter than the lowest price per kilogram ends up
    under it, which nothing undercuts; only lines that are there before the last step are given.
    """
    # What rounding alone asks for is not needed.
    least = least_kg * (1.0 - ROUNDING) - ROUNDING if least_kg > NOTHING_KG else 0.0
    if any(pack.loose or pack.price <= 0.0 for pack in packs) or not packs or most_kg <= least:
        return []
    steps = steps_of_cost(packs, least, 2.0 * most_kg + 2.0 * max(pack.size_kg for pack in packs))
    if not steps:
        return []
    # The lowest points of the steps are their right ends, and where the first of them begins.
    points = [(least, steps[0][1]), *steps]
    hull: list[tuple[float, float]] = []
    for x, y in points:
        if hull and x <= hull[-1][0]:
            continue
        while len(hull) > 1 and _turns_down(hull[-2], hull[-1], (x, y)):
            hull.pop()
        hull.append((x, y))
    lowest = min(pack.price / pack.size_kg for pack in packs)
    lines = []
    for (x0, y0), (x1, y1) in pairwise(hull):
        slope = (y1 - y0) / (x1 - x0)
        start = y0 - slope * x0
        if slope < lowest * (1.0 - ROUNDING) and start <= (lowest - slope) * steps[-1][0] and x0 <= most_kg:
            lines.append((start, slope))
    return lines


def _turns_down(one: tuple[float, float], two: tuple[float, float], three: tuple[float, float]) -> bool:
    return (two[1] - one[1]) * (three[0] - one[0]) >= (three[1] - one[1]) * (two[0] - one[0])
