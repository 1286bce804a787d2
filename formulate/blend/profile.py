"""What is in the bottle, in the words of the trade."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from formulate.blend.materials import LIQUOR, RESTRICTED, Materials
from formulate.files.measures import measure_of
from formulate.physics import mixture
from formulate.physics.refraction import refractive_index_mixture
from formulate.physics.strength import abv_60f_from_abv_20c
from formulate.quantity.document import computed, shown

__all__ = ["Profile", "profile"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Profile:
    """A finished drink at 20 C. Floats, or arrays when many were asked at once.

    Attributes
    ----------
    volume_l, mass_kg : float or ndarray
        Size of the batch.
    strength_pct_vol : float or ndarray
        Alcohol by volume, both volumes at 20 C.
    sugar_g_l, invert_sugar_g_l : float or ndarray
        Sum of the sugars as they are, and as invert sugar for the law.
    acid_g_l : float or ndarray
        Titratable acid as citric acid.
    bitterness_value : float or ndarray
        On the scale of Ph. Eur. 2.8.15: how many times it can be diluted and still be just bitter.
    density_kg_m3, refractive_index, dissolved_mass_fraction : float or ndarray
        What a hydrometer, a refractometer and a dry residue would show.
    attributes_g_l : mapping
        Attributes a person named, g per litre.
    """

    volume_l: Any
    mass_kg: Any = field(metadata=shown("mass_kg"))
    strength_pct_vol: Any
    sugar_g_l: Any
    invert_sugar_g_l: Any
    acid_g_l: Any
    bitterness_value: Any
    density_kg_m3: Any
    refractive_index: Any
    dissolved_mass_fraction: Any
    attributes_g_l: Mapping[str, Any] = field(default_factory=dict)

    def value(self, name: str) -> Any:
        """Return the figure of a measure of the table, or of a content, in the unit it is shown in.

        A content that nothing in the drink is said to bring is nothing.
        """
        measure = measure_of(name)
        if measure.figure:
            return getattr(self, measure.figure)
        return self.attributes_g_l.get(name, 0.0) * measure.shown_per_canonical

    @property
    @computed(after="strength_pct_vol")
    def proof_us(self) -> float:
        """Strength as US proof: twice the strength at 60 °F of spirit and water of this strength."""
        return 2.0 * float(abv_60f_from_abv_20c(float(self.strength_pct_vol)))


def profile(bottled: FloatArray, materials: Materials) -> Profile:
    """Describe what is bottled.

    Parameters
    ----------
    bottled : ndarray, shape (..., carried)
        From `ChainRun.bottled`.
    materials : Materials
        Names the carried columns.

    Raises
    ------
    RangeError
        If the drink holds more dissolved solids than the published density range (85 % w/w).
    """
    liquor = bottled[..., :LIQUOR]
    volume = mixture.volume_l(liquor)
    per_litre = bottled[..., LIQUOR:] / np.asarray(volume)[..., None]

    def plain(value: FloatArray) -> Any:
        return float(value) if np.ndim(value) == 0 else value

    return Profile(
        volume_l=volume,
        mass_kg=plain(liquor.sum(axis=-1)),
        strength_pct_vol=mixture.strength_pct_vol(liquor),
        sugar_g_l=mixture.sugar_g_l(liquor),
        invert_sugar_g_l=mixture.invert_sugar_g_l(liquor),
        acid_g_l=mixture.acid_g_l(liquor),
        bitterness_value=plain(per_litre[..., 0] * 1000.0),
        density_kg_m3=mixture.density_kg_m3(liquor),
        refractive_index=refractive_index_mixture(liquor),
        dissolved_mass_fraction=mixture.dissolved_mass_fraction(liquor),
        attributes_g_l={
            name: plain(per_litre[..., column] * 1000.0)
            for column, name in enumerate(materials.carried[LIQUOR:])
            if column > 0 and not name.startswith(RESTRICTED)
        },
    )
