"""What `reformulate` answers with."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from formulate.blend.flavour import FlavourPart
from formulate.blend.profile import Profile
from formulate.describe.records import DrinkRecord
from formulate.errors import Note
from formulate.files.measures import COST, IN_EVERY_DRINK
from formulate.quantity.document import HIDDEN, Record, Result, as_document, computed, shown

__all__ = ["Figures", "FlavourShift", "Move", "Reformulation", "Way", "flavour_shifts"]

SHIFTS_FROM = 0.03
"""A share of the flavour that changes by less, of all of it, is told as staying."""


@dataclass(frozen=True, slots=True)
class Figures(Record):
    """The figures of a drink that a reformulation is judged by; no cost where a price is missing."""

    drink: Profile = field(metadata=shown("", only=tuple(measure.figure for measure in IN_EVERY_DRINK)))
    cost_per_l: float | None

    @classmethod
    def of_record(cls, record: DrinkRecord) -> Figures:
        """Take the figures of a drink that was described."""
        return cls(record.predicted, None if record.cost is None else record.cost.per_litre)

    def value(self, measure: str) -> float | None:
        """Return a figure in the unit it is shown in."""
        return self.cost_per_l if measure == COST else float(self.drink.value(measure))


@dataclass(frozen=True, slots=True)
class Move(Record):
    """An ingredient of the old recipe, the new one, or both.

    Attributes
    ----------
    before_kg, after_kg : float
        For a batch of the new size; 0 where it is not in.
    moved : bool
        Whether it changed by more than nothing.
    """

    ingredient: str
    step: str
    before_kg: float
    after_kg: float
    moved: bool


@dataclass(frozen=True, slots=True)
class FlavourShift:
    """How much of the flavour one ingredient brings, before and now.

    Attributes
    ----------
    before, after : float
        Shares of 0 to 1, a working measure; 0 where it is not in.
    """

    ingredient: str
    before: float
    after: float


def flavour_shifts(
    before: Iterable[FlavourPart], after: Iterable[FlavourPart], tastes: Mapping[str, str]
) -> tuple[FlavourShift, ...]:
    """Say which flavours go, which come, and which shift; what stays much the same is left out.

    Parameters
    ----------
    tastes : mapping of str to str
        What each ingredient tastes of, where that is another: a tincture of gentian of gentian.
    """
    shares: list[dict[str, float]] = []
    for parts in (before, after):
        by_taste: dict[str, float] = {}
        for part in parts:
            name = tastes.get(part.ingredient, part.ingredient)
            by_taste[name] = by_taste.get(name, 0.0) + part.share
        shares.append(by_taste)
    shifts = [
        FlavourShift(name, shares[0].get(name, 0.0), shares[1].get(name, 0.0))
        for name in dict.fromkeys((*shares[0], *shares[1]))
    ]
    return tuple(
        one for one in shifts if not one.before or not one.after or abs(one.after - one.before) >= SHIFTS_FROM
    )


@dataclass(frozen=True, kw_only=True)
class Way(Record):
    """One new recipe.

    Attributes
    ----------
    title : str
        What sets it apart.
    moved : float
        How far it is from the old one, in whole changes; see `optimise.change.moved`.
    moves : tuple of Move
        Every ingredient of either recipe, in the order of the file.
    """

    title: str
    drink: DrinkRecord = field(metadata=HIDDEN)
    moved: float
    figures: Figures
    moves: tuple[Move, ...]
    flavours: tuple[FlavourShift, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Reformulation(Result):
    """A recipe made again under other circumstances.

    Attributes
    ----------
    changes : tuple of str
        What changed, in words.
    mode : str
        What was asked for: `least change`, `cheapest` or `nearest flavour`.
    before : Figures
        Of the old recipe as the files have it.
    before_l : float
        Litres bottled of it; its masses are shown for a batch of the new size.
    unchanged : Figures or None
        Of the old recipe at the new prices and with the new lots; None where neither changed.
    others : tuple of Way
        Ways that differ really, the one that comes nearest to what was asked first.
    suggested : tuple of (str, tuple of str)
        Per missing ingredient, library ingredients that the shelf has no price for.
    """

    name: str = field(metadata=HIDDEN)
    changes: tuple[str, ...]
    mode: str
    before: Figures
    before_l: float
    unchanged: Figures | None
    best: Way = field(metadata=HIDDEN)
    others: tuple[Way, ...]
    suggested: tuple[tuple[str, tuple[str, ...]], ...] = field(metadata=shown(rows=("missing", "library")))
    notes: tuple[Note, ...] = field(metadata=HIDDEN)
    status: str = field(default="reformulated", init=False)

    @property
    @computed("", after="name")
    def drink(self) -> DrinkRecord:
        """The new recipe, worked out."""
        return self.best.drink

    @property
    @computed("", after="unchanged")
    def _moved(self) -> dict[str, Any]:
        best = as_document(self.best)
        return {"after": best["figures"]} | {name: best[name] for name in ("moved", "moves", "flavours")}

    @property
    @computed(after="suggested")
    def warnings(self) -> tuple[Note, ...]:
        """Everything a person should know beside the figures."""
        return (*self.notes, *self.drink.notes, *self.drink.cautions)
