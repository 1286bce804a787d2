"""What `buy` answers with."""

from __future__ import annotations

from dataclasses import dataclass, field

from formulate.bar.least_orders import Shortfall
from formulate.bar.prices import UnitPrice
from formulate.describe.records import DrinkRecord
from formulate.describe.reformulate_record import Figures, Move
from formulate.describe.solved import SolvedBottle
from formulate.errors import Note
from formulate.quantity.document import HIDDEN, Cautioned, Record, computed, in_full, shown

__all__ = ["Adaptation", "BuyLine", "BuyRecord"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyLine(Record):
    """One thing on the list.

    Attributes
    ----------
    supplier : str
        Empty when the shelf names none.
    packs : int or None
        How many; None for a thing sold by weight, on hand, or free.
    pack : str
        What one is, as the shelf says; `by weight`, `made here`, `on hand`, or empty for what is free.
    without_tax, tax, deposit : float
        On the bill, to the cent.
    cost : float
        To the cent, in the end: with tax unless it comes back.
    used_kg, from_stock_kg, left_kg : float
        What the batch uses, what of it is on hand already, and what is left over of all that. With several
        packs of a thing they stand beside the first.
    each : UnitPrice or None
        Of one pack, or one kilogram of what is sold by weight; None where there is nothing to pay.
    """

    name: str = field(metadata=shown("ingredient"))
    supplier: str
    packs: int | None
    pack: str
    bought_kg: float
    without_tax: float = 0.0
    tax: float = 0.0
    deposit: float = 0.0
    cost: float
    used_kg: float
    from_stock_kg: float
    left_kg: float
    each: UnitPrice | None = field(default=None, metadata=HIDDEN)


@dataclass(frozen=True, kw_only=True)
class Adaptation(Record):
    """What fitting the recipe to whole packs does.

    Attributes
    ----------
    saved : float
        Money to pay less than for the cheapest recipe by use.
    proved : bool
        Whether no other fitting saves more.
    moves : tuple of Move
        Both recipes, in the order of the file.
    """

    saved: float
    proved: bool
    moves: tuple[Move, ...]
    before: Figures
    after: Figures


@dataclass(frozen=True, kw_only=True)
class BuyRecord(Cautioned):
    """A buying list.

    Attributes
    ----------
    status : str
        `optimal` when no list is cheaper, by more than the gap.
    solved : SolvedBottle
        The recipe the list is for; its cost counts what is used.
    lines : tuple of BuyLine
        What is paid by supplier, then the rest, each in the order of the bottle file.
    total : float
        Sum of the lines.
    proven_gap : float
        How much dearer, relative, the list may be than the cheapest.
    leftover_share : float
        What a rest counted as still worth; where it is above 0 the cheapest is meant after that.
    least_orders : tuple of (str, float)
        Minimum orders that were kept, of suppliers on the list.
    shortfalls : tuple of Shortfall
        Minimum orders that the list does not reach.
    elsewhere : tuple of BuyLine
        Where it falls short, the whole list that keeps every minimum order; empty where there is none.
    adapted : Adaptation or None
        When the recipe was fitted to whole packs.
    could_save : float or None
        Money that fitting it would save, where it was not; None when that was not worked out.
    """

    status: str
    solved: SolvedBottle = field(metadata=HIDDEN)
    lines: tuple[BuyLine, ...]
    total: float
    currency: str
    proven_gap: float
    leftover_share: float = 0.0
    least_orders: tuple[tuple[str, float], ...] = field(
        default=(), metadata=shown(rows=("supplier", "least"))
    )
    shortfalls: tuple[Shortfall, ...] = ()
    elsewhere: tuple[BuyLine, ...] = ()
    adapted: Adaptation | None = None
    could_save: float | None = None
    notes: tuple[Note, ...] = field(default=(), metadata=HIDDEN)
    tax_reclaimed: bool = field(default=True, metadata=HIDDEN)

    @property
    @computed(after="status")
    def name(self) -> str:
        """Of the bottle."""
        return self.drink.name

    @property
    @computed(after="total")
    def without_tax(self) -> float:
        """Sum of the lines before tax and deposit."""
        return round(sum(line.without_tax for line in self.lines), 2)

    @property
    @computed(after="without_tax")
    def tax(self) -> float:
        """Tax on the bills."""
        return round(sum(line.tax for line in self.lines), 2)

    @property
    @computed(after="tax")
    def deposit(self) -> float:
        """Deposits on the bills."""
        return round(sum(line.deposit for line in self.lines), 2)

    @property
    @computed(after="deposit")
    def to_pay(self) -> float:
        """Money on the bills."""
        return round(self.without_tax + self.tax + self.deposit, 2)

    @property
    @computed(after="warnings", by=in_full)
    def cautions(self) -> tuple[Note, ...]:
        """Of the drink."""
        return self.drink.cautions

    @property
    @computed(after="cautions")
    def drink(self) -> DrinkRecord:
        """The recipe the list is for, worked out."""
        return self.solved.record

    @property
    def before(self) -> str:
        """What a recipe fitted to the packs is held against, in words."""
        where = " in the middle of each band" if self.solved.formulation.as_asked else ""
        return f"the cheapest recipe by use{where}"
