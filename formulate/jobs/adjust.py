"""`adjust`: the least that brings a batch onto its aims, from what dissolves in it.

The batch is an ingredient of its own with an exact mass; what may be added are ordinary ingredients
in one step without straining. The optimiser counts per litre, so its answer is held against a
question of its own: is there any addition smaller by a thousandth? Only a proved no lets the
answer be called the least.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formulate.bar.opening import open_pantry
from formulate.bar.pantry import UnknownMassError
from formulate.bar.vessels import FillRecord
from formulate.blend.profile import profile
from formulate.describe.adjust_record import Addition, Adjustment, Aim, CardRow
from formulate.describe.telling import bar_measure
from formulate.describe.vessels import fitting_notes, tight_notes, too_large
from formulate.errors import InfeasibleError, Note
from formulate.files.bottle import load_bottle
from formulate.files.ingredient import Ingredient
from formulate.formulation.bottle import Formulation, formulate_bottle
from formulate.jobs.adjusting.care import adjusted_cautions
from formulate.jobs.adjusting.question import OTHER, STEP, Question, counted_candidates, question_of, staples
from formulate.learn.lot import Lot
from formulate.optimise.answer import Answer
from formulate.optimise.diagnose import ClashMember, explain
from formulate.optimise.problem import BlendProblem, Limit, limit_value
from formulate.optimise.smaller import smaller_addition
from formulate.optimise.solve import solve
from formulate.rules.standing import at_a_limit, law_notes, law_of, own_content_notes, rule_notes

__all__ = ["adjust_lot", "card_rows", "open_bottle"]

FloatArray = NDArray[np.float64]

SMALLER = 1e-3
"""Share by which a smaller addition is looked for, and proved not to be there."""

MOST_TRIES = 8
LEAST_KG_L = 1e-7
"""An addition below a tenth of a milligram per litre is none."""

STRENGTH_STEPS = (-1.5, -0.75, 0.0, 0.75, 1.5)
SUGAR_STEPS = (-20.0, 0.0, 20.0)


def open_bottle(path: Path, today: date | None = None) -> Formulation:
    """Read the bottle file whose targets a batch shall meet.

    Raises
    ------
    SpecError
        If a file is wrong.
    """
    bottle = load_bottle(path)
    return formulate_bottle(bottle, open_pantry(bottle.shelf_path, bottle.places, today=today))


def adjust_lot(
    lot: Lot,
    aims: Formulation,
    *,
    also: Sequence[str] = (),
    other: Lot | None = None,
    cheapest: bool = False,
    room_l: float | None = None,
) -> Adjustment:
    """Find the least to add.

    Parameters
    ----------
    lot : Lot
    aims : Formulation
        Of the bottle file.
    also : sequence of str
        Ids that may be added besides the bottle's own list and water.
    other : Lot, optional
        Another batch that may be blended in, as far as it goes.
    cheapest : bool
        Least cost instead of least mass.
    room_l : float, optional
        How much there may be in the end.

    Returns
    -------
    Adjustment

    Raises
    ------
    SpecError
        If an id is unknown, does not dissolve wholly, or has no price where one is needed.
    """
    candidates, left_out = counted_candidates(aims, also, lot, other)
    found = _put_right(lot, aims, candidates, staples(aims.pantry), other, cheapest, room_l)
    there = [note for one in (lot, other) if one is not None for note in one.content_notes]
    notes = [*there, *left_out, *_unknown_notes(found.question, lot)]
    if found.masses is None:
        return _impossible(lot, other, aims, found.question, cheapest, notes)
    if found.beyond:
        notes.append(
            Note(
                "beyond_the_list",
                "What dissolves on the bottle's own list does not do; plain things from the shelf help out.",
            )
        )
    status = "adjusted" if found.needed else "nothing"
    return _record(
        lot, other, aims, found.question, found.masses, status, cheapest, proved=found.proved, notes=notes
    )


def card_rows(
    lot: Lot,
    aims: Formulation,
    *,
    also: Sequence[str] = (),
    other: Lot | None = None,
    cheapest: bool = False,
    room_l: float | None = None,
) -> tuple[CardRow, ...]:
    """Work out the table of a prep card: this much drink, other readings of strength and sugar.

    Parameters
    ----------
    lot, aims, also, other, cheapest, room_l
        As for `adjust_lot`, whose answer every row is.

    Returns
    -------
    tuple of CardRow
        Around the lot's own figures, by strength, then sugar.
    """
    candidates, _ = counted_candidates(aims, also, lot, other)
    wider = staples(aims.pantry)
    base = round(lot.strength_pct_vol * 4.0) / 4.0
    sweet = round(lot.sugar_g_l / 5.0) * 5.0
    sugars = SUGAR_STEPS if aims.bottle.targets.sugar is not None else (0.0,)
    rows = []
    for strength in (base + step for step in STRENGTH_STEPS):
        for sugar in (sweet + step for step in sugars):
            if strength < 0.0 or sugar < 0.0:
                continue
            read = lot.reading(strength, sugar)
            found = _put_right(read, aims, candidates, wider, other, cheapest, room_l)
            why = _in_the_way(found, read) if found.masses is None else ""
            rows.append(CardRow(strength, sugar, _added(found, lot), why))
    return tuple(rows)


def _in_the_way(found: _Found, lot: Lot) -> str:
    """Name what is off and adding does not mend, or what would leave its limit for it."""
    here = {
        limit.origin.name: value * limit.display
        for limit, value in _values(found.question.problem, _now(found.question, lot))
    }
    parts = []
    for member in explain(found.question.problem).clash:
        if not member.limit.is_target:
            if member.limit.origin.name == "room":
                parts.append("no room for more")
            continue
        name = member.limit.origin.name
        is_off = here[name] < member.bound if member.is_lower else here[name] > member.bound
        way = "little" if member.is_lower else "much"
        parts.append(f"too {way} {name}" if is_off else f"{name} would leave its aim")
    return ", ".join(dict.fromkeys(parts))


def _added(found: _Found, lot: Lot) -> tuple[tuple[str, float], ...] | None:
    if found.masses is None:
        return None
    return tuple(
        (ingredient.id, float(mass))
        for ingredient, mass in zip(found.question.ingredients[1:], found.masses[1:], strict=True)
        if mass > LEAST_KG_L * lot.volume_l
    )


@dataclass(frozen=True)
class _Found:
    """What brings a lot onto its aims: `masses` are None where adding does not help, proved."""

    question: Question
    masses: FloatArray | None
    proved: bool = True
    needed: bool = True
    beyond: bool = False


def _put_right(
    lot: Lot,
    aims: Formulation,
    candidates: Sequence[Ingredient],
    wider: Sequence[Ingredient],
    other: Lot | None,
    cheapest: bool,
    room_l: float | None,
) -> _Found:
    """Look for the least of the candidates; where they do not do, of the plain things on the shelf too."""
    question = question_of(lot, aims, candidates, other, cheapest, room_l)
    here = _now(question, lot)
    if all(limit.slip(value) <= 1e-9 * limit.scale for limit, value in _values(question.problem, here)):
        return _Found(question, here, needed=False)
    try:
        return _Found(question, *_least(question))
    except InfeasibleError:
        more = [one for one in wider if one.id not in {known.id for known in candidates}]
        if not more:
            return _Found(question, None)
    question = question_of(lot, aims, [*candidates, *more], other, cheapest, room_l)
    try:
        return _Found(question, *_least(question), beyond=True)
    except InfeasibleError:
        return _Found(question, None)


# --- the least ----------------------------------------------------------------------------------------


def _least(question: Question) -> tuple[FloatArray, bool]:
    """Find the addition of the least weight, and whether it was proved to be that.

    Raises
    ------
    InfeasibleError
        When adding does not help, proved.
    """
    answer = solve(question.problem)
    masses, volume = _scaled(answer), float(answer.volume_l)
    for _ in range(MOST_TRIES):
        if float(question.weights @ masses) <= LEAST_KG_L * masses[0]:
            return masses, True
        found, proved = smaller_addition(question.problem, question.weights, masses, volume, SMALLER)
        if found is None:
            return masses, proved
        masses = found
        run = question.problem.chain.run(masses[None, :])
        volume = float(profile(run.bottled, question.problem.chain.materials).volume_l)
    return masses, False


def _scaled(answer: Answer) -> FloatArray:
    masses: FloatArray = answer.masses_kg.sum(axis=0)
    return masses


def _now(question: Question, lot: Lot) -> FloatArray:
    masses = np.zeros(len(question.ingredients))
    masses[0] = lot.mass_kg
    return masses


def _values(problem: BlendProblem, masses: FloatArray) -> list[tuple[Limit, float]]:
    """Return the targets and what a mixture makes of them, per litre, by the forward model."""
    run = problem.chain.run(masses[None, :])
    drink = profile(run.bottled, problem.chain.materials)
    size = float(drink.volume_l)
    return [
        (limit, limit_value(limit, run.bottled / size, masses / size, 1.0 / size, 0.0))
        for limit in problem.limits
        if limit.is_target
    ]


# --- the record ---------------------------------------------------------------------------------------


def _record(
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
    problem = question.problem
    bottled = problem.chain.run(masses[None, :]).bottled
    drink = profile(bottled, problem.chain.materials)
    law = law_of(aims.rules, problem.chain.materials, masses, bottled, float(drink.volume_l))
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
                measure="" if ingredient.id in near else bar_measure(ingredient, float(mass), aims.pantry),
                cost=None if price is None else price * float(mass),
                no_more=ingredient.id in near,
            )
        )
    cautions, unknown = adjusted_cautions(lot, other, aims, question, masses)
    added = [one.ingredient for one in additions if one.ingredient != OTHER]
    told = dict.fromkeys((*own_content_notes(aims.pantry, added), *notes))
    found = [*law_notes(law, aims.rules), *told, *unknown]
    if sum(one.mass_kg for one in additions) > lot.mass_kg:
        found.append(
            Note("much_added", "More is added than there is: consider the batch a part of a new one.")
        )
    fill = FillRecord(STEP, lot.vessel, float(drink.volume_l), lot.holds_l) if lot.vessel else None
    if additions and fill is not None:
        found += [*tight_notes(fill, aims.pantry, "In all it"), *fitting_notes([fill], "In all it")]
    elif additions:
        found += too_large("The batch", float(drink.volume_l), aims.pantry)
    return Adjustment(
        name=lot.name,
        bottle=aims.bottle.name,
        status=status,
        mass_kg=lot.mass_kg,
        volume_l=lot.volume_l,
        additions=tuple(additions),
        drink=drink,
        aims=_aims(question, lot, masses),
        by_cost=cheapest,
        proved=proved,
        clash=(),
        currency=aims.pantry.currency,
        notes=tuple(found),
        unknown=_unknown(question, lot),
        law=law,
        cautions=cautions,
        fill=fill if additions else None,
    )


def _impossible(
    lot: Lot, other: Lot | None, aims: Formulation, question: Question, cheapest: bool, notes: Sequence[Note]
) -> Adjustment:
    # Nothing is added, but the batch is there, and the card may mend another reading of it.
    cautions, unknown = adjusted_cautions(lot, other, aims, question, _now(question, lot))
    clash = explain(question.problem).clash
    before = {
        limit.origin.name: value * limit.display
        for limit, value in _values(question.problem, _now(question, lot))
    }
    found = [*rule_notes(aims.rules)]
    found += [_what_the_law_asks(member.limit) for member in clash if member.limit.rule]
    found += [*(_what_helps(member, before) for member in clash if member.limit.is_target), *notes, *unknown]
    return Adjustment(
        name=lot.name,
        bottle=aims.bottle.name,
        status="impossible",
        mass_kg=lot.mass_kg,
        volume_l=lot.volume_l,
        additions=(),
        drink=None,
        aims=_aims(question, lot, _now(question, lot)),
        by_cost=cheapest,
        proved=True,
        clash=clash,
        currency=aims.pantry.currency,
        notes=tuple(dict.fromkeys(found)),
        unknown=_unknown(question, lot),
        cautions=cautions,
    )


def _what_the_law_asks(limit: Limit) -> Note:
    return Note(
        "over_limit",
        f"{limit.origin.name}: {limit.origin.text}. Only thinning lowers it, and that does not fit the other "
        "aims or the room there is. Do not serve it as it is; blend it with a batch that has none.",
    )


def _what_helps(member: ClashMember, before: dict[str, float]) -> Note:
    """Say what would help where adding does not: the one side of one target."""
    name = member.limit.origin.name
    is_off = before[name] < member.bound if member.is_lower else before[name] > member.bound
    if not is_off:
        text = f"{name} would leave its limit if the rest were put right: let it move, or blend."
    elif member.is_lower and name == "strength":
        text = "Too weak for what there is to add: name a stronger spirit (--with), or blend."
    elif member.is_lower:
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


def _aims(question: Question, lot: Lot, masses: FloatArray) -> tuple[Aim, ...]:
    before = _values(question.problem, _now(question, lot))
    after = _values(question.problem, masses)
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
    never_said = (name for name in ("acid", "bitterness") if not lot.knows(name))
    return tuple(dict.fromkeys((*question.unknown, *never_said)))


def _how_to_tell(question: Question) -> str:
    """Say how what is not known of a batch could be given."""
    return ", or titrate it and give the acid (--acid, or `acid:` in the reading file)" * (
        "acid" in question.unknown
    )


def _unknown_notes(question: Question, lot: Lot) -> list[Note]:
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
