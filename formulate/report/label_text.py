"""Figures for a label: on the screen and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

from formulate.describe.records import ADVICE
from formulate.report.first_screen import SAID_FIRST, More, closing, more_line, rest
from formulate.report.plain import notes_text, paragraph
from formulate.report.rules_text import UNVERIFIED, fitting_names, law_lines, over_lines
from formulate.report.visible import on_screen

if TYPE_CHECKING:
    from formulate.describe.label_record import DrinksRecord, LabelIngredient, LabelRecord
    from formulate.files.standards import Provenance

__all__ = ["label_text"]

HEAD = 13
"""Width of the column of headings."""


@on_screen
def label_text(record: LabelRecord, more: More = More.NONE) -> str:
    """Show the figures of a label, one heading each.

    Parameters
    ----------
    record : LabelRecord
    more : More
        Which parts beyond the first screen.
    """
    lines = [*over_lines(record.law), f"{record.name}: for the label", ""]
    in_full = more is More.ALL
    names, unverified = fitting_names(record.categories)
    headings = _headings(record, names, in_full=in_full)
    unverified |= any(not source.verified for source in _sources(record, in_full=in_full))
    for heading, text in headings:
        lines += paragraph(text, first=heading.ljust(HEAD), rest=" " * HEAD)
    if unverified:
        lines += ["", UNVERIFIED]
    if more is More.ALL:
        lines += [*law_lines(record.law), *notes_text("Good to know", record.notes), "", f"  {ADVICE}"]
        return "\n".join(lines)
    lines += ["", *closing(record.notes, (), more), f"  {ADVICE}"]
    law = record.law is not None and bool(record.law.caps)
    lines.append(more_line(more | More.CAUTIONS, law=law))
    return "\n".join([*lines, *rest(record.notes, (), more, law=record.law)])


def _headings(record: LabelRecord, names: Sequence[str], *, in_full: bool) -> list[tuple[str, str]]:
    serve_ml, energy = record.serve_l * 1000.0, record.energy
    serve = energy.kj * serve_ml / 100.0, energy.kcal * serve_ml / 100.0
    found = [
        ("name", "; ".join(names)),
        ("alcohol", _alcohol(record)),
        ("volume", _volume(record)),
        ("allergens", _allergens(record)),
        ("ingredients", ", ".join(_ingredient(one) for one in record.ingredients)),
        *_quinine(record),
        *([("keep", f"{record.keep}{_star(record.keep_source)}")] if record.keep_source else []),
        ("energy", f"per 100 mL {energy.kj:.0f} kJ / {energy.kcal:.0f} kcal{_star(energy.source)}"),
        ("a serve", f"{serve_ml:.0f} mL: {serve[0]:.0f} kJ / {serve[1]:.0f} kcal"),
    ]
    if record.strength_text != "0.0":
        drinks = _drinks(record, in_full=in_full)
        found.append(("drinks in it", _each(drinks, lambda one: one.per_serve)))
        if record.bottle_l is not None:
            found.append(("in a bottle", _each(drinks, lambda one: one.per_bottle or 0.0)))
    return found


def _drinks(record: LabelRecord, *, in_full: bool) -> tuple[DrinksRecord, ...]:
    """Return the standard drinks that are shown: of every country, or of a few at first."""
    first = tuple(one for one in record.drinks if one.country in SAID_FIRST)
    return record.drinks if in_full or not first else first


def _sources(record: LabelRecord, *, in_full: bool) -> Iterator[Provenance]:
    """List what the figures shown rest on."""
    yield from (source for source in (record.keep_source, record.quinine_source) if source is not None)
    yield record.energy.source
    for _, _, source in (*record.tolerances, *record.short):
        yield source
    yield from (allergen.source for allergen in record.allergens)
    if record.strength_text != "0.0":
        yield from (drinks.source for drinks in _drinks(record, in_full=in_full))


def _alcohol(record: LabelRecord) -> str:
    text = f"{record.strength_text} % vol"
    places: dict[float, list[str]] = {}
    for place, pct_vol, source in record.tolerances:
        places.setdefault(pct_vol, []).append(f"{place}{_star(source)}")
    off = "; ".join(
        f"{', '.join(where)}: within {pct:g} of what is measured" for pct, where in places.items()
    )
    return f"{text} ({off})" if off else text


def _volume(record: LabelRecord) -> str:
    if record.bottle_l is None:
        return f"{record.volume_l:.2f} L in all; say what a bottle holds with --bottle-size"
    text = f"{record.bottle_l * 100.0:g} cl, {record.bottles} bottles"
    less = "; ".join(
        f"{place}{_star(source)}: one may hold {litres * 1000.0:.3g} mL less"
        for place, litres, source in record.short
    )
    return f"{text} ({less})" if less else text


def _allergens(record: LabelRecord) -> str:
    if not record.allergens:
        return "none found by name; ask your suppliers"
    return "; ".join(
        f"{one.name}{_star(one.source)} ({', '.join(one.brought_by)}; {', '.join(one.jurisdictions)})"
        for one in record.allergens
    )


def _quinine(record: LabelRecord) -> list[tuple[str, str]]:
    if record.quinine_source is None:
        return []
    by = ", ".join(one.id for one in record.ingredients if one.to_name)
    return [("quinine", f"name it in the list of ingredients ({by}){_star(record.quinine_source)}")]


def _ingredient(one: LabelIngredient) -> str:
    inner = ", ".join([*(_plain(name) for name in one.made_of), *one.to_name])
    return f"{_plain(one.name)} ({inner})" if inner else _plain(one.name)


def _plain(name: str) -> str:
    """Leave out what stands after a comma for the kitchen, such as `stoned` or `40 % vol`."""
    return name.partition(",")[0].lower()


def _each(drinks: Sequence[DrinksRecord], count: Callable[[DrinksRecord], float]) -> str:
    return "; ".join(f"{one.country} {count(one):.1f}{_star(one.source)}" for one in drinks)


def _star(source: Provenance) -> str:
    return "" if source.verified else "*"
