"""Methanol that pectin can give at most, on the scale of the fruit-spirit limits."""

from __future__ import annotations

__all__ = ["FRUIT_SPIRIT_METHANOL_LIMITS", "METHANOL_G_PER_G_PECTIN"]

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
