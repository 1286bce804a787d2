"""What `gauge` is asked and what it answers, and how far its models are doubted."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from formulate.errors import Note
from formulate.files.reading import ReadingFile
from formulate.learn.doubt import Figure
from formulate.quantity import Band
from formulate.quantity.document import HIDDEN, Result, computed, shown
from formulate.quantity.readings import Reading, Scale

__all__ = ["GaugeRecord", "Readings", "model_density_doubt", "model_index_doubt", "readings_of_file"]

MEASURED_SUGAR_G_L, MODEL_DENSITY_KG_M3 = (0.0, 290.0, 421.0, 800.0), (0.0, 0.7, 2.3, 6.9)
"""Standard doubt about the density of spirit of 40 % vol by its sugar; at another strength in proportion.

Half of how far published spirits with sugar lay from the model: 0.05 % vol of strength from masses up to
290 g/L and 15 to 40 % vol, 0.1 at 421 g/L and 30 % vol. Beyond it goes on rising as before: an assumption.
"""

BINARY_DENSITY_KG_M3 = 0.03
MODEL_INDEX_DRY, MODEL_INDEX_SWEET = 1.5e-4, 3e-4
"""Standard doubt about the index of spirit and of a sweet spirit (40 % vol, 300 g/L): an assumption."""

BINARY_INDEX = 3e-5


@dataclass(frozen=True)
class Readings:
    """What was read, and what is known besides.

    Attributes
    ----------
    density_c, refraction_c : float
        Temperature of the drink in the tool.
    density_step, refraction_step : float or None
        Smallest division, on the scale of the reading; None takes `gauge_scales.STEPS`.
    thermometer_k : float
        How far the thermometer may be off.
    self_correcting : bool or None
        Whether the refractometer corrects for temperature as for a syrup; None: yes for Brix, no for nD.
    strength, sugar : Band or None
        What is known of the one when only one reading is given; half the width is its doubt.
    acid_g_l, solids_g_l : float
        What else is dissolved: acid as citric acid, other solids that are no sugar.
    """

    density: Reading | None = None
    refraction: Reading | None = None
    density_c: float = 20.0
    refraction_c: float = 20.0
    density_step: float | None = None
    refraction_step: float | None = None
    thermometer_k: float = 1.0
    self_correcting: bool | None = None
    strength: Band | None = None
    sugar: Band | None = None
    acid_g_l: float = 0.0
    solids_g_l: float = 0.0
    name: str = ""

    @property
    def corrects_itself(self) -> bool:
        """Whether the refractometer corrects for temperature."""
        if self.self_correcting is not None:
            return self.self_correcting
        return self.refraction is not None and self.refraction.scale is Scale.BRIX


@dataclass(frozen=True, kw_only=True)
class GaugeRecord(Result):
    """What the readings say.

    Attributes
    ----------
    strength, sugar : Figure
        % vol and g/L at 20 degrees Celsius.
    other_strength_pct_vol : float or None
        A second strength that fits as well: the index turns near 85 % vol.
    density_kg_m3, refractive_index : float
        Of the drink found, at 20 degrees Celsius.
    """

    status: str = field(default="gauged", init=False)
    readings: Readings = field(metadata=HIDDEN)
    strength: Figure = field(metadata=shown("strength_pct_vol"))
    sugar: Figure = field(metadata=shown("sugar_g_l"))
    other_strength_pct_vol: float | None
    density_kg_m3: float
    refractive_index: float
    notes: tuple[Note, ...] = field(metadata=shown("warnings"))

    @property
    @computed(after="status")
    def name(self) -> str:
        """Of what was read, as the file says it."""
        return self.readings.name


def model_density_doubt(strength_pct_vol: float, sugar_g_l: float) -> float:
    """Return the standard doubt about the model's density, kg/m3."""
    at_40 = float(np.interp(sugar_g_l, MEASURED_SUGAR_G_L, MODEL_DENSITY_KG_M3))
    return BINARY_DENSITY_KG_M3 + at_40 * max(strength_pct_vol, 0.0) / 40.0


def model_index_doubt(strength_pct_vol: float, sugar_g_l: float) -> float:
    """Return the standard doubt about the model's refractive index."""
    strength = max(strength_pct_vol, 0.0)
    both = min(strength / 40.0 * max(sugar_g_l, 0.0) / 300.0, 1.0)
    with_spirit = MODEL_INDEX_DRY + (MODEL_INDEX_SWEET - MODEL_INDEX_DRY) * both
    return BINARY_INDEX + (with_spirit - BINARY_INDEX) * min(strength / 5.0, 1.0)


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
        acid_g_l=file.acid_g_l or 0.0,
        solids_g_l=file.solids_g_l,
        name=file.name,
    )
