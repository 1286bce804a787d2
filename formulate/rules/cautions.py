"""Which cautions a recipe needs: the rules of the standards evaluated on its facts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from formulate.blend.batch import Batch
from formulate.blend.profile import Profile
from formulate.errors import GUESTS, Note
from formulate.files.cautions import CautionRow, When, caution_rules, verb_endings
from formulate.files.ingredient import Ingredient
from formulate.files.limit_rows import known_plants
from formulate.optimise.tolerances import AT_BOUND
from formulate.quantity import Band
from formulate.rules.contents import Content, shown_names
from formulate.rules.facts import Facts, facts_of

__all__ = ["OWN_RANK", "batch_cautions", "by_care", "cautions_of", "menu_cautions", "sets_off"]

UNKNOWN_PLANT = "unknown-plant"
"""The row for a plant that the register does not hold."""

OWN_RANK = 3
"""How serious a sentence of an ingredient's own entry is taken to be; see `CautionRow.rank`."""

ONLY_IN_FULL = 4
"""The least serious rank."""


def batch_cautions(batch: Batch, contents: Sequence[Content]) -> tuple[Note, ...]:
    """Gather what to take care of with a batch: what guests must know first, then the most serious.

    Parameters
    ----------
    contents : sequence of Content
        What is in it by name.
    """
    return cautions_of(facts_of(batch, contents), batch.ingredients)


def cautions_of(facts: Facts, ingredients: Sequence[Ingredient]) -> tuple[Note, ...]:
    """Gather the cautions that facts set off.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        What the entries of those used say is told where no rule says it already.
    """
    rules = caution_rules()
    by_rule = {sentence for row in rules.rows for sentence in row.instead_of}
    used = {content.id for content in facts.contents if not content.inside}
    cautions = [note for row in rules.rows if (note := _note(row, facts)) is not None]
    cautions += [
        Note("ingredient", f"{ingredient.name}: {text}", ingredient.id, place="ingredient", rank=OWN_RANK)
        for ingredient in ingredients
        if ingredient.id in used
        for text in ingredient.cautions
        if text not in by_rule
    ]
    return by_care(cautions)


def by_care(cautions: Iterable[Note]) -> tuple[Note, ...]:
    """Put what guests must know first, then the most serious; what is alike stays in its order."""
    return tuple(sorted(cautions, key=lambda note: (not note.for_guests, note.rank or ONLY_IN_FULL)))


def menu_cautions(by_drink: Iterable[tuple[str, Sequence[Note]]]) -> tuple[Note, ...]:
    """Say once what several drinks have in common: about guests in one line with the names of the drinks.

    Parameters
    ----------
    by_drink : iterable of (str, sequence of Note)
        The name of each drink with its cautions.
    """
    alike: dict[tuple[str, str], list[tuple[str, Note]]] = {}
    for drink, notes in by_drink:
        for note in notes:
            # What an ingredient's own entry says is told by its words.
            key = (note.code, "" if note.for_guests else note.text)
            alike.setdefault(key, []).append((drink, note))
    return by_care(_of_drinks(said) for said in alike.values())


def _of_drinks(said: Sequence[tuple[str, Note]]) -> Note:
    first = said[0][1]
    if not first.for_guests:
        names = shown_names([drink for drink, _ in said])
        short = f"{names}: {first.short}" if first.short else ""
        return replace(first, text=f"{names}: {first.text}", short=short)
    by_names: dict[tuple[str, ...], list[str]] = {}
    for drink, note in said:
        by_names.setdefault(note.about_itself, []).append(drink)
    line = "; ".join(f"{', '.join(drinks)} ({', '.join(those)})" for those, drinks in by_names.items())
    says = caution_rules()[first.code.replace("_", "-")].says
    if "{names}" in says:
        plants = list(dict.fromkeys(plant for those in by_names for plant in those))
        text = f"{line}: {_filled(says, {'names': shown_names(plants), **verb_endings(len(plants))})}"
    else:
        text = " ".join(f"{drink}: {note.text}" for drink, note in said)
    return replace(
        first,
        text=text,
        short=first.on_menu.format(drinks=line),
        about=tuple(dict.fromkeys(name for _, note in said for name in note.about)),
        about_itself=tuple(dict.fromkeys(name for _, note in said for name in note.about_itself)),
    )


def _note(row: CautionRow, facts: Facts) -> Note | None:
    about = _about(row, facts)
    if about is None:
        return None
    shown = tuple(about)
    words = {**facts.words, **verb_endings(len(shown))}
    return Note(
        code=row.id.replace("-", "_"),
        text=_filled(row.says, words | {"names": shown_names(shown)}),
        source=row.provenance,
        short=_short(row, facts, about),
        place=row.place,
        rank=row.rank,
        about=shown,
        about_itself=tuple(dict.fromkeys(about.values())),
        on_menu=row.on_menu or "",
    )


def _short(row: CautionRow, facts: Facts, about: Mapping[str, str]) -> str:
    """Say a caution in a line; to guests each plant by itself, all of them and each once."""
    names = tuple(dict.fromkeys(about.values() if row.place == GUESTS else about))
    words = {
        **facts.words,
        **verb_endings(len(names)),
        "names": shown_names(names, short=row.place != GUESTS),
    }
    return _filled(row.short, words)


def _about(row: CautionRow, facts: Facts) -> dict[str, str] | None:
    """Name what sets a caution off, as shown: by itself; empty for nothing by name, None where it is not."""
    when = row.when
    if not _drink_fits(when, facts.drink) or any(name not in facts.held for name in when.facts):
        return None
    about = {name: name for fact in when.facts for name in facts.held[fact].about}
    if not when.asks:
        return about
    # What somebody bought, steeped and stored belongs to the recipe of the house-made thing itself.
    inside = row.place == GUESTS
    about = {
        content.shown: content.id
        for content in facts.contents
        if (inside or not content.inside) and sets_off(row, content)
    }
    return about or None


def sets_off(row: CautionRow, content: Content) -> bool:
    """Tell whether an ingredient sets a caution off: by name, as a plant, or by what it brings."""
    when = row.when
    if when.fits(content.ids, content.family, content.text):
        return True
    if any(much >= when.brings[name] for name, much in content.brings if name in when.brings):
        return True
    if not when.plants:
        return False
    by_plant = (known_plants()[name].cautions for name in content.plants)
    return content.unknown if row.id == UNKNOWN_PLANT else any(row.id in rows for rows in by_plant)


def _drink_fits(when: When, drink: Profile) -> bool:
    return (
        _within(when.strength, float(drink.strength_pct_vol))
        and _within(when.sugar, float(drink.sugar_g_l))
        and _within(when.acid, float(drink.acid_g_l))
    )


def _within(band: Band | None, value: float) -> bool:
    if band is None:
        return True
    # A drink that stands at an edge is warned of whichever side it was rounded to.
    near = AT_BOUND * max(abs(value), 1.0)
    above = band.lower is None or value >= band.lower - near
    return above and (band.upper is None or value <= band.upper + near)


def _filled(text: str, words: dict[str, str]) -> str:
    filled = text.format_map(words)
    return filled[0].upper() + filled[1:] if text.startswith(("{step}", "{hot_step}")) else filled
