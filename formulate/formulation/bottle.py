"""From a bottle file and a pantry to the question the optimiser answers.

Every limit keeps the place in the file it came from. Everything that does not fit together
(an unknown ingredient, a missing price, an amount that cannot be weighed) is told at once.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.bar.permitted import Rules, refusal, rules_of, strength_asked
from formulate.bar.vessels import unknown_vessels
from formulate.bar.wholes import purchases_of, without_parts
from formulate.blend.chain import Chain
from formulate.blend.flavour import flavour_per_kg
from formulate.blend.lots import with_handling, with_measured
from formulate.blend.materials import LIQUOR, gather
from formulate.blend.steps import places_of, steps_of
from formulate.errors import SpecError
from formulate.files import aims
from formulate.files.bottle import Bottle
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import Ingredient
from formulate.files.issues import KeyPath, Problems
from formulate.formulation.bitterness import BitternessBand
from formulate.formulation.caps import with_caps
from formulate.formulation.category_limits import category_limits
from formulate.formulation.doses import Taken, dose_limits, doses_of, enzyme_limits, within_law
from formulate.formulation.ingredient_limits import ingredient_limits, weighed_kg
from formulate.formulation.targets import middle_of, target_limits
from formulate.optimise.disjunctions import empty_first_steps
from formulate.optimise.problem import BlendProblem, Fill, Limit, Origin, Over
from formulate.optimise.tolerances import INSIDE_FIRM
from formulate.physics.coefficients import SPS4_HIGHEST_MASS_FRACTION
from formulate.physics.components import ALCOHOL

__all__ = ["MOST_DISSOLVED", "Formulation", "formulate_bottle"]

FloatArray = NDArray[np.float64]

DEAREST_PER_KG = 1e12
"""A dearer price is a slip of the keyboard in any currency, and the solver's figures lose their digits."""

MOST_DISSOLVED = "dissolved share"
"""Name of the limit at the end of the published densities, which nobody asked for."""


@dataclass(frozen=True)
class Formulation:
    """A question with what a report needs to tell of it.

    Attributes
    ----------
    ingredients
        In the order of the file, measured bitterness put in.
    rules
        Whose law counts, and what the file lifts of it.
    as_asked
        What the file asks, where `problem` asks for less room; empty where it is the same.
    off_middle
        Targets that cannot come to the middle of their bands beside the others, where that was aimed at.
    doses
        How much is taken of what has a dose or may be left out.
    flavour : ndarray, shape (n,)
        Usual doses that a kilogram per litre bottled of each gives; 0 for what has none.
    """

    bottle: Bottle
    pantry: Pantry
    ingredients: tuple[Ingredient, ...]
    problem: BlendProblem
    bitterness: BitternessBand | None
    size_text: str
    rules: Rules = field(default_factory=Rules)
    as_asked: tuple[Limit, ...] = ()
    off_middle: tuple[str, ...] = ()
    doses: tuple[Taken, ...] = ()
    flavour: FloatArray = field(default_factory=lambda: np.zeros(0))

    def without_doses(self, names: Collection[str], *, lows_only: bool = False) -> Formulation:
        """Keep some plants and fruit to no dose, or ask no least of them; none is optional then.

        Parameters
        ----------
        lows_only
            Whether the most usual of each is kept.
        """
        limits = []
        for limit in self.problem.limits:
            # What several fruits come to together is asked as long as one of them is there.
            if not limit.origin.dose_of or not set(names).issuperset(limit.origin.dose_of):
                limits.append(limit)
            elif lows_only and np.isfinite(limit.upper):
                limits.append(replace(limit, lower=-np.inf))
        doses = tuple(one for one in self.doses if self.ingredients[one.index].id not in names)
        return replace(self, problem=self.problem.asking(limits), doses=doses)

    def aiming_at_the_middle(self) -> Formulation:
        """Narrow every band with two ends to its middle; what was asked stays known as `as_asked`."""
        limits = self.problem.limits
        return replace(
            self, problem=self.problem.asking([middle_of(limit) for limit in limits]), as_asked=limits
        )

    def at_strengths(self, least_pct_vol: float, most_pct_vol: float) -> Formulation:
        """Keep the limits of the law for drinks of these strengths, whatever strength the file asks for."""
        return replace(self, problem=with_caps(self.problem, self.rules, (least_pct_vol, most_pct_vol)))


