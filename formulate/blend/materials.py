"""Ingredients as one block of numbers: what a kilogram brings into the liquor.

Every row is an ingredient as bought. The columns of `content` are the fifteen liquor
components of `physics.mixture.COMPONENTS` followed by what is carried along without
counting as mass: bitterness and any attribute a person named.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from formulate.physics.extraction import Kinetics, class_kinetics, drawn_kinetics
from formulate.physics.mixture import COMPONENTS, INDEX, density_kg_m3
from formulate.physics.strength import mass_fraction_from_abv

if TYPE_CHECKING:
    from formulate.files.ingredient import Ingredient

__all__ = [
    "BITTERNESS",
    "LIQUOR",
    "RESTRICTED",
    "SOLID_VOLUME_L_KG",
    "Materials",
    "class_of",
    "composed_density_kg_m3",
    "composition_row",
    "density_as_bought_kg_m3",
    "gather",
    "kinetics_of",
]

FloatArray = NDArray[np.float64]

LIQUOR = len(COMPONENTS)
"""How many columns of `Materials.content` are mass of liquor."""

CLASS_OF_FAMILY = {
    "root": "root",
    "bark": "bark",
    "herb": "leaf",
    "flower": "flower",
    "spice": "seed",
    "fruit": "crushed_fruit",
}
"""How a family is extracted unless an ingredient says otherwise under `infusion`."""

DRIED_WATER = 0.3
"""A plant with less water than this, by mass, is a dried one."""

CITRUS_CLASSES = frozenset({"pith", "zest", "dried_peel"})
"""Classes whose bitterness is limonoids and naringin, not glycosides."""

BITTERNESS = "bitterness"
"""Name of the carried column for bitterness: bitterness value x extracted share / 1000."""

RESTRICTED = "restricted:"
"""What the names of the carried columns of restricted substances start with.

They count in grams, so that a milligram is not lost beside a kilogram, and are given off whole whatever
the time, warmth and strength: the worst case is what a limit is held against.
"""

SOLID_VOLUME_L_KG = 0.67
"""Volume of fruit and plant solids, used only for how full a vessel gets.

