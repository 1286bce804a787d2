"""Which ingredients a rule means: by id, by family, or by words of what the library does not know."""

from __future__ import annotations

from collections.abc import Collection

from pydantic import Field

from formulate.files.fields import Id, Text, Tuple
from formulate.files.frozen import Frozen

__all__ = ["Match"]


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
