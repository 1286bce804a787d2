"""What a label needs from the standards: allergens and energy factors."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from formulate.files.fields import PlainNumber, Text, Tuple
from formulate.files.match import Match
from formulate.files.standards import Row, Standard, load_rows

__all__ = ["AllergenRow", "EnergyRow", "allergen_rules", "energy_factors"]


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
    kj_per_g, kcal_per_g : float
    components : tuple of str
        Liquor components it counts for; see `physics.components`.
    """

    kj_per_g: Annotated[PlainNumber, Field(gt=0)] = Field(description="kJ per gram.", examples=[29])
    kcal_per_g: Annotated[PlainNumber, Field(gt=0)] = Field(description="kcal per gram.", examples=[7])
    components: Tuple[Text] = Field(description="What it counts for.", examples=["[ethanol]"])


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
