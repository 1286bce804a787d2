"""Where to branch: how far the answer of a relaxation violates each relation, and how a node is split."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR
from formulate.optimise.layout import Assembly, VolumeRow
from formulate.optimise.tolerances import NARROWEST_INTERVAL, TINY
from formulate.optimise.tree.node import BRANCHING_VARIABLES, Interval, Node
from formulate.optimise.tree.relaxation import volume_estimates
from formulate.physics.density import specific_volume_ethanol_water
from formulate.physics.mixture import volume_l

__all__ = ["Violation", "interval_widths", "relaxation_violations", "split_node"]

FloatArray = NDArray[np.float64]

ACTIVITY_WEIGHT = 0.01
"""How much a wholly wrong activity counts beside a kilogram of liquor, for choosing where to branch."""

FINE_EDGE = 0.02
"""A branch keeps at least this part of an interval that spans several orders of magnitude."""


class Violation(NamedTuple):
    """By how much an answer of a relaxation is no recipe, and what to branch on to mend it.

    Attributes
    ----------
    size : float
        How far it is off, in litres or kilograms per litre.
    variable, number : str, int
        Which interval of the node lets it, one of `node.BRANCHING_VARIABLES`, and its position.
    at : float
        Where the answer stands in that interval.
    """

    size: float
    variable: str
    number: int
    at: float


def relaxation_violations(assembly: Assembly, node: Node, values: FloatArray) -> tuple[Violation, ...]:
    """Measure how far the answer of a relaxation is from a recipe, by cause.

    Parameters
    ----------
    node : Node
        Over which it was relaxed.
    values : ndarray
        The answer.

    Returns
    -------
    tuple of Violation
        The worst first, each interval at most once.
    """
    worst: dict[tuple[str, int], Violation] = {}
    for causes in (
        _of_volumes(assembly, node, values),
        _of_uptakes(assembly, values),
        _of_carries(assembly, values),
    ):
        for violation in causes:
            interval = violation.variable, violation.number
            if interval not in worst or violation.size > worst[interval].size:
                worst[interval] = violation
    return tuple(sorted(worst.values(), reverse=True))


def interval_widths(node: Node) -> tuple[Violation, ...]:
    """Stand in for the violations where a relaxation gave no answer: the widest intervals, to be halved."""
    widths = [
        Violation(interval.width, variable, number, (interval.lower + interval.upper) / 2.0)
        for variable in BRANCHING_VARIABLES
        for number, interval in enumerate(node.intervals(variable))
        if np.isfinite(interval.width)
    ]
    return tuple(sorted(widths, reverse=True))


def split_node(
    node: Node, violation: Violation, edge: float, towards_middle: float = 0.0
) -> tuple[Node, ...]:
    """Split an interval of a node near where the answer of its relaxation stands.

    Parameters
    ----------
    edge : float
        A branch keeps at least this part of the interval.
    towards_middle : float
        How far the branching point goes from the answer towards the middle of the interval, 0 to 1.

    Returns
    -------
    tuple of Node
        Two, or none when the interval is too narrow.

    Notes
    -----
    Doses and potencies are of any order of magnitude: an interval is first brought to within half and twice
    of where the answer has it.
    """
    interval = node.intervals(violation.variable)[violation.number]
    at = violation.at
    if interval.width <= NARROWEST_INTERVAL or not np.isfinite(interval.lower):
        return ()
    if violation.variable in ("dose", "potency"):
        if interval.upper > 4.0 * at > 0.0:
            at, edge = 2.0 * at, FINE_EDGE
        elif at > 4.0 * interval.lower:
            at, edge = at / 2.0, FINE_EDGE
        else:
            at += towards_middle * ((interval.lower + interval.upper) / 2.0 - at)
    elif np.isfinite(interval.upper):
        at += towards_middle * ((interval.lower + interval.upper) / 2.0 - at)
    if not np.isfinite(interval.upper):
        return ()
    margin = edge * interval.width
    at = min(max(at, interval.lower + margin), interval.upper - margin)
    return tuple(
        node.with_interval(violation.variable, violation.number, half)
        for half in (Interval(interval.lower, at), Interval(at, interval.upper))
    )


def _of_volumes(assembly: Assembly, node: Node, values: FloatArray) -> Iterator[Violation]:
    """How far each volume in the answer is from the true one."""
    for row in assembly.volumes:
        number = assembly.stream_numbers[row.step, row.of_bottle]
        liquor = np.zeros(LIQUOR)
        liquor[assembly.liquor] = np.maximum(values[row.columns], 0.0)
        alcohol = liquor[0] + liquor[1]
        ethanol = float(liquor[1] / alcohol) if alcohol > 0.0 else 0.0
        solute = float(1.0 - alcohol / liquor.sum()) if liquor.sum() > 0.0 else 0.0
        low, high = volume_estimates(node.ethanol[number], node.solute[number])
        truth = float(volume_l(liquor, check=False))
        claimed = _claimed(row, low, high, liquor, truth)
        part = float(claimed[:2] @ liquor[:2])
        exact = alcohol * float(specific_volume_ethanol_water(min(max(ethanol, 0.0), 1.0)))
        rest = float(claimed[2:] @ liquor[2:])
        yield Violation(float(abs(part - exact)), "ethanol", number, ethanol)
        yield Violation(float(abs(rest - (truth - exact))), "solute", number, solute)


def _of_uptakes(assembly: Assembly, values: FloatArray) -> Iterator[Violation]:
    """How far the plants in the answer give up more or less than they would."""
    following = 0
    for row in assembly.uptakes:
        first, following = following, following + len(row.tables)
        water, ethanol = (max(float(values[column]), 0.0) for column in row.alcohol)
        solvent = max(water + ethanol, TINY)
        fraction = ethanol / solvent
        parts, given = values[row.parts], values[row.given]
        if not parts.sum() > 0.0:
            continue
        shares = np.array([float(table.share(fraction)) for table in row.tables])
        sizes = ACTIVITY_WEIGHT * np.abs(given - shares * parts) / float(parts.sum())
        number = assembly.stream_numbers[row.step, False]
        yield Violation(float(sizes.max()), "ethanol", number, fraction)
        for position, size in enumerate(sizes.tolist()):
            yield Violation(size, "dose", first + position, float(parts[position]) / solvent)


def _of_carries(assembly: Assembly, values: FloatArray) -> Iterator[Violation]:
    """How unevenly each cake in the answer keeps its liquor."""
    many = len(assembly.liquor)
    alcohol = [assembly.water, assembly.ethanol]
    for number, carry in enumerate(assembly.carries):
        gross, carried = values[carry.gross], values[carry.carried].copy()
        if carry.rinse is not None:
            carried[assembly.water] -= values[carry.rinse]
        total, solvent = float(gross[:many].sum()), float(gross[alcohol].sum())
        if not total > 0.0:
            continue
        share = float(carried[:many].sum()) / total
        uneven = carried - share * gross
        relative = ACTIVITY_WEIGHT * np.abs(uneven) / np.maximum(gross, TINY)
        size = float(np.abs(uneven[:many]).sum() + relative[many:].sum())
        yield Violation(size, "share", number, share)
        stream = assembly.stream_numbers[carry.step, False]
        fraction = float(gross[assembly.ethanol]) / max(solvent, TINY)
        stronger = float(uneven[assembly.ethanol]) - fraction * float(uneven[alcohol].sum())
        yield Violation(abs(stronger), "ethanol", stream, fraction)
        yield Violation(abs(float(uneven[alcohol].sum())), "solute", stream, 1.0 - solvent / total)
        for position in assembly.streams[stream].potencies:
            place = int(np.flatnonzero(carry.gross == assembly.potencies[position].total)[0])
            yield Violation(float(relative[place]), "potency", position, float(gross[place]) / total)


def _claimed(
    row: VolumeRow, low: FloatArray, high: FloatArray, liquor: FloatArray, truth: float
) -> FloatArray:
    """Return the estimate an answer leaned on to claim its volume."""
    if row.of_bottle:
        return low if truth > 1.0 else high
    return low if truth - low @ liquor > high @ liquor - truth else high
