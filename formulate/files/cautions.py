"""Cautions by rule: what a recipe must be like for a caution to be said, and the words for it.

A caution is data in ``specs/standards/cautions.yaml``. Its trigger names ingredients, families, words, bands
on the drink and facts; `jobs.law.facts` works the facts out and `jobs.law.cautions` evaluates the trigger.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Annotated

from pydantic import Field, model_validator

from formulate.errors import GUESTS, Place
from formulate.files.fields import (
    ConcentrationBand,
    ContentGPerKg,
    FrozenDict,
    StrengthBand,
    Text,
    Tuple,
)
from formulate.files.frozen import FrozenMap
from formulate.files.labelling import allergen_rules
from formulate.files.standards import Match, Row, Standard, load_rows

__all__ = ["PLACES", "CautionRow", "When", "caution_rules", "verb_endings"]

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


class When(Match):
    """When a caution is said: every line that is given must hold; none given holds always."""

    not_phrases_of: Tuple[Text] = Field(
        default=(),
        description="Allergens whose `not_phrases` are something else here too.",
        examples=["[eggs, milk]"],
    )
    facts: Tuple[Text] = Field(
        default=(), description="Facts of `jobs.law.facts`, all of them.", examples=["[warm_spirit]"]
    )
    plants: bool = Field(default=False, description="Told by the register of plants.")
    brings: FrozenDict[ContentGPerKg] = Field(
        default_factory=FrozenMap,
        description="Restricted substances, each with the content from which it is told.",
        examples=["{thujone: 0.01 mg/g}"],
    )
    strength: StrengthBand | None = Field(default=None, description="Of the drink.")
    sugar: ConcentrationBand | None = Field(default=None, description="Of the drink.")
    acid: ConcentrationBand | None = Field(default=None, description="Of the drink, as citric acid.")

    @property
    def asks(self) -> bool:
        """Whether it names any ingredient at all, by itself or by what it brings."""
        return super().asks or self.plants or bool(self.brings)


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
    """Give what goes with so many names: ``{is}``, ``{has}``, ``hold{s}``, ``catch{es}``, ``{it}``."""
    if count == 1:
        return {"s": "s", "es": "es", "is": "is", "has": "has", "it": "it"}
    return {"s": "", "es": "", "is": "are", "has": "have", "it": "they"}


@cache
def caution_rules() -> Standard[CautionRow]:
    """Read the cautions that travel with the package, with the phrases of the allergens they name.

    Raises
    ------
    SpecError
        If a block is wrong.
    KeyError
        If one names no allergen.
    """
    rules, allergens = load_rows("cautions", CautionRow), allergen_rules()

    def filled(row: CautionRow) -> CautionRow:
        others = [phrase for name in row.when.not_phrases_of for phrase in allergens[name].match.not_phrases]
        when = row.when.model_copy(update={"not_phrases": (*row.when.not_phrases, *others)})
        return row.model_copy(update={"when": when})

    return replace(rules, rows=tuple(map(filled, rules.rows)))
