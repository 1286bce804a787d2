"""What a bar buys and makes over time, as numbers: the question, an answer, and what it is short of.

Time runs in periods: weeks, days, or stretches between the days on which anything comes or is ready. What
keeps and takes so long is counted in the unit of `StockQuestion.starts`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.tolerances import ROUNDING

__all__ = ["Carriage", "Good", "Lot", "Making", "Split", "StockPlan", "StockQuestion"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lot:
    """Something that is there, or will come, without being bought or made.

    Attributes
    ----------
    period : int
        From which it is there.
    age : float
        How long it has been kept by then.
    """

    period: int
    kg: float
    age: float = 0.0


@dataclass(frozen=True, slots=True)
class Good:
    """Something that is poured, kept or used to make something else.

    Attributes
    ----------
    demand_kg : tuple of float
        Poured in each period.
    stock_kg : float
        There at the start, as fresh as a new delivery.
    end_kg : float
        That must be there when all is over, as strong as what is poured.
    keeps : float or None
        How long a delivery or batch serves, at least the period it comes in; None to the end.
    rest_most_kg : float
        As much of a rest as is still worth anything.
    strength_left : tuple of float
        What is left of its strength so long after it came, falling from 1; empty where it loses none.
        What is asked of it later takes as much more.
    rest_steps : tuple of (float, float)
        Amounts of a rest and the share of their price they are still worth, falling; empty for all of it.
    lots : tuple of Lot
        What is there beside `stock_kg`.
    waste_cost : float
        Money for each kilogram of it that is made and never used in its time.
    """

    name: str
    demand_kg: tuple[float, ...]
    stock_kg: float = 0.0
    end_kg: float = 0.0
    keeps: float | None = None
    rest_most_kg: float = np.inf
    strength_left: tuple[float, ...] = ()
    rest_steps: tuple[tuple[float, float], ...] = ()
    lots: tuple[Lot, ...] = ()
    waste_cost: float = 0.0

    def left_after(self, time: float) -> float:
        """Return what is left of its strength so long after it came."""
        return self.strength_left[min(int(time), len(self.strength_left) - 1)] if self.strength_left else 1.0


@dataclass(frozen=True, slots=True)
class Split:
    """A whole thing that is taken apart when it comes: goods, and kilograms of each from one of it."""

    name: str
    parts: tuple[tuple[int, float], ...]
    stock_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Making:
    """One way a good is made; several recipes of one bottle are several ways.

    Attributes
    ----------
    uses : tuple of (int, float)
        Goods, and kilograms of each for one kilogram made.
    batch_kg : float or None
        Most that one batch gives; None for any amount without batches.
    least_kg : float
        Least that one batch gives.
    vessel : int or None
        Which one it holds.
    takes : float
        How long it holds it.
    labour : float
        Money for one batch.
    is_second_choice : bool
        Taken only where it saves something.
    batch_uses : tuple of (int, float)
        Goods, and kilograms of each for one batch, whatever it gives.
    slots : tuple of (int, int) or None
        Periods in which a batch may be begun, and from which it is then there. None for every period; what
        takes no longer than one is then there in the same.
    filled_kg : float
        What one bottle of it holds, where it is bottled; else 0.
    filled_with : tuple of (int, float)
        Goods, and kilograms of each, that each bottle takes, one begun among them.
    """

    good: int
    uses: tuple[tuple[int, float], ...]
    batch_kg: float | None = None
    least_kg: float = 0.0
    vessel: int | None = None
    takes: float = 0.0
    labour: float = 0.0
    is_second_choice: bool = False
    batch_uses: tuple[tuple[int, float], ...] = ()
    slots: tuple[tuple[int, int], ...] | None = None
    filled_kg: float = 0.0
    filled_with: tuple[tuple[int, float], ...] = ()

    def begun(self, periods: int) -> dict[int, int]:
        """Return the periods from which a batch may be there, and in which each of these is begun."""
        if self.slots is not None:
            return {ready: begun for begun, ready in self.slots if ready < periods}
        before = max(ceil(self.takes - ROUNDING), 1) - 1
        return {ready: ready - before for ready in range(before, periods)}


@dataclass(frozen=True, slots=True)
class Carriage:
    """What a supplier asks for bringing an order: money, and from which order on it is free."""

    supplier: str
    price: float
    free_from: float


@dataclass(frozen=True)
class StockQuestion:
    """What is asked.

    Attributes
    ----------
    packs : tuple of Pack
        `Pack.thing` numbers a good, or a split where it is a purchase.
    least_order : tuple of (str, float)
        Supplier, and the least money of an order, as the supplier counts it (`Pack.counted`).
    leftover_share : float
        What a rest of what keeps is still worth, 0 to 1 of its lowest price.
    starts : tuple of float
        When each period begins, and when the last is over; empty for periods of one unit.
    carriage : tuple of Carriage
    budgets : tuple of (tuple of int, float)
        Periods, and the most money that may be ordered for them together, as suppliers count it.
    """

    periods: int
    goods: tuple[Good, ...]
    splits: tuple[Split, ...] = ()
    packs: tuple[Pack, ...] = ()
    makings: tuple[Making, ...] = ()
    least_order: tuple[tuple[str, float], ...] = ()
    leftover_share: float = 0.0
    starts: tuple[float, ...] = ()
    carriage: tuple[Carriage, ...] = ()
    budgets: tuple[tuple[tuple[int, ...], float], ...] = ()

    @cached_property
    def clock(self) -> tuple[float, ...]:
        """When each period begins, and when the last is over."""
        return self.starts or tuple(float(period) for period in range(self.periods + 1))

    def served_until(self, good: int, period: int, age: float = 0.0) -> int:
        """Return the first period that a lot does not serve, `periods` standing for the end.

        Parameters
        ----------
        period : int
            In which it comes; a fresh lot serves that at the least.
        age : float
            How long it has been kept by then.
        """
        keeps, clock = self.goods[good].keeps, self.clock
        if keeps is None:
            return self.periods + 1
        until = clock[period] - age + keeps + ROUNDING
        first = period if age > 0.0 else period + 1
        ends = [*clock[first + 1 :], clock[-1] + 1.0]
        return first + sum(1 for end in ends if end <= until)

    def first_serving(self, good: int, period: int) -> int:
        """Return the first period in which a fresh lot may come that still serves another."""
        return next(came for came in range(period + 1) if self.served_until(good, came) > period)

    @cached_property
    def lasting(self) -> tuple[bool, ...]:
        """Whether each good keeps to the end."""
        return tuple(self._lasts(number) for number in range(len(self.goods)))

    def _lasts(self, good: int) -> bool:
        one = self.goods[good]
        if one.strength_left:
            return False
        needed = self.periods + 1 if one.end_kg else self.periods
        ends = [self.served_until(good, 0)]
        ends += [self.served_until(good, lot.period, lot.age) for lot in one.lots]
        return min(ends) >= needed

    @cached_property
    def passed_on(self) -> frozenset[int]:
        """Goods that are made only for what is made of them in the same period."""
        made: dict[int, bool] = {}
        for making in self.makings:
            good = self.goods[making.good]
            is_poured = any(good.demand_kg) or good.end_kg > 0.0 or good.stock_kg > 0.0 or good.lots
            at_once = all(ready == begun for ready, begun in making.begun(self.periods).items())
            at_once &= len(making.begun(self.periods)) == self.periods
            for_now = all(
                self.served_until(making.good, period) == period + 1 for period in range(self.periods)
            )
            is_passed_on = at_once and for_now and not is_poured
            made[making.good] = made.get(making.good, True) and is_passed_on
        return frozenset(good for good, is_passed_on in made.items() if is_passed_on)

    @cached_property
    def given(self) -> tuple[tuple[Lot, ...], ...]:
        """What is there of each good without being bought or made, what is in whole things with it."""
        lots = [[*([Lot(0, good.stock_kg)] if good.stock_kg else []), *good.lots] for good in self.goods]
        for split in self.splits:
            for good, share in split.parts:
                if split.stock_kg:
                    lots[good].append(Lot(0, share * split.stock_kg))
        return tuple(map(tuple, lots))

    def there_kg(self, good: int, first: int = 0, last: int = 0) -> float:
        """Return how much of a good is given from one period to another."""
        return sum(lot.kg for lot in self.given[good] if first <= lot.period <= last)

    def deliveries(self, pack: Pack) -> tuple[int, ...]:
        """Periods at whose start a pack may come.

        What keeps to the end is never worth less for coming at the first of them, unless money or
        carriage are counted order by order.
        """
        thing = pack.thing
        slots = tuple(range(self.periods)) if pack.deliveries is None else pack.deliveries
        goods = [good for good, _ in self.splits[thing.number].parts] if thing.is_purchase else [thing.number]
        is_bound = pack.supplier in self._counted_by_order or bool(self.budgets)
        return slots[:1] if not is_bound and all(self.lasting[good] for good in goods) else slots

    @cached_property
    def _counted_by_order(self) -> frozenset[str]:
        return frozenset(
            [supplier for supplier, least in self.least_order if least > 0.0]
            + [carriage.supplier for carriage in self.carriage if carriage.price > 0.0]
        )

    def most_batches(self, making: Making, most_kg: float) -> int:
        """Return how many batches of a making can be worth while for so much of it."""
        slots = len(making.begun(self.periods))
        if making.vessel is None or making.takes <= 0.0:
            return slots * max(ceil(most_kg / (making.batch_kg or 1.0)), 1)
        return ceil((self.clock[-1] - self.clock[0]) / making.takes)

    def holds(self, making: Making, begun: int, period: int) -> float:
        """Return the share of a period for which a batch begun in another holds its vessel."""
        clock = self.clock
        since, until = clock[period], clock[period + 1]
        held = min(clock[begun] + making.takes, until) - max(clock[begun], since)
        return max(held, 0.0) / (until - since)

    @property
    def needs_kg(self) -> dict[Thing, float]:
        """The most that could be needed of everything sold, stock left aside."""
        # Of several ways to make one thing the one that takes most.
        users: dict[int, dict[int, float]] = {}
        by_batch: dict[int, list[tuple[Making, float]]] = {}
        least: dict[int, float] = {}
        for making in self.makings:
            beyond = making.least_kg * self.most_batches(making, 0.0)
            least[making.good] = max(least.get(making.good, 0.0), beyond)
            for good, amount in (*making.batch_uses, *making.filled_with):
                by_batch.setdefault(good, []).append((making, amount))
            rates = [*making.uses, *((good, each / making.filled_kg) for good, each in making.filled_with)]
            for good, rate in rates:
                taken = users.setdefault(good, {})
                taken[making.good] = max(taken.get(making.good, 0.0), rate)
        known: dict[int, float] = {}

        def out(good: int) -> float:
            if good not in known:
                used = sum(rate * (out(made) + least[made]) for made, rate in users.get(good, {}).items())
                for making, amount in by_batch.get(good, ()):
                    used += amount * self.most_batches(making, out(making.good) + least[making.good])
                # Used last, of what came first.
                poured = self.goods[good]
                weakest = poured.left_after(self.clock[-1] - self.clock[0])
                known[good] = (sum(poured.demand_kg) + used + poured.end_kg) / weakest
            return known[good]

        needs = {Thing(False, good): out(good) for good in range(len(self.goods))}
        for number, split in enumerate(self.splits):
            needs[Thing(True, number)] = max((out(good) / share for good, share in split.parts), default=0.0)
        return needs


@dataclass(frozen=True)
class StockPlan:
    """An answer.

    Attributes
    ----------
    packs : ndarray, shape (packs, periods)
        How many come at the start of each period.
    made_kg, batches : ndarray, shape (makings, periods)
        By the period from which they are there.
    short_kg : ndarray, shape (goods, periods)
        What could not be had in time; zeros in a plan that works.
    cost : float
        Of packs, carriage and labour.
    net_cost : float
        The same less what rests are worth and with what is thrown away; this is what is made least.
    proven_gap : float
        How much dearer, relative, than the cheapest this may be, rests counted at their worth.
    proved : bool
        Whether the search ended of itself.
    """

    packs: FloatArray
    made_kg: FloatArray
    batches: FloatArray
    short_kg: FloatArray
    cost: float
    net_cost: float
    proven_gap: float
    proved: bool

    def bottles(self, question: StockQuestion) -> FloatArray:
        """Return how many bottles each batch fills, the last perhaps in part, shape (makings, periods)."""
        sizes = np.array([[making.filled_kg or np.inf] for making in question.makings]).reshape(-1, 1)
        bottles: FloatArray = np.ceil(self.made_kg / sizes - BEGUN_SHARE)
        return bottles


BEGUN_SHARE = 1e-6
"""Less than this of a bottle is rounding."""
