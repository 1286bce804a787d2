from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import flash, strength

inside = st.floats(5.0, 96.0)


@given(inside, inside)
def test_never_rises_with_strength(one: float, other: float) -> None:
    weak, strong = (flash.flash_point_c(s)[0] for s in sorted((one, other)))
    assert strong <= weak
    assert 17.0 <= strong <= weak <= 62.0


def test_reading_as_volume_is_the_careful_way() -> None:
    # Were the table's figures % by weight, a spirit would stand at a lower number there than in % vol:
    # 10 % vol is 8.02 % w/w, where straight lines give 54.2 °C against 49 at 10. That is the widest gap.
    by_weight = np.linspace(5.0, 80.0, 1501)
    printed = flash.flash_point_c(by_weight)[0]
    as_volume = strength.abv_from_mass_fraction(by_weight / 100.0)
    careful, lower_k, higher_k = flash.flash_point_c(as_volume)
    assert np.all(careful <= printed)
    gap_k = np.max(printed - careful)
    assert gap_k == pytest.approx(5.16, abs=0.01)
    assert as_volume[np.argmax(printed - careful)] == pytest.approx(10.0, abs=0.05)
    # What is said covers it, and to one digit no more than that.
    assert gap_k <= higher_k < gap_k + 0.05
    assert lower_k == 4.0  # our margin, held against the warnings below


def test_every_warm_infusion_from_12_percent_counts_as_flammable() -> None:
    # Common reading of the table: whatever holds 12 % vol or more at 50 °C is at or above its flash point.
    assert np.all(flash.at_or_above_flash_point(np.linspace(12.0, 100.0, 89), 50.0))
    assert not flash.at_or_above_flash_point(0.0, 95.0)
    assert flash.at_or_above_flash_point(3.0, 60.0) is True
    assert flash.at_or_above_flash_point(3.0, 50.0) is False
    assert flash.at_or_above_flash_point(40.0, 22.0) is True  # 26 less the 4 K
    assert flash.at_or_above_flash_point(40.0, 21.9) is False
    assert flash.at_or_above_flash_point(100.0, 8.0) is True


@given(st.floats(0.0, 100.0), st.floats(0.0, 100.0), st.floats(-25.0, 100.0))
def test_warning_never_goes_away_with_strength(one: float, other: float, temperature: float) -> None:
    weak, strong = (flash.at_or_above_flash_point(s, temperature) for s in sorted((one, other)))
    assert strong or not weak


@pytest.mark.parametrize("bad", [4.9, 96.1, 0.0, float("nan")])
def test_nothing_is_extrapolated(bad: float) -> None:
    with pytest.raises(RangeError):
        flash.flash_point_c(bad)
