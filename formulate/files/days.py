"""Days and orders as a person writes them: weekdays, dates, closed days, events, and when suppliers come."""

from __future__ import annotations

import datetime
import re
from collections.abc import Collection, Mapping
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from formulate.files.fields import FrozenDict, Price, Text, TimeH, Tuple, did_you_mean, from_file, shown
from formulate.files.frozen import Frozen
from formulate.files.issues import Issue, IssuesError

__all__ = ["WEEKDAYS", "DayText", "Event", "ShutDays", "Supplier", "Weekdays", "supplier_issues"]

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = tuple(datetime.date(2000, month, 1).strftime("%B") for month in range(1, 13))


def _date_of(text: str) -> datetime.date | None:
    """Read ``2026-11-02`` or ``2 November 2026``; None for anything else."""
    try:
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            return datetime.date.fromisoformat(text)
        found = re.fullmatch(r"([0-9]{1,2}) ([A-Za-z]+) ([0-9]{4})", text)
        if found is not None and found[2].capitalize() in _MONTHS:
            return datetime.date(int(found[3]), _MONTHS.index(found[2].capitalize()) + 1, int(found[1]))
    except ValueError:
        pass
    return None


def _day(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    found = _date_of(value) if isinstance(value, str) else None
    if found is None:
        raise ValueError(f"must be a day, got {shown(value)}. Write e.g. 2 November 2026 or 2026-11-02.")
    return found


DayText = Annotated[
    datetime.date,
    BeforeValidator(_day),
    WithJsonSchema({"type": "string", "examples": ["2 November 2026", "2026-11-02"]}),
]


def _weekday(value: object) -> object:
    if isinstance(value, str) and value.capitalize() in WEEKDAYS:
        return WEEKDAYS.index(value.capitalize())
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value < len(WEEKDAYS):
        return value
    hint = did_you_mean(value, WEEKDAYS) if isinstance(value, str) else ""
    raise ValueError(f"must be a day of the week, got {shown(value)}. {hint or 'Write e.g. Tuesday.'}")


def _one_or_more(value: object) -> object:
    return (value,) if isinstance(value, (str, int, datetime.date)) else value


Weekday = Annotated[
    int, BeforeValidator(_weekday), WithJsonSchema({"type": "string", "enum": list(WEEKDAYS)})
]
Weekdays = Annotated[Tuple[Weekday], BeforeValidator(_one_or_more)]


def _shut(value: object, info: ValidationInfo) -> object:
    if isinstance(value, str) and value.capitalize() not in WEEKDAYS and re.search("[0-9]", value):
        return _day(value, info)
    return value if isinstance(value, datetime.date) else _weekday(value)


ShutDay = Annotated[
    datetime.date | int,
    BeforeValidator(_shut),
    WithJsonSchema({"type": "string", "examples": ["Sunday", "24 December 2026"]}),
]
ShutDays = Annotated[Tuple[ShutDay], BeforeValidator(_one_or_more)]


class Event(Frozen):
    """A day on which more is sold than usual."""

    on: DayText = Field(description="Day of it.", examples=["14 November 2026"])
    drinks: FrozenDict[Annotated[float, Field(ge=0)]] = Field(
        description="Drink, by the name of its file, to how many more of it are sold.",
        examples=["{amber-hour: 80}"],
    )
    name: Text | None = Field(default=None, description="What it is.")


class Supplier(Frozen):
    """When a supplier takes orders and comes, and what bringing them costs."""

    orders_on: Weekdays = Field(
        default=(), description="Days on which orders are taken; any if not given.", examples=["[Tuesday]"]
    )
    delivers_on: Weekdays = Field(
        default=(), description="Days on which they come; once a week if not given.", examples=["[Thursday]"]
    )
    lead_time_h: TimeH = Field(
        default=0.0, validation_alias="lead_time", description="From order to delivery.", examples=["2 days"]
    )
    carriage: Price | None = Field(
        default=None, description="What one delivery costs, without tax.", examples=["9 EUR"]
    )
    free_from: Price | None = Field(
        default=None,
        description="From which order on, without tax, they come for nothing.",
        examples=["250 EUR"],
    )

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        for key in ("carriage", "free_from"):
            money = getattr(self, key)
            if money is not None and (money.per is not None or money.value < 0.0):
                issues.append(Issue((key,), f"is money for an order, got {shown(money.text)}. Write 9 EUR."))
        if self.free_from is not None and self.carriage is None:
            issues.append(Issue(("free_from",), "what carriage costs is not said. Add `carriage: 9 EUR`."))
        if issues:
            raise IssuesError(issues)
        return self


def supplier_issues(suppliers: Mapping[str, Supplier], known: Collection[str], currency: str) -> list[Issue]:
    """List what is wrong with the suppliers of a shelf: nothing is bought there, or other money.

    Parameters
    ----------
    known : collection of str
        From whom anything is bought.
    """
    issues = []
    for name, one in suppliers.items():
        if name not in known:
            message = f"nothing is bought from '{name}'. {did_you_mean(name, known)}".rstrip()
            issues.append(Issue(("suppliers", name), message, at_key=True))
        for key, money in (("carriage", one.carriage), ("free_from", one.free_from)):
            if money is not None and money.currency != currency:
                message = f"not the currency of this shelf, got {shown(money.text)}. Write {currency}."
                issues.append(Issue(("suppliers", name, key), message))
    return issues
