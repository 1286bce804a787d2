"""Where a linear answer is no recipe: how far each relation is off, and which range of the box lets it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR
from formulate.optimise.assembly import Assembly
from formulate.optimise.layout import VolumeRow
from formulate.optimise.tree.relaxation import Box, volume_estimates
from formulate.physics.density import specific_volume_ethanol_water
from formulate.physics.mixture import volume_l

__all__ = ["Cheat", "cheats_of"]

FloatArray = NDArray[np.float64]

ACTIVITY_WEIGHT = 0.01
"""How much a wholly wrong activity counts beside a kilogram of liquor, for choosing where to split."""


class Cheat(NamedTuple):
    """Where a linear answer is no recipe.

    Attributes
    ----------
    size : float
        How far it is off, in litres or kilograms per litre.
    name, number : str, int
        Which range of the box lets it, one of `relax.RANGES`, and its position.
    at : float
        Where the answer stands in that range.
    """

    size: float
    name: str
    number: int
    at: float


def cheats_of(assembly: Assembly, box: Box, values: FloatArray) -> tuple[Cheat, ...]:
    """Measure how far a linear answer is from a recipe, by cause.

    Parameters
    ----------
    assembly : Assembly
    box : Box
        Over which it was relaxed.
    values : ndarray
        The answer.

    Returns
    -------
    tuple of Cheat
        The worst first, each range at most once.
    """
    worst: dict[tuple[str, int], Cheat] = {}
    for causes in (
        _of_volumes(assembly, box, values),
        _of_uptakes(assembly, values),
        _of_carries(assembly, values),
    ):
        for cheat in causes:
            place = cheat.name, cheat.number
            if place not in worst or cheat.size > worst[place].size:
                worst[place] = cheat
    return tuple(sorted(worst.values(), reverse=True))


def _of_volumes(assembly: Assembly, box: Box, values: FloatArray) -> Iterator[Cheat]:
    """How far each volume in the linear answer is from the true one."""
    for row in assembly.volumes:
        number = assembly.stream_numbers[row.step, row.of_bottle]
        liquor = np.zeros(LIQUOR)
        liquor[assembly.liquor] = np.maximum(values[row.columns], 0.0)
        alcohol = liquor[0] + liquor[1]
        ethanol = float(liquor[1] / alcohol) if alcohol > 0.0 else 0.0
        solute = float(1.0 - alcohol / liquor.sum()) if liquor.sum() > 0.0 else 0.0
        low, high = volume_estimates(box.ethanol[number], box.solute[number])
        truth = float(volume_l(liquor, check=False))
        claimed = _claimed(row, low, high, liquor, truth)
        part = float(claimed[:2] @ liquor[:2])
        exact = alcohol * float(specific_volume_ethanol_water(min(max(ethanol, 0.0), 1.0)))
        rest = float(claimed[2:] @ liquor[2:])
        yield Cheat(float(abs(part - exact)), "ethanol", number, ethanol)
        yield Cheat(float(abs(rest - (truth - exact))), "solute", number, solute)


def _of_uptakes(assembly: Assembly, values: FloatArray) -> Iterator[Cheat]:
    """How far the plants in the linear answer give up more or less than they would."""
    following = 0
    for row in assembly.uptakes:
        first, following = following, following + len(row.tables)
        water, ethanol = (max(float(values[column]), 0.0) for column in row.alcohol)
        solvent = max(water + ethanol, 1e-12)
        fraction = ethanol / solvent
        parts, given = values[row.parts], values[row.given]
        if not parts.sum() > 0.0:
            continue
        shares = np.array([float(table.share(fraction)) for table in row.tables])
        sizes = ACTIVITY_WEIGHT * np.abs(given - shares * parts) / float(parts.sum())
        number = assembly.stream_numbers[row.step, False]
        yield Cheat(float(sizes.max()), "ethanol", number, fraction)
        for position, size in enumerate(sizes.tolist()):
            yield Cheat(size, "dose", first + position, float(parts[position]) / solvent)


def _of_carries(assembly: Assembly, values: FloatArray) -> Iterator[Cheat]:
    """How unevenly each cake in the linear answer keeps its liquor."""
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
        relative = ACTIVITY_WEIGHT * np.abs(uneven) / np.maximum(gross, 1e-12)
        size = float(np.abs(uneven[:many]).sum() + relative[many:].sum())
        yield Cheat(size, "share", number, share)
        stream = assembly.stream_numbers[carry.step, False]
        fraction = float(gross[assembly.ethanol]) / max(solvent, 1e-12)
        stronger = float(uneven[assembly.ethanol]) - fraction * float(uneven[alcohol].sum())
        yield Cheat(abs(stronger), "ethanol", stream, fraction)
        yield Cheat(abs(float(uneven[alcohol].sum())), "solute", stream, 1.0 - solvent / total)
        for position in assembly.streams[stream].potencies:
            place = int(np.flatnonzero(carry.gross == assembly.potencies[position].total)[0])
            yield Cheat(float(relative[place]), "potency", position, float(gross[place]) / total)


def _claimed(
    row: VolumeRow, low: FloatArray, high: FloatArray, liquor: FloatArray, truth: float
) -> FloatArray:
    """Return the estimate a linear answer leaned on to claim its volume."""
    if row.of_bottle:
        return low if truth > 1.0 else high
    return low if truth - low @ liquor > high @ liquor - truth else high
