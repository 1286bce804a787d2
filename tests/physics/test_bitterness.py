from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import bitterness

values = st.floats(0.0, 200_000.0)


def test_quinine_on_its_own_scale() -> None:
    # Ph. Eur. 2.8.15: quinine hydrochloride is 200 000, so a gram of it bitters 200 litres: 5 mg/L is 1.
    assert bitterness.QUININE_HYDROCHLORIDE_BITTERNESS_VALUE == 200_000
    assert bitterness.quinine_equivalent_mg_l(1.0) == 5.0
    assert bitterness.quinine_equivalent_mg_l(200_000.0) == 1e6  # pure: a kilogram in a litre


def test_gentian_by_hand() -> None:
    # 1.2 g/L of root of 20 000, nine tenths extracted: 1.2 g/1000 mL x 20 000 x 0.9 = 21.6.
    assert bitterness.gentian_equivalent_g_l(21.6) == pytest.approx(1.2, abs=1e-15)
    assert bitterness.gentian_equivalent_g_l(21.6, root_value=10_000, extracted=0.45) == pytest.approx(4.8)


@given(values, st.floats(0.0, 1230.0), st.floats(0.0, 1230.0))
def test_sugar_only_takes_away(value: float, one: float, other: float) -> None:
    less, more = sorted((one, other))
    thin, sweet = (bitterness.perceived_bitterness(value, s) for s in (less, more))
    assert 0.0 <= sweet <= thin <= value


@given(values)
def test_working_curve_halves_at_its_half(value: float) -> None:
    assert bitterness.perceived_bitterness(value, 0.0) == value
    assert bitterness.perceived_bitterness(value, 200.0) == value / 2.0
    assert bitterness.perceived_bitterness(value, 80.0, half_suppression_g_l=80.0) == value / 2.0


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), 1.1])
def test_shares_outside_their_range_are_refused(bad: float) -> None:
    with pytest.raises(RangeError):
        bitterness.gentian_equivalent_g_l(20.0, extracted=bad)
    if bad != 1.1:
        with pytest.raises(RangeError):
            bitterness.gentian_equivalent_g_l(20.0, root_value=bad)
        with pytest.raises(RangeError):
            bitterness.perceived_bitterness(20.0, 100.0, half_suppression_g_l=bad)


def test_arrays() -> None:
    found = bitterness.perceived_bitterness(np.array([10.0, 20.0]), np.array([0.0, 200.0]))
    assert np.array_equal(found, [10.0, 10.0])
