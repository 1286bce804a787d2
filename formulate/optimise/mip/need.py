"""How much of each thing a recipe worth having can use, and what its liquors can be like.

Found by linear programs over the relaxation of a box, whole numbers let go, for recipes no
dearer than the best one known. A close bound is worth a great deal to the search in whole
numbers: it says which packs are too large, how little "used at all" can be, and how narrow
the box may be taken.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.assembly import Assembly
from formulate.optimise.highs import Engine
from formulate.optimise.linear import LinearModel, LinearStatus, RowBuilder
from formulate.optimise.mip.integer_terms import WholeTerms, with_whole_numbers
from formulate.optimise.mip.packs import Thing, things_of
from formulate.optimise.tree.relaxation import Box, Range

__all__ = ["Bounds"]

FloatArray = NDArray[np.float64]

ROOM = 1e-6
"""Room left over a bound, relative and absolute: far more than a linear program slips."""
RATIO_ROOM = 1e-5
"""The same of a ratio: what it is a ratio of may be as little as a tenth of a gram per litre."""
RATIO_TURNS = 6
SETTLED = 1e-10
CLOSE_ENOUGH = 0.95
"""Where some recipe uses this share of the bound already, a closer one is not looked for."""


class Bounds:
    """Bounds over a relaxation, for recipes below a cost; used for one box.

    Parameters
    ----------
    model : LinearModel
        A relaxation that holds for every recipe in the box, before whole numbers.
    assembly : Assembly
    terms : WholeTerms
    cut_off : float
        Recipes dearer than this, per litre, are of no interest; infinite when none is known.
    """

    def __init__(self, model: LinearModel, assembly: Assembly, terms: WholeTerms, cut_off: float) -> None:
        self.assembly = assembly
        self.terms = terms
        self.empty = False
        self._engine = Engine(_relaxed(with_whole_numbers(model, assembly, terms).model, cut_off))
        self._seen: FloatArray = np.zeros(self._engine.columns)

    def box(self, box: Box) -> Box | None:
        """Return the box as narrow as recipes below the cost allow; None when there are none."""
        ethanol, solute, share = list(box.ethanol), list(box.solute), list(box.share)
        many = np.arange(len(self.assembly.liquor))
        alcohol = [self.assembly.water, self.assembly.ethanol]
        for number, stream in enumerate(self.assembly.streams):
            block = stream.blocks[0].liquor
            spirit = self._weights(block[[self.assembly.ethanol]])
            ethanol[number] = self._ratio(spirit, self._weights(block[alcohol]), ethanol[number])
            dissolved = self._weights(np.delete(block, alcohol))
            solute[number] = self._ratio(dissolved, self._weights(block), solute[number])
        for number, carry in enumerate(self.assembly.carries):
            out = self._weights(carry.carried[many])
            if carry.rinse is not None:
                out[carry.rinse] -= 1.0
            share[number] = self._ratio(out, self._weights(carry.gross[many]), share[number])
        doses = list(box.dose)
        given = ((part, row.alcohol) for row in self.assembly.uptakes for part in row.parts)
        for number, (part, solvent) in enumerate(given):
            doses[number] = self._ratio(
                self._weights(np.array([part])), self._weights(solvent), doses[number]
            )
        potency = list(box.potency)
        for number, activity in enumerate(self.assembly.potencies):
            liquor = self.assembly.gross[activity.step][many]
            potency[number] = self._ratio(
                self._weights(np.array([activity.total])), self._weights(liquor), potency[number]
            )
        if self.empty:
            return None
        return replace(
            box,
            ethanol=tuple(ethanol),
            solute=tuple(solute),
            share=tuple(share),
            dose=tuple(doses),
            potency=tuple(potency),
        )

    def needs(self) -> WholeTerms | None:
        """Return the terms with the most of each thing that is worth having; None when there is none."""
        terms, problem = self.terms, self.assembly.problem
        things = {*things_of(terms.packs), *terms.choices.things(len(problem.price_per_kg))}
        most = dict(terms.most)
        for thing in sorted(things):
            weights = self._weights(self._columns_of(thing))
            if float(weights @ self._seen) >= CLOSE_ENOUGH * most.get(thing, np.inf):
                continue
            found = self._greatest(weights)
            if self.empty:
                return None
            if found is not None:
                most[thing] = min(most.get(thing, np.inf), found * (1.0 + ROOM) + ROOM)
        return replace(terms, most=most)

    def _columns_of(self, thing: Thing) -> NDArray[np.intp]:
        if thing.is_purchase:
            return np.array([self.assembly.purchases[thing.number]], dtype=np.intp)
        return np.flatnonzero(self.assembly.problem.place_ingredient == thing.number)

    def _weights(self, columns: NDArray[np.int32] | NDArray[np.intp]) -> FloatArray:
        weights = np.zeros(self._engine.columns)
        weights[columns] = 1.0
        return weights

    def _ratio(self, part: FloatArray, of: FloatArray, known: Range) -> Range:
        """Narrow the range of a ratio of two sums."""
        upper = self._greatest_ratio(part, of, known.upper)
        lower = -self._greatest_ratio(-part, of, -known.lower)
        if lower > upper:  # by the room alone, or because nothing is left
            lower = upper = (lower + upper) / 2.0
        return Range(lower, upper)

    def _greatest_ratio(self, part: FloatArray, of: FloatArray, known: float) -> float:
        """Bound ``part / of`` from above: the ratio at which nothing is to be gained over it is the bound."""
        if self.empty:
            return known
        trial, start = -np.inf, known if np.isfinite(known) else 0.0
        for _ in range(RATIO_TURNS):
            weights = part - (start if trial == -np.inf else trial) * of
            gained = self._greatest(weights)
            if gained is None:
                return known
            if trial > -np.inf and gained <= SETTLED:
                return min(trial + RATIO_ROOM, known)
            total = float(of @ self._last)
            if total <= 0.0:
                return known
            trial = float(part @ self._last) / total
        return known

    def _greatest(self, weights: FloatArray) -> float | None:
        """Maximise a sum; None when it is not settled, and when nothing is left."""
        self._engine.set_cost(-weights)
        result = self._engine.solve()
        if result.status is LinearStatus.INFEASIBLE:
            self.empty = True
        if result.status is not LinearStatus.OPTIMAL:
            return None
        self._last = result.values
        self._seen = np.maximum(self._seen, result.values)
        return -result.objective


def _relaxed(model: LinearModel, cut_off: float) -> LinearModel:
    """Let the whole numbers go, and add the cost as a row with a limit."""
    counted = np.flatnonzero(model.cost)
    rows = RowBuilder()
    rows.add(counted, model.cost[counted], -np.inf, cut_off)
    return replace(model, whole=np.zeros(model.columns, dtype=bool)).with_rows(rows)
