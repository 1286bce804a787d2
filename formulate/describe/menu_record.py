"""What `menu` answers with."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from formulate.bar.costing import PriceRecord
from formulate.bar.prices import UnitPrice
from formulate.blend.profile import Profile
from formulate.describe.pour_record import PourLine
from formulate.errors import Note
from formulate.files.measures import IN_EVERY_DRINK
from formulate.files.recipe import Recipe
from formulate.quantity.document import HIDDEN, Cautioned, Record, as_document, computed, in_full, shown
from formulate.quantity.words import day_text

__all__ = [
    "AdaptedLine",
    "AdaptedRow",
    "BatchRow",
    "HouseRow",
    "MenuDay",
    "MenuDrinkRow",
    "MenuLine",
    "MenuRecord",
    "MixTotals",
    "ParRow",
]


PRICES = ("cost", "price", "price_without_tax", "cost_share", "contribution", "price_for_target")
FIGURES = tuple(measure.figure for measure in IN_EVERY_DRINK)


@dataclass(frozen=True, slots=True)
class MenuDay(Record):
    """A day of the menu.

    Attributes
    ----------
    day : int
        From 1 on the first day; 0 and less before it.
    date : str or None
        Year-month-day, where the menu says when it begins.
    """

    day: int
    date: str | None = None

    @property
    def week(self) -> int:
        """Which week it is in, from 1; 0 and less before the first."""
        return (self.day - 1) // 7 + 1

    @property
    def text(self) -> str:
        """The day as a person names it."""
        if self.date is not None:
            return day_text(date.fromisoformat(self.date))
        return f"day {self.day}"


@dataclass(frozen=True, slots=True)
class MenuDrinkRow(Record):
    """A drink on the menu.

    Attributes
    ----------
    sold : float
        Forecast over the menu's time.
    price : PriceRecord or None
        Per drink; None when a price on the shelf is missing.
    lines : tuple of PourLine
        What is poured and what is on the glass.
    """

    name: str
    sold: float
    price: PriceRecord | None = field(metadata=shown("", only=PRICES))
    lines: tuple[PourLine, ...] = field(default=(), metadata=HIDDEN)


@dataclass(frozen=True, slots=True)
class MixTotals(Record):
    """All drinks that have a price, as often as they are forecast.

    Attributes
    ----------
    sales_without_tax, cost, contribution : float
        Cost by what is used, at the lowest prices of the shelf.
    """

    sales_without_tax: float
    cost: float
    contribution: float
    cost_share: float


@dataclass(frozen=True, slots=True)
class BatchRow(Record):
    """One making on the calendar.

    Attributes
    ----------
    week : int
        In which it is begun, from 1; 0 and less before the first.
    begin, ready : MenuDay
        When it is begun, and from when it is poured.
    vessel : str
        Empty for what is made in any amount.
    batches : int
        0 for what is made in any amount.
    recipe : int
        1 for the bottle's own.
    bottles : int or None
        That the batches fill, the last perhaps in part; None where it is not bottled.
    bottle_l : float or None
    """

    week: int
    begin: MenuDay
    ready: MenuDay
    name: str
    vessel: str
    batches: int
    each_l: float
    recipe: int = 1
    bottles: int | None = None
    bottle_l: float | None = None


@dataclass(frozen=True, slots=True)
class AdaptedLine(Record):
    """One ingredient of a recipe that adapts, g per litre bottled."""

    ingredient: str
    step: str
    first_g_l: float
    now_g_l: float


@dataclass(frozen=True, slots=True)
class AdaptedRow(Record):
    """Another recipe of a house bottle, within the limits of its bottle file.

    Attributes
    ----------
    name : str
        Of the house bottle.
    recipe : int
        From 2; the first is the bottle's own.
    first, now : Profile
        What the bottle is by the first recipe and by this one.
    file : Recipe
        To be written; names no shelf and no bottle file.
    """

    name: str
    recipe: int
    made_l: float
    lines: tuple[AdaptedLine, ...]
    first: Profile = field(metadata=shown(only=FIGURES))
    now: Profile = field(metadata=shown(only=FIGURES))
    file: Recipe = field(metadata=HIDDEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseRow(Record):
    """A house bottle over the menu's time, litres.

    Attributes
    ----------
    poured_l, on_hand_l, made_l, left_l : float
        Poured counts what goes into other house bottles too.
    par_l : float
        That shall be left; 0 where nothing is said.
    spoiled_worth : float
        What is in what will be past its time.
    """

    name: str
    poured_l: float
    on_hand_l: float
    made_l: float
    left_l: float
    par_l: float = 0.0
    spoiled_l: float
    short_l: float
    keeps_days: float | None
    spoiled_worth: float = 0.0


@dataclass(frozen=True, slots=True)
class MenuLine(Record):
    """One line of the buying list.

    Attributes
    ----------
    week : int
        In which it comes, from 1; 0 and less before the first.
    day, order_by : MenuDay
        When it comes, and the last day to order it.
    packs : int or None
        None for what is sold by weight.
    amount_kg : float
        0 for what is counted by the piece.
    without_tax, tax, deposit : float
        To the cent.
    cost : float
        What it costs the bar in the end: with tax unless it comes back.
    each : UnitPrice or None
        Of one pack, or one kilogram of what is sold by weight.
    """

    name: str = field(metadata=shown("ingredient"))
    supplier: str
    week: int
    day: MenuDay
    order_by: MenuDay
    packs: int | None
    pack: str
    amount_kg: float
    without_tax: float
    tax: float
    deposit: float
    cost: float
    each: UnitPrice | None = field(default=None, metadata=HIDDEN)

    @property
    @computed(after="deposit")
    def to_pay(self) -> float:
        """Money on the supplier's bill."""
        return round(self.without_tax + self.tax + self.deposit, 2)


