"""`tradeoff`: one target moved from value to value, and what that does to the cost or to another target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from formulate.bar.opening import open_pantry
from formulate.describe.tradeoff_record import Entry, ProvedEnd, Tradeoff, TradeoffPoint
from formulate.errors import (
    FormulateError,
    InfeasibleError,
    NotConvergedError,
    Note,
    UnboundedError,
    VerificationError,
)
from formulate.files.bottle import Bottle, load_bottle
from formulate.files.fields import did_you_mean
from formulate.files.measures import ASKED_BY_BAND, BITTERNESS, COST, STRENGTH, measure_of
from formulate.files.models import Source
from formulate.formulation.bottle import Formulation, formulate_bottle
from formulate.formulation.choices import choices_of
from formulate.formulation.solving import size_not_tied, solve_formulation
from formulate.optimise.diagnose import far_above
from formulate.optimise.problem import (
    BATCHES_LARGEST,
    BATCHES_SMALLEST,
    BlendProblem,
    Limit,
    Over,
    limit_value,
)
from formulate.optimise.sweep import CHOSEN_AT, SweepPoint, SweepStatus, sweep, sweep_chosen
from formulate.optimise.tolerances import AT_THE_END, USED_KG_PER_L
from formulate.quantity import parse_quantity
from formulate.quantity.amounts import parse_money
from formulate.quantity.words import read_option
from formulate.rules.law_notes import question_notes

__all__ = ["LEAST_POINTS", "MOST_POINTS", "trade_off"]

LEAST_POINTS, MOST_POINTS = 3, 2000
PROOF_SECONDS = 10.0
_ADDED = (*(measure.name for measure in ASKED_BY_BAND), BITTERNESS)
"""Targets that need not stand in the file."""


@dataclass(frozen=True)
class _Asked:
    """The question, which limit is moved, and over what values."""

    formulation: Formulation
    number: int
    values: tuple[float, ...]

    @property
    def limit(self) -> Limit:
        return self.formulation.problem.limits[self.number]

    @property
    def bounds(self) -> list[tuple[float, float]]:
        """Bounds in internal units: a band is pinned, a one-sided limit moved."""
        low, high = np.isfinite(self.limit.lower), np.isfinite(self.limit.upper)
        inner = [value / self.limit.display for value in self.values]
        return [(value if low else -np.inf, value if high else np.inf) for value in inner]


def trade_off(
    path: Source,
    vary: str,
    from_text: str,
    to_text: str,
    *,
    points: int = 50,
    against: str | None = None,
    prove_ends: bool = False,
) -> Tradeoff:
    """Move one target of a bottle file and see what another figure does.

    Parameters
    ----------
    vary
        Target to move; those of the table of measures need not be in the file.
    from_text, to_text
        The first and the last value, with unit.
    points
        How many values, evenly spaced.
    against
        ``cost``, for the cheapest recipe at each value; or another target, for the least and the most it can
        be at each value with its own band left out. Unless said, the cost; the strength beside a cost.
    prove_ends
        Prove the first and the last cost.

    Raises
    ------
    FormulateError
        If an option is wrong.
    SpecError
        If a file is wrong.
    UnboundedError
        If nothing ties the size of the batch.
    """
    if not LEAST_POINTS <= points <= MOST_POINTS:
        raise FormulateError(f"--points: between {LEAST_POINTS} and {MOST_POINTS}, got {points}.")
    if against is None:
        against = STRENGTH if vary == COST else COST
    if prove_ends and against != COST:
        raise FormulateError("--prove and --against do not go together: it proves a cost.")
    if vary == against:
        raise FormulateError(f"--against: {against} is what is varied. Name another target, or cost.")
    asked = _asked(load_bottle(path), vary, (from_text, to_text), points)
    notes = question_notes(asked.formulation.rules, asked.formulation.problem.limits)
    if choices_of(asked.formulation):
        text = (
            f"What the file says under `choose` is kept. What to use was settled at {CHOSEN_AT} values on "
            "the way and taken along: between them something else might be a little cheaper."
        )
        notes.append(Note("choices_kept", text))
    try:
        if against == COST:
            return _against_cost(asked, prove_ends, notes)
        return _against(asked, against, notes)
    except UnboundedError:
        raise size_not_tied(asked.formulation.bottle) from None


def _asked(bottle: Bottle, vary: str, ends: tuple[str, str], points: int) -> _Asked:
    _refuse_unknown(bottle, vary)
    first, last = (_value(vary, text, option) for text, option in zip(ends, ("--from", "--to"), strict=True))
    if first == last:
        raise FormulateError(f"--to: the same as --from, got '{ends[1]}'. Give another value.")
    pantry = open_pantry(bottle.shelf_path, bottle.places)
    formulation = formulate_bottle(_with_target(bottle, vary, first), pantry)
    names = [limit.origin.name if limit.is_target else "" for limit in formulation.problem.limits]
    if vary not in names:
        known = [name for name in dict.fromkeys((*names, *_ADDED)) if name]
        hint = did_you_mean(vary, known)
        raise FormulateError(f"--vary: no target called '{vary}' in the bottle file. {hint}".rstrip())
    values = tuple(float(value) for value in np.linspace(first, last, points))
    asked = _Asked(formulation, names.index(vary), values)
    return _within(asked) if asked.limit.origin.measure == STRENGTH else asked


def _within(asked: _Asked) -> _Asked:
    """Keep what the law asks of every strength on the way."""
    low, high = np.array(asked.bounds).T
    strengths = float(low.min()) * asked.limit.display, float(high.max()) * asked.limit.display
    return _asking_at(asked, strengths)


def _asking_at(asked: _Asked, strengths: tuple[float, float]) -> _Asked:
    formulation = asked.formulation.at_strengths(*strengths)
    number = next(index for index, limit in enumerate(formulation.problem.limits) if limit is asked.limit)
    return replace(asked, formulation=formulation, number=number)


def _refuse_unknown(bottle: Bottle, vary: str) -> None:
    """Refuse a name that is no target before its values are read in a unit it has not."""
    known = (COST, *_ADDED, *bottle.targets.attributes)
    if vary not in known and bottle.targets.category is None:
        hint = did_you_mean(vary, known)
        raise FormulateError(f"--vary: no target called '{vary}' in the bottle file. {hint}".rstrip())


def _value(vary: str, text: str, option: str) -> float:
    """Read a value in the unit its target is shown in."""
    if vary == COST:
        money = read_option(option, text, parse_money)
        if money.per != "L":
            raise FormulateError(f"{option}: a cost per litre, got '{text}'. Write e.g. 9.50 EUR/L.")
        return money.value
    measure = measure_of(vary)
    dimension = measure.dimension
    assert dimension is not None
    canonical = read_option(option, text, lambda typed: parse_quantity(typed, dimension))
    return canonical * measure.shown_per_canonical


def _with_target(bottle: Bottle, vary: str, value: float) -> Bottle:
    """Give the bottle the target that is varied, if it has none."""
    if vary not in _ADDED or vary in bottle.targets.given:
        return bottle
    targets = bottle.targets.asking(vary, measure_of(vary).band(value, value, f"{value:g}"))
    return bottle.model_copy(update={"targets": targets})


def _against_cost(asked: _Asked, prove_ends: bool, notes: list[Note]) -> Tradeoff:
    own = [limit for limit in asked.formulation.problem.limits if limit.is_target and limit.over is Over.COST]
    asked = _without(asked, own)
    ceiling = min((limit.upper for limit in own), default=np.inf)
    problem = asked.formulation.problem
    found = _swept(asked, problem)
    if any(_without_end(problem, one) for one in found):
        raise size_not_tied(asked.formulation.bottle)
    points = []
    for value, one in zip(asked.values, found, strict=True):
        cost = None if one.point is None else one.point.money / one.point.volume_l
        points.append(TradeoffPoint(value, str(one.status), cost, None, _used(problem, one)))
    proved = tuple(_proved_end(asked, position) for position in (0, -1)) if prove_ends else ()
    record = _record(asked, COST, f"{asked.formulation.pantry.currency}/L", points, notes)
    return replace(record, ceiling=float(ceiling) if np.isfinite(ceiling) else None, proved=proved)


def _swept(asked: _Asked, problem: BlendProblem) -> list[SweepPoint]:
    if choices := choices_of(asked.formulation):
        return sweep_chosen(problem, choices, asked.number, asked.bounds)
    return sweep(problem, asked.number, asked.bounds)


def _without_end(problem: BlendProblem, found: SweepPoint) -> bool:
    """Say whether a batch of no size in litres came out as large or as small as the program lets it."""
    if problem.volume_l is not None or found.point is None:
        return False
    batches = found.point.batches / found.point.volume_l
    return not 2.0 * BATCHES_SMALLEST < batches < BATCHES_LARGEST / 2.0


def _without(asked: _Asked, dropped: Sequence[Limit]) -> _Asked:
    """Leave limits out of the question; the one that is moved stays."""
    problem, moved = asked.formulation.problem, asked.limit
    limits = [limit for limit in problem.limits if not any(limit is one for one in dropped)]
    number = next(index for index, limit in enumerate(limits) if limit is moved)
    return replace(
        asked, formulation=replace(asked.formulation, problem=problem.asking(limits)), number=number
    )


def _against(asked: _Asked, against: str, notes: list[Note]) -> Tradeoff:
    """Find the least and the most of another target at each value, its own band left out."""
    problem = asked.formulation.problem
    names = [limit.origin.name if limit.is_target else "" for limit in problem.limits]
    if against not in names:
        hint = did_you_mean(against, [name for name in names if name])
        raise FormulateError(f"--against: no target called '{against}' in the bottle file. {hint}".rstrip())
    other = problem.limits[names.index(against)]
    if other.origin.measure == STRENGTH:
        asked = _asking_at(asked, (0.0, np.inf))
        problem = asked.formulation.problem
    far = far_above(other)
    least = replace(other, lower=-np.inf, upper=-other.scale, penalty=1.0 / other.scale)
    most = replace(other, lower=far, upper=np.inf, penalty=1.0 / other.scale)
    columns = []
    for side in (least, most):
        limits = [side if limit is other else limit for limit in problem.limits]
        pushed = problem.asking(limits).for_free()
        found = _swept(asked, pushed)
        columns.append([(one, _reached(pushed, one, side)) for one in found])
    top = far * other.display * (1.0 - AT_THE_END)
    points = []
    for value, (low, least_value), (high, most_value) in zip(asked.values, *columns, strict=True):
        open_ended = most_value is not None and most_value >= top
        used = tuple(dict.fromkeys((*_used(problem, low), *_used(problem, high))))
        worse = low if low.point is None else high
        points.append(
            TradeoffPoint(value, str(worse.status), least_value, None if open_ended else most_value, used)
        )
    return _record(asked, against, other.unit, points, notes)


def _reached(problem: BlendProblem, found: SweepPoint, side: Limit) -> float | None:
    if found.point is None:
        return None
    point = found.point
    used = problem.masses(point.columns).sum(axis=0)
    value = limit_value(side, point.run.bottled, used, point.batches, point.money)
    return max(value * side.display, 0.0)


def _used(problem: BlendProblem, found: SweepPoint) -> tuple[str, ...]:
    if found.point is None:
        return ()
    masses = problem.masses(found.point.columns).sum(axis=0)
    return tuple(problem.chain.materials.ids[index] for index in np.flatnonzero(masses > USED_KG_PER_L))


def _record(
    asked: _Asked, against: str, unit: str, points: Sequence[TradeoffPoint], notes: Sequence[Note]
) -> Tradeoff:
    limit = asked.limit
    two_sided = bool(np.isfinite(limit.lower) and np.isfinite(limit.upper))
    return Tradeoff(
        name=asked.formulation.bottle.name,
        vary=limit.origin.name,
        unit=limit.unit,
        moved="exactly" if two_sided else "at least" if np.isfinite(limit.lower) else "at most",
        against=against,
        against_unit=unit,
        points=tuple(points),
        entries=_entries(points),
        notes=tuple(notes),
    )


def _entries(points: Sequence[TradeoffPoint]) -> tuple[Entry, ...]:
    """Say where an ingredient comes in or goes out on the way."""
    entries = []
    with_recipe = [point for point in points if point.used]
    for before, after in pairwise(with_recipe):
        entries += [Entry(after.value, name, True) for name in after.used if name not in before.used]
        entries += [Entry(after.value, name, False) for name in before.used if name not in after.used]
    return tuple(entries)


def _proved_end(asked: _Asked, position: int) -> ProvedEnd:
    problem, (lower, upper) = asked.formulation.problem, asked.bounds[position]
    limits = list(problem.limits)
    limits[asked.number] = replace(asked.limit, lower=lower, upper=upper)
    value = asked.values[position]
    try:
        question = replace(asked.formulation, problem=problem.asking(limits))
        answer = solve_formulation(question, seconds=PROOF_SECONDS)
    except InfeasibleError:
        return ProvedEnd(value, str(SweepStatus.NONE))
    except (NotConvergedError, VerificationError):
        return ProvedEnd(value, str(SweepStatus.UNSETTLED))
    return ProvedEnd(value, str(SweepStatus.RECIPE), float(answer.cost_per_l), float(answer.proven_gap))
