"""Will it stay clear, will the sugar stay dissolved, how thick does it pour: with the bar's own tests.

The two risk classes are working classifications of ours, meant to make a person do the test beside them
and never to replace it. Sugar in plain water is published; what ethanol does to it is an assumption. The
viscosity of sucrose in water follows Genotelle's formula, that of ethanol and water a handbook table, both
from memory; a drink joins the two by a rule of ours that no measurement was read for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from formulate.physics.components import ETHANOL, INDEX, WATER
from formulate.physics.mixture import dissolved_mass_fraction
from formulate.physics.numerics import Array, Number, as_given, checked
from formulate.physics.strength import abv_from_mass_fraction

__all__ = [
    "BAR_TESTS",
    "FRIDGE_C",
    "RISK_LEVELS",
    "VISCOSITY_UNCERTAINTY_SHARE",
    "Risk",
    "gel_risk",
    "oil_haze_risk",
    "sucrose_saturation",
    "viscosity_ethanol_water_mpa_s",
    "viscosity_mpa_s",
]

FRIDGE_C = 5.0
RISK_LEVELS = ("low", "possible", "high")
# Common practice; no instrument needed.
BAR_TESTS: dict[str, str] = {
    "clarity": "Leave a filled bottle in the fridge for 24 h, then read small print through it.",
    "gel": "Tilt the bottle cold and at room temperature: it should run alike, without a skin or a lump.",
    "haze": "Mix one to one with cold water: a cloud that stays means oil, or pectin if it forms strings.",
    "sugar": "Look at the bottom of the bottle after 24 h in the fridge: no crystals.",
}


@dataclass(frozen=True, slots=True)
class Risk:
    """A class of risk, why, and how to find out.

    Attributes
    ----------
    level : str
        One of `RISK_LEVELS`.
    reason : str
        In words for the person.
    test : str
        The bar's own test.
    """

    level: str
    reason: str
    test: str


# Pectin, g/L: a jam sets at 5 to 10 with 55 % sugar and more below pH 3.5; spirit throws pectin out as
# strings or jelly from about 15 % vol (both common practice). Our lines lie well below the setting point.
PECTIN_TRACE_G_L, PECTIN_SOME_G_L, PECTIN_MUCH_G_L = 0.5, 1.5, 4.0
SETTING_SUGAR_G_L, SETTING_PH, THROWING_STRENGTH_PCT_VOL = 550.0, 3.6, 15.0


def gel_risk(pectin_g_l: float, sugar_g_l: float, ph: float, strength_pct_vol: float = 0.0) -> Risk:
    """Risk that pectin sets, or is thrown out as jelly: a working classification of ours.

    Parameters
    ----------
    pectin_g_l : float
        Left in the liquor, 0 to 1000 g/L.
    sugar_g_l : float
        0 to 1300 g/L.
    ph : float
        0 to 14.
    strength_pct_vol : float, default 0
        0 to 100 % vol.

    Returns
    -------
    Risk
        Never lower with more pectin, sugar, strength or acid. Under 0.5 g/L of pectin low; from 0.5
        possible if something helps it on, that is 550 g/L of sugar at pH 3.6 or less, or 15 % vol; from
        1.5 high with such help, possible without; from 4 the same, and named as much.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    pectin = float(checked(pectin_g_l, 0.0, 1000.0, "gel_risk: pectin_g_l", "g/L", "pectin contents"))
    sugar = float(checked(sugar_g_l, 0.0, 1300.0, "gel_risk: sugar_g_l", "g/L", "sugar contents"))
    acidity = float(checked(ph, 0.0, 14.0, "gel_risk: ph", "", "the pH scale"))
    name = "gel_risk: strength_pct_vol"
    strength = float(checked(strength_pct_vol, 0.0, 100.0, name, "% vol", "strengths"))
    causes = []
    if sugar >= SETTING_SUGAR_G_L and acidity <= SETTING_PH:
        causes.append("sugar and acid let it set")
    if strength >= THROWING_STRENGTH_PCT_VOL:
        causes.append("spirit throws it out of solution")
    if pectin < PECTIN_TRACE_G_L:
        grade, amount = 0, "only a trace of pectin is left"
    elif pectin < PECTIN_SOME_G_L:
        grade, amount = (1 if causes else 0), "a little pectin is left"
    elif pectin < PECTIN_MUCH_G_L:
        grade, amount = (2 if causes else 1), "some pectin is left"
    else:
        grade, amount = (2 if causes else 1), "much pectin is left"
    reason = " and ".join([amount, *(causes if grade else [])])
    return Risk(RISK_LEVELS[grade], reason, BAR_TESTS["gel"])


