"""An ingredient: what is in it, how it behaves, where the figures come from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Strict,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from formulate.files.doses import Dose
from formulate.files.fields import (
    BitternessValue,
    ConcentrationGL,
    ContentGPerKg,
    DensityKgM3,
    FrozenDict,
    Id,
    MassFraction,
    MassFractionBand,
    MassKg,
    Meant,
    PlainNumber,
    RetentionKgPerKg,
    Share,
    StrengthPctVol,
    Text,
    TimeH,
    Tuple,
    VesselL,
    did_you_mean,
    from_file,
    written,
)
from formulate.files.frozen import Frozen, FrozenMap
from formulate.files.infusing import Drawn, PlanText, parse_drawn, parse_plan
from formulate.files.issues import Issue, IssuesError
from formulate.physics.components import ACIDS, SUGARS
from formulate.physics.components import COMPONENTS as LIQUOR_COMPONENTS

__all__ = [
    "COMPONENTS",
    "CUTS",
    "Bitterness",
    "CutName",
    "DrawnText",
    "Infusion",
    "Ingredient",
    "OwnIngredient",
    "PlanItem",
    "Source",
]

COMPONENTS = (*LIQUOR_COMPONENTS, "pectin", "insoluble")
"""What a composition may name: what dissolves, in the order of the formulas, then what stays in the cake."""


def _is_liquid(composition: Mapping[str, float]) -> bool:
    """Tell whether nothing stays behind and it is no dry sugar: then the mixture model has its density."""
    dissolves = sum(share for name, share in composition.items() if name not in ("pectin", "insoluble"))
    return dissolves > 1.0 - 1e-6 and composition.get("water", 0.0) + composition.get("ethanol", 0.0) > 0.15


def _check_component(name: str) -> str:
    if name not in COMPONENTS:
        raise ValueError(f"unknown component '{name}'. {did_you_mean(name, COMPONENTS, list_up_to=20)}")
    return name


Component = Annotated[str, AfterValidator(_check_component)]
Composition = Annotated[
    Mapping[Component, MassFraction],
    Strict(False),
    AfterValidator(FrozenMap),
    WithJsonSchema(
        {
            "type": "object",
            "properties": {name: {"type": "string", "examples": ["1.6 % w/w"]} for name in COMPONENTS},
            "additionalProperties": False,
        }
    ),
]


class Bitterness(Frozen):
    """Bitterness value per gram on the Ph. Eur. 2.8.15 scale, as bought."""

    value: Annotated[BitternessValue, Field(ge=0)] = Field(
        description="Usual bitterness value.", examples=[20000]
    )
    low: Annotated[BitternessValue, Field(ge=0)] | None = Field(default=None, description="Weak lots.")
    high: Annotated[BitternessValue, Field(ge=0)] | None = Field(default=None, description="Strong lots.")
    extracted: Share = Field(default=0.9, description="Share that reaches the liquor.")

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        issues = []
        if self.low is not None and self.low > self.value:
            issues.append(
                Issue(("low",), f"must not be above the value {self.value:g}, got {self.low:g}. Check both.")
            )
        if self.high is not None and self.high < self.value:
            issues.append(
                Issue(
                    ("high",), f"must not be below the value {self.value:g}, got {self.high:g}. Check both."
                )
            )
        if issues:
            raise IssuesError(issues)
        return self


PLANT_CLASSES = (
    "root",
    "bark",
    "leaf",
    "flower",
    "seed",
    "dried_peel",
    "zest",
    "pith",
    "crushed_fruit",
    "whole_fruit",
)
"""How a thing may be extracted; `physics.extraction` holds the starting values of each."""


def _check_class(value: str) -> str:
    if value not in PLANT_CLASSES:
        raise ValueError(f"no kind of infusing called '{value}'. {did_you_mean(value, PLANT_CLASSES)}")
    return value


CUTS = ("whole", "coarse", "fine", "powder")
"""How a plant may be prepared; `physics.extraction` holds what each does."""


def _check_cut(value: str) -> str:
    if value not in CUTS:
        raise ValueError(f"no cut called '{value}'. {did_you_mean(value, CUTS)}")
    return value


def _drawn(value: object, info: ValidationInfo) -> object:
    return parse_drawn(value) if isinstance(value, str) or from_file(info) else value


CutName = Annotated[str, AfterValidator(_check_cut), WithJsonSchema({"type": "string", "enum": list(CUTS)})]


def _plan(value: object, info: ValidationInfo) -> object:
    return parse_plan(value) if isinstance(value, str) or from_file(info) else value


PlanItem = Annotated[PlanText, BeforeValidator(_plan), written("36 h at 4 °C")]
DrawnText = Annotated[Drawn, BeforeValidator(_drawn), written("60 % after 3 h at 40 °C")]


class Infusion(Frozen):
    """How fast an ingredient gives up its bitterness, colour and aroma."""

    like: Annotated[
        str, AfterValidator(_check_class), WithJsonSchema({"type": "string", "enum": list(PLANT_CLASSES)})
    ] = Field(description="Kind of plant part it behaves like.", examples=["pith"])
    time_constant_h: Annotated[TimeH, Field(gt=0, le=8784)] | None = Field(
        default=None,
        validation_alias="time_constant",
        description="Your own: time at 20 °C after which 63 % is out.",
    )
    cut: CutName | None = Field(
        default=None, description="How it is prepared; cut and bruised (fine) if not said, fruit muddled."
    )
    drawn: DrawnText | None = Field(
        default=None, description="What came out in a jar of yours: it beats the built-in starting values."
    )


class Source(Frozen):
    """Where some of the figures come from."""

    figures: Tuple[Text] = Field(description="Keys the source covers.", examples=["[composition]"])
    source: Text = Field(description="Author, title, table.")
    confidence: Literal["published", "from memory", "common practice", "measured here"] = Field(
        description="How far to trust it.", examples=["published"]
    )


RANGED = ("water", "sugars", "acid")
"""What a range may be given of: sugars and acid are all kinds together."""


class _IngredientFields(Frozen):
    """Everything about an ingredient that may be left out of a bar's own entry."""

    latin: Text | None = Field(default=None, description="Botanical name.")
    composition: Composition = Field(
        default_factory=FrozenMap, description="Mass fractions as bought, at most 100 % in all."
    )
    ranges: FrozenDict[MassFractionBand] = Field(
        default_factory=FrozenMap,
        validation_alias="range",
        description="What lots hold of water, sugars and acid, as bought: lowest and highest.",
        examples=["{sugars: 6.3 to 9.7 % w/w}"],
    )
    strength_pct_vol: StrengthPctVol | None = Field(
        default=None,
        validation_alias="strength",
        description="Strength at 20 °C of a spirit of ethanol and water; instead of a composition.",
    )
    sugar_g_l: ConcentrationGL | None = Field(
        default=None,
        validation_alias="sugar",
        description="Sugar of something bought, beside its strength, by its label; counts as sucrose.",
        examples=["300 g/L"],
    )
    density_kg_m3: DensityKgM3 | None = Field(
        default=None, validation_alias="density", description="Density at 20 °C as bought."
    )
    retention_kg_per_kg: RetentionKgPerKg = Field(
        default=0.0,
        validation_alias="retention",
        description="Liquor the pressed solids hold, per kg as bought.",
    )
    ph: Annotated[PlainNumber, Field(ge=0, le=14)] | None = Field(
        default=None, description="pH, a plain number."
    )
    bitterness: Bitterness | None = Field(default=None, description="Bitterness value per gram.")
    dose: Dose | None = Field(default=None, description="Usual dose, per litre of finished drink.")
    infusion: Infusion | None = Field(
        default=None, description="How it infuses; else by its family, or not at all."
    )
    attributes: FrozenDict[ContentGPerKg] = Field(
        default_factory=FrozenMap,
        description="Other contents, such as anthocyanin or a restricted substance.",
    )
    restricted: FrozenDict[ContentGPerKg] = Field(
        default_factory=FrozenMap,
        description="Your own measured content of a restricted substance, with its source below.",
        examples=["{thujone: 6 mg/g}"],
    )
    cautions: Tuple[Text] = Field(default=(), description="What to take care of.")
    notes: Text | None = Field(default=None, description="Anything worth knowing.")
    sources: Tuple[Source] = Field(default=(), description="Where the figures come from.")
    piece_kg: Annotated[MassKg, Field(gt=0)] | None = Field(
        default=None, validation_alias="piece", description="Mass of one piece, edible part."
    )
    bottle_l: VesselL | None = Field(
        default=None, validation_alias="bottle", description="Volume of one bottle."
    )

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        issues = [
            Issue(("range", name), f"no such range. Give one of {', '.join(RANGED)}.", at_key=True)
            for name in self.ranges
            if name not in RANGED
        ]
        if self.strength_pct_vol is not None and self.composition:
            issues.append(
                Issue(
                    ("strength",),
                    "stands beside a composition. Give one: a strength for plain spirit, else a composition.",
                    at_key=True,
                )
            )
        if self.strength_pct_vol is not None and self.density_kg_m3 is not None:
            issues.append(
                Issue(
                    ("density",),
                    "stands beside a strength, which gives the density of a plain spirit. Delete it, or give "
                    "a composition instead of the strength.",
                    at_key=True,
                )
            )
        if self.sugar_g_l is not None and self.strength_pct_vol is None:
            message = "stands without a strength. Give both, as the label says; or give a composition."
            issues.append(Issue(("sugar",), message, at_key=True))
        total = sum(self.composition.values())
        if total > 1 + 1e-9:
            issues.append(
                Issue(
                    ("composition",),
                    f"adds up to {100 * total:.6g} % w/w. Keep it at or below 100.",
                    at_key=True,
                )
            )
        if issues:
            raise IssuesError(issues)
        return self


