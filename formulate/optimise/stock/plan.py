"""What to buy and make when, for what is poured: a program in whole numbers (`program`)."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from contextvars import copy_context
from dataclasses import replace
from time import perf_counter

import numpy as np

from formulate.errors import NotConvergedError
from formulate.optimise.linear import LinearModel, LinearResult, LinearStatus, RowBuilder
from formulate.optimise.pulp_model import solve_model
from formulate.optimise.stock.fix_and_optimise import fix_and_optimise
from formulate.optimise.stock.lot_sizing import with_lot_sizing_inequalities
from formulate.optimise.stock.played import carriage_paid
from formulate.optimise.stock.program import StockProgram, lay_out
from formulate.optimise.stock.question import StockPlan, StockQuestion
from formulate.optimise.tolerances import GAP_INTEGER, PACK_SLACK
from formulate.optimise.watch import is_stopped

__all__ = ["plan_stock"]

SHARE_FOR_LOTS = 0.2
SHARE_FOR_FIRST, SECONDS_FOR_FIRST = 0.15, 1.0
SECONDS_TO_SETTLE = 5.0
EARLIER, FILL_UP = 1e-3, 3.0
"""Weights of a kilogram made a period later, and of one that fills a bottle up, where none costs anything."""


def plan_stock(
    question: StockQuestion,
    *,
    seconds: float = 60.0,
    gap: float = GAP_INTEGER,
    start: StockPlan | None = None,
) -> StockPlan:
    """Find the cheapest buying and making.

    Parameters
    ----------
    seconds : float
        Stop after this long with what was found.
    gap : float
        Good enough.
    start : StockPlan, optional
        A plan of the same question, perhaps with fewer makings, that the search begins from.

    Returns
    -------
    StockPlan
        Where the vessels cannot make enough, the one that is short of the least; see `short_kg`.

    Raises
    ------
    NotConvergedError
        If nothing was found in time.
    """
    program = lay_out(question)
    if not program.model.columns:
        nothing = np.zeros((0, question.periods))
        short = np.zeros((len(question.goods), question.periods))
        return StockPlan(nothing, nothing, nothing, short, 0.0, 0.0, 0.0, True)
    known = {} if start is None else _start(question, program, start)
    result = _search(question, program, known, seconds, gap)
    if result.status is LinearStatus.INFEASIBLE:
        program = lay_out(question, may_be_short=True)
        known = {} if start is None else _start(question, program, start)
        result = solve_model(program.model, seconds=seconds, gap=gap, start=known, tells=True)
    if not result.values.size:
        raise NotConvergedError(1, float("inf"))
    return _plan(question, program, _settled(program, result))


def _settled(program: StockProgram, result: LinearResult) -> LinearResult:
    """Of plans with the same packs and batches that cost the same take one, whichever was found.

    Bottles that are begun are filled up where that costs nothing; else no more is made than must be, and
    rather early than late.
    """
    model, values = program.model, result.values
    lower, upper = model.column_lower.copy(), model.column_upper.copy()
    whole = np.flatnonzero(model.integer)
    lower[whole] = upper[whole] = np.round(values[whole])
    wish = np.zeros(model.columns)
    for place, ((number, ready), column) in enumerate(program.made.items()):
        later = 1.0 + EARLIER * ready + EARLIER**2 * place
        wish[column] = later - (FILL_UP if (number, ready) in program.filled else 0.0)
    rows = RowBuilder()
    spent = np.flatnonzero(model.cost)
    rows.add(spent, model.cost[spent], -np.inf, result.objective + PACK_SLACK * abs(result.objective))
    fixed = replace(model, cost=wish, column_lower=lower, column_upper=upper).with_rows(rows)
    settled = solve_model(fixed, seconds=SECONDS_TO_SETTLE, gap=GAP_INTEGER)
    return replace(result, values=settled.values) if settled.values.size else result


def _search(
    question: StockQuestion, program: StockProgram, known: Mapping[int, float], seconds: float, gap: float
) -> LinearResult:
    """Look for a first plan where none is known; one not proved soon is bettered while the proof goes on."""
    until = perf_counter() + seconds
    model = with_lot_sizing_inequalities(question, program, SHARE_FOR_LOTS * seconds)
    if not known:
        soon = max(SHARE_FOR_FIRST * seconds, SECONDS_FOR_FIRST)
        first = solve_model(model, seconds=min(soon, seconds), gap=gap, tells=True)
        left = max(until - perf_counter(), 1.0)
        if first.status is not LinearStatus.INTERRUPTED or (first.values.size and is_stopped()):
            return first
        if not first.values.size:
            return solve_model(model, seconds=left, gap=gap, tells=True)
        known = {
            int(column): float(np.round(first.values[column])) for column in np.flatnonzero(model.integer)
        }
    return _bettered(question, program, model, known, max(until - perf_counter(), 1.0), gap)


def _bettered(
    question: StockQuestion,
    program: StockProgram,
    model: LinearModel,
    known: Mapping[int, float],
    seconds: float,
    gap: float,
) -> LinearResult:
    """Prove on one core and better the known plan on another; a proof that ends has the last word."""
    began, columns = perf_counter(), list(known)
    with ThreadPoolExecutor(1) as beside:
        proof = beside.submit(
            copy_context().run, solve_model, model, seconds=seconds, gap=gap, start=known, tells=True
        )
        lower, upper = model.column_lower.copy(), model.column_upper.copy()
        lower[columns] = upper[columns] = list(known.values())
        better = solve_model(replace(program.model, column_lower=lower, column_upper=upper), seconds=seconds)
        if better.values.size:
            left = seconds - (perf_counter() - began)
            better = fix_and_optimise(question, program, better, left, lambda: proof.done() or is_stopped())
        proved = proof.result()
    if proved.status is not LinearStatus.INTERRUPTED or not better.values.size:
        return proved
    if proved.values.size and proved.objective <= better.objective:
        return proved
    bound = proved.proven_bound if np.isfinite(proved.proven_bound) else 0.0
    return replace(better, status=LinearStatus.INTERRUPTED, proven_bound=bound)


def _start(question: StockQuestion, program: StockProgram, plan: StockPlan) -> dict[int, float]:
    """Put a known plan's whole numbers into the program; the rest follows from them."""
    known = {column: float(plan.packs[number, period]) for (number, period), column in program.packs.items()}
    for (number, period), column in program.batches.items():
        known[column] = float(plan.batches[number, period]) if number < len(plan.batches) else 0.0
    for (supplier, period), column in program.ordered.items():
        own = [number for number, pack in enumerate(question.packs) if pack.supplier == supplier]
        known[column] = float(plan.packs[own, period].sum() > 0.0)
    return {column: value for column, value in known.items() if program.model.integer[column]}


def _plan(question: StockQuestion, program: StockProgram, result: LinearResult) -> StockPlan:
    periods, values = question.periods, result.values
    packs = np.zeros((len(question.packs), periods))
    for (number, period), column in program.packs.items():
        loose = question.packs[number].loose
        packs[number, period] = max(values[column], 0.0) if loose else round(values[column])
    made, batches = (np.zeros((len(question.makings), periods)) for _ in range(2))
    for (number, period), column in program.made.items():
        made[number, period] = max(values[column], 0.0)
    for (number, period), column in program.batches.items():
        batches[number, period] = round(values[column])
    short = np.zeros((len(question.goods), periods))
    for (good, period), column in program.short.items():
        short[good, min(period, periods - 1)] += max(values[column], 0.0)
    prices = np.array([pack.price for pack in question.packs])
    labour = np.array([making.labour for making in question.makings])
    cost = float(prices @ packs.sum(axis=1)) if len(prices) else 0.0
    cost += float(labour @ batches.sum(axis=1)) if len(labour) else 0.0
    proved = result.status is LinearStatus.OPTIMAL
    plan = StockPlan(packs, made, batches, short, cost, float(result.objective), result.gap, proved)
    return replace(plan, cost=cost + sum(carriage_paid(question, plan).values()))
