"""What a bar buys and makes week by week, as numbers: the question, an answer, and what it is short of."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from formulate.optimise.mip.packs import Pack, Thing
from formulate.optimise.tolerances import INTEGER_FEASIBILITY, ROUNDING

__all__ = ["Good", "Making", "Played", "Split", "StockPlan", "StockQuestion", "broken_rule", "play"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Good:
    """Something that is poured, kept or used to make something else.

    Attributes
    ----------
    demand_kg : tuple of float
        Poured in each week.
    stock_kg : float
        There at the start, as fresh as a new delivery.
    end_kg : float
        That must be there when the last week is over, as strong as what is poured.
    keeps_weeks : int or None
        How many weeks a delivery or batch serves, its own among them; None to the end.
    rest_most_kg : float
        As much of a rest as is still worth anything.
    strength_left : tuple of float
        What is left of its strength so many weeks after it came, falling from 1; empty where it loses none.
        What is asked of it later takes as much more.
    rest_steps : tuple of (float, float)
        Amounts of a rest and the share of their price they are still worth, falling; empty for all of it.
    """

    name: str
    demand_kg: tuple[float, ...]
    stock_kg: float = 0.0
    end_kg: float = 0.0
    keeps_weeks: int | None = None
    rest_most_kg: float = np.inf
    strength_left: tuple[float, ...] = ()
    rest_steps: tuple[tuple[float, float], ...] = ()

    def left_after(self, weeks: int) -> float:
        """Return what is left of its strength so many weeks after it came."""
        return self.strength_left[min(weeks, len(self.strength_left) - 1)] if self.strength_left else 1.0


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
    takes_weeks : float
        How long. What takes no more than a week is ready in the week it is begun.
    labour : float
        Money for one batch.
    is_second_choice : bool
        Taken only where it saves something.
    batch_uses : tuple of (int, float)
        Goods, and kilograms of each for one batch, whatever it gives.
    """

    good: int
    uses: tuple[tuple[int, float], ...]
    batch_kg: float | None = None
    least_kg: float = 0.0
    vessel: int | None = None
    takes_weeks: float = 0.0
    labour: float = 0.0
    is_second_choice: bool = False
    batch_uses: tuple[tuple[int, float], ...] = ()

    @property
    def weeks_before(self) -> int:
        """How many weeks before it is ready it is begun."""
        return max(ceil(self.takes_weeks - ROUNDING), 1) - 1

    def holds(self, week: int) -> float:
        """Return the share of a week for which it holds its vessel, `week` weeks after it was begun."""
        return min(max(self.takes_weeks - week, 0.0), 1.0)


