"""How bitter, said four ways: a word, like so much of a plant, same as a reference, or measured.

Every rung ends in a band on the bitterness value of Ph. Eur. 2.8.15. The words are working
bands of this program (from memory and common practice, not a standard); each answer says how
much dried gentian they stand for. A plant lot may be half or twice its usual bitterness, so
every rung below "measured" says to hold back a part and finish to taste.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from formulate.bar.pantry import Pantry
from formulate.errors import SpecError
from formulate.files.aims import BitternessAim, Like, Measured, SameAs, Word
from formulate.files.ingredient import Ingredient
from formulate.files.issues import Problems
from formulate.files.measures import BITTERNESS, measure_of
from formulate.optimise.tolerances import AT_BOUND
from formulate.physics.bitterness import gentian_equivalent_g_l

__all__ = ["WORDS", "BitternessBand", "Rung", "aimed_band", "word_band", "word_of"]

PLACE = ("targets", BITTERNESS)

WORDS: dict[str, tuple[float, float]] = {
    "light": (6.0, 12.0),
    "medium": (12.0, 24.0),
    "firm": (24.0, 48.0),
    "strong": (48.0, 96.0),
}
"""Working bands of the words, bitterness value of the drink (from memory, common practice)."""


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
    lower, upper
        Bitterness value of the drink; the upper end may be infinite.
    text
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


def word_of(bitterness_value: float) -> str:
    """Say in a word how bitter a drink of this value is; empty below the least of them."""
    at = bitterness_value * (1.0 + AT_BOUND)
    return next((word for word, (lower, _) in reversed(WORDS.items()) if at >= lower), "")


def word_band(word: str) -> BitternessBand:
    """Return the working band of a word.

    Parameters
    ----------
    word
        A key of `WORDS`.
    """
    lower, upper = WORDS[word]
    return BitternessBand(lower, upper, Rung.WORD, word)


def aimed_band(
    aim: BitternessAim,
    ingredients: Mapping[str, Ingredient],
    measured: Collection[str],
    tolerance_share: float,
    pantry: Pantry,
    problems: Problems,
) -> BitternessBand | None:
    """Turn a way of saying how bitter into a band.

    Parameters
    ----------
    ingredients
        The bottle's ingredients by id, measured bitterness put in.
    measured
        Ids that somebody measured.
    tolerance_share
        The usual tolerance, a share of the aim.
    pantry
        Where a plant that is only compared with is looked up.
    problems
        Takes what does not fit.

    Returns
    -------
    BitternessBand or None
        None when a problem was noted that leaves nothing to aim at.
    """
    if isinstance(aim, Word):
        return word_band(aim.word)
    if isinstance(aim, Measured):
        return _measured_band(aim, ingredients, measured, tolerance_share, problems)
    if isinstance(aim, SameAs):
        value: float | None = aim.dilution
        rung = Rung.SAME_AS
    else:
        value, rung = _like_value(aim, ingredients, measured, pantry, problems), Rung.LIKE
    if value is None:
        return None
    return BitternessBand(value * (1 - tolerance_share), value * (1 + tolerance_share), rung, aim.text)


def _measured_band(
    aim: Measured,
    ingredients: Mapping[str, Ingredient],
    measured: Collection[str],
    tolerance_share: float,
    problems: Problems,
) -> BitternessBand:
    unmeasured = [
        ingredient.id
        for ingredient in ingredients.values()
        if ingredient.bitterness is not None and ingredient.id not in measured
    ]
    if unmeasured:
        problems.add(
            PLACE,
            f"says measured, but nobody measured {', '.join(unmeasured)}. Add each under `measured:`, "
            "or say it by a word or `like ...`.",
        )
    band = measure_of(BITTERNESS).plain(aim.band, tolerance_share)
    upper = float("inf") if band.upper is None else band.upper
    return BitternessBand(band.lower or 0.0, upper, Rung.MEASURED, aim.text)


def _like_value(
    aim: Like,
    ingredients: Mapping[str, Ingredient],
    measured: Collection[str],
    pantry: Pantry,
    problems: Problems,
) -> float | None:
    try:
        # Like so much of the plant when new: compared with old stock, the aim would sink with the stock.
        reference = (
            ingredients[aim.ingredient]
            if aim.ingredient in ingredients and aim.ingredient in measured
            else pantry.unaged(aim.ingredient)
        )
    except SpecError as error:
        problems.add_from(PLACE, error)
        return None
    if reference.bitterness is None:
        problems.add(
            PLACE, f"{aim.ingredient} has no bitterness figure. Name a bitter plant such as gentian-root."
        )
        return None
    return aim.amount.value * reference.bitterness.value * reference.bitterness.extracted
