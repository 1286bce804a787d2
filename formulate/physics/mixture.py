"""Volume, density and strength of a whole drink at 20 degrees Celsius from its component masses.

The model: V = (m_e + m_w) u(p) + sum of m_j phi_j, where u is the specific volume of the
ethanol-water mixture without the solutes (OIML R 22, p = m_e/(m_e + m_w)) and phi_j the apparent
specific volume of solute j. For the four sugars phi is taken at the overall dissolved mass fraction
w = all solutes/total mass; for the rest it is a constant. Beyond the end of its own published column
(fructose 48 %, glucose and maltose 60 %) the phi of a sugar rises by what that of sucrose rises from
there: phi_j(w) = phi_j(end) + phi_sucrose(w) - phi_sucrose(end). That is our working continuation, not a
published one; it meets handbook densities of honey and invert syrup, which a flat phi missed by 1 to 1.4 %.

What it is worth. It is exact in both binary limits (within 0.002 kg/m3 for sucrose, as the two
standards differ on pure water). Against published spirits with sugar of 15 to 40 % vol, strength worked
out from masses was within 0.05 % vol up to 290 g/L and within 0.1 at 421 g/L, where the density itself is
3.5 kg/m3 too high; beyond that nothing was found to hold it against. Glycerol as a constant is within
0.4 kg/m3 of measured densities up to 30 % w/w, 3 at 50 % and far off above.

Masses are arrays whose last axis is `COMPONENTS`, in kilograms; any leading axes. A single mixture
of shape (15,) gives floats.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from formulate.errors import RangeError
from formulate.physics.coefficients import OIML_A, OIML_A_SLOPE, SPS4_HIGHEST_MASS_FRACTION
from formulate.physics.components import (
    ACIDS,
    CITRIC_EQUIVALENT,
    COMPONENTS,
    CONSTANT_VOLUME_L_KG,
    CONSTANT_VOLUMES,
    ETHANOL,
    ETHANOL_KG_L,
    FIRST_CONSTANT,
    FIRST_SUGAR,
    INDEX,
    INVERT_EQUIVALENT,
    SUGARS,
    WATER,
)
from formulate.physics.numerics import Array, horner, worst_outside
from formulate.physics.solutes import (
    MIXTURE_RANGE,
    sugar_volume_slopes,
    sugar_volumes,
)

__all__ = [
    "ACIDS",
    "CITRIC_EQUIVALENT",
    "COMPONENTS",
    "CONSTANT_VOLUME_L_KG",
    "INDEX",
    "INVERT_EQUIVALENT",
    "SUGARS",
    "acid_g_l",
    "density_kg_m3",
    "dissolved_mass_fraction",
    "invert_sugar_g_l",
    "partial_specific_volumes",
    "strength_pct_vol",
    "sugar_g_l",
    "volume_and_partials",
    "volume_l",
]

# A syrup weighed to exactly 85 % may round to a hair above; it is clipped back, never extrapolated.
ROUNDING = 1e-12
ROWS_PER_BLOCK = 2**13
LEAST_MASS_KG = 1e-12


def _rows(masses_kg: Any) -> tuple[Array, tuple[int, ...]]:
    masses = np.asarray(masses_kg, dtype=np.float64)
    if masses.ndim == 0 or masses.shape[-1] != len(COMPONENTS):
        raise ValueError(f"masses_kg needs a last axis of {len(COMPONENTS)} components, got {masses.shape}")
    return masses.reshape(-1, len(COMPONENTS)), masses.shape[:-1]


def _shaped(result: Array, shape: tuple[int, ...]) -> Any:
    return float(result[0]) if shape == () else result.reshape(shape)


def _sum(columns: Array) -> Array:
    # Column by column, so that one mixture and a million add up in the same order, to the last bit.
    total: Array = columns[0].copy()
    for column in columns[1:]:
        total += column
    return total


def _check_masses(columns: Array, function: str) -> None:
    # A NaN or an infinity anywhere fails one of the two comparisons.
    if columns.size and not (columns.min() >= 0.0 and columns.max() < np.inf):
        flat = columns.T
        value = worst_outside(flat, 0.0, float(np.finfo(np.float64).max))
        raise RangeError(f"{function}: masses_kg", value, 0.0, np.inf, "kg", "masses (finite, not negative)")


def _ratio(top: Array, bottom: Array) -> Array:
    """top/bottom, and 0 where there is nothing to divide."""
    if bottom.size and bottom.min() > 0.0:
        return np.asarray(top / bottom)
    ratio = np.zeros_like(top)
    np.divide(top, bottom, out=ratio, where=bottom > 0.0)
    return ratio


def _dissolved(columns: Array, base: Array, check: bool, function: str) -> tuple[Array, Array]:
    """Overall dissolved mass fraction within the model's range, and the total mass."""
    solutes = _sum(columns[FIRST_SUGAR:])
    total = base + solutes
    fraction = _ratio(solutes, total)
    highest = SPS4_HIGHEST_MASS_FRACTION
    if check and fraction.size and not fraction.max() <= highest + ROUNDING:
        value = worst_outside(fraction, 0.0, highest)
        raise RangeError(f"{function}: dissolved mass fraction", value, 0.0, highest, "g/g", MIXTURE_RANGE)
    return np.clip(fraction, 0.0, highest, out=fraction), total


