"""A figure that is known only as a range, with where it comes from and how far it may be trusted."""

from __future__ import annotations

from dataclasses import dataclass

from formulate.errors import FormulateError

__all__ = ["CONFIDENCES", "Figure"]

# published: read in the source. derived: arithmetic on published figures. from memory: source named, not
# read. common practice: no single authority. assumption: ours, until somebody measures.
CONFIDENCES = ("published", "derived", "from memory", "common practice", "assumption", "measured here")


@dataclass(frozen=True, slots=True)
class Figure:
    """A range and its origin.

    Attributes
    ----------
    low, high : float
        Ends of the range, equal for a single value.
    unit : str
        Of both.
    source : str
        Where it comes from.
    confidence : str
        One of `CONFIDENCES`.

    Raises
    ------
    FormulateError
        Ends in the wrong order or not finite, or an unknown confidence.
    """

    low: float
    high: float
    unit: str
    source: str
    confidence: str

    def __post_init__(self) -> None:
        if not float("-inf") < self.low <= self.high < float("inf"):
            raise FormulateError(f"A range runs from low to high, got {self.low:g} to {self.high:g}.")
        if self.confidence not in CONFIDENCES:
            known = ", ".join(CONFIDENCES)
            raise FormulateError(f"Unknown confidence {self.confidence!r}. Known: {known}.")

    @property
    def middle(self) -> float:
        """Half way between the ends."""
        return 0.5 * (self.low + self.high)
