"""Usual doses of plants and fruit: from where a thing is noticed to the most a bar would serve.

Grams as bought per litre of finished drink. They stand with the other figures of an ingredient, so that a
bar's own entry takes them over from the library or gives its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Self

from pydantic import Field, model_validator

from formulate.files.fields import ConcentrationGL
from formulate.files.frozen import Frozen
from formulate.files.issues import Issue, IssuesError

__all__ = ["Dose", "DoseRange", "dose_of_made"]

CONCENTRATE_USUAL, CONCENTRATE_HIGH = 5.0, 10.0
"""Where nobody found the dose in a concentrate: so many times usual and high by the glass (from memory)."""
ONE_FORMULA = 2.0
"""What one formula alone says is taken as so many times less to so many times more."""

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

    def range_for(self, kind: str | None) -> DoseRange:
        """Return the range of a drink by the glass, or of a concentrate.

        Parameters
        ----------
        kind : str or None
            `concentrate`; None for a drink by the glass.
        """
        found = self.concentrate
        if kind is None or (found is None and self.accent_g_l is not None):
            return self  # of fruit and the like there is no room for more
        if found is None:
            return DoseRange(
                low_g_l=self.usual_g_l,
                usual_g_l=CONCENTRATE_USUAL * self.usual_g_l,
                high_g_l=CONCENTRATE_HIGH * self.high_g_l,
            )
        if found.low_g_l < found.high_g_l:
            return found
        only = found.usual_g_l
        return DoseRange(low_g_l=only / ONE_FORMULA, usual_g_l=only, high_g_l=only * ONE_FORMULA)

    def least_g_l(self, kind: str | None, *, beside: bool) -> float:
        """Return the least that is noticed.

        Parameters
        ----------
        kind : str or None
            See `range_for`.
        beside : bool
            Whether something else leads, so that it may be an accent.
        """
        if kind is None and beside and self.accent_g_l is not None:
            return self.accent_g_l
        return self.range_for(kind).low_g_l

    @property
    def in_print(self) -> str:
        """The most found in print by the glass, in words."""
        if self.printed_g_l is None:
            return "nothing found in print"
        return f"the most found in print is {self.printed_g_l:g} g/L"


def dose_of_made(parts: Iterable[tuple[float, Dose]]) -> Dose | None:
    """Return the dose of something that plants and fruit were drawn into.

    Parameters
    ----------
    parts : iterable of (float, Dose)
        What a gram of it holds of each, g, and that one's own dose.

    Returns
    -------
    Dose or None
        Noticed from where the first of them is; no more than brings none of them above its high; usual where
        together they come to one usual dose. None where nothing was drawn into it.
    """
    held = [(share, dose) for share, dose in parts if share > 0.0]
    if not held:
        return None
    usual = 1.0 / sum(share / dose.usual_g_l for share, dose in held)
    low = min((dose.accent_g_l or dose.low_g_l) / share for share, dose in held)
    high = min(dose.high_g_l / share for share, dose in held)
    return Dose(low_g_l=min(low, usual), usual_g_l=usual, high_g_l=max(high, usual))
