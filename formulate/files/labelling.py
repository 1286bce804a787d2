"""What a label needs from the standards: allergens, energy factors, words the law asks for, bottle sizes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from formulate.files.fields import ConcentrationGL, Id, PlainNumber, StrengthBand, Text, Tuple, VolumeL
from formulate.files.standards import Match, Row, Standard, load_rows

__all__ = [
    "AllergenRow",
    "BottleSizeRow",
    "EnergyRow",
    "LabelWordsRow",
    "WineRow",
    "allergen_rules",
    "bottle_sizes",
    "energy_factors",
    "label_words",
]


class AllergenRow(Row):
    """One allergen.

    Attributes
    ----------
    name : str
        As it stands on a menu.
    match : Match
        Which ingredients bring it.
    distillate_exempt : bool
        Whether a distillate of it need not be named.
    """

    name: Text = Field(description="As it stands on a menu.", examples=["milk"])
    match: Match = Field(description="Which ingredients bring it.")
    distillate_exempt: bool = Field(default=False, description="Whether a distillate of it is free of it.")

    @property
    def brought_by(self) -> Match:
        """Which ingredients bring it, a distillate of the thing itself left out where that is exempt."""
        if not self.distillate_exempt:
            return self.match
        distilled = [
            form.format(word)
            for word in self.match.words
            for form in ("{} distillate", "{} spirit distillate", "distillate of {}")
        ]
        return self.match.model_copy(update={"not_phrases": (*self.match.not_phrases, *distilled)})


class EnergyRow(Row):
    """Energy of one gram.

    Attributes
    ----------
    components : tuple of str
        Liquor components it counts for; see `physics.components`.
    """

    kj_per_g: Annotated[PlainNumber, Field(gt=0)] = Field(description="kJ per gram.", examples=[29])
    kcal_per_g: Annotated[PlainNumber, Field(gt=0)] = Field(description="kcal per gram.", examples=[7])
    components: Tuple[Text] = Field(description="What it counts for.", examples=["[ethanol]"])


class WineRow(Row):
    """What holds for drinks of some strength, and of wine or of other things.

    Attributes
    ----------
    strength : Band or None
        % vol at 20 °C.
    wine : str or None
        ``only_wine`` for drinks of wine, ``but_wine`` for all others; None for both.
    """

    strength: StrengthBand | None = Field(default=None, description="Strength at 20 °C.")
    wine: Literal["only_wine", "but_wine"] | None = Field(default=None, description="Of wine or not.")


class LabelWordsRow(WineRow):
    """Words a label carries.

    Attributes
    ----------
    brings : tuple of str
        Substances or attributes that are added up; none for words that always stand there.
    least_g_l, above_g_l : float or None
        From so much on, or above so much.
    """

    brings: Tuple[Id] = Field(default=(), description="What is added up.", examples=["[caffeine]"])
    least_g_l: ConcentrationGL | None = Field(default=None, validation_alias="least", examples=["10 mg/L"])
    above_g_l: ConcentrationGL | None = Field(default=None, validation_alias="above", examples=["150 mg/L"])

    def is_reached(self, g_l: float) -> bool:
        """Tell whether a drink with so much in it carries the words."""
        if self.above_g_l is not None and not g_l > self.above_g_l:
            return False
        return g_l > 0.0 and (self.least_g_l is None or g_l >= self.least_g_l)


class BottleSizeRow(WineRow):
    """Sizes in which drinks may be sold packed."""

    drinks: Text = Field(description="Which drinks.")
    sizes: Annotated[Tuple[VolumeL], Field(min_length=1)] = Field(description="One each.")
    from_l: VolumeL = Field(validation_alias="from", description="Smallest size the list is for.")
    up_to_l: VolumeL = Field(validation_alias="up_to", description="Largest.")


def allergen_rules() -> Standard[AllergenRow]:
    """Read the allergens that travel with the package.

    Raises
    ------
    SpecError
        If a block is wrong.
    """
    return load_rows("allergens", AllergenRow)


def energy_factors() -> Standard[EnergyRow]:
    """Read the energy factors that travel with the package.

    Raises
    ------
    SpecError
        If a block is wrong.
    """
    return load_rows("energy", EnergyRow)


def label_words() -> Standard[LabelWordsRow]:
    """Read the words a label carries by law.

    Raises
    ------
    SpecError
        If a block is wrong.
    """
    return load_rows("label-words", LabelWordsRow)


def bottle_sizes() -> Standard[BottleSizeRow]:
    """Read the sizes in which drinks may be sold packed.

    Raises
    ------
    SpecError
        If a block is wrong.
    """
    return load_rows("bottle-sizes", BottleSizeRow)
