"""Infusing plans worked out and compared."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from formulate.bar.vessels import FillRecord
from formulate.blend.pectin import CLEAR_G_L
from formulate.errors import Note
from formulate.files.infusing import temperature_text, time_text
from formulate.files.steps import EnzymeOrder
from formulate.quantity.document import HIDDEN, Cautioned, as_document, computed, in_full, shown
from formulate.rules.records import LawRecord

__all__ = ["Drawn", "InfuseRecord", "Miss", "Plan", "PlanLimits", "Probe", "Redosed", "Strainer"]


@dataclass(frozen=True, slots=True)
class PlanLimits:
    """What a plan must keep to be recommended.

    Attributes
    ----------
    drawn : float
        Least share drawn out of every bitter or coloured ingredient, of what this liquor can give in the end.
    harsh : float
        Most coarse share of the bitterness.
    colour_left : float
        Least share of the colour that survives.
    pectin_left_g_l : float or None
        Most pectin left, where the bottle shall be clear; None where it need not be.
    """

    drawn: float = 0.80
    harsh: float = 0.15
    colour_left: float = 0.90
    pectin_left_g_l: float | None = CLEAR_G_L
    hottest_c: float = 60.0


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a plan draws out of one ingredient.

    Attributes
    ----------
    what : str
        ``bitterness``, ``colour`` or ``flavour``.
    share : float
        Of what this liquor can give in the end, which is what time and temperature decide.
    of_best : float
        Of what the best strength could give in the end.
    """

    ingredient: str
    what: str
    share: float
    of_best: float = field(metadata=shown("of_best_strength"))


@dataclass(frozen=True, slots=True)
class Miss:
    """A limit a plan does not keep.

    Attributes
    ----------
    limit : str
        ``drawn``, ``harsh``, ``colour_left``, ``pectin_left``, ``hottest`` or ``keeping``.
    shortfall : float
        How far off, 0 to 1, of the limit or of the value, whichever is larger.
    """

    limit: str
    text: str
    shortfall: float


@dataclass(frozen=True, slots=True)
class Strainer:
    """How long one strainer takes.

    Attributes
    ----------
    named : bool
        Whether the file names it; else it is what a bar usually does.
    """

    name: str
    time_h: float
    named: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """One plan, worked out.

    Attributes
    ----------
    name : str
        Time and temperature, as `files.infusing.parse_plan` reads it.
    enzyme : str or None
        ``before spirit``, ``with spirit`` or None.
    enzyme_hold_h, enzyme_hold_c : float
        Fruit and enzyme alone before the spirit; 0 h where there is no such hold.
    bitterness_value : float
        Of the bottle, with the same amounts weighed in.
    colour_left : float or None
        None where nothing is coloured.
    harsh_share : float or None
        None where nothing is bitter, or the model is switched off.
    pectin_left_g_l : float
        Per litre of the liquor before straining.
    strength_pct_vol : float
        Of the infusing liquor.
    volume_l : float
        Bottled.
    cost_per_l : float or None
        Per litre bottled; None when a price is missing.
    warm_up_h : float
        Until the middle of the jar is within 2 K of the bath.
    clock_h : float
        From start to bottle, which plans are ranked by: warm-up, fruit and enzyme, steep, each strainer.
    misses : tuple of Miss
        Limits not kept, the worst first.
    """

    name: str = field(metadata=HIDDEN)
    time_h: float
    temperature_c: float
    enzyme: EnzymeOrder | None
    enzyme_hold_h: float
    enzyme_hold_c: float
    drawn: tuple[Drawn, ...]
    bitterness_value: float
    colour_left: float | None
    harsh_share: float | None
    pectin_left_g_l: float
    strength_pct_vol: float
    volume_l: float
    cost_per_l: float | None = field(metadata=shown("cost_per_litre"))
    warm_up_h: float
    straining_h: float
    clock_h: float
    above_flash_point: bool
    misses: tuple[Miss, ...]

    @property
    @computed(after="above_flash_point")
    def meets(self) -> bool:
        """Whether it keeps every limit."""
        return not self.misses

    @property
    def time_text(self) -> str:
        """The time as a recipe file takes it."""
        return time_text(self.time_h)

    @property
    def short_name(self) -> str:
        """Time and temperature for a table."""
        return f"{self.time_text} {temperature_text(self.temperature_c)}"

    @property
    @computed("plan", after="name")
    def command_text(self) -> str:
        """The plan as `solve --infuse` takes it."""
        return self.name if self.enzyme is None else f"{self.name} with enzyme {self.enzyme}"


