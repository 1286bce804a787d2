"""What is told of the limits on restricted substances, beside every answer."""

from __future__ import annotations

from dataclasses import dataclass

from formulate.files.lifted import Lifted

__all__ = ["CapRecord", "LawRecord"]


@dataclass(frozen=True, slots=True)
class CapRecord:
    """A limit of the law, and what the drink holds at worst.

    Attributes
    ----------
    rule, substance, says : str
        Id of the standard's row, what it limits, and how.
    value, most : float
        In `unit`.
    unit : str
    binding, over : bool
        Whether the drink stands at the limit, and whether it is above it.
    brought_by : tuple of (str, float)
        Ingredients and their shares, the greatest first.
    jurisdiction : tuple of str
    provenance : str
        Source, and how far to trust it.
    source : str
        file:line:column of the row.
    verified : bool
        Whether somebody had the published source in hand.
    lifted : Lifted or None
        By whom, where the bottle file does not keep it.
    """

    rule: str
    substance: str
    says: str
    value: float
    most: float
    unit: str
    binding: bool
    over: bool
    brought_by: tuple[tuple[str, float], ...]
    jurisdiction: tuple[str, ...]
    provenance: str
    source: str
    verified: bool
    lifted: Lifted | None = None


@dataclass(frozen=True, slots=True)
class LawRecord:
    """What the law says to a drink.

    Attributes
    ----------
    jurisdiction : str or None
        None where no file names one: then the strictest applies.
    serve_l : float
        What a limit per serve is held against.
    caps : tuple of CapRecord
        Every limit on something the drink holds, lifted ones too, the nearest to its limit first.
    too_weak : tuple of str
        What it holds that may go into stronger drinks only, in words.
    """

    jurisdiction: str | None
    serve_l: float
    caps: tuple[CapRecord, ...] = ()
    too_weak: tuple[str, ...] = ()

    @property
    def broken(self) -> bool:
        """Whether the drink may not be served as it is."""
        return bool(self.over or self.too_weak)

    @property
    def over(self) -> tuple[CapRecord, ...]:
        """Limits that are broken without having been lifted."""
        return tuple(cap for cap in self.caps if cap.over and cap.lifted is None)
