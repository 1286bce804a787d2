"""What a drink is made of, in one fixed order, and the factors that turn grams into other grams."""

from __future__ import annotations

__all__ = [
    "ACIDS",
    "ALCOHOL",
    "CITRIC_EQUIVALENT",
    "COMPONENTS",
    "CONSTANT_VOLUMES",
    "CONSTANT_VOLUME_L_KG",
    "ETHANOL",
    "ETHANOL_KG_L",
    "FIRST_CONSTANT",
    "FIRST_SUGAR",
    "INDEX",
    "INVERT_EQUIVALENT",
    "SUGARS",
    "WATER",
]

COMPONENTS: tuple[str, ...] = (
    "water",
    "ethanol",
    "sucrose",
    "glucose",
    "fructose",
    "maltose",
    "citric_acid",
    "malic_acid",
    "tartaric_acid",
    "lactic_acid",
    "quinic_acid",
    "ascorbic_acid",
    "glycerol",
    "salt",
    "other_soluble",
)
SUGARS: tuple[str, ...] = ("sucrose", "glucose", "fructose", "maltose")
ACIDS: tuple[str, ...] = (
    "citric_acid",
    "malic_acid",
    "tartaric_acid",
    "lactic_acid",
    "quinic_acid",
    "ascorbic_acid",
)
INDEX: dict[str, int] = {name: position for position, name in enumerate(COMPONENTS)}
WATER, ETHANOL = INDEX["water"], INDEX["ethanol"]
ALCOHOL = (WATER, ETHANOL)
"""What strength is counted in: ethanol and the water it is mixed with."""
ETHANOL_KG_L = 0.7892391232999769
"""Density of pure ethanol at 20 degrees Celsius by OIML R 22: its formula at a mass fraction of one."""
FIRST_SUGAR = INDEX["sucrose"]
FIRST_CONSTANT = INDEX["citric_acid"]

# Grams of citric acid with the acid groups of one gram: (192.12/3) / (molar mass/acid groups).
# Titration to phenolphthalein counts every carboxyl group and the enediol of ascorbic acid once.
#   citric   192.12/3 = 64.04 g per group        1
#   malic    134.09/2 = 67.045                   0.9552
#   tartaric 150.09/2 = 75.045                   0.8534
#   lactic    90.08/1 = 90.08                    0.7109
#   quinic   192.17/1 = 192.17                   0.3332
#   ascorbic 176.12/1 = 176.12                   0.3636
CITRIC_EQUIVALENT: dict[str, float] = {
    "citric_acid": 1.0,
    "malic_acid": (192.12 / 3) / (134.09 / 2),
    "tartaric_acid": (192.12 / 3) / (150.09 / 2),
    "lactic_acid": (192.12 / 3) / (90.08 / 1),
    "quinic_acid": (192.12 / 3) / (192.17 / 1),
    "ascorbic_acid": (192.12 / 3) / (176.12 / 1),
}

# Grams of invert sugar per gram: sucrose takes up one water, 342.30 g giving 360.31 g. Maltose is
# counted as it is: inversion by acid or invertase leaves it whole. Split into glucose it would be
# 1.0526 as well, so the choice is worth 5 % of the maltose; how a court would count it: not confirmed.
INVERT_EQUIVALENT: dict[str, float] = {
    "sucrose": 360.31 / 342.30,
    "glucose": 1.0,
    "fructose": 1.0,
    "maltose": 1.0,
}

# Apparent specific volumes held constant, L/kg: these solutes are a few grams per litre.
CONSTANT_VOLUME_L_KG: dict[str, float] = {
    "citric_acid": 0.597,  # constant through the CRC column, 1.3 kg/m3 at 30 %
    "malic_acid": 0.615,  # from memory, low confidence; 0.03 wrong at 10 g/L is 0.3 mL/L
    "tartaric_acid": 0.556,  # from memory, low confidence
    "lactic_acid": 0.785,  # CRC column near 15 %
    "quinic_acid": 0.62,  # assumption: as sugar
    "ascorbic_acid": 0.62,  # assumption: as sugar
    "glycerol": 0.769,  # through the measured densities of 10.1016/j.tca.2013.07.012: 0.4 kg/m3 to 30 %
    "salt": 0.29076 + 0.36142 * 0.02 - 0.34666 * 0.02**2,  # the fit to the CRC column at 2 %
    "other_soluble": 0.62,  # assumption: as sugar
}
CONSTANT_VOLUMES = tuple(CONSTANT_VOLUME_L_KG[name] for name in COMPONENTS[FIRST_CONSTANT:])
