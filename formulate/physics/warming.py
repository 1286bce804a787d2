"""How long a jar takes to warm through, and what a probe in its middle says about the rest.

Pure conduction into an endless cylinder whose wall is at the temperature of the bath, first term of the
series (Carslaw and Jaeger; Heisler's charts): the centre's share of the gap still open is
1.602 exp(-2.4048^2 a t/R^2), 2.4048 the first root of J0, 1.602 = 2/(2.4048 J1(2.4048)).

For a liquid this is an upper bound on the time: liquids stir themselves as they warm, heat also enters
through the ends, and stirring shortens it several times; crushed fruit comes nearest to it. Two things work
the other way: strong spirit conducts heat worse than water (about 1.1e-7 instead of 1.43e-7 m2/s at
40 % vol, from memory), and glass and still air delay: it is for a water bath, not an oven or a
warm cupboard. A probe beats all of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.errors import RangeError
from formulate.physics.kinetics import kitchen_temperature
from formulate.physics.numerics import Array, Number, as_given, checked, worst_outside

__all__ = [
    "FIRST_COEFFICIENT",
    "FIRST_ROOT",
    "HEIGHT_PER_DIAMETER",
    "WATER_DIFFUSIVITY_M2_S",
    "ProbeClock",
    "clock_from_probe",
    "jar_radius_m",
    "stirred_time_constant_h",
    "time_to_reach_h",
]

FIRST_ROOT = 2.404825557695773  # first zero of J0, Abramowitz and Stegun table 9.5
FIRST_COEFFICIENT = 1.6019746  # 2/(root x J1(root)), J1 = 0.5191474973 (same table)
# Water near 20 degrees Celsius: 0.598/(998.2 x 4184), from memory.
WATER_DIFFUSIVITY_M2_S = 1.43e-7
HEIGHT_PER_DIAMETER = 1.5  # of the filled part of a usual jar, our assumption
WALL_W_M2_K = 100.0
"""Through 3 to 4 mm of glass at 1 W/m/K and the films beside it, about 300 and 500 W/m2/K (from memory)."""
CONTENTS_J_L_K = 4000.0  # water 4180, spirit of 40 % vol about 3900; from memory
SECONDS_PER_HOUR = 3600.0
MODEL = "the warming estimate"


def jar_radius_m(volume_l: Number, height_per_diameter: float = HEIGHT_PER_DIAMETER) -> Number:
    """Radius of a round jar filled to this volume.

    Parameters
    ----------
    volume_l : float or ndarray
        What is in it, 0.01 to 1000 L.
    height_per_diameter : float, default 1.5
        Of the filled part, 0.2 to 20.

    Returns
    -------
    float or ndarray
        Metres: V = pi R^2 x 2 R x ratio.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    volume = checked(volume_l, 0.01, 1000.0, "jar_radius_m: volume_l", "L", "jars")
    name = "jar_radius_m: height_per_diameter"
    ratio = float(checked(height_per_diameter, 0.2, 20.0, name, "", "jars"))
    return as_given(np.cbrt(volume / 1000.0 / (2.0 * np.pi * ratio)), volume_l)


def stirred_time_constant_h(volume_l: float, height_per_diameter: float = HEIGHT_PER_DIAMETER) -> float:
    """Time in which the gap to the bath falls to 1/e where somebody stirs now and then.

    The contents are taken as mixed, so that only the wall and its films hold the heat up.

    Parameters
    ----------
    volume_l, height_per_diameter
        As in `jar_radius_m`.

    Returns
    -------
    float
        Hours: heat held over heat let through per kelvin, by side and bottom.

    Raises
    ------
    RangeError
        See `jar_radius_m`.
    """
    radius = float(jar_radius_m(volume_l, height_per_diameter))
    wetted_m2 = np.pi * radius**2 * (1.0 + 4.0 * height_per_diameter)
    return float(CONTENTS_J_L_K * volume_l / (WALL_W_M2_K * wetted_m2) / SECONDS_PER_HOUR)


def _bath_and_start(function: str, bath_c: float, start_c: float) -> tuple[float, float]:
    bath = kitchen_temperature(function, bath_c, "bath_c")
    return float(bath), float(kitchen_temperature(function, start_c, "start_c"))


