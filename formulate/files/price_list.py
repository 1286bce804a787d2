"""Price lists and stock lists as suppliers and bars keep them: file, columns, and which rows are ours.

What is the same in all rows is said of the list; what differs has a column.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Strict,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from formulate.files.fields import (
    Currency,
    Day,
    Id,
    PackText,
    Share,
    Text,
    Tuple,
    from_file,
    shown,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.files.service import TaxIn
from formulate.quantity.listed import DecimalSign

__all__ = ["Columns", "ListItem", "PriceList", "column_letters", "same_text"]

_LETTERS = re.compile(r"column ([A-Z]{1,3})", re.IGNORECASE)
LAST_COLUMN = 16_384
"""XFD, the last one a sheet of a workbook has (Office Open XML as spreadsheets implement it)."""


def same_text(text: str) -> str:
    """Bring a text to the form in which two count as the same: blanks and capitals do not matter."""
    return " ".join(text.split()).casefold()


def column_letters(name: str) -> str | None:
    """Return the letters of a column named ``column C``; None for the text of a head."""
    found = _LETTERS.fullmatch(name.strip())
    return None if found is None else found[1].upper()


def _number_as_text(value: object, info: ValidationInfo) -> object:
    """Take an article number typed without quotes."""
    return str(value) if isinstance(value, int) and not isinstance(value, bool) and from_file(info) else value


def _a_column(value: str) -> str:
    letters = column_letters(value)
    if letters is not None:
        number = 0
        for letter in letters:
            number = 26 * number + ord(letter) - 64
        if number > LAST_COLUMN:
            raise ValueError(f"no column of any sheet, got {shown(value)}. The last one is XFD.")
    return value


ListText = Annotated[
    Text, BeforeValidator(_number_as_text), WithJsonSchema({"type": ["string", "integer"], "minLength": 1})
]
ColumnName = Annotated[ListText, AfterValidator(_a_column)]


class Columns(Frozen):
    """Which column holds what: the text at its head, or its letter as `column C`."""

    product: ColumnName = Field(
        description="Name or number by which `items` finds a row.", examples=["Article"]
    )
    price: ColumnName | None = Field(default=None, description="Price.", examples=["Net price"])
    per: ColumnName | None = Field(default=None, description="What the price is for: pack, kg or L.")
    currency: ColumnName | None = Field(default=None, description="Three letters each.")
    pack: ColumnName | None = Field(
        default=None, description="Size of a pack: 70 cl, 6 x 70 cl, 1 kg.", examples=["Size"]
    )
    pack_unit: ColumnName | None = Field(default=None, description="Its unit, where that has a column.")
    tax_rate: ColumnName | None = Field(default=None, description="Tax, in %.")
    deposit: ColumnName | None = Field(default=None, description="Deposit on a pack.")
    on_hand: ColumnName | None = Field(default=None, description="What is there.", examples=["Stock"])
    on_hand_unit: ColumnName | None = Field(default=None, description="Its unit, where that has a column.")

    def named(self) -> dict[str, str]:
        """Return the columns that were named, by field."""
        every = {name: getattr(self, name) for name in type(self).model_fields}
        return {name: column for name, column in every.items() if column is not None}


class ListItem(Frozen):
    """One row of a list that is ours."""

    product: ListText = Field(description="As the list writes it.", examples=["Vodka grain 40"])
    pack: PackText | None = Field(
        default=None, description="Size of a pack, where the list does not say it.", examples=["70 cl"]
    )


def _items(value: object, info: ValidationInfo) -> object:
    """Take one product or several, each as plain text or with its pack."""
    if not from_file(info):
        return value
    every = value if isinstance(value, list) else [value]
    if not every:
        raise ValueError("no product. Write the name of one as the list has it.")
    plain = (str, int)
    return tuple(
        {"product": one} if isinstance(one, plain) and not isinstance(one, bool) else one for one in every
    )


_ITEM_SCHEMA = {
    "anyOf": [
        {"type": ["string", "integer"], "minLength": 1},
        {
            "type": "object",
            "properties": {"product": {"type": ["string", "integer"]}, "pack": {"type": "string"}},
            "required": ["product"],
            "additionalProperties": False,
        },
    ]
}
Items = Annotated[
    Tuple[ListItem],
    BeforeValidator(_items),
    WithJsonSchema(
        {"anyOf": [*_ITEM_SCHEMA["anyOf"], {"type": "array", "items": _ITEM_SCHEMA, "minItems": 1}]}
    ),
]


class PriceList(Frozen):
    """A file with prices, stock or both, as it was sent: nobody has to type it over."""

    file: Text = Field(
        description="Workbook (.xlsx) or text file (.csv, .txt, .tsv), relative to this file.",
        examples=["lists/north-cellar-october.xlsx"],
    )
    supplier: Text | None = Field(default=None, description="Who sells what is in it.")
    sheet: Text | None = Field(default=None, description="Sheet of a workbook that has several.")
    separator: Literal["semicolon", "comma", "tab"] | None = Field(
        default=None, description="What parts the cells of a text file, where it is not plain."
    )
    columns: Columns = Field(description="Which column holds what.")
    decimal: DecimalSign | None = Field(
        default=None, description="What parts the decimals of numbers that are text: dot or comma."
    )
    currency: Currency | None = Field(
        default=None, description="Of every price in it; that of the shelf.", examples=["EUR"]
    )
    per: Literal["pack", "kg", "L"] | None = Field(
        default=None, description="What the prices are for; else for a pack."
    )
    pack_unit: Text | None = Field(default=None, description="Unit of packs that are plain numbers: cl.")
    on_hand_unit: Text | None = Field(
        default=None, description="Unit of stock that is plain numbers: bottles, kg, or packs."
    )
    tax: TaxIn | None = Field(
        default=None, description="Whether its prices are with or without tax, if not as the shelf says."
    )
    tax_rate: Share | None = Field(default=None, description="Tax on all of it, if not as the shelf says.")
    seen: Day | None = Field(default=None, description="Day its prices were seen.", examples=["2026-10-01"])
    until: Day | None = Field(default=None, description="Last day its prices hold.", examples=["2026-12-31"])
    items: Annotated[Mapping[Id, Items], Strict(False), AfterValidator(FrozenMap)] = Field(
        description="Ingredient id to the product as the list writes it, or to several.",
        examples=["{vodka-40: Vodka grain 40}"],
    )

    @field_validator("items", mode="after")
    @classmethod
    def _each_once(cls, items: FrozenMap[str, tuple[ListItem, ...]]) -> FrozenMap[str, Any]:
        issues = []
        met: dict[str, str] = {}
        for name, wanted in items.items():
            for index, item in enumerate(wanted):
                first = met.setdefault(same_text(item.product), name)
                if (
                    first != name
                    or sum(same_text(one.product) == same_text(item.product) for one in wanted) > 1
                ):
                    message = f"one product for two things, got {shown(item.product)}, also under {first}. "
                    issues.append(Issue((name, index), f"{message}Keep one."))
        if not items:
            issues.append(Issue((), "no items. Write e.g. {vodka-40: Vodka grain 40}."))
        if issues:
            raise IssuesError(issues)
        return items

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        columns = self.columns
        if columns.price is None and columns.on_hand is None:
            issues.append(Issue(("columns",), "neither a price nor on_hand. Name the column of one.", True))
        if columns.price is not None and columns.currency is None and self.currency is None:
            message = (
                "prices without a currency. Say `currency: EUR` beside `columns`, or name its column there."
            )
            issues.append(Issue(("columns", "price"), message))
        for key in ("currency", "per", "pack_unit", "on_hand_unit", "tax_rate"):
            twice = getattr(self, key) is not None and getattr(columns, key) is not None
            issues += [Issue((key,), "said of the whole list and of a column. Keep one.", True)] * twice
        for key, needs in (
            ("per", "price"),
            ("currency", "price"),
            ("tax_rate", "price"),
            ("deposit", "price"),
            ("pack_unit", "pack"),
            ("on_hand_unit", "on_hand"),
        ):
            if getattr(columns, key) is not None and getattr(columns, needs) is None:
                issues.append(Issue(("columns", key), f"stands without `{needs}:`. Name its column.", True))
        met: dict[str, str] = {}
        for key, column in columns.named().items():
            first = met.setdefault(same_text(column), key)
            if first != key:
                issues.append(Issue(("columns", key), f"the same column as {first}, got {shown(column)}."))
        if issues:
            raise IssuesError(issues)
        return self
