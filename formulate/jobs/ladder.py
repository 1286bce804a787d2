"""How bitter, said four ways: a word, like so much of a plant, same as a reference, or measured.

Every rung ends in a band on the bitterness value of Ph. Eur. 2.8.15. The words are working
bands of this program (from memory and common practice, not a standard); each answer says how
much dried gentian they stand for. A plant lot may be half or twice its usual bitterness, so
every rung below "measured" says to hold back a part and finish to taste.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from formulate.physics.bitterness import gentian_equivalent_g_l

__all__ = ["WORDS", "BitternessBand", "Rung", "hold_back_advice", "word_band"]

WORDS: dict[str, tuple[float, float]] = {
    "light": (6.0, 12.0),
    "medium": (12.0, 24.0),
    "firm": (24.0, 48.0),
    "strong": (48.0, 96.0),
}
"""Working bands of the words, bitterness value of the drink (from memory, common practice)."""

LOT_FACTOR = 2.0
"""A plant lot may be this many times weaker or stronger than its usual value (common practice)."""


class Rung(StrEnum):
    """How the bitterness was asked for."""

    WORD = "word"
    LIKE = "like"
    SAME_AS = "same as"
    MEASURED = "measured"


@dataclass(frozen=True)
class BitternessBand:
    """A band on the bitterness value and where it comes from.

    Attributes
    ----------
    lower, upper : float
        Bitterness value of the drink; the upper end may be infinite.
    rung : Rung
    text : str
        As typed.
    """

    lower: float
    upper: float
    rung: Rung
    text: str

    @property
    def gentian_text(self) -> str:
        """The band as grams of dried gentian per litre, which a person can taste."""
        lower = gentian_equivalent_g_l(self.lower)
        if self.upper == float("inf"):
            return f"at least as bitter as {lower:.1f} g/L dried gentian"
        return f"as bitter as {lower:.1f} to {gentian_equivalent_g_l(self.upper):.1f} g/L dried gentian"


def word_band(word: str) -> BitternessBand:
    """Return the working band of a word.

    Parameters
    ----------
    word : str
        A key of `WORDS`.
    """
    lower, upper = WORDS[word]
    return BitternessBand(lower, upper, Rung.WORD, word)


def hold_back_advice(band: BitternessBand, value: float, by_lot: tuple[float, float] | None) -> str:
    """Say what a bitterness figure rests on and what to do about it.

    Parameters
    ----------
    band : BitternessBand
    value : float
        Calculated bitterness value of the recipe.
    by_lot : tuple of float or None
        What weak and strong lots of the same plants would give.
    """
    if band.rung is Rung.MEASURED:
        return "Bitterness rests on the values measured for this lot."
    low, high = by_lot or (value, value)
    return (
        f"Bitterness {value:.0f} is calculated from usual values; by plant lot it may come out {low:.0f} to "
        f"{high:.0f}. Hold back a third of the bitter plants, taste, and finish with the rest."
    )
