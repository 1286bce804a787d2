"""The recipe file: what goes in, weighed out; written by `solve` and by hand."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from formulate.errors import UnitError
from formulate.files.bottle import MeasuredBitterness, ShelfPath, not_empty
from formulate.files.crosscheck import Names, cross_issues, names_as_typed
from formulate.files.editing import quoted
from formulate.files.fields import (
    LEAST_KG_OR_L,
    AmountText,
    FrozenDict,
    Id,
    Text,
    Tuple,
    from_file,
    shown,
    written,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.infusing import drawn_text, whole_plan_text
from formulate.files.ingredient import CutName, DrawnText, PlanItem
from formulate.files.issues import Issue, IssuesError
from formulate.files.models import FileModel, Source, opened, resolved_beside
from formulate.files.steps import StepItem, StepSpec, named_map_item, resolve_steps
from formulate.quantity import Amount, AmountBasis, Dimension, parse_quantity

__all__ = ["Recipe", "RecipeLine", "dump_recipe", "load_recipe"]

_LINE_EXAMPLE = "- damson: {amount: 1234.5 g, step: infuse}"
_COUNTED = (AmountBasis.MASS, AmountBasis.VOLUME, AmountBasis.BOTTLES, AmountBasis.PIECES)


def _check_amount(amount: Amount) -> Amount:
    if amount.basis not in _COUNTED:
        raise ValueError(
            f"a recipe says how much in all, got {shown(amount.text)}. Write e.g. 1234.5 g or 2 bottles."
        )
    return amount


class RecipeLine(Frozen):
    """One ingredient weighed, measured or counted into a step."""

    not_written = frozenset({"id"})

    id: Id = Field(description="Ingredient id.")
    amount: Annotated[AmountText, AfterValidator(_check_amount)] = Field(
        description="g, kg, mL, cl, L, bottles or pieces.", examples=["1234.5 g"]
    )
    step: Id | None = Field(default=None, description="Step it goes into.")
    cut: CutName | None = Field(default=None, description="How it is prepared: whole, coarse, fine, powder.")
    drawn: DrawnText | None = Field(default=None, description="What came out of it in a jar of yours.")


def _line_item(value: object, info: ValidationInfo) -> object:
    if isinstance(value, str):
        raise ValueError(f"how much is missing, got {shown(value)}. Write `{_LINE_EXAMPLE}`.")
    return named_map_item(value, info, name="id", what="ingredient", example=_LINE_EXAMPLE)


LineItem = Annotated[RecipeLine, BeforeValidator(_line_item)]


def _volume(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    if isinstance(value, str) and value.endswith(" bottled"):
        volume_l = parse_quantity(value.removesuffix(" bottled"), Dimension.VOLUME)
        if 0 < volume_l < LEAST_KG_OR_L:
            raise UnitError(f"less than a drop, got {shown(value)}. Check the number and the unit.")
        if volume_l > 0:
            return volume_l
    raise UnitError(f"must be the volume bottled, got {shown(value)}. Write e.g. 5 L bottled.")


class Recipe(FileModel):
    """A recipe file."""

    name: Text = Field(
        validation_alias="recipe", description="Name of the recipe.", examples=["House aperitif"]
    )
    bottle: Text | None = Field(
        default=None, description="Bottle file it was made for, relative to this file."
    )
    shelf: ShelfPath | None = Field(default=None, description="Shelf file, relative to this file.")
    volume_l: Annotated[float, BeforeValidator(_volume), Field(gt=0), written("5 L bottled")] | None = Field(
        default=None, validation_alias="volume", description="How much is bottled."
    )
    steps: Tuple[StepItem] = Field(default=(), description="Steps in order.")
    ingredients: Annotated[Tuple[LineItem], AfterValidator(not_empty)] = Field(description="What goes in.")
    measured: FrozenDict[MeasuredBitterness] = Field(
        default_factory=FrozenMap, description="Measured bitterness by ingredient id."
    )
    kind: Literal["concentrate"] | None = Field(
        default=None, description="A tincture or dashing bitter, dosed by spoon or dash."
    )
    plans: Tuple[PlanItem] = Field(
        default=(), description="Times and temperatures that `infuse` shall compare besides the usual ones."
    )
    made_by: Text | None = Field(default=None, description="Who or what wrote this.")
    notes: Text | None = Field(default=None, description="Anything worth knowing.")

    @model_validator(mode="after")
    def _names_agree(self) -> Self:
        used = tuple((line.id, line.step) for line in self.ingredients)
        steps = tuple(step.name for step in self.steps)
        issues = cross_issues(Names(used, steps, measured=tuple(self.measured), once_per_step=True))
        first = {line.id: (line.cut, line.drawn) for line in reversed(self.ingredients)}
        issues += [
            Issue(
                ("ingredients", index), f"{line.id} is cut or drawn in two ways. Say the same of both lines."
            )
            for index, line in enumerate(self.ingredients)
            if (line.cut, line.drawn) != first[line.id]
        ]
        if issues:
            raise IssuesError(issues)
        return self

    @classmethod
    def issues_as_typed(cls, raw: Mapping[str, Any]) -> list[Issue]:
        """Check the names of a file that could not be read as a whole."""
        return cross_issues(names_as_typed(raw, once_per_step=True))

    @property
    def shelf_path(self) -> Path | None:
        """Path of the shelf file, seen from where the recipe was read."""
        return resolved_beside(self.path, self.shelf)

    @property
    def bottle_path(self) -> Path | None:
        """Path of the bottle file, seen from where the recipe was read."""
        return resolved_beside(self.path, self.bottle)

    def resolved_steps(self) -> tuple[StepSpec, ...]:
        """Give the steps with their defaults filled in; see `resolve_steps`."""
        return resolve_steps(self.steps, (line.step for line in self.ingredients))


def load_recipe(path: Source) -> Recipe:
    """Read a recipe file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(Recipe, path)


