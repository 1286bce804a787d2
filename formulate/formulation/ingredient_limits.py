"""Limits on what goes in: amounts, shares and relations of a bottle file; what cannot be had any more."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.bar.house_made import tastes_of
from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.blend.materials import Materials
from formulate.files.bottle import Bottle, IngredientUse
from formulate.files.ingredient import Ingredient
from formulate.files.issues import KeyPath, Problems
from formulate.files.measures import BITTERNESS, measure_of
from formulate.files.together import Ratio, ShareOf, Sum
from formulate.optimise.problem import Limit, Origin, Over, Says
from formulate.quantity import Amount, AmountBasis, Band, Dimension

__all__ = ["MASS", "at_most_kg", "gone_limits", "gone_with_parts", "ingredient_limits", "weighed_kg"]

FloatArray = NDArray[np.float64]

MASS, FLAVOUR = "mass", "flavour"
"""What a share may be of besides the measures of a drink."""

LEADS_BY = 1.05
"""What leads is ahead of each of the others by this factor: nobody tastes a closer race (from memory)."""


def weighed_kg(
    amount: Amount, ingredient: Ingredient, pantry: Pantry, path: KeyPath, problems: Problems
) -> float:
    """Weigh an amount; nothing, and a problem noted, where it cannot be weighed."""
    try:
        return pantry.mass_kg(amount, ingredient)
    except UnknownMassError as error:
        problems.add(path, str(error))
        return 0.0


def ingredient_limits(
    bottle: Bottle,
    pantry: Pantry,
    by_id: Mapping[str, Ingredient],
    materials: Materials,
    flavour_per_kg: FloatArray,
    volume_l: float | None,
    problems: Problems,
) -> list[Limit]:
    """Turn what a bottle file says of its ingredients, one by one and together, into limits.

    Parameters
    ----------
    by_id
        The ingredients that may be used, in the order of `materials`.
    flavour_per_kg : ndarray, shape (n,)
        Usual doses that a kilogram per litre bottled of each gives; 0 for what has none.
    volume_l
        Size of the batch where it is given in litres.
    problems
        Told of what cannot be weighed, and of shares of what nothing brings.
    """
    maker = _IngredientLimits(bottle, pantry, by_id, materials, flavour_per_kg, volume_l, problems)
    for index, use in enumerate(bottle.uses):
        maker.add_use((*bottle.path_of(index), use.id), use)
    for index, relation in enumerate(bottle.together):
        maker.add_relation(("together", index, "is"), relation)
    maker.add_flavour(bottle)
    return maker.limits


class _IngredientLimits:
    """Gathers the limits of one file; used once."""

    def __init__(
        self,
        bottle: Bottle,
        pantry: Pantry,
        by_id: Mapping[str, Ingredient],
        materials: Materials,
        flavour_per_kg: FloatArray,
        volume_l: float | None,
        problems: Problems,
    ) -> None:
        self.places = bottle.places
        self.pantry = pantry
        self.by_id = by_id
        self.materials = materials
        self.flavour = flavour_per_kg
        self.number = {name: position for position, name in enumerate(materials.ids)}
        self.volume_l = volume_l
        self.problems = problems
        self.limits: list[Limit] = []

    def add_use(self, path: KeyPath, use: IngredientUse) -> None:
        ingredient = self.by_id[use.id]
        for key, is_lower, is_upper in (
            ("at_least", True, False),
            ("at_most", False, True),
            ("exactly", True, True),
        ):
            amount: Amount | None = getattr(use, key)
            if amount is not None:
                self._amount(
                    f"{use.id} {key.replace('_', ' ')}",
                    (use.id,),
                    # What may be left out is left out or at least this much: a choice, no limit.
                    amount.value if is_lower and not use.optional else None,
                    amount.value if is_upper else None,
                    amount,
                    (*path, key),
                    ingredient,
                    says=Says.SIDE,
                )
        if use.share_of_mass is not None:
            self._share((use.id,), MASS, use.share_of_mass, (*path, "share_of_mass"))
        if use.share_of_bitterness is not None:
            self._share((use.id,), BITTERNESS, use.share_of_bitterness, (*path, "share_of_bitterness"))
        if use.share_of_flavour is not None:
            self._share((use.id,), FLAVOUR, use.share_of_flavour, (*path, "share_of_flavour"))

    def add_flavour(self, bottle: Bottle) -> None:
        """Keep who leads ahead of each other taste, and no taste above a share of the flavour."""
        if bottle.lead is None and bottle.flavour is None:
            return
        tastes: dict[str, FloatArray] = {}
        for index in np.flatnonzero(self.flavour):
            taste = tastes_of(self.pantry, self.materials.ids[index])
            tastes.setdefault(taste, np.zeros(len(self.flavour)))[index] = self.flavour[index]
        if bottle.lead is not None:
            lead = tastes_of(self.pantry, bottle.lead)
            if lead not in tastes:
                self.problems.add(
                    ("lead",), f"no usual dose of {bottle.lead} is known. Give it a `dose:` on your shelf."
                )
                return
            ahead = Band(LEADS_BY, None, Dimension.RATIO)
            for taste, brings in tastes.items():
                if taste != lead:
                    self._ratio(f"{bottle.lead} leads {taste}", tastes[lead], brings, ahead, ("lead",))
        if bottle.flavour is not None:
            most = Band(None, bottle.flavour, Dimension.SHARE)
            for taste, brings in tastes.items():
                self._ratio(f"{taste} share of flavour", brings, self.flavour, most, ("flavour",))

    def add_relation(self, path: KeyPath, relation: Ratio | Sum | ShareOf) -> None:
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
            self._ratio(f"{relation.numerator} to {relation.denominator}", top, bottom, relation.band, path)
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
            worth = np.array(relation.worth or np.ones(len(relation.ids)))
            self._amount(name, relation.ids, band.lower, band.upper, amount, path, first, worth=worth)

    def _amount(
        self,
        name: str,
        ids: tuple[str, ...],
        lower: float | None,
        upper: float | None,
        amount: Amount,
        path: KeyPath,
        ingredient: Ingredient,
        *,
        says: Says = Says.NAME,
        worth: FloatArray | float = 1.0,
    ) -> None:
        """Limit a mass: per litre bottled, in all, or as a share of everything weighed in."""
        if amount.basis is AmountBasis.SHARE_OF_MASS:
            self._share(ids, MASS, Band(lower, upper, None, amount.text), path)  # type: ignore[arg-type]
            return
        kg_each = weighed_kg(
            Amount(1.0, amount.basis, amount.text), ingredient, self.pantry, path, self.problems
        )
        low = -np.inf if lower is None else kg_each * lower
        high = np.inf if upper is None else kg_each * upper
        per_litre = amount.basis in (AmountBasis.MASS_PER_LITRE, AmountBasis.VOLUME_PER_LITRE)
        weights = np.zeros(len(self.number))
        weights[[self.number[one] for one in ids]] = worth
        if per_litre or self.volume_l is not None:
            size = 1.0 if per_litre else self.volume_l or 1.0
            unit = "g per L bottled" if per_litre else "g"
            self._add(
                name, path, weights, low / size, high / size, unit=unit, display=1000.0 * size, says=says
            )
            return
        # The size is not known: held to the batch that comes out.
        if np.isfinite(low):
            self._add(name, path, weights, 0.0, np.inf, batch_weight=-low, says=says)
        if np.isfinite(high):
            self._add(name, path, weights, -np.inf, 0.0, batch_weight=-high, says=says)

    def _share(self, ids: tuple[str, ...], of: str, band: Band, path: KeyPath, name: str = "") -> None:
        """Limit what some ingredients bring as a share of what all bring."""
        brings: FloatArray | None = self.flavour
        if of != FLAVOUR:
            brings = _brings_per_kg(of, self.materials, tuple(self.by_id.values()))
        if brings is None:
            self.problems.add(path, f"no ingredient here says how much {of} it brings.")
            return
        mine = np.zeros(len(brings))
        for one in ids:
            mine[self.number[one]] = brings[self.number[one]]
        self._ratio(name or f"{' + '.join(ids)} share of {of}", mine, brings, band, path)

    def _ratio(self, name: str, top: FloatArray, bottom: FloatArray, band: Band, path: KeyPath) -> None:
        """Keep ``lower <= top / bottom <= upper`` as two rows without a constant."""
        if band.lower is not None:
            self._add(name, path, top - band.lower * bottom, 0.0, np.inf)
        if band.upper is not None:
            self._add(name, path, top - band.upper * bottom, -np.inf, 0.0)

    def _add(
        self,
        name: str,
        path: KeyPath,
        weights: FloatArray,
        lower: float,
        upper: float,
        *,
        unit: str = "",
        display: float = np.nan,
        batch_weight: float = 0.0,
        says: Says = Says.NAME,
    ) -> None:
        used = np.flatnonzero(weights)
        self.limits.append(
            Limit(
                over=Over.MASSES,
                indices=used.astype(np.int32),
                weights=weights[used],
                lower=lower,
                upper=upper,
                origin=Origin(name, self.places.typed(path), self.places.value(path), says=says),
                unit=unit,
                display=display,
                batch_weight=batch_weight,
            )
        )


def _brings_per_kg(of: str, materials: Materials, ingredients: Sequence[Ingredient]) -> FloatArray | None:
    """Return what a kilogram of each ingredient brings of a mass, a measure or a content.

    None when nobody says how much of it any of them brings.
    """
    if of == MASS:
        return np.ones(len(materials.content))
    weights = measure_of(of).weights
    if weights and not measure_of(of).is_content:
        columns = [materials.column(name) for name in weights]
        return np.array(materials.content[:, columns] @ np.array(list(weights.values())))
    # Not carried unless it is a target, so it is read from the ingredients themselves.
    values = np.array([ingredient.attributes.get(of, 0.0) for ingredient in ingredients])
    return values if values.any() else None


def gone_with_parts(pantry: Pantry, names: Iterable[str]) -> frozenset[str]:
    """Add to what is gone the parts of whole things among it that nobody else sells."""
    wholes = pantry.shelf.whole if pantry.shelf else {}
    gone = set(names)
    for name in tuple(gone):
        if name not in wholes:
            continue
        others = {part for other, whole in wholes.items() if other not in gone for part in whole.parts}
        gone |= {part for part in wholes[name].parts if part not in others and not pantry.offers(part)}
    return frozenset(gone)


def gone_limits(pantry: Pantry, ingredients: Sequence[Ingredient], volume_l: float | None) -> list[Limit]:
    """Limit what is gone to nothing, and what the house makes of it to what stands there.

    Parameters
    ----------
    ingredients
        Of the question.
    volume_l
        Size of the batch where it is known.
    """
    limits = []
    for index, ingredient in enumerate(ingredients if pantry.gone else ()):
        if ingredient.id in pantry.gone:
            limits.append(
                at_most_kg(ingredient.id, index, 0.0, volume_l, f"{ingredient.id} is gone", Says.ALL)
            )
        elif missing := _made_of_gone(pantry, ingredient.id):
            left = pantry.on_hand_kg(ingredient) or 0.0
            text = f"{missing} is gone and {1000.0 * left:.0f} g left of {ingredient.id}"
            limits.append(at_most_kg(ingredient.id, index, left, volume_l, text, Says.ALL))
    return limits


def _made_of_gone(pantry: Pantry, name: str) -> str:
    """Name something gone that a house-made thing is made of, through others too; empty for none."""
    if pantry.shelf is None or name not in pantry.shelf.house_made:
        return ""
    batch = pantry.made(name).batch
    for ingredient, mass in zip(batch.ingredients, batch.used_kg, strict=True):
        if mass > 0.0:
            is_gone = ingredient.id in pantry.gone
            missing = ingredient.id if is_gone else _made_of_gone(batch.pantry, ingredient.id)
            if missing:
                return missing
    return ""


def at_most_kg(
    name: str, index: int, mass_kg: float, volume_l: float | None, text: str, says: Says = Says.NAME
) -> Limit:
    """Limit one ingredient to a mass for the whole batch; nobody's wish."""
    per_litre = mass_kg / volume_l if volume_l is not None else 0.0
    shown = 1000.0 * volume_l if volume_l is not None and mass_kg > 0.0 else np.nan
    return Limit(
        over=Over.MASSES,
        indices=np.array([index], dtype=np.int32),
        weights=np.ones(1),
        lower=-np.inf,
        upper=per_litre,
        origin=Origin(name, text, says=says),
        unit="g",
        display=shown,
        batch_weight=0.0 if volume_l is not None else -mass_kg,
        firm=True,
    )
