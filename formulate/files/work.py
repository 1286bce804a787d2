"""Work on a batch as a person writes it, in money or in minutes, and what an hour of it costs."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, ValidationInfo

from formulate.errors import UnitError
from formulate.files.fields import from_file, shown, written
from formulate.quantity import Dimension, Money, parse_money, parse_quantity

__all__ = ["Wage", "Work", "work_money"]

_PER_HOUR = ("/h", "/hour", " per h", " per hour", " an hour")


def _work(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    try:
        hours = parse_quantity(value, Dimension.TIME)
    except UnitError:
        try:
            return parse_money(value)
        except UnitError as error:
            if re.search("[A-Z]{3}", str(value)):
                raise
            message = f"work is money or time, got {shown(value)}. Write e.g. 12 EUR or 45 min."
            raise ValueError(message) from error
    if not hours > 0.0:
        raise ValueError(f"must be above zero, got {shown(value)}. Write e.g. 45 min, or delete the line.")
    return hours


def _wage(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    text = str(value).strip()
    for ending in _PER_HOUR:
        if text.lower().endswith(ending):
            return parse_money(text[: -len(ending)])
    raise ValueError(f"is money for an hour, got {shown(value)}. Write e.g. 18 EUR/h.")


def _a_wage(value: Money) -> Money:
    if value.per is not None or value.value <= 0.0:
        raise ValueError(f"is money above zero for an hour, got {shown(value.text)}. Write e.g. 18 EUR/h.")
    return value


Work = Annotated[Money | float, BeforeValidator(_work), written("12 EUR", "45 min")]
"""Money, or hours of work that a wage turns into money."""
Wage = Annotated[Money, BeforeValidator(_wage), AfterValidator(_a_wage), written("18 EUR/h")]


def work_money(work: Money | float | None, wage: Money | None) -> float:
    """Return what work costs; hours without a wage cost nothing.

    Parameters
    ----------
    work : Money, float or None
        Hours where it is a number.
    wage : Money or None
        Of an hour.
    """
    if work is None:
        return 0.0
    if isinstance(work, float):
        return 0.0 if wage is None else work * wage.value
    return work.value
