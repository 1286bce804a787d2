"""The trial file: what went into a jar, how it was kept, what was weighed, read and tasted.

Every field is flat or a plain map, so that one row of a sheet holds a trial as well. Each says where it is
measured: at a bar, or in a laboratory.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Annotated, Literal, Self, get_args

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    JsonValue,
    Strict,
    ValidationInfo,
    model_validator,
)

from formulate.errors import UnitError
from formulate.files.fields import (
    BitternessValue,
    ConcentrationBand,
    Day,
    FrozenDict,
    MassKg,
    PlainNumber,
    Share,
    StrengthBand,
    Text,
    TimeH,
    Tuple,
    did_you_mean,
    from_file,
    shown,
    written,
)
from formulate.files.frozen import FrozenMap
from formulate.files.infusing import PlanText, parse_plan
from formulate.files.issues import Issue, IssuesError
from formulate.files.models import Source, opened, resolved_beside
from formulate.files.reading import Instruments
from formulate.files.recipe import LineItem, Recipe, load_recipe
from formulate.files.steps import StepSpec

__all__ = ["MORE_IS_BETTER", "TASTED", "WORDS_OF_TASTE", "Tasted", "Trial", "load_trial"]

BAR: dict[str, JsonValue] = {"measured at": "bar"}
LABORATORY: dict[str, JsonValue] = {"measured at": "laboratory"}

Descriptor = Literal["bitter", "sour", "sweet", "fruit", "herbal", "body", "rough", "length"]
WORDS_OF_TASTE: tuple[str, ...] = get_args(Descriptor)
"""The trade's own words, 1 (hardly) to 5 (very)."""
MORE_IS_BETTER: Mapping[str, bool] = {"fruit": True, "body": True, "length": True, "rough": False}
"""Words that are praise or blame by themselves; how bitter, sour or sweet it should be is a matter of aim."""
TASTED = ("neat", "at_20", "in_drink")
"""How it was tasted: as it is, thinned to 20 % vol, and in the drink it is for."""
LONGEST_PLAN_OFF = 0.1


