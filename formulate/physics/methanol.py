"""Methanol that pectin can give at most, on the scale of the fruit-spirit limits."""

from __future__ import annotations

from formulate.physics.ranges import Number, as_given, checked

__all__ = [
    "FRUIT_SPIRIT_METHANOL_LIMITS",
    "METHANOL_G_PER_G_PECTIN",
    "METHANOL_LIMITS_SOURCE",
    "methanol_upper_bound_g_per_hl_pure_alcohol",
]

# Pectin is a chain of galacturonic acid, 176.1 g per anhydro unit, plus side sugars; the chain is about 80 %
# of its mass. At 72 % esterification a unit weighs 176.1 + 0.72 x 14.03 = 186.2 g and carries
# 0.72 x 32.04 = 23.1 g of methanol: 0.80 x 23.1/186.2 = 0.099 g per g of pectin (0.097 at 70, 0.103 at 75 %).
METHANOL_G_PER_G_PECTIN = 0.10

# g of methanol per hL of pure alcohol, EU spirit drinks law, all from memory: verify before use. There is no
# general limit for liqueurs; the fruit-spirit figures are a yardstick.
FRUIT_SPIRIT_METHANOL_LIMITS: dict[str, float] = {
    "vodka": 10.0,
    "agricultural ethyl alcohol": 30.0,
    "wine spirit": 200.0,
    "fruit spirit": 1000.0,
    "grape marc spirit": 1000.0,
    "apple, apricot, plum, peach, pear, blackberry or raspberry spirit": 1200.0,
    "quince, Williams pear, currant or elderberry spirit": 1350.0,
}
METHANOL_LIMITS_SOURCE = "EU spirit drinks regulation, from memory"


def methanol_upper_bound_g_per_hl_pure_alcohol(pectin_g: Number, pure_alcohol_l: Number | float) -> Number:
    """Methanol if every ester of the pectin were split, on the scale of the fruit-spirit limits.

    Parameters
    ----------
    pectin_g : float or ndarray
        All pectin brought in, 0 to 1e7 g.
    pure_alcohol_l : float or ndarray
        In the same batch, 1e-6 to 1e6 L.

    Returns
    -------
    float or ndarray
        g per hL of pure alcohol: 0.10 g per g of pectin, over the alcohol. An upper bound at 70 to 75 %
        esterification; what the spirit brings itself is not in it.

    Raises
    ------
    RangeError
        Outside the ranges, or NaN.
    """
    name = "methanol_upper_bound_g_per_hl_pure_alcohol"
    pectin = checked(pectin_g, 0.0, 1e7, f"{name}: pectin_g", "g", "batches")
    alcohol = checked(pure_alcohol_l, 1e-6, 1e6, f"{name}: pure_alcohol_l", "L", "batches")
    return as_given(METHANOL_G_PER_G_PECTIN * pectin / alcohol * 100.0, pectin_g)
