"""One row of a price list that is asked for, cell by cell: what stands there, or why it cannot be used."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeVar

from formulate.errors import UnitError
from formulate.files.price_list import ListItem, PriceList, same_text
from formulate.files.tables import Mark, Range, Row
from formulate.quantity import Amount, AmountBasis, Dimension, Money, parse_quantity
from formulate.quantity.listed import (
    SIGNS,
    decimal_text,
    parse_listed_amount,
    parse_listed_money,
    parse_listed_number,
    refuse_currency,
)
from formulate.quantity.units import shown

__all__ = ["Head", "RowCells", "RowValues", "cell_text"]

T = TypeVar("T")

ERRORS = frozenset(
    ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!", "#####")
)
PACKS = ("pack", "packs", "case", "cases")
ONES = ("bottle", "btl", "unit", "each", "ea", "pc", "piece")
"""Words for what a price is for that, where a pack holds several, may mean the pack or one of them."""
FIGURES = 10
"""Decimals of a number in a cell that are no noise of binary arithmetic."""


@dataclass(frozen=True)
class Head:
    """Where the columns are, by field, and in which row the head stands; 0 without one.

    `filled` counts its cells with something in them, `width` all of them.
    """

    columns: Mapping[str, int]
    row: int
    filled: int
    width: int


class RefusedError(ValueError):
    """A cell that cannot be used; `field` says which of the row."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(message)


@dataclass(frozen=True, slots=True)
class RowValues:
    """What a row says.

    Attributes
    ----------
    price, deposit : Money or None
        None for price in a list of stock.
    """

    price: Money | None
    pack: Amount | None
    on_hand: Amount | None
    tax_rate: float | None
    deposit: Money | None


