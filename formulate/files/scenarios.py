"""The scenarios file: a bottle or a menu, and what could become otherwise around it."""

from __future__ import annotations

from collections.abc import Mapping
from math import prod
from pathlib import Path
from typing import Annotated, ClassVar, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Strict,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from formulate.files.fields import FrozenDict, Id, Text, Tuple, from_file, shown, written
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.files.models import FileModel, Source, opened, resolved_beside
from formulate.files.targets import Targets
from formulate.quantity.changes import (
    ChangeRange,
    PriceChange,
    parse_change,
    parse_change_range,
    parse_price_change,
    parse_price_range,
)

__all__ = ["ALL_DRINKS", "Changes", "Draws", "Grid", "Scenarios", "load_scenarios"]

MOST_CASES = 100_000
LARGEST_SEED = 2**53
ALL_DRINKS = ""
"""Name under which a demand stands that is said of no drink in particular."""


def _subject(value: str) -> str:
    if not value.endswith((".yaml", ".yml")):
        raise ValueError(f"must be the path of a file, got {shown(value)}. Write e.g. ../menus/autumn.yaml.")
    return value


def _share(value: object, info: ValidationInfo) -> object:
    return parse_change(value) if isinstance(value, str) or from_file(info) else value


def _price(value: object, info: ValidationInfo) -> object:
    return parse_price_change(value) if isinstance(value, str) or from_file(info) else value


def _shares(value: object, info: ValidationInfo) -> object:
    return parse_change_range(value) if isinstance(value, str) or from_file(info) else value


def _prices(value: object, info: ValidationInfo) -> object:
    return parse_price_range(value) if isinstance(value, str) or from_file(info) else value


def _by_drink(value: object, info: ValidationInfo) -> object:
    """Take one change for all drinks, or one per drink."""
    if isinstance(value, Mapping) or not (isinstance(value, str) or from_file(info)):
        return value
    return {ALL_DRINKS: value}


def _some(value: tuple[object, ...]) -> tuple[object, ...]:
    if not value:
        raise ValueError("an empty list. Write e.g. [-10 %, +20 %], or delete the line.")
    return value


_ONE = written("+20 %", "-5 %")
_RANGE = written("-10 to +30 %", "±20 %")
Change = Annotated[float, BeforeValidator(_share), _ONE]
ChangedPrice = Annotated[PriceChange, BeforeValidator(_price), written("+20 %", "6.20 EUR/kg")]
SpreadChange = Annotated[ChangeRange, BeforeValidator(_shares), _RANGE]
SpreadPrice = Annotated[
    ChangeRange, BeforeValidator(_prices), written("4.80 ± 0.90 EUR/kg", "4 to 6 EUR/kg", "±20 %")
]
Demand = Annotated[
    Mapping[str, Change],
    Strict(False),
    AfterValidator(FrozenMap),
    BeforeValidator(_by_drink),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "examples": ["+30 %"]},
                {"type": "object", "additionalProperties": {"type": "string", "examples": ["+30 %"]}},
            ]
        }
    ),
]
SpreadDemand = Annotated[
    Mapping[str, SpreadChange],
    Strict(False),
    AfterValidator(FrozenMap),
    BeforeValidator(_by_drink),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "examples": ["±20 %"]},
                {"type": "object", "additionalProperties": {"type": "string", "examples": ["±20 %"]}},
            ]
        }
    ),
]


class ChangedTargets(Targets):
    """Targets in place of those of the bottle file; the others stay."""

    cost_alone: ClassVar[bool] = True


class Changes(Frozen):
    """What is otherwise in one case."""

    prices: FrozenDict[ChangedPrice] = Field(
        default_factory=FrozenMap,
        description="Ingredient, whole thing, supply or supplier to what its price does, or all of theirs.",
        examples=["{damson: +20 %, white-sugar: 1.40 EUR/kg, north cellar: +30 %}"],
    )
    gone: Tuple[Id] = Field(default=(), description="What cannot be had any more.", examples=["[damson]"])
    demand: Demand = Field(
        default_factory=FrozenMap,
        description="What is sold, more or less; for all drinks, or by the name of a drink's file.",
    )
    off: Tuple[Text] = Field(
        default=(), description="Drinks taken off the menu, by the name of their file.", examples=["[fizz]"]
    )
    swap: FrozenDict[Text] = Field(
        default_factory=FrozenMap,
        description="Drink to the file of what is sold as often in its place, named as the menu would.",
        examples=["{orchard-fizz: ../drinks/amber-hour.yaml}"],
    )
    targets: ChangedTargets | None = Field(
        default=None, description="Targets of the bottle in place of those in its file."
    )

    @model_validator(mode="after")
    def _changes_something(self) -> Self:
        if not (self.prices or self.gone or self.demand or self.targets or self.off or self.swap):
            raise IssuesError([Issue((), "nothing changes here. Add `prices:` or `gone:`.", at_key=True)])
        twice = [name for number, name in enumerate(self.gone) if name in self.gone[:number]]
        issues = [Issue(("gone",), f"'{name}' is listed twice. Keep one.") for name in twice]
        issues += [
            Issue(("prices", name), f"'{name}' is gone, so it has no price. Keep one.", at_key=True)
            for name in self.prices
            if name in self.gone
        ]
        if issues:
            raise IssuesError(issues)
        return self


