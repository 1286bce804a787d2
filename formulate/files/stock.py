"""How old a dried plant on the shelf is: when it was harvested or bought, and in what shape it is kept."""

from __future__ import annotations

import datetime
import re
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from formulate.files.fields import from_file, shown
from formulate.files.frozen import Frozen
from formulate.files.issues import Issue, IssuesError

__all__ = ["Stock"]

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
