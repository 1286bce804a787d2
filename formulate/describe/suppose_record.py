"""What `suppose` answers with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from formulate.errors import FORBIDDING, Note

__all__ = ["SHORT", "CaseRecord", "Move", "Spread", "Supposed", "Telling"]

SHORT = "short"
"""Status of a plan that leaves something missing."""


@dataclass(frozen=True, slots=True)
class Move:
    """Something that is used, or bought, otherwise than as it is.

    Attributes
    ----------
    name : str
    before, now : float
        g per litre bottled for a bottle, money for a menu.
    """

    name: str
    before: float
    now: float


@dataclass(frozen=True, slots=True)
class CaseRecord:
    """One case worked out.

    Attributes
    ----------
    name, kind : str
        `kind` is `case`, `grid` or `draw`.
    changes : tuple of str
    outcome : mapping
        As it is kept: texts and figures.
    difference : float or None
        Of the figure, to the one as it is; None where either is missing.
    moves : tuple of Move
        The largest first.
    """

    name: str
    kind: str
    changes: tuple[str, ...]
    outcome: Mapping[str, Any]
    difference: float | None
    moves: tuple[Move, ...]


@dataclass(frozen=True, slots=True)
class Telling:
    """How far one thing that varies goes with the figure.

    Attributes
    ----------
    name : str
    rank_correlation : float
        Spearman's, -1 to 1; its square is about the share that this thing explains.
    """

    name: str
    rank_correlation: float


@dataclass(frozen=True)
class Spread:
    """Many cases of one kind together.

    Attributes
    ----------
    kind : str
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
    least: float | None
    low: float | None
    median: float | None
    high: float | None
    most: float | None
    telling: tuple[Telling, ...]


@dataclass(frozen=True)
class Supposed:
    """Cases side by side.

    Attributes
    ----------
    name, about : str
        Of the scenarios file, and of the bottle or menu.
    is_menu : bool
    currency : str
    day : date
        What the age of the stock is counted to.
    as_it_is : mapping
        Outcome with nothing changed.
    cases : tuple of CaseRecord
        In the order of the file.
    spreads : tuple of Spread
    notes : tuple of Note
    """

    name: str
    about: str
    is_menu: bool
    currency: str
    day: date
    as_it_is: Mapping[str, Any]
    cases: tuple[CaseRecord, ...]
    spreads: tuple[Spread, ...]
    notes: tuple[Note, ...]

    @property
    def off_target(self) -> bool:
        """Whether a case leaves something that cannot be made in time, or a drink over a limit of the law."""
        return any(
            one.outcome["status"] == SHORT
            or any(code in FORBIDDING for code, *_ in one.outcome.get("law", ()))
            for one in self.cases
        )