@dataclass(frozen=True, slots=True)
class ParRow(Record):
    """Stock of something bought.

    Attributes
    ----------
    on_hand_kg, par_kg, left_kg, spoiled_kg : float
        `left_kg` is there when the menu's time is over.
    per_week_kg : float
        What goes in a usual week, through house bottles too.
    order_at_kg : float or None
        When no more than this is there, order: it covers the days until delivery.
    runs_out : bool
        Whether what is on hand may not last until a delivery ordered now.
    litre_kg : float or None
        Mass of a litre; None for what is weighed.
    bottle_l : float or None
        What a bottle or carton of it holds.
    in_pieces : bool
        A supply: a kilogram stands for a piece.
    left_worth, spoiled_worth : float
        At its lowest price.
    short_kg : float
        What cannot be there in time.
    """

    name: str = field(metadata=shown("ingredient"))
    on_hand_kg: float
    par_kg: float
    left_kg: float
    spoiled_kg: float
    per_week_kg: float
    lead_time_days: float | None
    order_at_kg: float | None
    runs_out: bool
    litre_kg: float | None = field(metadata=HIDDEN)
    bottle_l: float | None = field(metadata=HIDDEN)
    in_pieces: bool = field(default=False, metadata=HIDDEN)
    left_worth: float = 0.0
    spoiled_worth: float = 0.0
    short_kg: float = 0.0

    @property
    @computed(after="name")
    def unit(self) -> str:
        """What `to_dict` counts it in."""
        return "pieces" if self.in_pieces else "g"

    def to_dict(self) -> dict[str, Any]:
        """Lay the row out, a supply in pieces."""
        row = as_document(self)
        if not self.in_pieces:
            return row
        counted = ("on_hand", "par", "left", "spoiled", "per_week", "order_at")
        return row | {f"{name}_g": getattr(self, f"{name}_kg") for name in counted}


@dataclass(frozen=True, kw_only=True)
class MenuRecord(Cautioned):
    """A menu worked out.

    Attributes
    ----------
    status : str
        `optimal`, `feasible`, or `short` where the house cannot make enough.
    lines : tuple of MenuLine
        By supplier and week.
    stock : tuple of ParRow
        Everything bought, in the order it is met.
    total, tax, deposit, to_pay : float
        Sums of the lines; `total` is what it costs the bar in the end, labour not in it.
    labour : float
        Of the batches.
    labour_h : float
        As far as it was given in time.
    adapted : tuple of AdaptedRow
        Other recipes that are made.
    saved : float or None
        What adapting saves; None where it was not asked for.
    least_orders : tuple of (str, float)
        Kept, of suppliers on the list.
    rules : tuple of str
        What every plan keeps that this one is held against.
    over_a_limit : bool
        Whether a drink is over a limit of the law as it is poured.
    """

    status: str
    name: str
    weeks: int
    cover_share: float
    drinks: tuple[MenuDrinkRow, ...]
    mix: MixTotals | None
    house: tuple[HouseRow, ...]
    calendar: tuple[BatchRow, ...]
    lines: tuple[MenuLine, ...]
    stock: tuple[ParRow, ...]
    total: float = field(metadata=shown("cost.total"))
    tax: float = field(metadata=shown("cost.tax"))
    deposit: float = field(metadata=shown("cost.deposit"))
    to_pay: float = field(metadata=shown("cost.to_pay"))
    labour: float = field(metadata=shown("cost.labour"))
    labour_h: float = field(metadata=shown("cost.labour_h"))
    currency: str = field(metadata=shown("cost.currency"))
    proven_gap: float = field(metadata=shown("cost.proven_gap"))
    adapted: tuple[AdaptedRow, ...] = ()
    saved: float | None = field(default=None, metadata=shown("saved_by_adapting"))
    leftover_share: float
    least_orders: tuple[tuple[str, float], ...] = field(metadata=shown(rows=("supplier", "least")))
    rules: tuple[str, ...] = ()
    first_day: str | None = None
    notes: tuple[Note, ...] = field(metadata=HIDDEN)
    cautions: tuple[Note, ...] = field(default=(), metadata=shown(by=in_full))
    over_a_limit: bool = False
    tax_reclaimed: bool = field(metadata=HIDDEN)
    shelf_path: Path | None = field(default=None, metadata=HIDDEN)

    @property
    def without_tax(self) -> float:
        """Sum of the lines before tax and deposit."""
        return round(sum(line.without_tax for line in self.lines), 2)