# Oils come out when an oil-rich extract falls below about 35 % vol (common practice). Other lines are ours.
LOUCHE_PCT_VOL, OIL_RICH_PCT_VOL, WELL_BELOW_PCT_VOL = 35.0, 50.0, 25.0


def oil_haze_risk(oil_extract_strength_pct_vol: float, bottle_strength_pct_vol: float) -> Risk:
    """Risk of a cloud when an extract of zest or seed is thinned: a working classification of ours.

    Parameters
    ----------
    oil_extract_strength_pct_vol : float
        Of the liquor the oily plant was infused in, 0 to 100 % vol: stronger takes out more oil.
    bottle_strength_pct_vol : float
        Of the finished drink, 0 to 100 % vol.

    Returns
    -------
    Risk
        Low if the extract was 35 % vol or less, the bottle is 35 or more, or nothing was thinned; high
        from an extract of 50 to a bottle under 25 % vol; else possible. Little oil in much drink may stay
        clear all the same, and peel in a weak jar may still cloud: test.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "oil_haze_risk"
    first = f"{name}: oil_extract_strength_pct_vol"
    extract = float(checked(oil_extract_strength_pct_vol, 0.0, 100.0, first, "% vol", "strengths"))
    second = f"{name}: bottle_strength_pct_vol"
    bottle = float(checked(bottle_strength_pct_vol, 0.0, 100.0, second, "% vol", "strengths"))
    test = BAR_TESTS["haze"]
    if extract <= LOUCHE_PCT_VOL:
        return Risk("low", "the infusing liquor is too weak to take much oil", test)
    if bottle >= LOUCHE_PCT_VOL:
        return Risk("low", "the bottle is strong enough to hold the oil", test)
    far = extract >= OIL_RICH_PCT_VOL and bottle < WELL_BELOW_PCT_VOL
    return Risk("high" if far else "possible", "oil taken up strong may cloud when thinned", test)


# Sokolovsky 1958 in Mohos 2010, % w/w. Another published series has 66.74 at 20 degrees Celsius.
SOLUBILITY_TEMPERATURES_C = np.array([0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0])
SOLUBILITY_WATER = np.array([0.6418, 0.6558, 0.6709, 0.687, 0.7042, 0.7225, 0.7418])
SOLUBILITY_TABLE = "Sokolovsky's sucrose table"
# ASSUMPTION. Sucrose per kg of alcohol and water, relative to water, by the strength of the alcohol and
# water: worked from a table of Scheibler (1872, 14 degrees Celsius, from memory), g in 100 mL of saturated
# solution: 87.5, 81.5, 74.5, 67.9, 58.0, 47.1, 33.9, 18.8, 6.6, 0.9 at 0, 10 ... 90 % vol; the liquid in it
# weighs (100 - 0.63 x g) mL times its density. At 0 % that is 66.1 % w/w, as Sokolovsky has. Whether its
# strengths are by volume was not seen; read so it gives less sugar, the careful way. At other temperatures
# the ratio is kept. Measured tables (Galvao 2016; Bouchard 2007; Gong) were not readable.
ETHANOL_STRENGTHS_PCT_VOL = np.array([0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0])
ETHANOL_RELATIVE = np.array([1.0, 0.871, 0.737, 0.630, 0.492, 0.367, 0.242, 0.123, 0.041, 0.006, 0.0])
# Of the sucrose per kg of liquid: the two series differ by 2 % in water; a quarter from 30 % vol is ours.
UNCERTAINTY_WATER, UNCERTAINTY_SPIRIT, FULL_UNCERTAINTY_PCT_VOL = 0.02, 0.25, 30.0


def _solubility_temperature(function: str, temperature_c: object) -> Array:
    return checked(temperature_c, 0.0, 60.0, f"{function}: temperature_c", "°C", SOLUBILITY_TABLE)


def _per_liquid(temperature: Array, strength: Array) -> tuple[Array, Array]:
    """Sucrose at saturation per mass of alcohol and water, with its uncertainty; nothing checked."""
    water = np.interp(temperature, SOLUBILITY_TEMPERATURES_C, SOLUBILITY_WATER)
    ratio = water / (1.0 - water) * np.interp(strength, ETHANOL_STRENGTHS_PCT_VOL, ETHANOL_RELATIVE)
    grown = np.minimum(strength / FULL_UNCERTAINTY_PCT_VOL, 1.0)
    return ratio, ratio * (UNCERTAINTY_WATER + (UNCERTAINTY_SPIRIT - UNCERTAINTY_WATER) * grown)


def sucrose_saturation(masses_kg: Any, temperature_c: float = FRIDGE_C) -> tuple[Any, Any]:
    """How near a drink's sucrose is to crystallising: with ethanol an ASSUMPTION.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `mixture.COMPONENTS`, ethanol or water among them.
    temperature_c : float, default 5
        0 to 60 degrees Celsius; the fridge.

    Returns
    -------
    saturation, uncertainty : float or ndarray, shape (...)
        Sucrose over what its alcohol and water can hold, and either way. Above 1 it crystallises in
        time; from 1 less the uncertainty, test. Infinite for sucrose in pure ethanol.

    Raises
    ------
    RangeError
        A temperature outside, negative masses, or neither alcohol nor water.

    Notes
    -----
    Glucose and fructose are left out: they dissolve better, and each takes some room from sucrose.
    """
    name = "sucrose_saturation"
    masses = np.asarray(masses_kg, dtype=np.float64)
    checked(masses, 0.0, float("inf"), f"{name}: masses_kg", "kg", "drinks")
    temperature = _solubility_temperature(name, temperature_c)
    liquid = masses[..., ETHANOL] + masses[..., WATER]
    checked(liquid, 1e-12, float("inf"), f"{name}: ethanol plus water", "kg", "drinks")
    strength: Array = np.asarray(abv_from_mass_fraction(np.asarray(masses[..., ETHANOL] / liquid)))
    ratio, unsure = _per_liquid(temperature, np.clip(strength, 0.0, 100.0))
    held = masses[..., INDEX["sucrose"]] / liquid
    endless = np.where(held > 0.0, np.inf, 0.0)
    saturation = np.divide(held, ratio, out=endless, where=ratio > 0.0)
    spread = np.divide(unsure, ratio, out=np.zeros(np.shape(ratio)), where=ratio > 0.0)
    uncertainty = np.multiply(saturation, spread, out=np.zeros(np.shape(saturation)), where=ratio > 0.0)
    return as_given(saturation, 0.0), as_given(uncertainty, 0.0)


GENOTELLE = "Genotelle's formula (from memory)"
GENOTELLE_HIGHEST_MASS_FRACTION = 0.75
COLDEST_TABLE_C, WARMEST_TABLE_C = 0.0, 40.0
# Rows by temperature, columns by mass fraction of ethanol, mPa s: Bingham's measurements as older handbooks
# print them, from memory. Newer tables differ by up to 5 % near the maximum.
TEMPERATURES_C = np.array([0.0, 5.0, 10.0, 20.0, 30.0, 40.0])
FRACTIONS = np.linspace(0.0, 1.0, 11)
TABLE = np.array(
    [
        [1.792, 3.311, 5.319, 6.94, 7.14, 6.58, 5.75, 4.762, 3.690, 2.732, 1.773],
        [1.519, 2.577, 4.065, 5.29, 5.59, 5.26, 4.63, 3.906, 3.125, 2.309, 1.623],
        [1.308, 2.179, 3.165, 4.05, 4.39, 4.18, 3.77, 3.268, 2.710, 2.101, 1.466],
        [1.002, 1.538, 2.183, 2.71, 2.91, 2.87, 2.67, 2.370, 2.008, 1.610, 1.200],
        [0.798, 1.160, 1.553, 1.87, 2.02, 2.02, 1.93, 1.767, 1.531, 1.279, 1.003],
        [0.653, 0.907, 1.160, 1.368, 1.482, 1.499, 1.447, 1.344, 1.203, 1.035, 0.834],
    ]
)
SPIRIT_TABLE = "the ethanol-water viscosity table (older handbooks, from memory)"
# Of a whole drink: our assumption, as no measured ternary was read. Sucrose in water is 3 to 5 % too thick
# against 10.1016/j.tca.2013.11.006 at 25 to 40 degrees Celsius, glucose 1 to 9 %, where two series of one
# solution lie 5 % apart.
VISCOSITY_UNCERTAINTY_SHARE = 0.25


def _table_temperature(function: str, temperature_c: object) -> Array:
    name = f"{function}: temperature_c"
    return checked(temperature_c, COLDEST_TABLE_C, WARMEST_TABLE_C, name, "°C", SPIRIT_TABLE)


def _genotelle(fraction: Array, temperature: Array) -> Array:
    """Viscosity of sucrose in water, mPa s: Genotelle's formula (Mathlouthi and Genotelle 1995; from memory).

    Within 4 % of handbook values from memory at 20 to 30 degrees Celsius and 0 to 60 %; some 8 % too thick at
    5 degrees Celsius and 40 %.
    """
    percent = 100.0 * fraction
    moles = percent / (1900.0 - 18.0 * percent)
    thermal = (30.0 - temperature) / (91.0 + temperature)
    exponent = 22.46 * moles - 0.114 + thermal * (1.1 + 43.1 * moles**1.25)
    return np.asarray(10.0**exponent)


def _spirit(fraction: Array, temperature: Array) -> Array:
    """Linear in the logarithm over both the table's axes; nothing checked."""
    fraction, temperature = np.broadcast_arrays(fraction, temperature)
    row = np.clip(np.searchsorted(TEMPERATURES_C, temperature, side="right") - 1, 0, len(TABLE) - 2)
    column = np.clip(np.searchsorted(FRACTIONS, fraction, side="right") - 1, 0, len(FRACTIONS) - 2)
    down = (temperature - TEMPERATURES_C[row]) / (TEMPERATURES_C[row + 1] - TEMPERATURES_C[row])
    right = (fraction - FRACTIONS[column]) / (FRACTIONS[column + 1] - FRACTIONS[column])
    logs = np.log(TABLE)
    upper = logs[row, column] * (1.0 - right) + logs[row, column + 1] * right
    lower = logs[row + 1, column] * (1.0 - right) + logs[row + 1, column + 1] * right
    return np.asarray(np.exp(upper * (1.0 - down) + lower * down))


