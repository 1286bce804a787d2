"""What stands on a shelf beside offers: dated dried plants, what the house makes, whole things with parts.

Tinctures, syrups and the last batch are used like anything that is bought. Nobody sells pith, so a fruit is
bought and taken apart.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from typing import Annotated, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Strict,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from formulate.files.fields import AmountText, Day, Id, MassKg, Price, Share, Text, Work, from_file, shown
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.quantity import AmountBasis

__all__ = ["FAMILY", "HouseMade", "Stock", "Whole"]

_STORED = ("whole", "cut", "powder")


def _month_or_day(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}(?:-[0-9]{2})?", value):
        try:
            # Of a month the first day: counted older rather than younger.
            return datetime.date.fromisoformat(value if len(value) > 7 else f"{value}-01")
        except ValueError:
            pass
    raise ValueError(
        f"must be a month or a day written year-month or year-month-day, got {shown(value)}. "
        "Write e.g. 2026-09 or 2026-09-14."
    )


def _known_shape(value: object) -> object:
    if value not in _STORED:
        raise ValueError(f"must be whole, cut or powder, got {shown(value)}.")
    return value


MonthOrDay = Annotated[
    datetime.date,
    BeforeValidator(_month_or_day),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": "^[0-9]{4}-[0-9]{2}(-[0-9]{2})?$",
            "examples": ["2026-09", "2026-09-14"],
        }
    ),
]
Shape = Annotated[Literal["whole", "cut", "powder"], BeforeValidator(_known_shape)]


class Stock(Frozen):
    """One dried plant as it stands on the shelf: exactly one of `harvested` and `bought`."""

    harvested: MonthOrDay | None = Field(default=None, description="When it was harvested: month or day.")
    bought: MonthOrDay | None = Field(
        default=None, description="When it was bought, if the harvest is not known: month or day."
    )
    stored: Shape = Field(description="Shape it is kept in: whole, cut or powder.", examples=["cut"])

    @model_validator(mode="after")
    def _one_date(self) -> Self:
        if (self.harvested is None) == (self.bought is None):
            has = "no date" if self.harvested is None else "two dates"
            message = (
                f"has {has}. Give one: `harvested: 2026-09`, or `bought: 2026-09` if that is all you know."
            )
            raise IssuesError([Issue((), message, at_key=True)])
        return self

    @property
    def since(self) -> datetime.date:
        """The day its age is counted from."""
        day = self.harvested or self.bought
        assert day is not None
        return day

    @property
    def date_key(self) -> str:
        """Which of the two dates was written."""
        return "harvested" if self.harvested is not None else "bought"


FAMILY = "house-made"
"""Family of what the bar makes itself."""

_MEASURED = (AmountBasis.MASS, AmountBasis.VOLUME)


def _check_recipe(value: str) -> str:
    if not value.endswith((".yaml", ".yml")):
        raise ValueError(
            f"must be the path of a recipe file, got {shown(value)}. Write e.g. recipes/tincture.yaml."
        )
    return value


RecipePath = Annotated[Text, AfterValidator(_check_recipe)]


class HouseMade(Frozen):
    """A preparation of the house: its recipe says what is in it and what it costs."""

    recipe: RecipePath = Field(
        description="Recipe file, relative to the shelf.", examples=["recipes/gentian-tincture.yaml"]
    )
    made: Text | None = Field(default=None, description="When it was made.", examples=["2026-11-02"])
    lot: Text | None = Field(default=None, description="Which lot.")
    keep_by: Day | None = Field(default=None, description="Last day it should be used.")
    on_hand: AmountText | None = Field(default=None, description="What is left: g or mL.")
    labour: Work | None = Field(
        default=None,
        description="Work for one batch: minutes, or money, also per kg or per L made; not counted unless "
        "given.",
        examples=["4 EUR", "20 min"],
    )

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        if self.on_hand is not None and self.on_hand.basis not in _MEASURED:
            got = shown(self.on_hand.text)
            message = f"what the house makes is weighed or measured, got {got}. Write e.g. 500 g or 70 cl."
            raise IssuesError([Issue(("on_hand",), message)])
        return self


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
    case_pieces: Annotated[int, Field(ge=1)] = Field(
        default=1, validation_alias="case", description="How many pieces are sold together.", examples=["40"]
    )
    tax: Literal["with", "without"] | None = Field(
        default=None, description="Whether its price is with or without tax, if not as the shelf says."
    )
    tax_rate: Share | None = Field(default=None, description="Tax on it, if not as the shelf says.")
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
