"""Cautions by rule: what a recipe must be like for a caution to be said, and the words for it.

A caution is data in ``specs/standards/cautions.yaml``. Its trigger names ingredients, families, words, bands
on the drink and facts; `jobs.recipe_facts` works the facts out and `jobs.cautions` evaluates the trigger.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Annotated, Literal

from pydantic import Field, model_validator

from formulate.spec.fields import ConcentrationBand, Id, StrengthBand, Text, Tuple
from formulate.spec.frozen import Frozen
from formulate.spec.standards import Row, Standard, load_rows

__all__ = ["GUESTS", "PLACES", "CautionRow", "Match", "Place", "When", "caution_rules", "verb_endings"]

Place = Literal["buying", "preparing", "heating", "pressing", "tasting", "bottling", "storing", "serving"]
PLACES: tuple[Place, ...] = (
    "buying",
    "preparing",
    "heating",
    "pressing",
    "tasting",
    "bottling",
    "storing",
    "serving",
)
"""Where in the work a caution belongs, in the order of the work."""

GUESTS: Place = "serving"
"""The place of what is about the health of who drinks it."""


_MEANT = 3
"""How many ingredients stand for all of them where a rule is shown without a recipe."""

_GENERAL = {
    "step": "a step",
    "hot_step": "a step",
    "allergens_by": "each with what brings it",
    "methanol_text": "",
}


class _General(dict[str, str]):
    """Words for a text that no recipe fills in; a figure is N."""

    def __missing__(self, key: str) -> str:
        del key
        return "N"


class Match(Frozen):
    """Which ingredients are meant: any one of the ways to name them is enough."""

    ingredients: Tuple[Id] = Field(default=(), description="Ids of the library.", examples=["[gentian-root]"])
    families: Tuple[Text] = Field(default=(), description="Families of the library.", examples=["[wine]"])
    words: Tuple[Text] = Field(
        default=(),
        description="Whole words in the id or the name of what the library does not know.",
        examples=["[almond, hazelnut]"],
    )
    unless_words: Tuple[Text] = Field(
        default=(), description="Words that say it is something else, all of it.", examples=["[distillate]"]
    )
    not_phrases: Tuple[Text] = Field(
        default=(),
        description="Whole words that are something else; what stands beside them still counts.",
        examples=["[oat milk, cocoa butter]"],
    )

    def fits(self, ids: Collection[str], family: str, text: str) -> bool:
        """Tell whether an ingredient is meant.

        Parameters
        ----------
        ids : collection of str
            Its id, and what it is based on.
        family : str
        text : str
            Words of what the library does not know, small letters with one blank between and around; empty
            for an ingredient of the library.
        """
        # Longest first, so that of two that overlap the fuller goes; the bar keeps its neighbours apart.
        for phrase in sorted(self.not_phrases, key=len, reverse=True):
            text = text.replace(f" {phrase} ", " | ")
        if any(f" {word} " in text for word in self.unless_words):
            return any(name in self.ingredients for name in ids)
        return (
            any(name in self.ingredients for name in ids)
            or family in self.families
            or any(f" {word} " in text for word in self.words)
        )

    @property
    def asks(self) -> bool:
        """Whether it names any ingredient at all."""
        return bool(self.ingredients or self.families or self.words)


class When(Match):
    """When a caution is said: every line that is given must hold; none given holds always."""

    facts: Tuple[Text] = Field(
        default=(), description="Facts of `jobs.recipe_facts`, all of them.", examples=["[warm_spirit]"]
    )
    strength: StrengthBand | None = Field(default=None, description="Of the drink.")
    sugar: ConcentrationBand | None = Field(default=None, description="Of the drink.")
    acid: ConcentrationBand | None = Field(default=None, description="Of the drink, as citric acid.")


class CautionRow(Row):
    """One caution; `says` is its full text and may hold ``{names}`` and other words of the facts.

    Attributes
    ----------
    short : str
        One line for the screen.
    place : str
        One of `PLACES`.
    rank : int
        1 fire, poison, burst glass; 2 the health of a guest; 3 good practice; 4 told only in full.
    when : When
    instead_of : tuple of str
        Sentences of the library's ingredients that this says better; they are not said beside it.
    on_menu : str or None
        One line for several drinks, ``{drinks}`` with what is in each; every caution about guests has one.
    """

    short: Text = Field(description="One line.")
    place: Place = Field(description="Where in the work it belongs.")
    rank: Annotated[int, Field(ge=1, le=4)] = Field(description="1 is most serious.")
    when: When = Field(description="What sets it off.")
    instead_of: Tuple[Text] = Field(default=(), description="Sentences of ingredients it takes the place of.")
    on_menu: Text | None = Field(default=None, description="One line for several drinks.")

    @model_validator(mode="after")
    def _guests_on_menus(self) -> CautionRow:
        if (self.place == GUESTS) != (self.on_menu is not None and "{drinks}" in self.on_menu):
            raise ValueError(f"`on_menu` with {{drinks}} goes with place `{GUESTS}`, and only with it")
        return self

    @property
    def in_general(self) -> str:
        """The full text where no recipe is at hand."""
        meant = (*self.when.ingredients, *self.when.families) or self.when.words
        names = f"{', '.join(meant[:_MEANT])}{' and the like' if len(meant) > 1 else ''}"
        named = {"names": names or "such an ingredient", **verb_endings(len(meant) or 1)}
        words = _General(_GENERAL | named)
        text = self.says.format_map(words).strip()
        return text[0].upper() + text[1:]


def verb_endings(count: int) -> dict[str, str]:
    """Give the endings of verbs that go with so many names: ``{names} {is}``, ``hold{s}``, ``catch{es}``."""
    one = count == 1
    return {"s": "s" if one else "", "es": "es" if one else "", "is": "is" if one else "are"}


def caution_rules() -> Standard[CautionRow]:
    """Read the cautions that travel with the package.

    Raises
    ------
    SpecError
        If a block is wrong.
    """
    return load_rows("cautions", CautionRow)
