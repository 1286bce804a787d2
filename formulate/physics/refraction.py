"""Refractive index nD at 20 degrees Celsius, and the Brix a refractometer shows.

Sucrose-water is a fit to the ICUMSA 1974 table (worst miss 5.5e-6). Ethanol-water and whole drinks
go by Lorentz-Lorenz: specific refractions add by mass. Ethanol-water misses the CRC table by up to
1.7e-4 to 98 % by mass and 5.7e-4 at pure ethanol. For whole drinks no published point with both
sugar and alcohol could be read: taken as good to 3e-4, an assumption.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from formulate.physics.coefficients import OIML_A
from formulate.physics.components import COMPONENTS, INDEX, SUGARS
from formulate.physics.mixture import dissolved_mass_fraction, volume_l
from formulate.physics.numerics import Array, Number, as_given, checked, derivative, horner, solve_increasing
from formulate.physics.solutes import SOLUTES, SPECIFIC_REFRACTION_WATER, index_from_refraction

__all__ = [
    "brix_from_refractive_index",
    "refractive_index_ethanol_water",
    "refractive_index_from_brix",
    "refractive_index_mixture",
    "refractive_index_sucrose_water",
]

ICUMSA = "the ICUMSA 1974 table"
ICUMSA_HIGHEST_MASS_FRACTION = 0.85
# Own fit of the ICUMSA 1974 table, ascending in the mass fraction.
ICUMSA_FIT = (1.33298723, 0.14275328, 0.05474398, 0.01200009, 0.01340275, -0.00961397)
ICUMSA_FIT_SLOPE = derivative(ICUMSA_FIT)
LIGHTEST_INDEX = float(horner(ICUMSA_FIT, np.array(0.0)))
HEAVIEST_INDEX = float(horner(ICUMSA_FIT, np.array(ICUMSA_HIGHEST_MASS_FRACTION)))

# Apparent specific refraction of ethanol by its mass fraction among ethanol and water, cm3/g.
ETHANOL_REFRACTION = (0.2767071, 0.00462928, -0.00032824)
# Apparent specific refraction of sucrose by mass fraction, fitted to the ICUMSA table on SPS-4 density.
SUCROSE_REFRACTION = (0.2067755, -0.00190674, -0.00084387)
# Constant specific refractions, cm3/g. Those with a CRC column use its thin end. The others are sums
# of the Eisenlohr atomic refractions (C 2.418, H 1.100, O of hydroxyl 1.525, of ether 1.643, of
# carbonyl 2.211, double bond 1.733), from memory: the same sums give citric acid 3 % low and
# sucrose 1 % low, and 3 % of 10 g/L is 1e-4 in the index.
CONSTANT_REFRACTION: dict[str, float] = {
    "citric_acid": SOLUTES["citric_acid"].refraction[0],
    "malic_acid": 25.27 / 134.09,
    "tartaric_acid": 26.79 / 150.09,
    "lactic_acid": SOLUTES["lactic_acid"].refraction[0],
    "quinic_acid": 39.96 / 192.17,
    "ascorbic_acid": 35.00 / 176.12,
    "glycerol": SOLUTES["glycerol"].refraction[0],
    "salt": SOLUTES["salt"].refraction[0],
    "other_soluble": SUCROSE_REFRACTION[0],  # assumption: as sugar
}


def refractive_index_sucrose_water(mass_fraction: Number) -> Number:
    """Refractive index of sucrose in water.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Sucrose, g/g of solution, 0 to 0.85.

    Returns
    -------
    float or ndarray
        nD at 20 degrees Celsius against air.

    Raises
    ------
    RangeError
        Outside the range, or NaN.

    Notes
    -----
    Source: own fit of the ICUMSA 1974 table, worst miss 5.5e-6.
    """
    name = "refractive_index_sucrose_water: mass_fraction"
    fraction = checked(mass_fraction, 0.0, ICUMSA_HIGHEST_MASS_FRACTION, name, "g/g", ICUMSA)
    return as_given(horner(ICUMSA_FIT, fraction), mass_fraction)


def refractive_index_from_brix(brix: Number) -> Number:
    """Refractive index a refractometer shows as this Brix.

    Parameters
    ----------
    brix : float or ndarray
        Degrees Brix, % w/w sucrose, 0 to 85.

    Returns
    -------
    float or ndarray
        nD at 20 degrees Celsius.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    degrees = checked(brix, 0.0, 85.0, "refractive_index_from_brix: brix", "°Brix", ICUMSA)
    return as_given(horner(ICUMSA_FIT, degrees / 100.0), brix)