def _plan(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    if not isinstance(value, str):
        raise UnitError(f"a plan is a time and a temperature, got {shown(value)}. Write e.g. 1 h at 50 °C.")
    plan = parse_plan(value)
    if plan.enzyme is not None:
        raise UnitError(f"enzyme stands in the step, got {shown(value)}. Leave it out of the plan.")
    return plan


def _clock(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d", value):
        try:
            return datetime.strptime(value, "%Y-%m-%d %H:%M")
        except ValueError:
            pass
    raise ValueError(f"a day and a time, got {shown(value)}. Write e.g. 2026-11-02 18:30.")


def _tasted(value: Mapping[str, float]) -> Mapping[str, float]:
    issues = []
    for word, mark in value.items():
        if word not in WORDS_OF_TASTE:
            message = f"no word of taste called '{word}'. {did_you_mean(word, WORDS_OF_TASTE)}"
            issues.append(Issue((word,), message, at_key=True))
        elif not 1.0 <= mark <= 5.0:
            message = f"a mark is 1 (hardly) to 5 (very), got {mark:g}. Write e.g. 3."
            issues.append(Issue((word,), message))
    if issues:
        raise IssuesError(issues)
    return value


Tasted = Annotated[
    Mapping[str, PlainNumber], Strict(False), AfterValidator(FrozenMap), AfterValidator(_tasted)
]
Clock = Annotated[datetime, BeforeValidator(_clock), written("2026-11-02 18:30")]
Weighed = Annotated[MassKg, Field(gt=0)]


class Trial(Instruments, Recipe):
    """A trial: a recipe or what went in, and all that was found out about it."""

    name: Text = Field(validation_alias="trial", description="Name of the trial.", examples=["Warm, an hour"])
    day: Day | None = Field(default=None, validation_alias="date", description="When it was made.")
    followed: Text | None = Field(
        default=None,
        validation_alias="of",
        description="Recipe file it follows, relative to this file; else list the ingredients.",
    )
    share: Annotated[Share, Field(gt=0, le=1)] = Field(
        default=1.0, description="How much of that recipe was made.", examples=["10 %"]
    )
    ingredients: Tuple[LineItem] = Field(default=(), description="What went in, where no recipe says so.")
    plan: Annotated[PlanText, BeforeValidator(_plan), written("1 h at 50 °C", "2 days at 4 °C")] | None = (
        Field(default=None, description="How long and how warm it drew.", json_schema_extra=BAR)
    )
    started: Clock | None = Field(default=None, description="When the jar was filled.", json_schema_extra=BAR)
    pressed: Clock | None = Field(
        default=None, description="When it was strained or pressed.", json_schema_extra=BAR
    )
    jar_full: Weighed | None = Field(
        default=None, description="What is in the jar before it is pressed.", json_schema_extra=BAR
    )
    cake: Weighed | None = Field(default=None, description="The cake, pressed.", json_schema_extra=BAR)
    bottled: Weighed | None = Field(
        default=None, description="What is in the bottles in the end.", json_schema_extra=BAR
    )
    scale_step: Annotated[MassKg, Field(gt=0, le=0.1)] = Field(
        default=0.001, description="Smallest step of the scale, default 1 g.", json_schema_extra=BAR
    )
    strength: StrengthBand | None = Field(
        default=None, description="Distilled or measured in a laboratory.", json_schema_extra=LABORATORY
    )
    sugar: ConcentrationBand | None = Field(
        default=None, description="Measured in a laboratory.", json_schema_extra=LABORATORY
    )
    acid: ConcentrationBand | None = Field(
        default=None, description="Titrated, as citric acid.", json_schema_extra=LABORATORY
    )
    ph: Annotated[PlainNumber, Field(gt=0, lt=14)] | None = Field(
        default=None, description="pH strip or meter, a plain number.", json_schema_extra=BAR
    )
    bitterness: Annotated[BitternessValue, Field(gt=0)] | None = Field(
        default=None,
        description="Bitterness value of the drink, by thinning it until nobody tastes it.",
        json_schema_extra=BAR,
    )
    colour_thinned: Annotated[PlainNumber, Field(ge=1)] | None = Field(
        default=None,
        description="Fills one part to so many until it is as pale as the bar's reference glass.",
        examples=[24],
        json_schema_extra=BAR,
    )
    work: TimeH | None = Field(default=None, description="Hands at work.", json_schema_extra=BAR)
    lots: FrozenDict[Text] = Field(
        default_factory=FrozenMap,
        description="Ingredient id to the lot that was used.",
        json_schema_extra=BAR,
    )
    neat: Tasted = Field(
        default_factory=FrozenMap, description="Marks of 1 to 5, tasted as it is.", json_schema_extra=BAR
    )
    at_20: Tasted = Field(
        default_factory=FrozenMap, description="The same, thinned to 20 % vol.", json_schema_extra=BAR
    )
    in_drink: Tasted = Field(
        default_factory=FrozenMap, description="The same, in the drink it is for.", json_schema_extra=BAR
    )
    photo: Text | None = Field(default=None, description="A picture, relative to this file.")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        if (self.followed is None) == (not self.ingredients):
            message = "give `of:` with a recipe file, or `ingredients:` with what went in: one of the two."
            issues.append(Issue(("trial",), message, at_key=True))
        if self.followed is None and self.share != 1.0:
            issues.append(Issue(("share",), "is of a recipe. Add `of:`, or delete it.", at_key=True))
        if self.volume_l is not None:
            message = "a trial weighs what came out. Write bottled: 430 g."
            issues.append(Issue(("volume",), message, at_key=True))
        if (self.started is None) != (self.pressed is None):
            there = "started" if self.pressed is None else "pressed"
            issues.append(Issue((there,), "needs the other time too: started and pressed.", at_key=True))
        issues += self._times()
        if issues:
            raise IssuesError(issues)
        return self

    def _times(self) -> list[Issue]:
        """Hold the clock against the plan."""
        if self.started is None or self.pressed is None:
            return []
        hours = (self.pressed - self.started).total_seconds() / 3600.0
        if hours <= 0.0:
            return [Issue(("pressed",), f"not after it was started, {self.started:%Y-%m-%d %H:%M}. Check.")]
        if self.plan is None:
            return [
                Issue(("started",), "says how long, not how warm. Add plan: 2 days at 4 °C.", at_key=True)
            ]
        if abs(hours / self.plan.time_h - 1.0) > LONGEST_PLAN_OFF:
            message = (
                f"the clock says {hours:.3g} h, the plan {self.plan.time_h:.3g} h. Correct one; within "
                "a tenth the clock counts."
            )
            return [Issue(("plan",), message)]
        return []

    @property
    def of_path(self) -> Path | None:
        """Path of the recipe file, seen from where the trial was read."""
        return resolved_beside(self.path, self.followed)

    def held(self) -> PlanText | None:
        """How long and how warm it drew, by the clock where there is one."""
        if self.plan is None or self.started is None or self.pressed is None:
            return self.plan
        hours = (self.pressed - self.started).total_seconds() / 3600.0
        return PlanText(hours, self.plan.temperature_c)

    def as_recipe(self) -> Recipe:
        """Return what went in, as it was kept.

        Raises
        ------
        SpecError
            If the recipe it follows is wrong.
        """
        path = self.of_path
        recipe: Recipe = self
        if path is not None:
            recipe = load_recipe(path)
            lines = tuple(
                line.model_copy(
                    update={
                        "amount": line.amount.__class__(
                            line.amount.value * self.share, line.amount.basis, line.amount.text
                        )
                    }
                )
                for line in recipe.ingredients
            )
            steps = tuple(
                step.model_copy(update={"fixed_loss_kg": step.fixed_loss_kg * self.share})
                for step in self.steps or recipe.steps
            )
            recipe = recipe.model_copy(update={"ingredients": lines, "steps": steps, "volume_l": None})
        held = self.held()
        if held is None:
            return recipe
        specs = recipe.resolved_steps()
        return recipe.model_copy(update={"steps": _planned(specs, held)})


def _planned(specs: tuple[StepSpec, ...], held: PlanText) -> tuple[StepSpec, ...]:
    """Put a plan into the first step that is strained."""
    first = next((number for number, spec in enumerate(specs) if spec.strain), 0)
    changed = {"time_h": held.time_h, "temperature_c": held.temperature_c}
    return tuple(
        spec.model_copy(update=changed) if number == first else spec for number, spec in enumerate(specs)
    )


def load_trial(path: Source) -> Trial:
    """Read a trial file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(Trial, path)
