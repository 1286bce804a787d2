"""Where readings come from: a reading file, or texts typed as options."""

from __future__ import annotations

from functools import partial

from formulate.errors import ReadingError
from formulate.files.models import Source
from formulate.files.reading import load_reading
from formulate.learn.gauge import gauge
from formulate.learn.lot import ONE_READING, gauge_of_file
from formulate.learn.readings import GaugeRecord, Readings
from formulate.quantity import Dimension, parse_band, parse_quantity
from formulate.quantity.readings import (
    parse_density_reading,
    parse_refraction_reading,
    parse_resolution,
    parse_temperature_step,
)
from formulate.quantity.words import read_given

__all__ = ["gauge_file", "gauge_texts"]


def gauge_file(path: Source) -> GaugeRecord:
    """Work out a reading file.

    Raises
    ------
    SpecError
        If the file is wrong, or its readings belong to no drink.
    """
    return gauge_of_file(load_reading(path))


def gauge_texts(
    file: Source | None = None,
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
    """Work out readings typed as texts, each named like its option; or a reading file.

    Parameters
    ----------
    file : path or ReadingFile, optional
        Instead of all the others.
    density, refraction : str, optional
        Such as ``SG 1.0425`` and ``31.2 Brix``.
    at, refraction_at : str, optional
        Temperature of the drink in each tool; 20 °C, and the same for both, if not said.
    density_step, refraction_step : str, optional
        Divisions of the tools.
    thermometer : str, optional
        How far it may be off; 1 °C if not said.
    self_correcting : bool, optional
        Whether the refractometer corrects for temperature; yes for Brix, no for nD if not said.
    strength, sugar : str, optional
        What is known of the one when only one reading is given: ``22 ± 0.3 % vol``, ``180 ± 5 g/L``.
    acid, solids : str, optional
        What else is dissolved: acid as citric acid, other solids that are no sugar.

    Raises
    ------
    UnitError
        With the option that cannot be read.
    ReadingError
        As `gauge`.
    """
    if file is not None:
        figures = (density, refraction, at, refraction_at, density_step, refraction_step, thermometer)
        if any(one is not None for one in (*figures, self_correcting, strength, sugar, acid, solids)):
            raise ReadingError("A reading file and readings were given. Give one of the two.")
        return gauge_file(file)
    density_read = read_given("--density", density, parse_density_reading)
    refraction_read = read_given("--refraction", refraction, parse_refraction_reading)
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

    density_c = read_given("--at", at, temperature)
    refraction_c = read_given("--refraction-at", refraction_at, temperature)
    density_c = 20.0 if density_c is None else density_c
    kelvin = read_given("--thermometer", thermometer, parse_temperature_step)
    record = gauge(
        Readings(
            density=density_read,
            refraction=refraction_read,
            density_c=density_c,
            refraction_c=density_c if refraction_c is None else refraction_c,
            density_step=None
            if density_read is None
            else read_given(
                "--density-step", density_step, partial(parse_resolution, scale=density_read.scale)
            ),
            refraction_step=None
            if refraction_read is None
            else read_given(
                "--refraction-step", refraction_step, partial(parse_resolution, scale=refraction_read.scale)
            ),
            thermometer_k=1.0 if kelvin is None else kelvin,
            self_correcting=self_correcting,
            strength=read_given("--strength", strength, lambda t: parse_band(t, Dimension.STRENGTH)),
            sugar=read_given("--sugar", sugar, lambda t: parse_band(t, Dimension.MASS_CONCENTRATION)),
            acid_g_l=read_given("--acid", acid, grams) or 0.0,
            solids_g_l=read_given("--solids", solids, grams) or 0.0,
        )
    )
    if solids is None and (density is None) != (refraction is None):
        raise ReadingError(ONE_READING.format(key="--solids '25 g/L'", none="--solids '0 g/L'"))
    return record
