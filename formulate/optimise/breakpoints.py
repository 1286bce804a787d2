"""Pieces of ethanol fraction within which the strength tables of a step are smooth."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from formulate.blend.chain import ethanol_fraction
from formulate.optimise.assembly import Assembly
from formulate.optimise.program import Point
from formulate.optimise.tree.relaxation import Range
from formulate.physics.strength import mass_fraction_from_abv

__all__ = ["pieces_at", "pieces_of"]

STRONGEST_PCT_VOL = 97.0


def pieces_of(assembly: Assembly, step: int) -> list[Range]:
    """Split the ethanol fractions of a step at the points of its strength tables.

    Parameters
    ----------
    assembly : Assembly
    step : int

    Returns
    -------
    list of Range
        From the weakest up, the first also where nothing has alcohol; those that no ingredient is strong
        enough for left out.
    """
    strengths = {
        strength
        for row in assembly.uptakes
        if row.step == step
        for table in row.tables
        for strength, _ in table.points
        if 0.0 < strength < STRONGEST_PCT_VOL
    }
    ends = [0.0, *(float(mass_fraction_from_abv(strength)) for strength in sorted(strengths)), 1.0]
    strongest = float(ethanol_fraction(assembly.problem.chain.materials.content).max(initial=0.0))
    return [Range(low, high) for low, high in pairwise(ends) if low < strongest or low == 0.0]


def pieces_at(assembly: Assembly, point: Point) -> Mapping[int, Range]:
    """Find the piece that each infusing step of a recipe is in.

    Parameters
    ----------
    assembly : Assembly
    point : Point

    Returns
    -------
    mapping of int to Range
        By stream, as `LiveModel.set_pieces` takes it.
    """
    found = {}
    for step in sorted({row.step for row in assembly.uptakes}):
        fraction = float(ethanol_fraction(point.run.gross[step]))
        pieces = pieces_of(assembly, step)
        here = max(piece for piece in pieces if piece.lower <= fraction)
        found[assembly.stream_numbers[step, False]] = here
    return found