def formulate_bottle(bottle: Bottle, pantry: Pantry) -> Formulation:
    """Turn a bottle file into a question.

    Raises
    ------
    SpecError
        With every problem found.
    """
    return _Formulator(bottle, pantry).formulate()


def _with_doses(asked: Formulation) -> Formulation:
    """Keep plants and fruit within their doses, and below those where the law is stricter."""
    problem, bottle = asked.problem, asked.bottle
    taken = doses_of(bottle, asked.ingredients, asked.pantry, problem.volume_l)
    taken = within_law(taken, problem)
    limits = dose_limits(bottle, asked.ingredients, taken, asked.pantry)
    return replace(asked, problem=problem.asking([*problem.limits, *limits]), doses=taken)


class _Formulator:
    """Builds one formulation; used once."""

    def __init__(self, bottle: Bottle, pantry: Pantry) -> None:
        self.bottle = bottle
        self.pantry = pantry
        self.problems = Problems(bottle.places)
        self.steps = steps_of(bottle.resolved_steps())
        self.limits: list[Limit] = []
        self.by_id: dict[str, Ingredient] = {}

    def formulate(self) -> Formulation:
        self.rules = rules_of(self.bottle, self.pantry)
        ingredients = self._ingredients()
        self.problems.raise_if_any()
        materials = gather(ingredients, self.bottle.targets.contents)
        self.number = {name: position for position, name in enumerate(materials.ids)}
        flavour = self._flavour_per_kg(ingredients)
        prices = self._prices(ingredients)
        purchases = purchases_of(self.pantry, ingredients)
        volume_l, fill, size_limit = self._size()
        self.limits, bitterness = target_limits(
            self.bottle, self.pantry, self.by_id, materials, volume_l, self.problems
        )
        self.limits += category_limits(self.bottle, self.pantry, ingredients, materials, self.problems)
        self.limits += ingredient_limits(
            self.bottle, self.pantry, self.by_id, materials, flavour, volume_l, self.problems
        )
        self.limits += enzyme_limits(self.bottle, ingredients)
        unknown_vessels(("steps",), self.bottle.steps or (), self.pantry, self.problems)
        place_ingredient, place_step = places_of(
            self.bottle, ingredients, materials, self.steps, self.problems
        )
        self.problems.raise_if_any()
        chain = Chain(materials, self.steps)
        problem = BlendProblem(
            chain=chain,
            price_per_kg=without_parts(prices, purchases),
            place_ingredient=place_ingredient,
            place_step=place_step,
            limits=(*self.limits, *([size_limit] if size_limit else []), _published_range()),
            volume_l=volume_l,
            fill=fill,
            size_origin=self._origin("size", ("size",)),
            purchases=purchases,
        )
        problem = replace(problem, disjunctions=empty_first_steps(problem))
        size_text = self.bottle.size.text
        asked = Formulation(
            self.bottle,
            self.pantry,
            ingredients,
            problem,
            bitterness,
            size_text,
            self.rules,
            flavour=flavour,
        )
        return _with_doses(asked.at_strengths(*strength_asked(self.limits)))

    def _origin(self, name: str, path: KeyPath) -> Origin:
        places = self.bottle.places
        return Origin(name, places.typed(path), places.value(path))

    def _ingredients(self) -> tuple[Ingredient, ...]:
        found = []
        for index, use in enumerate(self.bottle.uses):
            try:
                measured = self.bottle.measured.get(use.id)
                ingredient = self.pantry.ingredient(use.id, measured=measured is not None)
            except SpecError as error:
                self.problems.add_from(self.bottle.path_of(index), error)
                continue
            if refused := refusal(ingredient, self.rules):
                self.problems.add(self.bottle.path_of(index), refused)
                continue
            tasted = with_measured(ingredient, measured.bitterness if measured else None)
            ingredient = self.by_id[use.id] = with_handling(tasted, use.cut, use.drawn)
            found.append(ingredient)
        return tuple(found)

    def _prices(self, ingredients: tuple[Ingredient, ...]) -> FloatArray:
        prices = np.zeros(len(ingredients))
        for index, (use, ingredient) in enumerate(zip(self.bottle.uses, ingredients, strict=True)):
            try:
                price = self.pantry.price_per_kg(ingredient)
            except UnknownMassError as error:
                self.problems.add(self.bottle.path_of(index), str(error))
                continue
            if price is None:
                self.problems.add(self.bottle.path_of(index), self.pantry.no_price_text(use.id))
                continue
            if price > DEAREST_PER_KG:
                self.problems.add(
                    self.bottle.path_of(index),
                    f"{use.id} costs {price:.3g} {self.pantry.currency}/kg on the shelf. "
                    "Check its price and pack.",
                )
                continue
            prices[index] = price
        return prices

    def _size(self) -> tuple[float | None, Fill | None, Limit | None]:
        size = self.bottle.size
        if isinstance(size, aims.Bottled):
            return size.volume_l, None, None
        if isinstance(size, aims.Fill):
            return self._fill(size)
        if size.ingredient not in self.by_id:
            hint = did_you_mean(size.ingredient, self.by_id)
            self.problems.add(
                ("size",), f"{size.ingredient} is not in the list of ingredients. {hint}".rstrip()
            )
            return 1.0, None, None
        ingredient = self.by_id[size.ingredient]
        if size.amount is not None:
            mass = weighed_kg(size.amount, ingredient, self.pantry, ("size",), self.problems)
        else:
            on_hand = self._on_hand(ingredient)
            if on_hand is None:
                self.problems.add(
                    ("size",),
                    f"how much {size.ingredient} is left is not on the shelf. Add on_hand to its offer.",
                )
            mass = on_hand or 0.0
        used = Limit(
            over=Over.MASSES,
            indices=np.array([self.number[size.ingredient]], dtype=np.int32),
            weights=np.ones(1),
            lower=0.0,
            upper=0.0,
            origin=self._origin("size", ("size",)),
            batch_weight=-mass,
            display=np.nan,
        )
        return None, None, used

    def _on_hand(self, ingredient: Ingredient) -> float | None:
        try:
            return self.pantry.on_hand_kg(ingredient)
        except UnknownMassError as error:
            self.problems.add(("size",), str(error))
            return 0.0

    def _fill(self, size: aims.Fill) -> tuple[float | None, Fill | None, Limit | None]:
        vessels = self.pantry.shelf.vessels if self.pantry.shelf else {}
        if size.vessel not in vessels:
            hint = did_you_mean(size.vessel, vessels)
            self.problems.add(("size",), f"no vessel called '{size.vessel}' on the shelf. {hint}".rstrip())
            return 1.0, None, None
        return None, Fill(0, vessels[size.vessel] * size.fraction, self._origin("size", ("size",))), None

    def _flavour_per_kg(self, ingredients: tuple[Ingredient, ...]) -> FloatArray:
        """Usual doses that a kilogram per litre of each gives, in the step it is for."""
        names = [step.name for step in self.steps]
        strains = next((index for index, step in enumerate(self.steps) if step.strains), 0)
        of = [names.index(use.step) if use.step in names else strains for use in self.bottle.uses]
        return flavour_per_kg(ingredients, self.steps, self.bottle.kind)[of, np.arange(len(of))]


def _published_range() -> Limit:
    """Keep what is dissolved in the bottle to the mass fraction that densities are published for.

    Returns
    -------
    Limit
        On the carried components; ICUMSA SPS-4 ends at 0.85 g/g.
    """
    most = SPS4_HIGHEST_MASS_FRACTION - INSIDE_FIRM
    weights = np.full(LIQUOR, 1.0 - most)
    weights[list(ALCOHOL)] = -most
    text = f"at most {SPS4_HIGHEST_MASS_FRACTION * 100:.0f} % by mass, where published densities end"
    return Limit(
        over=Over.BOTTLE,
        indices=np.arange(LIQUOR, dtype=np.int32),
        weights=weights,
        lower=-np.inf,
        upper=0.0,
        origin=Origin(MOST_DISSOLVED, text),
        display=np.nan,
        firm=True,
    )
