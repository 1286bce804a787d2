from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import colour

times = st.floats(0.0, 1e6)
temperatures = st.floats(-25.0, 100.0)


@given(times, times, temperatures)
def test_colour_never_comes_back(one: float, other: float, temperature: float) -> None:
    early, late = (colour.anthocyanin_left(t, temperature) for t in sorted((one, other)))
    assert 0.0 <= late <= early <= 1.0


@given(times, temperatures, temperatures)
def test_hotter_never_keeps_more(time: float, one: float, other: float) -> None:
    cool, warm = (colour.anthocyanin_left(time, t) for t in sorted((one, other)))
    assert warm <= cool


@given(temperatures)
def test_half_is_left_after_the_half_life(temperature: float) -> None:
    half_life = colour.anthocyanin_half_life_h(temperature)
    if half_life <= 1e6:
        assert colour.anthocyanin_left(half_life, temperature) == pytest.approx(0.5, rel=1e-12)


@given(times, times, temperatures)
def test_two_holds_are_one(one: float, other: float, temperature: float) -> None:
    if one + other <= 1e6:
        apart = colour.anthocyanin_left(one, temperature) * colour.anthocyanin_left(other, temperature)
        assert apart == pytest.approx(colour.anthocyanin_left(one + other, temperature), rel=1e-9, abs=1e-300)


def test_published_rows_that_must_not_be_used() -> None:
    # The same table's blackcurrant row prints 0.0065/h beside 21.9 h; that rate is 107 h. We take neither.
    assert colour.anthocyanin_half_life_h(50.0, k50_per_h=0.0065) == pytest.approx(106.6, abs=0.1)


def test_coloured_share_at_drink_ph() -> None:
    # 100 mg/L at pH 1 is 5.99; a quarter to two fifths of that shows near pH 3.3 (assumption).
    share = colour.COLOURED_SHARE_AT_DRINK_PH
    assert share.confidence == "from memory"
    shown = colour.anthocyanin_absorbance_520(100.0, np.array([share.low, 1.0, share.high]))
    assert shown == pytest.approx([1.497, 5.988, 2.395], abs=5e-4)


@pytest.mark.parametrize(
    "call",
    [
        lambda: colour.anthocyanin_left(-1.0, 50.0),
        lambda: colour.anthocyanin_left(1.0, 300.0),
        lambda: colour.anthocyanin_left(1.0, 50.0, k50_per_h=0.0),
        lambda: colour.anthocyanin_left(1.0, 50.0, activation_kj_mol=-80.0),
        lambda: colour.anthocyanin_absorbance_520(-1.0),
        lambda: colour.anthocyanin_absorbance_520(1.0, 1.2),
        lambda: colour.anthocyanin_half_life_h(float("nan")),
    ],
)
def test_out_of_range_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(RangeError):
        call()
