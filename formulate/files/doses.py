"""Usual doses of plants and fruit: from where a thing is noticed to the most a bar would serve.

Grams as bought per litre of finished drink. They stand with the other figures of an ingredient, so that a
bar's own entry takes them over from the library or gives its own.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from formulate.files.fields import ConcentrationGL
from formulate.files.frozen import Frozen
from formulate.files.issues import Issue, IssuesError

__all__ = ["Dose", "DoseRange"]

DoseGL = Annotated[ConcentrationGL, Field(gt=0)]


class DoseRange(Frozen):
    """From noticeable to most, with what is usual between."""

    low_g_l: DoseGL = Field(
        validation_alias="low", description="Least that is noticed.", examples=["0.2 g/L"]
    )
    usual_g_l: DoseGL = Field(
        validation_alias="usual", description="In the middle of what is served.", examples=["1.5 g/L"]
    )
    high_g_l: DoseGL = Field(validation_alias="high", description="Most usually served.", examples=["5 g/L"])

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        issues = [
            Issue(
                (key,), f"must not be {side} the usual {self.usual_g_l:g} g/L, got {got:g} g/L. Check both."
            )
            for key, side, got, wrong in (
                ("low", "above", self.low_g_l, self.low_g_l > self.usual_g_l),
                ("high", "below", self.high_g_l, self.high_g_l < self.usual_g_l),
            )
            if wrong
        ]
        if issues:
            raise IssuesError(issues)
        return self


class Dose(DoseRange):
    """What is usual by the glass, and in a tincture or dashing bitter where that is known.

    Attributes
    ----------
    accent_g_l : float or None
        Least that is noticed where something else leads, for what the range is of drinks led by it: fruit,
        coffee, cacao.
    printed_g_l : float or None
        Most found in print by the glass.
    concentrate : DoseRange or None
    """

    accent_g_l: DoseGL | None = Field(
        default=None,
        validation_alias="accent",
        description="Least that is noticed beside others, where the range is of drinks led by it.",
        examples=["30 g/L"],
    )
    printed_g_l: DoseGL | None = Field(
        default=None,
        validation_alias="printed",
        description="Most found in print by the glass.",
        examples=["3 g/L"],
    )
    concentrate: DoseRange | None = Field(
        default=None, description="The same in a tincture or dashing bitter, dosed by spoon or dash."
    )

    @model_validator(mode="after")
    def _accent_is_less(self) -> Self:
        if self.accent_g_l is not None and self.accent_g_l > self.low_g_l:
            text = f"must not be above the low {self.low_g_l:g} g/L, got {self.accent_g_l:g} g/L. Check both."
            raise IssuesError([Issue(("accent",), text)])
        return self
