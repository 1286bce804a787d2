"""A legal limit that a bottle file does not keep, and who takes that upon themselves."""

from __future__ import annotations

from datetime import date

from pydantic import Field, field_validator

from formulate.files.fields import Id, Text, shown
from formulate.files.frozen import Frozen

__all__ = ["Lifted"]


class Lifted(Frozen):
    """A limit that is not kept for this bottle; what is toxic or prohibited cannot be lifted."""

    limit: Id = Field(description="Which limit.", examples=["old-coumarin"])
    name: Text = Field(description="Who takes responsibility.", examples=["head bartender"])
    reason: Text = Field(description="Why.", examples=["for the test kitchen, not for sale"])
    date: Text = Field(description="Since when.", examples=["2026-11-25"])

    @field_validator("name", "reason")
    @classmethod
    def _in_words(cls, value: str) -> str:
        if not value.strip():
            raise ValueError(f"must be words, got {shown(value)}. Say who answers for it, and why.")
        return value

    @field_validator("date")
    @classmethod
    def _a_day(cls, value: str) -> str:
        try:
            date.fromisoformat(value)
        except ValueError:
            raise ValueError(f"must be a day, got {shown(value)}. Write e.g. 2026-11-25.") from None
        return value
