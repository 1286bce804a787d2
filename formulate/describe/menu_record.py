"""What `menu` answers with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from formulate.bar.costing import PriceRecord
from formulate.bar.prices import UnitPrice
from formulate.blend.profile import Profile
from formulate.describe.pour_record import PourLine
from formulate.errors import Note
from formulate.files.recipe import Recipe

__all__ = [
    "AdaptedLine",
    "AdaptedRow",
    "BatchRow",
    "HouseRow",
    "MenuDrinkRow",
    "MenuLine",
    "MenuRecord",
    "MixTotals",
    "ParRow",
]


@dataclass(frozen=True, slots=True)
class MenuDrinkRow:
    """A drink on the menu.

    Attributes
    ----------
    name : str
    sold : float
        Forecast over the menu's time.
    price : PriceRecord or None
        Per drink; None when a price on the shelf is missing.
    lines : tuple of PourLine
        What is poured and what is on the glass.
    """

    name: str
    sold: float
    price: PriceRecord | None
    lines: tuple[PourLine, ...] = ()


@dataclass(frozen=True, slots=True)
class MixTotals:
    """All drinks that have a price, as often as they are forecast.

    Attributes
    ----------
    sales_without_tax, cost, contribution : float
        Cost by what is used, at the lowest prices of the shelf.
    cost_share : float
    """

    sales_without_tax: float
    cost: float
    contribution: float
    cost_share: float


@dataclass(frozen=True, slots=True)
class BatchRow:
    """One making on the calendar.

    Attributes
    ----------
    week, ready : int
        When it is begun and from when it is poured, from 1; the same for what takes no more than a week.
    name : str
    vessel : str
        Empty for what is made in any amount.
    batches : int
        0 for what is made in any amount.
    each_l : float
    recipe : int
        1 for the bottle's own.
    bottles : int or None
        That one batch fills, the last perhaps in part; None where it is not bottled.
    bottle_l : float or None
    """

    week: int
    ready: int
    name: str
    vessel: str
    batches: int
    each_l: float
    recipe: int = 1
    bottles: int | None = None
    bottle_l: float | None = None


@dataclass(frozen=True, slots=True)
class AdaptedLine:
    """One ingredient of a recipe that adapts, g per litre bottled.

    Attributes
    ----------
    ingredient, step : str
    first_g_l, now_g_l : float
    """

    ingredient: str
    step: str
    first_g_l: float
    now_g_l: float


@dataclass(frozen=True, slots=True)
class AdaptedRow:
    """Another recipe of a house bottle, within the limits of its bottle file.

    Attributes
    ----------
    name : str
        Of the house bottle.
    recipe : int
        From 2; the first is the bottle's own.
    made_l : float
    lines : tuple of AdaptedLine
    first, now : Profile
        What the bottle is by the first recipe and by this one.
    file : Recipe
        To be written; names no shelf and no bottle file.
    """

    name: str
    recipe: int
    made_l: float
    lines: tuple[AdaptedLine, ...]
    first: Profile
    now: Profile
    file: Recipe


@dataclass(frozen=True, slots=True)
class HouseRow:
    """A house bottle over the menu's time, litres.

    Attributes
    ----------
    name : str
    poured_l, on_hand_l, made_l, left_l, spoiled_l, short_l : float
        Poured counts what goes into other house bottles too.
    keeps_weeks : int or None
    par_l : float
        That shall be left; 0 where nothing is said.
    """

    name: str
    poured_l: float
    on_hand_l: float
    made_l: float
    left_l: float
    spoiled_l: float
    short_l: float
    keeps_weeks: int | None
    par_l: float = 0.0


@dataclass(frozen=True, slots=True)
class MenuLine:
    """One line of the buying list.

    Attributes
    ----------
    name, supplier : str
    week : int
        At whose start it shall be there, from 1.
    packs : int or None
        None for what is sold by weight.
    pack : str
    amount_kg : float
        0 for what is counted by the piece.
    without_tax, tax, deposit : float
        To the cent.
    cost : float
        What it costs the bar in the end: with tax unless it comes back.
    each : UnitPrice or None
        Of one pack, or one kilogram of what is sold by weight.
    """

    name: str
    supplier: str
    week: int
    packs: int | None
    pack: str
    amount_kg: float
    without_tax: float
    tax: float
    deposit: float
    cost: float
    each: UnitPrice | None = None

    @property
    def to_pay(self) -> float:
        """Money on the supplier's bill."""
        return round(self.without_tax + self.tax + self.deposit, 2)


@dataclass(frozen=True, slots=True)
class ParRow:
    """Stock of something bought.

    Attributes
    ----------
    name : str
    on_hand_kg, par_kg, left_kg, spoiled_kg : float
        `left_kg` is there when the menu's time is over.
    per_week_kg : float
        What goes in a usual week, through house bottles too.
    lead_time_days : float or None
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
    """

    name: str
    on_hand_kg: float
    par_kg: float
    left_kg: float
    spoiled_kg: float
    per_week_kg: float
    lead_time_days: float | None
    order_at_kg: float | None
    runs_out: bool
    litre_kg: float | None
    bottle_l: float | None
    in_pieces: bool = False
    left_worth: float = 0.0
    spoiled_worth: float = 0.0


@dataclass(frozen=True)
class MenuRecord:
    """A menu worked out.

    Attributes
    ----------
    name : str
    weeks : int
    cover_share : float
    drinks : tuple of MenuDrinkRow
    mix : MixTotals or None
    house : tuple of HouseRow
    calendar : tuple of BatchRow
    lines : tuple of MenuLine
        By supplier and week.
    labour : float
        Of the batches.
    labour_h : float
        As far as it was given in time.
    stock : tuple of ParRow
        Everything bought, in the order it is met.
    total, to_pay, tax, deposit : float
        Sums of the lines; `total` is what it costs the bar in the end, labour not in it.
    currency : str
    tax_reclaimed : bool
    status : str
        `optimal`, `feasible`, or `short` where the house cannot make enough.
    proven_gap : float
    leftover_share : float
    least_orders : tuple of (str, float)
        Kept, of suppliers on the list.
    adapted : tuple of AdaptedRow
        Other recipes that are made.
    saved : float or None
        What adapting saves; None where it was not asked for.
    shelf_path : Path or None
    notes, cautions : tuple of Note
    over_a_limit : bool
        Whether a drink is over a limit of the law as it is poured.
    """

    name: str
    weeks: int
    cover_share: float
    drinks: tuple[MenuDrinkRow, ...]
    mix: MixTotals | None
    house: tuple[HouseRow, ...]
    calendar: tuple[BatchRow, ...]
    lines: tuple[MenuLine, ...]
    labour: float
    labour_h: float
    stock: tuple[ParRow, ...]
    total: float
    to_pay: float
    tax: float
    deposit: float
    currency: str
    tax_reclaimed: bool
    status: str
    proven_gap: float
    leftover_share: float
    least_orders: tuple[tuple[str, float], ...]
    notes: tuple[Note, ...]
    cautions: tuple[Note, ...] = ()
    over_a_limit: bool = False
    adapted: tuple[AdaptedRow, ...] = ()
    saved: float | None = None
    shelf_path: Path | None = None

    @property
    def without_tax(self) -> float:
        """Sum of the lines before tax and deposit."""
        return round(sum(line.without_tax for line in self.lines), 2)
