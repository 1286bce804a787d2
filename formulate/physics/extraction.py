"""How much of a plant's goodness a liquor has taken up after a time.

The model: extracted = approach(time, temperature) x equilibrium(strength), both shares of 0 to 1. The
approach is a fast wash followed by first-order diffusion whose rate follows Arrhenius' law. The
equilibrium is a table over strength, relative to the best strength for that group of substances.

Every constant of `CLASS_KINETICS` and `EQUILIBRIUM` is a starting value from common practice, good to a
factor of two at best: ripeness and lot move it too, beside cut and stirring. Your own jar beats the table.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from formulate.errors import FormulateError
from formulate.physics.kinetics import (
    COLDEST_C,
    HIGHEST_ACTIVATION_KJ_MOL,
    HOTTEST_C,
    KITCHEN,
    factor_unchecked,
    kitchen_hold,
    kitchen_temperature,
)
from formulate.physics.numerics import CONFIDENCES, Array, Number, as_given, checked

__all__ = [
    "CLASS_KINETICS",
    "CLASS_SUBSTANCE",
    "CUTS",
    "DOUBT_FACTOR",
    "EQUILIBRIUM",
    "FLAT_EQUILIBRIUM",
    "TRIED_DOUBT_FACTOR",
    "USUAL_CUT",
    "Cut",
    "Kinetics",
    "approach",
    "class_kinetics",
    "drawn_kinetics",
    "stirred",
]

Points = tuple[tuple[float, float], ...]
FLAT_EQUILIBRIUM: Points = ((0.0, 1.0), (100.0, 1.0))
SHORTEST_TIME_CONSTANT_H, LONGEST_TIME_CONSTANT_H = 1e-3, 1e5
MODEL = "the extraction model"


@dataclass(frozen=True, slots=True)
class Kinetics:
    """How fast and how far one group of substances leaves one class of plant.

    Attributes
    ----------
    time_constant_h : float
        1/k at the reference temperature, hours: after it 63 % of what diffuses is out.
    reference_c : float, default 20
        Degrees Celsius.
    activation_kj_mol : float, default 30
        0 and up; 30 is about x 1.5 per 10 K (common practice).
    wash_share : float, default 0
        What is rinsed off at once, 0 to 1; see `CUTS`.
    equilibrium : tuple of (strength_pct_vol, relative), default flat
        Rising strengths of 0 to 100 % vol, relative yields of 0 to 1; straight lines in between, held
        beyond the ends.
    source, confidence : str
        Where it comes from; confidence is one of `figures.CONFIDENCES`.

    Raises
    ------
    RangeError
        A number outside its range.
    FormulateError
        An equilibrium that is empty or not in rising order, or an unknown confidence.
    """

    time_constant_h: float
    reference_c: float = 20.0
    activation_kj_mol: float = 30.0
    wash_share: float = 0.0
    equilibrium: Points = FLAT_EQUILIBRIUM
    source: str = "own figure"
    confidence: str = "assumption"

    def __post_init__(self) -> None:
        least, most = SHORTEST_TIME_CONSTANT_H, LONGEST_TIME_CONSTANT_H
        checked(self.time_constant_h, least, most, "Kinetics: time_constant_h", "h", MODEL)
        checked(self.reference_c, COLDEST_C, HOTTEST_C, "Kinetics: reference_c", "°C", KITCHEN)
        highest = HIGHEST_ACTIVATION_KJ_MOL
        checked(self.activation_kj_mol, 0.0, highest, "Kinetics: activation_kj_mol", "kJ/mol", MODEL)
        checked(self.wash_share, 0.0, 1.0, "Kinetics: wash_share", "", "a share")
        if not self.equilibrium:
            raise FormulateError(
                "Kinetics: equilibrium needs at least one (strength_pct_vol, relative) point."
            )
        strengths = [strength for strength, _ in self.equilibrium]
        checked(strengths, 0.0, 100.0, "Kinetics: equilibrium strength", "% vol", MODEL)
        relative = [share for _, share in self.equilibrium]
        checked(relative, 0.0, 1.0, "Kinetics: equilibrium relative yield", "", "a share")
        if any(later <= earlier for earlier, later in pairwise(strengths)):
            raise FormulateError("Kinetics: equilibrium strengths must rise from point to point.")
        if self.confidence not in CONFIDENCES:
            known = ", ".join(CONFIDENCES)
            raise FormulateError(f"Kinetics: unknown confidence {self.confidence!r}. Known: {known}.")


# Relative yield by strength, % vol. Starting values from common practice and a little arithmetic; only the
# broad shape is published (anthocyanin from grape skin and aronia, gentian best at 40 to 70 %, herbs best at
# 70 % vol). Calibrate.
EQUILIBRIUM: dict[str, Points] = {
    "anthocyanin": ((0.0, 0.6), (20.0, 0.85), (40.0, 1.0), (60.0, 1.0), (80.0, 0.8)),
    # At 0 % only once the plant's own glycosidase is killed (by heat): cold water lets it eat the bitters.
    "bitter_glycoside": ((0.0, 0.75), (20.0, 0.9), (40.0, 1.0), (55.0, 1.0), (70.0, 1.0), (95.0, 0.6)),
    # Held at 0.2 below 20 %: the practice table stops there, and plain water takes less.
    "essential_oil": ((20.0, 0.2), (40.0, 0.5), (60.0, 0.85), (80.0, 1.0)),
    # Limonoids and naringin. The practice table says "0.8 to 1.0 over 20 to 60 %"; read here as a rise.
    "limonoid": ((20.0, 0.8), (60.0, 1.0)),
    # Sugars, acids, salt: they dissolve in any liquor of a liqueur's strength.
    "water_soluble": FLAT_EQUILIBRIUM,
}

# What each class is mostly infused for; `class_kinetics` takes another on request.
CLASS_SUBSTANCE: dict[str, str] = {
    "root": "bitter_glycoside",
    "bark": "bitter_glycoside",
    "leaf": "bitter_glycoside",
    "flower": "bitter_glycoside",
    "seed": "essential_oil",
    "dried_peel": "limonoid",
    "zest": "essential_oil",
    "pith": "limonoid",
    "crushed_fruit": "anthocyanin",
    "whole_fruit": "anthocyanin",
}


@dataclass(frozen=True, slots=True)
class Cut:
    """How finely a plant is cut, against the usual way a bar does it: cut and bruised.

    Attributes
    ----------
    wash_share : float
        What is in broken cells and rinsed off at once, 0 to 1.
    slower : float
        How many times the time constant of a fine cut: time goes with thickness squared, as diffusion does.
    words : str
        As a cook would say it.
    """

    wash_share: float
    slower: float
    words: str


# Wash shares and slowness are read from four anchors together: an hour at 50 °C on cut and muddled plants is
# about one to two days in the fridge (common practice); rasped quassia gives 62 % in 15 minutes of cold water
# (BPC 1911, two preparations of equal bitterness); an infusion of gentian is made in 15 minutes with boiling
# water (BP); seven days at room temperature exhaust coarse drugs (pharmacopoeial macerations). They agree to
# about a factor of two in time; `DOUBT_FACTOR` says so.
CUTS: dict[str, Cut] = {
    "whole": Cut(0.0, 8.0, "whole"),
    "coarse": Cut(0.15, 2.5, "coarsely cut"),
    "fine": Cut(0.4, 1.0, "finely cut or crushed"),
    "powder": Cut(0.6, 0.6, "rasped or ground"),
}

STIRRED_FASTER = 2.0
"""A jar that is stirred, or a bath that is pumped round, is so many times as fast (common practice)."""

DOUBT_FACTOR, TRIED_DOUBT_FACTOR = 2.0, 1.3
"""A jar may be so many times slower or faster than the starting values, as the anchors do not agree better;
or than one that was tried here (assumption)."""

PRACTICE = "an hour at 50 °C is about one to two days in the fridge (common practice), cut and bruised"


def _start(
    plant_class: str,
    hours: float,
    source: str,
    at_c: float = 20.0,
    *,
    activation_kj_mol: float = 55.0,
    cut: str = "fine",
    confidence: str = "common practice",
) -> Kinetics:
    table = EQUILIBRIUM[CLASS_SUBSTANCE[plant_class]]
    wash = CUTS[cut].wash_share
    return Kinetics(hours, at_c, activation_kj_mol, wash, table, source, confidence)


# For the usual cut of each class: fine for all but whole fruit. Starting values, to be beaten by own jars.
# 55 kJ/mol is x 2.1 per 10 K: it lets the hour at 50 °C and the days in the fridge be the same jar.
CLASS_KINETICS: dict[str, Kinetics] = {
    "root": _start("root", 5.0, PRACTICE),
    "bark": _start("bark", 5.0, PRACTICE),
    "leaf": _start("leaf", 1.7, f"a third of the time of a root; {PRACTICE}"),
    "flower": _start("flower", 1.7, f"a third of the time of a root; {PRACTICE}"),
    "seed": _start("seed", 5.0, "no figure found; crushed, taken as cut root", confidence="assumption"),
    "dried_peel": _start("dried_peel", 5.0, "no figure found; taken as cut root", confidence="assumption"),
    "zest": _start("zest", 5.0, "bar practice, fresh, for the oil: done in 12 to 24 h at 20 °C"),
    "pith": _start("pith", 5.0, f"muddled, as root; {PRACTICE}"),
    "crushed_fruit": _start(
        "crushed_fruit",
        0.5,
        "bar practice, thawed or muddled and with enzyme: done in 1 to 2 h at 50 °C; warmth as grape marc",
        50.0,
        activation_kj_mol=36.0,
    ),
    "whole_fruit": _start(
        "whole_fruit", 24.0, "bar practice: days at 20 °C", activation_kj_mol=36.0, cut="whole"
    ),
}

USUAL_CUT = {
    plant_class: "whole" if plant_class == "whole_fruit" else "fine" for plant_class in CLASS_KINETICS
}
"""How each class is prepared where a file does not say."""


def class_kinetics(plant_class: str, substance: str | None = None, cut: str | None = None) -> Kinetics:
    """Return the starting kinetics of a plant class, for another group of substances or cut on request.

    Parameters
    ----------
    plant_class : str
        A key of `CLASS_KINETICS`.
    substance : str, optional
        A key of `EQUILIBRIUM`; by default what the class is mostly infused for.
    cut : str, optional
        A key of `CUTS`; by default as a bar prepares the class.

    Returns
    -------
    Kinetics
        Starting values to calibrate: common practice or assumption, see `source`.

    Raises
    ------
    FormulateError
        An unknown class, group or cut.
    """
    for name, known in ((plant_class, CLASS_KINETICS), (substance, EQUILIBRIUM), (cut, CUTS)):
        if name is not None and name not in known:
            raise FormulateError(f"class_kinetics: unknown {name!r}. Known: {', '.join(known)}.")
    kinetics = CLASS_KINETICS[plant_class]
    if substance is not None:
        kinetics = replace(kinetics, equilibrium=EQUILIBRIUM[substance])
    usual = USUAL_CUT[plant_class]
    if cut is None or cut == usual:
        return kinetics
    hours = kinetics.time_constant_h * CUTS[cut].slower / CUTS[usual].slower
    return replace(kinetics, time_constant_h=hours, wash_share=CUTS[cut].wash_share)


def drawn_kinetics(kinetics: Kinetics, share: float, time_h: float, temperature_c: float) -> Kinetics:
    """Return kinetics that draw just so much in a jar somebody tried.

    Parameters
    ----------
    kinetics : Kinetics
        Of the plant as the table has it; how warmth quickens it stays.
    share : float
        Drawn out of all that the plant gives, above 0 and below 1.
    time_h, temperature_c : float
        How long and how warm.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    reached = float(checked(share, 1e-3, 0.999, "drawn_kinetics: share", "", "a share of some and not all"))
    # Where less came out than the table washes off at once, half of it is taken as washed off.
    wash = min(kinetics.wash_share, reached / 2.0)
    left = (1.0 - reached) / (1.0 - wash)
    hours = float(checked(time_h, 1e-3, LONGEST_TIME_CONSTANT_H, "drawn_kinetics: time_h", "h", MODEL))
    held = min(max(-hours / np.log(left), SHORTEST_TIME_CONSTANT_H), LONGEST_TIME_CONSTANT_H)
    reference = float(kitchen_temperature("drawn_kinetics", temperature_c))
    return replace(
        kinetics,
        time_constant_h=held,
        reference_c=reference,
        wash_share=wash,
        source="tried here",
        confidence="measured here",
    )