def viscosity_ethanol_water_mpa_s(mass_fraction: Number, temperature_c: Number | float = 20.0) -> Number:
    """Viscosity of ethanol and water, most near 40 % by weight.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g, 0 to 1.
    temperature_c : float or ndarray, default 20
        0 to 40 degrees Celsius.

    Returns
    -------
    float or ndarray
        mPa s, interpolated in the logarithm.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "viscosity_ethanol_water_mpa_s"
    fraction = checked(mass_fraction, 0.0, 1.0, f"{name}: mass_fraction", "g/g", SPIRIT_TABLE)
    return as_given(_spirit(fraction, _table_temperature(name, temperature_c)), mass_fraction)


def viscosity_mpa_s(masses_kg: Any, temperature_c: float = 20.0) -> Any:
    """Viscosity of a whole drink, to about a quarter either way.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `mixture.COMPONENTS`, ethanol or water among them.
    temperature_c : float, default 20
        0 to 40 degrees Celsius; 5 is the fridge.

    Returns
    -------
    float or ndarray, shape (...)
        mPa s. Water at 20 degrees Celsius is 1.0, single cream about 10 to 20 (from memory).

    Raises
    ------
    RangeError
        More than 75 % dissolved, negative masses, nothing in it, or a temperature outside.

    Notes
    -----
    A rule of ours: Genotelle's viscosity at the overall share of dissolved matter, times that of the spirit
    without it over that of water. Exact in the limit of sucrose in water, 3.6 % low in that of spirit (where
    the formula misses water at 20 degrees Celsius by as much). All dissolved matter counts as
    sucrose: glucose and fructose are somewhat thinner. Pectin, gums and egg are not in it and
    thicken far more.
    """
    name = "viscosity_mpa_s"
    masses = np.asarray(masses_kg, dtype=np.float64)
    dissolved: Array = np.asarray(dissolved_mass_fraction(masses))
    highest = GENOTELLE_HIGHEST_MASS_FRACTION
    checked(dissolved, 0.0, highest, f"{name}: dissolved share", "g/g", GENOTELLE)
    temperature = _table_temperature(name, temperature_c)
    ethanol, liquid = masses[..., ETHANOL], masses[..., ETHANOL] + masses[..., WATER]
    checked(liquid, 1e-12, float("inf"), f"{name}: ethanol plus water", "kg", "drinks")
    spirit = _spirit(ethanol / liquid, temperature) / _spirit(np.zeros(()), temperature)
    return as_given(_genotelle(dissolved, temperature) * spirit, 0.0)
