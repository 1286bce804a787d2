"""Things the bar makes itself and then uses like anything it buys: tinctures, syrups, the last batch."""

from __future__ import annotations

import datetime
import re
from typing import Annotated, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from formulate.files.fields import AmountText, Text, from_file, shown, written
from formulate.files.frozen import Frozen
from formulate.files.issues import Issue, IssuesError
from formulate.files.work import Work
from formulate.quantity import AmountBasis

__all__ = ["FAMILY", "HouseMade"]

FAMILY = "house-made"
"""Family of what the bar makes itself."""

_COUNTED = (AmountBasis.MASS, AmountBasis.VOLUME)


def _date(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        try:
            return datetime.date.fromisoformat(value)
        except ValueError:
            pass
    raise ValueError(f"must be a day written year-month-day, got {shown(value)}. Write e.g. 2027-01-31.")


def _check_recipe(value: str) -> str:
    if not value.endswith((".yaml", ".yml")):
        raise ValueError(
            f"must be the path of a recipe file, got {shown(value)}. Write e.g. recipes/tincture.yaml."
        )
    return value


Day = Annotated[datetime.date, BeforeValidator(_date), written("2027-01-31")]
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
        if self.on_hand is not None and self.on_hand.basis not in _COUNTED:
            got = shown(self.on_hand.text)
            message = f"what the house makes is weighed or measured, got {got}. Write e.g. 500 g or 70 cl."
            raise IssuesError([Issue(("on_hand",), message)])
        return self
