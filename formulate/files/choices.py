"""Whether things are used at all: the `choose` part of a bottle file."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Self

from pydantic import Field, Strict, model_validator

from formulate.files.fields import AmountText, FrozenDict, Id, Tuple, did_you_mean, shown
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.quantity import AmountBasis

__all__ = ["Choose", "unknown_choices"]

MOST_NAMED = 200


class Choose(Frozen):
    """Choices the solver makes in whole numbers."""

    at_most: Annotated[int, Strict(), Field(ge=1, le=MOST_NAMED)] | None = Field(
        default=None, description="At most so many ingredients.", examples=[6]
    )
    one_of: Tuple[Tuple[Id]] = Field(
        default=(),
        description="Groups of which exactly one is used.",
        examples=["[[gentian-root, wormwood-herb]]"],
    )
    least_if_used: FrozenDict[AmountText] = Field(
        default_factory=FrozenMap,
        description="Per ingredient, the least worth using; else none of it.",
        examples=["{gentian-root: 0.5 g per L bottled}"],
    )

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = []
        for index, group in enumerate(self.one_of):
            if len(set(group)) < 2 or len(set(group)) < len(group):
                issues.append(
                    Issue(("one_of", index), "needs two or more different ingredients. List each once.")
                )
        for name, amount in self.least_if_used.items():
            if amount.basis is AmountBasis.SHARE_OF_MASS or not amount.value > 0:
                issues.append(
                    Issue(
                        ("least_if_used", name),
                        f"must be an amount above zero, got {shown(amount.text)}. Write e.g. 0.5 g/L.",
                    )
                )
        if self.at_most is None and not self.one_of and not self.least_if_used:
            issues.append(
                Issue((), "says nothing. Add at_most, one_of or least_if_used, or delete it.", at_key=True)
            )
        if issues:
            raise IssuesError(issues)
        return self


def unknown_choices(choose: Choose, known: Iterable[str]) -> list[Issue]:
    """Point at what `choose` names that is not in the list of ingredients."""
    names = list(known)
    issues = []
    for index, group in enumerate(choose.one_of):
        for position, name in enumerate(group):
            if name not in names:
                issues.append(Issue(("choose", "one_of", index, position), _not_listed(name, names)))
    issues += [
        Issue(("choose", "least_if_used", name), _not_listed(name, names), at_key=True)
        for name in choose.least_if_used
        if name not in names
    ]
    return issues


def _not_listed(name: str, names: list[str]) -> str:
    return f"'{name}' is not in the list of ingredients. {did_you_mean(name, names)}".rstrip()
