"""`solve --weigh`: the recipe in steps the bar's balances can show, still in spec."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from formulate.bar.balances import DEFAULT_BALANCES, steps_kg
from formulate.describe.records import RecipeLineRecord
from formulate.describe.solved import SolvedBottle, solved_record
from formulate.errors import Note, RoundingError, SolveError
from formulate.files.shelf import Balance
from formulate.optimise.answer import Answer, LimitValue, Status, stands_at_bound
from formulate.optimise.mip.solve import at_size
from formulate.optimise.mip.weighing import (
    WeighedAnswer,
    off_limits,
    rounded_plainly,
    weigh,
    weighable_limits,
)
from formulate.optimise.solve import solve
from formulate.quantity.document import Result, computed
from formulate.quantity.words import listed

__all__ = ["CannotWeigh", "weigh_solved"]

FloatArray = NDArray[np.float64]

LARGER = (1.1, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 15.0, 20.0)


@dataclass(frozen=True)
class CannotWeigh(Result):
    """Why a recipe cannot be weighed in spec; carried by `RoundingError.explanation`.

    Attributes
    ----------
    name : str
        Of the bottle.
    broken : tuple of str
        Limits that plain rounding misses.
    fits_l : float or None
        The smallest batch tried that can be weighed in spec.
    """

    status: str = field(default="cannot_weigh", init=False)
    name: str
    broken: tuple[str, ...]
    fits_l: float | None

    @property
    @computed(after="fits_l")
    def message(self) -> str:
        """The same in words."""
        return str(self)

    def __str__(self) -> str:
        missed = ", ".join(self.broken) or "the size of the batch"
        text = f"These balances cannot weigh this batch in spec; rounding misses {missed}."
        if self.fits_l is None:
            return f"{text} Widen a target, or add a finer balance to the shelf."
        return f"{text} A batch of {self.fits_l:.3g} L can be weighed; or add a finer balance to the shelf."


def weigh_solved(solved: SolvedBottle) -> SolvedBottle:
    """Round a solved bottle to weighing steps.

    Returns
    -------
    SolvedBottle
        The proven gap compares the rounded recipe with the cheapest unrounded one.

    Raises
    ------
    RoundingError
        With a `CannotWeigh`.
    """
    shelf = solved.formulation.pantry.shelf
    balances = shelf.balances if shelf else ()
    answer = solved.answer
    step_kg = _steps(answer, balances)
    weighed = weigh(answer, step_kg)
    if weighed is None:
        plain = rounded_plainly(answer, step_kg)
        broken = tuple(limit.origin.name for limit in off_limits(weighable_limits(answer, step_kg), plain))
        raise RoundingError(CannotWeigh(solved.record.name, broken, _smallest_that_fits(answer, balances)))
    rounded = _as_answer(answer, weighed)
    record = solved_record(solved.formulation, rounded)
    finest = min(step_kg) * 1000.0
    aimed = [note for note in solved.record.notes if note.code == "in_the_middle"]
    carries = max(balance.up_to_kg for balance in balances or DEFAULT_BALANCES)
    record = replace(record, recipe=_with_running_totals(record.recipe, carries))
    note = Note(
        "weighed",
        f"Rounded to what the balances show ({finest:g} g at the finest) and checked again after rounding; "
        f"{_size_text(rounded.volume_l - answer.volume_l)}.",
    )
    return replace(
        solved,
        record=replace(record, notes=(note, *_too_heavy(record.recipe, carries), *aimed, *record.notes)),
        answer=rounded,
    )


def _size_text(over_l: float) -> str:
    over_ml = round(1000.0 * over_l)
    if over_ml > 0:
        return f"{over_ml} mL over the size asked"
    # Less comes out only where the size was not asked for in litres.
    return "the size is as before" if over_ml == 0 else f"{-over_ml} mL less than before"


def _with_running_totals(
    lines: Sequence[RecipeLineRecord], carries_kg: float
) -> tuple[RecipeLineRecord, ...]:
    """Add what one scale shows after each line, from nothing again at each step, while it carries it."""
    totals: dict[str, float] = {}
    added = []
    for line in lines:
        totals[line.step] = total = totals.get(line.step, 0.0) + line.mass_kg
        added.append(replace(line, running_total_kg=total if total <= carries_kg * (1.0 + 1e-9) else None))
    return tuple(added)


def _too_heavy(lines: Sequence[RecipeLineRecord], carries_kg: float) -> list[Note]:
    """Say what has to be weighed in portions, and that no scale shows the total of a heavy vessel."""
    notes = []
    apart = []
    for line in lines:
        portions = math.ceil(line.mass_kg / carries_kg * (1.0 - 1e-9))
        if portions > 1:
            # Equal portions to the gram, so that a bowl may stand on the balance too; the last makes it up.
            each = math.ceil(line.mass_kg * 1000.0 / portions)
            rest = line.mass_kg * 1000.0 - (portions - 1) * each
            full = f"{portions - 1} x {each} g"
            apart.append(f"{line.ingredient} in {portions} portions ({full} and {rest:.0f} g)")
    if apart:
        text = f"Your largest balance carries {carries_kg:g} kg: weigh {listed(apart)}."
        notes.append(Note("portions", text))
    heavy = [line for line in lines if line.running_total_kg is None]
    if heavy:
        text = (
            "Where nothing stands under `on the scale` the vessel is too heavy for it by then: weigh apart."
        )
        if len(heavy) == len(lines):
            text = "Filled like this the vessel is too heavy for it: weigh each thing apart."
        notes.append(Note("too_heavy_a_vessel", text))
    return notes


def _steps(answer: Answer, balances: Sequence[Balance]) -> FloatArray:
    problem = answer.problem
    return steps_kg(answer.masses_kg[problem.place_step, problem.place_ingredient], balances)


def _as_answer(answer: Answer, weighed: WeighedAnswer) -> Answer:
    bound = answer.cost_per_l * (1.0 - answer.proven_gap)
    volume = float(weighed.profile.volume_l)
    values = iter(weighed.values)
    limits = []
    for value in answer.limits:
        limit = value.limit
        now = float(next(values))
        binding = stands_at_bound(limit, now)
        limits.append(
            LimitValue(limit, value.lower, value.upper, now * limit.display, binding, value.shadow_price)
        )
    return replace(
        answer,
        status=Status.FEASIBLE,
        masses_kg=weighed.masses_kg,
        purchases_kg=weighed.purchases_kg,
        volume_l=volume,
        run=weighed.run,
        profile=weighed.profile,
        limits=tuple(limits),
        cost=weighed.cost_per_l * volume,
        cost_per_l=weighed.cost_per_l,
        # A mass asked for exactly may be met by a step below it: that is no proof of anything cheaper.
        proven_gap=max(1.0 - bound / weighed.cost_per_l, answer.proven_gap)
        if weighed.cost_per_l > 0.0
        else 0.0,
    )


def _smallest_that_fits(answer: Answer, balances: Sequence[Balance]) -> float | None:
    """Try larger batches until one can be weighed in spec."""
    for factor in LARGER:
        try:
            larger = solve(at_size(answer.problem, answer.volume_l * factor))
        except SolveError:  # what is exact per batch need not fit a larger one
            continue
        if weigh(larger, _steps(larger, balances)) is not None:
            return larger.volume_l
    return None
