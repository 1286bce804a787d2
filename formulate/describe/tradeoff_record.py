"""What `tradeoff` answers with."""

from __future__ import annotations

from dataclasses import dataclass, field

from formulate.errors import Note
from formulate.quantity.document import Record, Result, shown

__all__ = ["Entry", "ProvedEnd", "Tradeoff", "TradeoffPoint"]


@dataclass(frozen=True, slots=True)
class TradeoffPoint(Record):
    """One value of the target that is moved.

    Attributes
    ----------
    found
        `recipe`, `no recipe` (proved) or `not settled`.
    low
        The least cost, or the least of the other target; None without a recipe.
    high
        The most of the other target; None against cost, without a recipe, or where nothing bounds it.
    """

    value: float
    found: str
    low: float | None
    high: float | None
    used: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Entry(Record):
    """An ingredient that comes in or goes out on the way.

    Attributes
    ----------
    value
        First value at which it is otherwise.
    """

    value: float
    ingredient: str
    comes_in: bool


@dataclass(frozen=True, slots=True)
class ProvedEnd(Record):
    """What is proved of the cost at one end.

    Attributes
    ----------
    value
        Of the target that is moved.
    found
        As in `TradeoffPoint`; `not settled` proves nothing.
    cost_per_l
        Of the recipe, where there is one.
    proven_gap
        No recipe is cheaper by more than this share.
    """

    value: float
    found: str
    cost_per_l: float | None = field(default=None, metadata=shown("cost_per_litre"))
    proven_gap: float | None = None


@dataclass(frozen=True, kw_only=True)
class Tradeoff(Result):
    """What one figure costs another.

    Attributes
    ----------
    name
        Of the bottle.
    vary, unit
        The target that is moved.
    moved
        How it is held at each value: `exactly`, `at least` or `at most`.
    points
        In order of the values as asked.
    ceiling
        The bottle file's own limit on the cost, which was left out to see beyond it.
    proved
        The first and the last cost, where that was asked.
    """

    status: str = field(default="tradeoff", init=False)
    name: str
    vary: str
    unit: str
    moved: str
    against: str
    against_unit: str
    points: tuple[TradeoffPoint, ...]
    entries: tuple[Entry, ...]
    ceiling: float | None = None
    proved: tuple[ProvedEnd, ...] = ()
    notes: tuple[Note, ...] = field(metadata=shown("warnings"))
