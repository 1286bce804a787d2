"""A batch that was put right, or cannot be, as a record: what is added, what helps, what asks care."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import UnknownMassError
from formulate.bar.vessels import FillRecord
from formulate.blend.batch import Batch
from formulate.describe.adjust_record import Addition, Adjustment, Aim
from formulate.describe.doses import unusual_dose_notes
from formulate.describe.recipe_lines import bar_measure
from formulate.describe.records import BarMeasure
from formulate.describe.vessels import fitting_notes, tight_notes, too_large
from formulate.errors import Note
from formulate.files.measures import ACID, BITTERNESS, STRENGTH, SUGAR
from formulate.formulation.bottle import Formulation
from formulate.learn.lot import Lot
from formulate.learn.putting_right import (
    LEAST_KG_L,
    OTHER,
    STEP,
    THIS,
    Question,
    Remedy,
    nothing_added,
    target_values,
)
from formulate.optimise.diagnose import explain, is_possible
from formulate.optimise.problem import Limit
from formulate.quantity.words import listed
from formulate.rules.cautions import batch_cautions
from formulate.rules.contents import Content, contents_of
from formulate.rules.law import at_a_limit, law_of
from formulate.rules.law_notes import law_notes, own_content_notes, rule_notes

__all__ = [
    "adjusted_cautions",
    "adjusted_record",
    "doubt_note",
    "impossible_record",
    "left_notes",
    "unknown_notes",
]

FloatArray = NDArray[np.float64]

THE_BATCH = "the batch"
THINNED = 0.05
"""From such a share on somebody tastes or sees that a drink is thinner (from memory)."""


def adjusted_cautions(
    lot: Lot, other: Lot | None, aims: Formulation, batch: Batch
) -> tuple[tuple[Note, ...], tuple[Note, ...]]:
    """Gather what to take care of once the batch is put right.

    Parameters
    ----------
    other : Lot or None
        Another batch that may be blended in.
    aims : Formulation
        Of the bottle file; what it lists counts where nobody said what went into a batch.
    batch : Batch
        Put right.

    Returns
    -------
    notes : tuple of Note
        That the bottle's list was taken, where it was.
    """
    held = [ingredient.id for ingredient, _ in batch.holdings()]
    lots = [lot, *([other] if other is not None and OTHER in held else [])]
    added = [name for name in held if name not in (THIS, OTHER)]
    contents = [*contents_of(batch.ingredients, added, aims.pantry)]
    for blended in lots:
        contents += [
            replace(content, inside=content.inside or THE_BATCH)
            for content in _contents_of_batch(blended, aims)
        ]
    unknown = any(blended.contents is None for blended in lots)
    note = Note(
        "contents_unknown",
        "What went into the batch is not said: for allergens and guests all that the bottle file lists was "
        "counted. Give a jar or recipe file.",
    )
    return batch_cautions(batch, tuple(dict.fromkeys(contents))), (note,) if unknown else ()


def _contents_of_batch(lot: Lot, aims: Formulation) -> tuple[Content, ...]:
    """List what is in a batch: what went in, else all that the bottle lists and what its name says."""
    if lot.contents is not None:
        return lot.contents
    listed = contents_of(aims.ingredients, [ingredient.id for ingredient in aims.ingredients], aims.pantry)
    called = contents_of([lot.as_ingredient(THIS)], [THIS], aims.pantry)
    return (*listed, *(replace(content, id=lot.name) for content in called))


def adjusted_record(
    lot: Lot,
    other: Lot | None,
    aims: Formulation,
    question: Question,
    masses: FloatArray,
    status: str,
    cheapest: bool,
    *,
    proved: bool,
    notes: Sequence[Note],
) -> Adjustment:
    """Describe a batch that was put right.

    Parameters
    ----------
    other : Lot or None
        Another batch that may be blended in.
    masses : ndarray
        Kilograms of each ingredient of the question.
    status : str
        ``adjusted``, or ``nothing`` where nothing need be added.
    cheapest : bool
        Whether least cost was asked for.
    proved : bool
        Whether no smaller addition exists.
    """
    batch = question.batch(masses)
    law = law_of(batch, aims.rules)
    additions, near = [], at_a_limit(law)
    for ingredient, mass in zip(question.ingredients[1:], masses[1:], strict=True):
        if mass <= LEAST_KG_L * lot.volume_l:
            continue
        is_other = ingredient.id == OTHER
        try:
            price = None if is_other else aims.pantry.price_per_kg(ingredient)
        except UnknownMassError:
            price = None
        additions.append(
            Addition(
                ingredient=ingredient.id,
                name=ingredient.name,
                mass_kg=float(mass),
                measure=BarMeasure()
                if ingredient.id in near
                else bar_measure(ingredient, float(mass), aims.pantry),
                cost=None if price is None else price * float(mass),
                no_more=ingredient.id in near,
            )
        )
    cautions, unknown = adjusted_cautions(lot, other, aims, batch)
    added = [addition.ingredient for addition in additions if addition.ingredient != OTHER]
    once = dict.fromkeys((*own_content_notes(aims.pantry, added), *notes))
    all_notes = [*law_notes(law, aims.rules), *once, *unknown]
    all_notes += thinned_notes(question, lot, batch) if additions else []
    all_notes += unusual_dose_notes(batch, aims.bottle.kind, added=True)
    if sum(addition.mass_kg for addition in additions) > lot.mass_kg:
        all_notes.append(
            Note("much_added", "More is added than there is: consider the batch a part of a new one.")
        )
    fill = FillRecord(STEP, lot.vessel, batch.volume_l, lot.holds_l) if lot.vessel else None
    if additions and fill is not None:
        all_notes += [*tight_notes(fill, aims.pantry, "In all it"), *fitting_notes([fill], "In all it")]
    elif additions:
        all_notes += too_large("The batch", batch.volume_l, aims.pantry)
    return Adjustment(
        name=lot.name,
        bottle=aims.bottle.name,
        status=status,
        mass_kg=lot.mass_kg,
        volume_l=lot.volume_l,
        additions=tuple(additions),
        drink=batch.drink,
        aims=_aims(question, lot, masses),
        by_cost=cheapest,
        proved=proved,
        clash=(),
        currency=aims.pantry.currency,
        notes=tuple(all_notes),
        unknown=_unknown(question, lot),
        law=law,
        cautions=cautions,
        fill=fill if additions else None,
    )


def impossible_record(
    lot: Lot, other: Lot | None, aims: Formulation, question: Question, cheapest: bool, notes: Sequence[Note]
) -> Adjustment:
    """Describe a batch that nothing that may be added brings onto its aims; see `adjusted_record`."""
    # Nothing is added, but the batch is there, and the card may mend another reading of it.
    cautions, unknown = adjusted_cautions(lot, other, aims, question.batch(nothing_added(question, lot)))
    clash = explain(question.problem).clash
    before = {
        limit.origin.name: value * limit.display
        for limit, value in target_values(question.problem, nothing_added(question, lot))
    }
    all_notes = [*rule_notes(aims.rules)]
    all_notes += [_what_the_law_asks(member.limit) for member in clash if member.limit.rule]
    all_notes += [
        *(
            _what_helps(member.limit, before[member.limit.origin.name], question, is_lower=member.is_lower)
            for member in clash
            if member.limit.is_target
        ),
        *notes,
        *unknown,
    ]
    return Adjustment(
        name=lot.name,
        bottle=aims.bottle.name,
        status="impossible",
        mass_kg=lot.mass_kg,
        volume_l=lot.volume_l,
        additions=(),
        drink=None,
        aims=_aims(question, lot, nothing_added(question, lot)),
        by_cost=cheapest,
        proved=True,
        clash=clash,
        currency=aims.pantry.currency,
        notes=tuple(dict.fromkeys(all_notes)),
        unknown=_unknown(question, lot),
        cautions=cautions,
    )


def _what_the_law_asks(limit: Limit) -> Note:
    return Note(
        "over_limit",
        f"{limit.origin.name}: {limit.origin.text}. Only thinning lowers it, and that does not fit the other "
        "aims or the room there is. Do not serve it as it is; blend it with a batch that has none.",
    )


def _what_helps(limit: Limit, before: float, question: Question, *, is_lower: bool) -> Note:
    """Say what would help where adding does not: the one side of one target.

    What could be put right alone is not said to be beyond what may be added: another aim stands in its way.
    """
    name = limit.origin.name
    bound = (limit.lower if is_lower else limit.upper) * limit.display
    is_off = before < bound if is_lower else before > bound
    others = [one for one in question.problem.limits if one.is_target and one.origin.name != name]
    rest = {id(one) for one in others}
    alone = question.problem.asking([one for one in question.problem.limits if id(one) not in rest])
    if not is_off:
        text = f"{name} would leave its limit if the rest were put right: let it move, or blend."
    elif others and is_possible(alone):
        names = listed(tuple(dict.fromkeys(one.origin.name for one in others)))
        text = (
            f"{name} alone could be put right, but then not {names} as well. Give those more room in the "
            "bottle file, or add something that brings them too (--with, --blend-with)."
        )
    elif is_lower and name == STRENGTH:
        text = "Too weak for what there is to add: name a stronger spirit (--with), or blend."
    elif is_lower:
        text = (
            f"Too little {name}: nothing that may be added brings enough of it. Infuse again, add a tincture "
            "or syrup (--with), or blend with a batch that has more (--blend-with)."
        )
    else:
        text = (
            f"Too much {name}: only thinning lowers it, and that does not fit the other aims or the room "
            "there is. Take some out for another use, or blend with a batch that has less (--blend-with)."
        )
    return Note(f"helps_{name}", text)


def left_notes(remedy: Remedy, lot: Lot) -> list[Note]:
    """Say what adding does not mend, where it mends the rest, and what would."""
    question, notes = remedy.question, []
    for limit, value in target_values(question.problem, nothing_added(question, lot)):
        if limit.origin.name in remedy.left and limit.violation(value) > 0.0:
            is_lower = value < limit.lower
            note = _what_helps(limit, value * limit.display, question, is_lower=is_lower)
            notes.append(replace(note, code="not_mended"))
    return notes


def doubt_note(remedy: Remedy, lot: Lot) -> list[Note]:
    """Say that what is off is off by less than the reading tells."""
    if not remedy.within_doubt:
        return []
    told = {STRENGTH: f"{lot.doubt(STRENGTH):.1f} % vol", SUGAR: f"{lot.doubt(SUGAR):.0f} g/L"}
    how = listed([f"{name} to {told[name]}" for name in remedy.within_doubt if name in told])
    text = f"Off by less than your reading tells ({how}): nothing to add. Read again before you correct it."
    return [Note("within_doubt", text)]


def thinned_notes(question: Question, lot: Lot, batch: Batch) -> list[Note]:
    """Warn of what else an addition thins, where no aim holds it."""
    held = {limit.origin.measure for limit in question.problem.limits if limit.is_target}
    drink, thinner = batch.drink, 1.0 - lot.volume_l / batch.volume_l
    now = {ACID: float(drink.acid_g_l), BITTERNESS: float(drink.bitterness_value)}
    was = {ACID: lot.acid_g_l, BITTERNESS: lot.bitterness_value or 0.0}
    known = [
        f"{name} {was[name]:.{digits}f} to {now[name]:.{digits}f}{unit}"
        for name, digits, unit in ((ACID, 1, " g/L"), (BITTERNESS, 0, ""))
        if name not in held and lot.knows(name) and was[name] - now[name] > THINNED * was[name]
    ]
    unknown = [name for name in (ACID, BITTERNESS) if not lot.knows(name)]
    if lot.attributes_g_l is None or lot.attributes_g_l:
        unknown.append("colour")
    notes = []
    if known:
        notes.append(Note("thinned", f"It thins {listed(known)}: no aim holds that. Taste it."))
    if unknown and thinner > THINNED and OTHER not in [one.id for one, _ in batch.holdings()]:
        text = f"It thins {listed(unknown)} by {thinner * 100.0:.0f} %. Taste it, and look at it."
        notes.append(Note("thinned", text))
    return notes


def _aims(question: Question, lot: Lot, masses: FloatArray) -> tuple[Aim, ...]:
    before = target_values(question.problem, nothing_added(question, lot))
    after = target_values(question.problem, masses)
    return tuple(
        Aim(
            target=limit.origin.name,
            unit=limit.unit,
            lower=limit.lower * limit.display,
            upper=limit.upper * limit.display,
            before=value * limit.display,
            after=later * limit.display,
        )
        for (limit, value), (_, later) in zip(before, after, strict=True)
    )


def _unknown(question: Question, lot: Lot) -> tuple[str, ...]:
    never_said = (name for name in (ACID, BITTERNESS) if not lot.knows(name))
    return tuple(dict.fromkeys((*question.unknown, *never_said)))


def _how_to_tell(question: Question) -> str:
    """Say how what is not known of a batch could be given."""
    return ", or titrate it and give the acid (--acid, or `acid:` in the reading file)" * (
        ACID in question.unknown
    )


def unknown_notes(question: Question, lot: Lot) -> list[Note]:
    """Say what is not known of a batch, and how sure the rest is."""
    notes = []
    if question.unknown:
        names = " and ".join(question.unknown)
        here = "this batch" if not all(map(lot.knows, question.unknown)) else "the other batch"
        text = f"Of {names} nothing is known in {here}: not looked at. Taste it{_how_to_tell(question)}."
        notes.append(Note("unknown", text))
    if lot.source in ("figures", "reading"):
        acid = ", acid as citric acid" if lot.knows_acid else ""
        notes.append(Note("by_figures", f"The batch is taken by its figures: sugar as sucrose{acid}."))
    if lot.doubt_pct_vol:
        notes.append(
            Note(
                "add_in_parts",
                f"The reading tells strength to {lot.doubt_pct_vol:.1f} % vol only: add two thirds of this, "
                "stir, read again, then the rest.",
                "common practice",
            )
        )
    return notes
