"""What `adjust` answers with."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from formulate.bar.vessels import FillRecord
from formulate.blend.profile import Profile
from formulate.describe.records import BarMeasure
from formulate.errors import Note
from formulate.files.measures import IN_EVERY_DRINK
from formulate.optimise.diagnose import ClashMember
from formulate.quantity.document import HIDDEN, Cautioned, Record, as_document, computed, in_full, shown
from formulate.rules.records import LawRecord

__all__ = ["Addition", "Adjustment", "Aim", "CardRow"]


@dataclass(frozen=True, slots=True)
class Addition(Record):
    """Something to add.

    Attributes
    ----------
    no_more : bool
        Whether it stands at a limit of the law, so that it is shown rounded down.
    """

    ingredient: str
    name: str = field(metadata=HIDDEN)
    mass_kg: float
    measure: BarMeasure = field(metadata=shown(by=str))
    cost: float | None
    no_more: bool = field(default=False, metadata=HIDDEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim(Record):
    """One target before and after.

    Attributes
    ----------
    lower, upper : float
        May be infinite.
    """

    target: str
    lower: float
    upper: float
    before: float
    after: float
    unit: str


@dataclass(frozen=True, slots=True)
class CardRow(Record):
    """One line of a prep card: what it reads, what to add.

    Attributes
    ----------
    why : str
        What stands in the way where adding does not help.
    additions : tuple of (str, float) or None
        Ingredient and kilograms; empty for nothing to add, None where adding does not help.
    """

    strength_pct_vol: float
    sugar_g_l: float
    why: str
    additions: tuple[tuple[str, float], ...] | None = field(
        metadata=shown("add", rows=("ingredient", "mass_kg"))
    )


@dataclass(frozen=True, kw_only=True)
class Adjustment(Cautioned):
    """How a batch is put right, or why it cannot be by adding.

    Attributes
    ----------
    status : str
        `nothing` to add, `adjusted`, `partly` where some aims are still missed, or `impossible`.
    mass_kg, volume_l : float
        Of the batch before.
    by_cost : bool
        Whether the cheapest was asked for instead of the least.
    proved : bool
        Whether no addition smaller (or cheaper) by a thousandth exists.
    drink : Profile or None
        After adding; None when impossible.
    unknown : tuple of str
        What nobody said of the batch, and so is unknown of the drink too.
    fill : FillRecord or None
        How full it gets, where the batch's file names the vessel of its last step and something is added.
    law : LawRecord or None
        How near it comes to the limits on restricted substances after adding.
    clash : tuple of ClashMember
        What stands in the way, when impossible.
    card : tuple of CardRow
        What to add at other readings; empty where it was not asked for.
    cautions : tuple of Note
        Of the batch put right.
    """

    status: str
    name: str
    bottle: str
    mass_kg: float = field(metadata=shown("batch.mass_kg"))
    volume_l: float = field(metadata=shown("batch.volume_l"))
    additions: tuple[Addition, ...] = field(metadata=shown("add"))
    by_cost: bool = field(metadata=shown("least_by", by=lambda by_cost: "cost" if by_cost else "mass"))
    proved: bool
    drink: Profile | None = field(metadata=HIDDEN)
    aims: tuple[Aim, ...] = field(metadata=HIDDEN)
    unknown: tuple[str, ...] = ()
    fill: FillRecord | None = field(
        default=None, metadata=shown("vessel", only=("vessel", "volume_l", "holds_l"))
    )
    law: LawRecord | None = field(default=None, metadata=shown(""))
    clash: tuple[ClashMember, ...] = field(
        metadata=shown(by=lambda clash: [member.limit.origin.name for member in clash])
    )
    card: tuple[CardRow, ...] = ()
    currency: str = field(metadata=HIDDEN)
    notes: tuple[Note, ...] = field(metadata=HIDDEN)
    cautions: tuple[Note, ...] = field(default=(), metadata=shown(by=in_full))

    @property
    @computed(after="drink")
    def predicted(self) -> dict[str, float | None] | None:
        """What is known of the batch put right."""
        drink = self.drink
        if drink is None:
            return None
        figures = {
            measure.figure: None if measure.name in self.unknown else getattr(drink, measure.figure)
            for measure in IN_EVERY_DRINK
        }
        return {"volume_l": drink.volume_l, **figures}

    @property
    @computed(after="aims")
    def targets(self) -> list[dict[str, Any]]:
        """The aims, without what they would become where nothing helps."""
        impossible = {} if self.drink else {"after": None}
        return [as_document(aim) | impossible for aim in self.aims]

    @property
    def added_kg(self) -> float:
        """Mass added in all."""
        return sum(addition.mass_kg for addition in self.additions)

    @property
    def off_target(self) -> bool:
        """Whether an aim is still missed, it is too much for its vessel, or over a limit of the law."""
        overfull = self.fill is not None and self.fill.too_small
        return self.status == "partly" or overfull or (self.law is not None and self.law.broken)