About 1500 kg/m3, the usual density of cellulose (from memory).
"""


@dataclass(frozen=True)
class Materials:
    """A list of ingredients as arrays.

    Attributes
    ----------
    ids : tuple of str
        Ingredient ids, in the order of the person's file.
    carried : tuple of str
        Names of the columns of `content`: the liquor components, then bitterness, then attributes.
    content : ndarray, shape (n, len(carried))
        Kilogram per kilogram as bought that reaches the liquor; bitterness in thousands of
        bitterness value per gram; attributes in kg per kg; restricted substances in g per kg.
    solids : ndarray, shape (n,)
        Kilogram of solid per kilogram as bought that stays in the cake.
    retention : ndarray, shape (n,)
        Kilogram of liquor the pressed cake keeps per kilogram as bought.
    dried : tuple of bool
        Which are dried plants, whose retention is given as pressed; empty for none.
    kinetics : tuple of tuple
        Per ingredient and activity (bitterness, then attributes) how it is extracted; None where it
        is simply there. Empty when no ingredient needs extracting.
    """

    ids: tuple[str, ...]
    carried: tuple[str, ...]
    content: FloatArray
    solids: FloatArray
    retention: FloatArray
    kinetics: tuple[tuple[Kinetics | None, ...], ...] = ()
    dried: tuple[bool, ...] = ()

    def column(self, name: str) -> int:
        """Return the index of a carried quantity by name."""
        return self.carried.index(name)


def composition_row(ingredient: Ingredient) -> FloatArray:
    """Mass fractions of the liquor components in an ingredient as bought.

    Parameters
    ----------
    ingredient : Ingredient
        With a composition, or with a strength (a plain spirit: water and ethanol only).

    Returns
    -------
    ndarray, shape (15,)
        kg per kg, in the order of `physics.mixture.COMPONENTS`.
    """
    row = np.zeros(LIQUOR)
    if ingredient.strength_pct_vol is not None:
        ethanol = float(mass_fraction_from_abv(ingredient.strength_pct_vol))
        row[INDEX["ethanol"]], row[INDEX["water"]] = ethanol, 1.0 - ethanol
        return row
    for name, fraction in ingredient.composition.items():
        if name in INDEX:
            row[INDEX[name]] = fraction
    return row


def density_as_bought_kg_m3(ingredient: Ingredient) -> float | None:
    """Density of an ingredient as bought, stated or computed from what it is made of.

    Returns
    -------
    float or None
        kg/m3 at 20 C. Computed only for a liquid that dissolves wholly; None when unknown.
    """
    if ingredient.density_kg_m3 is not None:
        return ingredient.density_kg_m3
    return composed_density_kg_m3(ingredient)


def composed_density_kg_m3(ingredient: Ingredient) -> float | None:
    """Density that the composition of a liquid gives, whatever density is stated beside it.

    Returns
    -------
    float or None
        kg/m3 at 20 C; None for what leaves solids behind and for dry sugars and salts.
    """
    row = composition_row(ingredient)
    liquid = row[INDEX["water"]] + row[INDEX["ethanol"]]
    if abs(row.sum() - 1.0) < 1e-6 and liquid > 0.15:
        return float(density_kg_m3(row))
    return None


def gather(
    ingredients: Sequence[Ingredient],
    attributes: Sequence[str] = (),
    restricted: Sequence[str] | None = None,
) -> Materials:
    """Lay ingredients out as arrays.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        In the order wanted.
    attributes : sequence of str
        Names of additive attributes to carry; an ingredient without one counts as zero.
    restricted : sequence of str, optional
        Restricted substances to carry; everything that any of the ingredients brings if not given.
    """
    if restricted is None:
        restricted = sorted({name for ingredient in ingredients for name in ingredient.restricted})
    carried = (*COMPONENTS, BITTERNESS, *attributes, *(RESTRICTED + name for name in restricted))
    content = np.zeros((len(ingredients), len(carried)))
    for row, ingredient in zip(content, ingredients, strict=True):
        row[:LIQUOR] = composition_row(ingredient)
        row[LIQUOR] = _bitterness_per_g(ingredient) / 1000.0
        row[LIQUOR + 1 :] = [
            *(_attribute(ingredient.attributes, name) for name in attributes),
            *(ingredient.restricted.get(name, 0.0) for name in restricted),
        ]
    return Materials(
        ids=tuple(ingredient.id for ingredient in ingredients),
        carried=carried,
        content=content,
        solids=np.clip(1.0 - content[:, :LIQUOR].sum(axis=1), 0.0, 1.0),
        retention=np.array([ingredient.retention_kg_per_kg for ingredient in ingredients], dtype=float),
        kinetics=tuple(
            (*_kinetics(ingredient, attributes), *(None for _ in restricted)) for ingredient in ingredients
        ),
        dried=tuple(_is_dried(ingredient) for ingredient in ingredients),
    )


def class_of(ingredient: Ingredient) -> str | None:
    """Return how a plant is extracted, such as ``root``; None for what needs no extracting.

    Parameters
    ----------
    ingredient : Ingredient
        What it says itself under `infusion`, else by its family.
    """
    if ingredient.infusion is not None:
        return ingredient.infusion.like
    return CLASS_OF_FAMILY.get(ingredient.family)


def _is_dried(ingredient: Ingredient) -> bool:
    """Say whether a plant is dried: it keeps liquor and holds little water of its own."""
    return ingredient.retention_kg_per_kg > 0.0 and ingredient.composition.get("water", 0.0) < DRIED_WATER


def kinetics_of(ingredient: Ingredient, substance: str | None = None) -> Kinetics | None:
    """Return how an ingredient gives up one group of substances; None for what needs no extracting.

    Parameters
    ----------
    ingredient : Ingredient
        What the bar tried itself comes first, then its own time constant, then its class and cut.
    substance : str, optional
        A key of `physics.extraction.EQUILIBRIUM`; what its class is mostly infused for if not given.
    """
    infusion, plant_class = ingredient.infusion, class_of(ingredient)
    if plant_class is None:
        return None
    kinetics = class_kinetics(plant_class, substance, None if infusion is None else infusion.cut)
    if infusion is not None and infusion.drawn is not None:
        drawn = infusion.drawn
        return drawn_kinetics(kinetics, drawn.share, drawn.time_h, drawn.temperature_c)
    if infusion is not None and infusion.time_constant_h is not None:
        own = f"given with {ingredient.id}"
        return replace(
            kinetics,
            time_constant_h=infusion.time_constant_h,
            reference_c=20.0,
            source=own,
            confidence="measured here",
        )
    return kinetics


def _kinetics(ingredient: Ingredient, attributes: Sequence[str]) -> tuple[Kinetics | None, ...]:
    """Say how each activity of an ingredient comes out; None for what needs no extracting."""
    bitter = "limonoid" if class_of(ingredient) in CITRUS_CLASSES else "bitter_glycoside"
    colour = ("anthocyanin" if name == "anthocyanin" else "water_soluble" for name in attributes)
    return tuple(kinetics_of(ingredient, substance) for substance in (bitter, *colour))


def _bitterness_per_g(ingredient: Ingredient) -> float:
    if ingredient.bitterness is None:
        return 0.0
    return ingredient.bitterness.value * ingredient.bitterness.extracted


def _attribute(attributes: Mapping[str, float], name: str) -> float:
    return attributes.get(name, 0.0) / 1000.0
