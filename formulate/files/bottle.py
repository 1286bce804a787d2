"""The bottle file: what a bottle must be, and what may go into it."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from os.path import normpath
from pathlib import Path
from typing import Annotated, Any, ClassVar, Self, TypeVar

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from formulate.errors import UnitError
from formulate.files.aims import BitternessAim, SameAs, Size, Use, parse_bitterness, parse_size
from formulate.files.categories import CategoryField
from formulate.files.choices import Choose, unknown_choices
from formulate.files.crosscheck import Names, cross_issues, names_as_typed, together_names
from formulate.files.fields import (
    AmountText,
    BitternessValue,
    ConcentrationBand,
    CostLimits,
    FrozenDict,
    Id,
    ShareBand,
    StrengthBand,
    Text,
    Tuple,
    VolumeL,
    did_you_mean,
    from_file,
    shown,
)
from formulate.files.frozen import FileModel, Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.files.lifted import Lifted
from formulate.files.located import KeyPath, load_document
from formulate.files.problems import read_model
from formulate.files.standards import Jurisdiction
from formulate.files.steps import StepItem, StepSpec, named_map_item, resolve_steps
from formulate.quantity import AmountBand, Band, Dimension, parse_amount_band, parse_band

__all__ = [
    "Bottle",
    "IngredientUse",
    "MeasuredBitterness",
    "Ratio",
    "ShareOf",
    "Sum",
    "Targets",
    "Together",
    "load_bottle",
]

T = TypeVar("T")
_NAMED_TARGETS = ("strength", "sugar", "acid", "bitterness", "cost", "category")
_NO_TARGET = "no target to hit. Add e.g. `strength: 22 ± 0.3 % vol`."
_ITEM_EXAMPLE = "- damson: {at_least: 250 g per L bottled, step: infuse}"


def _aim(value: object, info: ValidationInfo) -> object:
    return parse_bitterness(value) if isinstance(value, str) or from_file(info) else value


def _size(value: object, info: ValidationInfo) -> object:
    return parse_size(value) if isinstance(value, str) or from_file(info) else value


AimField = Annotated[
    BitternessAim,
    BeforeValidator(_aim),
    WithJsonSchema(
        {
            "type": "string",
            "examples": [
                "firm",
                "like 1.2 g/L gentian-root",
                "same as house-amaro, thinned 1 in 30",
                "25 ± 4 (measured)",
            ],
        }
    ),
]
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


def _needs_band(band: Band) -> Band:
    if band.plain:
        raise ValueError(
            f"no usual tolerance for this one, got {band.text}. Write at most, at least or A to B."
        )
    return band


AttributeBand = Annotated[ConcentrationBand, AfterValidator(_needs_band)]


class Targets(Frozen):
    """What the bottle must be; a plain value takes the shelf's usual tolerance."""

    cost_alone: ClassVar[bool] = False
    """Whether a limit on the cost may be all there is."""

    strength: StrengthBand | None = Field(default=None, description="Strength at 20 °C.")
    sugar: ConcentrationBand | None = Field(default=None, description="Sugars in all.")
    acid: ConcentrationBand | None = Field(default=None, description="Acids in all, as citric acid.")
    bitterness: AimField | None = Field(default=None, description="How bitter.")
    cost: CostLimits | None = Field(default=None, description="Cost of the ingredients, per L or in total.")
    category: CategoryField | None = Field(
        default=None, description="What it shall be called by law: its figures become limits."
    )
    attributes: FrozenDict[AttributeBand] = Field(
        default_factory=FrozenMap, description="Any other attribute of the ingredients, as mass per litre."
    )

    @model_validator(mode="before")
    @classmethod
    def _gather(cls, value: object, info: ValidationInfo) -> object:
        if not isinstance(value, dict) or not from_file(info):
            return value
        others = {key: band for key, band in value.items() if key not in _NAMED_TARGETS}
        issues = [
            Issue((name,), f"no target called '{name}'. {did_you_mean(name, _NAMED_TARGETS)}", at_key=True)
            for name in others
            if name == "attributes"
            or not re.fullmatch(r"[a-z][a-z0-9_-]*", name)
            or difflib.get_close_matches(name, _NAMED_TARGETS, n=1, cutoff=0.75)
        ]
        if issues:
            raise IssuesError(issues)
        if not any(key != "cost" for key in value) and not (value and cls.cost_alone):
            raise IssuesError([Issue((), _NO_TARGET, at_key=True)])
        named = {key: band for key, band in value.items() if key in _NAMED_TARGETS}
        return {**named, "attributes": others}

    @model_validator(mode="after")
    def _at_least_one(self, info: ValidationInfo) -> Self:
        aimed = self.bands() or self.bitterness is not None or self.category is not None
        if not from_file(info) and not aimed and not (self.cost_alone and self.cost):
            raise ValueError(_NO_TARGET)
        return self

    def bands(self) -> dict[str, Band]:
        """Collect every band on a concentration or strength by target name, in file-independent order."""
        named = {"strength": self.strength, "sugar": self.sugar, "acid": self.acid}
        return {name: band for name, band in named.items() if band is not None} | dict(self.attributes)


