"""Where readings come from: a reading file, or texts typed as options."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from formulate.errors import ReadingError, UnitError
from formulate.jobs.gauge import gauge
from formulate.jobs.gauge_record import GaugeRecord, Readings
from formulate.quantity import Dimension, parse_band, parse_quantity
from formulate.quantity.readings import (
    parse_density_reading,
    parse_refraction_reading,
    parse_resolution,
    parse_temperature_step,
)
from formulate.spec.reading import ReadingFile, load_reading

__all__ = ["gauge_file", "gauge_texts", "option", "readings_of_file"]

T = TypeVar("T")


def option(name: str, text: str | None, read: Callable[[str], T]) -> T | None:
    """Read the text of an option, naming the option where it is wrong.

    Raises
    ------
    UnitError
    """
    if text is None:
        return None
    try:
        return read(text)
    except UnitError as error:
        raise UnitError(f"{name}: {error}") from None


def gauge_file(path: Path) -> GaugeRecord:
    """Work out a reading file.

    Raises
    ------
    SpecError
        If the file is wrong.
    ReadingError
        As `gauge`.
    """
    return gauge(readings_of_file(load_reading(path)))


def readings_of_file(file: ReadingFile) -> Readings:
    """Take the readings out of a file."""
    return Readings(
        density=file.density,
        refraction=file.refraction,
        density_c=file.at,
        refraction_c=file.at if file.refraction_at is None else file.refraction_at,
        density_step=file.density_step_value,
        refraction_step=file.refraction_step_value,
        thermometer_k=file.thermometer,
        self_correcting=file.corrects_itself,
        strength=file.strength,
        sugar=file.sugar,
        acid_g_l=file.acid_g_l,
        solids_g_l=file.solids_g_l,
        name=file.name,
    )


def gauge_texts(
    *,
    density: str | None = None,
    refraction: str | None = None,
    at: str | None = None,
    refraction_at: str | None = None,
    density_step: str | None = None,
    refraction_step: str | None = None,
    thermometer: str | None = None,
    self_correcting: bool | None = None,
    strength: str | None = None,
    sugar: str | None = None,
    acid: str | None = None,
    solids: str | None = None,
) -> GaugeRecord:
    """Work out readings typed as texts; each is named like its option.

    Raises
    ------
    UnitError
        With the option that cannot be read.
    ReadingError
        As `gauge`.
    """
    density_read = option("--density", density, parse_density_reading)
    refraction_read = option("--refraction", refraction, parse_refraction_reading)
    for name, step, reading in (
        ("--density-step", density_step, density_read),
        ("--refraction-step", refraction_step, refraction_read),
    ):
        if step is not None and reading is None:
            raise ReadingError(f"{name} stands without its reading. Add it, or leave {name} out.")

    def temperature(text: str) -> float:
        return parse_quantity(text, Dimension.TEMPERATURE)

    def grams(text: str) -> float:
        return parse_quantity(text, Dimension.MASS_CONCENTRATION)

    density_c = option("--at", at, temperature)
    refraction_c = option("--refraction-at", refraction_at, temperature)
    density_c = 20.0 if density_c is None else density_c
    kelvin = option("--thermometer", thermometer, parse_temperature_step)
    return gauge(
        Readings(
            density=density_read,
            refraction=refraction_read,
            density_c=density_c,
            refraction_c=density_c if refraction_c is None else refraction_c,
            density_step=None
            if density_read is None
            else option("--density-step", density_step, lambda t: parse_resolution(t, density_read.scale)),
            refraction_step=None
            if refraction_read is None
            else option(
                "--refraction-step", refraction_step, lambda t: parse_resolution(t, refraction_read.scale)
            ),
            thermometer_k=1.0 if kelvin is None else kelvin,
            self_correcting=self_correcting,
            strength=option("--strength", strength, lambda t: parse_band(t, Dimension.STRENGTH)),
            sugar=option("--sugar", sugar, lambda t: parse_band(t, Dimension.MASS_CONCENTRATION)),
            acid_g_l=option("--acid", acid, grams) or 0.0,
            solids_g_l=option("--solids", solids, grams) or 0.0,
        )
    )
