"""What the rows on restricted substances and plants say beside their provenance.

`CapRow` limits a substance in the finished drink, `ContentRow` says how much of it a plant brings at worst,
`PlantRow` names what may not be used at all, `AlcoholOnlyRow` what may in drinks with alcohol only,
`KnownPlantRow` every other plant a bar meets and what guests are told of it. The files belong together:
what a content row brings under some name is what a cap row counts under that name.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from formulate.files.fields import ConcentrationGL, ContentGPerKg, Id, MassKg, StrengthPctVol, Text, Tuple
from formulate.files.issues import Issue, IssuesError
from formulate.files.standards import Row, Standard, load_rows

__all__ = [
    "AlcoholOnlyRow",
    "CapRow",
    "ContentRow",
    "KnownPlantRow",
    "NamedRow",
    "PlantRow",
    "alcohol_only",
    "caps",
    "contents",
    "known_plants",
    "prohibited",
]

CAPS, CONTENTS, PROHIBITED = "restricted-substances", "plant-contents", "prohibited"
ALCOHOL_ONLY = "alcohol-only"
KNOWN_PLANTS = "plants"

SAME_STRENGTH = 5e-7
"""Share by which a strength may lie above a bound and still be at it: rounding in the arithmetic."""


class CapRow(Row):
    """The most of a substance there may be in a finished drink; exactly one of the three figures.

    Attributes
    ----------
    substance : str
        For people.
    counts : tuple of str
        What is added up, as `ContentRow.brings` names it.
    most_g_kg : float or None
        Of finished drink.
    most_g_l : float or None
        Of finished drink.
    most_per_serve_kg : float or None
        In one serve.
    above_pct_vol, up_to_pct_vol : float or None
        Strengths it is for: more than the one, no more than the other; None for all.
    only_with : tuple of str
        It is a limit on drinks that something brings one of these into; any drink if none is named.
    lift : str
        ``never`` for what is toxic; else ``with a reason``, which the bottle file gives.
    """

    substance: Text = Field(description="For people.", examples=["thujone"])
    counts: Annotated[Tuple[Id], Field(min_length=1)] = Field(
        description="What is added up.", examples=["[thujone, thujone-artemisia]"]
    )
    most_g_kg: Annotated[ContentGPerKg, Field(gt=0)] | None = Field(
        default=None, validation_alias="most_per_kg", examples=["10 mg/kg"]
    )
    most_g_l: Annotated[ConcentrationGL, Field(gt=0)] | None = Field(
        default=None, validation_alias="most_per_litre", examples=["300 mg/L"]
    )
    most_per_serve_kg: Annotated[MassKg, Field(gt=0)] | None = Field(
        default=None, validation_alias="most_per_serve", examples=["12 mg"]
    )
    above_pct_vol: StrengthPctVol | None = Field(
        default=None,
        validation_alias="above",
        description="For drinks stronger than this.",
        examples=["1.2 % vol"],
    )
    up_to_pct_vol: StrengthPctVol | None = Field(
        default=None,
        validation_alias="up_to",
        description="For drinks no stronger than this.",
        examples=["1.2 % vol"],
    )
    only_with: Tuple[Id] = Field(
        default=(), description="Counts only where one of these is brought.", examples=["[thujone-artemisia]"]
    )
    lift: Literal["never", "with a reason"] = Field(description="Whether a bottle file may lift it.")

    @model_validator(mode="after")
    def _one_figure(self) -> Self:
        figures = (self.most_g_kg, self.most_g_l, self.most_per_serve_kg)
        if sum(figure is not None for figure in figures) != 1:
            raise IssuesError(
                [Issue((), "needs one of most_per_kg, most_per_litre and most_per_serve. Keep one.")]
            )
        return self

    def holds_between(self, least_pct_vol: float, most_pct_vol: float) -> bool:
        """Tell whether it counts for some drink of these strengths; the same twice asks for one strength."""
        above = self.above_pct_vol is None or most_pct_vol > self.above_pct_vol * (1.0 + SAME_STRENGTH)
        up_to = self.up_to_pct_vol is None or least_pct_vol <= self.up_to_pct_vol * (1.0 + SAME_STRENGTH)
        return above and up_to

    @property
    def basis(self) -> str:
        """Unit a person reads the limit in."""
        if self.most_g_kg is not None:
            return "mg/kg"
        return "mg/L" if self.most_g_l is not None else "mg per serve"

    @property
    def most_mg(self) -> float:
        """The limit in `basis`."""
        if self.most_per_serve_kg is not None:
            return self.most_per_serve_kg * 1e6
        return 1000.0 * (self.most_g_kg or self.most_g_l or 0.0)


class NamedRow(Row):
    """A row about certain plants or substances, found by any of their names.

    Attributes
    ----------
    latin : tuple of str
        Botanical names; a genus alone stands for all its species.
    unless : tuple of str
        Parts of a botanical name that take a plant out again, such as a variety.
    words : tuple of str
        Words in an id or a name, for a bar's own entry that gives no botanical name.
    not_phrases : tuple of str
        Words together that are something else; what stands beside them still counts.
    """

    latin: Tuple[Text] = Field(default=(), description="Botanical names, or a genus.")
    unless: Tuple[Text] = Field(default=(), description="Parts of a botanical name that are not meant.")
    words: Tuple[Text] = Field(default=(), description="Words of an id or a name that mean it too.")
    not_phrases: Tuple[Text] = Field(
        default=(), description="Words that together are something else.", examples=["[clary-sage]"]
    )


class ContentRow(NamedRow):
    """How much of a restricted substance a kilogram of a plant holds.

    Attributes
    ----------
    substance : str
        As a bar names it for its own measured figure.
    brings : str or None
        What a `CapRow` counts it as, where that differs from the substance.
    usual_g_kg : float or None
        As bought.
    worst_g_kg : float
        As bought; all of it is taken to go into the drink.
    """

    substance: Id = Field(description="The substance.", examples=["thujone"])
    brings: Id | None = Field(default=None, description="What a limit counts it as, if it differs.")
    usual_g_kg: ContentGPerKg | None = Field(
        default=None, validation_alias="usual", description="Usual lots."
    )
    worst_g_kg: Annotated[ContentGPerKg, Field(gt=0)] = Field(
        validation_alias="worst", description="Worst lots.", examples=["10 mg/g"]
    )

    @property
    def counted_as(self) -> str:
        """What the limits count it as."""
        return self.brings or self.substance


class PlantRow(NamedRow):
    """What may not be used at all."""


class AlcoholOnlyRow(NamedRow):
    """What may go into drinks of some strength only."""

    least_pct_vol: Annotated[StrengthPctVol, Field(gt=0)] = Field(
        validation_alias="least", description="Least strength.", examples=["1.2 % vol"]
    )


class KnownPlantRow(NamedRow):
    """Plants somebody has looked at; what no row of any of these files names is unknown here.

    Attributes
    ----------
    cautions, allergens : tuple of str
        Rows of those files that every one of these plants sets off.
    """

    cautions: Tuple[Id] = Field(default=(), description="Cautions they set off.", examples=["[pregnancy]"])
    allergens: Tuple[Id] = Field(default=(), description="Allergens they bring.", examples=["[nuts]"])


def caps() -> Standard[CapRow]:
    """Return the limits on substances."""
    return load_rows(CAPS, CapRow)


def contents() -> Standard[ContentRow]:
    """Return what plants bring of them."""
    return load_rows(CONTENTS, ContentRow)


def prohibited() -> Standard[PlantRow]:
    """Return what may not be used."""
    return load_rows(PROHIBITED, PlantRow)


def alcohol_only() -> Standard[AlcoholOnlyRow]:
    """Return what may go into drinks with alcohol only."""
    return load_rows(ALCOHOL_ONLY, AlcoholOnlyRow)


def known_plants() -> Standard[KnownPlantRow]:
    """Return the plants a bar meets, each with what guests are told of it."""
    return load_rows(KNOWN_PLANTS, KnownPlantRow)
