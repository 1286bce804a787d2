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
from formulate.blend.materials import gather
from formulate.blend.steps import places_of, steps_of
from formulate.errors import SpecError
from formulate.files import aims
from formulate.files.bottle import Bottle, IngredientUse
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.located import KeyPath
from formulate.files.together import Ratio, ShareOf, Sum
from formulate.formulation.bitterness import BitternessBand
from formulate.formulation.brought import brought
from formulate.formulation.caps import with_caps
from formulate.formulation.category_limits import category_limits
from formulate.formulation.doses import Taken, dose_limits, doses_of, within_law
from formulate.formulation.published_range import published_range
from formulate.formulation.targets import middle_of, target_limits
from formulate.optimise.disjunctions import empty_first_steps
from formulate.optimise.problem import BlendProblem, Fill, Limit, Origin, Over
from formulate.quantity import Amount, AmountBasis, Band, Dimension

__all__ = ["Formulation", "formulate_bottle"]

FloatArray = NDArray[np.float64]

FLAVOUR = "flavour"
LEADS_BY = 1.05
"""What leads is ahead of each of the others by this factor: nobody tastes a closer race (from memory)."""

DEAREST_PER_KG = 1e12
"""A dearer price is a slip of the keyboard in any currency, and the solver's figures lose their digits."""


