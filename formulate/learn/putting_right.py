"""The least that brings a batch onto its aims: what may be added, the question, and its answer.

The batch is an ingredient of its own with an exact mass; what may be added are ordinary ingredients
in one step without straining. The optimiser counts per litre, so its answer is held against a
question of its own: is there any addition smaller by a thousandth? Only a proved no lets the
answer be called the least.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.bar.permitted import refusal, strength_asked
from formulate.bar.restricted import limited
from formulate.blend.batch import Batch
from formulate.blend.chain import Chain, Step
from formulate.blend.materials import gather
from formulate.blend.profile import profile
from formulate.blend.steps import leaves_solids
from formulate.errors import (
    InfeasibleError,
    NotConvergedError,
    Note,
    SpecError,
    UnboundedError,
    VerificationError,
)
from formulate.files.ingredient import Ingredient
from formulate.files.steps import StepSpec
from formulate.formulation.bottle import Formulation
from formulate.formulation.caps import ADJUSTED_BELOW, cap_limits
from formulate.learn.lot import Lot
from formulate.optimise.answer import Answer
from formulate.optimise.least_change import smaller_addition
from formulate.optimise.problem import BlendProblem, Limit, Origin, Over, limit_value
from formulate.optimise.solve import solve
from formulate.optimise.tolerances import HELD_TO, ROUNDING
from formulate.quantity.words import listed

__all__ = [
    "LEAST_KG_L",
    "OTHER",
    "STEP",
    "THIS",
    "Question",
    "Remedy",
    "candidates_of",
    "counted_candidates",
    "nothing_added",
    "put_right",
    "question_of",
    "staples",
    "target_values",
]

FloatArray = NDArray[np.float64]

THIS, OTHER = "this-batch", "other-batch"
STEP = "adjust"
PLAIN_SPIRITS = ("vodka", "neutral-spirit", "spirit-", "overproof-spirit")
NEARLY_PURE = 0.95


SMALLER = 1e-3
"""Share by which a smaller addition is looked for, and proved not to be there."""
MOST_TRIES = 8
LEAST_KG_L = 1e-7
"""An addition below a tenth of a milligram per litre is none."""


@dataclass(frozen=True)
class Question:
    """The blend problem of an adjustment with what belongs to it."""

    problem: BlendProblem
    ingredients: tuple[Ingredient, ...]
    weights: FloatArray
    unknown: tuple[str, ...]
    """Targets not looked at, because what the batch has of them is not known."""

    def batch(self, masses_kg: FloatArray) -> Batch:
        """Return what the ingredients make in such masses, shape (n,): stirred together, nothing steeped."""
        chain = self.problem.chain
        specs = tuple(StepSpec(name=step.name, strain=False) for step in chain.steps)
        return Batch(self.ingredients, specs, chain, masses_kg[None, :])


def candidates_of(aims: Formulation, also: Sequence[str]) -> list[Ingredient]:
    """List what may be added: the bottle's list as far as it dissolves, water, and what was named."""
    materials = aims.problem.chain.materials
    candidates = [
        ingredient
        for index, ingredient in enumerate(aims.ingredients)
        if not leaves_solids(ingredient, materials, index)
    ]
    for name in dict.fromkeys(("water", *also)):
        if name in {ingredient.id for ingredient in candidates}:
            continue
        ingredient = aims.pantry.ingredient(name)
        if leaves_solids(ingredient, gather([ingredient]), 0):
            message = f"{name} does not dissolve wholly: it cannot be stirred in. Infuse it in its own step."
            raise SpecError([aims.bottle.places.problem((), message)])
        _refuse(ingredient, aims)
        candidates.append(ingredient)
    return candidates


def counted_candidates(
    aims: Formulation, also: Sequence[str], lot: Lot, other: Lot | None
) -> tuple[list[Ingredient], list[Note]]:
    """Leave out what brings a restricted substance where the batch may hold some, nobody knows how much.

    Returns
    -------
    notes : list of Note
        What was left out, and what to give so that it counts.
    """
    candidates = candidates_of(aims, also)
    known = all(candidate is None or candidate.restricted_g_kg is not None for candidate in (lot, other))
    counted = [candidate for candidate in candidates if known or not limited(candidate)]
    if len(counted) == len(candidates):
        return counted, []
    names = listed([candidate.id for candidate in candidates if candidate not in counted])
    text = (
        f"{names} was left out: it brings a substance that the law limits, and what this batch holds of it "
        "already is not known. Give a jar or recipe file, so that all of it is counted."
    )
    return counted, [Note("restricted_unknown", text)]


def _refuse(ingredient: Ingredient, aims: Formulation) -> None:
    if message := refusal(ingredient, aims.rules):
        raise SpecError([aims.bottle.places.problem((), message)])


