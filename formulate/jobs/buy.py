"""`buy`: a bottle file to the packs to buy for it.

The recipe is the cheapest one by use, as `solve` gives it, and the packs are the cheapest that hold
it. Only when asked is it moved within its limits to make the best of whole packs. What is on hand is
used first and costs nothing more. The money shown is the sum of the packs shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from formulate.bar.least_orders import kept_orders
from formulate.describe.buy_record import Adaptation, BuyLine, BuyRecord
from formulate.describe.records import DrinkRecord
from formulate.describe.reformulate_record import Figures, Move
from formulate.describe.solved import SolvedBottle, solved_record
from formulate.describe.vessels import TOLD
from formulate.errors import InfeasibleError, NotConvergedError, Note, VerificationError
from formulate.files.models import Source
from formulate.formulation.bottle import Formulation
from formulate.formulation.choices import choices_of
from formulate.formulation.on_sale import on_sale
from formulate.jobs.solve import solve_bottle
from formulate.optimise.answer import Answer, Status
from formulate.optimise.mip.integer_terms import IntegerTerms
from formulate.optimise.problem import Over
from formulate.optimise.tolerances import NOTHING_BOUGHT_KG
from formulate.planning.buying_list import CENT, PackList, buy_lines, cheapest_list, fitted_list, money_saved
from formulate.rules.duty import duty_note
from formulate.rules.law_notes import shown_everywhere

__all__ = ["buy_bottle"]


SECONDS = 20.0
SECONDS_TO_TELL = 5.0
"""For a remark on what fitting the recipe would save."""
_OF_THE_LIST = ("not_used", "price_past", "offer_past", "price_old")
MOVED = 5e-4
"""A mass that changes by a smaller share stays as it is."""


def buy_bottle(
    path: Source,
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

    Raises
    ------
    SpecError, InfeasibleError, UnboundedError, NotConvergedError, VerificationError
        See `solve.solve_bottle`.
    """
    solved = solve_bottle(path, today=today, middle=middle)
    formulation = solved.formulation
    offered = on_sale(formulation, use_stock=use_stock)
    terms = IntegerTerms(
        batch_l=solved.answer.volume_l,
        choices=choices_of(formulation),
        packs=offered.packs,
        stock_kg=offered.stock_kg,
        stock_bought_kg=offered.stock_bought_kg,
        least_order=offered.least_order,
        leftover_share=leftover_share,
    )
    listed = cheapest_list(formulation, solved.answer, terms)
    try:
        fitted = fitted_list(formulation, solved.answer, terms, SECONDS if adapt else SECONDS_TO_TELL)
    except (InfeasibleError, NotConvergedError, VerificationError):
        if adapt:
            raise
        fitted = None
    saves = None if fitted is None else money_saved(listed, fitted)
    adaptation = None
    if adapt and fitted is not None and saves is not None and saves >= CENT:
        drink = _drink(formulation, fitted.answer)
        adaptation = _adaptation(solved, fitted, drink, saves)
        solved, listed = replace(solved, record=drink, answer=fitted.answer), fitted
    lines = buy_lines(formulation, listed, offered.prices)
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
        else buy_lines(formulation, replace(listed, packs=listed.elsewhere), offered.prices),
        adapted=adaptation,
        could_save=None if adapt else saves,
        notes=(
            *shown_everywhere(solved.record.notes),
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


def _adaptation(solved: SolvedBottle, fitted: PackList, drink: DrinkRecord, saved: float) -> Adaptation:
    """Hold the recipe fitted to the packs against the cheapest one by use, at the new size."""
    before, after = solved.answer, fitted.answer
    size = after.volume_l / before.volume_l
    floor = NOTHING_BOUGHT_KG * after.volume_l
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
    return Adaptation(
        saved=saved,
        proved=fitted.proved,
        moves=tuple(moves),
        before=Figures.of_record(solved.record),
        after=Figures.of_record(drink),
    )


def _drink(formulation: Formulation, answer: Answer) -> DrinkRecord:
    """Tell of the recipe; that it costs the least is proved of the list, not of what is used."""
    record = solved_record(formulation, replace(answer, status=Status.FEASIBLE))
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