class RowCells:
    """One row that is asked for.

    Parameters
    ----------
    currency : str
        Of the shelf.
    item : ListItem
        By which the row was found.
    marks : mapping
        What its cells hold beside their values, by row and column.
    merged : sequence of Range or None
        Cells of a workbook that were merged; None for a text file.
    """

    def __init__(
        self,
        given: PriceList,
        currency: str,
        head: Head,
        item: ListItem,
        row: Row,
        marks: Mapping[tuple[int, int], Mark],
        merged: Sequence[Range] | None,
    ) -> None:
        self.given, self.currency, self.head, self.item = given, currency, head, item
        self.row, self.cells = row
        self.marks, self.merged = marks, merged
        self.refused: list[RefusedError] = []

    def read(self) -> RowValues | None:
        """Read every cell; None where one cannot be used, and `refused` then says which and why."""
        for check in (self._refuse_merged, self._refuse_too_wide):
            self._tried(check)
        pack = self._tried(self._pack)
        values = RowValues(
            price=self._tried(lambda: self._price(pack)),
            pack=pack,
            on_hand=self._tried(lambda: self._on_hand(pack)),
            tax_rate=self._tried(self._tax_rate),
            deposit=self._tried(self._deposit),
        )
        return None if self.refused else values

    def _tried(self, take: Callable[[], T]) -> T | None:
        try:
            return take()
        except RefusedError as refused:
            self.refused.append(refused)
            return None

    def _refuse_merged(self) -> None:
        for field, column in self.head.columns.items():
            for merged in self.merged or ():
                if merged.holds(self.row, column):
                    message = (
                        f"merged with others, {merged}: what stands there may belong to each of them. "
                        "Undo the merge and write it in every row."
                    )
                    raise RefusedError(field, message)

    def _refuse_too_wide(self) -> None:
        """Refuse a row of a text file with more cells than its head: a separator stands in a figure."""
        if self.merged is not None or not self.head.row:
            return
        last = max(self.cells)
        if last > self.head.width:
            message = (
                f"the row has {last} cells, the head {self.head.width}: a decimal comma or a text "
                "holds what parts the cells. Put it in quotes, or ask for another separator."
            )
            raise RefusedError("product", message)

    def _value(self, field: str) -> object:
        """Return what stands in a cell; None for nothing, or for a column that is not named."""
        column = self.head.columns.get(field)
        if column is None:
            return None
        mark = self._mark(field)
        value = mark.error or self.cells.get(column)
        if mark.no_result:
            raise RefusedError(
                field,
                "a formula saved without its result. Open the file in a spreadsheet and save it again.",
            )
        if isinstance(value, str):
            value = value.strip()
            if value.upper() in ERRORS:
                raise RefusedError(field, f"an error of the spreadsheet, got {value}. Correct it there.")
            return value or None
        if isinstance(value, bool):
            raise RefusedError(field, f"true or false where a figure belongs, got {str(value).upper()}.")
        if isinstance(value, (datetime.date, datetime.time, datetime.timedelta)):
            raise RefusedError(
                field,
                f"a date or time, got {cell_text(value)}: spreadsheets make them of figures such as 1.5. "
                "Enter the figure again.",
            )
        return value

    def _mark(self, field: str) -> Mark:
        return self.marks.get((self.row, self.head.columns.get(field, 0)), Mark())

    def _currency(self) -> str:
        """Return the currency of the row; that of the shelf, or refused."""
        meant = self.currency
        if "currency" in self.head.columns:
            value = self._value("currency")
            if value is None:
                raise RefusedError("currency", f"the currency is missing. Write {meant}.")
            try:
                refuse_currency(str(value), meant, str(value))
            except UnitError as error:
                raise RefusedError("currency", str(error)) from None
        return meant

    def _money(self, field: str) -> tuple[Fraction, Literal["kg", "L"] | None] | None:
        value, currency = self._value(field), self.currency
        if value is None:
            return None
        try:
            if isinstance(value, str):
                return parse_listed_money(value, currency, self.given.decimal)
            for word in _currency_words(self._mark(field).shown_as):
                refuse_currency(word, currency, f"{value} shown with {word}")
            return _exact(value), None
        except UnitError as error:
            raise RefusedError(field, str(error)) from None

    def _price(self, pack: Amount | None) -> Money | None:
        if "price" not in self.head.columns:
            return None
        currency = self._currency()
        found = self._money("price")
        if found is None:
            raise RefusedError("price", "the price is missing. Ask for it, or take the row out of `items`.")
        value, per = found
        if value <= 0:
            what = "nothing" if value == 0 else "less than nothing"
            got = cell_text(self._value("price"))
            raise RefusedError("price", f"a price of {what}, got {got}. What is free stands under offers.")
        said = self._per(pack)
        if per is not None and said is not None and per != said:
            raise RefusedError("price", f"per {per} in the cell, per {said} by what is said of the list.")
        per = per or (None if said == "pack" else said)
        if per is None and "pack" not in self.head.columns and self.item.pack is None:
            raise RefusedError(
                "price", "a price per pack needs its size. Name its column, or give the item `pack: 70 cl`."
            )
        text = f"{_money_text(value)} {currency}{f'/{per}' if per else ''}"
        return Money(float(value), currency, per, text)

    def _per(self, pack: Amount | None) -> Literal["pack", "kg", "L"] | None:
        """Return what the price is for, as the list or its column says."""
        if "per" not in self.head.columns:
            return self.given.per
        value = self._value("per")
        text = "" if value is None else same_text(str(value))
        if text in ("kg", "kilo"):
            return "kg"
        if text in ("l", "ltr", "litre", "liter"):
            return "L"
        several = pack is not None and (
            pack.count > 1 or (pack.basis is AmountBasis.PIECES and pack.value > 1)
        )
        if text in ONES and several and pack is not None:
            message = f"a price for '{text}' where a pack is {pack.text}: is it for one, or for all of it?"
            raise RefusedError("per", f"{message} Write pack, or give the item the size of one.")
        if text not in (*PACKS, *ONES, "box"):
            got = shown(value) if value is not None else "nothing"
            raise RefusedError("per", f"neither pack, kg nor L, got {got}. Say what the price is for.")
        return "pack"

    def _pack(self) -> Amount | None:
        if self.item.pack is not None or "pack" not in self.head.columns:
            return self.item.pack
        value = self._value("pack")
        if value is None:
            if self._price_is_per_measure():
                return None
            raise RefusedError("pack", "the size of the pack is missing. Write it there, or under the item.")
        found = self._amount("pack", value, self._unit("pack_unit"))
        if found.value <= 0.0:
            raise RefusedError("pack", f"a pack of nothing, got {cell_text(value)}.")
        return found

    def _price_is_per_measure(self) -> bool:
        return self.given.per in ("kg", "L") or "per" in self.head.columns

    def _unit(self, field: str) -> str:
        if field not in self.head.columns:
            return str(getattr(self.given, field) or "")
        value = self._value(field)
        return "" if value is None else str(value)

    def _amount(self, field: str, value: object, unit: str) -> Amount:
        try:
            text = value if isinstance(value, str) else decimal_text(_exact(value))
            # A number in a cell has its decimals by itself, whatever texts have.
            return parse_listed_amount(text, unit, self.given.decimal if isinstance(value, str) else "dot")
        except UnitError as error:
            raise RefusedError(field, str(error)) from None

    def _on_hand(self, pack: Amount | None) -> Amount | None:
        value = self._value("on_hand")
        if value is None:
            if "on_hand" in self.head.columns and "price" not in self.head.columns:
                raise RefusedError("on_hand", "what is there is missing. Write 0 for nothing.")
            return None
        unit = self._unit("on_hand_unit")
        if same_text(unit) not in PACKS:
            return self._amount("on_hand", value, unit)
        if pack is None:
            raise RefusedError("on_hand", "counted in packs, and the size of a pack is not known. Say it.")
        try:
            count = (
                parse_listed_number(value, self.given.decimal) if isinstance(value, str) else _exact(value)
            )
        except UnitError as error:
            raise RefusedError("on_hand", str(error)) from None
        if count < 0:
            raise RefusedError("on_hand", f"less than nothing, got {cell_text(value)}.")
        return Amount(round(float(count) * pack.value, 12), pack.basis, f"{decimal_text(count)} packs")

    def _tax_rate(self) -> float | None:
        value = self._value("tax_rate")
        if value is None:
            if "tax_rate" in self.head.columns:
                raise RefusedError("tax_rate", "the tax is missing. Write 0 % for none.")
            return self.given.tax_rate
        if isinstance(value, str) and value.endswith("%"):
            try:
                share = parse_listed_number(value[:-1], self.given.decimal) / 100
            except UnitError as error:
                raise RefusedError("tax_rate", str(error)) from None
        elif not isinstance(value, str) and "%" in self._mark("tax_rate").shown_as:
            share = _exact(value)
        else:
            raise RefusedError("tax_rate", f"no percentage, got {cell_text(value)}. Write e.g. 20 %.")
        if not 0 <= share <= 1:
            raise RefusedError("tax_rate", f"no tax is that high or low, got {cell_text(value)}.")
        return parse_quantity(f"{decimal_text(100 * share)} %", Dimension.SHARE)

    def _deposit(self) -> Money | None:
        found = self._money("deposit")
        if found is None or found[0] == 0:
            return None
        value, per = found
        if value < 0 or per is not None:
            raise RefusedError("deposit", f"no deposit on a pack, got {cell_text(self._value('deposit'))}.")
        currency = self.currency
        return Money(float(value), currency, None, f"{_money_text(value)} {currency}")


