"""What is said beside a gauged strength and sugar: what was taken for granted, what the tools can tell."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from formulate.errors import Note
from formulate.learn.doubt import Figure
from formulate.learn.readings import Readings
from formulate.learn.scales import density_of_reading
from formulate.physics.strength import SIXTY_FAHRENHEIT_C
from formulate.quantity.readings import Reading

__all__ = ["gauge_notes"]

FloatArray = NDArray[np.float64]

LABEL_PCT_VOL = 0.3
"""What a label may be off by: Regulation (EU) 1169/2011, annex XII (other drinks differ: see there)."""


LEAST_TOLD_PCT_VOL = 0.5
UNCHECKED_PCT_VOL, UNCHECKED_G_L = 15.0, 66.0
"""Above both the models join two tables, and it is said how well."""
DENSITY_HELD = (
    "The density model is exact for spirit alone and for syrup alone. Against published liqueurs of 15 to "
    "40 % vol, strength worked out from masses was within 0.05 % vol up to 290 g/L of sugar, and within 0.1 "
    "at 421 g/L."
)
DENSITY_SOURCE = "OIML R 22, ICUMSA SPS-4; held against MEXT 2020"


def gauge_notes(
    readings: Readings, strength: Figure, sugar: Figure, by_density: FloatArray | None
) -> list[Note]:
    """Say what the figures rest on.

    Parameters
    ----------
    by_density : ndarray, shape (2,), or None
        Change of strength and sugar for one kg/m3 more; None when no density was read.
    """
    notes = []
    reading = readings.density
    if reading is not None and by_density is not None and not reading.scale_said:
        notes.append(_scale_taken(readings, reading, by_density))
    if not strength.given and strength.value + strength.expanded > LEAST_TOLD_PCT_VOL:
        notes.append(_label(strength))
    if not sugar.given:
        notes.append(
            Note(
                "sugar_as_sucrose",
                "Sugar is counted as sucrose. Other things dissolved read as sugar too: fruit brings 5 to 30 "
                "g/L of them; give what you know of by --acid and --solids.",
                "common practice",
            )
        )
    if strength.value > UNCHECKED_PCT_VOL and sugar.value > UNCHECKED_G_L:
        notes.append(
            Note(
                "mixture_model",
                f"{DENSITY_HELD} A density read off tells strength less well than masses do; that doubt is "
                "counted in. For the refractive index of both together it is our estimate.",
                DENSITY_SOURCE,
            )
        )
    return notes


def _scale_taken(readings: Readings, reading: Reading, by_density: FloatArray) -> Note:
    other = Reading(reading.value, reading.scale, SIXTY_FAHRENHEIT_C, SIXTY_FAHRENHEIT_C)
    shift = density_of_reading(other, readings.density_c) - density_of_reading(reading, readings.density_c)
    moved = [
        f"{abs(float(slope) * shift):.1f} {unit}"
        for slope, unit in zip(by_density, ("% vol", "g/L"), strict=True)
        if slope
    ]
    return Note(
        "scale_taken",
        "SG was taken as 20/20 °C. Is 60/60 °F printed on the glass? Write it behind the number: it moves "
        f"the answer by {' and '.join(moved)}.",
    )


def _label(strength: Figure) -> Note:
    if strength.expanded <= LABEL_PCT_VOL:
        text = (
            f"These tools tell strength to {strength.expanded:.2f} % vol, within the {LABEL_PCT_VOL} % vol a "
            "label may be off."
        )
    else:
        text = (
            f"A label may be off by {LABEL_PCT_VOL} % vol; these tools cannot tell that. Most of the doubt "
            f"comes from {strength.doubts[0].cause}. For a label have it distilled and measured by a lab."
        )
    return Note("label", text, "Regulation (EU) 1169/2011, annex XII")