class IngredientUse(Frozen):
    """An ingredient that may be used, with its limits."""

    not_written = frozenset({"id"})

    id: Id = Field(description="Ingredient id.")
    step: Id | None = Field(default=None, description="Step it goes into; free if not said.")
    at_least: AmountText | None = Field(default=None, description="Never less than this.")
    at_most: AmountText | None = Field(default=None, description="Never more than this.")
    exactly: AmountText | None = Field(default=None, description="This much.")
    share_of_bitterness: ShareBand | None = Field(default=None, description="Its share of the bitterness.")
    share_of_mass: ShareBand | None = Field(default=None, description="Its share of all mass weighed in.")

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


@dataclass(frozen=True, slots=True)
class Ratio:
    """Mass of `numerator` over mass of `denominator`, as bought."""

    numerator: str
    denominator: str
    band: Band


@dataclass(frozen=True, slots=True)
class Sum:
    """Limits on several ingredients together; `stands_for` as in `ShareOf`."""

    ids: tuple[str, ...]
    band: AmountBand
    stands_for: tuple[str, KeyPath] | None = None


@dataclass(frozen=True, slots=True)
class ShareOf:
    """What several ingredients bring of bitterness, mass, sugar, acid or an attribute.

    `stands_for` names the ingredient, and the place in the file, that it was asked of at first.
    """

    ids: tuple[str, ...]
    of: str
    band: Band
    stands_for: tuple[str, KeyPath] | None = None


Together = Ratio | Sum | ShareOf
_KIND_OF: dict[type, str] = {Ratio: "ratio", Sum: "sum", ShareOf: "share"}
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
    shelf: ShelfPath | None = Field(
        default=None, description="Shelf file, relative to this file.", examples=["../shelf.yaml"]
    )
    targets: Targets = Field(description="What it must be.")
    steps: Tuple[StepItem] = Field(
        default=(),
        description="Steps in order; infuse and finish if an ingredient names one of them, else one.",
    )
    ingredients: Annotated[Tuple[IngredientItem], AfterValidator(not_empty)] = Field(
        description="What may go in; a plain id or an id with limits."
    )
    together: Tuple[TogetherItem] = Field(default=(), description="Limits on several ingredients.")
    choose: Choose | None = Field(default=None, description="What is used at all, in whole numbers.")
    measured: FrozenDict[MeasuredBitterness] = Field(
        default_factory=FrozenMap, description="Measured bitterness by ingredient id."
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
    def _names_agree(self) -> Self:
        referred: list[tuple[tuple[str | int, ...], str]] = []
        for index, rule in enumerate(self.together):
            ids = (rule.numerator, rule.denominator) if isinstance(rule, Ratio) else rule.ids
            referred += together_names(index, _KIND_OF[type(rule)], ids)
        aim = self.targets.bitterness
        names = Names(
            tuple((use.id, use.step) for use in self.ingredients),
            tuple(step.name for step in self.steps),
            tuple(referred),
            tuple(self.measured),
            self.size.ingredient if isinstance(self.size, Use) else None,
            aim.reference if isinstance(aim, SameAs) else None,
        )
        issues = cross_issues(names)
        if self.choose is not None:
            issues += unknown_choices(self.choose, (use.id for use in self.ingredients))
        if issues:
            raise IssuesError(issues)
        return self

    @classmethod
    def issues_as_typed(cls, raw: Mapping[str, Any]) -> list[Issue]:
        """Check the names of a file that could not be read as a whole."""
        return cross_issues(names_as_typed(raw))

    @property
    def shelf_path(self) -> Path | None:
        """Path of the shelf file, seen from where the bottle file was read."""
        return resolved_beside(self.path, self.shelf)

    def resolved_steps(self) -> tuple[StepSpec, ...]:
        """Give the steps with their defaults filled in; see `resolve_steps`."""
        return resolve_steps(self.steps, (use.step for use in self.ingredients))


def resolved_beside(path: Path | None, other: str | None) -> Path | None:
    """Resolve a path written in a file against the folder of that file.

    Folders that are only stepped out of again are left out, unless one is a link that leads elsewhere.
    """
    if other is None:
        return None
    found = Path(other) if path is None else path.parent / other
    shorter = Path(normpath(found))
    return shorter if shorter.resolve() == found.resolve() else found


def load_bottle(path: Path | str) -> Bottle:
    """Read a bottle file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return read_model(Bottle, load_document(Path(path)))
