"""Steps of the work, as bottle and recipe files write them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from formulate.errors import UnitError
from formulate.files.crosscheck import DEFAULT_STEPS
from formulate.files.fields import (
    ContentGPerKg,
    Id,
    RetentionKgPerKg,
    TemperatureC,
    TimeH,
    Tuple,
    did_you_mean,
    from_file,
    shown,
    written,
)
from formulate.files.frozen import Frozen
from formulate.files.issues import Issue, IssuesError
from formulate.quantity import AmountBasis, Dimension, parse_amount, parse_quantity

__all__ = [
    "COLDEST_C",
    "ENZYME",
    "HOTTEST_C",
    "LONGEST_H",
    "SEPARATIONS",
    "EnzymeOrder",
    "EnzymeUse",
    "StepItem",
    "StepSpec",
    "named_map_item",
    "resolve_steps",
]

_LONE_STEP = "mix"
LONGEST_H = 8784.0
# As cold as the density of spirit is known (OIML R 22); the kitchen formulas go a little further.
COLDEST_C, HOTTEST_C = -20.0, 100.0
MOST_ENZYME_G_PER_KG = 20.0
ENZYME = "pectinase"
"""Id of what `enzyme:` on a step gives to its fruit: weighed, paid for and bought like all else."""

SEPARATIONS = ("coarse-sieve", "fine-sieve", "cloth", "press", "paper")
"""What a step may be strained through; `blend.separation` knows what each keeps and loses."""


def _check_separation(value: str) -> str:
    if value not in SEPARATIONS:
        raise ValueError(f"no way to strain called '{value}'. {did_you_mean(value, SEPARATIONS)}")
    return value


Separation = Annotated[
    str,
    AfterValidator(_check_separation),
    WithJsonSchema({"type": "string", "enum": list(SEPARATIONS)}),
]


def named_map_item(value: object, info: ValidationInfo, *, name: str, what: str, example: str) -> object:
    """Turn ``damson`` or ``{damson: {...}}`` into one flat map with the name under `name`.

    Raises
    ------
    IssuesError
        If the item is neither.
    """
    article = "an" if what[0] in "aeiou" else "a"
    if isinstance(value, str):
        return {name: value}
    if not from_file(info):
        return value
    if not isinstance(value, dict):
        message = f"must be the name of {article} {what}, got {shown(value)}. Write `{example}`."
        raise IssuesError([Issue((), message)])
    if len(value) != 1:
        keys = list(value)
        if keys and value[keys[0]] is None:
            message = f"'{keys[1]}' must be indented deeper than '{keys[0]}', or written `{example}`."
            raise IssuesError([Issue((keys[1],), message, at_key=True)])
        raise IssuesError([Issue((), f"one {what} per list item, got {len(value)} keys. Write `{example}`.")])
    key, limits = next(iter(value.items()))
    if limits is None:
        return {name: key}
    if not isinstance(limits, dict):
        raise IssuesError(
            [Issue((key,), f"must be `key: value` pairs, got {shown(limits)}. Write `{example}`.")]
        )
    if name in limits:
        raise IssuesError(
            [
                Issue(
                    (key, name),
                    f"unknown key '{name}'. Delete it: the name stands before the colon.",
                    at_key=True,
                )
            ]
        )
    return {name: key, **limits}


def _step_item(value: object, info: ValidationInfo) -> object:
    return named_map_item(value, info, name="name", what="step", example="- infuse: {loss: 1 %}")


def _loss(value: object, info: ValidationInfo) -> object:
    share = parse_quantity(value, Dimension.SHARE) if isinstance(value, str) or from_file(info) else value
    if share == 1.0:
        raise UnitError(f"nothing would be left, got {shown(value)}. Give what is lost, less than 100 %.")
    return share


Loss = Annotated[float, BeforeValidator(_loss), Field(ge=0, lt=1), written("1 %", units=Dimension.SHARE)]


def _fixed_loss(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    if isinstance(value, str):
        amount = parse_amount(value)
        if amount.basis in (AmountBasis.MASS, AmountBasis.VOLUME):
            return amount.value  # mL are counted at 1 g each: what stays in a filter is not known better
    raise UnitError(f"must be a mass or a volume, got {shown(value)}. Write e.g. 20 g or 20 mL.")


EnzymeOrder = Literal["before spirit", "with spirit"]


class EnzymeUse(Frozen):
    """Pectinase given to the fruit of a step."""

    dose_g_per_kg: Annotated[ContentGPerKg, Field(gt=0, le=MOST_ENZYME_G_PER_KG)] = Field(
        validation_alias="dose",
        description="Enzyme per kg of fruit and pith, up to 20 g/kg; retail kinds want 1 to 4.",
        examples=["2 g/kg"],
    )
    when: EnzymeOrder = Field(
        default="before spirit",
        description="With the fruit alone before the spirit goes in, or with the spirit.",
    )


class StepSpec(Frozen):
    """One step: what is lost in it and whether solids are strained off at its end."""

    not_written = frozenset({"name"})

    name: Id = Field(description="Name of the step.")
    loss_fraction: Loss = Field(
        default=0.0, validation_alias="loss", description="Share of the liquor lost in filter and transfer."
    )
    fixed_loss_kg: Annotated[float, BeforeValidator(_fixed_loss), written("20 g", "20 mL")] = Field(
        default=0.0, validation_alias="fixed_loss", description="Lost once per batch; mL count 1 g each."
    )
    strain: bool | None = Field(
        default=None, description="Whether the solids are strained or pressed off at its end."
    )
    vessel: Id | None = Field(default=None, description="Vessel of the shelf this is done in.")
    time_h: Annotated[TimeH, Field(ge=0, le=LONGEST_H)] | None = Field(
        default=None, validation_alias="time", description="How long it infuses, up to a year."
    )
    temperature_c: Annotated[TemperatureC, Field(ge=COLDEST_C, le=HOTTEST_C)] | None = Field(
        default=None, validation_alias="temperature", description="How warm it infuses, -20 to 100 °C."
    )
    stirred: bool = Field(
        default=False, description="Whether it is kept moving: stirred, or a bath that is pumped round."
    )
    separate: Tuple[Separation] = Field(
        default=(), description="What it is strained through, in order; needs no `strain: true`."
    )
    rinse_kg_per_kg: Annotated[RetentionKgPerKg, Field(ge=0, le=5)] = Field(
        default=0.0,
        validation_alias="rinse",
        description="Water the pressed fruit is wetted with and pressed again, per kg of liquor it holds.",
    )
    enzyme: EnzymeUse | None = Field(default=None, description="Pectinase for the fruit in this step.")
    harsh: bool | None = Field(
        default=None,
        description="Whether coarse bitterness is estimated (a working model); on where a time is given.",
    )

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        if (self.time_h is None) != (self.temperature_c is None):
            there, missing = (
                ("time", "temperature") if self.temperature_c is None else ("temperature", "time")
            )
            message = f"stands without a {missing}. Give both, or neither for infused to the end."
            issues.append(Issue((there,), message, at_key=True))
        if self.strain is False and (self.separate or self.rinse_kg_per_kg or self.enzyme):
            what = "separate" if self.separate else "rinse" if self.rinse_kg_per_kg else "enzyme"
            issues.append(Issue((what,), "stands beside strain: false. Delete one of the two.", at_key=True))
        if len(set(self.separate)) < len(self.separate):
            issues.append(Issue(("separate",), "names something twice. Keep one of each."))
        if self.harsh and self.time_h is None and self.temperature_c is None:
            message = "needs a time and a temperature. Give both, or delete it."
            issues.append(Issue(("harsh",), message, at_key=True))
        if issues:
            raise IssuesError(issues)
        return self


StepItem = Annotated[StepSpec, BeforeValidator(_step_item)]


def resolve_steps(steps: Sequence[StepSpec], named: Iterable[str | None]) -> tuple[StepSpec, ...]:
    """Fill in the steps a file leaves out, and whether each strains.

    Parameters
    ----------
    steps : sequence of StepSpec
        As written; empty for none.
    named : iterable of str or None
        Steps the ingredients name.

    Returns
    -------
    tuple of StepSpec
        The steps written; else infuse and finish if an ingredient names a step; else one, mix. Every
        step but the last strains unless told otherwise; a single step strains.
    """
    if not steps:
        names = DEFAULT_STEPS if any(name is not None for name in named) else (_LONE_STEP,)
        steps = [StepSpec(name=name) for name in names]
    last = len(steps) - 1
    return tuple(
        step
        if step.strain is not None
        else step.model_copy(update={"strain": last == 0 or index < last or bool(step.separate)})
        for index, step in enumerate(steps)
    )
