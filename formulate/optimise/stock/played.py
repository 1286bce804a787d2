"""A plan played through period by period, the oldest lot first: how it is verified, without the program."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.stock.question import StockPlan, StockQuestion
from formulate.optimise.tolerances import INTEGER_FEASIBILITY

__all__ = ["Played", "broken_rule", "carriage_paid", "play"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Played:
    """What a plan comes to; shapes (goods, periods + 1), the last column for the end.

    Attributes
    ----------
    spoiled_kg : ndarray
        What is no longer good at the start of each period.
    left_kg : ndarray, shape (goods,)
        Still good when the last period is over, what shall be there among it.
    """

    missing_kg: FloatArray
    spoiled_kg: FloatArray
    left_kg: FloatArray


def play(question: StockQuestion, plan: StockPlan) -> Played:
    """Play a plan through, the oldest lot first.

    Uses nothing of the program: it is how a plan is verified. What a plan says it is short of is missing.
    Oldest first wastes nothing where strength falls by the same share all the time (`physics.ageing`).
    """
    periods, goods, clock = question.periods, question.goods, question.clock
    inflow, outflow = _flows(question, plan)
    missing, spoiled = (np.zeros((len(goods), periods + 1)) for _ in range(2))
    left = np.zeros(len(goods))
    for number, poured in enumerate(goods):
        coming = [(period, float(kg), 0.0) for period, kg in enumerate(inflow[number]) if kg > 0.0]
        coming += [(lot.period, lot.kg, lot.age) for lot in question.given[number]]
        # What is past its time first.
        lots = [[question.served_until(number, *_when(lot)), lot[0], lot[1], lot[2]] for lot in coming]
        lots.sort(key=lambda lot: (lot[0], lot[1]))
        lasting = question.lasting[number]
        for period in range(periods + 1):
            wanted = float(outflow[number, period])
            for lot in lots:
                until, came, kg, age = lot
                if kg <= 0.0 or came > period:
                    continue
                if until <= period and not lasting:
                    spoiled[number, period] += kg
                    lot[2] = 0.0
                    continue
                # Weaker with age, so more of it is taken, and more stays for what shall be there at the end.
                strength = poured.left_after(clock[period] - clock[int(came)] + age)
                taken = min(kg, wanted / strength)
                wanted -= taken * strength
                lot[2] -= taken
                left[number] += taken if period == periods else 0.0
            missing[number, period] = wanted
        left[number] += sum(lot[2] for lot in lots)
    return Played(missing, spoiled, left)


def _when(lot: tuple[int, float, float]) -> tuple[int, float]:
    return lot[0], lot[2]


def broken_rule(question: StockQuestion, plan: StockPlan) -> str:
    """Say which rule of making or ordering a plan breaks; empty for none.

    Looks at what `play` does not: vessels, sizes of batches, when they are begun, orders.
    """
    vessels = 1 + max((making.vessel or 0 for making in question.makings), default=0)
    held = np.zeros((vessels, question.periods))
    for number, making in enumerate(question.makings):
        made, batches = plan.made_kg[number], plan.batches[number]
        name = question.goods[making.good].name
        begun = making.begun(question.periods)
        if any(
            made[period] > INTEGER_FEASIBILITY for period in range(question.periods) if period not in begun
        ):
            return f"{name} would be ready before it can be"
        if making.batch_kg is None:
            continue
        if (made > batches * making.batch_kg * (1.0 + INTEGER_FEASIBILITY) + INTEGER_FEASIBILITY).any():
            return f"a batch of {name} would be more than its vessel holds"
        if (made < batches * making.least_kg * (1.0 - INTEGER_FEASIBILITY) - INTEGER_FEASIBILITY).any():
            return f"a batch of {name} would be less than the least"
        for ready, first in begun.items() if making.vessel is not None else ():
            for period in range(first, question.periods):
                held[making.vessel, period] += batches[ready] * question.holds(making, first, period)
    if (held > 1.0 + INTEGER_FEASIBILITY).any():
        return "a vessel would hold two batches at once"
    return _broken_order(question, plan)


def _broken_order(question: StockQuestion, plan: StockPlan) -> str:
    for number, pack in enumerate(question.packs):
        taken = plan.packs[number]
        when = range(question.periods) if pack.deliveries is None else pack.deliveries
        if any(
            taken[period] > INTEGER_FEASIBILITY for period in range(question.periods) if period not in when
        ):
            return f"{pack.supplier} would come on a day they do not"
        if ((taken > INTEGER_FEASIBILITY) & (taken < pack.at_least - INTEGER_FEASIBILITY)).any():
            return f"a price of {pack.supplier} would be paid for fewer packs than it holds for"
    for supplier, least in question.least_order:
        ordered = _ordered(question, plan, supplier)
        if ((ordered > INTEGER_FEASIBILITY) & (ordered < least * (1.0 - INTEGER_FEASIBILITY))).any():
            return f"an order from {supplier} would be less than the least"
    every = np.array([pack.counted for pack in question.packs])
    for periods, most in question.budgets:
        if float((every @ plan.packs)[list(periods)].sum()) > most * (1.0 + INTEGER_FEASIBILITY):
            return "more would be ordered than the budget allows"
    return ""


def _ordered(question: StockQuestion, plan: StockPlan, supplier: str) -> FloatArray:
    """Return what is ordered from a supplier, as they count it, shape (periods,)."""
    counted = np.array([pack.counted * (pack.supplier == supplier) for pack in question.packs])
    return counted @ plan.packs if len(counted) else np.zeros(question.periods)


def carriage_paid(question: StockQuestion, plan: StockPlan) -> dict[tuple[str, int], float]:
    """Return what is paid for bringing orders, by supplier and period."""
    paid = {}
    for carriage in question.carriage:
        for period, ordered in enumerate(_ordered(question, plan, carriage.supplier)):
            is_free = ordered >= carriage.free_from * (1.0 - INTEGER_FEASIBILITY)
            if ordered > INTEGER_FEASIBILITY and not is_free:
                paid[carriage.supplier, period] = carriage.price
    return paid


def _flows(question: StockQuestion, plan: StockPlan) -> tuple[FloatArray, FloatArray]:
    """Add up what comes and what goes, shapes (goods, periods) and (goods, periods + 1)."""
    periods, goods = question.periods, question.goods
    inflow = np.zeros((len(goods), periods))
    for number, pack in enumerate(question.packs):
        came = pack.size_kg * plan.packs[number]
        if pack.thing.is_purchase:
            for good, share in question.splits[pack.thing.number].parts:
                inflow[good] += share * came
        else:
            inflow[pack.thing.number] += came
    outflow = np.zeros((len(goods), periods + 1))
    for number, poured in enumerate(goods):
        outflow[number, :periods] += poured.demand_kg
        outflow[number, periods] += poured.end_kg
    bottles = plan.bottles(question)
    for number, making in enumerate(question.makings):
        inflow[making.good] += plan.made_kg[number]
        for ready, begun in making.begun(periods).items():
            for good, rate in making.uses:
                outflow[good, begun] += rate * plan.made_kg[number, ready]
            for good, amount in making.batch_uses:
                outflow[good, begun] += amount * plan.batches[number, ready]
            for good, amount in making.filled_with:
                outflow[good, begun] += amount * bottles[number, ready]
    return inflow, outflow
