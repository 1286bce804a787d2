"""Searching the library the way a person asks: by name, kind, property, or a limit on what is in it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from formulate.errors import SpecError, SpecProblem
from formulate.files.fields import did_you_mean
from formulate.files.ingredient import COMPONENTS, Ingredient
from formulate.files.measures import ACID, BITTERNESS, MEASURES, STRENGTH, SUGAR
from formulate.physics.components import ACIDS, SUGARS

__all__ = ["BITTER_FROM", "is_bitter", "search"]

_GROUPS = {
    SUGAR: tuple(MEASURES[SUGAR].weights),
    ACID: tuple(MEASURES[ACID].weights),
    "solid": ("insoluble",),
}

_STRENGTH = (STRENGTH, "alcohol", "vol", "abv")
_BITTERNESS = (BITTERNESS, "bitter")

BITTER_FROM, VERY_BITTER_FROM = 100.0, 2000.0
PCT_VOL_PER_PERCENT = 1.25  # wine: 0.99 kg/L over 0.789, near enough to search by
SOUR_FROM, SWEET_FROM = 0.01, 0.08
RICH_FROM_PERCENT = {SUGAR: 8.0, ACID: 1.0}
RICH_FROM_PERCENT_ELSE = 1.0
LITTLE_BELOW_PERCENT = {SUGAR: 5.0}
LITTLE_BELOW_PERCENT_ELSE, NONE_BELOW_PERCENT = 1.0, 0.1
HOLDS_FROM = 0.005
_NOT_ASKED_FOR = ("water", "ethanol", "insoluble", "other_soluble")

_SMALL_WORDS = frozenset(
    {"a", "an", "and", "for", "in", "of", "or", "something", "that", "the", "to", "with"}
)

_UNDER = r"under|below|less\s+than|fewer\s+than|at\s+most|up\s+to|max(?:imum)?"
_OVER = r"over|above|more\s+than|at\s+least|from|min(?:imum)?"
_BOUND = rf"(?P<side>{_UNDER}|{_OVER})\s+(?P<number>[0-9]+(?:[.,][0-9]+)?)"
_UNIT = r"(?P<unit>%\s*vol\b|%(?:\s*w/w)?|mg/g|g\s*/\s*100\s*g|g\s+per\s+100\s*g|g/kg|g\b)"
# With the thing behind (`under 5 g sugar`) and in front (`sugar under 5 g`).
_LIMITS = (
    re.compile(rf"{_BOUND}\s*%\s*(?P<what>vol|abv)\b", re.IGNORECASE),
    re.compile(rf"(?P<what>strength|alcohol)\s+{_BOUND}\s*%(?:\s*vol\b)?", re.IGNORECASE),
    re.compile(rf"{_BOUND}\s+(?P<what>bitterness|bitter)\b", re.IGNORECASE),
    re.compile(rf"(?P<what>bitterness|bitter)\s+{_BOUND}(?![0-9.,]|\s*(?:%|g|mg))", re.IGNORECASE),
    re.compile(rf"{_BOUND}\s*{_UNIT}\s*(?:of\s+)?(?P<what>[a-z_]+)", re.IGNORECASE),
    re.compile(rf"(?P<what>[a-z_]+)\s+{_BOUND}\s*{_UNIT}", re.IGNORECASE),
)
_AMOUNTS = re.compile(
    r"\b(?P<much>no|without|low|little|high|much|rich\s+in|lots\s+of)\s+(?P<what>[a-z_]+)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class _Limit:
    """Part of what was asked: a bound on a content in %, on the strength or on the bitterness."""

    what: str
    bound: float
    is_upper: bool

    def fits(self, ingredient: Ingredient) -> bool:
        if self.what == STRENGTH:
            value = ingredient.strength_pct_vol
            if value is None:
                value = 100 * PCT_VOL_PER_PERCENT * ingredient.composition.get("ethanol", 0.0)
            return value > 0.0 and (value < self.bound if self.is_upper else value > self.bound)
        if self.what == BITTERNESS:
            value = ingredient.bitterness.value if ingredient.bitterness else 0.0
        elif self.what in ingredient.attributes:
            value = ingredient.attributes[self.what] / 10
        else:
            value = 100 * _sum_of(ingredient, _GROUPS.get(self.what, (self.what,)))
        return value < self.bound if self.is_upper else value > self.bound


def search(ingredients: Sequence[Ingredient], words: str) -> tuple[Ingredient, ...]:
    """Find ingredients by words and properties; every word must fit.

    Parameters
    ----------
    words : str
        See `Library.search`.

    Returns
    -------
    tuple of Ingredient
        Those whose id or name starts with the first word come first, then that family, then as given.

    Raises
    ------
    SpecError
        If a limit is on something no ingredient has a figure for.
    """
    joined = re.sub(r"[\s-]+", "", words.lower())
    if (named := [one for one in ingredients if one.id.replace("-", "") == joined]) and " " in words.strip():
        return tuple(named)  # "red currant" is the redcurrant, not a currant that is red
    limits, rest = _limits(ingredients, words)
    plain = [word for word in re.findall(r"[^\s,;]+", rest.lower()) if word not in _SMALL_WORDS]
    hits = [
        ingredient
        for ingredient in ingredients
        if all(limit.fits(ingredient) for limit in limits) and all(_fits(ingredient, word) for word in plain)
    ]
    if plain:
        first = _forms(plain[0])
        hits.sort(
            key=lambda hit: (
                not (hit.id.startswith(first) or hit.name.lower().startswith(first)),
                hit.family not in first,
            )
        )
    return tuple(hits)


def is_bitter(ingredient: Ingredient) -> bool:
    """Tell whether an ingredient counts as bitter in a search: a bitterness value of 100 and more."""
    return ingredient.bitterness is not None and ingredient.bitterness.value >= BITTER_FROM


def _limits(ingredients: Sequence[Ingredient], words: str) -> tuple[list[_Limit], str]:
    """Take the limits out of what was typed; return them and what is left."""
    known = {*COMPONENTS, *_GROUPS, *_STRENGTH, *_BITTERNESS, *_attributes(ingredients)}
    limits: list[_Limit] = []
    words = re.sub(
        r"\bvery\s+bitter\b", f"bitterness over {VERY_BITTER_FROM:.0f}", words, flags=re.IGNORECASE
    )
    for pattern in _LIMITS:
        for found in reversed(list(pattern.finditer(words))):
            limit = _limit(found, known)
            if limit is not None:
                limits.append(limit)
                words = f"{words[: found.start()]} {words[found.end() :]}"
    for pattern in _LIMITS:
        if found_none := pattern.search(words):
            typed = found_none["what"]
            hint = did_you_mean(typed.lower(), known, list_up_to=0)
            hint = hint or "Limit e.g. sugar, acid, pectin or water."
            message = f"nothing here says how much {typed} there is, got '{found_none[0].strip()}'. {hint}"
            raise SpecError([SpecProblem(None, "", message)])
    for found in reversed(list(_AMOUNTS.finditer(words))):
        what = _known_name(found["what"], known)
        if what is None or what in _STRENGTH or what in _BITTERNESS:
            continue
        much = found["much"].lower().split()[0]
        is_upper = much in ("no", "without", "low", "little")
        bound = LITTLE_BELOW_PERCENT.get(what, LITTLE_BELOW_PERCENT_ELSE)
        if much in ("no", "without"):
            bound = NONE_BELOW_PERCENT
        elif not is_upper:
            bound = RICH_FROM_PERCENT.get(what, RICH_FROM_PERCENT_ELSE)
        limits.append(_Limit(what, bound, is_upper))
        words = f"{words[: found.start()]} {words[found.end() :]}"
    return limits, words


def _limit(found: re.Match[str], known: set[str]) -> _Limit | None:
    """Read a limit; None when what it is on is not known."""
    what = _known_name(found["what"], known)
    if what is None:
        return None
    what = STRENGTH if what in _STRENGTH else BITTERNESS if what in _BITTERNESS else what
    number = float(found["number"].replace(",", "."))
    small = (found.groupdict().get("unit") or "").lower() in ("mg/g", "g/kg")
    is_upper = re.fullmatch(_UNDER, found["side"], re.IGNORECASE) is not None
    return _Limit(what, number / 10.0 if small else number, is_upper)


def _attributes(ingredients: Iterable[Ingredient]) -> set[str]:
    return {name for ingredient in ingredients for name in ingredient.attributes}


def _known_name(typed: str, known: Iterable[str]) -> str | None:
    """Return the content a word names, in the singular or the plural."""
    names = set(known)
    return next((form for form in _forms(typed.lower()) if form in names), None)


_PLURALS = (
    *(("ies", "y"), ("ves", "f"), ("ches", "ch"), ("shes", "sh"), ("xes", "x"), ("sses", "ss"), ("oes", "o")),
    ("s", ""),
)


def _forms(word: str) -> tuple[str, ...]:
    """Give a word and what it may be in the singular: roots, berries, leaves, peaches."""
    forms = [word]
    for ending, singular in _PLURALS:
        if word.endswith(ending) and len(word) > len(ending) + 2 and not word.endswith("ss"):
            forms.append(word.removesuffix(ending) + singular)
    return tuple(forms)


_BY_PROPERTY: dict[str, Callable[[Ingredient], bool]] = {
    "bitter": is_bitter,
    "sour": lambda one: _sum_of(one, ACIDS) >= SOUR_FROM,
    "sweet": lambda one: _sum_of(one, SUGARS) >= SWEET_FROM,
    # No figure for its colour is no reason to leave out what is red by name.
    "red": lambda one: (
        one.attributes.get("anthocyanin", 0.0) > 0 or (one.family == "fruit" and one.id.startswith("red"))
    ),
    "colour": lambda one: one.attributes.get("anthocyanin", 0.0) > 0,
    "color": lambda one: one.attributes.get("anthocyanin", 0.0) > 0,
}


def _fits(ingredient: Ingredient, word: str) -> bool:
    forms = _forms(word)
    by_property = next((_BY_PROPERTY[form] for form in forms if form in _BY_PROPERTY), None)
    if by_property is not None and by_property(ingredient):
        return True
    if any(ingredient.attributes.get(form, 0.0) > 0 for form in forms):
        return True
    held = [ingredient.composition.get(form, 0.0) for form in forms if form not in _NOT_ASKED_FOR]
    if max(held, default=0.0) >= HOLDS_FROM:
        return True
    text = f"{ingredient.id} {ingredient.name} {ingredient.latin or ''} {ingredient.family}".lower()
    # A short word must not fit by accident: "red" is part of "shredded", "rot" of "carrot", but a
    # raspberry is a berry. So words start or end where the text's words do.
    whole = by_property is not None
    return any(
        re.search(rf"\b{re.escape(form)}\b" if whole else rf"\b{re.escape(form)}|{re.escape(form)}\b", text)
        for form in forms
    )


def _sum_of(ingredient: Ingredient, names: Iterable[str]) -> float:
    return sum(ingredient.composition.get(name, 0.0) for name in names)