def _time_constant_h(volume_l: object, height_per_diameter: float, diffusivity_m2_s: float) -> Array:
    diffusivity = checked(diffusivity_m2_s, 1e-9, 1e-5, "warming: diffusivity_m2_s", "m2/s", MODEL)
    radius: Array = np.asarray(jar_radius_m(np.asarray(volume_l, dtype=np.float64), height_per_diameter))
    return np.asarray(radius**2 / (FIRST_ROOT**2 * diffusivity) / SECONDS_PER_HOUR)


def _gap(function: str, temperature: Array, bath: float, start: float, name: str) -> Array:
    """Share of the gap between start and bath still open at a temperature; the bath itself refused."""
    low, high = min(bath, start), max(bath, start)
    inside = np.all((temperature >= low) & (temperature <= high) & (temperature != bath))
    if not inside:
        source = "temperatures from the start up to, not at, the bath's"
        wrong = temperature.ravel()
        outside = wrong[~((wrong >= low) & (wrong <= high))]
        value = worst_outside(outside, low, high) if outside.size else bath
        raise RangeError(f"{function}: {name}", value, low, high, "°C", source)
    return np.asarray((temperature - bath) / (start - bath))


def time_to_reach_h(
    target_c: Number,
    bath_c: float,
    start_c: float,
    volume_l: Number | float,
    height_per_diameter: float = HEIGHT_PER_DIAMETER,
    diffusivity_m2_s: float = WATER_DIFFUSIVITY_M2_S,
) -> Number:
    """Time until the middle of an unstirred jar is at a temperature; stirring shortens it.

    Parameters
    ----------
    target_c : float or ndarray
        From the start up to, not at, the bath's temperature, which is never quite reached.
    bath_c, start_c, volume_l, height_per_diameter, diffusivity_m2_s
        As in `centre_temperature_c`.

    Returns
    -------
    float or ndarray
        Hours; 0 for a target at the start.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "time_to_reach_h"
    bath, start = _bath_and_start(name, bath_c, start_c)
    target = kitchen_temperature(name, target_c, "target_c")
    constant = _time_constant_h(volume_l, height_per_diameter, diffusivity_m2_s)
    gap = _gap(name, target, bath, start, "target_c")
    hours = np.log(FIRST_COEFFICIENT / gap) * constant
    return as_given(np.where(gap >= 1.0, 0.0, hours), target_c)


@dataclass(frozen=True, slots=True)
class ProbeClock:
    """What one reading of a probe says about the rest of the warm-up.

    Attributes
    ----------
    time_constant_h : float
        Of this jar as it is, stirred or not.
    remaining_h : float
        From the reading to the target; 0 when it is there.
    latest_remaining_h : float
        The same if the contents mix themselves, the slowest course through the same reading.
    """

    time_constant_h: float
    remaining_h: float
    latest_remaining_h: float


def clock_from_probe(
    reading_c: float, time_h: float, bath_c: float, start_c: float, target_c: float, *, stirred: bool = False
) -> ProbeClock:
    """Time left, from one reading in the middle of the jar: replaces every assumption about it.

    Parameters
    ----------
    reading_c : float
        Between start and bath, neither included.
    time_h : float
        When it was read after the jar went in, above 0 h.
    bath_c, start_c, target_c : float
        -25 to 100 degrees Celsius; the target from the start up to, not at, the bath.
    stirred : bool, default False
        Stirred or self-mixing contents follow a plain exponential; still ones the centre of a cylinder.

    Returns
    -------
    ProbeClock
        Time constant and time left.

    Raises
    ------
    RangeError
        Outside the ranges, NaN, or a reading still at the start, which says nothing yet.
    """
    name = "clock_from_probe"
    bath, start = _bath_and_start(name, bath_c, start_c)
    reading = kitchen_temperature(name, reading_c, "reading_c")
    target = kitchen_temperature(name, target_c, "target_c")
    time = float(checked(time_h, 1e-6, 1e6, f"{name}: time_h", "h", "times after the jar went in"))
    read_gap = float(_gap(name, reading, bath, start, "reading_c"))
    if read_gap >= 1.0:
        low, high = min(bath, start), max(bath, start)
        raise RangeError(f"{name}: reading_c", start, low, high, "°C", "readings that have left the start")
    target_gap = float(_gap(name, target, bath, start, "target_c"))

    def remaining(lag: float) -> tuple[float, float]:
        constant = time / float(np.log(lag / read_gap))
        return constant, max(0.0, constant * float(np.log(read_gap / target_gap)))

    constant, left = remaining(1.0 if stirred else FIRST_COEFFICIENT)
    return ProbeClock(constant, left, remaining(1.0)[1])
