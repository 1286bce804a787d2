"""The menu file: what is sold how often, what the house makes for it, and what shall be there."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from formulate.files.bottle import ShelfPath
from formulate.files.days import DayText, Event, ShutDays, Weekdays
from formulate.files.fields import (
    AmountText,
    FrozenDict,
    Id,
    Price,
    Share,
    Text,
    TimeH,
    Tuple,
    VesselL,
    VolumeL,
    Work,
    from_file,
    shown,
    written,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.files.models import FileModel, Source, opened, resolved_beside
from formulate.quantity import Amount, AmountBasis, Money, parse_amount
from formulate.quantity.pours import Forecast, parse_forecast

__all__ = [
    "HOURS_PER_WEEK",
    "Bottling",
    "HouseBottle",
    "Menu",
    "MenuDrink",
    "Par",
    "WeeksOfUse",
    "load_menu",
]

HOURS_PER_WEEK = 168.0
LONGEST_WEEKS = 26

_COUNTED = (AmountBasis.MASS, AmountBasis.VOLUME, AmountBasis.BOTTLES, AmountBasis.PIECES)


def _forecast(value: object, info: ValidationInfo) -> object:
    return parse_forecast(value) if isinstance(value, str) or from_file(info) else value


def _check_drink(value: str) -> str:
    if not value.endswith((".yaml", ".yml")):
        raise ValueError(
            f"must be the path of a drink file, got {shown(value)}. Write e.g. ../drinks/amber-hour.yaml."
        )
    return value


def _whole_weeks(value: float) -> float:
    weeks = value / HOURS_PER_WEEK
    if abs(weeks - round(weeks)) > 1e-9 or not 1 <= round(weeks) <= LONGEST_WEEKS:
        raise ValueError(
            f"must be 1 to {LONGEST_WEEKS} whole weeks, got {weeks:g} weeks. Write e.g. 4 weeks."
        )
    return value


def _weeks_before(value: float) -> float:
    weeks = value / HOURS_PER_WEEK
    if abs(weeks - round(weeks)) > 1e-9 or not 0 <= round(weeks) <= LONGEST_WEEKS:
        raise ValueError(f"must be whole weeks, or 0 weeks, got {weeks:g} weeks. Write e.g. 1 week.")
    return value


def _one_or_more(value: object) -> object:
    return (value,) if isinstance(value, str) else value


def _each_once(value: tuple[str, ...]) -> tuple[str, ...]:
    for name in value:
        if value.count(name) > 1:
            raise ValueError(f"'{name}' is listed twice. Keep one.")
    return value


def _below_one(value: float) -> float:
    if not 0.5 <= value <= 0.999:
        raise ValueError(f"must be 50 to 99.9 %, got {100.0 * value:g} %. Write e.g. 90 %.")
    return value


ForecastText = Annotated[Forecast, BeforeValidator(_forecast), written("60 per week", "12 ± 3 per day")]


def _par(value: object, info: ValidationInfo) -> object:
    if isinstance(value, str):
        found = re.fullmatch(r"([0-9]+(?:[.][0-9]+)?) weeks?", value.strip())
        if found is not None:
            return WeeksOfUse(float(found[1]), value)
    return parse_amount(value) if isinstance(value, str) or from_file(info) else value


@dataclass(frozen=True, slots=True)
class WeeksOfUse:
    """As much as goes in so many usual weeks."""

    weeks: float
    text: str = field(default="", compare=False)


ParText = Annotated[Amount | WeeksOfUse, BeforeValidator(_par), written("2 L", "6 bottles", "1.5 weeks")]


class MenuDrink(Frozen):
    """One drink on the menu."""

    drink: Annotated[Text, AfterValidator(_check_drink)] = Field(
        description="Drink file, relative to this file.", examples=["../drinks/amber-hour.yaml"]
    )
    sells: ForecastText = Field(
        description="How many are sold; ± is what two weeks (or days) of three stay within.",
        examples=["60 ± 15 per week"],
    )
    price: Price | None = Field(default=None, description="Price here, if not as its file says.")


class Bottling(Frozen):
    """What a house bottle is filled into."""

    size_l: VesselL = Field(validation_alias="size", description="What one bottle holds.", examples=["50 cl"])
    takes: Annotated[Tuple[Id], Field(min_length=1)] = Field(
        description="Supplies of the shelf for each: the empty bottle, its cork, a label.",
        examples=["[bottle-50cl, cork, label]"],
    )


class HouseBottle(Frozen):
    """How a house bottle is made for the menu."""

    vessels: Annotated[Tuple[Id], BeforeValidator(_one_or_more), AfterValidator(_each_once)] = Field(
        default=(),
        validation_alias="vessel",
        description="Vessel of the shelf it is made in, or a list of those it may be made in.",
        examples=["jar-4l", "[jar-4l, kettle-12l]"],
    )
    fill_share: Annotated[Share, Field(gt=0, le=1)] = Field(
        default=0.8, validation_alias="fill", description="How full at most, default 80 %.", examples=["80 %"]
    )
    takes_h: Annotated[TimeH, Field(gt=0)] = Field(
        default=24.0,
        validation_alias="takes",
        description="How long a batch holds the vessel, default 24 h.",
        examples=["3 days"],
    )
    least_batch_l: VolumeL = Field(
        default=0.0,
        validation_alias="least_batch",
        description="Less is not worth starting.",
        examples=["3 L"],
    )
    keeps_h: Annotated[TimeH, Field(gt=0)] | None = Field(
        default=None,
        validation_alias="keeps",
        description="How long it is good; whole weeks count. Not given: longer than the menu.",
        examples=["6 weeks"],
    )
    par: ParText | None = Field(
        default=None, description="What shall be left when the menu's time is over.", examples=["2 L"]
    )
    on_hand: AmountText | None = Field(
        default=None,
        description="What is there: L, or bottles in tenths where `bottled` says their size.",
        examples=["2.3 L"],
    )
    labour: Work | None = Field(
        default=None,
        description="Work for one batch: money, or minutes at the shelf's wage.",
        examples=["12 EUR", "45 min"],
    )
    bottled: Bottling | None = Field(
        default=None, description="What it is filled into.", examples=["{size: 50 cl, takes: [bottle-50cl]}"]
    )
    each_batch: Tuple[Id] = Field(
        default=(),
        description="Supplies that one batch takes; named twice for two.",
        examples=["[filter-paper, filter-paper]"],
    )

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        if isinstance(self.labour, Money) and self.labour.per is not None:
            issues.append(
                Issue(("labour",), f"work is counted per batch, got {shown(self.labour.text)}. Write 12 EUR.")
            )
        if not self.vessels:
            keys = (("labour", "labour"), ("least_batch", "least_batch_l"), ("each_batch", "each_batch"))
            issues += [
                Issue((key,), "needs a vessel. Add `vessel:`, or delete it.", at_key=True)
                for key, name in keys
                if name in self.model_fields_set
            ]
        for key in ("par", "on_hand"):
            amount = getattr(self, key)
            if not isinstance(amount, Amount) or amount.basis in (AmountBasis.MASS, AmountBasis.VOLUME):
                continue
            got = shown(amount.text)
            if amount.basis is not AmountBasis.BOTTLES:
                issues.append(Issue((key,), f"must be litres or bottles, got {got}. Write e.g. 2.3 L."))
            elif self.bottled is None:
                message = f"how much a bottle of it holds is not said, got {got}. Write e.g. 2.3 L, or add"
                issues.append(Issue((key,), f"{message} `bottled:`."))
        if issues:
            raise IssuesError(issues)
        return self


class Par(Frozen):
    """What shall be there of something bought, what is, and how it keeps."""

    par: ParText | None = Field(
        default=None, description="What shall be left when the menu's time is over.", examples=["6 bottles"]
    )
    on_hand: AmountText | None = Field(
        default=None,
        description="What is there, in tenths of a bottle; goes before the shelf's own.",
        examples=["2.3 bottles"],
    )
    lead_time_h: TimeH | None = Field(
        default=None,
        validation_alias="lead_time",
        description="From order to delivery.",
        examples=["3 days"],
    )
    keeps_h: Annotated[TimeH, Field(gt=0)] | None = Field(
        default=None,
        validation_alias="keeps",
        description="How long it is good; whole weeks count. Not given: longer than the menu.",
        examples=["1 week"],
    )

    @model_validator(mode="after")
    def _amounts(self) -> Self:
        issues = []
        for key in ("par", "on_hand"):
            amount = getattr(self, key)
            if isinstance(amount, Amount) and amount.basis not in _COUNTED:
                got = shown(amount.text)
                issues.append(Issue((key,), f"not an amount on a shelf, got {got}. Write e.g. 2.3 bottles."))
        if issues:
            raise IssuesError(issues)
        return self


class Menu(FileModel):
    """A menu file."""

    name: Text = Field(validation_alias="menu", description="Name of the menu.", examples=["Autumn"])
    shelf: ShelfPath = Field(description="Shelf file, relative to this file.", examples=["../shelf.yaml"])
    for_h: Annotated[TimeH, AfterValidator(_whole_weeks)] = Field(
        validation_alias="for", description="How long to buy and make for: whole weeks.", examples=["4 weeks"]
    )
    cover_share: Annotated[Share, AfterValidator(_below_one)] = Field(
        default=0.5,
        validation_alias="cover",
        description="In how many of a hundred such times it shall suffice; default 50 %, the plain forecast.",
        examples=["90 %"],
    )
    first_day: DayText | None = Field(
        default=None, validation_alias="from", description="First day of it.", examples=["2 November 2026"]
    )
    open_days: Annotated[int, Field(ge=1, le=7)] = Field(
        default=7, description="Days open in a week, the first ones; not needed with `closed`."
    )
    closed: ShutDays = Field(
        default=(),
        description="Days of the week, and dates, when nothing is sold or begun.",
        examples=["[Sunday, 24 December 2026]"],
    )
    makes_on: Weekdays = Field(
        default=(),
        description="Days on which batches are begun; any open day if not given.",
        examples=["[Monday, Thursday]"],
    )
    prepare_h: Annotated[TimeH, AfterValidator(_weeks_before)] | None = Field(
        default=None,
        validation_alias="prepare",
        description="How long before the first day one may order and make; if not given as many weeks as "
        "house bottles take.",
        examples=["1 week"],
    )
    budget: Price | None = Field(
        default=None, description="Most that may be ordered for one week, without tax.", examples=["600 EUR"]
    )
    events: Tuple[Event] = Field(default=(), description="Days on which more is sold.")
    drinks: Tuple[MenuDrink] = Field(default=(), description="What is sold.")
    house: FrozenDict[HouseBottle] = Field(
        default_factory=FrozenMap, description="Name of a house bottle to how it is made."
    )
    pars: FrozenDict[Par] = Field(
        default_factory=FrozenMap, description="Ingredient id to what shall be there and what is."
    )
    notes: Text | None = Field(default=None, description="Anything worth knowing.")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        if not self.drinks and not self.pars:
            issues.append(
                Issue(("menu",), "nothing is sold and nothing shall be there. Add `drinks:`.", at_key=True)
            )
        seen: set[str] = set()
        for index, entry in enumerate(self.drinks):
            if entry.drink in seen:
                issues.append(
                    Issue(("drinks", index, "drink"), f"'{entry.drink}' is listed twice. Keep one.")
                )
            seen.add(entry.drink)
            if entry.price is not None and (entry.price.per is not None or entry.price.value <= 0.0):
                got = shown(entry.price.text)
                issues.append(
                    Issue(
                        ("drinks", index, "price"),
                        f"one drink costs money above zero, got {got}. Write 12 EUR.",
                    )
                )
        issues += self._days_without_a_date()
        issues += [
            Issue(("pars", name), f"'{name}' is a house bottle. Put it under `house`.", at_key=True)
            for name in self.pars
            if name in self.house
        ]
        if issues:
            raise IssuesError(issues)
        return self

    def _days_without_a_date(self) -> list[Issue]:
        """Refuse what needs to know which day it is, and what is said of days that are not in it."""
        issues = []
        if self.first_day is None:
            issues += [
                Issue((key,), "which day it begins is not said. Add `from: 2 November 2026`.", at_key=True)
                for key in ("closed", "makes_on", "events")
                if getattr(self, key)
            ]
        if self.closed and "open_days" in self.model_fields_set:
            issues.append(Issue(("open_days",), "is said by `closed` too. Keep one.", at_key=True))
        last_week = max((week for one in self.drinks for week, *_ in one.sells.other_weeks), default=0)
        if last_week > self.weeks:
            issues.append(Issue(("for",), f"has no week {last_week}, and a drink says what sells in it."))
        if self.budget is not None and (self.budget.per is not None or self.budget.value <= 0.0):
            got = shown(self.budget.text)
            issues.append(Issue(("budget",), f"is money for a week, got {got}. Write e.g. 600 EUR."))
        return issues

    @property
    def weeks(self) -> int:
        """How many weeks it is for."""
        return round(self.for_h / HOURS_PER_WEEK)

    @property
    def shelf_path(self) -> Path:
        """Path of the shelf file, seen from where the menu was read."""
        path = resolved_beside(self.path, self.shelf)
        assert path is not None
        return path

    def drink_path(self, index: int) -> Path:
        """Path of a drink file, seen from where the menu was read."""
        path = resolved_beside(self.path, self.drinks[index].drink)
        assert path is not None
        return path


def load_menu(path: Source) -> Menu:
    """Read a menu file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(Menu, path)
