"""What `pour` answers with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from formulate.bar.costing import PriceRecord
from formulate.bar.serve import MeltRecord
from formulate.blend.profile import Profile
from formulate.describe.label_record import DrinksRecord
from formulate.errors import Note
from formulate.rules.allergens import FoundAllergen
from formulate.rules.records import LawRecord

__all__ = ["PourLine", "PourRecord", "PrebatchLine", "PrebatchRecord"]


@dataclass(frozen=True, slots=True)
class PourLine:
    """One thing in a drink or on its glass.

    Attributes
    ----------
    ingredient : str
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
    is_garnish : bool
    """

    ingredient: str
    text: str
    volume_l: float | None
    mass_kg: float
    cost: float | None
    after: bool
    is_garnish: bool


@dataclass(frozen=True, slots=True)
class PrebatchLine:
    """One thing to measure into a batch of drinks.

    Attributes
    ----------
    ingredient : str
    volume_l : float or None
    mass_kg : float
    measure : str
        As a bar measures it.
    """

    ingredient: str
    volume_l: float | None
    mass_kg: float
    measure: str


@dataclass(frozen=True, slots=True)
class PrebatchRecord:
    """A drink batched ahead, its water added up front.

    Attributes
    ----------
    size_text : str
    lines : tuple of PrebatchLine
        The water for the melt last.
    drink : Profile
        Of the batch.
    serves : float
    serve_l : float
        To pour for one.
    at_service : tuple of PourLine
        What is added to each glass.
    """

    size_text: str
    lines: tuple[PrebatchLine, ...]
    drink: Profile
    serves: float
    serve_l: float
    at_service: tuple[PourLine, ...]


@dataclass(frozen=True)
class PourRecord:
    """One drink worked out.

    Attributes
    ----------
    name, method : str
    lines : tuple of PourLine
    poured_l, poured_strength_pct_vol : float
        Over the ice.
    melt : MeltRecord
    served : Profile
        In the glass, at 20 °C.
    ethanol_kg : float
        Pure ethanol in the glass.
    strength_range, volume_range : (float, float)
        What more and less melt would give, % vol and litres.
    glass_l : float or None
    aims : mapping of str to (float, float)
        What it must be in the glass, by target; the upper end may be infinite.
    price : PriceRecord or None
        None when a price is missing.
    batch : PrebatchRecord or None
    drinks : tuple of DrinksRecord
        Standard drinks in the glass, by country.
    allergens : tuple of FoundAllergen
        In the glass and on it.
    notes, cautions : tuple of Note
    law : LawRecord
        How near it comes to the limits on restricted substances, the glass as the serve.
    """

    name: str
    method: str
    lines: tuple[PourLine, ...]
    poured_l: float
    poured_strength_pct_vol: float
    melt: MeltRecord
    served: Profile
    ethanol_kg: float
    strength_range: tuple[float, float]
    volume_range: tuple[float, float]
    glass_l: float | None
    aims: Mapping[str, tuple[float, float]]
    price: PriceRecord | None
    batch: PrebatchRecord | None
    drinks: tuple[DrinksRecord, ...]
    allergens: tuple[FoundAllergen, ...]
    notes: tuple[Note, ...]
    cautions: tuple[Note, ...]
    law: LawRecord