def staples(pantry: Pantry) -> list[Ingredient]:
    """List the plain spirits, sugars and acids on offer that bring nothing else; none past its time."""
    on_offer = []
    for name in pantry.shelf.offers if pantry.shelf else ():
        try:
            ingredient = pantry.ingredient(name)
        except SpecError:  # too old, or not known: `check` on the shelf tells of it, and nobody asked for it
            continue
        if ingredient.bitterness is not None or ingredient.attributes:
            continue
        pure = bool(ingredient.composition) and max(ingredient.composition.values()) >= NEARLY_PURE
        plain = ingredient.strength_pct_vol is not None and name.startswith(PLAIN_SPIRITS)
        if (pure or plain) and not leaves_solids(ingredient, gather([ingredient]), 0):
            on_offer.append(ingredient)
    return on_offer


def question_of(
    lot: Lot,
    aims: Formulation,
    candidates: Sequence[Ingredient],
    other: Lot | None,
    cheapest: bool,
    room_l: float | None,
) -> Question:
    """Ask for the least of the candidates that brings a lot onto its aims.

    Parameters
    ----------
    aims : Formulation
        Of the bottle file; its targets count, but for cost and for what the lot does not know.
    other : Lot or None
        Another batch, as far as it goes.
    cheapest : bool
        Weigh what is added by its price; else by its mass.
    room_l : float or None
        How much there may be in the end.

    Returns
    -------
    Question
        The lot is the first ingredient, another batch the last.

    Raises
    ------
    SpecError
        If a price is needed and missing, or a batch holds what is prohibited.
    """
    contents = aims.bottle.targets.contents
    extra = () if other is None else (other.as_ingredient(OTHER),)
    this = lot.as_ingredient(THIS)
    for ingredient in (this, *extra):
        _refuse(ingredient, aims)
    ingredients = (this, *candidates, *extra)
    weights = np.array(
        [
            0.0,
            *(_price(aims, ingredient) if cheapest else 1.0 for ingredient in candidates),
            *(0.0 for _ in extra),
        ]
    )
    if extra and not cheapest:
        weights[-1] = 1.0
    limits, unknown = [], []
    for limit in aims.problem.limits:
        if not limit.is_target or limit.over is not Over.BOTTLE:
            continue
        measure = limit.origin.measure
        if lot.knows(measure) and (other is None or other.knows(measure)):
            limits.append(limit)
        else:
            unknown.append(limit.origin.name)
    limits.append(_tied(0, lot.mass_kg, Origin("batch", "all of the batch"), exact=True))
    if other is not None:
        limits.append(_tied(len(ingredients) - 1, other.mass_kg, Origin("other batch", "as far as it goes")))
    if room_l is not None:
        limits.append(
            Limit(
                over=Over.MASSES,
                indices=np.zeros(0, dtype=np.int32),
                weights=np.zeros(0),
                lower=1.0 / room_l,
                upper=np.inf,
                origin=Origin("room", f"room for {room_l:.4g} L"),
                batch_weight=1.0,
                display=np.nan,
            )
        )
    count = len(ingredients)
    chain = Chain(gather(ingredients, contents), (Step(STEP, strains=False),))
    caps, disjunctions = cap_limits(aims.rules, chain, below=ADJUSTED_BELOW, strengths=strength_asked(limits))
    problem = BlendProblem(
        chain=chain,
        price_per_kg=weights,
        place_ingredient=np.arange(count, dtype=np.int32),
        place_step=np.zeros(count, dtype=np.int32),
        limits=(*limits, *caps),
        disjunctions=disjunctions,
        volume_l=None,
        size_origin=Origin("size", "all of the batch"),
    )
    return Question(problem, ingredients, weights, tuple(unknown))


def _tied(index: int, mass_kg: float, origin: Origin, *, exact: bool = False) -> Limit:
    """Limit an ingredient to so much per batch."""
    return Limit(
        over=Over.MASSES,
        indices=np.array([index], dtype=np.int32),
        weights=np.ones(1),
        lower=0.0 if exact else -np.inf,
        upper=0.0,
        origin=origin,
        batch_weight=-mass_kg,
        display=np.nan,
    )


def _price(aims: Formulation, ingredient: Ingredient) -> float:
    try:
        price = aims.pantry.price_per_kg(ingredient)
    except UnknownMassError as error:
        raise SpecError([aims.bottle.places.problem((), str(error))]) from error
    if price is None:
        raise SpecError([aims.bottle.places.problem((), aims.pantry.no_price_text(ingredient.id))])
    return price


