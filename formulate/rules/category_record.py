"""What a drink may be called, as a record."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["CategoryRecord"]


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
    shortfall: float
    by_hand: str
    general: bool
    verified: bool
    source: str

    @property
    def fits(self) -> bool:
        """Whether ingredients and figures fit; what is to be judged by hand aside."""
        return self.relevant and not self.missing
