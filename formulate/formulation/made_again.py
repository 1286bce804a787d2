"""The bottle's question asked again: without what is gone, little of what is short, steps as they were."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch
from formulate.bar.house_made import tastes_of
from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.errors import FormulateError
from formulate.files import aims
from formulate.files.bottle import Bottle
from formulate.formulation.bottle import Formulation, formulate_bottle
from formulate.formulation.ingredient_limits import at_most_kg
from formulate.formulation.stand_ins import StandIns, with_stand_ins, worth_of
from formulate.optimise.least_change import OldRecipe, Role
from formulate.optimise.problem import BlendProblem, Limit
from formulate.quantity import Amount

__all__ = ["Remake", "short_limits"]


NEW_THING_LEAST_KG_L = 0.001
"""A new thing that stands in for nothing counts as one whole change at a gram per litre, or at the smallest
amount of the old recipe if that is more."""

NEW_THING_COUNTS = 0.1
"""What a stand-in that does all the missing one did counts, in whole changes; an empty role counts one."""

COLOUR_AND_AROMA = ("anthocyanin", "vanillin")


@dataclass(frozen=True)
class Remake:
    """A bottle to be made again.

    Attributes
    ----------
    old
        The saved recipe, weighed.
    gone
        Ids of the bottle's list that may not be used.
    short
        What is left of others, for the batch.
    dearer
        Others that stand-ins may take a part of, for they cost more than before.
    """

    old: BarBatch
    bottle: Bottle
    gone: tuple[str, ...]
    short: tuple[tuple[str, Amount], ...]
    dearer: tuple[str, ...] = ()

    def formulated(self, pantry: Pantry, stand_ins: Sequence[StandIns]) -> tuple[Formulation, list[str]]:
        """Ask, with these stand-ins.

        Parameters
        ----------
        stand_ins
            One for each that is gone, short or dearer.

        Returns
        -------
        handed : list of str
            What was handed over to stand-ins, in words.
        """
        bottle, sized = self._sized()
        short = [name for name, _ in self.short if name not in self.gone]
        bottle, handed = with_stand_ins(bottle, pantry, stand_ins, (*short, *self.dearer))
        formulation = formulate_bottle(bottle, pantry)
        formulation = formulation.without_doses(
            (*self.gone, *(name for name, _ in self.short), *self.dearer), lows_only=True
        )
        problem = formulation.problem
        ids = list(problem.chain.materials.ids)
        limits = [*problem.limits]
        limits += [
            at_most_kg(name, ids.index(name), 0.0, problem.volume_l, "none left") for name in self.gone
        ]
        limits += short_limits(self.short, ids, pantry, problem.volume_l)
        in_old_steps = self._places_kept(problem)
        problem = replace(
            problem,
            limits=tuple(limits),
            place_ingredient=problem.place_ingredient[in_old_steps],
            place_step=problem.place_step[in_old_steps],
        )
        return replace(formulation, problem=problem), [*sized, *handed]

    def reference(self, formulation: Formulation, stand_ins: Sequence[StandIns]) -> OldRecipe:
        """Lay the old recipe out per litre in the order of the new question.

        Parameters
        ----------
        formulation
            As `formulated` gave it.
        """
        ingredients = formulation.ingredients
        ids = [ingredient.id for ingredient in ingredients]
        tastes = tuple(tastes_of(formulation.pantry, name) for name in ids)
        volume = self.old.drink.volume_l
        by_id = dict(zip(self.old.chain.materials.ids, self.old.used_kg / volume, strict=True))
        masses = np.array([by_id.get(name, 0.0) for name in ids])
        smallest = min((mass for mass in by_id.values() if mass > 0.0), default=0.0)
        scales = np.where(masses > 0.0, masses, max(smallest, NEW_THING_LEAST_KG_L))
        roles = []
        for stand_in in stand_ins:
            missing = ingredients[ids.index(stand_in.missing)]
            mass = by_id.get(stand_in.missing, 0.0)
            indices = np.array([ids.index(name) for name in stand_in.offered if name in ids], dtype=np.intp)
            if not mass > 0.0 or not len(indices):
                continue
            worth = np.array([worth_of(missing, ingredients[index]) for index in indices])
            scales[indices] = mass / worth / NEW_THING_COUNTS
            if stand_in.missing not in self.gone:  # what is left of it fills a part of its own role
                indices, worth = np.append(indices, ids.index(stand_in.missing)), np.append(worth, 1.0)
            roles.append(Role(indices, worth, mass))
        bottled = np.zeros(len(formulation.problem.chain.materials.carried))
        carried = self.old.run.bottled / volume
        names = self.old.chain.materials.carried
        for column, name in enumerate(formulation.problem.chain.materials.carried):
            if name in names:
                bottled[column] = carried[names.index(name)]
        return OldRecipe(
            masses_kg_l=masses,
            scales_kg_l=scales,
            roles=tuple(roles),
            gone=tuple(ids.index(name) for name in self.gone),
            bottled=bottled,
            kinds=tuple(formulation.pantry.unaged(taste).family for taste in tastes),
            tastes=tastes,
            contents={
                name: np.array([ingredient.attributes.get(name, 0.0) for ingredient in ingredients])
                for name in COLOUR_AND_AROMA
            },
            flavour=formulation.flavour,
        )

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
    ids
        Of the problem's ingredients.
    volume_l
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
        limits.append(at_most_kg(name, ids.index(name), mass, volume_l, f"{amount.text} left"))
    return limits
