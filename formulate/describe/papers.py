"""What is printed together: batches, counts, orders, serve cards, labels and tasting sheets."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from formulate.describe.batch_sheet import BatchSheet
from formulate.describe.label_record import LabelRecord
from formulate.describe.menu_record import HouseRow, MenuLine, ParRow
from formulate.describe.pour_record import PourRecord
from formulate.quantity.document import HIDDEN, Record, Result, shown

__all__ = ["CountSheet", "LabelSheet", "OrderSheet", "Page", "Papers", "ServeCard", "TastingSheet"]


@dataclass(frozen=True, kw_only=True)
class CountSheet(Record):
    """What is counted at the shelf, with room for the count.

    Attributes
    ----------
    name : str
        Of the menu.
    stock : tuple of ParRow
        What is bought.
    house : tuple of HouseRow
        What is made here.
    """

    kind: str = field(default="count", init=False)
    name: str
    stock: tuple[ParRow, ...]
    house: tuple[HouseRow, ...]


@dataclass(frozen=True, kw_only=True)
class OrderSheet(Record):
    """What is ordered from one supplier.

    Attributes
    ----------
    name : str
        Of the menu.
    supplier : str
        Empty where the shelf names none.
    lines : tuple of MenuLine
    currency : str
    least : float or None
        What an order there must come to, where that is kept.
    """

    kind: str = field(default="order", init=False)
    name: str
    supplier: str
    lines: tuple[MenuLine, ...]
    currency: str
    least: float | None

    @property
    def without_tax(self) -> float:
        """Sum of the lines before tax and deposit."""
        return round(sum(line.without_tax for line in self.lines), 2)

    @property
    def tax(self) -> float:
        """Tax on them."""
        return round(sum(line.tax for line in self.lines), 2)

    @property
    def deposit(self) -> float:
        """Deposits on them."""
        return round(sum(line.deposit for line in self.lines), 2)

    @property
    def to_pay(self) -> float:
        """Money on the bill."""
        return round(self.without_tax + self.tax + self.deposit, 2)


@dataclass(frozen=True, kw_only=True)
class ServeCard(Record):
    """One drink as it is made at the bar."""

    kind: str = field(default="serve", init=False)
    drink: PourRecord


@dataclass(frozen=True, kw_only=True)
class LabelSheet(Record):
    """Labels of one bottling, several to a page.

    Attributes
    ----------
    label : LabelRecord
    lot : str
    copies : int
    bottled : date or None
    """

    kind: str = field(default="labels", init=False)
    label: LabelRecord
    lot: str
    copies: int
    bottled: date | None


@dataclass(frozen=True, kw_only=True)
class TastingSheet(Record):
    """Samples by number for one taster, and the list of what they are for whoever pours.

    Attributes
    ----------
    samples : tuple of (int, str)
        Number on the glass, and what is in it.
    allergens : tuple of str
        In any of them: a taster has to know before the glass is lifted.
    cautions : tuple of str
        What guests must know of any of them.
    """

    kind: str = field(default="tasting", init=False)
    samples: tuple[tuple[int, str], ...] = field(metadata=shown(rows=("number", "name")))
    allergens: tuple[str, ...]
    cautions: tuple[str, ...]


Page = BatchSheet | CountSheet | OrderSheet | ServeCard | LabelSheet | TastingSheet


@dataclass(frozen=True, kw_only=True)
class Papers(Result):
    """Pages to be printed, and from which files they come.

    Attributes
    ----------
    name : str
    pages : tuple
    fingerprint : str
        Of all files they were worked out from, twelve digits; another file, another fingerprint.
    off_target : bool
        Whether something in them is not to be made or served as it stands.
    """

    status: str = field(default="printed", init=False)
    name: str
    pages: tuple[Page, ...]
    fingerprint: str
    off_target: bool = field(metadata=HIDDEN)