@dataclass(frozen=True, slots=True)
class Probe:
    """What a probe reading says about the jar.

    Attributes
    ----------
    reading_c, time_h, bath_c : float
        As given.
    remaining_h, latest_remaining_h : float
        From the reading until the middle is within 2 K of the bath: for a still jar, and at the latest.
    """

    reading_c: float
    time_h: float
    bath_c: float
    remaining_h: float
    latest_remaining_h: float
    time_constant_h: float


@dataclass(frozen=True, slots=True)
class Redosed:
    """A bottle solved again for a plan; not proved to be the cheapest.

    Attributes
    ----------
    found : bool
        False says that no recipe was found, which is no proof that there is none.
    """

    plan: str
    found: bool
    cost_per_l: float | None = field(metadata=shown("cost_per_litre"))


@dataclass(frozen=True, kw_only=True)
class InfuseRecord(Cautioned):
    """Plans compared.

    Attributes
    ----------
    basis : str
        What the amounts are from, in words.
    liquor_l, strength_pct_vol : float
        In the infusing step.
    pectin_g_l : float
        Brought in by fruit and pith, per litre of that liquor.
    jar_l, start_c : float
        What the warm-up is worked out for.
    held : tuple of str
        Plants held to the limit on drawing out; what the others give is no bitterness or colour asked for.
    plans : tuple of Plan
        Every row, without and with enzyme.
    own : tuple of str
        Names of those that the file or the command line asks for.
    strainers : tuple of Strainer
        In the order of the work; every plan has the same.
    chosen : Plan
        The quickest row that keeps every limit, else the nearest.
    meets : bool
        Whether `chosen` keeps every limit.
    sentence : str
        What was chosen, and which limit stops a quicker one or is missed.
    refined : Plan or None
        A plan between the rows that keeps every limit, and sooner; None when none was found.
    between : bool
        Whether `refined` is the plan to take: no row keeps every limit, or takes days where it takes hours.
    command, refined_command : str
        What to run next; empty for a recipe without a bottle file.
    redosed : Redosed or None
        For a bottle: solved again for the plan to take.
    law : LawRecord
        How near the drink comes to the limits on restricted substances; no plan draws out more than the worst
        case that is counted.
    fills : tuple of FillRecord
        Vessels that its steps name and the shelf has.
    """

    name: str
    step: str
    basis: str
    liquor_l: float
    strength_pct_vol: float
    pectin_g_l: float
    jar_l: float
    start_c: float
    currency: str
    limits: PlanLimits = field(metadata=HIDDEN)
    held: tuple[str, ...] = field(default=(), metadata=HIDDEN)
    plans: tuple[Plan, ...]
    own: tuple[str, ...] = ()
    strainers: tuple[Strainer, ...] = ()
    chosen: Plan
    meets: bool = field(metadata=HIDDEN)
    sentence: str
    refined: Plan | None
    between: bool = field(default=False, metadata=HIDDEN)
    command: str
    refined_command: str
    redosed: Redosed | None
    probe: Probe | None
    notes: tuple[Note, ...] = field(metadata=HIDDEN)
    cautions: tuple[Note, ...] = field(metadata=shown(by=in_full))
    law: LawRecord
    fills: tuple[FillRecord, ...] = field(default=(), metadata=shown("vessels"))

    @property
    @computed(after="")
    def status(self) -> str:
        """`recommended`, `refined` for a plan between the rows, or `nearest` where none keeps every limit."""
        return "refined" if self.between else "recommended" if self.meets else "nearest"

    @property
    def best(self) -> Plan:
        """The plan to take."""
        return self.refined if self.between and self.refined is not None else self.chosen

    @property
    @computed("limits", after="limits")
    def _limits(self) -> dict[str, Any]:
        return {"drawn": self.limits.drawn, "drawn_of": self.held} | as_document(self.limits)

    @property
    def off_target(self) -> bool:
        """Whether it is not to be made as it stands: too much for its vessel, or over a limit of the law."""
        return self.law.broken or any(fill.too_small for fill in self.fills)
