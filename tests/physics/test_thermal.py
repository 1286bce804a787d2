from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import density, mixture, thermal

from .published_rows import clear_strength, drink

fractions = st.floats(0.0, 1.0)
temperatures = st.floats(0.0, 40.0)


@given(fractions, temperatures)
def test_without_sugar_it_is_ethanol_water(p: float, t: float) -> None:
    masses = np.zeros(15)
    masses[:2] = 1.0 - p, p
    assert thermal.density_mixture_kg_m3(masses, t) == pytest.approx(
        density.density_ethanol_water(p, t), rel=1e-12
    )


@given(st.floats(0.0, 0.85), temperatures)
def test_without_ethanol_it_is_sucrose_water(w: float, t: float) -> None:
    masses = np.zeros(15)
    masses[[0, 2]] = 1.0 - w, w
    # Water differs a little between the two standards.
    assert thermal.density_mixture_kg_m3(masses, t) == pytest.approx(
        density.density_sucrose_water(w, t), abs=0.02
    )


@given(st.floats(5.0, 50.0), st.floats(0.0, 300.0), temperatures, temperatures)
def test_a_warmer_drink_is_lighter_where_water_is_too(abv: float, sugar: float, a: float, b: float) -> None:
    cool, warm = sorted((max(a, 4.0), max(b, 4.0)))  # water itself is densest at 4 degrees Celsius
    masses = drink(abv, sugar)
    light, heavy = (thermal.density_mixture_kg_m3(masses, t) for t in (warm, cool))
    assert light <= heavy * (1.0 + 1e-12)


@given(st.floats(0.0, 50.0), st.floats(0.0, 300.0))
def test_at_20_degrees_it_is_the_mixture_model(abv: float, sugar: float) -> None:
    masses = drink(abv, sugar)
    assert thermal.density_mixture_kg_m3(masses) == pytest.approx(mixture.density_kg_m3(masses), rel=1e-14)


def test_mixtures_keep_their_shape() -> None:
    batch = np.stack([drink(20.0, 100.0), drink(40.0, 0.0)] * 3).reshape(3, 2, -1)
    found = thermal.density_mixture_kg_m3(batch, 30.0)
    assert found.shape == (3, 2)
    assert found[2, 1] == pytest.approx(thermal.density_mixture_kg_m3(batch[2, 1], 30.0), rel=1e-15)
    assert isinstance(thermal.density_mixture_kg_m3(batch[0, 0]), float)


@pytest.mark.parametrize("t", [-0.1, 40.1, float("nan")])
def test_mixtures_outside_the_joined_range_are_refused(t: float) -> None:
    with pytest.raises(RangeError):
        thermal.density_mixture_kg_m3(drink(20.0, 100.0), t)
    with pytest.raises(RangeError):
        thermal.density_mixture_kg_m3(np.zeros(15))


def test_sugar_hides_alcohol() -> None:
    assert clear_strength(min(mixture.density_kg_m3(drink(22.0, 180.0)), 998.2)) < 1.0