def dump_recipe(recipe: Recipe) -> str:
    """Write a recipe as the text of a recipe file: masses in g, volumes in mL, 9 significant digits.

    Reading the text gives an equal recipe when no figure has more digits than that.
    """
    lines = [f"recipe: {quoted(recipe.name)}"]
    lines += [
        f"{key}: {quoted(value)}"
        for key in ("bottle", "shelf")
        if (value := getattr(recipe, key)) is not None
    ]
    if recipe.kind is not None:
        lines.append(f"kind: {recipe.kind}")
    if recipe.volume_l is not None:
        lines.append(f"volume: {_number(recipe.volume_l)} L bottled")
    if recipe.steps:
        lines.append("steps:")
        lines += [_step(step) for step in recipe.steps]
    lines.append("ingredients:")
    for line in recipe.ingredients:
        step = f", step: {quoted(line.step)}" if line.step is not None else ""
        handled = "" if line.cut is None else f", cut: {line.cut}"
        handled += "" if line.drawn is None else f", drawn: {drawn_text(line.drawn)}"
        lines.append(f"  - {quoted(line.id)}: {{amount: {_amount(line.amount)}{step}{handled}}}")
    if recipe.plans:
        lines.append(f"plans: [{', '.join(map(whole_plan_text, recipe.plans))}]")
    if recipe.measured:
        lines.append("measured:")
        for name, measured in recipe.measured.items():
            extras = "".join(
                f", {key}: {quoted(value)}"
                for key in ("lot", "date")
                if (value := getattr(measured, key)) is not None
            )
            tasters = f", tasters: {measured.tasters}" if measured.tasters is not None else ""
            lines.append(f"  {quoted(name)}: {{bitterness: {_number(measured.bitterness)}{extras}{tasters}}}")
    lines += [
        f"{key}: {quoted(value)}"
        for key in ("made_by", "notes")
        if (value := getattr(recipe, key)) is not None
    ]
    return "\n".join(lines) + "\n"


def _step(step: StepSpec) -> str:
    parts = []
    if step.loss_fraction:
        parts.append(f"loss: {_number(100 * Decimal(step.loss_fraction))} %")
    if step.fixed_loss_kg:
        parts.append(f"fixed_loss: {_number(1000 * Decimal(step.fixed_loss_kg))} g")
    if step.strain is not None:
        parts.append(f"strain: {str(step.strain).lower()}")
    if step.vessel is not None:
        parts.append(f"vessel: {quoted(step.vessel)}")
    if step.time_h is not None and step.temperature_c is not None:
        parts.append(f"time: {_number(step.time_h)} h, temperature: {_number(step.temperature_c)} °C")
    if step.stirred:
        parts.append("stirred: true")
    if step.separate:
        parts.append(f"separate: [{', '.join(step.separate)}]")
    if step.rinse_kg_per_kg:
        parts.append(f"rinse: {_number(step.rinse_kg_per_kg)} kg/kg")
    if step.enzyme is not None:
        parts.append(f"enzyme: {{dose: {_number(step.enzyme.dose_g_per_kg)} g/kg, when: {step.enzyme.when}}}")
    if step.harsh is not None:
        parts.append(f"harsh: {str(step.harsh).lower()}")
    return f"  - {quoted(step.name)}: {{{', '.join(parts)}}}" if parts else f"  - {quoted(step.name)}"


def _amount(amount: Amount) -> str:
    if amount.basis is AmountBasis.MASS:
        return f"{_number(1000 * Decimal(amount.value))} g"
    if amount.basis is AmountBasis.VOLUME:
        return f"{_number(1000 * Decimal(amount.value))} mL"
    return f"{_number(amount.value)} {amount.basis.value}"


def _number(value: float | Decimal) -> str:
    text = format(Decimal(f"{Decimal(value):.9g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
