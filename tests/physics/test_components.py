"""The constants that stand beside the names of what a drink is made of."""

from __future__ import annotations

from formulate.physics.components import ETHANOL_KG_L
from formulate.physics.density import density_ethanol_water


def test_pure_ethanol_weighs_what_the_formula_gives() -> None:
    """OIML R 22 (1975) at a mass fraction of one, 20 °C; its alcoholometric tables print 789.24 kg/m3."""
    assert float(density_ethanol_water(1.0, 20.0)) / 1000.0 == ETHANOL_KG_L
    assert round(1000.0 * ETHANOL_KG_L, 2) == 789.24
