"""What was learned as the bar's own values: a marked block in the shelf's text, put in and taken out whole.

The rest of the shelf stays letter by letter. An older block is kept inside the new one as comments, so that
taking the new one out brings it back.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from formulate.blend.materials import class_of
from formulate.files.ingredient import Ingredient, OwnIngredient
from formulate.physics.components import ACIDS, SUGARS

__all__ = ["LEARNED", "is_learned", "own_lines", "with_block", "without_block"]

LEARNED = "learned from trials"
"""What the source of a learned value begins with."""
OPENING, CLOSING, KEPT = "# learned ", "# end of what was learned", "#~ "
_BLOCK = re.compile(
    r"^(?P<indent> *)# learned [^\n]*\n(?P<inner>(?:(?! *# end of what was learned)[^\n]*\n)*)"
    r" *# end of what was learned\n",
    re.MULTILINE,
)
_INGREDIENTS = re.compile(r"^ingredients:[ \t]*(?:#[^\n]*)?\n", re.MULTILINE)


def is_learned(own: OwnIngredient) -> bool:
    """Whether an own value of a shelf was learned from trials, not written by a person."""
    return any(source.source.startswith(LEARNED) for source in own.sources)


def own_lines(ingredient: Ingredient, found: Mapping[str, tuple[float, float]], source: str) -> list[str]:
    """Write what was learned of an ingredient as it stands under `ingredients:` of a shelf.

    Parameters
    ----------
    ingredient : Ingredient
        As it is without.
    found : mapping of str to (float, float)
        By kind of unknown the factor on its value and the standard uncertainty of its logarithm; for
        ``speed`` the time at 20 °C in hours in place of the factor.
    source : str
        Which trials, and when.

    Returns
    -------
    list of str
        Without indent; empty where nothing of it has a place there.
    """
    figures, lines = [], []
    if "keeps" in found:
        figures.append("retention")
        lines.append(f"  retention: {ingredient.retention_kg_per_kg * found['keeps'][0]:.4g} kg/kg")
    if "gives" in found and ingredient.bitterness is not None:
        factor, doubt = found["gives"]
        value, width = ingredient.bitterness.value * factor, 2.718281828459045 ** (1.96 * doubt)
        figures.append("bitterness")
        lines.append(
            f"  bitterness: {{value: {value:.4g}, low: {value / width:.4g}, high: {value * width:.4g}, "
            f"extracted: {100.0 * ingredient.bitterness.extracted:.4g} %}}".replace("e+0", "e")
        )
    if "speed" in found:
        figures.append("infusion")
        lines.append(
            f"  infusion: {{like: {class_of(ingredient)}, time_constant: {found['speed'][0]:.4g} h}}"
        )
    if ingredient.composition and ("sugar" in found or "acid" in found):
        figures.append("composition")
        scaled = {
            name: share * found.get("sugar" if name in SUGARS else "acid" if name in ACIDS else "", (1.0,))[0]
            for name, share in ingredient.composition.items()
        }
        rest = sum(scaled.values()) - sum(ingredient.composition.values())
        scaled["water"] = scaled.get("water", 0.0) - rest
        parts = ", ".join(f"{name}: {100.0 * share:.5g} % w/w" for name, share in scaled.items())
        lines.append(f"  composition: {{{parts}}}")
    if "colour" in found:
        figures.append("attributes")
        held = dict(ingredient.attributes)
        held["anthocyanin"] = held["anthocyanin"] * found["colour"][0]
        parts = ", ".join(f"{name}: {content:.4g} g/kg" for name, content in held.items())
        lines.append(f"  attributes: {{{parts}}}")
    if not lines:
        return []
    sourced = f'{{figures: [{", ".join(figures)}], source: "{LEARNED} {source}", confidence: measured here}}'
    return [
        f"{ingredient.id}:",
        f"  based_on: {ingredient.based_on or ingredient.id}",
        *lines,
        f"  sources: [{sourced}]",
    ]


def with_block(text: str, entries: Sequence[Sequence[str]], heading: str) -> str:
    """Put what was learned into the text of a shelf, in place of what was learned before.

    Parameters
    ----------
    text : str
    entries : sequence of sequence of str
        The lines of each ingredient, from `own_lines`.
    heading : str
        Said after `# learned`.
    """
    old = _BLOCK.search(text)
    bare = text if old is None else text[: old.start()] + text[old.end() :]
    kept = [] if old is None else [f"{KEPT}{line}" for line in old[0].splitlines()]
    place = _INGREDIENTS.search(bare)
    has_others = place is not None
    body = [line for entry in entries for line in entry]
    if has_others and place is not None:
        lines = [f"{OPENING}{heading}", *kept, *body, CLOSING]
        block = "".join(f"  {line}\n" for line in lines)
        return bare[: place.end()] + block + bare[place.end() :]
    lines = [f"{OPENING}{heading}", *kept, "ingredients:", *(f"  {line}" for line in body), CLOSING]
    end = "" if bare.endswith("\n") else "\n"
    return bare + end + "".join(f"{line}\n" for line in lines)


def without_block(text: str) -> str | None:
    """Take out what was learned last, and bring back what it took the place of; None where nothing was."""
    found = _BLOCK.search(text)
    if found is None:
        return None
    before = [
        line.strip().removeprefix(KEPT.rstrip())[1:]
        for line in found["inner"].splitlines()
        if line.strip().startswith(KEPT.rstrip())
    ]
    return text[: found.start()] + "".join(f"{line}\n" for line in before) + text[found.end() :]
