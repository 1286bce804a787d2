"""What the law has to say of a drink, in words: limits broken and lifted, whose law counts, whose figures."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

import numpy as np

from formulate.bar.pantry import Pantry
from formulate.bar.permitted import Rules
from formulate.bar.plant_names import is_sold_ready, shown
from formulate.bar.restricted import content_rows, held, limited, uncounted
from formulate.bar.serve import Serve
from formulate.errors import FORBIDDING, Note
from formulate.files.bottle import Lifted
from formulate.files.cautions import caution_rules
from formulate.files.ingredient import Ingredient
from formulate.files.limit_rows import caps
from formulate.optimise.problem import Limit
from formulate.quantity.words import listed
from formulate.rules.law import law_of
from formulate.rules.records import CapRecord, CategoryRecord, LawRecord

__all__ = [
    "glass_law",
    "law_notes",
    "own_content_notes",
    "question_notes",
    "relied_on_note",
    "rule_notes",
    "shown_everywhere",
]

SHOWN_EVERYWHERE = FORBIDDING | frozenset(
    {
        "content_unknown",
        "limit_lifted",
        "no_jurisdiction",
        "own_content",
        "usual_serve",
    }
)


def law_notes(law: LawRecord, rules: Rules) -> list[Note]:
    """Say what is broken of the limits first, then what is lifted, then whose law counts."""
    tightest: dict[str, CapRecord] = {}
    for cap in law.over:
        tightest.setdefault(cap.substance, cap)
    notes = [_over(cap) for cap in tightest.values()]
    notes += [Note("too_weak", f"NOT ALLOWED: {text}. Do not serve it as it is.") for text in law.too_weak]
    notes += rule_notes(rules)
    if law.jurisdiction is None and law.caps:
        notes.append(_strictest())
    if not rules.serve_given and any(cap.unit == "mg per serve" for cap in law.caps):
        notes.append(
            Note(
                "usual_serve",
                f"A serve was taken as {law.serve_l * 1000:.0f} mL: add `serve: 30 mL` to the bottle file if "
                "yours is another.",
                "common practice",
            )
        )
    return notes


def shown_everywhere(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Pick what is said on every output, even where a recipe is only a part of it.

    Parameters
    ----------
    notes : sequence of Note
        Of a drink.
    """
    return tuple(note for note in notes if note.code in SHOWN_EVERYWHERE)


def rule_notes(rules: Rules) -> list[Note]:
    """Say which limits are lifted, by whom and why; on every output of the bottle."""
    return [
        Note(
            "limit_lifted",
            f"NOT KEPT: {row.substance}, {row.most_mg:g} {row.basis} ({row.id}), lifted by {lift.name} on "
            f"{lift.date}: {lift.reason}.",
            row.provenance,
        )
        for lift, row in ((lift, caps()[lift.limit]) for lift in rules.lifted)
    ]


def _over(cap: CapRecord) -> Note:
    by = listed([name for name, _ in cap.brought_by])
    lifting = ""
    if caps()[cap.rule].lift != "never":
        lifting = (
            f" {cap.says} Somebody may answer for it in the bottle file: `lifted: [{{limit: {cap.rule}, "
            "name: ..., reason: ..., date: ...}]`."
        )
    return Note(
        "over_limit",
        f"OVER THE LIMIT: {cap.substance} may come to {cap.value:.3g} {cap.unit} at worst, {cap.most:g} is "
        f"allowed ({', '.join(cap.jurisdiction)}); it comes from {by}. Do not serve it as it "
        "is: use less, make it again with `solve`, or have the lot measured and put the figure on the shelf."
        f"{lifting}",
        cap.provenance,
    )


def relied_on_note(
    law: LawRecord,
    names: Sequence[CategoryRecord],
    cautions: Sequence[Note],
    ingredients: Sequence[Ingredient],
) -> Note | None:
    """Say how many of the rules behind an answer somebody held against their source; None for no rule.

    Parameters
    ----------
    names : sequence of CategoryRecord
        Those that fit count.
    ingredients : sequence of Ingredient
        What is used, out of a pantry: what it holds at worst is a rule too.
    """
    rules = caution_rules()
    codes = [note.code.replace("_", "-") for note in cautions]
    known = [row for one in ingredients if limited(one) for row in content_rows([one])]
    verified = [
        *(cap.verified for cap in law.caps),
        *(name.verified for name in names if name.fits),
        *(rules[code].verified for code in codes if code in rules),
        *(row.verified for row in {row.id: row for row in known}.values()),
    ]
    if not verified:
        return None
    text = (
        f"Of the {len(verified)} rules behind this answer {sum(verified) or 'none'} "
        f"{'was' if sum(verified) == 1 else 'were'} held against a published source: `formulate standards`."
    )
    return Note("relied_on", text)


