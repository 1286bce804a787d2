"""`solve --prices`: what each limit costs and how far that holds, and when an unused ingredient comes in."""

from __future__ import annotations

from dataclasses import dataclass, field

from formulate.describe.solved import SolvedBottle
from formulate.errors import Note
from formulate.formulation.choices import choices_of
from formulate.optimise.pricing import EntryPrice, LimitPrice, entry_prices, limit_prices
from formulate.optimise.problem import Says
from formulate.quantity.document import HIDDEN, Record, shown

__all__ = ["EntryRecord", "LimitPriceRecord", "Prices", "prices_of"]


@dataclass(frozen=True, slots=True)
class LimitPriceRecord:
    """What one bound costs.

    Attributes
    ----------
    bound
        In `unit`.
    below, above
        Change of the cost per litre for one unit more of the bound, to either side; None where no recipe is.
    unique
        Whether both are one price.
    low, high
        Over which range of the bound the price holds; None without a recipe on that side.
    low_open, high_open
        Whether it may hold beyond: it was not looked further.
    source
        file:line:column.
    says_side
        Whether the name of the limit says which side it is.
    """

    limit: str
    unit: str
    is_lower: bool
    bound: float
    below: float | None
    above: float | None
    unique: bool
    low: float | None
    high: float | None
    low_open: bool
    high_open: bool
    is_target: bool
    source: str
    says_side: bool = field(default=False, metadata=HIDDEN)


@dataclass(frozen=True, slots=True)
class EntryRecord:
    """When an unused ingredient would come in.

    Attributes
    ----------
    price_per_kg
        Now.
    entry_per_kg
        None when it would not even for nothing.
    mass_kg
        How much of it then, for this batch.
    """

    ingredient: str
    price_per_kg: float
    entry_per_kg: float | None
    mass_kg: float = field(metadata=shown("mass_kg"))


@dataclass(frozen=True)
class Prices(Record):
    """What `solve --prices` adds to an answer."""

    currency: str = field(metadata=HIDDEN)
    limits: tuple[LimitPriceRecord, ...] = field(metadata=shown("prices.limits"))
    entries: tuple[EntryRecord, ...] = field(metadata=shown("prices.entries"))
    notes: tuple[Note, ...] = field(metadata=shown("prices.warnings"))


def prices_of(solved: SolvedBottle) -> Prices:
    """Price the limits and the unused ingredients of a solved bottle, each confirmed by solving again.

    Parameters
    ----------
    solved
        Before it is rounded to what a balance shows.
    """
    answer = solved.answer
    notes = []
    if choices_of(solved.formulation):
        text = (
            "Prices hold with the ingredients chosen as they are: what the file says under `choose` is held."
        )
        notes.append(Note("choices_held", text))
    if answer.problem.purchases:
        text = "What comes out of a whole thing has no entry price of its own: it is paid for with the whole."
        notes.append(Note("parts_not_priced", text))
    return Prices(
        currency=solved.formulation.pantry.currency,
        limits=tuple(_limit(price, solved) for price in limit_prices(answer)),
        entries=tuple(_entry(price, solved) for price in entry_prices(answer)),
        notes=tuple(notes),
    )


def _limit(price: LimitPrice, solved: SolvedBottle) -> LimitPriceRecord:
    limit = solved.answer.problem.limits[price.number]
    return LimitPriceRecord(
        limit=limit.origin.name,
        unit=limit.unit,
        is_lower=price.is_lower,
        bound=price.bound,
        below=price.below,
        above=price.above,
        unique=price.unique,
        low=price.low,
        high=price.high,
        low_open=price.low_open,
        high_open=price.high_open,
        is_target=limit.is_target,
        source=str(limit.origin.location or ""),
        says_side=limit.origin.says is Says.SIDE,
    )


def _entry(price: EntryPrice, solved: SolvedBottle) -> EntryRecord:
    return EntryRecord(
        ingredient=solved.answer.problem.chain.materials.ids[price.ingredient],
        price_per_kg=price.price_per_kg,
        entry_per_kg=price.entry_per_kg,
        mass_kg=price.mass_kg_l * solved.answer.volume_l,
    )
