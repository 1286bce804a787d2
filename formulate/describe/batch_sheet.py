"""What is printed of a batch: what to weigh, what to do when, what to read, and where to write it down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from formulate.bar.batch import BarBatch
from formulate.blend.materials import LIQUOR
from formulate.blend.pectin import StepPectin, follow_pectin
from formulate.blend.steps import FORTIFIED_PCT_VOL
from formulate.describe.adjust_record import CardRow
from formulate.describe.kitchen_notes import MASH_SHORT, dose_text
from formulate.describe.records import DrinkRecord, RecipeLineRecord
from formulate.files.infusing import temperature_text
from formulate.files.steps import StepSpec
from formulate.physics.enzyme import ALCOHOL_TEST
from formulate.physics.mixture import strength_pct_vol, volume_l
from formulate.quantity.document import HIDDEN, Record, shown
from formulate.quantity.words import duration, listed
from formulate.rules.contents import FoundAllergen, contents_of, found_allergens

__all__ = ["Action", "BatchSheet", "Blank", "Clock", "Outcome", "Stage", "batch_sheet"]

ROOM_TEMPERATURE_C = 15.0, 27.0
"""Between these nothing is warmed or cooled to keep it so."""


@dataclass(frozen=True, slots=True)
class Blank(Record):
    """Room to write a figure by hand.

    Attributes
    ----------
    label, unit : str
    key : str
        Where it goes in a jar or reading file, so that nothing on paper is without a place.
    """

    label: str
    unit: str
    key: str


_PRESSED = (Blank("jar, full", "g", "jar_full"), Blank("cake", "g", "cake"))
"""What is weighed when it is pressed."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Hours since the batch was begun, and when that was.

    Attributes
    ----------
    begun : datetime or None
        None where the person writes the time in.
    hours : float or None
        None once something took as long as it took.
    """

    begun: datetime | None
    hours: float | None = 0.0

    def later(self, hours: float | None) -> Clock:
        """Return the clock after something; None for nobody knows how long."""
        known = None if hours is None or self.hours is None else self.hours + hours
        return Clock(self.begun, known)

    @property
    def at(self) -> datetime | None:
        """The time of day; None where it is not known."""
        if self.begun is None or self.hours is None:
            return None
        return self.begun + timedelta(hours=self.hours)


@dataclass(frozen=True, slots=True)
class Action(Record):
    """One thing to do.

    Attributes
    ----------
    text : str
    at : datetime or None
        When to begin it.
    after_h : float or None
        The same in hours from the beginning of the batch.
    blanks : tuple of Blank
    """

    text: str
    at: datetime | None
    after_h: float | None
    blanks: tuple[Blank, ...] = ()


@dataclass(frozen=True, slots=True)
class Outcome(Record):
    """What should come out of a step.

    Attributes
    ----------
    mass_kg, volume_l, strength_pct_vol : float
    """

    mass_kg: float
    volume_l: float
    strength_pct_vol: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage(Record):
    """One step of the work on paper.

    Attributes
    ----------
    name : str
    vessel : str
        Empty where none is named.
    full_l, holds_l : float or None
        How full it gets, solids and all, and what it holds; None where no vessel is named.
    start : Action
        Weighing in.
    lines : tuple of RecipeLineRecord
    actions : tuple of Action
    out : Outcome
    out_blanks : tuple of Blank
    """

    name: str
    vessel: str
    full_l: float | None
    holds_l: float | None
    start: Action
    lines: tuple[RecipeLineRecord, ...]
    actions: tuple[Action, ...]
    out: Outcome
    out_blanks: tuple[Blank, ...]


@dataclass(frozen=True, kw_only=True)
class BatchSheet(Record):
    """A batch to be printed.

    Attributes
    ----------
    drink : DrinkRecord
    lot : str
        Empty where it is written by hand.
    begun : datetime or None
    heading : str
        Said above the name, such as the week of a menu; empty for nothing.
    copies : int
        How often it is made like this.
    stages : tuple of Stage
    readings : tuple of Blank
        Of the finished batch.
    card : tuple of CardRow
        What to add where it reads otherwise; empty where no bottle file says what it must be.
    allergens : tuple of FoundAllergen
    """

    kind: str = field(default="batch", init=False)
    drink: DrinkRecord = field(metadata=shown(only=("name", "size_text", "predicted", "targets", "cautions")))
    lot: str
    begun: datetime | None
    heading: str = field(default="", metadata=HIDDEN)
    copies: int = 1
    stages: tuple[Stage, ...]
    readings: tuple[Blank, ...]
    card: tuple[CardRow, ...]
    allergens: tuple[FoundAllergen, ...]


def batch_sheet(
    batch: BarBatch,
    drink: DrinkRecord,
    *,
    begun: datetime | None = None,
    lot: str = "",
    card: Sequence[CardRow] = (),
    heading: str = "",
    copies: int = 1,
) -> BatchSheet:
    """Lay out a batch for paper.

    Parameters
    ----------
    batch : BarBatch
    drink : DrinkRecord
        Of the batch.
    begun : datetime, optional
        When the first thing is weighed.
    lot : str
    card : sequence of CardRow
    heading : str
    copies : int
    """
    contents = contents_of(batch.ingredients, batch.used, batch.pantry)
    return BatchSheet(
        drink=drink,
        lot=lot,
        begun=begun,
        heading=heading,
        copies=copies,
        stages=_stages(batch, drink, Clock(begun)),
        readings=(
            Blank("it was at", "°C", "at"),
            Blank("pH", "", "ph"),
            Blank("bottled", "kg", "bottled"),
            Blank("in all", "L", "amount"),
        ),
        card=tuple(card),
        allergens=found_allergens(contents, batch.rules.jurisdiction),
    )


def _stages(batch: BarBatch, drink: DrinkRecord, clock: Clock) -> tuple[Stage, ...]:
    fills = {fill.step: fill for fill in drink.fills}
    stages = []
    for position, (spec, pectin) in enumerate(zip(batch.specs, follow_pectin(batch).steps, strict=True)):
        fill = fills.get(spec.name)
        start = Action("Weigh in", clock.at, clock.hours)
        actions, clock = _actions(batch, position, spec, pectin, clock)
        stages.append(
            Stage(
                name=spec.name,
                vessel=spec.vessel or "",
                full_l=None if fill is None else fill.volume_l,
                holds_l=None if fill is None else fill.holds_l,
                start=start,
                lines=tuple(line for line in drink.recipe if line.step == spec.name),
                actions=tuple(actions),
                out=_out(batch, position),
                out_blanks=(Blank("came out", "kg", f"came_out: {{{spec.name}: ... kg}}"),),
            )
        )
    return tuple(stages)


def _out(batch: BarBatch, position: int) -> Outcome:
    liquor = batch.run.carried[position, :LIQUOR]
    return Outcome(float(liquor.sum()), float(volume_l(liquor)), float(strength_pct_vol(liquor)))


def _actions(
    batch: BarBatch, position: int, spec: StepSpec, pectin: StepPectin, clock: Clock
) -> tuple[list[Action], Clock]:
    """List what is done after weighing in, and give the clock after it."""
    actions: list[Action] = []

    def do(text: str, *blanks: Blank) -> None:
        actions.append(Action(text, clock.at, clock.hours, blanks))

    if pectin.enzyme is not None and pectin.hold is not None:
        hold = pectin.hold
        do(
            f"First only the fruit and pith, with {dose_text(pectin)}: keep {duration(hold.time_h)} at "
            f"{temperature_text(hold.temperature_c)}, without the spirit.",
            Blank("from", "", "notes"),
            Blank("to", "", "notes"),
        )
        clock = clock.later(hold.time_h)
        do("Now the rest goes in.")
    elif pectin.enzyme is not None:
        do(f"Stir in {dose_text(pectin)}.")
    if spec.time_h is not None and spec.temperature_c is not None:
        do(_keep_text(spec), Blank("from", "", "started"), Blank("to", "", "pressed"))
        clock = clock.later(spec.time_h)
    if pectin.enzyme is not None and (pectin.hold or pectin.strength_pct_vol < FORTIFIED_PCT_VOL):
        do(MASH_SHORT, Blank("pH", "", "notes"))
    solids = bool(spec.strain) and float(batch.run.solids_kg[position]) > 0.0
    if pectin.enzyme is not None:
        do(f"End test of the enzyme. {ALCOHOL_TEST.text}", Blank("clear at", "", "notes"))
    if spec.time_h is None and solids:
        do(
            "Leave it until it has given what it gives; the recipe names no time.",
            Blank("from", "", "started"),
            Blank("to", "", "pressed"),
        )
        clock = clock.later(None)
    elif spec.time_h is None:
        do("Stir until all of it is dissolved.")
    if spec.separate:
        do(f"Strain: {listed([name.replace('-', ' ') for name in spec.separate])}.", *_PRESSED)
    elif solids:
        do("Strain off the solids.", *_PRESSED)
    rinse_g = float(batch.run.rinse_kg[position]) * 1000.0
    if rinse_g >= 0.5:
        do(f"Wet the pressed cake with {rinse_g:.0f} g of water and press it again.")
    return actions, clock


def _keep_text(spec: StepSpec) -> str:
    assert spec.time_h is not None
    assert spec.temperature_c is not None
    how_long, how_warm = duration(spec.time_h), temperature_text(spec.temperature_c)
    low, high = ROOM_TEMPERATURE_C
    if low <= spec.temperature_c <= high:
        return f"Leave it {how_long} at {how_warm}."
    way = "Warm" if spec.temperature_c > high else "Cool"
    moved = ", stirring" if spec.stirred else ""
    return (
        f"{way} it to {how_warm}, lid on{moved}. Keep it there {how_long}, counted from when the middle "
        f"of the jar is at {how_warm}."
    )
