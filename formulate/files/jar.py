"""The jar file: what went in, and what came out of it, weighed or measured."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Strict,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from formulate.errors import UnitError
from formulate.files.fields import Text, did_you_mean, from_file, shown
from formulate.files.frozen import FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.files.models import Source, opened
from formulate.files.recipe import Recipe
from formulate.quantity import Amount, AmountBasis, parse_amount

__all__ = ["LAST_STEP", "Jar", "load_jar"]

LAST_STEP = ""
"""Key under `came_out` for what came out at the end of all steps that are done."""

_EXAMPLE = "came_out: 4.62 kg, or came_out: {infuse: 4.4 L}"


def _amount_out(value: object) -> Amount:
    if not isinstance(value, str):
        raise UnitError(f"must be a weight or a volume, got {shown(value)}. Write e.g. {_EXAMPLE}.")
    amount = parse_amount(value)
    if amount.basis not in (AmountBasis.MASS, AmountBasis.VOLUME):
        raise UnitError(f"must be a weight or a volume, got {shown(value)}. Write e.g. {_EXAMPLE}.")
    if not amount.value > 0.0:
        raise UnitError(f"must be above zero, got {shown(value)}. Check the number.")
    return amount


def _came_out(value: object, info: ValidationInfo) -> object:
    if not from_file(info):
        return value
    if not isinstance(value, dict):
        return {LAST_STEP: _amount_out(value)}
    found, issues = {}, []
    for step, amount in value.items():
        try:
            found[step] = _amount_out(amount)
        except UnitError as error:
            issues.append(Issue((step,), str(error)))
    if issues:
        raise IssuesError(issues)
    return found


CameOut = Annotated[
    Mapping[str, Amount],
    Strict(False),
    AfterValidator(FrozenMap),
    BeforeValidator(_came_out),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string", "examples": ["4.62 kg", "4.4 L"]},
                {"type": "object", "additionalProperties": {"type": "string", "examples": ["4.62 kg"]}},
            ]
        }
    ),
]


class Jar(Recipe):
    """A jar file: a recipe as it was really weighed in, and what came out.

    `came_out` holds by step what was weighed (kg) or measured (L at 20 °C) after it; `LAST_STEP` stands
    for the last one.
    """

    name: Text = Field(validation_alias="jar", description="Name of the jar.", examples=["Jar of 12 October"])
    came_out: CameOut = Field(
        default_factory=FrozenMap, description="What came out: after the last step, or by step."
    )
    date: Text | None = Field(default=None, description="When it was filled.")

    @model_validator(mode="after")
    def _steps_are_there(self) -> Self:
        issues = []
        if self.volume_l is not None:
            message = "a jar says what came out, got a `volume`. Write came_out: 4.4 L."
            issues.append(Issue(("volume",), message, at_key=True))
        steps = [step.name for step in self.resolved_steps()]
        issues += [
            Issue(("came_out", name), f"no step called '{name}'. {did_you_mean(name, steps)}", at_key=True)
            for name in self.came_out
            if name != LAST_STEP and name not in steps
        ]
        if issues:
            raise IssuesError(issues)
        return self


def load_jar(path: Source) -> Jar:
    """Read a jar file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(Jar, path)
