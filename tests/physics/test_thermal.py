from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import density, mixture, strength, thermal

from .published_rows import drink

fractions = st.floats(0.0, 1.0)
temperatures = st.floats(0.0, 40.0)


@given(fractions, temperatures)
def test_fraction_from_density_undoes_density(p: float, t: float) -> None:
    there = density.density_ethanol_water(p, t)
    there = min(max(there, density.density_ethanol_water(1.0, t)), density.density_ethanol_water(0.0, t))
    # The density's own rounding noise of 1e-10 kg/m3 over its slope of at least 80.
    assert thermal.mass_fraction_from_density(there, t) == pytest.approx(p, abs=1e-11)


@given(fractions, temperatures)
def test_density_falls_with_ethanol(p: float, t: float) -> None:
    """What makes the inverse unique; checked on the exact slope."""
    _, slope, _ = density.density_slopes_ethanol_water(p, t)
    assert slope < -50.0


@given(fractions, st.floats(-20.0, 40.0))
def test_corrected_volume_keeps_the_mass(p: float, t: float) -> None:
    at_20 = thermal.volume_at_20c(3.0, t, p)
    assert at_20 * density.density_ethanol_water(p) == pytest.approx(
        3.0 * density.density_ethanol_water(p, t), rel=1e-14
    )


def test_warm_spirit_shrinks_on_cooling() -> None:
    p = strength.mass_fraction_from_abv(40.0)
    # 7.03e-4 per kelvin at 20 degrees Celsius: ten kelvin are 0.7 %.
    assert thermal.volume_at_20c(1.0, 30.0, p) == pytest.approx(1.0 - 7.1e-3, abs=2e-4)
    assert thermal.volume_at_20c(1.0, 20.0, p) == 1.0


@given(fractions)
def test_expansion_of_a_sugar_free_drink_is_ethanol_waters(p: float) -> None:
    masses = np.zeros(15)
    masses[:2] = 1.0 - p, p
    assert thermal.thermal_expansion_mixture(masses) == pytest.approx(
        thermal.thermal_expansion_ethanol_water(p), rel=1e-9
    )


@given(st.floats(0.0, 0.85), temperatures)
def test_expansion_of_syrup_is_sucrose_waters(w: float, t: float) -> None:
    masses = np.zeros(15)
    masses[[0, 2]] = 1.0 - w, w
    # Expansion of water differs a little between the two standards.
    assert thermal.thermal_expansion_mixture(masses, t) == pytest.approx(
        thermal.thermal_expansion_sucrose_water(w, t), abs=3e-6
    )
    assert thermal.density_mixture_kg_m3(masses, t) == pytest.approx(
        density.density_sucrose_water(w, t), abs=0.02
    )


@given(st.floats(5.0, 50.0), st.floats(0.0, 300.0), st.floats(0.1, 39.9))
def test_expansion_is_the_slope_of_the_density(abv: float, sugar: float, t: float) -> None:
    masses = drink(abv, sugar)
    up, down = (thermal.density_mixture_kg_m3(masses, t + dt) for dt in (1e-3, -1e-3))
    there = thermal.density_mixture_kg_m3(masses, t)
    central = -(up - down) / 2e-3 / there
    assert thermal.thermal_expansion_mixture(masses, t) == pytest.approx(central, abs=1e-9)


@given(st.floats(0.0, 50.0), st.floats(0.0, 300.0))
def test_at_20_degrees_it_is_the_mixture_model(abv: float, sugar: float) -> None:
    masses = drink(abv, sugar)
    assert thermal.density_mixture_kg_m3(masses) == pytest.approx(mixture.density_kg_m3(masses), rel=1e-14)


def test_mixtures_keep_their_shape() -> None:
    batch = np.stack([drink(20.0, 100.0), drink(40.0, 0.0)] * 3).reshape(3, 2, -1)
    found = thermal.density_mixture_kg_m3(batch, 30.0)
    assert found.shape == (3, 2)
    assert found[2, 1] == pytest.approx(thermal.density_mixture_kg_m3(batch[2, 1], 30.0), rel=1e-15)
    assert isinstance(thermal.thermal_expansion_mixture(batch[0, 0]), float)


@pytest.mark.parametrize("t", [-0.1, 40.1, float("nan")])
def test_mixtures_outside_the_joined_range_are_refused(t: float) -> None:
    with pytest.raises(RangeError):
        thermal.density_mixture_kg_m3(drink(20.0, 100.0), t)
    with pytest.raises(RangeError):
        thermal.thermal_expansion_mixture(np.zeros(15))


def test_hydrometer_glass_is_a_small_correction() -> None:
    # 25e-6 per kelvin, ten kelvin, 1000 kg/m3: a quarter of a kg/m3, high when warm.
    assert thermal.density_from_hydrometer(1000.0, 30.0) == pytest.approx(999.75, abs=1e-3)
    assert thermal.density_from_hydrometer(1000.0, 20.0) == 1000.0
    assert thermal.density_from_hydrometer(1000.0, 15.0, 15.0) == 1000.0


def test_specific_gravity_is_over_water_of_its_own_temperature() -> None:
    assert thermal.density_from_specific_gravity(1.0) == density.density_water(20.0)
    # Water at 60 degrees Fahrenheit: 999.01 kg/m3 (common handbook value).
    assert thermal.density_from_specific_gravity(1.0, strength.SIXTY_FAHRENHEIT_C) == pytest.approx(
        999.01, abs=0.01
    )


@given(st.floats(1.0, 99.0), st.floats(1.0, 39.0))
def test_reading_a_spirit_at_any_temperature_finds_its_strength(abv: float, t: float) -> None:
    """What a hydrometer shows at t, by the glass alone; then back to strength and to 20 degrees Celsius."""
    p = strength.mass_fraction_from_abv(abv)
    true_density = density.density_ethanol_water(p, t)
    reading = true_density * (1.0 + thermal.GLASS_CUBIC_EXPANSION_PER_K * (t - 20.0))
    assert thermal.abv_from_density(thermal.density_from_hydrometer(reading, t), t) == pytest.approx(
        abv, abs=1e-8
    )
    assert thermal.hydrometer_reading_at_20c(reading, t) == pytest.approx(
        density.density_ethanol_water(p), abs=1e-8
    )


def test_sugar_hides_alcohol() -> None:
    sweet = drink(22.0, 180.0)
    assert thermal.abv_from_density(min(mixture.density_kg_m3(sweet), 998.2)) < 1.0
