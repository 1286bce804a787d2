"""Which remarks stand on a first screen: their ranks, out of the data beside the standards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from formulate.files.located import load_document
from formulate.files.standards import specs_folder

__all__ = ["RemarkRanks", "remark_ranks"]

UNLISTED = 4


@dataclass(frozen=True)
class RemarkRanks:
    """How much each remark matters to somebody about to make the drink.

    Attributes
    ----------
    ranks : mapping of str to int
        By code, 1 most.
    standing : frozenset of str
        Codes of what holds of every drink.
    """

    ranks: Mapping[str, int]
    standing: frozenset[str]

    def rank(self, code: str) -> int:
        """Return the rank of a remark."""
        return self.ranks.get(code, UNLISTED)


@cache
def remark_ranks() -> RemarkRanks:
    """Read the ranks that travel with the program."""
    data = load_document(specs_folder() / "remarks.yaml", ours=True).data
    ranks = {str(code): rank for rank, codes in enumerate(data["by_rank"], start=1) for code in codes}
    return RemarkRanks(ranks, frozenset(map(str, data["standing"])))
