"""What law says of a drink, as records."""

from __future__ import annotations

from dataclasses import dataclass, field

from formulate.files.bottle import Lifted
from formulate.quantity.document import HIDDEN, computed, or_none, shown

__all__ = ["CapRecord", "CategoryRecord", "LawRecord"]


@dataclass(frozen=True, slots=True)
class CategoryRecord:
    """One category held against a drink.

    Attributes
    ----------
    id, name : str
        Row of the standards, and the usual name.
    names : tuple of str
        Every name it may carry.
    jurisdictions : tuple of str
        Where.
    relevant : bool
        Whether its ingredients are those of this category at all.
    missing : tuple of str
        What the figures lack, in words; empty when they fit.
    shortfall : float
        Worst of them as a share of what is asked; 0 when they fit.
    by_hand : str
        What no figure tells; empty for nothing.
    general : bool
        Whether it is a catch-all.
    verified : bool
        Whether the source was in hand.
    source : str
        With how far to trust it.
    """

    id: str
    name: str
    names: tuple[str, ...]
    jurisdictions: tuple[str, ...]
    relevant: bool
    missing: tuple[str, ...]
    shortfall: float = field(metadata=HIDDEN)
    by_hand: str = field(metadata=shown(by=or_none))
    general: bool = field(metadata=HIDDEN)
    verified: bool = field(metadata=HIDDEN)
    source: str

    @property
    @computed(after="relevant")
    def fits(self) -> bool:
        """Whether ingredients and figures fit; what is to be judged by hand aside."""
        return self.relevant and not self.missing


@dataclass(frozen=True, slots=True, kw_only=True)
class CapRecord:
    """A limit of the law, and what the drink holds at worst.

    Attributes
    ----------
    rule, substance, says : str
        Id of the standard's row, what it limits, and how.
    value, most : float
        In `unit`.
    binding, over : bool
        Whether the drink stands at the limit, and whether it is above it.
    brought_by : tuple of (str, float)
        Ingredients and their shares, the greatest first.
    provenance : str
        Source, and how far to trust it.
    verified : bool
        Whether somebody had the published source in hand.
    source : str
        file:line:column of the row.
    lifted : Lifted or None
        By whom, where the bottle file does not keep it.
    """

    rule: str = field(metadata=shown("limit"))
    substance: str
    says: str
    value: float
    most: float
    unit: str
    binding: bool
    over: bool
    brought_by: tuple[tuple[str, float], ...] = field(metadata=shown("from", rows=("ingredient", "share")))
    jurisdiction: tuple[str, ...]
    provenance: str = field(metadata=shown("source"))
    verified: bool
    source: str = field(metadata=shown("place"))
    lifted: Lifted | None = field(default=None, metadata=shown(only=("name", "reason", "date")))


@dataclass(frozen=True, slots=True, kw_only=True)
class LawRecord:
    """What the law says to a drink.

    Attributes
    ----------
    jurisdiction : str or None
        None where no file names one: then the strictest applies.
    serve_l : float
        What a limit per serve is held against.
    too_weak : tuple of str
        What it holds that may go into stronger drinks only, in words.
    caps : tuple of CapRecord
        Every limit on something the drink holds, lifted ones too, the nearest to its limit first.
    """

    jurisdiction: str | None
    serve_l: float = field(metadata=HIDDEN)
    too_weak: tuple[str, ...] = ()
    caps: tuple[CapRecord, ...] = field(default=(), metadata=shown("limits"))

    @property
    def broken(self) -> bool:
        """Whether the drink may not be served as it is."""
        return bool(self.over or self.too_weak)

    @property
    def over(self) -> tuple[CapRecord, ...]:
        """Limits that are broken without having been lifted."""
        return tuple(cap for cap in self.caps if cap.over and cap.lifted is None)