def _block_volume(columns: Array, check: bool, function: str) -> Array:
    if check:
        _check_masses(columns, function)
    base = columns[WATER] + columns[ETHANOL]
    spirit = _ratio(columns[ETHANOL], base)
    if not check:
        np.clip(spirit, 0.0, 1.0, out=spirit)
    dissolved, _ = _dissolved(columns, base, check, function)
    volume = horner(OIML_A, spirit)
    np.divide(base, volume, out=volume)
    volume *= 1000.0
    for column, specific in zip(columns[FIRST_SUGAR:], sugar_volumes(dissolved), strict=False):
        specific *= column
        volume += specific
    for column, constant in zip(columns[FIRST_CONSTANT:], CONSTANT_VOLUMES, strict=True):
        volume += constant * column
    return volume


def _volume_of_rows(rows: Array, check: bool, function: str) -> Array:
    result = np.empty(len(rows))
    for start in range(0, len(rows), ROWS_PER_BLOCK):
        block = slice(start, start + ROWS_PER_BLOCK)
        result[block] = _block_volume(np.ascontiguousarray(rows[block].T), check, function)
    return result


def volume_l(masses_kg: Any, *, check: bool = True) -> Any:
    """Volume at 20 degrees Celsius.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.
    check : bool, default True
        False is for the optimiser's loop: nothing is refused, the ethanol fraction is clipped to 0 to 1
        and the dissolved fraction to 0 to 0.85.

    Returns
    -------
    float or ndarray, shape (...)
        Litres; 0 for no mass at all.

    Raises
    ------
    RangeError
        A mass negative or not finite, or more than 85 % of the mass dissolved.

    Notes
    -----
    Beyond a sugar's own published column (fructose 48 %, glucose and maltose 60 %) its apparent volume
    rises as that of sucrose does: a working continuation, see the module.
    """
    rows, shape = _rows(masses_kg)
    return _shaped(_volume_of_rows(rows, check, "volume_l"), shape)


def volume_and_partials(masses_kg: Any, *, check: bool = True) -> tuple[Any, Array]:
    """Volume with its exact derivatives by every component mass.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.
    check : bool, default True
        As for `volume_l`.

    Returns
    -------
    volume_l : float or ndarray, shape (...)
        Litres at 20 degrees Celsius.
    partials : ndarray, shape (..., 15)
        dV/dm in L/kg. Volume is homogeneous of degree one, so the sum of partials times masses is the
        volume. For no mass at all: the limit of infinite dilution in water. At the exact end of a
        sugar's column: the derivative on the far side.

    Raises
    ------
    RangeError
        As for `volume_l`.
    """
    rows, shape = _rows(masses_kg)
    volumes = np.empty(len(rows))
    partials = np.empty(rows.shape)
    for start in range(0, len(rows), ROWS_PER_BLOCK):
        block = slice(start, start + ROWS_PER_BLOCK)
        columns = np.ascontiguousarray(rows[block].T)
        volumes[block], derivatives = _block_partials(columns, check)
        partials[block] = derivatives.T
    return _shaped(volumes, shape), partials.reshape(*shape, len(COMPONENTS))


def _block_partials(columns: Array, check: bool) -> tuple[Array, Array]:
    function = "partial_specific_volumes"
    if check:
        _check_masses(columns, function)
    base = columns[WATER] + columns[ETHANOL]
    spirit = np.clip(_ratio(columns[ETHANOL], base), 0.0, 1.0)
    dissolved, total = _dissolved(columns, base, check, function)
    density = horner(OIML_A, spirit)
    specific = 1000.0 / density
    slope = -specific * horner(OIML_A_SLOPE, spirit) / density

    sugars = columns[FIRST_SUGAR:FIRST_CONSTANT]
    volumes = sugar_volumes(dissolved)
    # How the sugars' volumes answer when the overall dissolved fraction w moves: L per unit of it, per
    # kilogram of the total. A kilogram of solute raises w by (1 - w)/total, one of liquid lowers it by
    # w/total.
    answer = np.zeros_like(total)
    for column, rise in zip(sugars, sugar_volume_slopes(dissolved), strict=True):
        answer += column * rise
    answer = _ratio(answer, total)
    thinning = -answer * dissolved
    thickening = answer * (1.0 - dissolved)

    partials = np.empty_like(columns)
    partials[WATER] = specific - spirit * slope + thinning
    partials[ETHANOL] = specific + (1.0 - spirit) * slope + thinning
    for offset, volume in enumerate(volumes):
        partials[FIRST_SUGAR + offset] = volume + thickening
    for offset, constant in enumerate(CONSTANT_VOLUMES):
        partials[FIRST_CONSTANT + offset] = constant + thickening

    total_volume = base * specific
    for column, volume in zip(sugars, volumes, strict=True):
        total_volume += column * volume
    for column, constant in zip(columns[FIRST_CONSTANT:], CONSTANT_VOLUMES, strict=True):
        total_volume += constant * column
    return total_volume, partials