@dataclass(frozen=True)
class Remedy:
    """What brings a batch onto its aims.

    Attributes
    ----------
    masses : ndarray or None
        None where adding does not help, which is proved.
    proved : bool
        Whether no smaller addition exists.
    needed : bool
        False where the batch is on its aims as it is.
    beyond_the_list : bool
        Whether plain things from the shelf were let in beside the bottle's own list.
    left : tuple of str
        Targets that adding does not mend, where it mends others.
    within_doubt : tuple of str
        Targets that are off by less than the reading tells, where none is off by more.
    """

    question: Question
    masses: FloatArray | None
    proved: bool = True
    needed: bool = True
    beyond_the_list: bool = False
    left: tuple[str, ...] = ()
    within_doubt: tuple[str, ...] = ()


def put_right(
    lot: Lot,
    aims: Formulation,
    candidates: Sequence[Ingredient],
    wider: Sequence[Ingredient],
    other: Lot | None,
    cheapest: bool,
    room_l: float | None,
) -> Remedy:
    """Look for the least of the candidates; where they do not do, of the plain things on the shelf too."""
    question = question_of(lot, aims, candidates, other, cheapest, room_l)
    unchanged = nothing_added(question, lot)
    off = [pair for pair in target_values(question.problem, unchanged) if _is_off(*pair)]
    if all(limit.violation(value) * limit.display <= lot.doubt(limit.origin.measure) for limit, value in off):
        names = tuple(limit.origin.name for limit, _ in off)
        return Remedy(question, unchanged, needed=False, within_doubt=names)
    try:
        return Remedy(question, *_least(question))
    except InfeasibleError:
        more = [ingredient for ingredient in wider if ingredient.id not in {known.id for known in candidates}]
        if not more:
            return _partly(question, lot)
    question = question_of(lot, aims, [*candidates, *more], other, cheapest, room_l)
    try:
        return Remedy(question, *_least(question), beyond_the_list=True)
    except InfeasibleError:
        return _partly(question, lot)


def _is_off(limit: Limit, value: float) -> bool:
    return limit.violation(value) > ROUNDING * limit.scale


def _partly(question: Question, lot: Lot) -> Remedy:
    """Mend what can be mended: what is met stays so, and what is not mended gets no worse, if that can be."""
    problem = question.problem
    here = {id(limit): value for limit, value in target_values(problem, nothing_added(question, lot))}
    off = [id(limit) for limit in problem.limits if id(limit) in here and _is_off(limit, here[id(limit)])]
    softened = [
        replace(limit, penalty=1.0 / limit.scale) if id(limit) in off else limit for limit in problem.limits
    ]
    try:
        nearest = solve(problem.asking(softened).for_free())
    except (InfeasibleError, NotConvergedError, UnboundedError, VerificationError):
        return Remedy(question, None)
    reached = dict(zip(map(id, problem.limits), nearest.limits, strict=True))
    left = [
        one for one in problem.limits if id(one) in off and _is_off(one, reached[id(one)].value / one.display)
    ]
    if len(left) == len(off):
        return Remedy(question, None)
    for reaches in (lambda limit: here[id(limit)], lambda limit: reached[id(limit)].value / limit.display):
        eased = [
            _eased(limit, reaches(limit)) if id(limit) in map(id, left) else limit for limit in problem.limits
        ]
        try:
            masses, proved = _least(replace(question, problem=problem.asking(eased)))
        except (InfeasibleError, NotConvergedError, UnboundedError, VerificationError):
            continue
        names = tuple(limit.origin.name for limit in left)
        return Remedy(question, masses, proved, beyond_the_list=False, left=names)
    return Remedy(question, None)


def _eased(limit: Limit, value: float) -> Limit:
    """Move a missed bound to what is reached, with a hair of room."""
    room = HELD_TO * limit.scale
    return replace(limit, lower=min(limit.lower, value - room), upper=max(limit.upper, value + room))


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
        less, proved = smaller_addition(question.problem, question.weights, masses, volume, SMALLER)
        if less is None:
            return masses, proved
        masses = less
        run = question.problem.chain.run(masses[None, :])
        volume = float(profile(run.bottled, question.problem.chain.materials).volume_l)
    return masses, False


def _scaled(answer: Answer) -> FloatArray:
    masses: FloatArray = answer.masses_kg.sum(axis=0)
    return masses


def nothing_added(question: Question, lot: Lot) -> FloatArray:
    """Return the masses of a question for the batch as it is."""
    masses = np.zeros(len(question.ingredients))
    masses[0] = lot.mass_kg
    return masses


def target_values(problem: BlendProblem, masses: FloatArray) -> list[tuple[Limit, float]]:
    """Return the targets and what a mixture makes of them, per litre, by the forward model."""
    run = problem.chain.run(masses[None, :])
    drink = profile(run.bottled, problem.chain.materials)
    size = float(drink.volume_l)
    return [
        (limit, limit_value(limit, run.bottled / size, masses / size, 1.0 / size, 0.0))
        for limit in problem.limits
        if limit.is_target
    ]
