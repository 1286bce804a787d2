"""How much of a plant's goodness a liquor has taken up after a time.

The model: extracted = approach(time, temperature) x equilibrium(strength), both shares of 0 to 1. The
approach is a fast wash followed by first-order diffusion whose rate follows Arrhenius' law. The
equilibrium is a table over strength, relative to the best strength for that group of substances.

Every constant of `CLASS_KINETICS` and `EQUILIBRIUM` is a starting value from common practice, good to a
factor of two at best: cut, ripeness, agitation and lot all move it. Calibrate with your own jar.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from formulate.errors import FormulateError
from formulate.physics.arrhenius import (
    COLDEST_C,
    HIGHEST_ACTIVATION_KJ_MOL,
    HOTTEST_C,
    KITCHEN,
    factor_unchecked,
    kitchen_hold,
    kitchen_temperature,
    two_point_activation_kj_mol,
)
from formulate.physics.figures import CONFIDENCES
from formulate.physics.ranges import Array, Number, as_given, checked

__all__ = [
    "CLASS_KINETICS",
    "CLASS_SUBSTANCE",
    "EQUILIBRIUM",
    "FLAT_EQUILIBRIUM",
    "GRAPE_MARC_ANTHOCYANIN",
    "Kinetics",
    "adjusted",
    "approach",
    "class_kinetics",
    "rate_per_h",
    "time_to_approach_h",
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
        What is rinsed off at once, 0 to 1. No figure was found for any class, hence 0.
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

STILL = "middle of bar practice for a still jar"


def _start(
    plant_class: str, hours: float, source: str, at_c: float = 20.0, confidence: str = "common practice"
) -> Kinetics:
    table = EQUILIBRIUM[CLASS_SUBSTANCE[plant_class]]
    return Kinetics(hours, at_c, equilibrium=table, source=source, confidence=confidence)


# Starting values to calibrate. Bar practice also gives 8 to 15 h at 50 and 5 to 11 h at 60 degrees Celsius
# for roots, 1.3 to 4 h at 50 for leaves: 30 kJ/mol meets the middle of all three.
CLASS_KINETICS: dict[str, Kinetics] = {
    "root": _start("root", 36.0, f"{STILL}, fine cut at 50 % vol: 24 to 48 h at 20 °C"),
    "bark": _start("bark", 36.0, f"{STILL}, fine cut at 50 % vol: 24 to 48 h at 20 °C"),
    "leaf": _start("leaf", 8.0, f"{STILL}: 4 to 12 h at 20 °C"),
    "flower": _start("flower", 8.0, f"{STILL}: 4 to 12 h at 20 °C"),
    "seed": _start("seed", 36.0, "no figure found; taken as cut root", confidence="assumption"),
    "dried_peel": _start(
        "dried_peel", 24.0, "no figure found; between fresh zest and cut root", confidence="assumption"
    ),
    "zest": _start("zest", 18.0, f"{STILL}, fresh, for the oil: 12 to 24 h at 20 °C"),
    "pith": _start("pith", 72.0, f"{STILL}, fresh, for the bitterness: 2 to 4 days at 20 °C"),
    "crushed_fruit": _start(
        "crushed_fruit", 1.5, "bar practice, thawed and with enzyme: 1 to 2 h at 50 °C; slower without", 50.0
    ),
    "whole_fruit": _start("whole_fruit", 72.0, "bar practice: days at 20 °C; three taken"),
}

# Sant'Anna et al. 2013: anthocyanin from grape marc, 50 % ethanol, 50 mL/g. k = 0.034/min at 25 and
# 0.157/min at 60 degrees Celsius; the line through these two has 36.1 kJ/mol. The authors state 29.5,
# presumably a line through all their temperatures; from 25 it misses their own 60 by a quarter.
GRAPE_MARC_ANTHOCYANIN = Kinetics(
    1.0 / (60.0 * 0.034),
    25.0,
    two_point_activation_kj_mol(0.034, 25.0, 0.157, 60.0),
    equilibrium=EQUILIBRIUM["anthocyanin"],
    source="Sant'Anna et al. 2013, end points",
    confidence="derived",
)


def class_kinetics(plant_class: str, substance: str | None = None) -> Kinetics:
    """Return the starting kinetics of a plant class, for another group of substances on request.

    Parameters
    ----------
    plant_class : str
        A key of `CLASS_KINETICS`.
    substance : str, optional
        A key of `EQUILIBRIUM`; by default what the class is mostly infused for.

    Returns
    -------
    Kinetics
        Starting values to calibrate: common practice or assumption, see `source`.

    Raises
    ------
    FormulateError
        An unknown class or group.
    """
    if plant_class not in CLASS_KINETICS:
        known = ", ".join(CLASS_KINETICS)
        raise FormulateError(f"class_kinetics: unknown plant class {plant_class!r}. Known: {known}.")
    kinetics = CLASS_KINETICS[plant_class]
    if substance is None:
        return kinetics
    if substance not in EQUILIBRIUM:
        known = ", ".join(EQUILIBRIUM)
        raise FormulateError(f"class_kinetics: unknown substance group {substance!r}. Known: {known}.")
    return replace(kinetics, equilibrium=EQUILIBRIUM[substance])


def adjusted(kinetics: Kinetics, *, stirred: bool = False, size_ratio: float = 1.0) -> Kinetics:
    """Kinetics for another cut or for a jar that is kept moving.

    Parameters
    ----------
    kinetics : Kinetics
        For the still jar and the usual cut.
    stirred : bool, default False
        Halves the time constant (common practice).
    size_ratio : float, default 1
        Thickness of the pieces over the usual, 0.01 to 100; time goes with its square, as diffusion does.

    Returns
    -------
    Kinetics
        The same with another time constant, held within 0.001 h to 1e5 h.

    Raises
    ------
    RangeError
        `size_ratio` outside its range, or NaN.
    """
    ratio = float(checked(size_ratio, 0.01, 100.0, "adjusted: size_ratio", "", MODEL))
    hours = kinetics.time_constant_h * ratio**2 * (0.5 if stirred else 1.0)
    held = min(max(hours, SHORTEST_TIME_CONSTANT_H), LONGEST_TIME_CONSTANT_H)
    return replace(kinetics, time_constant_h=held)


def _rate(temperature: Array, kinetics: Kinetics) -> Array:
    factor = factor_unchecked(temperature, kinetics.reference_c, kinetics.activation_kj_mol)
    return np.asarray(factor / kinetics.time_constant_h)


def rate_per_h(kinetics: Kinetics, temperature_c: Number) -> Number:
    """Rate of the diffusion part.

    Parameters
    ----------
    kinetics : Kinetics
        Of the plant and substance.
    temperature_c : float or ndarray
        -25 to 100 degrees Celsius.

    Returns
    -------
    float or ndarray
        k, 1/h, never falling with temperature.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    return as_given(_rate(kitchen_temperature("rate_per_h", temperature_c), kinetics), temperature_c)


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


def time_to_approach_h(share: Number, temperature_c: Number | float, kinetics: Kinetics) -> Number:
    """Time until a share of the way to equilibrium is done.

    Parameters
    ----------
    share : float or ndarray
        0 to 0.9999 of the way.
    temperature_c : float or ndarray
        -25 to 100 degrees Celsius.
    kinetics : Kinetics
        Of the plant and substance.

    Returns
    -------
    float or ndarray
        Hours; 0 where the wash alone gives the share.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "time_to_approach_h"
    wanted = checked(share, 0.0, 0.9999, f"{name}: share", "", "a share short of all")
    rate = _rate(kitchen_temperature(name, temperature_c), kinetics)
    if kinetics.wash_share >= 1.0:
        return as_given(np.zeros(np.broadcast(wanted, rate).shape), share)
    left = np.minimum((1.0 - wanted) / (1.0 - kinetics.wash_share), 1.0)
    return as_given(-np.log(left) / rate, share)
