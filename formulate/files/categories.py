"""Categories of spirit drinks: what a drink may be called, by its figures and its ingredients."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import inf
from typing import Annotated, Any, Self, get_args

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema, model_validator

from formulate.errors import UnitError
from formulate.files.fields import (
    ConcentrationBand,
    ConcentrationGL,
    Id,
    MassFraction,
    MassFractionBand,
    PlainNumber,
    Share,
    StrengthBand,
    StrengthPctVol,
    Text,
    Tuple,
    did_you_mean,
    from_file,
    shown,
)
from formulate.files.standards import Jurisdiction, Match, Row, Standard, load_rows

__all__ = ["CategoryAim", "CategoryField", "CategoryRow", "categories", "category_row", "parse_category"]

_EXAMPLE = "liqueur (EU)"

DRY_TOTALS = ((30.0, 15.0), (50.0, 16.0))
"""Below so much sugar, g/L, an aromatised wine needs no more total strength than this, % vol."""


class CategoryRow(Row):
    """One category; a figure that is left out asks for nothing.

    Attributes
    ----------
    names : tuple of str
        What it may be called; the first is the usual one.
    strength, invert_sugar, sugar_share : Band or None
        % vol at 20 °C; g/L as invert sugar; sugars over the mass of the drink.
    strength_below, sugar_share_below : float or None
        What must not be reached.
    wine_share : float or None
        Least share of the volume that is wine.
    wine_share_below : float or None
        Share of the volume that is wine which must not be reached.
    total_strength : float or None
        Least strength with what the sugar could still give, % vol; `least_total` knows the dry ones.
    flavoured : bool
        Whether something beside spirit, water and sugar must be in it.
    bitterness : float or None
        Bitterness value from which we think of it; taste decides.
    with_any, with_also, without : Match or None
        Ingredients it must hold, also hold, and must not hold.
    with_least_g_l : float or None
        Least of `with_any`, g per litre bottled.
    not_mostly : Match or None
        What may not be half or more of `with_any` by mass: then it has another name.
    only_plants : tuple of str
        The only plants it may hold.
    only_alcohol : Match or None
        What all of its alcohol must come from.
    alcohol_of_wine : float or None
        Most of the alcohol that may come from wine, as a share, up to the strength `of_wine_up_to`, % vol.
    by_hand : str or None
        What no figure tells.
    general : bool
        Whether it is a catch-all, named last.
    """

    names: Annotated[Tuple[Text], Field(min_length=1)] = Field(description="What it may be called.")
    strength: StrengthBand | None = Field(default=None, description="Strength at 20 °C.")
    strength_below: StrengthPctVol | None = Field(default=None, description="Not reached.")
    invert_sugar: ConcentrationBand | None = Field(default=None, description="Sugar as invert sugar.")
    sugar_share: MassFractionBand | None = Field(default=None, description="Sugars by mass of the drink.")
    sugar_share_below: MassFraction | None = Field(default=None, description="Not reached.")
    wine_share: Share | None = Field(default=None, description="Least share of the volume that is wine.")
    wine_share_below: Share | None = Field(default=None, description="Share of wine not to be reached.")
    total_strength: StrengthPctVol | None = Field(
        default=None, description="Strength with what its sugar could still give."
    )
    flavoured: bool = Field(default=False, description="Whether anything must flavour it.")
    bitterness: PlainNumber | None = Field(default=None, description="Bitterness value to think of it.")
    with_any: Match | None = Field(default=None, description="Must be in it.")
    with_also: Match | None = Field(default=None, description="Must be in it too.")
    with_least_g_l: ConcentrationGL | None = Field(
        default=None, validation_alias="with_least", description="Least of `with_any`, per litre bottled."
    )
    without: Match | None = Field(default=None, description="Must not be in it.")
    not_mostly: Match | None = Field(default=None, description="Not half or more of `with_any`.")
    only_alcohol: Match | None = Field(default=None, description="What all of its alcohol comes from.")
    alcohol_of_wine: Share | None = Field(
        default=None, description="Most of the alcohol that wine may bring."
    )
    of_wine_up_to: StrengthPctVol | None = Field(default=None, description="Above it wine does not matter.")
    only_plants: Tuple[Id] = Field(default=(), description="The only plants in it.")
    by_hand: Text | None = Field(default=None, description="What no figure tells.")
    general: bool = Field(default=False, description="Whether it is a catch-all.")

    def least_total(self, invert_sugar_g_l: float) -> float:
        """Return the least total strength for so much sugar, % vol; 0 for none.

        Reg. (EU) 251/2014 articles 3(2)(g) and 6(1): dry aromatised wine has 16, extra-dry 15.
        """
        if self.total_strength is None:
            return 0.0
        lower = next((total for below, total in DRY_TOTALS if invert_sugar_g_l < below), inf)
        return min(self.total_strength, lower)

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        if self.with_least_g_l is not None and self.with_any is None:
            raise ValueError("'with_least' stands without 'with_any'. Say of what.")
        if self.not_mostly is not None and self.with_any is None:
            raise ValueError("'not_mostly' stands without 'with_any'. Say of what.")
        if (self.alcohol_of_wine is None) != (self.of_wine_up_to is None):
            raise ValueError("'alcohol_of_wine' and 'of_wine_up_to' go together. Give both.")
        return self


@dataclass(frozen=True, slots=True)
class CategoryAim:
    """A category a bottle shall belong to: its row in the standards, and the name asked for."""

    row_id: str
    name: str
    jurisdiction: Jurisdiction
    text: str = field(default="", compare=False)


def categories() -> Standard[CategoryRow]:
    """Read the categories that travel with the package.

    Raises
    ------
    SpecError
        If a block is wrong.
    """
    return load_rows("categories", CategoryRow)


def category_row(aim: CategoryAim) -> CategoryRow:
    """Return the row of a category asked for."""
    return categories()[aim.row_id]


def parse_category(value: object) -> CategoryAim:
    """Read a category such as ``liqueur (EU)``.

    Raises
    ------
    UnitError
        With what is wrong, what was typed and what to write instead.
    """
    places = get_args(Jurisdiction)
    if not isinstance(value, str):
        raise UnitError(f"must be the name of a category, got {shown(value)}. Write e.g. {_EXAMPLE}.")
    text = " ".join(value.split())
    found = re.fullmatch(r"(.+?) ?\((\w+)\)", text)
    if found is None or found[2].upper() not in places:
        raise UnitError(
            f"says not by whose law, got {shown(text)}. Write the name and one of {', '.join(places)}, "
            f"e.g. {_EXAMPLE}."
        )
    name, place = found[1].lower(), found[2].upper()
    rows = [row for row in categories().rows if place in row.jurisdiction]
    row = next((row for row in rows if name in row.names), None)
    if row is None:
        hint = did_you_mean(name, [known for row in rows for known in row.names], list_up_to=30)
        raise UnitError(f"no category called '{name}' is known for {place}, got {shown(text)}. {hint}")
    return CategoryAim(row.id, name, place, text)  # type: ignore[arg-type]  # checked just above


def _category(value: object, info: ValidationInfo) -> Any:
    return parse_category(value) if isinstance(value, str) or from_file(info) else value


CategoryField = Annotated[
    CategoryAim,
    BeforeValidator(_category),
    WithJsonSchema({"type": "string", "examples": [_EXAMPLE, "crème de cassis (EU)", "cordial (US)"]}),
]
