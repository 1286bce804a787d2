"""Records to plain maps of text, numbers and lists: what `to_dict` gives and every JSON document is.

Inside, a mass is ``mass_kg``; outside it is ``mass_g``. That is the one rule: a field whose name ends in
``_kg`` is shown in grams, and every other field under its own name as it is. Where a field is shown
otherwise it says so itself, so that a new column of output is one field in one file::

    name: str = field(metadata=shown("step"))                  # by another name
    serve_l: float = field(metadata=shown("serve.volume_ml"))  # in a map of its own, in millilitres
    law: LawRecord = field(metadata=shown(""))                 # its fields stand beside the others
    drink: Profile = field(metadata=shown(only=("volume_l",)))
    formulation: Formulation = field(metadata=HIDDEN)

Properties are left out unless they are `computed`. Any frozen dataclass can be laid out, whether or not it
is a `Record`; figures that are not finite become None.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from functools import cache
from html import escape
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, TypeVar

from formulate.errors import FormulateError, Note, SourceLocation, SpecProblem

__all__ = [
    "HIDDEN",
    "MARK",
    "SCHEMA_VERSION",
    "Cautioned",
    "Record",
    "Result",
    "as_document",
    "computed",
    "in_full",
    "or_none",
    "problem_document",
    "shown",
]

SCHEMA_VERSION = 1
MARK = "Written by formulate."
"""What a file that this program wrote holds, beside workbooks and recipes; `--force` replaces no other."""
KEY = "shown"
FACTORS = {("kg", "g"): 1000.0, ("l", "ml"): 1000.0}
"""From the unit at the end of a field's name to that at the end of the name it is shown by."""

