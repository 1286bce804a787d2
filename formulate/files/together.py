"""Limits on several ingredients of a bottle (`together:`), and whether things are used at all (`choose:`)."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Self

from pydantic import BeforeValidator, Field, Strict, ValidationInfo, WithJsonSchema, model_validator

from formulate.errors import UnitError
from formulate.files.fields import AmountText, FrozenDict, Id, Tuple, did_you_mean, from_file, shown
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError, KeyPath
from formulate.quantity import AmountBand, AmountBasis, Band, Dimension, parse_amount_band, parse_band

__all__ = ["Choose", "Ratio", "ShareOf", "Sum", "Together", "TogetherItem", "unknown_choices"]


@dataclass(frozen=True, slots=True)
class Ratio:
    """Mass of `numerator` over mass of `denominator`, as bought."""

    kind: ClassVar[str] = "ratio"
    numerator: str
    denominator: str
    band: Band

    @property
    def ids(self) -> tuple[str, ...]:
        """Both ingredients."""
        return self.numerator, self.denominator


@dataclass(frozen=True, slots=True)
class Sum:
    """Limits on several ingredients together; `stands_for` as in `ShareOf`.

    `worth` says how much of the one it was asked of at first each is worth, mass for mass; empty for one.
    """

    kind: ClassVar[str] = "sum"
    ids: tuple[str, ...]
    band: AmountBand
    stands_for: tuple[str, KeyPath] | None = None
    worth: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class ShareOf:
    """What several ingredients bring of bitterness, mass, sugar, acid or an attribute.

    `stands_for` names the ingredient, and the place in the file, that it was asked of at first.
    """

    kind: ClassVar[str] = "share"
    ids: tuple[str, ...]
    of: str
    band: Band
    stands_for: tuple[str, KeyPath] | None = None


Together = Ratio | Sum | ShareOf
_TOGETHER_EXAMPLES = (
    "`{ratio: damson to grapefruit-pith, is: 8 to 12}`, `{sum: [a, b], is: at least 250 g per L bottled}` or "
    "`{share: [a, b], of: bitterness, is: 30 to 60 %}`"
)


def _together(value: object, info: ValidationInfo) -> object:
    if isinstance(value, (Ratio, Sum, ShareOf)) and not from_file(info):
        return value
    if not isinstance(value, dict):
        raise IssuesError([Issue((), f"must be a map, got {shown(value)}. Write {_TOGETHER_EXAMPLES}.")])
    kinds = [kind for kind in ("ratio", "sum", "share") if kind in value]
    if len(kinds) != 1:
        raise IssuesError([Issue((), f"needs one of ratio, sum and share. Write {_TOGETHER_EXAMPLES}.")])
    kind = kinds[0]
    known = (kind, "is", "of") if kind == "share" else (kind, "is")
    issues = [
        Issue((key,), f"unknown key '{key}'. {did_you_mean(key, known)}", at_key=True)
        for key in value
        if key not in known
    ]
    issues += [
        Issue((), f"'{key}' is missing. Write {_TOGETHER_EXAMPLES}.") for key in known if key not in value
    ]
    ids: tuple[str, ...] = ()
    if kind == "ratio":
        found = re.fullmatch(r"(\S+) to (\S+)", str(value[kind]).strip())
        if found is None:
            issues.append(
                Issue(
                    (kind,),
                    f"names two ingredients, got {shown(value[kind])}. Write e.g. damson to grapefruit-pith.",
                )
            )
        else:
            ids = (found[1], found[2])
    elif isinstance(value[kind], list) and value[kind] and all(isinstance(item, str) for item in value[kind]):
        ids = tuple(value[kind])
    else:
        issues.append(
            Issue(
                (kind,),
                f"must be a list of ingredients, got {shown(value[kind])}. Write e.g. [damson, plum].",
            )
        )
    if len(set(ids)) < len(ids):
        issues.append(Issue((kind,), "names an ingredient twice. Keep one."))
    if kind == "share" and "of" in value and not isinstance(value["of"], str):
        issues.append(
            Issue(
                ("of",),
                f"must be text, got {shown(value['of'])}. Write e.g. bitterness, mass or sugar.",
            )
        )
    band: Any = None
    if "is" in value:
        try:
            band = _together_band(kind, value["is"])
        except UnitError as error:
            issues.append(Issue(("is",), str(error)))
    if issues:
        raise IssuesError(issues)
    if kind == "ratio":
        return Ratio(ids[0], ids[1], band)
    return Sum(ids, band) if kind == "sum" else ShareOf(ids, value["of"], band)


def _together_band(kind: str, text: object) -> Band | AmountBand:
    if kind == "sum":
        return parse_amount_band(text)
    band = parse_band(text, Dimension.RATIO if kind == "ratio" else Dimension.SHARE)
    if band.plain:
        raise UnitError(
            f"a single value without limits, got {band.text}. Write a range or exactly {band.text}."
        )
    return band


TogetherItem = Annotated[
    Together,
    BeforeValidator(_together),
    WithJsonSchema(
        {
            "type": "object",
            "properties": {
                "ratio": {"type": "string", "examples": ["damson to grapefruit-pith"]},
                "sum": {"type": "array", "items": {"type": "string"}, "minItems": 1},
                "share": {"type": "array", "items": {"type": "string"}, "minItems": 1},
                "of": {"type": "string", "examples": ["bitterness", "mass", "sugar", "acid"]},
                "is": {
                    "type": "string",
                    "examples": ["8 to 12", "at least 250 g per L bottled", "30 to 60 %"],
                },
            },
            "required": ["is"],
            "oneOf": [{"required": ["ratio"]}, {"required": ["sum"]}, {"required": ["share", "of"]}],
            "additionalProperties": False,
        }
    ),
]


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
