"""Steps of the work, as bottle and recipe files write them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated

from pydantic import BeforeValidator, Field, ValidationInfo

from formulate.errors import UnitError
from formulate.quantity import AmountBasis, parse_amount
from formulate.spec.crosscheck import DEFAULT_STEPS
from formulate.spec.fields import Id, Share, from_file, shown, written
from formulate.spec.frozen import Frozen
from formulate.spec.issues import Issue, IssuesError

__all__ = ["StepItem", "StepSpec", "named_map_item", "resolve_steps"]

_LONE_STEP = "mix"


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


def _fixed_loss(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, str) and not from_file(info):
        return value
    if isinstance(value, str):
        amount = parse_amount(value)
        if amount.basis in (AmountBasis.MASS, AmountBasis.VOLUME):
            return amount.value  # mL are counted at 1 g each: what stays in a filter is not known better
    raise UnitError(f"must be a mass or a volume, got {shown(value)}. Write e.g. 20 g or 20 mL.")


class StepSpec(Frozen):
    """One step: what is lost in it and whether solids are strained off at its end."""

    not_written = frozenset({"name"})

    name: Id = Field(description="Name of the step.")
    loss_fraction: Share = Field(
        default=0.0, validation_alias="loss", description="Share of the liquor lost in filter and transfer."
    )
    fixed_loss_kg: Annotated[float, BeforeValidator(_fixed_loss), written("20 g", "20 mL")] = Field(
        default=0.0, validation_alias="fixed_loss", description="Lost once per batch; mL count 1 g each."
    )
    strain: bool | None = Field(
        default=None, description="Whether the solids are strained or pressed off at its end."
    )
    vessel: Id | None = Field(default=None, description="Vessel of the shelf this is done in.")


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
        step if step.strain is not None else step.model_copy(update={"strain": last == 0 or index < last})
        for index, step in enumerate(steps)
    )
