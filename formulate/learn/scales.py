"""Instrument scales to kg/m3 and refractive index, and back for a person to read."""

from __future__ import annotations

import numpy as np

from formulate.errors import RangeError, ReadingError
from formulate.physics.density import density_ethanol_water, density_sucrose_water, density_water
from formulate.physics.gauging import brix_at_temperature, index_of_brix_at_temperature
from formulate.physics.refraction import brix_from_refractive_index, refractive_index_from_brix
from formulate.physics.thermal import GLASS_CUBIC_EXPANSION_PER_K
from formulate.quantity.readings import Reading, Scale

__all__ = [
    "STEPS",
    "density_of_reading",
    "index_of_reading",
    "refuse_impossible",
    "shown_density",
    "shown_refraction",
]

STEPS: dict[Scale, float] = {
    Scale.SPECIFIC_GRAVITY: 0.002,
    Scale.DENSITY: 2.0,
    Scale.PLATO: 0.5,
    Scale.BRIX: 0.2,
    Scale.INDEX: 0.0002,
}
"""Divisions of the usual tools: a long glass hydrometer and a handheld refractometer, for nD one on a bench.

A reading is taken to be off by up to one division, evenly: that is also what makers usually promise
(common practice). A digital meter is finer: its step is given by the person.
"""

LOWEST_C, HIGHEST_C = 0.0, 40.0
LIGHTEST_C, HEAVIEST_FRACTION = 40.0, 0.85
LOWEST_INDEX, HIGHEST_INDEX = 1.3300, 1.5045
"""Water at 40 °C and the end of the ICUMSA sugar table, rounded outwards."""


def density_of_reading(reading: Reading, temperature_c: float, plus: float = 0.0) -> float:
    """Density of the liquid at its own temperature.

    Parameters
    ----------
    reading : Reading
        Specific gravity, density, Plato or Brix. Plato and Brix are those of a spindle true at 20 degrees
        Celsius: the sucrose solution of that share of mass. All but a density in kg/m3 are read off glass,
        which expands.
    plus : float
        Added to the number read.

    Returns
    -------
    float
        kg/m3.
    """
    value = reading.value + plus
    if reading.scale is Scale.DENSITY:
        return value
    if reading.scale is Scale.SPECIFIC_GRAVITY:
        on_scale = value * float(density_water(reading.water_c))
        calibration_c = reading.calibration_c
    else:
        on_scale = float(density_sucrose_water(min(value, 85.0) / 100.0))
        calibration_c = 20.0
    return on_scale / (1.0 + GLASS_CUBIC_EXPANSION_PER_K * (temperature_c - calibration_c))


def index_of_reading(
    reading: Reading, temperature_c: float, *, self_correcting: bool, plus: float = 0.0
) -> float:
    """Refractive index of the liquid at its own temperature.

    Parameters
    ----------
    reading : Reading
        Brix or nD.
    temperature_c : float
        Of the liquid on the prism.
    self_correcting : bool
        Whether the tool shows what a syrup would show at 20 degrees Celsius.
    plus : float
        Added to the number read.
    """
    value = reading.value + plus
    if reading.scale is Scale.INDEX:
        if not self_correcting:
            return value
        return float(
            index_of_brix_at_temperature(brix_from_refractive_index(max(value, 1.33299)), temperature_c)
        )
    value = min(value, 85.0)
    if self_correcting:
        return float(index_of_brix_at_temperature(value, temperature_c))
    return float(refractive_index_from_brix(value))


def refuse_impossible(reading: Reading, temperature_c: float) -> None:
    """Refuse what no drink shows, whatever is in it.

    Raises
    ------
    ReadingError
        With between what it would have to lie.
    """
    if not LOWEST_C <= temperature_c <= HIGHEST_C:
        raise ReadingError(
            f"At {temperature_c:g} °C nothing can be told: the tables reach from {LOWEST_C:g} to "
            f"{HIGHEST_C:g} °C. Bring the drink near 20 °C and read again."
        )
    if reading.scale in (Scale.PLATO, Scale.BRIX):
        if reading.value > 85.0:
            raise ReadingError(f"{reading.text}: sugar solutions are tabled to 85. Check the number.")
        return
    if reading.scale is Scale.INDEX:
        if not LOWEST_INDEX <= reading.value <= HIGHEST_INDEX:
            raise ReadingError(
                f"{reading.text} belongs to no drink: water is 1.3330 and the thickest syrup 1.504. "
                "Check the number."
            )
        return
    lightest = float(density_ethanol_water(1.0, LIGHTEST_C))
    heaviest = float(density_sucrose_water(HEAVIEST_FRACTION, LOWEST_C))
    density = density_of_reading(reading, temperature_c)
    if not lightest <= density <= heaviest:
        raise ReadingError(
            f"{reading.text} belongs to no drink: pure spirit is SG 0.791 and the thickest syrup SG 1.448. "
            "Check the number."
        )


def shown_density(reading: Reading, density_kg_m3: float | None = None, temperature_c: float = 20.0) -> str:
    """Write a reading as typed, or another density on the scale of the reading."""
    if density_kg_m3 is None:
        return reading.text or f"{reading.scale} {reading.value:g}"
    if reading.scale is Scale.DENSITY:
        return f"{density_kg_m3:.1f} kg/m3"
    if reading.scale is Scale.SPECIFIC_GRAVITY:
        glass = 1.0 + GLASS_CUBIC_EXPANSION_PER_K * (temperature_c - reading.calibration_c)
        return f"SG {density_kg_m3 * glass / float(density_water(reading.water_c)):.4f}"
    grid = np.linspace(0.0, 0.85, 8501)
    curve = np.asarray(density_sucrose_water(grid))
    if density_kg_m3 < curve[0]:
        return f"below 0 {reading.scale}"
    return f"{100.0 * float(np.interp(density_kg_m3, curve, grid)):.1f} {reading.scale}"


def shown_refraction(
    reading: Reading, index: float | None = None, temperature_c: float = 20.0, *, self_correcting: bool = True
) -> str:
    """Write a reading as typed, or another index on the scale of the reading."""
    if index is None:
        return reading.text or f"{reading.value:g} {reading.scale}"
    if reading.scale is Scale.INDEX:
        return f"nD {index:.4f}"
    try:
        at_c = temperature_c if self_correcting else 20.0
        return f"{brix_at_temperature(index, at_c):.1f} Brix"
    except RangeError:
        return "0 Brix" if index < 1.4 else "85 Brix"
