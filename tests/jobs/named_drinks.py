"""Drinks held against the names of the law: by figures and ingredients, or as a bottle file."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from formulate.bar.pantry import Pantry
from formulate.blend.batch import Batch
from formulate.blend.profile import Profile
from formulate.files.ingredient import Ingredient
from formulate.files.library import Library
from formulate.rules.categories import categories_of
from formulate.rules.contents import contents_of
from formulate.rules.records import CategoryRecord
from tests.batches import batch_of, said_to_be

__all__ = ["FRUIT", "LIBRARY", "PANTRY", "bottle", "drink_of", "held_by", "held_in", "kirsch", "own"]

LIBRARY = Library.built_in()
PANTRY = Pantry(None, LIBRARY)
FRUIT = "at_least: 150 g per L bottled"

SHELF = """\
currency: EUR
offers:
  vodka-40: {price: 14 EUR/L}
  gin-40: {price: 20 EUR/L}
  neutral-spirit-96: {price: 25 EUR/L}
  white-sugar: {price: 1.2 EUR/kg}
  blackcurrant: {price: 8 EUR/kg}
  sloe: {price: 6 EUR/kg}
  star-anise: {price: 30 EUR/kg}
  plum: {price: 3 EUR/kg}
  gentian-root: {price: 40 EUR/kg}
  sour-cherry: {price: 5 EUR/kg}
  dry-white-wine-12: {price: 5 EUR/L}
  wormwood-herb: {price: 40 EUR/kg}
"""


def drink_of(
    strength: float = 40.0,
    invert: float = 0.0,
    share_pct: float = 0.0,
    bitter: float = 0.0,
    density: float = 1000.0,
) -> Profile:
    """Describe a drink of one litre by the figures that the law asks for; the density in kg/m3."""
    return Profile(
        volume_l=1.0,
        mass_kg=density / 1000.0,
        strength_pct_vol=strength,
        sugar_g_l=share_pct / 100.0 * density,
        invert_sugar_g_l=invert,
        acid_g_l=0.0,
        bitterness_value=bitter,
        density_kg_m3=density,
        refractive_index=1.36,
        dissolved_mass_fraction=0.1,
    )


def own(name: str, family: str = "other") -> Ingredient:
    return Ingredient(id=name.replace(" ", "-"), name=name, family=family, composition={"insoluble": 1.0})


def held_by(
    drink: Profile, *ingredients: Ingredient | str, grams: float = 200.0, law: str | None = None
) -> dict[str, CategoryRecord]:
    used = [LIBRARY.get(one) if isinstance(one, str) else one for one in ingredients]
    return held_in(said_to_be(batch_of(used, np.full(len(used), grams / 1000.0)), drink), law)


def held_in(batch: Batch, law: str | None = None) -> dict[str, CategoryRecord]:
    contents = contents_of(batch.ingredients, [one.id for one in batch.ingredients], PANTRY)
    return {one.id: one for one in categories_of(batch, contents, law)}


def kirsch(name: str = "kirsch") -> Ingredient:
    return Ingredient(id=name.replace(" ", "-"), name=name, family="spirit", strength_pct_vol=40.0)


def bottle(folder: Path, category: str, *ingredients: str, more: str = "") -> Path:
    (folder / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    lines = "".join(f"  - {line}\n" for line in ("water", "white-sugar", *ingredients))
    path = folder / "bottle.yaml"
    path.write_text(
        f"name: Try\nsize: 2 L bottled\nshelf: shelf.yaml\njurisdiction: EU\ntargets:\n"
        f"  category: {category}\n{more}ingredients:\n{lines}",
        encoding="utf-8",
    )
    return path
