from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import kinetics

times = st.floats(0.0, 1e6)
temperatures = st.floats(-25.0, 100.0)


@given(times, times, temperatures)
def test_colour_never_comes_back(one: float, other: float, temperature: float) -> None:
    early, late = (kinetics.anthocyanin_left(t, temperature) for t in sorted((one, other)))
    assert 0.0 <= late <= early <= 1.0


@given(times, temperatures, temperatures)
def test_hotter_never_keeps_more(time: float, one: float, other: float) -> None:
    cool, warm = (kinetics.anthocyanin_left(time, t) for t in sorted((one, other)))
    assert warm <= cool


@given(times, times, temperatures)
def test_two_holds_are_one(one: float, other: float, temperature: float) -> None:
    if one + other <= 1e6:
        apart = kinetics.anthocyanin_left(one, temperature) * kinetics.anthocyanin_left(other, temperature)
        assert apart == pytest.approx(
            kinetics.anthocyanin_left(one + other, temperature), rel=1e-9, abs=1e-300
        )


@pytest.mark.parametrize(
    "call",
    [
        lambda: kinetics.anthocyanin_left(-1.0, 50.0),
        lambda: kinetics.anthocyanin_left(1.0, 300.0),
        lambda: kinetics.anthocyanin_left(1.0, 50.0, k50_per_h=0.0),
        lambda: kinetics.anthocyanin_left(1.0, 50.0, activation_kj_mol=-80.0),
        lambda: kinetics.anthocyanin_left(1.0, float("nan")),
    ],
)
def test_out_of_range_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(RangeError):
        call()
