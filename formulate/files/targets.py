"""What a bottle must be, and a drink in the glass: `targets:` of both files, by the table of measures."""

from __future__ import annotations

import difflib
import re
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    ValidationInfo,
    WithJsonSchema,
    create_model,
    model_validator,
)

from formulate.files.aims import BitternessAim, Measured, parse_bitterness
from formulate.files.categories import CategoryField
from formulate.files.fields import (
    ConcentrationBand,
    CostLimits,
    FrozenDict,
    StrengthBand,
    did_you_mean,
    from_file,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.issues import Issue, IssuesError
from formulate.files.measures import ASKED_BY_BAND, BITTERNESS, COST, contents_among
from formulate.quantity import Band, Dimension

__all__ = ["DrinkTargets", "Targets"]

CATEGORY = "category"
_NAMED_TARGETS = (*(measure.name for measure in ASKED_BY_BAND), BITTERNESS, COST, CATEGORY)
_NO_TARGET = "no target to hit. Add e.g. `strength: 22 ± 0.3 % vol`."


def _aim(value: object, info: ValidationInfo) -> object:
    return parse_bitterness(value) if isinstance(value, str) or from_file(info) else value


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


def _needs_band(band: Band) -> Band:
    if band.plain:
        raise ValueError(
            f"no usual tolerance for this one, got {band.text}. Write at most, at least or A to B."
        )
    return band


AttributeBand = Annotated[ConcentrationBand, AfterValidator(_needs_band)]
_BANDS: dict[Dimension | None, Any] = {
    Dimension.STRENGTH: StrengthBand,
    Dimension.MASS_CONCENTRATION: ConcentrationBand,
}

if TYPE_CHECKING:

    class _InBottle(Frozen):
        """Whatever the table of measures asks for with a band."""

    class _InGlass(Frozen):
        """The same in a drink file."""

else:

    def _with_bands(name: str, words: str) -> type[Frozen]:
        return create_model(
            name,
            __base__=Frozen,
            **{
                measure.name: (
                    _BANDS[measure.dimension] | None,
                    Field(default=None, description=getattr(measure, words)),
                )
                for measure in ASKED_BY_BAND
            },
        )

    _InBottle, _InGlass = _with_bands("_InBottle", "in_bottle"), _with_bands("_InGlass", "in_glass")


class Targets(_InBottle):
    """What the bottle must be; a plain value takes the shelf's usual tolerance."""

    cost_alone: ClassVar[bool] = False
    """Whether a limit on the cost may be all there is."""

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
        if not any(key != COST for key in value) and not (value and cls.cost_alone):
            raise IssuesError([Issue((), _NO_TARGET, at_key=True)])
        named = {key: band for key, band in value.items() if key in _NAMED_TARGETS}
        return {**named, "attributes": others}

    @model_validator(mode="after")
    def _at_least_one(self, info: ValidationInfo) -> Self:
        aimed = self.bands() or self.bitterness is not None or self.category is not None
        if not from_file(info) and not aimed and not (self.cost_alone and self.cost):
            raise ValueError(_NO_TARGET)
        return self

    def band(self, name: str) -> Band | None:
        """Return what is asked of a measure with a band; None where the file says nothing of it."""
        return self.bands().get(name)

    def bands(self) -> dict[str, Band]:
        """Collect every band by target name: those of the table in its order, then the file's own."""
        return _bands(self) | dict(self.attributes)

    @property
    def contents(self) -> tuple[str, ...]:
        """What ingredients bring under `attributes:` that is asked for."""
        return contents_among(self.bands())

    @property
    def given(self) -> dict[str, Any]:
        """Every target the file names, as read, by name."""
        fixed = {BITTERNESS: self.bitterness, COST: self.cost, CATEGORY: self.category}
        return self.bands() | {name: aim for name, aim in fixed.items() if aim is not None}

    def with_those_of(self, other: Targets) -> Self:
        """Put the targets that `other` names in place of these."""
        given = {name: aim for name, aim in other.given.items() if name not in other.attributes}
        attributes = FrozenMap({**self.attributes, **other.attributes})
        return self.model_copy(update={**given, "attributes": attributes})

    def asking(self, name: str, band: Band) -> Self:
        """Ask for a measure between these ends, whatever the file says of it."""
        if name in self.attributes:
            return self.model_copy(update={"attributes": FrozenMap({**self.attributes, name: band})})
        return self.model_copy(update={name: Measured(band, band.text) if name == BITTERNESS else band})


class DrinkTargets(_InGlass):
    """What the drink must be in the glass; a plain value takes the shelf's usual tolerance."""

    bitterness: AimField | None = Field(default=None, description="How bitter: a word, or measured.")

    @model_validator(mode="after")
    def _at_least_one(self) -> Self:
        if not self.bands() and self.bitterness is None:
            raise IssuesError([Issue((), "names nothing. Add strength, sugar, acid or bitterness.")])
        return self

    def bands(self) -> dict[str, Band]:
        """Collect every band by target name."""
        return _bands(self)


def _bands(targets: Targets | DrinkTargets) -> dict[str, Band]:
    asked = {measure.name: getattr(targets, measure.name) for measure in ASKED_BY_BAND}
    return {name: band for name, band in asked.items() if band is not None}