@dataclass(frozen=True)
class Formulation:
    """A question with what a report needs to tell of it.

    Attributes
    ----------
    bottle : Bottle
    pantry : Pantry
    ingredients : tuple of Ingredient
        In the order of the file, measured bitterness put in.
    problem : BlendProblem
    bitterness : BitternessBand or None
    size_text : str
    rules : Rules
        Whose law counts, and what the file lifts of it.
    as_asked : tuple of Limit
        What the file asks, where `problem` asks for less room; empty where it is the same.
    doses : tuple of Taken
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
    doses: tuple[Taken, ...] = ()
    flavour: FloatArray = field(default_factory=lambda: np.zeros(0))

    def without_doses(self, names: Collection[str], *, lows_only: bool = False) -> Formulation:
        """Keep some plants and fruit to no dose, or ask no least of them; none is optional then.

        Parameters
        ----------
        names : collection of str
        lows_only : bool
            Whether the most usual of each is kept.
        """
        limits = []
        for limit in self.problem.limits:
            if set(names).isdisjoint(limit.origin.dose_of):
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
        """Keep the limits of the law for drinks of these strengths, whatever strength the file asks for.

        Parameters
        ----------
        least_pct_vol, most_pct_vol : float
        """
        return replace(self, problem=with_caps(self.problem, self.rules, (least_pct_vol, most_pct_vol)))


def formulate_bottle(bottle: Bottle, pantry: Pantry) -> Formulation:
    """Turn a bottle file into a question.

    Parameters
    ----------
    bottle : Bottle
    pantry : Pantry

    Returns
    -------
    Formulation

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
    limits = dose_limits(bottle, asked.ingredients, taken)
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
        self.materials = materials
        self.flavour = self._flavour_per_kg(ingredients)
        prices = self._prices(ingredients)
        purchases = purchases_of(self.pantry, ingredients)
        volume_l, fill, size_limit = self._size()
        self.volume_l = volume_l
        self.limits, bitterness = target_limits(
            self.bottle, self.pantry, self.by_id, materials, volume_l, self.problems
        )
        self.limits += category_limits(self.bottle, self.pantry, ingredients, materials, self.problems)
        for index, use in enumerate(self.bottle.uses):
            self._use(index, use)
        for index, relation in enumerate(self.bottle.together):
            self._relation(index, relation)
        self._flavour()
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
            limits=(*self.limits, *([size_limit] if size_limit else []), published_range()),
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
            flavour=self.flavour,
        )
        return _with_doses(asked.at_strengths(*strength_asked(self.limits)))

    def _path(self, index: int, use: IngredientUse, *rest: str) -> KeyPath:
        path = self.bottle.path_of(index)
        return (*path, use.id, *rest) if rest else path

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
                self.problems.add_from(self._path(index, use), error)
                continue
            if refused := refusal(ingredient, self.rules):
                self.problems.add(self._path(index, use), refused)
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
                self.problems.add(self._path(index, use), str(error))
                continue
            if price is None:
                self.problems.add(self._path(index, use), self.pantry.no_price_text(use.id))
                continue
            if price > DEAREST_PER_KG:
                self.problems.add(
                    self._path(index, use),
                    f"{use.id} costs {price:.3g} {self.pantry.currency}/kg on the shelf. "
                    "Check its price and pack.",
                )
                continue
            prices[index] = price
        return prices

    def _weigh(self, amount: Amount, ingredient: Ingredient, path: KeyPath) -> float:
        try:
            return self.pantry.mass_kg(amount, ingredient)
        except UnknownMassError as error:
            self.problems.add(path, str(error))
            return 0.0

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
            mass = self._weigh(size.amount, ingredient, ("size",))
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

    def _use(self, index: int, use: IngredientUse) -> None:
        ingredient = self.by_id[use.id]
        for key, sides in (("at_least", "lower"), ("at_most", "upper"), ("exactly", "both")):
            amount: Amount | None = getattr(use, key)
            if amount is not None:
                # What may be left out is left out or at least this much: a choice, no limit.
                lower = amount.value if sides in ("lower", "both") and not use.optional else None
                upper = amount.value if sides in ("upper", "both") else None
                self._amount_limit(
                    f"{use.id} {key.replace('_', ' ')}",
                    (use.id,),
                    lower,
                    upper,
                    amount,
                    self._path(index, use, key),
                    ingredient,
                )
        if use.share_of_mass is not None:
            self._share((use.id,), "mass", use.share_of_mass, self._path(index, use, "share_of_mass"))
        if use.share_of_bitterness is not None:
            self._share(
                (use.id,),
                "bitterness",
                use.share_of_bitterness,
                self._path(index, use, "share_of_bitterness"),
            )

        if use.share_of_flavour is not None:
            self._share((use.id,), FLAVOUR, use.share_of_flavour, self._path(index, use, "share_of_flavour"))

    def _flavour(self) -> None:
        """Keep who leads ahead of each of the others, and nobody above a share of the flavour."""
        brings, bottle = self.flavour, self.bottle
        if bottle.lead is not None:
            lead = self.number[bottle.lead]
            if not brings[lead]:
                self.problems.add(
                    ("lead",), f"no usual dose of {bottle.lead} is known. Give it a `dose:` on your shelf."
                )
            ahead = Band(LEADS_BY, None, Dimension.RATIO)
            for other in np.flatnonzero(brings):
                if other != lead:
                    top, bottom = np.zeros(len(brings)), np.zeros(len(brings))
                    top[lead], bottom[other] = brings[lead], brings[other]
                    name = f"{bottle.lead} leads {self.materials.ids[other]}"
                    self._homogeneous(name, top, bottom, ahead, ("lead",))
        if bottle.flavour is not None:
            most = Band(None, bottle.flavour, Dimension.SHARE)
            for one in np.flatnonzero(brings):
                top = np.zeros(len(brings))
                top[one] = brings[one]
                name = f"{self.materials.ids[one]} share of flavour"
                self._homogeneous(name, top, brings, most, ("flavour",))

    def _flavour_per_kg(self, ingredients: tuple[Ingredient, ...]) -> FloatArray:
        """Usual doses that a kilogram per litre of each gives, in the step it is for."""
        names = [step.name for step in self.steps]
        strains = next((index for index, step in enumerate(self.steps) if step.strains), 0)
        of = [names.index(use.step) if use.step in names else strains for use in self.bottle.uses]
        return flavour_per_kg(ingredients, self.steps, self.bottle.kind)[of, np.arange(len(of))]

    def _amount_limit(
        self,
        name: str,
        ids: tuple[str, ...],
        lower: float | None,
        upper: float | None,
        amount: Amount,
        path: KeyPath,
        ingredient: Ingredient,
    ) -> None:
        """Limit a mass: per litre bottled, in all, or as a share of everything weighed in."""
        indices = np.array([self.number[name] for name in ids], dtype=np.int32)
        origin = self._origin(name, path)
        if amount.basis is AmountBasis.SHARE_OF_MASS:
            self._share(ids, "mass", Band(lower, upper, None, amount.text), path)  # type: ignore[arg-type]
            return
        weigh = self._weigh_once(amount, ingredient, path)
        low = -np.inf if lower is None else weigh * lower
        high = np.inf if upper is None else weigh * upper
        per_litre = amount.basis in (AmountBasis.MASS_PER_LITRE, AmountBasis.VOLUME_PER_LITRE)
        if per_litre or self.volume_l is not None:
            size = 1.0 if per_litre else self.volume_l or 1.0
            unit = "g per L bottled" if per_litre else "g"
            self.limits.append(
                Limit(
                    Over.MASSES,
                    indices,
                    np.ones(len(indices)),
                    low / size,
                    high / size,
                    origin,
                    unit,
                    1000.0 * size,
                )
            )
            return
        for bound, is_lower in ((low, True), (high, False)):
            if np.isfinite(bound):
                self.limits.append(
                    Limit(
                        Over.MASSES,
                        indices,
                        np.ones(len(indices)),
                        0.0 if is_lower else -np.inf,
                        np.inf if is_lower else 0.0,
                        origin,
                        display=np.nan,
                        batch_weight=-bound,
                    )
                )

    def _weigh_once(self, amount: Amount, ingredient: Ingredient, path: KeyPath) -> float:
        """Kilograms for one of whatever the amount counts in."""
        return self._weigh(Amount(1.0, amount.basis, amount.text), ingredient, path)

    def _share(self, ids: tuple[str, ...], of: str, band: Band, path: KeyPath, name: str = "") -> None:
        """Limit what some ingredients bring as a share of what all bring."""
        if of == FLAVOUR:
            brings: FloatArray | None = self.flavour
        else:
            brings = brought(of, self.materials, tuple(self.by_id.values()))
        if brings is None:
            self.problems.add(path, f"no ingredient here says how much {of} it brings.")
            return
        mine = np.zeros(len(brings))
        for one in ids:
            mine[self.number[one]] = brings[self.number[one]]
        self._homogeneous(name or f"{' + '.join(ids)} share of {of}", mine, brings, band, path)

    def _homogeneous(self, name: str, top: FloatArray, bottom: FloatArray, band: Band, path: KeyPath) -> None:
        """Keep ``lower <= top / bottom <= upper`` as two rows without a constant."""
        for bound, is_lower in ((band.lower, True), (band.upper, False)):
            if bound is None:
                continue
            weights = top - bound * bottom
            used = np.flatnonzero(weights)
            self.limits.append(
                Limit(
                    over=Over.MASSES,
                    indices=used.astype(np.int32),
                    weights=weights[used],
                    lower=0.0 if is_lower else -np.inf,
                    upper=np.inf if is_lower else 0.0,
                    origin=self._origin(name, path),
                    display=np.nan,
                )
            )

    def _relation(self, index: int, relation: Ratio | Sum | ShareOf) -> None:
        path: KeyPath = ("together", index, "is")
        name = ""
        if not isinstance(relation, Ratio) and relation.stands_for is not None:
            missing, path = relation.stands_for
            name = f"in place of {missing}"
        if isinstance(relation, ShareOf):
            self._share(relation.ids, relation.of, relation.band, path, name)
        elif isinstance(relation, Ratio):
            top, bottom = np.zeros(len(self.number)), np.zeros(len(self.number))
            top[self.number[relation.numerator]] = 1.0
            bottom[self.number[relation.denominator]] = 1.0
            name = f"{relation.numerator} to {relation.denominator}"
            self._homogeneous(name, top, bottom, relation.band, path)
        else:
            band = relation.band
            if band.basis not in (AmountBasis.MASS, AmountBasis.MASS_PER_LITRE, AmountBasis.SHARE_OF_MASS):
                self.problems.add(
                    path, f"several things together are weighed: give grams, got {band.text!r}."
                )
                return
            amount = Amount(1.0, band.basis, band.text)
            first = self.by_id[relation.ids[0]]
            name = name or " + ".join(relation.ids)
            self._amount_limit(name, relation.ids, band.lower, band.upper, amount, path, first)
