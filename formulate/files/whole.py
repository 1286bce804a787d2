"""Whole things with parts: nobody sells pith, so a fruit is bought and taken apart."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Self

from pydantic import AfterValidator, Field, Strict, model_validator

from formulate.files.fields import AmountText, Id, MassKg, Price, Share, Text, shown
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.quantity import AmountBasis

__all__ = ["Whole"]

_COUNTED = (AmountBasis.MASS, AmountBasis.PIECES)
LEAST_SHARE = 1e-5
"""A smaller part than this is a slip of the keyboard."""


def _some(value: Mapping[str, float]) -> Mapping[str, float]:
    if not value:
        raise ValueError("no parts. Write e.g. parts: {grapefruit-zest: 4 %, grapefruit-pith: 16 %}.")
    return value


def _worth_trimming(value: float) -> float:
    if value < LEAST_SHARE:
        raise ValueError(
            f"must be at least {100 * LEAST_SHARE:g} %, got {100 * value:g} %. Check the number."
        )
    return value


Parts = Annotated[
    Mapping[Id, Annotated[Share, AfterValidator(_worth_trimming)]],
    Strict(False),
    AfterValidator(_some),
    AfterValidator(FrozenMap),
]


class Whole(Frozen):
    """A whole fruit or plant: what it costs, and what is got from it by trimming.

    `parts` holds kilograms of each ingredient from one kilogram as bought; the rest is waste.
    """

    parts: Parts = Field(
        description="Ingredient id to the share of the mass as bought that it makes up; the rest is waste.",
        examples=["{grapefruit-zest: 4 %, grapefruit-pith: 16 %, grapefruit-juice: 40 %}"],
    )
    price: Price = Field(description="Per piece, or per kg.", examples=["0.95 EUR"])
    piece_kg: Annotated[MassKg, Field(gt=0)] | None = Field(
        default=None, validation_alias="piece", description="Mass of one, as bought.", examples=["380 g"]
    )
    supplier: Text | None = Field(default=None, description="Who sells it.")
    on_hand: AmountText | None = Field(default=None, description="What is left: pieces or g.")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        total = sum(self.parts.values())
        if total > 1.0 + 1e-9:
            message = f"add up to {100 * total:.6g} % of the whole. Keep them at or below 100."
            issues.append(Issue(("parts",), message, at_key=True))
        if self.price.per == "L":
            message = (
                f"a whole thing is priced per piece or per kg, got {shown(self.price.text)}. "
                "Write e.g. 0.95 EUR or 2.50 EUR/kg."
            )
            issues.append(Issue(("price",), message))
        if self.price.per is None and self.piece_kg is None:
            message = (
                f"a price per piece needs the mass of one, got {shown(self.price.text)}. "
                "Add `piece: 380 g`, or price it per kg."
            )
            issues.append(Issue(("price",), message))
        if self.on_hand is not None:
            got = shown(self.on_hand.text)
            if self.on_hand.basis not in _COUNTED:
                message = f"a whole thing is counted or weighed, got {got}. Write e.g. 3 pieces or 1.2 kg."
                issues.append(Issue(("on_hand",), message))
            elif self.on_hand.basis is AmountBasis.PIECES and self.piece_kg is None:
                message = f"pieces need the mass of one, got {got}. Add `piece: 380 g`, or give kg."
                issues.append(Issue(("on_hand",), message))
        if issues:
            raise IssuesError(issues)
        return self

    @property
    def price_per_kg(self) -> float:
        """Money per kilogram as bought."""
        if self.price.per is not None or self.piece_kg is None:
            return self.price.value
        return self.price.value / self.piece_kg

    @property
    def on_hand_kg(self) -> float | None:
        """What is left, as bought; None when nothing is said."""
        if self.on_hand is None:
            return None
        if self.on_hand.basis is AmountBasis.PIECES:
            return self.on_hand.value * (self.piece_kg or 0.0)
        return self.on_hand.value
