"""The bottle file: what a bottle must be, and what may go into it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from formulate.errors import UnitError
from formulate.files.aims import Bottled, SameAs, Size, Use, parse_size
from formulate.files.crosscheck import Names, cross_issues, names_as_typed, together_names
from formulate.files.fields import (
    IS_THIS_MEANT,
    AmountText,
    BitternessValue,
    FrozenDict,
    Id,
    Meant,
    ShareBand,
    Text,
    Tuple,
    VolumeL,
    from_file,
    shown,
    written,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.ingredient import CutName, DrawnText, PlanItem
from formulate.files.issues import Issue, IssuesError, KeyPath
from formulate.files.models import FileModel, Source, opened, resolved_beside
from formulate.files.standards import Jurisdiction
from formulate.files.steps import ENZYME, StepItem, StepSpec, named_map_item, resolve_steps
from formulate.files.targets import Targets
from formulate.files.together import Choose, TogetherItem, unknown_choices
from formulate.quantity import Dimension, parse_quantity

__all__ = ["Bottle", "IngredientUse", "Lifted", "MeasuredBitterness", "load_bottle"]


class Lifted(Frozen):
    """A limit that is not kept for this bottle; what is toxic or prohibited cannot be lifted."""

    limit: Id = Field(description="Which limit.", examples=["old-coumarin"])
    name: Text = Field(description="Who takes responsibility.", examples=["head bartender"])
    reason: Text = Field(description="Why.", examples=["for the test kitchen, not for sale"])
    date: Text = Field(description="Since when.", examples=["2026-11-25"])

    @field_validator("name", "reason")
    @classmethod
    def _in_words(cls, value: str) -> str:
        if not value.strip():
            raise ValueError(f"must be words, got {shown(value)}. Say who answers for it, and why.")
        return value

    @field_validator("date")
    @classmethod
    def _a_day(cls, value: str) -> str:
        try:
            date.fromisoformat(value)
        except ValueError:
            raise ValueError(f"must be a day, got {shown(value)}. Write e.g. 2026-11-25.") from None
        return value


T = TypeVar("T")
_ITEM_EXAMPLE = "- damson: {at_least: 250 g per L bottled, step: infuse}"


def _size(value: object, info: ValidationInfo) -> object:
    return parse_size(value) if isinstance(value, str) or from_file(info) else value


SizeField = Annotated[
    Size,
    BeforeValidator(_size),
    WithJsonSchema(
        {
            "type": "string",
            "examples": [
                "5 L bottled",
                "12 bottles of 50 cl",
                "use 3 bottles of vodka-40",
                "use all damson",
                "fill jar-4l (80 % of the vessel)",
            ],
        }
    ),
]


LARGEST_BOTTLE_L = 20.0
"""A demijohn; what is said to hold more is a slip of typing."""

_NONE_ABOVE = re.compile(r"none above\s+(.+?)(?:\s+of the flavour)?", re.IGNORECASE)


def _none_above(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    found = _NONE_ABOVE.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise UnitError(f"says how much of the flavour one may bring, got {shown(value)}. {_NONE_ABOVE_SAY}")
    share = parse_quantity(found[1], Dimension.SHARE)
    if not 0.0 < share < 1.0:
        raise UnitError(f"must be a share between nothing and all, got {shown(value)}. {_NONE_ABOVE_SAY}")
    return share


_NONE_ABOVE_SAY = "Write e.g. none above 35 %."


class IngredientUse(Frozen):
    """An ingredient that may be used, with its limits."""

    not_written = frozenset({"id"})

    id: Id = Field(description="Ingredient id.")
    step: Id | None = Field(default=None, description="Step it goes into; free if not said.")
    at_least: AmountText | None = Field(default=None, description="Never less than this.")
    at_most: AmountText | None = Field(default=None, description="Never more than this.")
    exactly: AmountText | None = Field(default=None, description="This much.")
    share_of_bitterness: ShareBand | None = Field(default=None, description="Its share of the bitterness.")
    share_of_flavour: ShareBand | None = Field(
        default=None, description="Its share of the flavour, in usual doses (a working measure)."
    )
    share_of_mass: ShareBand | None = Field(default=None, description="Its share of all mass weighed in.")
    cut: CutName | None = Field(default=None, description="How it is prepared: whole, coarse, fine, powder.")
    drawn: DrawnText | None = Field(default=None, description="What came out of it in a jar of yours.")
    optional: bool = Field(
        default=False, description="Whether it may be left out; a plant or fruit else is in."
    )

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        if self.exactly is not None:
            issues += [
                Issue(
                    (name,), f"stands beside exactly: {self.exactly.text}. Keep one of the two.", at_key=True
                )
                for name in ("at_least", "at_most")
                if getattr(self, name) is not None
            ]
        low, high = self.at_least, self.at_most
        if low is not None and high is not None and low.basis is high.basis and low.value > high.value:
            issues.append(
                Issue(("at_least",), f"is above at_most: {high.text}, got {low.text}. Swap or widen them.")
            )
        if issues:
            raise IssuesError(issues)
        return self


def _ingredient_item(value: object, info: ValidationInfo) -> object:
    return named_map_item(value, info, name="id", what="ingredient", example=_ITEM_EXAMPLE)


def not_empty(value: tuple[T, ...]) -> tuple[T, ...]:
    """Refuse an empty list of ingredients."""
    if not value:
        raise ValueError("an empty list of ingredients. Add at least one.")
    return value


IngredientItem = Annotated[IngredientUse, BeforeValidator(_ingredient_item)]


class MeasuredBitterness(Frozen):
    """A bitterness value somebody tasted out, per gram as bought."""

    bitterness: Annotated[BitternessValue, Field(gt=0)] = Field(
        description="Bitterness value per gram.", examples=[18500]
    )
    lot: Text | None = Field(default=None, description="Which lot.")
    date: Text | None = Field(default=None, description="When.")
    tasters: Annotated[int, Field(ge=1)] | None = Field(default=None, description="How many tasted.")


def _check_shelf(value: str) -> str:
    if not value.endswith((".yaml", ".yml")):
        raise ValueError(f"must be the path of a shelf file, got {shown(value)}. Write e.g. ../shelf.yaml.")
    return value


ShelfPath = Annotated[Text, AfterValidator(_check_shelf)]


class Bottle(FileModel):
    """A bottle file."""

    name: Text = Field(description="Name of the bottle.", examples=["Damson and grapefruit aperitif"])
    size: SizeField = Field(description="How much of it.", examples=["5 L bottled"])
    meant: Meant = False
    shelf: ShelfPath | None = Field(
        default=None, description="Shelf file, relative to this file.", examples=["../shelf.yaml"]
    )
    targets: Targets = Field(description="What it must be.")
    steps: Tuple[StepItem] = Field(
        default=(),
        description="Steps in order; infuse and finish if an ingredient names one of them, else one.",
    )
    ingredients: Annotated[Tuple[IngredientItem], AfterValidator(not_empty)] = Field(
        description="What goes in; a plain id or an id with limits."
    )
    may_use: Tuple[IngredientItem] = Field(
        default=(), description="Candidates: each is left out or taken within its dose."
    )
    doses: Literal["usual", "any"] = Field(
        default="usual", description="Whether plants and fruit are held to their usual doses."
    )
    kind: Literal["concentrate"] | None = Field(
        default=None, description="A tincture or dashing bitter, dosed by spoon or dash."
    )
    together: Tuple[TogetherItem] = Field(default=(), description="Limits on several ingredients.")
    lead: Id | None = Field(
        default=None, description="What leads the flavour, in usual doses (a working measure)."
    )
    flavour: Annotated[float, BeforeValidator(_none_above), written("none above 35 %")] | None = Field(
        default=None, description="The largest share of the flavour that anything may bring."
    )
    choose: Choose | None = Field(default=None, description="What is used at all, in whole numbers.")
    measured: FrozenDict[MeasuredBitterness] = Field(
        default_factory=FrozenMap, description="Measured bitterness by ingredient id."
    )
    plans: Tuple[PlanItem] = Field(
        default=(), description="Times and temperatures that `infuse` shall compare besides the usual ones."
    )
    jurisdiction: Jurisdiction | None = Field(
        default=None,
        description="Whose law counts: EU, US or UK; else the shelf's, else the strictest of all.",
        examples=["EU"],
    )
    serve_l: Annotated[VolumeL, Field(gt=0)] | None = Field(
        default=None, validation_alias="serve", description="What one guest gets of it.", examples=["30 mL"]
    )
    lifted: Tuple[Lifted] = Field(default=(), description="Limits that are not kept, and who says so.")
    notes: Text | None = Field(default=None, description="Anything worth knowing.")

    @model_validator(mode="after")
    def _fills_bottles(self) -> Self:
        size = self.size
        if isinstance(size, Bottled) and (size.bottle_l or 0.0) > LARGEST_BOTTLE_L and not self.meant:
            message = f"a bottle nobody lifts, got {shown(size.text)}. {IS_THIS_MEANT}"
            raise IssuesError([Issue(("size",), message)])
        return self

    @model_validator(mode="after")
    def _names_agree(self) -> Self:
        referred: list[tuple[tuple[str | int, ...], str]] = []
        for index, rule in enumerate(self.together):
            referred += together_names(index, rule.kind, rule.ids)
        if self.lead is not None:
            referred.append((("lead",), self.lead))
        aim = self.targets.bitterness
        names = Names(
            tuple((use.id, use.step) for use in self.ingredients),
            tuple(step.name for step in self.steps),
            tuple(referred),
            tuple(self.measured),
            self.size.ingredient if isinstance(self.size, Use) else None,
            aim.reference if isinstance(aim, SameAs) else None,
            candidates=tuple((use.id, use.step) for use in self.may_use),
        )
        issues = cross_issues(names)
        if self.choose is not None:
            issues += unknown_choices(self.choose, (use.id for use in self.uses))
        if issues:
            raise IssuesError(issues)
        return self

    @classmethod
    def issues_as_typed(cls, raw: Mapping[str, Any]) -> list[Issue]:
        """Check the names of a file that could not be read as a whole."""
        return cross_issues(names_as_typed(raw))

    @property
    def uses(self) -> tuple[IngredientUse, ...]:
        """Everything that may go in: the list, the candidates, each marked optional, and a step's enzyme."""
        candidates = (use.model_copy(update={"optional": True}) for use in self.may_use)
        written = (*self.ingredients, *candidates)
        steps = [step.name for step in self.steps if step.enzyme is not None]
        if not steps or any(use.id == ENZYME for use in written):
            return written
        return (*written, IngredientUse(id=ENZYME, step=steps[0], optional=True))

    def path_of(self, index: int) -> KeyPath:
        """Where one of `uses` stands in the file."""
        listed, candidates = len(self.ingredients), len(self.may_use)
        if index < listed:
            return ("ingredients", index)
        if index < listed + candidates:
            return ("may_use", index - listed)
        place, step = next((at, one) for at, one in enumerate(self.steps) if one.enzyme is not None)
        return ("steps", place, step.name, "enzyme")

    @property
    def shelf_path(self) -> Path | None:
        """Path of the shelf file, seen from where the bottle file was read."""
        return resolved_beside(self.path, self.shelf)

    def resolved_steps(self) -> tuple[StepSpec, ...]:
        """Give the steps with their defaults filled in; see `resolve_steps`."""
        return resolve_steps(self.steps, (use.step for use in self.uses))


def load_bottle(path: Source) -> Bottle:
    """Read a bottle file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(Bottle, path)
