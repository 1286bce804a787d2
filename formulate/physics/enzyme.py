"""Pectin and the enzyme that breaks it down: activity, time to finish, what is left.

The model: pectin falls first order, at a rate that is the enzyme's full rate x dose x activity at the
temperature x what the strength leaves of it, while the enzyme itself dies first order in the heat.

Every number of it is a starting guess. The table of activity is arithmetic on practice, the slope by
strength has not been read anywhere, and practice contradicts it: bars report a clear jar after about an
hour at 50 degrees Celsius with spirit and sugar already in. So nothing here ever says that an enzyme will
not finish; it says "slower at this strength" and asks for the end test, `ALCOHOL_TEST`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from formulate.errors import FormulateError
from formulate.physics.kinetics import factor_unchecked, kitchen_hold, kitchen_temperature
from formulate.physics.numerics import Array, Figure, Number, as_given, checked

__all__ = [
    "ALCOHOL_TEST",
    "DEFAULT_ENZYME",
    "DOSE_G_PER_KG",
    "FINISH_UNCERTAINTY_FACTOR",
    "METHANOL_G_PER_G_PECTIN",
    "UNFORTIFIED_MASH",
    "AlcoholTest",
    "EnzymeRate",
    "Finish",
    "UnfortifiedMash",
    "pectin_left",
    "strength_factor",
    "surviving_share",
    "time_to_finish_h",
]

# Pectin is a chain of galacturonic acid, 176.1 g per anhydro unit, plus side sugars; the chain is about 80 %
# of its mass. At 72 % esterification a unit weighs 176.1 + 0.72 x 14.03 = 186.2 g and carries
# 0.72 x 32.04 = 23.1 g of methanol: 0.80 x 23.1/186.2 = 0.099 g per g of pectin (0.097 at 70, 0.103 at 75 %).
METHANOL_G_PER_G_PECTIN = 0.10

Points = tuple[tuple[float, float], ...]
MODEL = "the enzyme model"

# Relative rate at the start of the hold. 5 to 55 degrees Celsius: arithmetic on practice (the rise from 15 to
# 50 is published as a straight line for a grape polygalacturonase, the best at 45 to 50). The rest is ours.
ACTIVITY_BY_TEMPERATURE: Points = (
    (-25.0, 0.0),
    (0.0, 0.04),
    (5.0, 0.08),
    (20.0, 0.30),
    (30.0, 0.50),
    (40.0, 0.80),
    (50.0, 1.00),
    (55.0, 0.80),
    (60.0, 0.60),
    (70.0, 0.20),
    (80.0, 0.0),
    (100.0, 0.0),
)
# Practice and arithmetic, starting guess. "Under 0.02" at 40 % vol is taken as 0.02 and held: never zero.
ACTIVITY_BY_STRENGTH: Points = (
    (0.0, 1.0),
    (10.0, 0.6),
    (15.0, 0.4),
    (20.0, 0.25),
    (30.0, 0.08),
    (40.0, 0.02),
)
# "Dies in 20 to 30 min" at 60 degrees Celsius: 5 % left after 25 min is ln 20 x 60/25 = 7.19/h.
DEATH_RATE_60C_PER_H = float(np.log(20.0)) * 60.0 / 25.0
# Ours: with 350 kJ/mol 5 % is left after 4 min at 65 ("minutes"), a second at 80 ("under a minute"), and the
# half-life is 40 min at 55 ("starts") and 5 h at 50 (the usual process temperature).
DEATH_ACTIVATION_KJ_MOL = 350.0


@dataclass(frozen=True, slots=True)
class EnzymeRate:
    """What a pectinase does at its dose; the whole thing is a starting guess to calibrate.

    Attributes
    ----------
    full_rate_per_h : float
        First-order rate of pectin at 50 degrees Celsius, no alcohol, reference dose. The default 2.22/h
        leaves 5 % after 1.5 h, the middle of the 1 to 2 h of practice, its own slow death at 50 included.
    reference_dose_g_per_kg : float
        Of fruit; the rate goes with the dose.
    death_rate_60c_per_h, death_activation_kj_mol : float
        Of the enzyme itself.
    by_temperature, by_strength : tuple of (degrees Celsius or % vol, share)
        Straight lines in between, held beyond the ends.
    source, confidence : str
        Where it comes from.

    Raises
    ------
    RangeError
        A number outside its range.
    FormulateError
        A table that is empty or not in rising order.
    """

    full_rate_per_h: float = 2.22
    reference_dose_g_per_kg: float = 2.0
    death_rate_60c_per_h: float = DEATH_RATE_60C_PER_H
    death_activation_kj_mol: float = DEATH_ACTIVATION_KJ_MOL
    by_temperature: Points = ACTIVITY_BY_TEMPERATURE
    by_strength: Points = ACTIVITY_BY_STRENGTH
    source: str = "middle of bar practice: 1 to 2 h at 50 °C"
    confidence: str = "common practice"

    def __post_init__(self) -> None:
        checked(self.full_rate_per_h, 1e-6, 1e4, "EnzymeRate: full_rate_per_h", "1/h", MODEL)
        dose = "EnzymeRate: reference_dose_g_per_kg"
        checked(self.reference_dose_g_per_kg, 1e-4, 1e3, dose, "g/kg", MODEL)
        checked(self.death_rate_60c_per_h, 1e-9, 1e4, "EnzymeRate: death_rate_60c_per_h", "1/h", MODEL)
        energy = "EnzymeRate: death_activation_kj_mol"
        checked(self.death_activation_kj_mol, 0.0, 1000.0, energy, "kJ/mol", MODEL)
        for name in ("by_temperature", "by_strength"):
            points: Points = getattr(self, name)
            steps = np.diff([place for place, _ in points])
            if not points or bool(np.any(steps <= 0.0)):
                raise FormulateError(f"EnzymeRate: {name} needs points in rising order.")
            checked([share for _, share in points], 0.0, 1.0, f"EnzymeRate: {name}", "", "a share")


DEFAULT_ENZYME = EnzymeRate()

# Per kg of fruit. Retail preparations are weaker. Tannin-rich fruit (sloe, aronia): the upper end.
DOSE_G_PER_KG: dict[str, Figure] = {
    "retail": Figure(1.0, 4.0, "g or mL per kg", "bar practice", "common practice"),
    "industry": Figure(0.05, 0.2, "mL per kg", "enzyme makers' usual 50 to 200 mL per tonne", "from memory"),
}


@dataclass(frozen=True, slots=True)
class AlcoholTest:
    """How to see in a glass whether pectin is left.

    Attributes
    ----------
    juice_volumes, alcohol_volumes : float
        To be mixed.
    alcohol_pct_vol, acid_pct : float
        Of the alcohol: strength, and hydrochloric acid in it.
    minutes : tuple of float
        How long to wait.
    text : str
        The test in a sentence or two, with its cautions.
    source, confidence : str
        Where it comes from.
    """

    juice_volumes: float
    alcohol_volumes: float
    alcohol_pct_vol: float
    acid_pct: float
    minutes: tuple[float, float]
    text: str
    source: str
    confidence: str


ALCOHOL_TEST = AlcoholTest(
    juice_volumes=1.0,
    alcohol_volumes=2.0,
    alcohol_pct_vol=95.0,
    acid_pct=1.0,
    minutes=(5.0, 15.0),
    text=(
        "Filter a little juice, add twice its volume of acidified 95 % alcohol, swirl once and wait 5 to 15 "
        "minutes. Strings, flakes or jelly mean pectin is left: give the enzyme longer. Clear means done. "
        "The liquid is strong acid and strong alcohol: gloves, no flame, never taste it, throw it away."
    ),
    source="juice makers' alcohol test",
    confidence="common practice",
)


@dataclass(frozen=True, slots=True)
class UnfortifiedMash:
    """Limits for warm fruit without spirit, which spoils: common practice and caution, not a licence.

    Attributes
    ----------
    highest_ph : float
        Below it only.
    temperature_c : tuple of float
        The window.
    longest_h : float
        Then spirit goes in, or the fridge.
    text : str
        The same as a sentence.
    """

    highest_ph: float
    temperature_c: tuple[float, float]
    longest_h: float
    text: str


UNFORTIFIED_MASH = UnfortifiedMash(
    highest_ph=4.0,
    temperature_c=(45.0, 50.0),
    longest_h=2.0,
    text=(
        "Without spirit only below pH 4, at 45 to 50 °C, for two hours at most; then add the spirit or chill "
        "it below 5 °C. Your local food code decides."
    ),
)


def _inside(points: Points, at: Array) -> Array:
    places, shares = zip(*points, strict=True)
    return np.asarray(np.interp(at, places, shares))


def strength_factor(strength_pct_vol: Number, rate: EnzymeRate = DEFAULT_ENZYME) -> Number:
    """Activity left at a strength: a starting guess, never zero by the default table.

    Parameters
    ----------
    strength_pct_vol : float or ndarray
        Of the liquor the fruit lies in, 0 to 100 % vol.
    rate : EnzymeRate
        The table used.

    Returns
    -------
    float or ndarray
        0 to 1, falling with strength, held beyond the table.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    name = "strength_factor: strength_pct_vol"
    strength = checked(strength_pct_vol, 0.0, 100.0, name, "% vol", "strengths")
    return as_given(_inside(rate.by_strength, strength), strength_pct_vol)