def brix_from_refractive_index(refractive_index: Number) -> Number:
    """Apparent Brix of a refractometer: the sucrose-water solution with this index.

    Parameters
    ----------
    refractive_index : float or ndarray
        nD at 20 degrees Celsius, 1.33299 to 1.50398.

    Returns
    -------
    float or ndarray
        Degrees Brix. Alcohol raises the index too, so for a drink this is not its sugar.

    Raises
    ------
    RangeError
        Outside the range, or NaN.
    """
    name = "brix_from_refractive_index: refractive_index"
    index = checked(refractive_index, LIGHTEST_INDEX, HEAVIEST_INDEX, name, "", ICUMSA)
    highest = ICUMSA_HIGHEST_MASS_FRACTION

    def evaluate(fraction: Array) -> tuple[Array, Array]:
        return horner(ICUMSA_FIT, fraction), horner(ICUMSA_FIT_SLOPE, fraction)

    start = highest * (index - LIGHTEST_INDEX) / (HEAVIEST_INDEX - LIGHTEST_INDEX)
    return as_given(100.0 * solve_increasing(evaluate, index, 0.0, highest, start), refractive_index)


def refractive_index_ethanol_water(mass_fraction: Number) -> Number:
    """Refractive index of ethanol and water.

    Parameters
    ----------
    mass_fraction : float or ndarray
        Ethanol, g/g, 0 to 1.

    Returns
    -------
    float or ndarray
        nD at 20 degrees Celsius. It peaks near 78 % by mass, so it names no single strength above 75 %.

    Raises
    ------
    RangeError
        Outside the range, or NaN.

    Notes
    -----
    Lorentz-Lorenz on the OIML R 22 density; misses the CRC table by up to 1.7e-4, at pure ethanol 5.7e-4.
    """
    name = "refractive_index_ethanol_water: mass_fraction"
    fraction = checked(mass_fraction, 0.0, 1.0, name, "g/g", "the CRC table (own fit)")
    refraction = fraction * horner(ETHANOL_REFRACTION, fraction)
    refraction = refraction + (1.0 - fraction) * SPECIFIC_REFRACTION_WATER
    density_g_cm3 = horner(OIML_A, fraction) / 1000.0
    return as_given(index_from_refraction(refraction, density_g_cm3), mass_fraction)


def refractive_index_mixture(masses_kg: Any) -> Any:
    """Refractive index of a whole drink.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `mixture.COMPONENTS`.

    Returns
    -------
    float or ndarray, shape (...)
        nD at 20 degrees Celsius.

    Raises
    ------
    RangeError
        As `mixture.volume_l`, or no mass at all.

    Notes
    -----
    Specific refractions add by mass over the model's volume; sugars are taken at the overall dissolved
    mass fraction, held at the end of their columns. Taking them at sugar over sugar and water instead
    moves the index by up to 1.5e-4 (40 % vol, 300 g/L). Assumed good to 3e-4: no measurement was read.
    """
    masses = np.asarray(masses_kg, dtype=np.float64)
    volume = np.atleast_1d(np.asarray(volume_l(masses)))
    rows = masses.reshape(-1, len(COMPONENTS))
    checked(
        rows.sum(axis=1), 1e-12, np.inf, "refractive_index_mixture: total mass", "kg", "a mixture that exists"
    )
    columns = rows.T
    water, ethanol = columns[INDEX["water"]], columns[INDEX["ethanol"]]
    base = water + ethanol
    spirit = np.divide(ethanol, base, out=np.zeros_like(base), where=base > 0.0)
    dissolved = np.atleast_1d(np.asarray(dissolved_mass_fraction(rows)))
    refraction = water * SPECIFIC_REFRACTION_WATER + ethanol * horner(ETHANOL_REFRACTION, spirit)
    refraction += columns[INDEX["sucrose"]] * horner(SUCROSE_REFRACTION, np.minimum(dissolved, 0.85))
    for name in SUGARS[1:]:
        fit = SOLUTES[name]
        held = np.minimum(dissolved, fit.highest_mass_fraction)
        refraction += columns[INDEX[name]] * horner(fit.refraction, held)
    for name, constant in CONSTANT_REFRACTION.items():
        refraction += constant * columns[INDEX[name]]
    # kg times cm3/g is litres, so this ratio is specific refraction times density, no unit.
    index = index_from_refraction(refraction / volume.ravel(), np.ones_like(base))
    return float(index[0]) if masses.ndim == 1 else index.reshape(masses.shape[:-1])