class Grid(Frozen):
    """Values that are combined, each with each."""

    prices: FrozenDict[Annotated[Tuple[ChangedPrice], AfterValidator(_some)]] = Field(
        default_factory=FrozenMap,
        description="Ingredient to the prices to combine.",
        examples=["{damson: [-10 %, +20 %], vodka-40: [9 EUR, 11 EUR]}"],
    )
    demand: Annotated[Tuple[Change], AfterValidator(_some)] | None = Field(
        default=None, description="What all drinks sell, more or less.", examples=["[-20 %, +30 %]"]
    )

    @property
    def size(self) -> int:
        """How many combinations there are."""
        return prod(map(len, self.prices.values())) * len(self.demand or (0.0,))

    @model_validator(mode="after")
    def _combines_something(self) -> Self:
        if not self.prices and self.demand is None:
            raise IssuesError([Issue((), "nothing changes here. Add `prices:`.", at_key=True)])
        if self.size > MOST_CASES:
            text = f"{self.size} combinations, more than {MOST_CASES}. Give fewer values, or use `draws:`."
            raise IssuesError([Issue((), text, at_key=True)])
        return self


class Draws(Frozen):
    """Cases drawn at random, every value of a range as likely as any other, each thing by itself."""

    count: Annotated[int, Field(ge=1, le=MOST_CASES)] = Field(description="How many.", examples=[1000])
    seed: Annotated[int, Field(ge=0, le=LARGEST_SEED)] = Field(
        default=1, description="Which draws: the same number gives the same ones. Default 1."
    )
    prices: FrozenDict[SpreadPrice] = Field(
        default_factory=FrozenMap,
        description="Ingredient to the range its price is drawn from.",
        examples=["{damson: 4.80 ± 0.90 EUR/kg}"],
    )
    demand: SpreadDemand = Field(
        default_factory=FrozenMap,
        description="What is sold, more or less; for all drinks, or by the name of a drink's file.",
    )

    @model_validator(mode="after")
    def _draws_something(self) -> Self:
        if not self.prices and not self.demand:
            raise IssuesError([Issue((), "nothing changes here. Add `prices:`.", at_key=True)])
        return self


class Scenarios(FileModel):
    """A scenarios file."""

    name: Text = Field(
        validation_alias="suppose", description="Name of what is supposed.", examples=["A dear autumn"]
    )
    bottle: Annotated[Text, AfterValidator(_subject)] | None = Field(
        default=None,
        description="Bottle file it is about, relative to this file.",
        examples=["../bottles/damson-aperitif.yaml"],
    )
    menu: Annotated[Text, AfterValidator(_subject)] | None = Field(
        default=None,
        description="Menu file it is about, relative to this file.",
        examples=["../menus/autumn.yaml"],
    )
    cases: FrozenDict[Changes] = Field(
        default_factory=FrozenMap,
        description="Name of a case to what differs in it.",
        examples=["{dear damsons: {prices: {damson: +20 %}}}"],
    )
    grid: Grid | None = Field(default=None, description="Many cases: each value with each other.")
    draws: Draws | None = Field(default=None, description="Many cases: drawn from ranges.")
    notes: Text | None = Field(default=None, description="Anything worth knowing.")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        if (self.bottle is None) == (self.menu is None):
            here = ("suppose",) if self.bottle is None else ("menu",)
            text = "about one thing, a bottle or a menu. Name one by `bottle:` or `menu:`."
            issues.append(Issue(here, text, at_key=True))
        if not self.cases and self.grid is None and self.draws is None:
            text = "nothing is supposed. Add `cases:`, `grid:` or `draws:`."
            issues.append(Issue(("suppose",), text, at_key=True))
        if self.menu is None:
            issues += [
                Issue(path, "a bottle has no demand. Name a `menu:`, or delete it.", at_key=True)
                for path in self._demands()
            ]
        if self.bottle is None:
            issues += [
                Issue(("cases", name, "targets"), "a menu has no targets. Delete them.", at_key=True)
                for name, changes in self.cases.items()
                if changes.targets is not None
            ]
        if issues:
            raise IssuesError(issues)
        return self

    def _demands(self) -> list[tuple[str, ...]]:
        paths: list[tuple[str, ...]] = [
            ("cases", name, "demand") for name, changes in self.cases.items() if changes.demand
        ]
        if self.grid is not None and self.grid.demand is not None:
            paths.append(("grid", "demand"))
        if self.draws is not None and self.draws.demand:
            paths.append(("draws", "demand"))
        return paths

    @property
    def subject_path(self) -> Path:
        """Path of the bottle or menu file, seen from where this file was read."""
        path = resolved_beside(self.path, self.bottle or self.menu)
        assert path is not None
        return path

    @property
    def shelf_path(self) -> None:
        """None: the bottle or menu names the shelf."""
        return None


def load_scenarios(path: Source) -> Scenarios:
    """Read a scenarios file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(Scenarios, path)
