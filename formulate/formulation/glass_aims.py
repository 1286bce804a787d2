"""What a drink must be in the glass, as numbers."""

from __future__ import annotations

from formulate.bar.pantry import Pantry
from formulate.blend.profile import Profile
from formulate.files.aims import Measured, Word
from formulate.files.drink import Drink
from formulate.files.issues import Problems
from formulate.formulation.bitterness import word_band
from formulate.quantity import Band

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
    for key, band in (("strength", targets.strength), ("sugar", targets.sugar), ("acid", targets.acid)):
        if band is not None:
            whole = band.with_tolerance(pantry.usual_tolerance[key])
            aims[key] = _ends(whole)
    aim = targets.bitterness
    if isinstance(aim, Word):
        words = word_band(aim.word)
        aims["bitterness"] = (words.lower, words.upper)
    elif isinstance(aim, Measured):
        value = aim.band.lower or 0.0
        tolerance = max(pantry.usual_tolerance["bitterness"] * value, 1e-9)
        aims["bitterness"] = _ends(aim.band.with_tolerance(tolerance))
    elif aim is not None:
        problems.add(
            ("targets", "bitterness"),
            "a drink takes a word or a measured value. Write e.g. firm, or 25 ± 4 (measured).",
        )
    return aims


def _ends(band: Band) -> tuple[float, float]:
    return (
        0.0 if band.lower is None else band.lower,
        float("inf") if band.upper is None else band.upper,
    )


def glass_figures(drink: Profile) -> dict[str, float]:
    """Return the figures of a drink that `glass_aims` may ask about, by the same names.

    Parameters
    ----------
    drink : Profile
    """
    return {
        "strength": float(drink.strength_pct_vol),
        "sugar": float(drink.sugar_g_l),
        "acid": float(drink.acid_g_l),
        "bitterness": float(drink.bitterness_value),
    }
