"""What a drink must be in the glass, as numbers."""

from __future__ import annotations

from formulate.bar.pantry import Pantry
from formulate.blend.profile import Profile
from formulate.files.aims import Measured, Word
from formulate.files.drink import Drink
from formulate.files.issues import Problems
from formulate.files.measures import BITTERNESS, measure_of
from formulate.formulation.bitterness import word_band

__all__ = ["Bands", "glass_aims", "glass_figures"]

Bands = dict[str, tuple[float, float]]


def glass_aims(drink: Drink, pantry: Pantry, problems: Problems) -> Bands:
    """Bring what a drink must be into numbers, per litre in the glass; nothing where its file says nothing.

    Parameters
    ----------
    drink : Drink
    pantry : Pantry
        Its shelf says how far a plain value may be off.
    problems : Problems
        Of the drink file.
    """
    targets = drink.targets
    if targets is None:
        return {}
    aims: Bands = {}
    tolerance = pantry.usual_tolerance
    for name, band in targets.bands().items():
        measure = measure_of(name)
        aims[name] = measure.ends(measure.plain(band, tolerance[name]))
    aim = targets.bitterness
    if isinstance(aim, Word):
        words = word_band(aim.word)
        aims[BITTERNESS] = (words.lower, words.upper)
    elif isinstance(aim, Measured):
        measure = measure_of(BITTERNESS)
        aims[BITTERNESS] = measure.ends(measure.plain(aim.band, tolerance[BITTERNESS]))
    elif aim is not None:
        problems.add(
            ("targets", BITTERNESS),
            "a drink takes a word or a measured value. Write e.g. firm, or 25 ± 4 (measured).",
        )
    return aims


def glass_figures(drink: Profile, aims: Bands) -> dict[str, float]:
    """Return the figures of a drink that are aimed at, by the same names."""
    return {name: float(drink.value(name)) for name in aims}
