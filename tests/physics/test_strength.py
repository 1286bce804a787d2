from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.physics import strength

fractions = st.floats(0.0, 1.0)
strengths = st.floats(0.0, 100.0)
temperatures = st.floats(-20.0, 40.0)


@given(fractions, temperatures)
def test_fraction_from_strength_undoes_strength(p: float, t: float) -> None:
    assert strength.mass_fraction_from_abv(strength.abv_from_mass_fraction(p, t), t) == pytest.approx(
        p, abs=2e-12
    )


@given(strengths, temperatures)
def test_strength_undoes_fraction_from_strength(abv: float, t: float) -> None:
    there = strength.mass_fraction_from_abv(abv, t)
    assert 0.0 <= there <= 1.0
    assert strength.abv_from_mass_fraction(there, t) == pytest.approx(abv, abs=1e-10)


@pytest.mark.parametrize("t", [-20.0, 0.0, 15.0, 20.0, 40.0])
def test_the_ends_are_exact(t: float) -> None:
    assert strength.abv_from_mass_fraction(1.0, t) == 100.0
    assert strength.abv_from_mass_fraction(0.0, t) == 0.0
    assert strength.mass_fraction_from_abv(100.0, t) == 1.0
    assert strength.mass_fraction_from_abv(0.0, t) == 0.0


@given(fractions, fractions, temperatures)
def test_strength_rises_with_fraction(one: float, other: float, t: float) -> None:
    less, more = sorted((one, other))
    if more - less > 1e-9:
        assert strength.abv_from_mass_fraction(less, t) < strength.abv_from_mass_fraction(more, t)


def test_inverse_of_a_big_array() -> None:
    abv = np.random.default_rng(3).uniform(0.0, 100.0, 20_000)
    back = strength.abv_from_mass_fraction(strength.mass_fraction_from_abv(abv))
    assert np.abs(back - abv).max() < 1e-10


def test_inverse_takes_a_temperature_for_each_strength() -> None:
    abv, t = np.array([10.0, 40.0, 96.0]), np.array([0.0, 20.0, 35.0])
    together = strength.mass_fraction_from_abv(abv, t)
    alone = [strength.mass_fraction_from_abv(float(a), float(b)) for a, b in zip(abv, t, strict=True)]
    assert np.array_equal(together, alone)


def test_sixty_fahrenheit_is_a_little_weaker() -> None:
    # Brief of the design: 0.05 to 0.07 % vol between the two temperatures over the strengths of spirits.
    gap = np.array([40.0, 50.0]) - strength.abv_60f_from_abv_20c(np.array([40.0, 50.0]))
    assert np.all((gap > 0.04) & (gap < 0.08))
    assert strength.abv_60f_from_abv_20c(100.0) == pytest.approx(100.0, abs=1e-12)
