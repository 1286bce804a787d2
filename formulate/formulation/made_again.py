"""The bottle's question asked again: without what is gone, little of what is short, steps as they were."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import Batch
from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.errors import FormulateError
from formulate.files import aims
from formulate.files.bottle import Bottle
from formulate.formulation.bottle import Formulation, formulate_bottle
from formulate.formulation.gone import most_of
from formulate.formulation.stand_ins import StandIns, with_stand_ins
from formulate.optimise.problem import BlendProblem, Limit
from formulate.quantity import Amount

__all__ = ["Again", "short_limits"]


@dataclass(frozen=True)
class Again:
    """A bottle to be made again.

    Attributes
    ----------
    old : Batch
        The saved recipe, weighed.
    bottle : Bottle
    gone : tuple of str
        Ids of the bottle's list that may not be used.
    short : tuple of (str, Amount)
        What is left of others, for the batch.
    dearer : tuple of str
        Others that stand-ins may take a part of, for they cost more than before.
    """

    old: Batch
    bottle: Bottle
    gone: tuple[str, ...]
    short: tuple[tuple[str, Amount], ...]
    dearer: tuple[str, ...] = ()

    def asked(self, pantry: Pantry, found: Sequence[StandIns]) -> tuple[Formulation, list[str]]:
        """Ask, with these stand-ins.

        Parameters
        ----------
        pantry : Pantry
        found : sequence of StandIns
            One for each that is gone, short or dearer.

        Returns
        -------
        formulation : Formulation
        handed : list of str
            What was handed over to stand-ins, in words.
        """
        bottle, sized = self._sized()
        short = [name for name, _ in self.short if name not in self.gone]
        bottle, handed = with_stand_ins(bottle, pantry, found, (*short, *self.dearer))
        formulation = formulate_bottle(bottle, pantry)
        problem = formulation.problem
        ids = list(problem.chain.materials.ids)
        limits = [*problem.limits]
        limits += [most_of(name, ids.index(name), 0.0, problem.volume_l, "none left") for name in self.gone]
        limits += short_limits(self.short, ids, pantry, problem.volume_l)
        kept = self._places_kept(problem)
        problem = replace(
            problem,
            limits=tuple(limits),
            place_ingredient=problem.place_ingredient[kept],
            place_step=problem.place_step[kept],
        )
        return replace(formulation, problem=problem), [*sized, *handed]

    def _sized(self) -> tuple[Bottle, list[str]]:
        """Keep the old volume where the size was what there is of something gone."""
        size = self.bottle.size
        if not isinstance(size, aims.Use) or size.ingredient not in self.gone:
            return self.bottle, []
        volume = float(self.old.drink.volume_l)
        bottled = aims.Bottled(volume, text=f"{volume:.4g} L bottled")
        said = f"the size, {size.text}, cannot be kept: made for {bottled.text}, as the recipe was"
        return self.bottle.model_copy(update={"size": bottled}), [said]

    def _places_kept(self, problem: BlendProblem) -> NDArray[np.bool_]:
        """Keep every ingredient of the old recipe in the steps it was in, if the bottle still has them."""
        steps = [step.name for step in problem.chain.steps]
        used: dict[str, set[int]] = {}
        for step, row in zip(self.old.chain.steps, self.old.masses_kg, strict=True):
            for name, mass in zip(self.old.chain.materials.ids, row, strict=True):
                if mass > 0.0 and step.name in steps:
                    used.setdefault(name, set()).add(steps.index(step.name))
        ids = problem.chain.materials.ids
        places = list(zip(problem.place_ingredient, problem.place_step, strict=True))
        possible = {ids[ingredient] for ingredient, step in places if step in used.get(ids[ingredient], ())}
        return np.array(
            [ids[ingredient] not in possible or step in used[ids[ingredient]] for ingredient, step in places]
        )


def short_limits(short: Sequence[tuple[str, Amount]], ids: Sequence[str], pantry: Pantry,
                 volume_l: float | None) -> list[Limit]:  # fmt: skip
    """Limit what is short to what is left, for the whole batch.

    Parameters
    ----------
    short : sequence of (str, Amount)
    ids : sequence of str
        Of the problem's ingredients.
    pantry : Pantry
    volume_l : float or None
        Size of the batch where it is known.

    Raises
    ------
    FormulateError
        If an amount cannot be weighed or the id is not in the bottle file.
    """
    limits = []
    for name, amount in short:
        try:
            mass = pantry.mass_kg(amount, pantry.unaged(name))
        except UnknownMassError as error:
            raise FormulateError(f"--short: {error}") from None
        limits.append(most_of(name, ids.index(name), mass, volume_l, f"{amount.text} left"))
    return limits
