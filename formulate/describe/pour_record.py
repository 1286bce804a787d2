"""What `pour` answers with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from formulate.bar.costing import PriceRecord
from formulate.bar.serve import MeltRecord
from formulate.blend.profile import Profile
from formulate.describe.label_record import DrinksRecord
from formulate.describe.records import BarMeasure
from formulate.errors import Note
from formulate.files.measures import Measure, measure_of
from formulate.quantity.document import HIDDEN, Cautioned, Record, computed, in_full, shown
from formulate.rules.contents import FoundAllergen
from formulate.rules.records import LawRecord

__all__ = ["PourLine", "PourRecord", "PrebatchLine", "PrebatchRecord"]


@dataclass(frozen=True, slots=True)
class PourLine(Record):
    """One thing in a drink or on its glass.

    Attributes
    ----------
    text : str
        As typed.
    volume_l : float or None
        None for what is weighed or counted.
    mass_kg : float
        0 for a garnish with a price of its own.
    cost : float or None
        Per drink, before waste; None when a price is missing.
    after : bool
        Poured in after the ice work.
    """

    ingredient: str
    text: str = field(metadata=shown("as_written"))
    volume_l: float | None = field(metadata=shown("volume_ml"))
    mass_kg: float
    cost: float | None
    after: bool
    is_garnish: bool = field(metadata=shown("garnish"))


@dataclass(frozen=True, slots=True)
class PrebatchLine(Record):
    """One thing to measure into a batch of drinks."""

    ingredient: str
    volume_l: float | None = field(metadata=shown("volume_ml"))
    mass_kg: float
    measure: BarMeasure = field(metadata=shown(by=str))


@dataclass(frozen=True, slots=True)
class PrebatchRecord(Record):
    """A drink batched ahead, its water added up front.

    Attributes
    ----------
    lines : tuple of PrebatchLine
        The water for the melt last.
    drink : Profile
        Of the batch.
    serve_l : float
        To pour for one.
    at_service : tuple of PourLine
        What is added to each glass.
    """

    size_text: str = field(metadata=shown("size"))
    lines: tuple[PrebatchLine, ...]
    drink: Profile = field(metadata=shown("", only=("volume_l", "strength_pct_vol")))
    serves: float
    serve_l: float = field(metadata=shown("serve_ml"))
    at_service: tuple[PourLine, ...]


def _bands(aims: Mapping[str, tuple[float, float]]) -> list[dict[str, Any]]:
    return [{"target": name, "lower": lower, "upper": upper} for name, (lower, upper) in aims.items()]


@dataclass(frozen=True, kw_only=True)
class PourRecord(Cautioned):
    """One drink worked out.

    Attributes
    ----------
    poured_l, poured_strength_pct_vol : float
        Over the ice.
    served : Profile
        In the glass, at 20 °C.
    ethanol_kg : float
        Pure ethanol in the glass.
    strength_range, volume_range : (float, float)
        What more and less melt would give, % vol and litres.
    aims : mapping of str to (float, float)
        What it must be in the glass, by target; the upper end may be infinite.
    price : PriceRecord or None
        None when a price is missing.
    drinks : tuple of DrinksRecord
        Standard drinks in the glass, by country.
    allergens : tuple of FoundAllergen
        In the glass and on it.
    law : LawRecord
        How near it comes to the limits on restricted substances, the glass as the serve.
    """

    status: str = field(default="predicted", init=False)
    name: str
    method: str
    lines: tuple[PourLine, ...]
    poured_l: float = field(metadata=shown("poured.volume_ml"))
    poured_strength_pct_vol: float = field(metadata=shown("poured.strength_pct_vol"))
    melt: MeltRecord
    served: Profile = field(metadata=HIDDEN)
    ethanol_kg: float = field(metadata=HIDDEN)
    strength_range: tuple[float, float] = field(metadata=HIDDEN)
    volume_range: tuple[float, float] = field(metadata=HIDDEN)
    glass_l: float | None = field(metadata=HIDDEN)
    aims: Mapping[str, tuple[float, float]] = field(metadata=shown("targets", by=_bands))
    price: PriceRecord | None
    batch: PrebatchRecord | None
    notes: tuple[Note, ...] = field(metadata=HIDDEN)
    drinks: tuple[DrinksRecord, ...] = field(
        metadata=shown("standard_drinks", only=("country", "ethanol_g", "per_serve", "source"))
    )
    allergens: tuple[FoundAllergen, ...] = field(metadata=shown(only=("id", "name", "brought_by", "source")))
    cautions: tuple[Note, ...] = field(metadata=shown(by=in_full))
    law: LawRecord = field(metadata=shown(""))

    @property
    def contents(self) -> tuple[Measure, ...]:
        """What ingredients bring that the file asks for."""
        return tuple(measure for name in self.aims if (measure := measure_of(name)).is_content)

    @property
    @computed("served", after="served")
    def _served(self) -> dict[str, float]:
        served = self.served
        return {
            "volume_ml": float(served.volume_l) * 1000.0,
            "mass_g": float(served.mass_kg) * 1000.0,
            "strength_pct_vol": served.strength_pct_vol,
            "strength_low_pct_vol": self.strength_range[0],
            "strength_high_pct_vol": self.strength_range[1],
            "sugar_g_l": served.sugar_g_l,
            "acid_g_l": served.acid_g_l,
            "bitterness_value": served.bitterness_value,
            **{measure.key: served.value(measure.name) for measure in self.contents},
            "ethanol_g": self.ethanol_kg * 1000.0,
        }
