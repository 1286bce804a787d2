from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import j1, jn_zeros

from formulate.errors import RangeError
from formulate.physics import warming

times = st.floats(0.0, 1e4)
degrees = st.floats(-20.0, 100.0)
volumes = st.floats(0.05, 100.0)


def whole_series(fourier: float) -> float:
    """The centre's open gap by 40 terms: Carslaw and Jaeger, Conduction of Heat in Solids, 7.6."""
    roots = jn_zeros(0, 40)
    return float(np.sum(2.0 / (roots * j1(roots)) * np.exp(-(roots**2) * fourier)))


def test_first_term_against_scipys_bessel_functions() -> None:
    root = jn_zeros(0, 1)[0]
    assert pytest.approx(root, rel=1e-12) == warming.FIRST_ROOT
    assert pytest.approx(2.0 / (root * j1(root)), rel=1e-7) == warming.FIRST_COEFFICIENT
    # Heisler's chart constants are printed as 2.4048 and 1.602.
    assert round(warming.FIRST_ROOT, 4) == 2.4048
    assert round(warming.FIRST_COEFFICIENT, 3) == 1.602


@pytest.mark.parametrize("gap", [0.9, 0.7, 0.5, 0.3, 0.1, 0.02])
def test_never_early_by_the_whole_series(gap: float) -> None:
    """By the time that one term names, the whole series has closed the gap."""
    hours = warming.time_to_reach_h(1.0 - gap, 1.0, 0.0, 2.0)
    fourier = 3600.0 * hours * warming.WATER_DIFFUSIVITY_M2_S / warming.jar_radius_m(2.0) ** 2
    exact = whole_series(fourier)
    assert exact <= gap * (1.0 + 1e-6)
    # One term is known to be good to 1 % from a Fourier number of 0.2 on (Heisler's rule).
    assert exact == pytest.approx(gap, abs=0.1 if fourier < 0.2 else 0.01 * gap)


def test_four_litre_jar_by_hand() -> None:
    # V = 2 pi x 1.5 R^3: R = (0.004/9.42478)^(1/3) = 0.0751501 m. At 48 °C from 20 in a bath of 50 the open
    # gap is 2/30. Fo = ln(1.60197 x 15)/2.404826^2 = 3.179305/5.783186 = 0.549750;
    # t = Fo x 0.00564754/1.43e-7 s = 6.0309 h.
    assert warming.jar_radius_m(4.0) == pytest.approx(0.0751501, abs=1e-7)
    assert warming.time_to_reach_h(48.0, 50.0, 20.0, 4.0) == pytest.approx(6.0309, abs=1e-3)


@given(st.floats(0.05, 0.95), volumes, volumes)
def test_a_bigger_jar_takes_longer(share: float, one: float, other: float) -> None:
    small, large = (warming.time_to_reach_h(20.0 + 30.0 * share, 50.0, 20.0, v) for v in sorted((one, other)))
    assert small <= large


def test_spirit_conducts_worse() -> None:
    water = warming.time_to_reach_h(48.0, 50.0, 20.0, 1.0)
    spirit = warming.time_to_reach_h(48.0, 50.0, 20.0, 1.0, diffusivity_m2_s=1.1e-7)
    assert spirit == pytest.approx(water * 1.43 / 1.1)


@given(st.floats(0.5, 20.0), volumes, st.floats(0.1, 0.9), st.floats(0.05, 0.95))
def test_probe_finds_the_jar_again(height: float, volume: float, seen: float, wanted: float) -> None:
    reading, target = 20.0 + 30.0 * seen, 20.0 + 30.0 * wanted
    at = warming.time_to_reach_h(reading, 50.0, 20.0, volume, height)
    clock = warming.clock_from_probe(reading, at, 50.0, 20.0, target)
    whole = warming.time_to_reach_h(target, 50.0, 20.0, volume, height)
    assert clock.remaining_h == pytest.approx(max(0.0, whole - at), rel=1e-6, abs=1e-9)
    assert clock.latest_remaining_h >= clock.remaining_h


def test_probe_of_a_stirred_jar_by_hand() -> None:
    # 20 to 35 °C in a bath of 50 in 10 min: half the gap, so each 10 min halves it; to 46.25 (an eighth) it
    # takes 20 more.
    clock = warming.clock_from_probe(35.0, 1.0 / 6.0, 50.0, 20.0, 46.25, stirred=True)
    assert clock.remaining_h == pytest.approx(1.0 / 3.0, rel=1e-12)
    assert clock.latest_remaining_h == clock.remaining_h
    assert warming.clock_from_probe(48.0, 1.0, 50.0, 20.0, 46.0).remaining_h == 0.0


@pytest.mark.parametrize(
    "call",
    [
        lambda: warming.time_to_reach_h(50.0, 50.0, 20.0, 1.0),
        lambda: warming.time_to_reach_h(51.0, 50.0, 20.0, 1.0),
        lambda: warming.time_to_reach_h(10.0, 50.0, 20.0, 1.0),
        lambda: warming.time_to_reach_h(48.0, 300.0, 20.0, 1.0),
        lambda: warming.time_to_reach_h(48.0, 50.0, 20.0, 0.0),
        lambda: warming.clock_from_probe(20.0, 1.0, 50.0, 20.0, 48.0),
        lambda: warming.clock_from_probe(40.0, 0.0, 50.0, 20.0, 48.0),
        lambda: warming.clock_from_probe(60.0, 1.0, 50.0, 20.0, 48.0),
        lambda: warming.clock_from_probe(float("nan"), 1.0, 50.0, 20.0, 48.0),
    ],
)
def test_what_says_nothing_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(RangeError):
        call()


def test_target_at_the_start_takes_no_time() -> None:
    assert warming.time_to_reach_h(20.0, 50.0, 20.0, 1.0) == 0.0
