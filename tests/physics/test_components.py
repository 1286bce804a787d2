"""The constants that stand beside the names of what a drink is made of."""

from __future__ import annotations

import pytest

from formulate.physics.components import CITRIC_EQUIVALENT, ETHANOL_KG_L
from formulate.physics.density import density_ethanol_water


def test_pure_ethanol_weighs_what_the_formula_gives() -> None:
    """OIML R 22 (1975) at a mass fraction of one, 20 °C; its alcoholometric tables print 789.24 kg/m3."""
    assert float(density_ethanol_water(1.0, 20.0)) / 1000.0 == ETHANOL_KG_L
    assert round(1000.0 * ETHANOL_KG_L, 2) == 789.24


@pytest.mark.parametrize(
    ("acid", "share"),
    [("tartaric_acid", 0.853), ("malic_acid", 0.853 / 0.893), ("lactic_acid", 0.853 / 1.200)],
)
def test_acids_count_as_the_tables_of_wineries_convert_them(acid: str, share: float) -> None:
    """Acidity as tartaric, times 0.853, is as citric; times 0.893 malic; times 1.200 lactic (from memory)."""
    assert CITRIC_EQUIVALENT[acid] == pytest.approx(share, abs=1e-3)


def test_one_proton_of_quinic_acid_counts_as_a_third_of_citric() -> None:
    """192.12 g of citric acid neutralise what three times 192.17 g of quinic acid do (molar masses)."""
    assert CITRIC_EQUIVALENT["quinic_acid"] == pytest.approx(192.12 / (3.0 * 192.17), rel=1e-12)
