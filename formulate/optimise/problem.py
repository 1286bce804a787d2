"""The question in neutral form: what may be used, what must hold, and who said so.

Everything is counted per litre bottled, so a thimble and a tank are the same program. The
one extra unknown is `batches per litre`: the share of a batch that one litre stands for.
It is fixed when the file gives a volume and free when the file says to use up an
ingredient or to fill a jar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from formulate.blend.chain import Chain
from formulate.errors import SourceLocation

__all__ = [
    "BATCHES_LARGEST",
    "BATCHES_SMALLEST",
    "BlendProblem",
    "Case",
    "Disjunction",
    "Fill",
    "Limit",
    "Origin",
    "Over",
    "Purchase",
    "limit_value",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]

BATCHES_SMALLEST = 1e-6
BATCHES_LARGEST = 1e4
"""Batches per litre: from a million litres to a tenth of a millilitre."""


class Over(StrEnum):
    """What a limit adds up."""

    BOTTLE = "bottle"
    """What is carried into the bottle: liquor components, bitterness, attributes."""
    MASSES = "masses"
    """What is weighed in, ingredient by ingredient, whatever the step."""
    COST = "cost"
    """Money per litre bottled; `indices` and `weights` stay empty."""


class Says(StrEnum):
    """How much of a limit its own words say."""

    NAME = "name"
    """What it limits; the side and the bound are told after it."""
    SIDE = "side"
    """The side too: ``damson at least``."""
    ALL = "all"
    """Its text says all that is to be told: ``damson is gone``."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Who asked for a limit, so that every answer can point back at the file.

    Attributes
    ----------
    name : str
        Stable name for JSON, such as ``strength`` or ``damson at least``.
    text : str
        The limit as the person typed it.
    location : SourceLocation or None
        Where; None for a rule of the program itself.
    measure : str
        What a target measures, a row of the table of measures; empty for other limits. The name may say
        more: ``liqueur (EU) strength`` measures ``strength``.
    dose_of : tuple of str
        The ingredients whose usual dose it is; empty for what a person asked.
    says : Says
        How much its name or text says already.
    """

    name: str
    text: str
    location: SourceLocation | None = None
    measure: str = ""
    dose_of: tuple[str, ...] = ()
    says: Says = Says.NAME


@dataclass(frozen=True)
class Limit:
    """``lower <= weights . amounts + batch_weight * batches <= upper``, per litre bottled.

    Attributes
    ----------
    over : Over
        What `indices` count: carried columns of the bottle, or ingredients.
    lower, upper : float
        In kg per litre bottled or the like; infinite when open.
    unit : str
        Unit a person reads the value in.
    display : float
        Multiply an internal value by this to get `unit`.
    batch_weight : float
        Weight of the batches per litre.
    is_target : bool
        Whether it is one of the file's targets, shown with its value in every answer.
    penalty : float
        Cost per litre for each internal unit the limit is missed by; infinite for a limit that must hold.
    rule : str
        Id of the standard it comes from; empty for what a person asked for.
    firm : bool
        Whether it is nobody's wish, so that no answer advises to move it: a law, an end of the published
        figures, what is gone.
    out_of_reach : float or None
        An internal value that no drink reaches, where one is known.
    """

    over: Over
    indices: IntArray
    weights: FloatArray
    lower: float
    upper: float
    origin: Origin
    unit: str = ""
    display: float = 1.0
    batch_weight: float = 0.0
    is_target: bool = False
    penalty: float = np.inf
    rule: str = ""
    firm: bool = False
    out_of_reach: float | None = None

    @property
    def soft(self) -> bool:
        """Whether it may be missed at a price."""
        return bool(np.isfinite(self.penalty))

    def violation(self, value: float) -> float:
        """Return by how much a value misses the limit, in internal units."""
        return max(self.lower - value, value - self.upper, 0.0)

    def sides(self) -> tuple[Limit, ...]:
        """Return the limit as one or two one-sided limits."""
        lower = (replace(self, upper=np.inf),) if np.isfinite(self.lower) else ()
        upper = (replace(self, lower=-np.inf),) if np.isfinite(self.upper) else ()
        return lower + upper

    @property
    def scale(self) -> float:
        """Size of the limit, for judging how large a violation is."""
        size = max((abs(bound) for bound in (self.lower, self.upper) if np.isfinite(bound)), default=0.0)
        if size > 0.0:
            return size
        # A bound of nothing has no size of its own: a gram per litre of what weighs most.
        return 1e-3 * max(float(np.abs(self.weights).max(initial=0.0)), abs(self.batch_weight), 1e-6)


@dataclass(frozen=True, slots=True)
class Fill:
    """A vessel that the contents of a step must fill to a given volume.

    Attributes
    ----------
    step : int
        Position of the step.
    volume_l : float
        Liquor and solids together, litres.
    """

    step: int
    volume_l: float
    origin: Origin


@dataclass(frozen=True, slots=True)
class Purchase:
    """A whole thing that is bought for its parts, or a part bought as it is.

    Attributes
    ----------
    price_per_kg : float
        Money per kilogram of the whole thing.
    parts : tuple of (int, float)
        Ingredient by position, and kilograms of it from one kilogram of the whole thing.
    most_kg_per_l : float
        Most that can be had, per litre bottled.
    """

    name: str
    price_per_kg: float
    parts: tuple[tuple[int, float], ...]
    most_kg_per_l: float = np.inf


@dataclass(frozen=True, slots=True)
class Case:
    """One way to keep a rule that holds only sometimes.

    Attributes
    ----------
    limits : tuple of Limit
        That hold then.
    without : frozenset of int
        Ingredients, by position, that are not used then.
    empty : frozenset of int
        Steps that nothing goes into then.
    """

    limits: tuple[Limit, ...] = ()
    without: frozenset[int] = frozenset()
    empty: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Disjunction:
    """Cases of which at least one must hold whole: no wormwood, or at least 1.2 % vol.

    Attributes
    ----------
    apart : bool
        Whether the question without it is no relaxation, so that each case is asked from the start.
    """

    cases: tuple[Case, ...]
    apart: bool = False


@dataclass(frozen=True)
class BlendProblem:
    """Find the cheapest masses per litre bottled.

    Attributes
    ----------
    chain : Chain
        Ingredients and steps.
    price_per_kg : ndarray, shape (n,)
        Money per kilogram as bought.
    place_ingredient, place_step : ndarray of int, shape (columns,)
        Which ingredient may be added in which step; the unknown masses, in the order of the file.
    volume_l : float or None
        Size of the batch; None when a limit or a vessel ties it.
    size_origin : Origin
        Where the size was asked for.
    purchases : tuple of Purchase
        Where parts come from. An ingredient named here is paid for by what is bought, costs nothing
        itself, and is limited to what the purchases yield; two uses of one fruit are bought once.
    money_counts : bool
        Whether cost is what is minimised; else only what soft limits charge.
    disjunctions : tuple of Disjunction
        Rules that hold only where something is used, or for some drinks only.
    """

    chain: Chain
    price_per_kg: FloatArray
    place_ingredient: IntArray
    place_step: IntArray
    limits: tuple[Limit, ...]
    volume_l: float | None
    fill: Fill | None = None
    size_origin: Origin = field(default_factory=lambda: Origin("size", "1 L"))
    purchases: tuple[Purchase, ...] = ()
    money_counts: bool = True
    disjunctions: tuple[Disjunction, ...] = ()

    @property
    def unknowns(self) -> int:
        """Number of unknown masses."""
        return len(self.place_ingredient)

    @property
    def column_prices(self) -> FloatArray:
        """Price of each unknown mass, per kg."""
        prices: FloatArray = self.price_per_kg[self.place_ingredient]
        return prices

    @property
    def batch_bounds(self) -> tuple[float, float]:
        """Smallest and largest batches per litre."""
        if self.volume_l is None:
            return BATCHES_SMALLEST, BATCHES_LARGEST
        return 1.0 / self.volume_l, 1.0 / self.volume_l

    def masses(self, columns: FloatArray) -> FloatArray:
        """Spread the unknown masses over steps and ingredients.

        Parameters
        ----------
        columns : ndarray, shape (columns,)

        Returns
        -------
        ndarray, shape (steps, n)
        """
        masses = np.zeros((len(self.chain.steps), len(self.chain.materials.ids)))
        masses[self.place_step, self.place_ingredient] = columns
        return masses

    @property
    def purchase_prices(self) -> FloatArray:
        """Price of each purchase, per kg."""
        return np.array([purchase.price_per_kg for purchase in self.purchases], dtype=float)

    @property
    def yields(self) -> FloatArray:
        """Kilograms of each ingredient per kilogram of each purchase, shape (purchases, n)."""
        yields = np.zeros((len(self.purchases), len(self.price_per_kg)))
        for position, purchase in enumerate(self.purchases):
            for ingredient, share in purchase.parts:
                yields[position, ingredient] += share
        return yields

    def asking(self, limits: Sequence[Limit]) -> BlendProblem:
        """Return the same shelf, steps and prices with other limits."""
        return replace(self, limits=tuple(limits))

    def for_free(self) -> BlendProblem:
        """Return the same question where money is no object but in the limits on it."""
        return replace(self, money_counts=False)


def limit_value(limit: Limit, bottled: FloatArray, masses: FloatArray, batches: float, money: float) -> float:
    """Return what a recipe makes of a limit, per litre bottled, in internal units.

    Parameters
    ----------
    bottled : ndarray, shape (carried,)
        Per litre bottled.
    masses : ndarray, shape (n,)
        Weighed in, per litre bottled.
    batches : float
        Batches per litre.
    money : float
        Cost per litre bottled.
    """
    if limit.over is Over.COST:
        return money
    amounts = bottled if limit.over is Over.BOTTLE else masses
    return float(limit.weights @ amounts[limit.indices]) + limit.batch_weight * batches
