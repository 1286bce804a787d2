"""`buy`: a bottle file to the packs to buy for it.

The recipe is the cheapest one by use, as `solve` gives it, and the packs are the cheapest that hold
it. Only when asked is it moved within its limits to make the best of whole packs. What is on hand is
used first and costs nothing more. The money shown is the sum of the packs shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from formulate.bar.least_orders import Shortfall, kept_orders, shortfalls
from formulate.bar.prices import UnitPrice
from formulate.bar.vessels import contents_l
from formulate.describe.buy_record import Adaptation, BuyLine, BuyRecord
from formulate.describe.records import DrinkRecord
from formulate.describe.reformulate_record import Figures, Move
from formulate.describe.solved import SolvedBottle, solved_record
from formulate.describe.vessels import TOLD
from formulate.errors import InfeasibleError, NotConvergedError, Note, UnitError, VerificationError
from formulate.formulation.bottle import Formulation
from formulate.formulation.choices import choices_of
from formulate.formulation.on_sale import on_sale
from formulate.formulation.solving import sized_problem
from formulate.jobs.solve import solve_bottle
from formulate.optimise.answer import Answer, Status
from formulate.optimise.mip.covering import NEEDED_KG, Cover, cheapest_cover, has_spare_packs
from formulate.optimise.mip.integer_terms import WholeTerms
from formulate.optimise.mip.packs import Pack, Thing, cheapest_per_kg, things_of
from formulate.optimise.mip.solve import answer_of, solve_whole
from formulate.optimise.problem import BlendProblem, Over
from formulate.quantity import Dimension, parse_quantity
from formulate.quantity.words import read_option
from formulate.rules.duty import duty_note
from formulate.rules.standing import told_everywhere

__all__ = ["buy_bottle", "read_leftover"]

FloatArray = NDArray[np.float64]

SECONDS = 20.0
SECONDS_TO_TELL = 5.0
"""For a remark on what fitting the recipe would save."""
FITTINGS = 3
OVERFULL = 1e-3
"""A vessel is fuller than asked when its contents are larger by this share."""
CENT = 0.005
_OF_THE_LIST = ("not_used", "price_past", "offer_past", "price_old")
MOVED = 5e-4
"""A mass that changes by a smaller share stays as it is."""


def read_leftover(text: str) -> float:
    """Read what an unused rest of a pack is still worth.

    Parameters
    ----------
    text : str
        A share of its price, such as ``50 %``.

    Raises
    ------
    UnitError
        If it is no share, or more than all.
    """
    share = read_option("--leftover", text, lambda typed: parse_quantity(typed, Dimension.SHARE))
    if share > 1.0:
        raise UnitError(f"--leftover: a rest is worth at most 100 % of its price, got {text}.")
    return share


def buy_bottle(
    path: Path,
    *,
    leftover_share: float = 0.0,
    use_stock: bool = True,
    adapt: bool = False,
    middle: bool = False,
    today: date | None = None,
) -> BuyRecord:
    """List what to buy for a bottle file.

    Parameters
    ----------
    path : Path
    leftover_share : float
        What an unused rest of a pack is still worth, 0 to 1 of its price; only for choosing, the
        list shows what is paid.
    use_stock : bool
        Whether what is on hand is used first.
    adapt : bool
        Whether the recipe is fitted to whole packs, where that saves money.
    middle : bool
        Whether to aim at the middle of each band.
    today : date, optional
        See `solve.solve_bottle`.

    Returns
    -------
    BuyRecord

    Raises
    ------
    SpecError, InfeasibleError, UnboundedError, NotConvergedError, VerificationError
        See `solve.solve_bottle`.
    """
    solved = solve_bottle(path, today=today, middle=middle)
    formulation = solved.formulation
    offered = on_sale(formulation, use_stock=use_stock)
    terms = WholeTerms(
        batch_l=solved.answer.volume_l,
        choices=choices_of(formulation),
        packs=offered.packs,
        stock_kg=offered.stock_kg,
        stock_bought_kg=offered.stock_bought_kg,
        least_order=offered.least_order,
        leftover_share=leftover_share,
    )
    listed = _listed(formulation, solved.answer, terms)
    try:
        fitted = _fitted(formulation, solved.answer, terms, SECONDS if adapt else SECONDS_TO_TELL)
    except (InfeasibleError, NotConvergedError, VerificationError):
        if adapt:
            raise
        fitted = None
    saves = None if fitted is None else _saved(listed, fitted)
    adaptation = None
    if adapt and fitted is not None and saves is not None and saves >= CENT:
        drink = _drink(formulation, fitted.answer)
        adaptation = _adaptation(solved, fitted, drink, saves)
        solved, listed = replace(solved, record=drink, answer=fitted.answer), fitted
    lines = _lines(formulation, listed, offered.prices)
    bought_from = {line.supplier for line in lines if line.cost > 0.0}
    return BuyRecord(
        solved=solved,
        lines=lines,
        total=_total(lines),
        currency=formulation.pantry.currency,
        status=str(Status.OPTIMAL if listed.proved else Status.FEASIBLE),
        proven_gap=listed.gap,
        leftover_share=leftover_share,
        least_orders=kept_orders(terms.least_order, bought_from, listed.short),
        shortfalls=listed.short,
        elsewhere=()
        if listed.elsewhere is None
        else _lines(formulation, replace(listed, packs=listed.elsewhere), offered.prices),
        adapted=adaptation,
        could_save=None if adapt else saves,
        notes=(
            *told_everywhere(solved.record.notes),
            *(note for note in solved.record.notes if note.code in {*_OF_THE_LIST, *TOLD}),
            *_notes(formulation, adapted=adaptation is not None, asked=adapt),
            *_duty(solved),
        ),
        tax_reclaimed=formulation.pantry.tax.reclaimed,
    )


def _duty(solved: SolvedBottle) -> tuple[Note, ...]:
    drink, pantry = solved.record.predicted, solved.formulation.pantry
    strength = float(drink.strength_pct_vol)
    pure_l = strength / 100.0 * float(drink.volume_l)
    note = duty_note((strength,), pure_l, pantry.shelf, solved.formulation.rules.jurisdiction, pantry.day)
    return () if note is None else (note,)


@dataclass(frozen=True)
class _Listed:
    """Packs for one recipe; `elsewhere` are those that keep minimum orders where `packs` do not."""

    answer: Answer
    terms: WholeTerms
    packs: FloatArray
    gap: float
    proved: bool
    short: tuple[Shortfall, ...] = ()
    elsewhere: FloatArray | None = None

    @property
    def paid(self) -> float:
        """Money for the packs."""
        prices = [pack.price for pack in self.terms.packs]
        return float(np.array(prices) @ self.packs) if prices else 0.0

    @property
    def net(self) -> float:
        """Money for the packs, less what their rests are worth."""
        terms = self.terms
        rests = 0.0
        for thing in things_of(terms.packs):
            held = sum(
                pack.size_kg * float(count)
                for pack, count in zip(terms.packs, self.packs, strict=True)
                if pack.thing == thing
            )
            rest = max(held - _needs(self.answer, terms).get(thing, 0.0), 0.0)
            rests += rest * cheapest_per_kg(terms.packs, thing)
        return self.paid - terms.leftover_share * rests


def _listed(formulation: Formulation, answer: Answer, terms: WholeTerms) -> _Listed:
    """List the cheapest packs for a recipe that stands."""
    terms = replace(terms, batch_l=answer.volume_l)
    free = cheapest_cover(replace(terms, least_order=()), _needs(answer, terms))
    assert free is not None, "without minimum orders there are always packs enough"
    listed = _Listed(answer, terms, free.packs, free.proven_gap, free.proved)
    if not (short := _short(formulation, listed)):
        return listed
    return _kept_or_short(replace(listed, short=short), cheapest_cover(terms, _needs(answer, terms)))


def _kept_or_short(listed: _Listed, kept: Cover | None) -> _Listed:
    """Take the list that keeps the minimum orders, unless filling up the shorter one costs less."""
    if kept is None:
        return listed
    keeping = replace(listed, packs=kept.packs, gap=kept.proven_gap, proved=kept.proved, short=())
    filled = listed.paid + sum(short.filling_up for short in listed.short)
    return keeping if keeping.paid <= filled + CENT else replace(listed, elsewhere=kept.packs)


def _fitted(formulation: Formulation, by_use: Answer, terms: WholeTerms, seconds: float) -> _Listed:
    """Fit the recipe to the packs within its limits.

    Minimum orders are left aside first: filling one up with what nobody needs is no fitting. Where the list
    then falls short of one, a recipe that keeps it is looked for, and taken if it needs all it buys.
    """
    free = _fitted_to(formulation.problem, by_use, replace(terms, least_order=()), seconds)
    free = replace(free, terms=replace(free.terms, least_order=terms.least_order))
    if not (short := _short(formulation, free)):
        return free
    free = replace(free, short=short)
    try:
        kept = _fitted_to(formulation.problem, by_use, terms, seconds)
    except (InfeasibleError, NotConvergedError, VerificationError):
        return free
    if has_spare_packs(kept.terms, _needs(kept.answer, kept.terms), kept.packs):
        return _kept_or_short(free, cheapest_cover(free.terms, _needs(free.answer, free.terms)))
    filled = free.paid + sum(one.filling_up for one in short)
    return kept if kept.paid <= filled + CENT else free


def _fitted_to(problem: BlendProblem, by_use: Answer, terms: WholeTerms, seconds: float) -> _Listed:
    """Fit the recipe; a vessel to be filled is not filled further than asked."""
    sized = sized_problem(problem, by_use.volume_l)
    for _ in range(FITTINGS):
        assert sized.volume_l is not None
        terms = replace(terms, batch_l=sized.volume_l)
        whole = solve_whole(sized, terms, seconds=seconds)
        answer = answer_of(sized, whole)
        fullness = _fullness(problem, answer)
        if fullness <= 1.0 + OVERFULL:
            break
        sized = sized_problem(problem, sized.volume_l / fullness)
    return _Listed(answer, terms, whole.packs, whole.proven_gap, whole.status is Status.OPTIMAL)


def _fullness(problem: BlendProblem, answer: Answer) -> float:
    """How full the vessel is that gave the size, as a share of what was asked."""
    if problem.fill is None:
        return 0.0
    return contents_l(answer.run, problem.fill.step) / problem.fill.volume_l


def _needs(answer: Answer, terms: WholeTerms) -> dict[Thing, float]:
    """Return what has to be bought of each thing, beyond what is there."""
    used = answer.masses_kg.sum(axis=0)
    needs = {}
    for thing in things_of(terms.packs):
        amount = float(answer.purchases_kg[thing.number] if thing.is_purchase else used[thing.number])
        needs[thing] = max(amount - terms.stock_of(thing), 0.0)
    return needs


def _short(formulation: Formulation, listed: _Listed) -> tuple[Shortfall, ...]:
    used = listed.answer.masses_kg.sum(axis=0)
    uses = {one.id: float(mass) for one, mass in zip(formulation.ingredients, used, strict=True)}
    bought = list(zip(listed.terms.packs, listed.packs.tolist(), strict=True))
    return shortfalls(formulation.pantry, listed.terms.least_order, bought, uses)


def _saved(listed: _Listed, fitted: _Listed) -> float | None:
    """Money that the fitted recipe saves; None where the two lists cannot be held against each other."""
    if len(fitted.short) != len(listed.short):
        return None
    return max(listed.net - fitted.net, 0.0)


def _adaptation(solved: SolvedBottle, fitted: _Listed, drink: DrinkRecord, saved: float) -> Adaptation:
    """Hold the recipe fitted to the packs against the cheapest one by use, at the new size."""
    before, after = solved.answer, fitted.answer
    size = after.volume_l / before.volume_l
    floor = NEEDED_KG * after.volume_l
    moves = []
    chain = after.problem.chain
    for position, step in enumerate(chain.steps):
        for number, name in enumerate(chain.materials.ids):
            old, new = (
                float(before.masses_kg[position, number]) * size,
                float(after.masses_kg[position, number]),
            )
            old, new = old if old > floor else 0.0, new if new > floor else 0.0
            if old or new:
                moves.append(Move(name, step.name, old, new, abs(new - old) > max(MOVED * old, floor)))
    return Adaptation(saved, tuple(moves), _figures(solved.record), _figures(drink), fitted.proved)


def _figures(record: DrinkRecord) -> Figures:
    drink = record.predicted
    return Figures(
        float(drink.strength_pct_vol),
        float(drink.sugar_g_l),
        float(drink.acid_g_l),
        float(drink.bitterness_value),
        None if record.cost is None else record.cost.per_litre,
    )


def _drink(formulation: Formulation, answer: Answer) -> DrinkRecord:
    """Tell of the recipe; that it costs the least is proved of the list, not of what is used."""
    record = solved_record(formulation.bottle, formulation, replace(answer, status=Status.FEASIBLE))
    cost = None if record.cost is None else replace(record.cost, proven_gap=None)
    return replace(record, cost=cost)


def _notes(formulation: Formulation, *, adapted: bool, asked: bool) -> tuple[Note, ...]:
    first = "What is on hand is used first."
    if adapted:
        notes = [Note("fitted_to_packs", f"{first} Save the adapted recipe with -o.")]
    else:
        by, how = ("cheapest by what is used", "`solve`")
        if formulation.as_asked:
            by, how = ("cheapest by what is used in the middle of each band", "`solve --middle`")
        recipe = f"The recipe is the {by}, as {how} gives it: save it with -o."
        nothing = " Fitting it to whole packs would save nothing." if asked else ""
        notes = [Note("recipe_as_solved", f"{first} {recipe}{nothing}")]
    if adapted and any(limit.over is Over.COST for limit in formulation.problem.limits):
        text = "Your target on cost counts what is used, so it is not held against whole packs."
        notes.append(Note("cost_not_held", text))
    if adapted and formulation.problem.volume_l is None:
        notes.append(Note("size_fixed", "The size is that of the recipe before, or a little less."))
    return tuple(notes)


def _total(lines: Sequence[BuyLine]) -> float:
    return round(sum(line.cost for line in lines), 2)


def _lines(formulation: Formulation, listed: _Listed, prices: tuple[UnitPrice, ...]) -> tuple[BuyLine, ...]:
    answer, terms = listed.answer, listed.terms
    bought = _Bought(terms, prices, listed.packs.tolist())
    used = answer.masses_kg.sum(axis=0)
    lines: list[BuyLine] = []
    parts = {part for purchase in answer.problem.purchases for part, _ in purchase.parts}
    for position, ingredient in enumerate(formulation.ingredients):
        if position not in parts:
            lines += _of_thing(Thing(False, position), ingredient.id, float(used[position]), bought)
    for position, purchase in enumerate(answer.problem.purchases):
        amount = float(answer.purchases_kg[position])
        lines += _of_thing(Thing(True, position), purchase.name, amount, bought)
    return tuple(sorted(lines, key=lambda line: (line.cost <= 0.0, line.supplier)))


@dataclass(frozen=True)
class _Bought:
    """Packs with their prices, and how many of each."""

    terms: WholeTerms
    prices: tuple[UnitPrice, ...]
    counts: list[float]


def _of_thing(thing: Thing, name: str, used_kg: float, packs: _Bought) -> list[BuyLine]:
    """List the packs of one thing, and what it needs no pack for."""
    taken = [
        (pack, price, count)
        for pack, price, count in zip(packs.terms.packs, packs.prices, packs.counts, strict=True)
        if pack.thing == thing and pack.size_kg * count > (NEEDED_KG if pack.loose else 0.0)
    ]
    stock = packs.terms.stock_of(thing)
    bought = sum(pack.size_kg * count for pack, _, count in taken)
    from_stock = min(stock, used_kg)
    # Without a pack it is on tap.
    has_rest = stock > 0.0 or bought > 0.0
    left = max(stock + bought - used_kg, 0.0) if has_rest and used_kg > NEEDED_KG else 0.0
    if not taken:
        if used_kg <= NEEDED_KG:
            return []
        word = "on hand" if from_stock > 0.0 else ""
        return [BuyLine(name, "", None, word, 0.0, 0.0, used_kg, from_stock, left)]
    first = _line(*taken[0], name)
    lines = [replace(first, used_kg=used_kg, from_stock_kg=from_stock, left_kg=left)]
    return [*lines, *(_line(pack, price, count, name) for pack, price, count in taken[1:])]


def _line(pack: Pack, price: UnitPrice, count: float, name: str) -> BuyLine:
    billed = price.billed(count)
    return BuyLine(
        name=name,
        supplier=pack.supplier,
        packs=None if pack.loose else round(count),
        pack=pack.name,
        bought_kg=pack.size_kg * count,
        cost=billed.cost,
        used_kg=0.0,
        from_stock_kg=0.0,
        left_kg=0.0,
        without_tax=billed.net,
        tax=billed.tax,
        deposit=billed.deposit,
        each=price,
    )