def own_content_notes(pantry: Pantry, used: Sequence[str], strength_pct_vol: float = np.inf) -> list[Note]:
    """Say where the bar's own figure took the place of the worst case, and what nobody can count.

    What is inside a house-made thing counts, to any depth.

    Parameters
    ----------
    used : sequence of str
        Ids in the recipe.
    strength_pct_vol : float
        Of the drink: some substances are limited in weak ones only.
    """
    counts = frozenset(
        name
        for row in caps().rows
        if row.holds_between(strength_pct_vol, strength_pct_vol)
        for name in row.counts
    )
    notes = []
    for name in dict.fromkeys(used):
        if pantry.shelf is None or name not in pantry.shelf.house_made:
            notes += _own_content(pantry, name, counts)
            continue
        batch = pantry.made(name).batch
        inside = [ingredient.id for ingredient, _ in batch.holdings()]
        notes += own_content_notes(batch.pantry, inside, strength_pct_vol)
    return list(dict.fromkeys(notes))


def _own_content(pantry: Pantry, name: str, counts: Collection[str]) -> list[Note]:
    shelf = pantry.shelf
    ingredient = pantry.library.get(name) if shelf is None else shelf.ingredient(name, pantry.library)
    notes = []
    if is_sold_ready(ingredient) and not held(ingredient):
        text = (
            f"What {name} holds of thujone, quinine and the like is not known and not counted: it is taken "
            "to be lawful as sold."
        )
        several = "{about} may hold thujone or quinine: not known, not counted."
        short = several.format(about=name)
        notes.append(Note("content_unknown", text, short=short, about=(name,), of_several=several))
    if shelf is None or name not in shelf.ingredients:
        return notes
    if unknown := uncounted(pantry.unaged(name), counts):
        text = f"What {name} holds of {listed(unknown)} is not known and not counted. Have it measured."
        notes.append(Note("content_unknown", text))
    worst = {row.substance: row.worst_g_kg for row in content_rows([ingredient])}
    given = [source.source for source in ingredient.sources if "restricted" in source.figures]
    for substance, content in shelf.ingredients[name].restricted.items():
        instead = f" instead of the worst case of {worst[substance]:g}" if substance in worst else ""
        what = f"{content:g} mg/g {shown(substance)} in {name}"
        text = f"Your own figure of {what} was counted{instead}."
        notes.append(Note("own_content", text, "; ".join(given)))
    return notes


def question_notes(rules: Rules, limits: Sequence[Limit]) -> list[Note]:
    """Say what is lifted and whose law counts where no single drink is told of.

    Parameters
    ----------
    limits : sequence of Limit
        Of the question.
    """
    restricted = [limit.rule for limit in limits if limit.rule]
    strictest = [_strictest()] if restricted and rules.jurisdiction is None else []
    return [*rule_notes(rules), *strictest]


def _strictest() -> Note:
    return Note(
        "no_jurisdiction",
        "No file says whose law counts, so the strictest of the EU, the US and the UK applies. Add "
        "`jurisdiction: EU` (or US, UK) to the shelf or the bottle file.",
    )


def glass_law(serve: Serve) -> tuple[LawRecord, list[Note]]:
    """Hold the drink in the glass against the limits on restricted substances; the glass is the serve.

    A limit that a house bottle lifts stays lifted as long as everything else in the glass keeps it.

    Returns
    -------
    list of Note
        What is broken, then what is lifted and in which bottle, then whose law counts.
    """
    shelf = serve.pantry.shelf
    glass = serve.glass
    lifts = {
        ingredient.id: list(dict.fromkeys(_lifted(ingredient.id, serve.pantry)))
        for ingredient, _ in glass.holdings()
    }
    every = dict.fromkeys(lift for lifted in lifts.values() for lift in lifted)
    rules = Rules(None if shelf is None else shelf.jurisdiction, glass.volume_l, True, tuple(every))
    law = law_of(glass, rules)
    law = replace(law, caps=tuple(_lifted_where_said(cap, lifts) for cap in law.caps))
    unlifted = replace(rules, lifted=())
    return law, [*law_notes(law, unlifted), *_lifted_notes(unlifted, lifts)]


def _lifted(name: str, pantry: Pantry) -> Iterator[Lifted]:
    """List what the file of a house-made thing lifts, and those of what is in it."""
    if pantry.shelf is None or name not in pantry.shelf.house_made:
        return
    batch = pantry.made(name).batch
    yield from batch.rules.lifted
    for ingredient, _ in batch.holdings():
        yield from _lifted(ingredient.id, batch.pantry)


def _lifted_where_said(cap: CapRecord, lifts: dict[str, list[Lifted]]) -> CapRecord:
    """Keep a limit that is over by what no bottle lifts it for."""
    lifting = {name for name, lifted in lifts.items() if any(lift.limit == cap.rule for lift in lifted)}
    rest = cap.value * sum(share for name, share in cap.brought_by if name not in lifting)
    return cap if rest <= cap.most else replace(cap, lifted=None)


def _lifted_notes(rules: Rules, lifts: dict[str, list[Lifted]]) -> Sequence[Note]:
    return [
        replace(note, text=f"In {name}: {note.text}")
        for name, lifted in lifts.items()
        for note in rule_notes(replace(rules, lifted=tuple(lifted)))
    ]
