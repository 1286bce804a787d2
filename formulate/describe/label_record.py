"""Figures for a label, as a record."""

from __future__ import annotations

from dataclasses import dataclass, field

from formulate.errors import Note
from formulate.files.standards import Provenance, load_rows
from formulate.files.trade_rows import DrinkRow
from formulate.physics.components import ETHANOL_KG_L
from formulate.quantity.document import HIDDEN, Record, Result, computed, shown
from formulate.rules.contents import FoundAllergen
from formulate.rules.records import CategoryRecord, LawRecord

__all__ = ["DrinksRecord", "EnergyRecord", "LabelIngredient", "LabelRecord", "standard_drinks"]


@dataclass(frozen=True, slots=True)
class LabelIngredient(Record):
    """One line of the list of ingredients.

    Attributes
    ----------
    mass_kg : float
        Weighed in, for the whole batch.
    made_of : tuple of str
        Names of what a house-made thing is made of, most first; empty for the rest.
    to_name : tuple of str
        What it brings that the law wants named as such: quinine.
    """

    id: str
    name: str
    mass_kg: float
    made_of: tuple[str, ...] = ()
    to_name: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EnergyRecord(Record):
    """Energy of 100 mL.

    Attributes
    ----------
    parts : tuple of (str, float, float)
        Row of the standards, g in 100 mL and kJ.
    source : str
        With how far to trust it.
    """

    kj: float
    kcal: float
    parts: tuple[tuple[str, float, float], ...] = field(metadata=shown(rows=("of", "grams", "kj")))
    source: Provenance


@dataclass(frozen=True, slots=True)
class DrinksRecord(Record):
    """How many drinks or units a serve and a bottle are, as one country counts.

    Attributes
    ----------
    ethanol_g : float
        In one.
    """

    country: str
    ethanol_g: float
    per_serve: float
    per_bottle: float | None
    source: Provenance


@dataclass(frozen=True, kw_only=True)
class LabelRecord(Result):
    """Figures for a label.

    Attributes
    ----------
    jurisdiction : str or None
        Whose law was asked; None for all.
    strength_text : str
        One decimal, as it is printed.
    strength_pct_vol : float
        As calculated.
    tolerances : tuple of (str, float, str)
        Where, % vol either way, source.
    volume_l : float
        Of the batch.
    bottle_l : float or None
        What one bottle says it holds.
    bottles : int or None
        Full ones.
    short : tuple of (str, float, str)
        Where, litres that a bottle may hold less, source.
    ingredients : tuple of LabelIngredient
        Most first.
    keep : str
        How a drink with little or no alcohol is kept, in words; empty where spirit keeps it.
    quinine_source : Provenance or None
        Of the rule that quinine is named; None where there is none in it.
    law : LawRecord or None
        How near it comes to the limits on restricted substances.
    """

    status: str = field(default="label", init=False)
    name: str
    jurisdiction: str | None
    categories: tuple[CategoryRecord, ...]
    strength_text: str = field(metadata=shown("strength.printed", by="{} % vol".format))
    strength_pct_vol: float = field(metadata=shown("strength.calculated_pct_vol"))
    tolerances: tuple[tuple[str, float, Provenance], ...] = field(
        metadata=shown("strength.tolerances", rows=("jurisdiction", "pct_vol", "source"))
    )
    volume_l: float = field(metadata=shown("volume.batch_l"))
    bottle_l: float | None = field(metadata=shown("volume.bottle_l"))
    bottles: int | None = field(metadata=shown("volume.bottles"))
    short: tuple[tuple[str, float, Provenance], ...] = field(
        metadata=shown("volume.may_hold_less", rows=("jurisdiction", "litres", "source"))
    )
    ingredients: tuple[LabelIngredient, ...]
    allergens: tuple[FoundAllergen, ...]
    energy: EnergyRecord = field(metadata=shown("energy_per_100_ml"))
    serve_l: float = field(metadata=shown("serve.volume_l"))
    drinks: tuple[DrinksRecord, ...] = field(metadata=shown("serve.drinks"))
    keep: str = field(default="", metadata=HIDDEN)
    keep_source: Provenance | None = field(default=None, metadata=HIDDEN)
    quinine_source: Provenance | None = None
    law: LawRecord | None = field(default=None, metadata=shown(""))
    notes: tuple[Note, ...] = field(metadata=shown("warnings"))

    @property
    @computed("serve.kj", after="serve_l")
    def serve_kj(self) -> float:
        """Energy of a serve."""
        return self.energy.kj * self.serve_l * 10.0

    @property
    @computed("serve.kcal", after="serve_kj")
    def serve_kcal(self) -> float:
        """The same in kilocalories."""
        return self.energy.kcal * self.serve_l * 10.0

    @property
    @computed("keep", after="keep")
    def _kept(self) -> dict[str, str] | None:
        return {"text": self.keep, "source": self.keep_source} if self.keep_source else None


def standard_drinks(
    strength: float, serve_l: float, bottle_l: float | None, where: str | None
) -> tuple[DrinksRecord, ...]:
    """Count a serve and a bottle as each country counts.

    Parameters
    ----------
    strength : float
        % vol.
    where : str or None
        Jurisdiction; all for None.
    """
    ethanol_g_l = strength / 100.0 * ETHANOL_KG_L * 1000.0
    return tuple(
        DrinksRecord(
            country=row.country,
            ethanol_g=row.ethanol_kg * 1000.0,
            per_serve=ethanol_g_l * serve_l / (row.ethanol_kg * 1000.0),
            per_bottle=None if bottle_l is None else ethanol_g_l * bottle_l / (row.ethanol_kg * 1000.0),
            source=row.provenance,
        )
        for row in load_rows("standard-drinks", DrinkRow).holding_in(where)
    )
