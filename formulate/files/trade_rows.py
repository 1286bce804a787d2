"""Rows of the standards that are no limits on substances: labels, bottles, sweetness, keeping, fire."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Self

from pydantic import Field, model_validator

from formulate.files.fields import (
    ConcentrationGL,
    ContentGPerKg,
    Day,
    MassFraction,
    MassKg,
    PlainNumber,
    Price,
    Share,
    StrengthBand,
    StrengthPctVol,
    TemperatureC,
    Text,
    TimeH,
    Tuple,
    VolumeL,
)
from formulate.files.issues import Issue, IssuesError
from formulate.files.standards import Row

__all__ = [
    "DrinkRow",
    "DutyRow",
    "FillRow",
    "FlashPointRow",
    "KeepingRow",
    "LabelStrengthRow",
    "MethanolRow",
    "QuinineRow",
    "ServeMeasureRow",
    "SugarTermRow",
]


class LabelStrengthRow(Row):
    """By how much a label may be off, either way."""

    drinks: Text = Field(description="Which drinks.")
    tolerance_pct_vol: StrengthPctVol = Field(
        validation_alias="tolerance", description="Either way.", examples=["0.3 % vol"]
    )


class FillRow(Row):
    """By how much less than it says a bottle of some size may hold: a share of that, or a volume."""

    from_l: Annotated[VolumeL, Field(gt=0)] = Field(validation_alias="from", description="Smallest bottle.")
    up_to_l: VolumeL | None = Field(default=None, validation_alias="up_to", description="Largest bottle.")
    tolerance_share: Share | None = Field(default=None, description="A share of what it says.")
    tolerance_l: VolumeL | None = Field(default=None, validation_alias="tolerance", description="A volume.")

    @model_validator(mode="after")
    def _one_tolerance(self) -> Self:
        if (self.tolerance_share is None) == (self.tolerance_l is None):
            raise IssuesError([Issue((), "needs one of tolerance and tolerance_share. Keep one.")])
        return self

    def short_l(self, says_l: float) -> float:
        """Return by how much a bottle that says so much may hold less, in litres."""
        return says_l * self.tolerance_share if self.tolerance_share is not None else self.tolerance_l or 0.0


class DrinkRow(Row):
    """What one drink or unit is."""

    country: Text = Field(description="Where it is counted so.")
    ethanol_kg: Annotated[MassKg, Field(gt=0)] = Field(
        validation_alias="ethanol", description="Pure ethanol.", examples=["10 g"]
    )


class DutyRow(Row):
    """Duty on drinks of some strength, or who may make them."""

    rate: Price | None = Field(
        default=None, description="Money per litre of pure alcohol.", examples=["13 EUR/L"]
    )
    from_pct_vol: StrengthPctVol = Field(default=0.0, validation_alias="from", description="Weakest drink.")
    up_to_pct_vol: StrengthPctVol | None = Field(
        default=None, validation_alias="up_to", description="Strongest drink."
    )
    since: Day | None = Field(default=None, description="Day from which it holds.")
    until: Day | None = Field(default=None, description="Last day on which it holds.")

    @model_validator(mode="after")
    def _by_the_litre(self) -> Self:
        if self.rate is not None and self.rate.per != "L":
            raise IssuesError([Issue(("rate",), "must be money per litre of pure alcohol: 13 EUR/L.")])
        return self

    def is_on(self, strength_pct_vol: float, today: date) -> bool:
        """Tell whether a drink of this strength pays this rate."""
        if self.rate is None or (self.since is not None and today < self.since):
            return False
        if self.until is not None and today > self.until:
            return False
        most = self.up_to_pct_vol
        return self.from_pct_vol <= strength_pct_vol and (most is None or strength_pct_vol <= most)


class ServeMeasureRow(Row):
    """In which measures something is served."""

    measures: Annotated[Tuple[VolumeL], Field(min_length=1)] = Field(
        description="One each.", examples=["25 mL"]
    )


class QuinineRow(Row):
    """What is said of quinine; most rows limit it."""

    most_g_kg: ContentGPerKg | None = Field(default=None, validation_alias="most", examples=["83 mg/kg"])


class MethanolRow(Row):
    """Methanol in a spirit, g per litre of pure alcohol."""

    spirit: Text = Field(description="Which spirit.")
    most_g_l_pure_alcohol: ConcentrationGL | None = Field(
        default=None, validation_alias="most_per_litre_of_pure_alcohol", examples=["10 g/L"]
    )


class KeepingRow(Row):
    """What a drink must be like to keep, and how long it then does."""

    delle_at_least: Annotated[PlainNumber, Field(gt=0)] | None = Field(
        default=None, description="Sugar in g/L over 10, and 4.5 times % vol, added up."
    )
    strength: StrengthBand | None = Field(default=None, description="Strength.")
    ph_below: Annotated[PlainNumber, Field(gt=0, le=14)] | None = Field(default=None, description="pH.")
    sugar_at_least: MassFraction | None = Field(default=None, description="Dissolved, by mass.")
    keeps_h: TimeH | None = Field(default=None, validation_alias="keeps", description="At the least.")
    cold: bool = Field(default=False, description="Whether that is in the fridge.")


class FlashPointRow(Row):
    """Where spirit catches fire."""

    ethanol: MassFraction = Field(description="In ethanol and water, by mass.", examples=["20 % w/w"])
    flash_point_c: TemperatureC = Field(validation_alias="flash_point", examples=["36 °C"])


class SugarTermRow(Row):
    """A word for sweetness, and the sugar it stands for, as invert sugar."""

    term: Text = Field(description="The word.")
    drinks: Text = Field(description="On which drinks.")
    sugar_from_g_l: ConcentrationGL | None = Field(default=None, validation_alias="sugar_from")
    sugar_below_g_l: ConcentrationGL | None = Field(default=None, validation_alias="sugar_below")
    share_below: MassFraction | None = Field(default=None, description="Of the finished product, by mass.")
