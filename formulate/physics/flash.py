"""Flash point of spirit: the temperature above which its vapour can catch fire.

A published handbook table whose basis is disputed: the source says % by weight, the same figures circulate
as % vol. Read as % vol, as here, they come out up to 5.2 K lower (at 10 % vol), the careful way. Sugar
changes little (from memory). None of this makes a hot infusion safe: water bath without a flame,
ventilation, vented lid, and your local fire code and licensed practice decide.
"""

from __future__ import annotations

import numpy as np

from formulate.physics.kinetics import kitchen_temperature
from formulate.physics.numerics import Array, Number, as_given, checked

__all__ = [
    "FLASH_POINT_C",
    "FLASH_POINT_MAY_BE_HIGHER_K",
    "FLASH_POINT_MAY_BE_LOWER_K",
    "at_or_above_flash_point",
    "flash_point_c",
]

# % vol as read here, degrees Celsius: an engineering handbook site, eleven rows.
FLASH_POINT_C: tuple[tuple[float, float], ...] = (
    (5.0, 62.0),
    (10.0, 49.0),
    (20.0, 36.0),
    (30.0, 29.0),
    (40.0, 26.0),
    (50.0, 24.0),
    (60.0, 22.0),
    (70.0, 21.0),
    (80.0, 20.0),
    (90.0, 17.0),
    (96.0, 17.0),
)
FLASH_POINT_MAY_BE_LOWER_K = 4.0
"""Our margin for how the point was measured and for rounding (assumption)."""
FLASH_POINT_MAY_BE_HIGHER_K = 5.2
"""What it is higher by at the most if the table is by weight, as it says, and not by volume."""
TABLE = "the flash point table (engineering handbook)"
STRENGTHS, POINTS_C = (np.array(column) for column in zip(*FLASH_POINT_C, strict=True))


def flash_point_c(strength_pct_vol: Number) -> tuple[Number, float, float]:
    """Flash point of spirit and water.

    Parameters
    ----------
    strength_pct_vol : float or ndarray
        5 to 96 % vol, the ends of the table.

    Returns
    -------
    flash_point : float or ndarray
        Degrees Celsius, straight lines between the rows, never rising with strength.
    lower_by, higher_by : float
        How far the true one may be below and above it, K: 4 and 5.2, as the basis of the table is unresolved.

    Raises
    ------
    RangeError
        Outside the table, or NaN. Below 5 % vol the flash point is above 62 degrees Celsius.
    """
    name = "flash_point_c: strength_pct_vol"
    strength = checked(strength_pct_vol, STRENGTHS[0], STRENGTHS[-1], name, "% vol", TABLE)
    point = as_given(np.interp(strength, STRENGTHS, POINTS_C), strength_pct_vol)
    return point, FLASH_POINT_MAY_BE_LOWER_K, FLASH_POINT_MAY_BE_HIGHER_K


def at_or_above_flash_point(strength_pct_vol: Number, temperature_c: Number | float) -> bool | Array:
    """Whether a liquor is held where its vapour may catch fire, the uncertainty taken off first.

    Parameters
    ----------
    strength_pct_vol : float or ndarray
        0 to 100 % vol.
    temperature_c : float or ndarray
        -25 to 100 degrees Celsius.

    Returns
    -------
    bool or ndarray of bool
        True from 4 K below the table. Below 5 % vol the row at 5 % is used, which is too careful, above
        0.5 % vol; at 0.5 % and less there is no spirit to burn. Above 96 % vol always true from 8 degrees
        Celsius, 4 K below pure ethanol's 12 (from memory).

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "at_or_above_flash_point"
    strength = checked(strength_pct_vol, 0.0, 100.0, f"{name}: strength_pct_vol", "% vol", "strengths")
    temperature = kitchen_temperature(name, temperature_c)
    point = np.where(strength > STRENGTHS[-1], 12.0, np.interp(strength, STRENGTHS, POINTS_C))
    above = (temperature >= point - FLASH_POINT_MAY_BE_LOWER_K) & (strength > 0.5)
    return bool(above) if np.ndim(above) == 0 else np.asarray(above)
