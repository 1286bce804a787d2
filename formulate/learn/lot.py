"""A batch that is there: from a jar or recipe file, a gauge reading, or figures somebody gives.

Where only figures are known, the sugar counts as sucrose and the acid as citric acid; what nobody
said (acid, bitterness, an attribute) is unknown, not zero.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.opening import open_pantry
from formulate.bar.restricted import restricted_in
from formulate.bar.vessels import fills_of
from formulate.blend.materials import LIQUOR
from formulate.errors import Note, RangeError, ReadingError, SpecError, SpecProblem
from formulate.files.ingredient import Bitterness, Ingredient
from formulate.files.jar import Jar
from formulate.files.loading import load_any
from formulate.files.measures import ACID, BITTERNESS, STRENGTH, SUGAR, measure_of
from formulate.files.models import Source
from formulate.files.reading import ReadingFile
from formulate.files.recipe import Recipe
from formulate.learn.gauge import gauge
from formulate.learn.jar import fit_jar
from formulate.learn.readings import GaugeRecord, readings_of_file
from formulate.physics.components import ETHANOL_KG_L
from formulate.physics.gauging import masses_of_litre
from formulate.physics.mixture import (
    COMPONENTS,
    INDEX,
    SUGARS,
    acid_g_l,
    strength_pct_vol,
    sugar_g_l,
    volume_and_partials,
    volume_l,
)
from formulate.quantity import Amount, AmountBasis
from formulate.rules.contents import Content, contents_of
from formulate.rules.law_notes import own_content_notes

__all__ = ["Lot", "lot_of_batch", "lot_of_figures", "lot_of_file"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Lot:
    """So much of a drink.

    Attributes
    ----------
    liquor_kg : ndarray, shape (15,)
        Component masses of all of it.
    bitterness_value : float or None
        Of the drink; None when unknown.
    attributes_g_l : mapping or None
        By name; None when nothing is known of any.
    restricted_g_kg : mapping or None
        Restricted substances at worst, by name; None when nothing is known of any.
    content_notes : tuple of Note
        By whose figures they were counted, and what was not.
    bottle_path : Path or None
        The bottle file it shall become, where the file names one.
    source : str
        How it is known: `jar`, `recipe`, `reading` or `figures`.
    doubt_pct_vol, doubt_sugar_g_l : float or None
        To how much a reading tells its strength and sugar.
    knows_acid : bool
        False where nobody said how much acid there is; then none is in `liquor_kg`.
    contents : tuple of Content or None
        What went into it; None when only its figures are known.
    vessel : str
        What its file says the last step is done in; empty where it names none that the shelf has.
    holds_l : float
        That vessel, to the brim.
    """

    name: str
    liquor_kg: FloatArray
    bitterness_value: float | None = None
    attributes_g_l: dict[str, float] | None = None
    bottle_path: Path | None = None
    source: str = "figures"
    doubt_pct_vol: float | None = None
    doubt_sugar_g_l: float | None = None
    knows_acid: bool = True
    restricted_g_kg: Mapping[str, float] | None = None
    content_notes: tuple[Note, ...] = ()
    contents: tuple[Content, ...] | None = None
    vessel: str = ""
    holds_l: float = 0.0

    @property
    def mass_kg(self) -> float:
        """Mass of all of it."""
        return float(self.liquor_kg.sum())

    @property
    def volume_l(self) -> float:
        """Volume at 20 degrees Celsius."""
        return float(volume_l(self.liquor_kg))

    @property
    def strength_pct_vol(self) -> float:
        """Strength at 20 degrees Celsius."""
        return float(strength_pct_vol(self.liquor_kg))

    @property
    def sugar_g_l(self) -> float:
        """Sum of the sugars."""
        return float(sugar_g_l(self.liquor_kg))

    @property
    def acid_g_l(self) -> float:
        """Acid as citric acid."""
        return float(acid_g_l(self.liquor_kg))

    def doubt(self, measure: str) -> float:
        """Return to how much a reading tells a measure, in its unit; 0 where nobody read it."""
        told = {STRENGTH: self.doubt_pct_vol, SUGAR: self.doubt_sugar_g_l}
        return told.get(measure) or 0.0

    def knows(self, measure: str) -> bool:
        """Tell whether the value of a measure in this lot is known."""
        if measure == BITTERNESS:
            return self.bitterness_value is not None
        if measure == ACID:
            return self.knows_acid
        return not measure_of(measure).is_content or self.attributes_g_l is not None

    def as_ingredient(self, ingredient_id: str) -> Ingredient:
        """Return the lot as something to blend from, all of it dissolved already."""
        mass = self.mass_kg
        composition = {
            name: float(part) / mass
            for name, part in zip(COMPONENTS, self.liquor_kg, strict=True)
            if part > 0.0
        }
        bitterness = None
        if self.bitterness_value:
            # A gram of the drink as such: value of the drink times litres per kilogram.
            value = self.bitterness_value * self.volume_l / mass
            bitterness = Bitterness(value=value, low=None, high=None, extracted=1.0)
        attributes = {
            name: content * self.volume_l / mass for name, content in (self.attributes_g_l or {}).items()
        }
        return Ingredient(
            id=ingredient_id,
            name=self.name,
            family="batch",
            composition=composition,
            bitterness=bitterness,
            attributes=attributes,
            restricted=dict(self.restricted_g_kg or {}),
        )

    def reading(self, strength_pct: float, sugar: float) -> Lot:
        """Return a lot of the same volume and with the same else in it, but of another strength and sugar."""
        litre = self.liquor_kg / self.volume_l
        sugars = [INDEX[name] for name in SUGARS]
        litre[INDEX["ethanol"]] = strength_pct / 100.0 * ETHANOL_KG_L
        total = litre[sugars].sum()
        if total > 0.0:
            litre[sugars] *= sugar / 1000.0 / total
        else:
            litre[INDEX["sucrose"]] = sugar / 1000.0
        for _ in range(30):
            volume, partials = volume_and_partials(litre, check=False)
            litre[INDEX["water"]] = max(
                litre[INDEX["water"]] + (1.0 - volume) / partials[INDEX["water"]], 1e-9
            )
        # Read by its figures now: nothing else of how it was known before holds.
        read = replace(self, liquor_kg=litre * self.volume_l, source="figures")
        return replace(read, doubt_pct_vol=None, doubt_sugar_g_l=None)


def lot_of_figures(
    volume: float,
    strength_pct: float,
    sugar: float,
    acid: float | None = None,
    bitterness_value: float | None = None,
    name: str = "this batch",
) -> Lot:
    """Take a batch by its figures.

    Parameters
    ----------
    volume : float
        Litres at 20 degrees Celsius.
    strength_pct, sugar : float
        % vol, g/L as sucrose.
    acid : float, optional
        g/L as citric acid; unknown if not given.
    bitterness_value : float, optional
        Unknown if not given.

    Raises
    ------
    ReadingError
        If no drink has these figures.
    """
    litre = masses_of_litre(strength_pct, sugar, acid or 0.0)
    if not np.isfinite(litre).all():
        raise ReadingError(
            f"No drink has {strength_pct:g} % vol and {sugar:g} g/L of sugar: "
            "there would be no room for water."
        )
    return Lot(name, litre * volume, bitterness_value, knows_acid=acid is not None)


def lot_of_file(path: Source, today: date | None = None) -> Lot:
    """Take a batch from a jar, recipe or reading file.

    Raises
    ------
    SpecError
        If a file is wrong, is of another kind, or holds readings that belong to no drink.
    """
    model = load_any(path)
    if isinstance(model, ReadingFile):
        return _lot_of_reading(model)
    if not isinstance(model, Recipe):
        message = "a jar, recipe or reading file is needed here. Give what is to be put right."
        raise SpecError([SpecProblem(model.places.value(()), "", message)])
    pantry = open_pantry(model.shelf_path, model.places, today=today)
    batch = weigh_batch(model, pantry)
    if isinstance(model, Jar):
        batch, _ = fit_jar(model, batch)
    return lot_of_batch(model, batch)


def lot_of_batch(recipe: Recipe, batch: BarBatch) -> Lot:
    """Take a batch that was weighed out.

    Parameters
    ----------
    recipe : Recipe
        Or a jar, whose batch is fitted to what came out.
    batch : BarBatch
        What it makes.
    """
    assert batch.chain.materials.carried[LIQUOR] == BITTERNESS
    pantry = batch.pantry
    used = [ingredient.id for ingredient, _ in batch.holdings()]
    last = [fill for fill in fills_of(batch, pantry) if fill.step == batch.specs[-1].name]
    return Lot(
        name=recipe.name,
        liquor_kg=batch.bottled[:LIQUOR].copy(),
        bitterness_value=float(batch.drink.bitterness_value),
        attributes_g_l={name: float(value) for name, value in batch.drink.attributes_g_l.items()},
        bottle_path=recipe.bottle_path,
        source="jar" if isinstance(recipe, Jar) else "recipe",
        restricted_g_kg=restricted_in(batch),
        content_notes=tuple(own_content_notes(pantry, used)),
        contents=contents_of(batch.ingredients, used, pantry),
        vessel=last[0].vessel if last else "",
        holds_l=last[0].holds_l if last else 0.0,
    )


ONE_READING = (
    "One reading tells strength or sugar only where what else is dissolved is known: fruit leaves 20 to "
    "30 g/L, and that alone would put strength 6 to 11 % vol off. Say it: {key}, or {none} for spirit, "
    "sugar and water; or read density and refraction both."
)
"""Extract of wines and fruit infusions, and what it does by the density model; extract from memory."""


def gauge_of_file(file: ReadingFile) -> GaugeRecord:
    """Work out a reading file.

    Raises
    ------
    SpecError
        If its readings belong to no drink, or lie beyond what is published.
    """
    one = (file.density is None) != (file.refraction is None)
    if one and "solids_g_l" not in file.model_fields_set:
        key = "refraction" if file.density is None else "density"
        text = ONE_READING.format(key="`solids: 25 g/L`", none="`solids: 0 g/L`")
        raise SpecError([file.places.problem((key,), text)])
    try:
        return gauge(readings_of_file(file))
    except (ReadingError, RangeError) as error:
        key = "density" if file.refraction is None else "refraction"
        raise SpecError([file.places.problem((key,), str(error))]) from error


def _lot_of_reading(file: ReadingFile) -> Lot:
    record = gauge_of_file(file)
    litre = masses_of_litre(record.strength.value, record.sugar.value, file.acid_g_l or 0.0, file.solids_g_l)
    return Lot(
        file.name,
        litre * _litres(file, file.amount, float(litre.sum())),
        bottle_path=file.bottle_path,
        source="reading",
        doubt_pct_vol=record.strength.expanded,
        doubt_sugar_g_l=record.sugar.expanded,
        knows_acid=file.acid_g_l is not None,
    )


def _litres(file: ReadingFile, amount: Amount | None, density_kg_l: float) -> float:
    if amount is None:
        message = "how much there is of it is not said. Add `amount: 4.4 L`."
        raise SpecError([file.places.problem((), message, key=True)])
    if not amount.value > 0.0:
        message = f"must be above zero, got {amount.text}. Say how much there is."
        raise SpecError([file.places.problem(("amount",), message)])
    if amount.basis is AmountBasis.VOLUME:
        return amount.value
    if amount.basis is AmountBasis.MASS:
        return amount.value / density_kg_l
    message = f"must be a volume or a weight, got {amount.text}. Write e.g. 4.4 L."
    raise SpecError([file.places.problem(("amount",), message)])