@dataclass(frozen=True)
class StockQuestion:
    """What is asked.

    Attributes
    ----------
    packs : tuple of Pack
        `Pack.thing` numbers a good, or a split where it is a purchase.
    least_order : tuple of (str, float)
        Supplier, and the least money of a delivery.
    leftover_share : float
        What a rest of what keeps is still worth, 0 to 1 of its lowest price.
    """

    weeks: int
    goods: tuple[Good, ...]
    splits: tuple[Split, ...] = ()
    packs: tuple[Pack, ...] = ()
    makings: tuple[Making, ...] = ()
    least_order: tuple[tuple[str, float], ...] = ()
    leftover_share: float = 0.0

    def is_lasting(self, good: int) -> bool:
        """Whether a good keeps to the end."""
        if self.goods[good].strength_left:
            return False
        keeps = self.goods[good].keeps_weeks
        return keeps is None or keeps > self.weeks or (keeps == self.weeks and not self.goods[good].end_kg)

    @cached_property
    def passed_on(self) -> frozenset[int]:
        """Goods that are made only for what is made of them in the same week."""
        made: dict[int, bool] = {}
        for making in self.makings:
            made_good = self.goods[making.good]
            is_poured = any(made_good.demand_kg) or made_good.end_kg > 0.0
            is_kept = made_good.keeps_weeks != 1 or is_poured or made_good.stock_kg > 0.0
            made[making.good] = made.get(making.good, True) and not is_kept and making.weeks_before == 0
        return frozenset(good for good, is_passed_on in made.items() if is_passed_on)

    def life(self, good: int) -> int:
        """Return how many weeks what came serves, its own among them."""
        keeps = self.goods[good].keeps_weeks
        return self.weeks + 1 if keeps is None or self.is_lasting(good) else keeps

    def there_kg(self, good: int) -> float:
        """Return how much of a good is there at the start, what is in whole things counted."""
        inside = (
            share * split.stock_kg for split in self.splits for part, share in split.parts if part == good
        )
        return self.goods[good].stock_kg + sum(inside)

    def deliveries(self, pack: Pack) -> tuple[int, ...]:
        """Weeks at whose start a pack may come."""
        thing = pack.thing
        goods = [good for good, _ in self.splits[thing.number].parts] if thing.is_purchase else [thing.number]
        return (0,) if all(self.is_lasting(good) for good in goods) else tuple(range(self.weeks))

    @property
    def needs_kg(self) -> dict[Thing, float]:
        """The most that could be needed of everything sold, stock left aside."""
        # Of several ways to make one thing the one that takes most.
        users: dict[int, dict[int, float]] = {}
        by_batch: dict[int, list[tuple[Making, float]]] = {}
        least: dict[int, float] = {}
        for making in self.makings:
            least[making.good] = max(least.get(making.good, 0.0), making.least_kg)
            for good, amount in making.batch_uses:
                by_batch.setdefault(good, []).append((making, amount))
            for good, rate in making.uses:
                taken = users.setdefault(good, {})
                taken[making.good] = max(taken.get(making.good, 0.0), rate)
        known: dict[int, float] = {}

        def out(good: int) -> float:
            if good not in known:
                used = sum(
                    rate * (out(made) + least[made] * self.weeks)
                    for made, rate in users.get(good, {}).items()
                )
                for making, amount in by_batch.get(good, ()):
                    most = out(making.good) + least[making.good] * self.weeks
                    used += amount * ceil(most / (making.batch_kg or 1.0)) * self.weeks
                # Used last, of what came first.
                poured = self.goods[good]
                weakest = poured.left_after(self.weeks)
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
    packs : ndarray, shape (packs, weeks)
        How many come at the start of each week.
    made_kg, batches : ndarray, shape (makings, weeks)
        By the week in which they are ready.
    short_kg : ndarray, shape (goods, weeks)
        What could not be made in time; zeros in a plan that works.
    cost : float
        Of packs and labour.
    net_cost : float
        The same less what rests are worth; this is what is made least.
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


@dataclass(frozen=True)
class Played:
    """What a plan comes to, week by week; shapes (goods, weeks + 1), the last column for the end.

    Attributes
    ----------
    spoiled_kg : ndarray
        What is no longer good at the start of each week.
    left_kg : ndarray, shape (goods,)
        Still good when the last week is over, what shall be there among it.
    """

    missing_kg: FloatArray
    spoiled_kg: FloatArray
    left_kg: FloatArray


def play(question: StockQuestion, plan: StockPlan) -> Played:
    """Play a plan through week by week, the oldest lot first.

    Uses nothing of the program: it is how a plan is verified. What a plan says it is short of is missing.
    Oldest first wastes nothing where strength falls by the same share every week (`physics.ageing`).
    """
    weeks, goods = question.weeks, question.goods
    inflow, outflow = _flows(question, plan)
    missing, spoiled = (np.zeros((len(goods), weeks + 1)) for _ in range(2))
    left = np.zeros(len(goods))
    for number, poured in enumerate(goods):
        lots: list[tuple[int, list[float]]] = []
        life = question.life(number)
        for week in range(weeks + 1):
            if week < weeks:
                lots.append((week, [float(inflow[number, week])]))
            wanted = float(outflow[number, week])
            for came, lot in lots:
                if came + life <= week:
                    spoiled[number, week] += lot[0]
                    lot[0] = 0.0
                    continue
                # Weaker with age, so more of it is taken, and more stays for what shall be there at the end.
                strength = poured.left_after(week - came)
                taken = min(lot[0], wanted / strength)
                wanted -= taken * strength
                lot[0] -= taken
                left[number] += taken if week == weeks else 0.0
            missing[number, week] = wanted
        left[number] += sum(lot[0] for _, lot in lots)
    return Played(missing, spoiled, left)