def _death_rate(temperature: Array, rate: EnzymeRate) -> Array:
    return rate.death_rate_60c_per_h * factor_unchecked(temperature, 60.0, rate.death_activation_kj_mol)


def surviving_share(
    time_h: Number, temperature_c: Number | float, rate: EnzymeRate = DEFAULT_ENZYME
) -> Number:
    """Share of the enzyme still alive after a hold.

    Parameters
    ----------
    time_h : float or ndarray
        0 h and up.
    temperature_c : float or ndarray
        Held for that time, -25 to 100 degrees Celsius.
    rate : EnzymeRate
        The death rate used.

    Returns
    -------
    float or ndarray
        0 to 1, falling with time and temperature. A citrus methylesterase has a share that survives
        below 75 degrees Celsius; this is not it.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    time, temperature = kitchen_hold("surviving_share", time_h, temperature_c)
    return as_given(np.exp(-_death_rate(temperature, rate) * time), time_h)


def _attack(function: str, dose: object, temperature: Array, strength: object, rate: EnzymeRate) -> Array:
    """First-order rate of pectin with all enzyme alive, 1/h."""
    given = checked(dose, 0.0, 1e3, f"{function}: dose_g_per_kg", "g/kg", "doses")
    left: Array = np.asarray(strength_factor(np.asarray(strength, dtype=np.float64), rate))
    per_dose = rate.full_rate_per_h * given / rate.reference_dose_g_per_kg
    return np.asarray(per_dose * _inside(rate.by_temperature, temperature) * left)


def pectin_left(
    pectin_g_l: Number,
    dose_g_per_kg: Number | float,
    time_h: Number | float,
    temperature_c: Number | float,
    strength_pct_vol: Number | float = 0.0,
    rate: EnzymeRate = DEFAULT_ENZYME,
) -> Number:
    """Pectin left after a hold with enzyme: a starting guess, do the end test.

    Parameters
    ----------
    pectin_g_l : float or ndarray
        At the start, 0 to 1000 g/L (any unit of content: the answer is in the same).
    dose_g_per_kg : float or ndarray
        Enzyme per kg of fruit, 0 to 1000 g/kg, of the kind `rate` is for.
    time_h : float or ndarray
        0 h and up.
    temperature_c : float or ndarray
        -25 to 100 degrees Celsius.
    strength_pct_vol : float or ndarray, default 0
        Of the liquor, 0 to 100 % vol.
    rate : EnzymeRate
        The rate used.

    Returns
    -------
    float or ndarray
        g/L, 0 to `pectin_g_l`; falls with time and dose, rises with strength.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.

    Notes
    -----
    pectin exp(-k (1 - exp(-d t))/d), k the rate with all enzyme alive and d its death rate. Left out:
    sugar, which slows it, tannin, which binds it, and pH, best near 4.5 and published as working from
    2.5 to 5.5.
    """
    name = "pectin_left"
    start = checked(pectin_g_l, 0.0, 1000.0, f"{name}: pectin_g_l", "g/L", "pectin contents")
    time, temperature = kitchen_hold(name, time_h, temperature_c)
    death = _death_rate(temperature, rate)
    active_h = -np.expm1(-death * time) / death
    return as_given(
        start * np.exp(-_attack(name, dose_g_per_kg, temperature, strength_pct_vol, rate) * active_h),
        pectin_g_l,
    )


# Practice at 30 degrees Celsius (4 to 6 h) and at 15 to 20 (12 to 24 h) is up to four times what the activity
# table makes of 1.5 h at 50: a factor of four either way, on top of which spirit may not slow it at all.
FINISH_UNCERTAINTY_FACTOR = 4.0
LONGEST_SHOWN_H = 1000.0
HOTTEST_ADVISED_C = 50.0
STARTING_GUESS = "our figure is a starting guess; do the end test"


@dataclass(frozen=True, slots=True)
class Finish:
    """When the enzyme should be done.

    Attributes
    ----------
    hours : float or None
        The guess; None where the model gives no time.
    earliest_h : float or None
        As if the spirit did not slow it, over four: when to do the end test first.
    latest_h : float or None
        Four times the guess.
    text : str
        What to tell the person; never that it will not finish.
    """

    hours: float | None
    earliest_h: float | None
    latest_h: float | None
    text: str


def _hours(attack: float, death: float, residual: float) -> float | None:
    # The integral of the living share needed is ln(1/residual)/attack; all that ever comes is 1/death.
    asked = -np.log(residual) * death
    if not asked < attack:
        return None
    hours = max(0.0, float(-np.log1p(-asked / attack) / death))
    return hours if hours <= LONGEST_SHOWN_H else None


def time_to_finish_h(
    dose_g_per_kg: float,
    temperature_c: float,
    strength_pct_vol: float = 0.0,
    residual_share: float = 0.05,
    rate: EnzymeRate = DEFAULT_ENZYME,
) -> Finish:
    """Time until only a stated share of the pectin is left, with words that go with it.

    Parameters
    ----------
    dose_g_per_kg : float
        Enzyme per kg of fruit, 0 to 1000 g/kg.
    temperature_c : float
        -25 to 100 degrees Celsius.
    strength_pct_vol : float, default 0
        Of the liquor, 0 to 100 % vol.
    residual_share : float, default 0.05
        Pectin left that counts as done, 1e-6 to 1.
    rate : EnzymeRate
        The rate used.

    Returns
    -------
    Finish
        Hours are None where there is no enzyme, or where by this model it dies or stays too slow
        (over 1000 h) before that share is reached; the text says what to do.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "time_to_finish_h"
    temperature = kitchen_temperature(name, temperature_c)
    residual = float(checked(residual_share, 1e-6, 1.0, f"{name}: residual_share", "", "a share above 0"))
    attack = float(_attack(name, dose_g_per_kg, temperature, strength_pct_vol, rate))
    if dose_g_per_kg == 0.0:
        return Finish(None, None, None, "no enzyme is in, so no time was worked out")
    death = float(_death_rate(temperature, rate))
    hours = _hours(attack, death, residual)
    unslowed = _hours(float(_attack(name, dose_g_per_kg, temperature, 0.0, rate)), death, residual)
    spread = FINISH_UNCERTAINTY_FACTOR
    latest = None if hours is None else hours * spread
    earliest = None if unslowed is None else unslowed / spread
    reasons = []
    if strength_factor(strength_pct_vol, rate) < 1.0:
        reasons.append("slower at this strength")
    if float(temperature) > HOTTEST_ADVISED_C:
        reasons.append("hot enough to wear the enzyme out, keep it at 45 to 50 °C")
    if hours is None and not reasons:
        reasons.append("slower at this temperature or dose")
    return Finish(hours, earliest, latest, "; ".join([*reasons, STARTING_GUESS]))
