"""The reading file: what the instruments showed, kept so that `gauge` and `adjust` can use it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, ValidationInfo, model_validator

from formulate.files.bottle import ShelfPath
from formulate.files.fields import (
    AmountText,
    ConcentrationBand,
    ConcentrationGL,
    StrengthBand,
    TemperatureC,
    Text,
    from_file,
    written,
)
from formulate.files.frozen import Frozen
from formulate.files.issues import Issue, IssuesError
from formulate.files.models import FileModel, Source, opened, resolved_beside
from formulate.quantity.readings import (
    Reading,
    parse_density_reading,
    parse_refraction_reading,
    parse_resolution,
    parse_temperature_step,
)

__all__ = ["Instruments", "ReadingFile", "load_reading"]


def _density(value: object, info: ValidationInfo) -> object:
    return parse_density_reading(value) if isinstance(value, str) or from_file(info) else value


def _refraction(value: object, info: ValidationInfo) -> object:
    return parse_refraction_reading(value) if isinstance(value, str) or from_file(info) else value


def _kelvin(value: object, info: ValidationInfo) -> object:
    return parse_temperature_step(value) if isinstance(value, str) or from_file(info) else value


class Instruments(Frozen):
    """What a hydrometer and a refractometer show, and how finely they are divided."""

    density: (
        Annotated[
            Reading, BeforeValidator(_density), written("SG 1.0425 20/20", "1042.5 kg/m3", "10.6 Plato")
        ]
        | None
    ) = Field(default=None, description="What the hydrometer or density meter shows.")
    refraction: Annotated[Reading, BeforeValidator(_refraction), written("31.2 Brix", "nD 1.3625")] | None = (
        Field(default=None, description="What the refractometer shows.")
    )
    at: TemperatureC = Field(default=20.0, description="Temperature of the drink, default 20 °C.")
    refraction_at: TemperatureC | None = Field(
        default=None, description="Temperature at the refractometer, if another."
    )
    density_step: Text | None = Field(default=None, description="Smallest division, e.g. 0.002 SG.")
    refraction_step: Text | None = Field(default=None, description="Smallest division, e.g. 0.2 Brix.")
    thermometer: Annotated[float, BeforeValidator(_kelvin), written("1 °C")] = Field(
        default=1.0, description="How far the thermometer may be off, default 1 °C."
    )
    corrects_itself: bool | None = Field(
        default=None,
        description="Whether the refractometer corrects for temperature; default yes for Brix, no for nD.",
    )

    @model_validator(mode="after")
    def _steps_fit(self) -> Self:
        issues = []
        for key, reading in (("density_step", self.density), ("refraction_step", self.refraction)):
            text = getattr(self, key)
            if text is None:
                continue
            if reading is None:
                issues.append(Issue((key,), f"stands without a {key[:-5]}. Delete it.", at_key=True))
                continue
            try:
                parse_resolution(text, reading.scale)
            except ValueError as error:
                issues.append(Issue((key,), str(error)))
        if issues:
            raise IssuesError(issues)
        return self

    @property
    def density_step_value(self) -> float | None:
        """Division of the density tool on its own scale, or None for the usual one."""
        if self.density_step is None or self.density is None:
            return None
        return parse_resolution(self.density_step, self.density.scale)

    @property
    def refraction_step_value(self) -> float | None:
        """Division of the refractometer on its own scale, or None for the usual one."""
        if self.refraction_step is None or self.refraction is None:
            return None
        return parse_resolution(self.refraction_step, self.refraction.scale)


class ReadingFile(Instruments, FileModel):
    """What was read off a hydrometer and a refractometer, and how much there is of the drink."""

    name: Text = Field(validation_alias="reading", description="Name of what was read.", examples=["Jar 12"])
    strength: StrengthBand | None = Field(default=None, description="Strength, where it is known.")
    sugar: ConcentrationBand | None = Field(default=None, description="Sugar, where it is known.")
    acid_g_l: ConcentrationGL | None = Field(
        default=None, validation_alias="acid", description="Acid in it, as citric acid, where it is known."
    )
    solids_g_l: ConcentrationGL = Field(
        default=0.0, validation_alias="solids", description="Other dissolved solids that are no sugar."
    )
    amount: AmountText | None = Field(
        default=None, description="How much there is of it: L or kg; `adjust` needs it.", examples=["4.4 L"]
    )
    bottle: Text | None = Field(default=None, description="Bottle file it shall become.")
    shelf: ShelfPath | None = Field(default=None, description="Shelf file, relative to this file.")
    notes: Text | None = Field(default=None, description="Anything worth knowing.")

    @property
    def shelf_path(self) -> Path | None:
        """Path of the shelf file, seen from where the reading file was read."""
        return resolved_beside(self.path, self.shelf)

    @property
    def bottle_path(self) -> Path | None:
        """Path of the bottle file, seen from where the reading file was read."""
        return resolved_beside(self.path, self.bottle)


def load_reading(path: Source) -> ReadingFile:
    """Read a reading file.

    Raises
    ------
    SpecError
        With every problem found, in file order.
    """
    return opened(ReadingFile, path)