def broken_rule(question: StockQuestion, plan: StockPlan) -> str:
    """Say which rule of making or ordering a plan breaks; empty for none.

    Looks at what `play` does not: vessels, sizes of batches, when they are begun, least orders.
    """
    held = np.zeros((1 + max((making.vessel or 0 for making in question.makings), default=0), question.weeks))
    for number, making in enumerate(question.makings):
        made, batches = plan.made_kg[number], plan.batches[number]
        name = question.goods[making.good].name
        if (made[: making.weeks_before] > INTEGER_FEASIBILITY).any():
            return f"{name} would be ready before it can be"
        if making.batch_kg is None:
            continue
        if (made > batches * making.batch_kg * (1.0 + INTEGER_FEASIBILITY) + INTEGER_FEASIBILITY).any():
            return f"a batch of {name} would be more than its vessel holds"
        if (made < batches * making.least_kg * (1.0 - INTEGER_FEASIBILITY) - INTEGER_FEASIBILITY).any():
            return f"a batch of {name} would be less than the least"
        for ready in range(question.weeks) if making.vessel is not None else ():
            begun = ready - making.weeks_before
            for week in range(max(begun, 0), question.weeks):
                held[making.vessel, week] += batches[ready] * making.holds(week - begun)
    if (held > 1.0 + INTEGER_FEASIBILITY).any():
        return "a vessel would hold two batches at once"
    prices = np.array([pack.price for pack in question.packs])
    for supplier, least in question.least_order:
        own = [number for number, pack in enumerate(question.packs) if pack.supplier == supplier]
        ordered = prices[own] @ plan.packs[own] if own else np.zeros(question.weeks)
        if ((ordered > INTEGER_FEASIBILITY) & (ordered < least * (1.0 - INTEGER_FEASIBILITY))).any():
            return f"an order from {supplier} would be less than the least"
    return ""


def _flows(question: StockQuestion, plan: StockPlan) -> tuple[FloatArray, FloatArray]:
    """Add up what comes and what goes, shapes (goods, weeks) and (goods, weeks + 1)."""
    weeks, goods = question.weeks, question.goods
    inflow = np.zeros((len(goods), weeks))
    inflow[:, 0] += [good.stock_kg for good in goods]
    for split in question.splits:
        for good, share in split.parts:
            inflow[good, 0] += share * split.stock_kg
    for number, pack in enumerate(question.packs):
        came = pack.size_kg * plan.packs[number]
        if pack.thing.is_purchase:
            for good, share in question.splits[pack.thing.number].parts:
                inflow[good] += share * came
        else:
            inflow[pack.thing.number] += came
    outflow = np.zeros((len(goods), weeks + 1))
    for number, poured in enumerate(goods):
        outflow[number, :weeks] += poured.demand_kg
        outflow[number, weeks] += poured.end_kg
    for number, making in enumerate(question.makings):
        inflow[making.good] += plan.made_kg[number]
        # What takes longer than a week is begun earlier.
        before = making.weeks_before
        for good, rate in making.uses:
            outflow[good, : weeks - before] += rate * plan.made_kg[number, before:]
        for good, amount in making.batch_uses:
            outflow[good, : weeks - before] += amount * plan.batches[number, before:]
    return inflow, outflow