class Ingredient(_IngredientFields):
    """One ingredient with canonical figures.

    `composition` holds mass fractions (0 to 1), `attributes` g/kg, both as bought. `based_on` and
    `overrides` are set where a bar's shelf builds on a library entry. Once it comes out of a pantry,
    `restricted` holds everything a limit counts, at worst, in g/kg (see `jobs.law.restricted`).
    """

    not_written = frozenset({"id", "based_on", "overrides"})

    id: Id = Field(description="Short name used in files.")
    name: Text = Field(description="Name for people.", examples=["Plum, stoned"])
    family: Text = Field(default="own", description="Kind, such as fruit, spirit or bitter.")
    based_on: Id | None = Field(default=None, description="Library entry this builds on.")
    overrides: Tuple[str] = Field(default=(), description="Keys that differ from the library entry.")

    @property
    def sugar_share(self) -> float:
        """Mass fraction of all sugars, as bought."""
        return sum(self.composition.get(name, 0.0) for name in SUGARS)

    @property
    def acid_share(self) -> float:
        """Mass fraction of all acids, as bought."""
        return sum(self.composition.get(name, 0.0) for name in ACIDS)


class OwnIngredient(_IngredientFields):
    """A bar's own values: a whole ingredient, or what differs from a library entry (`based_on`)."""

    name: Text | None = Field(default=None, description="Name for people; needed without based_on.")
    family: Text | None = Field(default=None, description="Kind.")
    based_on: Id | None = Field(default=None, description="Library entry to take missing keys from.")
    meant: Meant = False

    @model_validator(mode="after")
    def _names_itself(self) -> Self:
        if self.name is None and self.based_on is None:
            raise IssuesError(
                [Issue((), "'name' is missing. Add `name:`, or `based_on:` with a library id.", at_key=True)]
            )
        return self

    def given(self) -> tuple[str, ...]:
        """List the keys written down, as written, in their order in the model."""
        return tuple(
            str(field.validation_alias or name)
            for name, field in type(self).model_fields.items()
            if name in self.model_fields_set and name not in ("based_on", "meant")
        )

    def resolve(self, ingredient_id: str, base: Ingredient | None) -> Ingredient:
        """Build the whole ingredient from these values and, below them, the library's.

        Parameters
        ----------
        ingredient_id : str
            Id on the shelf.
        base : Ingredient or None
            The library entry named by `based_on`.
        """
        values: dict[str, Any] = {}
        written = {
            name: getattr(self, name) for name in self.model_fields_set if name not in ("based_on", "meant")
        }
        if base is not None:
            values = {name: getattr(base, name) for name in type(base).model_fields}
            # A strength and a composition say the same thing in two ways: the bar's way wins. The density
            # of a plain spirit, and of a liquid whose composition is another, follows from them.
            if "strength_pct_vol" in written:
                values["composition"], values["density_kg_m3"] = FrozenMap(), None
            elif "composition" in written:
                values["strength_pct_vol"] = None
                if _is_liquid(written["composition"]):
                    values["density_kg_m3"] = None
        values |= written
        if base is not None and all(source.figures == ("restricted",) for source in self.sources):
            values["sources"] = (*self.sources, *base.sources)
        values |= {"id": ingredient_id, "based_on": self.based_on, "overrides": self.given() if base else ()}
        return Ingredient.model_validate(values)
