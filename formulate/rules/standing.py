"""How near a drink comes to the limits on restricted substances, told beside every answer."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry
from formulate.bar.permitted import Rules
from formulate.bar.plant_names import is_sold_ready, shown
from formulate.bar.restricted import IN_SPIRIT, content_rows, held, uncounted
from formulate.blend.materials import LIQUOR, RESTRICTED, Materials
from formulate.errors import FORBIDDING, Note
from formulate.files.limit_rows import CapRow, caps
from formulate.optimise.problem import Limit
from formulate.physics.mixture import strength_pct_vol
from formulate.quantity.words import listed
from formulate.rules.caps import in_spirit_only, measure
from formulate.rules.records import CapRecord, LawRecord

__all__ = [
    "at_a_limit",
    "law_notes",
    "law_of",
    "own_content_notes",
    "question_notes",
    "rule_notes",
    "told_everywhere",
]

FloatArray = NDArray[np.float64]

AT_THE_CAP = 1e-4
"""A drink that comes this near to a limit, relative, stands at it."""

EVERYWHERE = FORBIDDING | frozenset(
    {
        "content_unknown",
        "limit_lifted",
        "no_jurisdiction",
        "own_content",
        "usual_serve",
    }
)

NEAR_A_CAP = 0.1
"""So near that rounding half a gram up could reach over it."""


def law_of(
    rules: Rules, materials: Materials, used_kg: FloatArray, bottled: FloatArray, volume_l: float
) -> LawRecord:
    """Hold a drink against every limit that counts for it.

    Parameters
    ----------
    rules : Rules
    materials : Materials
        n ingredients.
    used_kg : ndarray, shape (n,)
    bottled : ndarray, shape (carried,)
    volume_l : float
    """
    if not any(name.startswith(RESTRICTED) for name in materials.carried):
        return LawRecord(jurisdiction=rules.jurisdiction, serve_l=rules.serve_l)
    lifted = {one.limit: one for one in rules.lifted}
    strength = float(strength_pct_vol(bottled[:LIQUOR], check=False))
    too_weak = tuple(
        f"{listed(_marked(row.id, materials, used_kg))} may go into drinks of {row.least_pct_vol:g} % vol "
        f"and more only ({', '.join(row.jurisdiction)}: {row.provenance})"
        for row in in_spirit_only(rules, materials, used_kg)
        if strength < row.least_pct_vol
    )
    found = []
    for row in rules.counting:
        if not row.holds_between(strength, strength):
            continue
        value = measure(row, rules, materials, used_kg, bottled, volume_l)
        if not value > 0.0:
            continue
        found.append(
            CapRecord(
                rule=row.id,
                substance=row.substance,
                says=row.says,
                value=value,
                most=row.most_mg,
                unit=row.basis,
                binding=abs(value / row.most_mg - 1.0) <= AT_THE_CAP,
                over=value > row.most_mg,
                brought_by=_brought_by(row, materials, used_kg),
                jurisdiction=row.jurisdiction,
                provenance=row.provenance,
                source=str(caps().place(row.id)),
                verified=row.verified,
                lifted=lifted.get(row.id),
            )
        )
    found.sort(key=lambda cap: -cap.value / cap.most)
    return LawRecord(
        jurisdiction=rules.jurisdiction, serve_l=rules.serve_l, caps=tuple(found), too_weak=too_weak
    )


def _marked(rule: str, materials: Materials, used_kg: FloatArray) -> list[str]:
    column = materials.column(RESTRICTED + IN_SPIRIT + rule)
    return [materials.ids[index] for index in np.flatnonzero(used_kg * materials.content[:, column])]


def _brought_by(row: CapRow, materials: Materials, used_kg: FloatArray) -> tuple[tuple[str, float], ...]:
    columns = [
        materials.column(name) for one in row.counts if (name := RESTRICTED + one) in materials.carried
    ]
    parts = used_kg * materials.content[:, columns].sum(axis=1)
    shares = parts / parts.sum()
    order = np.argsort(-shares, kind="stable")
    return tuple((materials.ids[index], float(shares[index])) for index in order if shares[index] > 0.0)


def law_notes(law: LawRecord, rules: Rules) -> list[Note]:
    """Say what a person must know of the limits: what is broken first, then what is lifted, then whose law.

    Parameters
    ----------
    law : LawRecord
    rules : Rules
    """
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


def told_everywhere(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Pick what is said on every output, even where a recipe is only a part of it.

    Parameters
    ----------
    notes : sequence of Note
        Of a drink.
    """
    return tuple(note for note in notes if note.code in EVERYWHERE)


def at_a_limit(law: LawRecord) -> frozenset[str]:
    """Return what brings a substance that is near its limit: its figures are rounded down.

    A figure rounded to the nearest would lead a cook over the limit by half its last digit; a bar measure
    is coarser still.

    Parameters
    ----------
    law : LawRecord
    """
    near = (cap for cap in law.caps if cap.value > cap.most * (1.0 - NEAR_A_CAP))
    return frozenset(name for cap in near for name, _ in cap.brought_by)


def rule_notes(rules: Rules) -> list[Note]:
    """Say which limits are lifted, by whom and why; on every output of the bottle.

    Parameters
    ----------
    rules : Rules
    """
    known = caps()
    return [
        Note(
            "limit_lifted",
            f"NOT KEPT: {known[one.limit].substance}, {known[one.limit].most_mg:g} {known[one.limit].basis} "
            f"({one.limit}), lifted by {one.name} on {one.date}: {one.reason}.",
            known[one.limit].provenance,
        )
        for one in rules.lifted
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


def own_content_notes(pantry: Pantry, used: Sequence[str], strength_pct_vol: float = np.inf) -> list[Note]:
    """Say where the bar's own figure took the place of the worst case, and what nobody can count.

    What is inside a house-made thing counts, to any depth.

    Parameters
    ----------
    pantry : Pantry
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
        inside = [one.id for one, mass in zip(batch.ingredients, batch.used_kg, strict=True) if mass > 0.0]
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
        notes.append(Note("content_unknown", text))
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
    rules : Rules
    limits : sequence of Limit
        Of the question.
    """
    kept = [limit.rule for limit in limits if limit.rule]
    strictest = [_strictest()] if kept and rules.jurisdiction is None else []
    return [*rule_notes(rules), *strictest]


def _strictest() -> Note:
    return Note(
        "no_jurisdiction",
        "No file says whose law counts, so the strictest of the EU, the US and the UK applies. Add "
        "`jurisdiction: EU` (or US, UK) to the shelf or the bottle file.",
    )