F = TypeVar("F", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class _Shown:
    """How one value is shown; what is not said follows the rule."""

    name: str | None = None
    only: tuple[str, ...] = ()
    rows: tuple[str, ...] = ()
    by: Callable[[Any], Any] | None = None
    if_any: bool = False
    hidden: bool = False
    after: str = ""

    def name_of(self, attribute: str) -> str:
        return _name(attribute) if self.name is None else self.name


HIDDEN: Mapping[str, Any] = {KEY: _Shown(hidden=True)}
"""Metadata of a field that no document shows."""


def shown(
    name: str | None = None,
    *,
    only: tuple[str, ...] = (),
    rows: tuple[str, ...] = (),
    by: Callable[[Any], Any] | None = None,
    if_any: bool = False,
) -> Mapping[str, Any]:
    """Say how a field is shown, as its metadata.

    Parameters
    ----------
    name : str, optional
        Its name outside; dots put it into maps within the map, and an empty name puts what it holds beside
        its neighbours. A mass or a volume is in the unit at the end of the name.
    only : tuple of str
        Of a record, only these attributes; beside the neighbours they are all there even where it is None.
    rows : tuple of str
        Of tuples, what their members are called: a map each.
    by : callable, optional
        Turns the value into what is shown.
    if_any : bool
        Leave it out where it is None or empty.
    """
    return {KEY: _Shown(name, only, rows, by, if_any)}


def computed(
    name: str | None = None, *, after: str, by: Callable[[Any], Any] | None = None
) -> Callable[[F], F]:
    """Show a property too; stands below `property`.

    Parameters
    ----------
    name : str, optional
        As for `shown`.
    after : str
        The attribute that it comes after; empty to come first.
    by : callable, optional
        As for `shown`.
    """

    def mark(function: F) -> F:
        vars(function)[KEY] = _Shown(name, by=by, after=after)
        return function

    return mark


class Record:
    """A frozen record that can be laid out."""

    __slots__ = ()

    def to_dict(self) -> dict[str, Any]:
        """Lay the record out in plain maps, lists, texts and numbers, in the units of its names."""
        return as_document(self)

    def to_frame(self) -> Any:
        """Lay its first list of rows out as a pandas table: the recipe, the drinks, what is bought.

        Raises
        ------
        FormulateError
            If pandas is not installed, or there are no rows in it.
        """
        try:
            import pandas
        except ImportError:
            raise FormulateError("to_frame() needs pandas, which is not installed.") from None
        tables = [rows for _, rows in _tables_in(self.to_dict())]
        if not tables:
            raise FormulateError("There are no rows in this answer. Use to_dict().")
        return pandas.DataFrame(tables[0])

    def _repr_html_(self) -> str:
        """Show the answer in a notebook: its figures, then each list of rows as a table."""
        document = self.to_dict()
        single = [(name, value) for name, value in document.items() if not isinstance(value, (list, dict))]
        shown = [_html_table(("", ""), single)] if single else []
        for name, rows in _tables_in(document):
            heads = tuple(dict.fromkeys(head for row in rows for head in row))
            lines = [[row.get(head) for head in heads] for row in rows]
            shown.append(f"<h4>{escape(name)}</h4>{_html_table(heads, lines)}")
        return "".join(shown)


class Result(Record):
    """What a command answers with: a document of its own, which begins with the version of its layout."""

    __slots__ = ()

    def to_dict(self) -> dict[str, Any]:
        """Lay the whole answer out as `--json` prints it."""
        return {"schema_version": SCHEMA_VERSION, **as_document(self)}


class Cautioned(Result):
    """An answer with remarks and cautions: both are under `warnings`, the cautions in full besides."""

    __slots__ = ()

    if TYPE_CHECKING:

        @property
        def notes(self) -> tuple[Note, ...]:
            """Remarks on figures."""

        @property
        def cautions(self) -> tuple[Note, ...]:
            """What the work needs care with."""

    @property
    @computed(after="notes")
    def warnings(self) -> tuple[Note, ...]:
        """Everything a person should know beside the figures."""
        return (*self.notes, *self.cautions)


def as_document(record: Any) -> dict[str, Any]:
    """Lay out a record of any kind by what its fields say."""
    kind: Any = type(record)
    document: dict[str, Any] = {}
    for attribute, how in _entries(kind):
        value = getattr(record, attribute)
        if how.if_any and not value and value != 0:
            continue
        name = how.name_of(attribute)
        if not name:
            document |= _flat(value, how)
            continue
        *parents, last = name.split(".")
        target = document
        for parent in parents:
            target = target.setdefault(parent, {})
        target[last] = _value(value, how, _factor(attribute, name))
    return document


def in_full(notes: tuple[Note, ...]) -> list[dict[str, Any]]:
    """Lay out cautions with where in the work they belong and how grave they are."""
    return [
        {
            **_remark(note),
            "short": note.short or note.text,
            "place": note.place,
            "rank": note.rank,
            "for_guests": note.for_guests,
        }
        for note in notes
    ]


def _tables_in(document: Mapping[str, Any]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return the lists of maps in a document, each row with its plain values alone."""
    return [
        (
            name,
            [{key: item for key, item in row.items() if not isinstance(item, (list, dict))} for row in rows],
        )
        for name, rows in document.items()
        if isinstance(rows, list) and rows and all(isinstance(row, dict) for row in rows)
    ]


def _html_table(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    head = "".join(f"<th>{escape(_worded(one))}</th>" for one in heads)
    body = "".join(f"<tr>{''.join(f'<td>{escape(_worded(one))}</td>' for one in row)}</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _worded(value: Any) -> str:
    """Write a value for a person: figures to five digits, nothing for nothing, no character that acts."""
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.5g}"
    return "".join(one if one.isprintable() else " " for one in str(value))


def or_none(value: Any) -> Any:
    """Show nothing where a text is empty."""
    return value or None


@cache
def _entries(kind: Any) -> tuple[tuple[str, _Shown], ...]:
    plain = _Shown()
    entries = [(field.name, field.metadata.get(KEY, plain)) for field in fields(kind)]
    for base in reversed(kind.__mro__):
        for attribute, member in vars(base).items():
            how = vars(member.fget).get(KEY) if isinstance(member, property) and member.fget else None
            if how is not None and attribute not in [name for name, _ in entries]:
                place = [name for name, _ in entries].index(how.after) + 1 if how.after else 0
                entries.insert(place, (attribute, how))
    return tuple((attribute, how) for attribute, how in entries if not how.hidden)


def _name(attribute: str) -> str:
    in_grams = attribute.endswith("_kg") and not attribute.endswith("_per_kg")
    return f"{attribute.removesuffix('_kg')}_g" if in_grams else attribute


def _factor(attribute: str, name: str) -> float:
    return FACTORS.get((attribute.rpartition("_")[2], name.rpartition("_")[2]), 1.0)


def _flat(value: Any, how: _Shown) -> dict[str, Any]:
    if how.only:
        return _members(how.only, value)
    return {} if value is None else _value(value, how)


def _value(value: Any, how: _Shown, factor: float = 1.0) -> Any:
    if how.by is not None:
        return _plain(how.by(value))
    if value is None:
        return None
    if how.rows:
        return [_members(how.rows, row) for row in value]
    if how.only and isinstance(value, tuple):
        return [_members(how.only, item) for item in value]
    return _members(how.only, value) if how.only else _plain(value, factor)


def _members(names: tuple[str, ...], value: Any) -> dict[str, Any]:
    """Lay out some attributes of a record, or the members of a tuple; all of them None where it is."""
    if isinstance(value, tuple):
        values = value
    else:
        values = tuple(None if value is None else getattr(value, name) for name in names)
    shown_as = {_name(name): name for name in names}
    return {
        name: _plain(item, _factor(inner, name))
        for (name, inner), item in zip(shown_as.items(), values, strict=True)
    }


def _plain(value: Any, factor: float = 1.0) -> Any:
    """Turn anything that records hold into text, numbers, lists and maps."""
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, (str, PurePath, SourceLocation)):
        return str(value)
    if isinstance(value, int):
        return value if factor == 1.0 else value * factor
    if isinstance(value, float):
        return float(value) * factor if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(name): _plain(item, factor) for name, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(item, factor) for item in value]
    if isinstance(value, Record):
        return value.to_dict()
    if isinstance(value, Note):
        return _remark(value)
    if isinstance(value, SpecProblem):
        return problem_document(value)
    if is_dataclass(value):
        return as_document(value)
    if isinstance(value, date):
        return value.isoformat()
    if hasattr(value, "item"):  # a figure out of an array
        return _plain(value.item(), factor)
    raise TypeError(f"a {type(value).__name__} has no place in a document; say how its field is shown")


def _remark(note: Note) -> dict[str, Any]:
    return {"code": note.code, "text": note.text, "source": note.source}


def problem_document(problem: SpecProblem) -> dict[str, Any]:
    """Lay out one thing wrong in a file, with its place."""
    place = problem.location
    return {
        "path": None if place is None else place.file,
        "line": None if place is None else place.line or None,
        "column": None if place is None else place.column or None,
        "cell": "" if place is None else place.cell,
        "key": problem.path,
        "text": problem.message,
    }
