"""Law, limits and rules of good practice: dated, sourced rows that travel with the package.

A standards file is ``about:`` and ``rows:``; one subject, one file, one row, one rule. What every row
says of itself (where it holds, where it comes from, when that was seen, how far to trust it) is in
`Row`; a subject adds its own figures by extending it, in the units of `files.fields`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Generic, Literal, Self, TypeVar

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema

from formulate.errors import SourceLocation, SpecError, SpecProblem
from formulate.files.fields import Id, Text, Tuple, did_you_mean, from_file, shown
from formulate.files.frozen import Frozen
from formulate.files.located import Document, load_document
from formulate.files.problems import read_model

__all__ = [
    "JURISDICTIONS",
    "NEVER",
    "Jurisdiction",
    "Match",
    "Provenance",
    "Row",
    "Standard",
    "from_memory",
    "load_rows",
    "read_rows",
    "specs_folder",
]

Jurisdiction = Literal["EU", "US", "UK"]
JURISDICTIONS: tuple[Jurisdiction, ...] = ("EU", "US", "UK")
LOOKED_AT_EVERY = timedelta(days=365)
"""How long a look at a source is good for (our own rule)."""

NEVER = "never"
"""What stands for `seen` where nobody has had the source itself in hand."""


def _one_or_more(value: object) -> object:
    return (value,) if isinstance(value, str) else value


def _seen(value: object, info: ValidationInfo) -> object:
    if value is None or (isinstance(value, date) and not from_file(info)):
        return value
    if value == NEVER:
        return None
    try:
        return date.fromisoformat(str(value))
    except ValueError:
        raise ValueError(f"must be a day, or {NEVER}, got {shown(value)}. Write e.g. 2026-11-25.") from None


class Provenance(str):
    """A source as it is told, with how far to trust it; a text that knows whether it was verified."""

    __slots__ = ("verified",)
    verified: bool

    def __new__(cls, text: str, verified: bool = False) -> Self:
        """Mark a text."""
        told = super().__new__(cls, text)
        told.verified = verified
        return told


def from_memory(source: str, how: str = "from memory") -> Provenance:
    """Tell of a source that nobody had in hand."""
    return Provenance(f"{source} ({how}, not verified)", verified=False)


class Row(Frozen):
    """One rule with its provenance; extend it with the figures of a subject.

    Attributes
    ----------
    id : str
        Short name, the same in every release.
    says : str
        The rule in our own words.
    jurisdiction : tuple of str
        ``EU``, ``US``, ``UK``; ``any`` for what holds wherever one is. One word or a list.
    source : str
        Act and article, handbook and table.
    seen : date or None
        Day by which the source, or a copy of it, had been seen; None (``never`` in the file) where it
        was not.
    confidence : str
        ``published``, ``from memory``, ``common practice``, or ``derived`` (arithmetic from figures that
        the source names).
    """

    id: Id = Field(description="Short name.", examples=["eu-thujone"])
    says: Text = Field(description="The rule, in our own words.")
    jurisdiction: Annotated[
        Tuple[Literal["EU", "US", "UK", "any"]],
        BeforeValidator(_one_or_more),
        Field(min_length=1),
    ] = Field(description="Where it holds: EU, US, UK or any; one or a list.", examples=["EU"])
    source: Text = Field(description="Act and article, handbook and table.")
    seen: Annotated[
        date | None, BeforeValidator(_seen), WithJsonSchema({"type": "string", "examples": ["2026-11-25"]})
    ] = Field(description="Day the source was seen, or never.", examples=["2026-11-25"])
    confidence: Literal["published", "from memory", "common practice", "derived"] = Field(
        description="How far to trust it.", examples=["published"]
    )

    @property
    def verified(self) -> bool:
        """Whether somebody had the published source in hand."""
        return self.confidence == "published" and self.seen is not None

    @property
    def look_again(self) -> date | None:
        """Day by which the source should be looked at again: a year after it was; None where it never was."""
        return None if self.seen is None else self.seen + LOOKED_AT_EVERY

    @property
    def in_general(self) -> str:
        """The rule where no recipe is at hand."""
        return self.says

    def holds_in(self, jurisdiction: str | None) -> bool:
        """Tell whether the rule counts; with no jurisdiction named every rule does.

        Parameters
        ----------
        jurisdiction : str or None
            One of `JURISDICTIONS`.
        """
        return jurisdiction is None or "any" in self.jurisdiction or jurisdiction in self.jurisdiction

    @property
    def provenance(self) -> Provenance:
        """Source, and how far to trust it: what stands beside the rule wherever it is shown.

        Never silent about a row nobody verified: ``Reg. (EC) 1334/2008 Annex III (from memory, not
        verified)``.
        """
        if self.verified and self.seen is not None:
            return Provenance(f"{self.source} (seen by {self.seen.isoformat()})", verified=True)
        how = "published, copy not seen" if self.confidence == "published" else self.confidence
        return from_memory(self.source, how)


R = TypeVar("R", bound=Row)


@dataclass(frozen=True)
class Standard(Generic[R]):
    """The rows of one subject.

    Attributes
    ----------
    name : str
        Of the file, without ending.
    rows : tuple of Row
        In file order.
    locations : mapping of str to SourceLocation
        Where each row stands, by id.
    """

    name: str
    about: str
    rows: tuple[R, ...]
    locations: Mapping[str, SourceLocation]

    def __getitem__(self, row_id: str) -> R:
        found = next((row for row in self.rows if row.id == row_id), None)
        if found is None:
            raise KeyError(f"no row '{row_id}' in {self.name}. {did_you_mean(row_id, self.locations)}")
        return found

    def __contains__(self, row_id: object) -> bool:
        return row_id in self.locations

    def holding_in(self, jurisdiction: str | None) -> tuple[R, ...]:
        """Return the rows that count somewhere, in file order; all of them where it is None."""
        return tuple(row for row in self.rows if row.holds_in(jurisdiction))

    def place(self, row_id: str) -> SourceLocation:
        """Tell where a row stands."""
        return self.locations[row_id]


class _Heading(Frozen):
    """What a standards file says before its rows."""

    about: Text = Field(description="What the file is on.")
    rows: Annotated[Tuple[Any], Field(min_length=1)] = Field(description="One rule each.")


@cache
def load_rows(name: str, row_class: type[R]) -> Standard[R]:
    """Read a subject of the standards that travel with the package.

    The files do not change while the program runs, so each is read once.

    Parameters
    ----------
    name : str
        File in ``specs/standards/`` without ending, such as ``flash-points``.
    row_class : type
        `Row` or a class that extends it.

    Raises
    ------
    SpecError
        With every problem, each with its place, in file order.
    """
    path = specs_folder() / "standards" / f"{name}.yaml"
    # Where the package is installed is nobody's business: shown as in a checkout.
    return read_rows(load_document(path, f"specs/standards/{path.name}", ours=True), row_class)


def read_rows(document: Document, row_class: type[R]) -> Standard[R]:
    """Read the rows of a document; see `load_rows`.

    Raises
    ------
    SpecError
        With every problem, in file order.
    """
    places = document.places
    heading = read_model(_Heading, document)
    rows: list[R] = []
    problems: list[SpecProblem] = []
    locations: dict[str, SourceLocation] = {}
    for index, _ in enumerate(heading.rows):
        try:
            row = read_model(row_class, document, prefix=("rows", index))
        except SpecError as error:
            problems += error.problems
            continue
        if row.id in locations:
            message = f"'{row.id}' is given twice, first in line {locations[row.id].line}. Keep one."
            problems.append(places.problem(("rows", index, "id"), message))
            continue
        locations[row.id] = places.value(("rows", index))
        rows.append(row)
    if problems:
        raise SpecError(problems)
    return Standard(Path(places.file).stem, heading.about, tuple(rows), locations)


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


def specs_folder() -> Path:
    """Return the folder of ingredients and starting files: in the wheel, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    packaged = package / "specs"
    return packaged if packaged.is_dir() else package.parent / "specs"
