"""`reformulate`: a saved recipe made again when something is gone, short, dearer, or of another lot."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formulate.bar.batch import BarBatch, weigh_batch
from formulate.bar.changed import Circumstances, refuse_unknown, with_lots, with_prices
from formulate.bar.house_made import tastes_of
from formulate.bar.opening import open_pantry
from formulate.bar.pantry import Pantry, UnknownMassError
from formulate.blend.flavour import FlavourPart, flavour_of
from formulate.describe.no_recipe import no_recipe
from formulate.describe.records import DrinkRecord
from formulate.describe.reformulate_record import Figures, Move, Reformulation, Way, flavour_shifts
from formulate.describe.solved import SolvedBottle, not_used, solved_record
from formulate.describe.targets import in_the_middle
from formulate.describe.unreplaced import NoReplacement, unreplaced
from formulate.errors import (
    FormulateError,
    InfeasibleError,
    NotConvergedError,
    Note,
    SpecError,
    SpecProblem,
    UnboundedError,
    VerificationError,
)
from formulate.files.bottle import Bottle, load_bottle
from formulate.files.disk import is_there
from formulate.files.models import InMemory, Source, path_of
from formulate.files.recipe import Recipe, load_recipe
from formulate.formulation.choices import choices_of
from formulate.formulation.far_off_amounts import far_off_amounts
from formulate.formulation.ingredient_limits import at_most_kg
from formulate.formulation.made_again import Remake
from formulate.formulation.solving import size_not_tied
from formulate.formulation.stand_ins import StandIns, let_in_beside, stand_ins_for
from formulate.jobs.nearest import at_the_middle
from formulate.jobs.options import Texts, read_circumstances
from formulate.optimise.answer import Answer
from formulate.optimise.diagnose import is_possible
from formulate.optimise.least_change import least_change, moved, nearest_flavour
from formulate.optimise.problem import BlendProblem, Over
from formulate.optimise.solve import solve
from formulate.optimise.tolerances import USED_KG_PER_L
from formulate.optimise.watch import is_stopped, tell
from formulate.quantity.document import HIDDEN, Record, shown
from formulate.rules.law import law_of
from formulate.rules.law_notes import law_notes

__all__ = ["MODES", "Reformulated", "reformulate", "reformulate_texts"]

FloatArray = NDArray[np.float64]

MODES = ("least change", "cheapest", "nearest flavour")
SECONDS = 5.0
MOVED, MOVED_KG_L = 5e-4, 2e-6
"""A mass that changes by a smaller share, or by less than two milligrams a litre, stays as it is."""

REALLY_OTHER = 0.05
"""Two recipes differ really when one has an ingredient more, or this share of all mass is another."""

MOST_WAYS = 4


@dataclass(frozen=True)
class Reformulated(Record):
    """A new recipe with what is needed to write it."""

    record: Reformulation = field(metadata=shown(""))
    best: SolvedBottle = field(metadata=HIDDEN)


def reformulate_texts(
    file: Source,
    *,
    without: Sequence[str] = (),
    short: Texts = (),
    price: Texts = (),
    lot: Texts = (),
    mode: str = "least change",
    middle: bool = False,
    bottle: Source | None = None,
    today: date | None = None,
) -> Reformulated:
    """Make a saved recipe again, what changed typed as texts.

    Parameters
    ----------
    file
        The saved recipe.
    without : sequence of str
        Ingredients that are gone.
    short, price, lot : mapping or sequence of str
        What is left of an ingredient, what it costs now, the bitterness value per gram of a new lot:
        ``{"damson": "300 g"}`` or ``["damson: 300 g"]``.
    mode : str
        One of `MODES`.
    middle : bool
        Whether to aim at the middle of each band instead of just inside.
    bottle : path or Bottle, optional
        Instead of the one the recipe names.
    today : date, optional
        What the age of the stock is counted to.

    Raises
    ------
    FormulateError
        Naming what cannot be read; and as `reformulate`.
    """
    changed = read_circumstances(without, short, price, lot)
    return reformulate(file, changed, mode=mode, middle=middle, bottle_path=bottle, today=today)


def reformulate(
    path: Source,
    changed: Circumstances,
    *,
    mode: str = "least change",
    middle: bool = False,
    bottle_path: Source | None = None,
    today: date | None = None,
) -> Reformulated:
    """Make a saved recipe again within every limit of its bottle file.

    Parameters
    ----------
    mode : str
        One of `MODES`.
    middle : bool
        Whether to aim at the middle of each band instead of just inside.
    bottle_path : path or Bottle, optional
        Instead of the one the recipe names.
    today : date, optional
        What the age of the stock is counted to.

    Raises
    ------
    FormulateError, SpecError
        If a file or an option is wrong.
    InfeasibleError
        With a `NoReplacement`, when no recipe meets every limit under these circumstances.
    UnboundedError, NotConvergedError, VerificationError
        See `optimise.search.solve`.
    """
    recipe = load_recipe(path)
    given = None if bottle_path is None else path_of(bottle_path)
    bottle = load_bottle(_bottle_path(recipe, path_of(path), given))
    pantry = open_pantry(bottle.shelf_path, bottle.places, today=today)
    refuse_unknown(changed, bottle, pantry)
    return _Reformulator(recipe, bottle, pantry, changed, mode, middle=middle).reformulate()


def _bottle_path(recipe: Recipe, path: Path, given: Path | None) -> Path:
    bottle = given if given is not None else recipe.bottle_path
    if bottle is None:
        raise FormulateError(
            f"{path.as_posix()}: names no bottle file, so its targets are not known. Give it with --bottle."
        )
    if not is_there(bottle):
        if given is not None:
            raise FormulateError(f"{bottle.as_posix()}: no file there. Check the path.")
        raise SpecError(
            [recipe.places.problem(("bottle",), f"no file there, got '{bottle.as_posix()}'. Check the path.")]
        )
    return bottle if isinstance(bottle, InMemory) else Path(os.path.normpath(bottle))


class _Reformulator:
    """Works one recipe over; used once."""

    def __init__(
        self,
        recipe: Recipe,
        bottle: Bottle,
        pantry: Pantry,
        changed: Circumstances,
        mode: str,
        *,
        middle: bool,
    ) -> None:
        self.bottle = with_lots(bottle, changed.lots)
        self.pantry = with_prices(pantry, changed.prices)
        self.changed, self.mode, self.middle = changed, mode, middle
        self.recipe, self.old = recipe, weigh_batch(recipe, pantry)
        other = bool(changed.prices or changed.lots)
        self.unchanged = weigh_batch(with_lots(recipe, changed.lots), self.pantry) if other else None
        listed = {use.id for use in self.bottle.uses}
        self.excluded = self._excluded()
        self.gone = tuple(name for name in self.excluded if name in listed)
        self.dearer = self._dearer(pantry)

    def _excluded(self) -> tuple[str, ...]:
        """Ids that may not be used: those named, and the parts of whole things named."""
        wholes = self.pantry.shelf.whole if self.pantry.shelf else {}
        names: list[str] = []
        for name in self.changed.without:
            names += wholes[name].parts if name in wholes else [name]
        return tuple(dict.fromkeys(names))

    def _dearer(self, before: Pantry) -> tuple[str, ...]:
        """Ids of the bottle's list that cost more than before, and are neither gone nor short."""

        def price(pantry: Pantry, name: str) -> float:
            try:
                return pantry.price_per_kg(pantry.unaged(name)) or 0.0
            except UnknownMassError:
                return 0.0

        if not self.changed.prices:
            return ()
        missing = {*self.gone, *(name for name, _ in self.changed.short)}
        names = [use.id for use in self.bottle.uses if use.id not in missing]
        return tuple(name for name in names if price(self.pantry, name) > price(before, name) * (1.0 + 1e-9))

    def _ask(self, dearer: tuple[str, ...] = ()) -> tuple[Remake, tuple[StandIns, ...], list[str]]:
        """Ask the question again, with stand-ins for what is gone, short and, if named, dearer."""
        short = [name for name, _ in self.changed.short if name not in self.gone]
        stand_ins = tuple(
            stand_ins_for(name, self.bottle, self.pantry, self.excluded)
            for name in (*self.gone, *short, *dearer)
        )
        remake = Remake(self.old, self.bottle, self.gone, self.changed.short, dearer)
        self.formulation, handed = remake.formulated(self.pantry, stand_ins)
        self.formulation = at_the_middle(self.formulation) if self.middle else self.formulation
        self.choices = choices_of(self.formulation)
        self.reference = remake.reference(self.formulation, stand_ins)
        return remake, stand_ins, handed

    def _breaks_the_cost(self) -> bool:
        """Say whether the limit on the cost alone stands in the way."""
        problem = self.formulation.problem
        limits = [limit for limit in problem.limits if limit.over is not Over.COST]
        return len(limits) < len(problem.limits) and is_possible(problem.asking(limits)) is True

    def reformulate(self) -> Reformulated:
        remake, stand_ins, handed = self._ask()
        too_dear = ""
        impossible = bool(self.dearer) and is_possible(self.formulation.problem) is False
        if impossible and self._breaks_the_cost():
            remake, stand_ins, handed = self._ask(self.dearer)
            too_dear = let_in_beside(self.dearer, stand_ins)
        suggested = tuple(
            (stand_in.missing, stand_in.suggested) for stand_in in stand_ins if stand_in.suggested
        )
        tell("looking for a recipe")
        try:
            best, answer = self._way(self.mode, self.formulation.problem, self.mode)
        except InfeasibleError:
            why = no_recipe(self.formulation)
            raise InfeasibleError(
                NoReplacement(
                    why.name,
                    why.explanation,
                    why.formulation,
                    why.choices,
                    why.notes,
                    changes=self.changed.texts(),
                    suggested=suggested,
                    unreplaced=unreplaced(why, remake, stand_ins, self.pantry),
                )
            ) from None
        except UnboundedError:
            raise size_not_tied(self.bottle) from None
        except (NotConvergedError, VerificationError):
            # A recipe far from everything the bottle allows is nothing to stay near to: ask about it instead.
            if far_off := self._far_off():
                raise SpecError(far_off) from None
            raise
        tell("looking for other ways")
        others = () if is_stopped() else self._others(best, answer)
        off = self.formulation.off_middle
        notes = in_the_middle(off) if self.middle and (off or self.mode == "cheapest") else []
        notes += [Note("too_dear", too_dear)] if too_dear else []
        notes += [Note("handed_over", f"{text[0].upper()}{text[1:]}.") for text in handed]
        notes += [*self._old_over(), *self._unlisted()]
        notes += [
            Note("far_off", problem.message, str(problem.location or "")) for problem in self._far_off()
        ]
        record = Reformulation(
            name=self.bottle.name,
            changes=self.changed.texts(),
            mode=self.mode,
            before=_figures_of_batch(self.old),
            before_l=float(self.old.drink.volume_l),
            unchanged=None if self.unchanged is None else _figures_of_batch(self.unchanged),
            best=best,
            others=others,
            suggested=suggested,
            notes=tuple(notes),
        )
        return Reformulated(record, SolvedBottle(best.drink, self.formulation, answer))

    def _tastes(self) -> dict[str, str]:
        """Say what each ingredient of either recipe tastes of."""
        names = (*self.old.chain.materials.ids, *(one.id for one in self.formulation.ingredients))
        return {name: tastes_of(self.pantry, name) for name in names}

    def _flavour_before(self) -> tuple[FlavourPart, ...]:
        return flavour_of(self.old, self.bottle.kind)

    def _way(self, mode: str, problem: BlendProblem, title: str) -> tuple[Way, Answer]:
        if mode == "least change":
            asked = least_change(problem, self.reference)
        elif mode == "nearest flavour":
            asked = nearest_flavour(problem, self.reference)
        else:
            asked = problem
        answer = self._solve(asked)
        drink = solved_record(self.formulation, answer)
        if asked is not problem:
            drink = _without_proof_of_cost(drink, len([limit for limit in problem.limits if limit.is_target]))
        listed = [use.id for use in self.bottle.uses if use.id not in self.gone and not use.optional]
        idle = not_used(listed, [line.ingredient for line in drink.recipe])
        notes = [note for made in drink.notes for note in (idle if made.code == "not_used" else [made])]
        notes = [note for note in notes if note.code != "left_out"]
        drink = replace(drink, notes=tuple(notes))
        masses = answer.masses_kg.sum(axis=0) / answer.volume_l
        way = Way(
            title=title,
            drink=drink,
            moves=self._moves(answer),
            moved=moved(self.reference, masses),
            figures=Figures.of_record(drink),
            flavours=flavour_shifts(self._flavour_before(), drink.flavour, self._tastes()),
        )
        return way, answer

    def _solve(self, problem: BlendProblem) -> Answer:
        if self.choices:
            from formulate.optimise.mip.solve import solve_with_choices

            return solve_with_choices(problem, self.choices, seconds=SECONDS)
        return solve(problem, seconds=SECONDS)

    def _moves(self, answer: Answer) -> tuple[Move, ...]:
        """Hold the old recipe, at the new size, against the new one."""
        size = answer.volume_l / self.old.drink.volume_l
        rows: dict[tuple[str, str], list[float]] = {}
        for column, (chain, masses) in enumerate(
            ((self.old.chain, self.old.masses_kg * size), (answer.problem.chain, answer.masses_kg))
        ):
            for step, row in zip(chain.steps, masses, strict=True):
                for name, mass in zip(chain.materials.ids, row, strict=True):
                    if mass > USED_KG_PER_L * answer.volume_l:
                        rows.setdefault((step.name, name), [0.0, 0.0])[column] = float(mass)
        floor = MOVED_KG_L * answer.volume_l
        order = [step.name for step in answer.problem.chain.steps]
        moves = [
            Move(name, step, before, after, abs(after - before) > max(MOVED * before, floor))
            for (step, name), (before, after) in rows.items()
        ]
        return tuple(sorted(moves, key=lambda move: order.index(move.step) if move.step in order else -1))

    def _others(self, best: Way, answer: Answer) -> tuple[Way, ...]:
        """Find ways that differ really: other aims, and the same aim without what is new in the best way."""
        ways: list[tuple[Way, FloatArray]] = [(best, _per_litre(answer))]
        for mode, problem, title in self._tries(best):
            if len(ways) > MOST_WAYS:
                break
            try:
                way, other_answer = self._way(mode, problem, title)
            except (InfeasibleError, NotConvergedError, UnboundedError, VerificationError):
                continue
            masses = _per_litre(other_answer)
            if all(_really_other(masses, other) for _, other in ways):
                ways.append((way, masses))
        others = [way for way, _ in ways[1:]]
        measure = (
            (lambda way: way.figures.cost_per_l or 0.0)
            if self.mode == "cheapest"
            else (lambda way: way.moved)
        )
        return tuple(sorted(others, key=measure))

    def _tries(self, best: Way) -> Iterator[tuple[str, BlendProblem, str]]:
        problem = self.formulation.problem
        for mode in MODES:
            if mode != self.mode:
                yield mode, problem, mode
        new = [move.ingredient for move in best.moves if not move.before_kg > 0.0]
        for name in new:
            yield self.mode, self._forbidding(problem, [name]), f"{self.mode} without {name}"
        if len(new) > 1:
            yield self.mode, self._forbidding(problem, new), f"{self.mode} with nothing new"

    def _forbidding(self, problem: BlendProblem, names: Sequence[str]) -> BlendProblem:
        ids = list(problem.chain.materials.ids)
        none = [at_most_kg(name, ids.index(name), 0.0, problem.volume_l, f"without {name}") for name in names]
        return problem.asking([*problem.limits, *none])

    def _old_over(self) -> list[Note]:
        """Say so where the saved recipe breaks a limit of the law that the new one keeps."""
        law = law_of(self.old, self.formulation.rules)
        return [
            replace(note, code="old_over_limit", text=f"The saved recipe, as it was: {note.text}")
            for note in law_notes(law, self.formulation.rules)
            if note.code == "over_limit"
        ]

    def _far_off(self) -> tuple[SpecProblem, ...]:
        """Question amounts of the old recipe that are far from the cheapest recipe of the bottle file."""
        try:
            cheapest = _per_litre(self._solve(self.formulation.problem))
        except (InfeasibleError, NotConvergedError, UnboundedError, VerificationError):
            return far_off_amounts(self.recipe, self.old, {})
        ids = self.formulation.problem.chain.materials.ids
        return far_off_amounts(self.recipe, self.old, dict(zip(ids, cheapest.tolist(), strict=True)))

    def _unlisted(self) -> list[Note]:
        listed = set(self.formulation.problem.chain.materials.ids)
        lost = [name for name in self.old.chain.materials.ids if name not in listed]
        if not lost:
            return []
        text = f"The bottle file does not list {', '.join(lost)}, which the old recipe used: left out."
        return [Note("not_listed", text)]


def _without_proof_of_cost(drink: DrinkRecord, targets: int) -> DrinkRecord:
    """Take away what speaks of the cheapest recipe: this one was not asked to be."""
    cost = None if drink.cost is None else replace(drink.cost, proven_gap=None)
    asked = tuple(replace(target, shadow_price=None) for target in drink.targets[:targets])
    return replace(drink, status="reformulated", cost=cost, targets=asked)


def _per_litre(answer: Answer) -> FloatArray:
    masses: FloatArray = answer.masses_kg.sum(axis=0) / answer.volume_l
    return masses


def _really_other(masses: FloatArray, other: FloatArray) -> bool:
    if ((masses > USED_KG_PER_L) != (other > USED_KG_PER_L)).any():
        return True
    return bool(np.abs(masses - other).sum() / 2.0 > REALLY_OTHER * other.sum())


def _figures_of_batch(batch: BarBatch) -> Figures:
    volume = float(batch.drink.volume_l)
    return Figures(batch.drink, None if batch.bill is None else batch.bill.total / volume)
