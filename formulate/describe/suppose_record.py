"""What `suppose` answers with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from formulate.errors import FORBIDDING, Note
from formulate.quantity.document import Record, Result, shown

__all__ = ["SHORT", "CaseRecord", "Move", "Spread", "Supposed", "Telling"]

SHORT = "short"
"""Status of a plan that leaves something missing."""


@dataclass(frozen=True, slots=True)
class Move(Record):
    """Something that is used, or bought, otherwise than as it is.

    Attributes
    ----------
    before, now : float
        g per litre bottled for a bottle, money for a menu.
    """

    name: str
    before: float
    now: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseRecord(Record):
    """One case worked out.

    Attributes
    ----------
    name, kind : str
        `kind` is `case`, `grid` or `draw`.
    difference : float or None
        Of the figure, to the one as it is; None where either is missing.
    outcome : mapping
        As it is kept: texts and figures.
    moves : tuple of Move
        The largest first.
    """

    name: str
    kind: str
    changes: tuple[str, ...]
    difference: float | None
    outcome: Mapping[str, Any] = field(metadata=shown(""))
    moves: tuple[Move, ...]


@dataclass(frozen=True, slots=True)
class Telling(Record):
    """How far one thing that varies goes with the figure.

    Attributes
    ----------
    rank_correlation : float
        Spearman's, -1 to 1; its square is about the share that this thing explains.
    """

    name: str
    rank_correlation: float


@dataclass(frozen=True)
class Spread(Record):
    """Many cases of one kind together.

    Attributes
    ----------
    count, without : int
        How many, and how many of them have no recipe or plan.
    too_dear : int
        How many cost more than the bottle file allows.
    short : int
        How many leave something that cannot be made in time.
    least, low, median, high, most : float or None
        Of the figure: lowest, 5 %, middle, 95 %, highest of those that have one.
    telling : tuple of Telling
        The most telling first.
    """

    kind: str
    count: int
    without: int
    too_dear: int
    short: int
    least: float | None = field(metadata=shown("lowest"))
    low: float | None = field(metadata=shown("p5"))
    median: float | None
    high: float | None = field(metadata=shown("p95"))
    most: float | None = field(metadata=shown("highest"))
    telling: tuple[Telling, ...]


@dataclass(frozen=True, kw_only=True)
class Supposed(Result):
    """Cases side by side.

    Attributes
    ----------
    name, about : str
        Of the scenarios file, and of the bottle or menu.
    day : date
        What the age of the stock is counted to.
    as_it_is : mapping
        Outcome with nothing changed.
    cases : tuple of CaseRecord
        In the order of the file.
    """

    status: str = field(default="supposed", init=False)
    name: str
    about: str
    is_menu: bool = field(metadata=shown("kind", by=lambda is_menu: "menu" if is_menu else "bottle"))
    currency: str
    day: date
    as_it_is: Mapping[str, Any]
    cases: tuple[CaseRecord, ...]
    spreads: tuple[Spread, ...]
    notes: tuple[Note, ...] = field(metadata=shown("warnings"))

    @property
    def off_target(self) -> bool:
        """Whether a case leaves something that cannot be made in time, or a drink over a limit of the law."""
        return any(
            one.outcome["status"] == SHORT
            or any(code in FORBIDDING for code, *_ in one.outcome.get("law", ()))
            for one in self.cases
        )
