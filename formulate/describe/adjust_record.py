"""What `adjust` answers with."""

from __future__ import annotations

from dataclasses import dataclass

from formulate.bar.vessels import FillRecord
from formulate.blend.profile import Profile
from formulate.errors import Note
from formulate.optimise.diagnose import ClashMember
from formulate.rules.records import LawRecord

__all__ = ["Addition", "Adjustment", "Aim", "CardRow"]


@dataclass(frozen=True, slots=True)
class Addition:
    """Something to add.

    Attributes
    ----------
    ingredient, name : str
    mass_kg : float
    measure : str
        As a bar measures it, or empty.
    cost : float or None
    no_more : bool
        Whether it stands at a limit of the law, so that it is shown rounded down.
    """

    ingredient: str
    name: str
    mass_kg: float
    measure: str
    cost: float | None
    no_more: bool = False


@dataclass(frozen=True, slots=True)
class Aim:
    """One target before and after.

    Attributes
    ----------
    target, unit : str
    lower, upper : float
        May be infinite.
    before, after : float
    """

    target: str
    unit: str
    lower: float
    upper: float
    before: float
    after: float


@dataclass(frozen=True)
class Adjustment:
    """How a batch is put right, or why it cannot be by adding.

    Attributes
    ----------
    name, bottle : str
    status : str
        `nothing` to add, `adjusted`, or `impossible`.
    mass_kg, volume_l : float
        Of the batch before.
    additions : tuple of Addition
    drink : Profile or None
        After adding; None when impossible.
    aims : tuple of Aim
    by_cost : bool
        Whether the cheapest was asked for instead of the least.
    proved : bool
        Whether no addition smaller (or cheaper) by a thousandth exists.
    clash : tuple of ClashMember
        What stands in the way, when impossible.
    currency : str
    notes : tuple of Note
    unknown : tuple of str
        What nobody said of the batch, and so is unknown of the drink too.
    law : LawRecord or None
        How near it comes to the limits on restricted substances after adding.
    cautions : tuple of Note
        Of the batch put right.
    fill : FillRecord or None
        How full it gets, where the batch's file names the vessel of its last step and something is added.
    """

    name: str
    bottle: str
    status: str
    mass_kg: float
    volume_l: float
    additions: tuple[Addition, ...]
    drink: Profile | None
    aims: tuple[Aim, ...]
    by_cost: bool
    proved: bool
    clash: tuple[ClashMember, ...]
    currency: str
    notes: tuple[Note, ...]
    unknown: tuple[str, ...] = ()
    law: LawRecord | None = None
    cautions: tuple[Note, ...] = ()
    fill: FillRecord | None = None

    @property
    def added_kg(self) -> float:
        """Mass added in all."""
        return sum(addition.mass_kg for addition in self.additions)

    @property
    def off_target(self) -> bool:
        """Whether it is not to be done as it stands: too much for its vessel, or over a limit of the law."""
        overfull = self.fill is not None and self.fill.too_small
        return overfull or (self.law is not None and self.law.broken)


@dataclass(frozen=True, slots=True)
class CardRow:
    """One line of a prep card: what it reads, what to add.

    Attributes
    ----------
    strength_pct_vol, sugar_g_l : float
    additions : tuple of (str, float) or None
        Ingredient and kilograms; empty for nothing to add, None where adding does not help.
    why : str
        What stands in the way where adding does not help.
    """

    strength_pct_vol: float
    sugar_g_l: float
    additions: tuple[tuple[str, float], ...] | None
    why: str = ""