def stirred(kinetics: Kinetics) -> Kinetics:
    """Return kinetics for a jar that is kept moving.

    Parameters
    ----------
    kinetics : Kinetics
        For a still jar.
    """
    hours = max(kinetics.time_constant_h / STIRRED_FASTER, SHORTEST_TIME_CONSTANT_H)
    return replace(kinetics, time_constant_h=hours)


def _rate(temperature: Array, kinetics: Kinetics) -> Array:
    factor = factor_unchecked(temperature, kinetics.reference_c, kinetics.activation_kj_mol)
    return np.asarray(factor / kinetics.time_constant_h)


def approach(time_h: Number, temperature_c: Number | float, kinetics: Kinetics) -> Number:
    """Share of the way to equilibrium after a time.

    Parameters
    ----------
    time_h : float or ndarray
        0 h and up.
    temperature_c : float or ndarray
        Held for that time, -25 to 100 degrees Celsius.
    kinetics : Kinetics
        Of the plant and substance.

    Returns
    -------
    float or ndarray
        wash + (1 - wash)(1 - exp(-k t)), 0 to 1; never falls with time, never slower when hotter.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    time, temperature = kitchen_hold("approach", time_h, temperature_c)
    diffused = -np.expm1(-_rate(temperature, kinetics) * time)
    wash = kinetics.wash_share
    return as_given(wash + (1.0 - wash) * diffused, time_h)
