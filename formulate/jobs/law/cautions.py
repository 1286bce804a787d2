"""Which cautions a recipe needs: the rules of the standards evaluated on its facts."""

from __future__ import annotations

from collections.abc import Sequence

from formulate.jobs.law.contents import named, shown_names
from formulate.jobs.law.facts import RecipeFacts
from formulate.jobs.records import Note
from formulate.quantity import Band
from formulate.spec.cautions import CautionRow, When, caution_rules, verb_endings
from formulate.spec.ingredient import Ingredient

__all__ = ["OWN_RANK", "batch_cautions"]

OWN_RANK = 3
"""How serious a sentence of an ingredient's own entry is taken to be; see `CautionRow.rank`."""


AT_THE_EDGE = 1e-6
"""A drink that stands at an edge to these digits, relative, is warned of whichever side it was rounded to."""


def batch_cautions(facts: RecipeFacts, ingredients: Sequence[Ingredient]) -> tuple[Note, ...]:
    """Gather what to take care of, the most serious first.

    Parameters
    ----------
    facts : RecipeFacts
    ingredients : sequence of Ingredient
        Those used; what their entries say is told where no rule says it already.
    """
    rules = caution_rules()
    said = {sentence for row in rules.rows for sentence in row.instead_of}
    used = {content.id for content in facts.contents if not content.inside}
    found = [note for row in rules.rows if (note := _note(row, facts)) is not None]
    found += [
        Note("ingredient", f"{ingredient.name}: {text}", ingredient.id, place="ingredient", rank=OWN_RANK)
        for ingredient in ingredients
        if ingredient.id in used
        for text in ingredient.cautions
        if text not in said
    ]
    return tuple(sorted(found, key=lambda note: note.rank))


def _note(row: CautionRow, facts: RecipeFacts) -> Note | None:
    about = _about(row, facts)
    if about is None:
        return None
    words = {**facts.words, **verb_endings(len(about))}
    return Note(
        code=row.id.replace("-", "_"),
        text=_filled(row.says, words | {"names": shown_names(about)}),
        source=row.provenance,
        short=_filled(row.short, words | {"names": shown_names(about, short=True)}),
        place=row.place,
        rank=row.rank,
    )


def _about(row: CautionRow, facts: RecipeFacts) -> tuple[str, ...] | None:
    """Return what sets a caution off, perhaps nothing by name; None where it is not set off."""
    when = row.when
    if not _drink_fits(when, facts) or any(name not in facts.holds for name in when.facts):
        return None
    about = tuple(dict.fromkeys(name for fact in when.facts for name in facts.holds[fact]))
    if not when.asks:
        return about
    # What somebody bought, steeped and stored belongs to the recipe of the house-made thing itself.
    found = named(when, facts.contents, inside=row.place == "serving")
    return tuple(dict.fromkeys(found)) or None


def _drink_fits(when: When, facts: RecipeFacts) -> bool:
    return (
        _within(when.strength, facts.strength_pct_vol)
        and _within(when.sugar, facts.sugar_g_l)
        and _within(when.acid, facts.acid_g_l)
    )


def _within(band: Band | None, value: float) -> bool:
    if band is None:
        return True
    hair = AT_THE_EDGE * max(abs(value), 1.0)
    above = band.lower is None or value >= band.lower - hair
    return above and (band.upper is None or value <= band.upper + hair)


def _filled(text: str, words: dict[str, str]) -> str:
    filled = text.format_map(words)
    return filled[0].upper() + filled[1:] if text.startswith("{step}") else filled