def _exact(value: object) -> Fraction:
    assert isinstance(value, (int, float))
    if not abs(value) <= 1e12:
        raise UnitError(f"a number far outside anything a bar buys, got {value}.")
    return Fraction(value) if isinstance(value, int) else Fraction(f"{value:.{FIGURES}f}")


def _money_text(value: Fraction) -> str:
    text = decimal_text(value)
    decimals = len(text.partition(".")[2])
    return text if decimals >= 2 else f"{float(value):.2f}"


def cell_text(value: object) -> str:
    """Write a value of a cell as one would type it."""
    if value is None:
        return ""
    if isinstance(value, float):
        return decimal_text(value) if abs(value) < 1e15 else repr(value)
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, datetime.datetime) and value.time() == datetime.time():
        value = value.date()
    return str(value).strip()


def _currency_words(shown_as: str) -> Iterator[str]:
    """Find the signs and codes of currencies in the way a workbook shows a number."""
    words: list[str] = []
    rest = shown_as.partition(";")[0]
    while "[$" in rest:
        before, _, after = rest.partition("[$")
        inside, _, rest_after = after.partition("]")
        words.append(inside.partition("-")[0])
        rest = before + rest_after
    quoted = rest.split('"')
    words += quoted[1::2]
    bare = "".join(quoted[::2])
    words += [sign for sign in SIGNS if len(sign) == 1 and sign in bare]
    for word in words:
        name = word.strip()
        if name.lower() in SIGNS or (len(name) == 3 and name.isalpha() and name.isupper()):
            yield name