def partial_specific_volumes(masses_kg: Any, *, check: bool = True) -> Array:
    """Return the derivatives of the volume by every component mass.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.
    check : bool, default True
        As for `volume_l`.

    Returns
    -------
    ndarray, shape (..., 15)
        L/kg; see `volume_and_partials`, which gives the volume with them.

    Raises
    ------
    RangeError
        As for `volume_l`.
    """
    return volume_and_partials(masses_kg, check=check)[1]


def dissolved_mass_fraction(masses_kg: Any) -> Any:
    """Overall dissolved mass fraction: all solutes over the total mass.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.

    Returns
    -------
    float or ndarray, shape (...)
        g/g, 0 for no mass at all; up to 1, as this alone uses no published formula.

    Raises
    ------
    RangeError
        A mass negative or not finite.
    """
    rows, shape = _rows(masses_kg)
    columns = rows.T
    _check_masses(columns, "dissolved_mass_fraction")
    solutes = _sum(columns[FIRST_SUGAR:])
    return _shaped(_ratio(solutes, columns[WATER] + columns[ETHANOL] + solutes), shape)


def _per_litre(function: str, masses_kg: Any, weights: dict[str, float], check: bool) -> Any:
    """Weighted sum of component masses over the volume."""
    rows, shape = _rows(masses_kg)
    volume = _volume_of_rows(rows, check, function)
    if check and volume.size and not volume.min() > 0.0:
        total = float(rows[int(np.argmin(volume))].sum())
        raise RangeError(
            f"{function}: total mass", total, LEAST_MASS_KG, np.inf, "kg", "a mixture that exists"
        )
    summed = np.zeros(len(rows))
    for name, weight in weights.items():
        summed += weight * rows[:, INDEX[name]]
    per_litre = np.divide(summed, volume, out=np.full(len(rows), np.nan), where=volume > 0.0)
    return _shaped(per_litre, shape)


def density_kg_m3(masses_kg: Any, *, check: bool = True) -> Any:
    """Density at 20 degrees Celsius.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.
    check : bool, default True
        As for `volume_l`.

    Returns
    -------
    float or ndarray, shape (...)
        kg/m3; NaN for no mass when unchecked.

    Raises
    ------
    RangeError
        As for `volume_l`, or no mass at all.
    """
    return _per_litre("density_kg_m3", masses_kg, dict.fromkeys(COMPONENTS, 1000.0), check)


def strength_pct_vol(masses_kg: Any, *, check: bool = True) -> Any:
    """Alcoholic strength by volume at 20 degrees Celsius.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.
    check : bool, default True
        As for `volume_l`.

    Returns
    -------
    float or ndarray, shape (...)
        % vol: the volume the ethanol would fill alone over the volume of the whole.

    Raises
    ------
    RangeError
        As for `volume_l`, or no mass at all.
    """
    return _per_litre("strength_pct_vol", masses_kg, {"ethanol": 100.0 / ETHANOL_KG_L}, check)


def sugar_g_l(masses_kg: Any, *, check: bool = True) -> Any:
    """Sugar as the plain sum of the four sugars.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.
    check : bool, default True
        As for `volume_l`.

    Returns
    -------
    float or ndarray, shape (...)
        g/L at 20 degrees Celsius.

    Raises
    ------
    RangeError
        As for `volume_l`, or no mass at all.
    """
    return _per_litre("sugar_g_l", masses_kg, dict.fromkeys(SUGARS, 1000.0), check)


def invert_sugar_g_l(masses_kg: Any, *, check: bool = True) -> Any:
    """Sugar expressed as invert sugar, the basis of the EU's sweetening limits.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.
    check : bool, default True
        As for `volume_l`.

    Returns
    -------
    float or ndarray, shape (...)
        g/L at 20 degrees Celsius; sucrose counts 1.0526, maltose as it is (see `INVERT_EQUIVALENT`).

    Raises
    ------
    RangeError
        As for `volume_l`, or no mass at all.
    """
    weights = {name: 1000.0 * factor for name, factor in INVERT_EQUIVALENT.items()}
    return _per_litre("invert_sugar_g_l", masses_kg, weights, check)


def acid_g_l(masses_kg: Any, *, check: bool = True) -> Any:
    """Titratable acid as grams of anhydrous citric acid.

    Parameters
    ----------
    masses_kg : array_like, shape (..., 15)
        Kilograms of each of `COMPONENTS`.
    check : bool, default True
        As for `volume_l`.

    Returns
    -------
    float or ndarray, shape (...)
        g/L at 20 degrees Celsius, by `CITRIC_EQUIVALENT`; acids counted as free, not as their salts.

    Raises
    ------
    RangeError
        As for `volume_l`, or no mass at all.
    """
    weights = {name: 1000.0 * factor for name, factor in CITRIC_EQUIVALENT.items()}
    return _per_litre("acid_g_l", masses_kg, weights, check)
