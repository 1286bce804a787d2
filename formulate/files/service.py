"""What a bar says of its service and its taxes, on the shelf: dashes, melt, waste; what prices hold."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo

from formulate.files.fields import (
    Day,
    FrozenDict,
    Price,
    Share,
    VolumeL,
    did_you_mean,
    from_file,
    shown,
    written,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.quantity import Money
from formulate.quantity.pours import Melt, parse_melt

__all__ = ["METHODS", "Duty", "MeltText", "Method", "Service", "Tax", "TaxIn"]

Method = Literal["stirred", "shaken", "thrown", "built", "batched"]
METHODS: tuple[Method, ...] = ("stirred", "shaken", "thrown", "built", "batched")
TaxIn = Literal["with", "without"]


def _melt(value: object, info: ValidationInfo) -> object:
    return parse_melt(value) if isinstance(value, str) or from_file(info) else value


def _melt_share(value: object, info: ValidationInfo) -> object:
    melt = _melt(value, info)
    if isinstance(melt, Melt) and not melt.is_share:
        raise ValueError(
            f"for every drink of a method a share of what is poured is needed, got {shown(melt.text)}. "
            "Write e.g. 32 %, or put the grams in the drink's own file."
        )
    return melt


def _method(value: object) -> object:
    if value not in METHODS:
        raise ValueError(f"unknown method, got {shown(value)}. {did_you_mean(str(value), METHODS)}")
    return value


MeltText = Annotated[Melt, BeforeValidator(_melt), written("28 g", "35 %")]
MeltShare = Annotated[Melt, BeforeValidator(_melt_share), written("32 %")]
MethodWord = Annotated[Method, BeforeValidator(_method)]


class Service(Frozen):
    """How drinks are poured here; the bar's own figures."""

    dash_l: Annotated[VolumeL, Field(gt=0)] = Field(
        default=0.0009,
        validation_alias="dash",
        description="One dash; default 0.9 mL, common practice: weigh ten of yours.",
        examples=["0.9 mL"],
    )
    drop_l: Annotated[VolumeL, Field(gt=0)] = Field(
        default=0.00005,
        validation_alias="drop",
        description="One drop; default 0.05 mL, common practice: weigh fifty of yours.",
        examples=["0.05 mL"],
    )
    melt: FrozenDict[MeltShare] = Field(
        default_factory=FrozenMap,
        description="Method to the melt weighed here, as a share of what is poured over the ice.",
        examples=["{stirred: 32 %}"],
    )
    waste_share: Share = Field(
        default=0.0,
        validation_alias="waste",
        description="Spilt, overpoured and sent back, on top of what a drink uses.",
        examples=["3 %"],
    )
    waste_of: FrozenDict[Share] = Field(
        default_factory=FrozenMap,
        description="Ingredient, or family of ingredients, of which more or less is wasted than usual.",
        examples=["{juice: 10 %, lemon-juice: 15 %}"],
    )
    target_cost_share: Annotated[Share, Field(gt=0)] | None = Field(
        default=None,
        validation_alias="target_cost",
        description="What a drink may cost, of its price without tax.",
        examples=["22 %"],
    )

    def waste_of_one(self, name: str, family: str) -> float:
        """Return the share of one ingredient that is wasted."""
        return self.waste_of.get(name, self.waste_of.get(family, self.waste_share))


def _per_litre(rate: Money) -> Money:
    if rate.per != "L":
        raise ValueError(f"is money per litre of pure alcohol, got {shown(rate.text)}. Write e.g. 13 EUR/L.")
    return rate


class Duty(Frozen):
    """What the bar found out about duty on what it makes."""

    rate: Annotated[Price, AfterValidator(_per_litre)] = Field(
        description="Per litre of pure alcohol.", examples=["13 EUR/L"]
    )
    seen: Day | None = Field(default=None, description="Day it was looked up.", examples=["2026-01-05"])


class Tax(Frozen):
    """What taxes the prices of a shelf hold, and who pays them in the end."""

    buying_share: Share = Field(
        default=0.0,
        validation_alias="buying",
        description="On what suppliers ask, unless an offer says otherwise.",
        examples=["20 %"],
    )
    offers: TaxIn = Field(default="without", description="Whether offers are priced with or without it.")
    reclaimed: bool = Field(
        default=True, description="Whether the bar gets it back; then costs are counted without."
    )
    selling_share: Share = Field(
        default=0.0, validation_alias="selling", description="On what guests pay.", examples=["20 %"]
    )
    menu_prices: TaxIn = Field(
        default="with", description="Whether prices on the menu are with or without it."
    )
