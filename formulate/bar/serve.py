"""One drink as masses in a glass: what is poured, what the ice adds, what is poured on top.

A drink is a mixture of liquors, so strength and volume come from the same exact contraction as those of
a bottle. The melt is litres of water at 20 °C per litre poured over the ice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import TAP_WATER, Pantry, UnknownMassError
from formulate.bar.permitted import refusal, rules_of
from formulate.bar.restricted import by_its_name
from formulate.blend.batch import Batch
from formulate.blend.chain import Chain, Step
from formulate.blend.materials import LIQUOR, density_as_bought_kg_m3, gather
from formulate.blend.steps import leaves_solids
from formulate.errors import RangeError, SpecError
from formulate.files.drink import Drink
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.steps import StepSpec
from formulate.physics.components import ETHANOL, WATER
from formulate.physics.dilution import FITTED_FROM_PCT_VOL, FITTED_TO_PCT_VOL, MELT_RELATIONS, melt_share
from formulate.physics.mixture import volume_l
from formulate.quantity import Amount, AmountBasis
from formulate.quantity.document import shown
from formulate.quantity.pours import Pour, PourUnit

__all__ = ["MeltRecord", "Serve", "is_supply", "mixed", "pour_kg", "poured_volume_l", "serve_of"]

FloatArray = NDArray[np.float64]

MIXED, TOPPED = 0, 1
"""Steps of a drink: what meets the ice, and what is poured on top."""


@dataclass(frozen=True)
class Serve:
    """One drink, weighed out.

    Attributes
    ----------
    pantry : Pantry
        With the house bottles on its shelf.
    poured : Batch
        What is measured, over the ice (the first step) and on top, before any ice has melted. Of its n
        ingredients first what is poured in the order of the file, then what is only on the glass, last water.
    garnish_kg : ndarray, shape (n,)
    supplies : tuple of (str, float)
        What stands on the glass and is no ingredient, and how many pieces.
    """

    drink: Drink
    pantry: Pantry
    poured: Batch
    garnish_kg: FloatArray
    melt: MeltRecord
    supplies: tuple[tuple[str, float], ...] = ()

    @cached_property
    def glass(self) -> Batch:
        """What is in the glass, the melt with it."""
        return self.with_melt(self.melt.mass_kg)

    def with_melt(self, melt_kg: float) -> Batch:
        """Return what is in the glass when so much ice has melted."""
        masses_kg = self.poured.masses_kg.copy()
        masses_kg[MIXED, -1] += melt_kg
        return replace(self.poured, masses_kg=masses_kg)

    @property
    def ingredients(self) -> tuple[Ingredient, ...]:
        """What is poured and on the glass, n of them."""
        return self.poured.ingredients

    @property
    def paid_kg(self) -> FloatArray:
        """What one drink takes from the shelf, on the glass and in it, shape (n,)."""
        return self.poured.used_kg + self.garnish_kg

    @property
    def ethanol_kg(self) -> float:
        """Pure ethanol in the glass."""
        return float(self.glass.bottled[ETHANOL])


def serve_of(drink: Drink, pantry: Pantry) -> Serve:
    """Weigh out one drink.

    Parameters
    ----------
    pantry : Pantry
        Of the drink's shelf, with its house bottles on it.

    Raises
    ------
    SpecError
        With all that is wrong; also if the strength is outside the range of the melt relation, or the
        drink outside that of the density model.
    """
    problems = Problems(drink.places)
    measured, garnish = _ingredients(drink, pantry, problems)
    _refuse_foreign_money(drink, pantry, problems)
    problems.raise_if_any()
    ingredients = (*measured.values(), *garnish.values(), pantry.ingredient(TAP_WATER))
    order = {name: position for position, name in enumerate([*measured, *garnish])}
    masses_kg = np.zeros((2, len(ingredients)))
    on_glass = np.zeros(len(ingredients))
    parts = sum(line.amount.value for line in drink.ingredients if line.amount.unit is PourUnit.PARTS)
    for index, line in enumerate(drink.ingredients):
        try:
            mass_kg = pour_kg(line.amount, ingredients[order[line.id]], pantry, drink.parts_come_to_l, parts)
        except UnknownMassError as error:
            problems.add(("ingredients", index), str(error))
            continue
        masses_kg[TOPPED if line.after else MIXED, order[line.id]] += mass_kg
    supplies = _supplies(drink, pantry, problems)
    for index, piece in enumerate(drink.garnish):
        if piece.amount is None or is_supply(pantry, piece.id):
            continue
        try:
            on_glass[order[piece.id]] += pour_kg(piece.amount, ingredients[order[piece.id]], pantry)
        except UnknownMassError as error:
            problems.add(("garnish", index), str(error))
    problems.raise_if_any()
    attributes = tuple(sorted({name for ingredient in ingredients for name in ingredient.attributes}))
    materials = gather(ingredients, attributes)
    strained = any(
        leaves_solids(ingredient, materials, index)
        for index, ingredient in enumerate(ingredients)
        if masses_kg[MIXED, index] > 0.0
    )
    if drink.method in ("built", "batched"):
        strained = False
    chain = Chain(
        materials,
        (
            Step("mixed", strains=strained, cake_factor=1.0 if strained else 0.0),
            Step("topped", strains=False, cake_factor=0.0),
        ),
    )
    specs = tuple(StepSpec(name=step.name, strain=step.strains) for step in chain.steps)
    poured = Batch(ingredients, specs, chain, masses_kg)
    melt = _melt(drink, pantry, poured.liquor_l(MIXED), poured.liquor_pct_vol(MIXED))
    serve = Serve(drink, pantry, poured, on_glass, melt, supplies)
    try:
        _ = serve.glass.drink
    except RangeError as error:
        problems.add(("ingredients",), f"cannot be worked out: {error}", key=True)
    problems.raise_if_any()
    return serve


def _refuse_foreign_money(drink: Drink, pantry: Pantry, problems: Problems) -> None:
    if foreign := pantry.foreign(drink.price):
        problems.add(("price",), foreign)
    for index, garnish in enumerate(drink.garnish):
        if foreign := pantry.foreign(garnish.price):
            problems.add(("garnish", index, garnish.id, "price"), foreign)


def is_supply(pantry: Pantry, name: str) -> bool:
    """Whether a name is a supply of the shelf: counted by the piece, and not drunk."""
    return pantry.shelf is not None and name in pantry.shelf.supplies


def _supplies(drink: Drink, pantry: Pantry, problems: Problems) -> tuple[tuple[str, float], ...]:
    supplies = []
    for index, garnish in enumerate(drink.garnish):
        if garnish.amount is None or not is_supply(pantry, garnish.id):
            continue
        if garnish.amount.unit is not PourUnit.PIECES:
            message = f"a supply is counted in pieces, got {garnish.amount.text!r}. Write e.g. 1 piece."
            problems.add(("garnish", index), message)
            continue
        supplies.append((garnish.id, garnish.amount.value))
    return tuple(supplies)


def mixed(serve: Serve, keep: Sequence[bool]) -> FloatArray:
    """Return what a batch of drinks holds for one: what meets the ice, and the melt as water.

    Parameters
    ----------
    keep : sequence of bool
        Which of the ingredients go into the batch.

    Returns
    -------
    ndarray, shape (n,)
        kg; the water for the melt is in the last one.
    """
    masses = np.where(np.asarray(keep, dtype=bool), serve.poured.masses_kg[MIXED], 0.0)
    masses[-1] += serve.melt.mass_kg
    return masses


def pour_kg(
    pour: Pour,
    ingredient: Ingredient,
    pantry: Pantry,
    parts_come_to_l: float | None = None,
    parts: float = 0.0,
) -> float:
    """Weigh what a drink file measures.

    Parameters
    ----------
    pantry : Pantry
        Its shelf says how large a dash and a drop are.
    parts_come_to_l : float, optional
        What all parts come to.
    parts : float
        How many parts there are in all.

    Raises
    ------
    UnknownMassError
        If the density or the piece of the ingredient is not known.
    """
    service = pantry.shelf.service if pantry.shelf else None
    if pour.unit is PourUnit.MASS:
        return pour.value
    if pour.unit is PourUnit.PIECES:
        return pantry.mass_kg(Amount(pour.value, AmountBasis.PIECES, pour.text), ingredient)
    unit_l = {
        PourUnit.VOLUME: 1.0,
        PourUnit.DASHES: service.dash_l if service else 0.0,
        PourUnit.DROPS: service.drop_l if service else 0.0,
        PourUnit.PARTS: (parts_come_to_l or 0.0) / parts if parts else 0.0,
    }[pour.unit]
    return pantry.mass_kg(Amount(pour.value * unit_l, AmountBasis.VOLUME, pour.text), ingredient)


def poured_volume_l(ingredient: Ingredient, pour: Pour, mass_kg: float) -> float | None:
    """Return the volume of what is poured, L; None for what is weighed or counted."""
    if pour.unit in (PourUnit.MASS, PourUnit.PIECES):
        return None
    density = density_as_bought_kg_m3(ingredient)
    return None if density is None else mass_kg / density * 1000.0


def _ingredients(
    drink: Drink, pantry: Pantry, problems: Problems
) -> tuple[dict[str, Ingredient], dict[str, Ingredient]]:
    """Find what is poured, and what only stands on the glass."""
    poured: dict[str, Ingredient] = {}
    garnish: dict[str, Ingredient] = {}
    rules = rules_of(None, pantry)
    for index, line in enumerate(drink.ingredients):
        if line.id not in poured:
            try:
                poured[line.id] = pantry.ingredient(line.id)
            except SpecError as error:
                problems.add_from(("ingredients", index), error)
                continue
            if refused := refusal(poured[line.id], rules):
                problems.add(("ingredients", index), refused)
    for index, piece in enumerate(drink.garnish):
        known = piece.id in poured or piece.id in garnish or is_supply(pantry, piece.id)
        if piece.amount is None or is_supply(pantry, piece.id):
            if refused := refusal(by_its_name(piece.id), rules):
                problems.add(("garnish", index), refused)
        elif not known:
            try:
                garnish[piece.id] = pantry.ingredient(piece.id)
            except SpecError as error:
                problems.add_from(("garnish", index), _or_a_supply(error))
                continue
            if refused := refusal(garnish[piece.id], rules):
                problems.add(("garnish", index), refused)
    return poured, garnish


def _or_a_supply(error: SpecError) -> SpecError:
    """Say beside an unknown name that what is on a glass need not be known."""
    advice = "Or give it a `price:`, or list it under `supplies:` on the shelf."
    return SpecError(
        [
            replace(problem, message=f"{problem.message} {advice}") if problem.location is None else problem
            for problem in error.problems
        ]
    )


def _melt(drink: Drink, pantry: Pantry, volume: float, strength: float) -> MeltRecord:
    water = np.zeros(LIQUOR)
    water[WATER] = 1.0
    litre_kg = 1.0 / float(volume_l(water))
    own = drink.melt
    where = "weighed for this drink"
    if own is None and pantry.shelf is not None:
        own = pantry.shelf.service.melt.get(drink.method)
        where = f"weighed here for what is {drink.method}"
    if own is not None:
        mass = own.value * volume * litre_kg if own.is_share else own.value
        share = mass / litre_kg / volume if volume else 0.0
        return MeltRecord(mass, mass / litre_kg, share, 0.0, True, where, "", "measured here")
    relation = MELT_RELATIONS[drink.method]
    try:
        share = float(melt_share(drink.method, strength))
    except RangeError as error:
        message = (
            f"{strength:.1f} % vol is poured over the ice, more than the relation for {drink.method} covers "
            f"({error.upper:g} % vol). Weigh the melt once and add e.g. `melt: 28 g`."
        )
        raise SpecError([drink.places.problem(("method",), message)]) from error
    text = f"relation for {drink.method}"
    if relation.slope and not FITTED_FROM_PCT_VOL <= strength <= FITTED_TO_PCT_VOL:
        text += f", less sure outside {FITTED_FROM_PCT_VOL:g} to {FITTED_TO_PCT_VOL:g} % vol"
    mass = share * volume * litre_kg
    return MeltRecord(
        mass, share * volume, share, relation.spread_share, False, text, relation.source, relation.confidence
    )


@dataclass(frozen=True, slots=True)
class MeltRecord:
    """What the ice gives to one drink.

    Attributes
    ----------
    mass_kg, volume_l : float
        At 20 °C.
    share : float
        Of the volume poured over the ice.
    spread_share : float
        By how much of itself it may be off, either way; 0 where it was weighed or is none.
    weighed : bool
        By the bar, in this drink or for the method.
    text : str
        Where it comes from, in words.
    """

    mass_kg: float
    volume_l: float = field(metadata=shown("volume_ml"))
    share: float = field(metadata=shown("share_of_poured"))
    spread_share: float
    weighed: bool
    text: str = field(metadata=shown("from"))
    source: str
    confidence: str
