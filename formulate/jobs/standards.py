"""`standards`: the rules that travel with the package, each with where it comes from."""

from __future__ import annotations

import importlib
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from formulate.errors import FormulateError
from formulate.files.fields import did_you_mean
from formulate.files.standards import JURISDICTIONS, Row, Standard, load_rows
from formulate.quantity.document import HIDDEN, Record, Result, computed, shown

__all__ = [
    "PLACES",
    "SUBJECTS",
    "RulesRecord",
    "SubjectRecord",
    "find_rules",
    "list_subjects",
    "read_subject",
]

SUBJECTS = {
    "restricted-substances": "limit_rows.CapRow",
    "plant-contents": "limit_rows.ContentRow",
    "prohibited": "limit_rows.PlantRow",
    "alcohol-only": "limit_rows.AlcoholOnlyRow",
    "plants": "limit_rows.KnownPlantRow",
    "quinine": "trade_rows.QuinineRow",
    "methanol": "trade_rows.MethanolRow",
    "categories": "categories.CategoryRow",
    "sugar-terms": "trade_rows.SugarTermRow",
    "label-strength": "trade_rows.LabelStrengthRow",
    "fill-tolerances": "trade_rows.FillRow",
    "bottle-sizes": "labelling.BottleSizeRow",
    "label-words": "labelling.LabelWordsRow",
    "allergens": "labelling.AllergenRow",
    "energy": "labelling.EnergyRow",
    "standard-drinks": "trade_rows.DrinkRow",
    "serve-measures": "trade_rows.ServeMeasureRow",
    "duty": "trade_rows.DutyRow",
    "keeping": "trade_rows.KeepingRow",
    "flash-points": "trade_rows.FlashPointRow",
    "cautions": "cautions.CautionRow",
}
"""File by name to the class of its rows, in `formulate.files`; in the order they are listed."""


PLACES: tuple[str, ...] = JURISDICTIONS
"""Whose law is told apart."""


@dataclass(frozen=True, slots=True)
class SubjectRecord(Record):
    """A file of standards.

    Attributes
    ----------
    rows : tuple of Row
        Those that count where it was asked for.
    places : tuple of str
        file:line:column of each.
    """

    name: str = field(metadata=shown("subject"))
    about: str
    rows: tuple[Row, ...] = field(metadata=HIDDEN)
    places: tuple[str, ...] = field(metadata=HIDDEN)

    @property
    @computed(after="about")
    def rules(self) -> list[dict[str, Any]]:
        """The rows as they are written, with what each says in words."""
        return [
            {
                **row.model_dump(mode="json", exclude_none=True),
                "says": row.in_general,
                "seen": row.seen,
                "verified": row.verified,
                "place": place,
            }
            for row, place in zip(self.rows, self.places, strict=True)
        ]


@dataclass(frozen=True)
class RulesRecord(Result):
    """What the standards say, by subject."""

    status: str = field(default="ok", init=False)
    subjects: tuple[SubjectRecord, ...]


def list_subjects() -> tuple[SubjectRecord, ...]:
    """Read every subject.

    Raises
    ------
    SpecError
        If a file is wrong.
    """
    return tuple(read_subject(name) for name in SUBJECTS)


def read_subject(name: str, jurisdiction: str | None = None) -> SubjectRecord:
    """Read one subject.

    Parameters
    ----------
    name : str
        One of `SUBJECTS`.
    jurisdiction : str, optional
        Only what counts there.

    Raises
    ------
    FormulateError
        If there is no such subject or jurisdiction.
    SpecError
        If the file is wrong.
    """
    if name not in SUBJECTS:
        raise FormulateError(f"no standards on '{name}'. {did_you_mean(name, SUBJECTS, list_up_to=20)}")
    if jurisdiction is not None and jurisdiction not in JURISDICTIONS:
        raise FormulateError(f"--in: one of {', '.join(JURISDICTIONS)}, got '{jurisdiction}'.")
    standard = load_rows(name, _row_class(name))
    rows = standard.holding_in(jurisdiction)
    return SubjectRecord(name, standard.about, rows, _places(standard, rows))


def find_rules(words: str, jurisdiction: str | None = None) -> tuple[SubjectRecord, ...]:
    """Read a subject, or else the rules of every subject that say all of some words.

    Parameters
    ----------
    words : str
        One of `SUBJECTS`, or a substance, plant, category or whatever else a rule names; words may be
        begun only.
    jurisdiction : str, optional
        Only what counts there.

    Raises
    ------
    FormulateError
        If no rule says them, or there is no such jurisdiction.
    SpecError
        If a file is wrong.
    """
    if words in SUBJECTS:
        return (read_subject(words, jurisdiction),)
    asked = [re.compile(rf"\b{re.escape(word)}") for word in _plain(words).split()]
    subjects = []
    for name in SUBJECTS:
        subject = read_subject(name, jurisdiction)
        matching = [
            (row, place)
            for row, place in zip(subject.rows, subject.places, strict=True)
            if asked and all(word.search(_text_of(row)) for word in asked)
        ]
        if matching:
            rows, places = zip(*matching, strict=True)
            subjects.append(SubjectRecord(name, subject.about, rows, places))
    if not subjects:
        where = "" if jurisdiction is None else f" in the {jurisdiction}"
        raise FormulateError(
            f"no standards on '{words}'{where}: no subject is called so and no rule names it. "
            f"{did_you_mean(words, SUBJECTS, list_up_to=len(SUBJECTS))}"
        )
    return tuple(subjects)


def _text_of(row: Row) -> str:
    """Gather what a rule says and names; ids both as they are and in words."""
    texts = [row.in_general, *_strings(row.model_dump(mode="json", exclude_none=True))]
    return _plain(" ".join([*texts, *(text.replace("-", " ") for text in texts)]))


def _strings(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _strings(inner)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from _strings(inner)


def _plain(text: str) -> str:
    """Write small letters without accents, as on another keyboard."""
    apart = unicodedata.normalize("NFKD", text.lower())
    return "".join(letter for letter in apart if not unicodedata.combining(letter))


def _row_class(name: str) -> type[Row]:
    module, row = SUBJECTS[name].split(".")
    row_class: type[Row] = getattr(importlib.import_module(f"formulate.files.{module}"), row)
    return row_class


def _places(standard: Standard[Row], rows: tuple[Row, ...]) -> tuple[str, ...]:
    return tuple(str(standard.place(row.id)) for row in rows)
