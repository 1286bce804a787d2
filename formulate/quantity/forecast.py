"""How many of a drink are sold: ``60 per week``, ``12 ± 3 per day``."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Literal, cast

from formulate.errors import UnitError
from formulate.quantity.numbers import split, text_of
from formulate.quantity.units import shown

__all__ = ["Forecast", "parse_forecast"]

_EXAMPLE = "60 ± 15 per week"
_MOST = 1_000_000


@dataclass(frozen=True, slots=True)
class Forecast:
    """Drinks sold per day or week: `mean`, and in two of three such times within `spread` of it."""

    mean: float
    spread: float
    per: Literal["day", "week"]
    text: str = field(default="", compare=False)

    def per_week(self, open_days: int) -> tuple[float, float]:
        """Return mean and spread for a week; the days of a week vary each by itself."""
        if self.per == "week":
            return self.mean, self.spread
        return self.mean * open_days, self.spread * float(open_days**0.5)


def parse_forecast(text: object) -> Forecast:
    """Read a forecast.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    typed = text_of(text, None, _EXAMPLE)
    got = shown(typed)
    found = re.fullmatch(r"(?P<count>.+?)(?: per |/)(?P<per>day|week)", typed, re.IGNORECASE)
    if found is None:
        raise UnitError(f"per day or per week is missing, got {got}. Write e.g. {_EXAMPLE}.")
    count, _, spread = found["count"].partition("±")
    numbers = []
    for part in (count, spread) if spread else (count,):
        number, unit = split(part.strip(), typed, _EXAMPLE)
        if unit.lower() not in ("", "drinks", "drink", "serves"):
            raise UnitError(f"drinks are counted, got {got}. Write e.g. {_EXAMPLE}.")
        if not 0 <= number <= _MOST:
            raise UnitError(f"not a number of drinks, got {got}. Write e.g. {_EXAMPLE}.")
        numbers.append(float(number))
    per = cast("Literal['day', 'week']", found["per"].lower())
    return Forecast(numbers[0], numbers[1] if spread else 0.0, per, typed)
