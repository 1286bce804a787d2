"""The drink file: what is poured into one glass, how it is mixed, and what it sells for."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from formulate.files.bottle import ShelfPath
from formulate.files.fields import (
    IS_THIS_MEANT,
    FrozenDict,
    Id,
    Meant,
    Price,
    Text,
    Tuple,
    VolumeL,
    from_file,
    shown,
    written,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.files.models import FileModel, Source, opened, resolved_beside
from formulate.files.service import MeltText, MethodWord
from formulate.files.steps import named_map_item
from formulate.files.targets import DrinkTargets
from formulate.quantity.pours import Pour, PourUnit, parse_pour

__all__ = ["Drink", "DrinkLine", "GarnishLine", "HousePath", "load_drink"]

_LINE_EXAMPLE = "- gin-40: 45 mL"
_GARNISH_EXAMPLE = "- lemon-zest: 3 g"


def _pour(value: object, info: ValidationInfo) -> object:
    return parse_pour(value) if isinstance(value, str) or from_file(info) else value


PourText = Annotated[Pour, BeforeValidator(_pour), written("45 mL", "1.5 fl oz", "2 dashes", "2 parts")]


MOST_POURED = 1.0
"""Litres or kilograms of one thing in one drink; more is a slip of typing, or a bowl for several."""


class DrinkLine(Frozen):
    """One thing in the glass."""

    not_written = frozenset({"id"})

    id: Id = Field(description="Ingredient id, or a name under `house`.")
    amount: PourText = Field(
        description="mL, cl, fl oz, dashes, drops, parts, g or pieces.", examples=["45 mL"]
    )
    after: bool = Field(
        default=False, description="Poured in after the ice work: soda, a float; no ice melts into it."
    )
    meant: Meant = False

    @model_validator(mode="after")
    def _goes_into_a_glass(self) -> Self:
        liquid = self.amount.unit in (PourUnit.VOLUME, PourUnit.MASS)
        if liquid and self.amount.value > MOST_POURED and not self.meant:
            message = f"more than any glass holds, got {shown(self.amount.text)}. {IS_THIS_MEANT}"
            raise IssuesError([Issue(("amount",), message)])
        return self


class GarnishLine(Frozen):
    """Something on the glass: it costs, and may bring allergens, but is not drunk."""

    not_written = frozenset({"id"})

    id: Id = Field(description="Ingredient id; any name where a price is given.")
    amount: PourText | None = Field(default=None, description="g or pieces.", examples=["3 g"])
    price: Price | None = Field(default=None, description="What one costs.", examples=["0.10 EUR"])

    @model_validator(mode="after")
    def _is_counted_once(self) -> Self:
        if (self.amount is None) == (self.price is None):
            message = f"needs one of amount and price. Write `{_GARNISH_EXAMPLE}` or `price: 0.10 EUR`."
            raise IssuesError([Issue((), message)])
        if self.amount is not None and self.amount.unit is PourUnit.PARTS:
            got = shown(self.amount.text)
            raise IssuesError([Issue(("amount",), f"parts are for what is drunk, got {got}. Give g.")])
        return self


def _item(value: object, info: ValidationInfo, what: str, example: str) -> object:
    if isinstance(value, str):
        raise ValueError(f"how much is missing, got {shown(value)}. Write `{example}`.")
    if from_file(info) and isinstance(value, dict) and len(value) == 1:
        name, amount = next(iter(value.items()))
        if isinstance(amount, (str, int, float)) and not isinstance(amount, bool):
            return {"id": name, "amount": amount}
    return named_map_item(value, info, name="id", what=what, example=example)


def _line_item(value: object, info: ValidationInfo) -> object:
    return _item(value, info, "ingredient", _LINE_EXAMPLE)


def _garnish_item(value: object, info: ValidationInfo) -> object:
    return _item(value, info, "garnish", _GARNISH_EXAMPLE)


def _some(value: tuple[DrinkLine, ...]) -> tuple[DrinkLine, ...]:
    if not value:
        raise ValueError(f"an empty list of ingredients. Write e.g. `{_LINE_EXAMPLE}`.")
    return value


def _check_house(value: str) -> str:
    if not value.endswith((".yaml", ".yml")):
        raise ValueError(
            f"must be the path of a recipe or bottle file, got {shown(value)}. "
            "Write e.g. ../recipes/damson-aperitif.yaml."
        )
    return value


HousePath = Annotated[Text, AfterValidator(_check_house)]


class Drink(FileModel):
    """A drink file."""

    name: Text = Field(validation_alias="drink", description="Name on the menu.", examples=["Amber hour"])
    shelf: ShelfPath = Field(description="Shelf file, relative to this file.", examples=["../shelf.yaml"])
    method: MethodWord = Field(
        description="stirred, shaken, thrown, built, or batched (its water is among the ingredients).",
        examples=["stirred"],
    )
    house: FrozenDict[HousePath] = Field(
        default_factory=FrozenMap,
        description="Name to the recipe or bottle file of a house bottle used here, relative to this file.",
        examples=["{damson-aperitif: ../recipes/damson-aperitif.yaml}"],
    )
    ingredients: Annotated[
        Tuple[Annotated[DrinkLine, BeforeValidator(_line_item)]], AfterValidator(_some)
    ] = Field(description="What is poured, in order.")
    parts_come_to_l: Annotated[VolumeL, Field(gt=0)] | None = Field(
        default=None,
        validation_alias="parts_come_to",
        description="What all parts together come to before ice.",
        examples=["9 cl"],
    )
    melt: MeltText | None = Field(
        default=None, description="Ice melted into one drink, weighed here: g, or % of what is poured."
    )
    garnish: Tuple[Annotated[GarnishLine, BeforeValidator(_garnish_item)]] = Field(
        default=(), description="On the glass."
    )
    glass_l: Annotated[VolumeL, Field(gt=0)] | None = Field(
        default=None, validation_alias="glass", description="What the glass holds.", examples=["14 cl"]
    )
    price: Price | None = Field(default=None, description="Price on the menu.", examples=["12 EUR"])
    targets: DrinkTargets | None = Field(
        default=None, description="What it must be in the glass; `pour --fit` makes a house bottle for it."
    )
    notes: Text | None = Field(default=None, description="Anything worth knowing.")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        seen: set[tuple[str, bool]] = set()
        for index, line in enumerate(self.ingredients):
            if (line.id, line.after) in seen:
                issues.append(Issue(("ingredients", index), f"'{line.id}' is listed twice. Keep one line."))
            seen.add((line.id, line.after))
        parts = [index for index, line in enumerate(self.ingredients) if line.amount.unit is PourUnit.PARTS]
        if parts and self.parts_come_to_l is None:
            message = "parts of how much is missing. Add `parts_come_to: 9 cl`, or give mL."
            issues.append(Issue(("ingredients", parts[0]), message))
        if self.parts_come_to_l is not None and not parts:
            issues.append(Issue(("parts_come_to",), "nothing is given in parts. Delete it.", at_key=True))
        used = {line.id for line in self.ingredients} | {line.id for line in self.garnish}
        issues += [
            Issue(("house", name), f"'{name}' is not in this drink. Delete the line.", at_key=True)
            for name in self.house
            if name not in used
        ]
        if all(line.after for line in self.ingredients) and self.method != "batched":
            message = "nothing is poured before the ice. Take `after` off a line, or write method: batched."
            issues.append(Issue(("method",), message))
        if self.method == "batched" and self.melt is not None:
            message = "a batched drink holds its water already. Delete it, or name another method."
            issues.append(Issue(("melt",), message, at_key=True))
        if self.price is not None and (self.price.per is not None or self.price.value <= 0.0):
            message = (
                f"the price of one drink is money above zero, got {shown(self.price.text)}. Write 12 EUR."
            )
            issues.append(Issue(("price",), message))
        issues += [
            Issue(("garnish", index, line.id, "price"), "a garnish is priced by the piece. Write 0.10 EUR.")
            for index, line in enumerate(self.garnish)
            if line.price is not None and line.price.per is not None
        ]
        if issues:
            raise IssuesError(issues)
        return self

    @property
    def shelf_path(self) -> Path:
        """Path of the shelf file, seen from where the drink was read."""
        path = resolved_beside(self.path, self.shelf)
        assert path is not None
        return path

    def house_path(self, name: str) -> Path:
        """Path of the file of a house bottle, seen from where the drink was read."""
        path = resolved_beside(self.path, self.house[name])
        assert path is not None
        return path


def load_drink(path: Source) -> Drink:
    """Read a drink file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(Drink, path)
