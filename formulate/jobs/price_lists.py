"""`prices`: what a shelf takes from the price lists it names, row by row, and what it cannot use."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from formulate.bar.opening import pantry_of
from formulate.bar.prices import split_price
from formulate.errors import SpecError, SpecProblem
from formulate.files.issues import Problems
from formulate.files.list_rows import ListRow
from formulate.files.listed_shelf import read_lists, stocked_from_lists
from formulate.files.located import load_document
from formulate.files.price_list import PriceList
from formulate.files.problems import read_model
from formulate.files.shelf import Shelf
from formulate.files.tables import cell_name
from formulate.quantity.document import HIDDEN, Record, Result, computed, shown

__all__ = ["ListRecord", "PriceListsRecord", "TakenRow", "read_price_lists"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenRow(Record):
    """A row of a list that the shelf takes.

    Attributes
    ----------
    ingredient, product : str
        Our id, and the product as the list writes it.
    cell : str
        Of the product.
    row, column : int
        The same, from 1.
    pack, on_hand : str
        As read; empty without.
    price : float or None
        For a pack, or per kg or L; None in a list of stock.
    per : str
        `pack`, `kg` or `L`; empty without a price.
    tax_share, deposit : float or None
        As the list says.
    tax_text : str
        What is asked on top of the price, or is in it already; empty where there is no tax.
    deposit : float or None
        As the list says.
    """

    ingredient: str
    product: str
    cell: str
    cell_in_sheet: str = field(metadata=HIDDEN)
    row: int
    column: int
    pack: str
    on_hand: str
    price: float | None
    per: str
    price_text: str = field(metadata=HIDDEN)
    tax_share: float | None
    tax_text: str = field(metadata=shown("tax"))
    deposit: float | None


@dataclass(frozen=True, kw_only=True)
class ListRecord(Record):
    """One price list.

    Attributes
    ----------
    file, supplier, sheet, read_as : str
        Supplier and sheet may be empty.
    rows : tuple of TakenRow
        Right as they stand; taken only where nothing of the list is wrong.
    unused : int
        Rows nobody asked for.
    """

    file: str
    supplier: str
    sheet: str
    read_as: str
    rows: tuple[TakenRow, ...]
    problems: tuple[SpecProblem, ...] = field(metadata=shown("rejected"))
    unused: int = field(metadata=shown("rows_not_used"))


@dataclass(frozen=True)
class PriceListsRecord(Result):
    """What a shelf takes from its lists.

    Attributes
    ----------
    name, currency : str
        Of the shelf.
    between : tuple of SpecProblem
        Wrong between the lists and the shelf.
    """

    name: str
    currency: str
    lists: tuple[ListRecord, ...]
    between: tuple[SpecProblem, ...] = field(metadata=shown("rejected_between"))

    @property
    @computed(after="")
    def status(self) -> str:
        """`ok`, or `rejected` where something asked for cannot be used."""
        return "ok" if self.right else "rejected"

    @property
    def right(self) -> bool:
        """Whether everything asked for can be used."""
        return not self.between and not any(given.problems for given in self.lists)


def read_price_lists(path: Path) -> PriceListsRecord:
    """Read the price lists of a shelf file without solving anything.

    Returns
    -------
    PriceListsRecord
        Also of what is wrong in the lists: nothing is raised for that.

    Raises
    ------
    SpecError
        If the shelf file itself is wrong.
    """
    shelf = read_model(Shelf, load_document(path))
    read = read_lists(shelf)
    in_the_lists = {problem for content in read for problem in content.problems}
    between: tuple[SpecProblem, ...] = ()
    try:
        between = _unknown(stocked_from_lists(shelf, read))
    except SpecError as error:
        between = tuple(problem for problem in error.problems if problem not in in_the_lists)
    lists = tuple(
        ListRecord(
            file=content.file,
            supplier=given.supplier or "",
            sheet=content.sheet,
            read_as=content.how,
            rows=tuple(_taken(row, given, shelf) for row in content.rows),
            unused=content.unused,
            problems=content.problems,
        )
        for given, content in zip(shelf.price_lists, read, strict=True)
    )
    return PriceListsRecord(shelf.name, shelf.currency, lists, between)


def _taken(row: ListRow, given: PriceList, shelf: Shelf) -> TakenRow:
    values = row.values
    price, pack = values.price, values.pack
    split = split_price(
        0.0 if price is None else price.value, shelf.tax, tax_in=given.tax, tax_share=values.tax_rate
    )
    tax = f"{100.0 * split.tax_share:g} %" if price is not None and split.tax_share > 0.0 else ""
    return TakenRow(
        ingredient=row.name,
        product=row.product,
        cell=row.place.cell,
        cell_in_sheet=cell_name(row.place.line, row.place.column),
        row=row.place.line,
        column=row.place.column,
        pack="" if pack is None else pack.text,
        on_hand="" if values.on_hand is None else values.on_hand.text,
        price=None if price is None else price.value,
        per="" if price is None else price.per or "pack",
        price_text="" if price is None else price.text,
        tax_share=values.tax_rate,
        deposit=None if values.deposit is None else values.deposit.value,
        tax_text=tax and (f"{tax} in it" if split.asked_with_tax else f"+ {tax}"),
    )


def _unknown(shelf: Shelf) -> tuple[SpecProblem, ...]:
    """Find ids that nobody knows, and packs that cannot be weighed."""
    pantry = pantry_of(shelf)
    problems = Problems(shelf.places)
    for number, given in enumerate(shelf.price_lists):
        for name in given.items:
            if name in shelf.whole or name in shelf.house_made:
                continue
            path = ("price_lists", number, "items", name)
            try:
                pantry.price_per_kg(pantry.unaged(name))
            except SpecError as error:
                problems.add_from(path, error)
            except ValueError as error:
                problems.add(path, str(error), key=True)
    return tuple(dict.fromkeys(problems.found))
