"""Every public function of the room: floats and arrays alike, nothing outside, no NaN."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from formulate.errors import RangeError
from formulate.physics import bitterness, density, refraction, strength

# Function, then the published range of its first argument, with everything else in range.
ELEMENTWISE: dict[str, tuple[Callable[..., Any], float, float]] = {
    "density_ethanol_water": (density.density_ethanol_water, 0.0, 1.0),
    "density_ethanol_water by temperature": (
        lambda t: density.density_ethanol_water(np.full(np.shape(t), 0.4), t),
        -20.0,
        40.0,
    ),
    "density_sucrose_water": (density.density_sucrose_water, 0.0, 0.85),
    "density_sucrose_water by temperature": (
        lambda t: density.density_sucrose_water(np.full(np.shape(t), 0.4), t),
        0.0,
        80.0,
    ),
    "density_water": (density.density_water, 0.0, 80.0),
    "density_slope_ethanol_water": (lambda p: density.density_slope_ethanol_water(p)[1], 0.0, 1.0),
    "specific_volume_ethanol_water": (density.specific_volume_ethanol_water, 0.0, 1.0),
    "refractive_index_sucrose_water": (refraction.refractive_index_sucrose_water, 0.0, 0.85),
    "refractive_index_ethanol_water": (refraction.refractive_index_ethanol_water, 0.0, 1.0),
    "refractive_index_from_brix": (refraction.refractive_index_from_brix, 0.0, 85.0),
    "brix_from_refractive_index": (
        refraction.brix_from_refractive_index,
        refraction.refractive_index_from_brix(0.0),
        refraction.refractive_index_from_brix(85.0),
    ),
    "abv_from_mass_fraction": (strength.abv_from_mass_fraction, 0.0, 1.0),
    "mass_fraction_from_abv": (strength.mass_fraction_from_abv, 0.0, 100.0),
    "mass_fraction_from_abv at 5": (lambda a: strength.mass_fraction_from_abv(a, 5.0), 0.0, 100.0),
    "abv_60f_from_abv_20c": (strength.abv_60f_from_abv_20c, 0.0, 100.0),
    "gentian_equivalent_g_l": (bitterness.gentian_equivalent_g_l, 0.0, 200_000.0),
}


def call(function: Callable[..., Any], value: float) -> Any:
    return function(float(value))


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_one_code_path_for_floats_and_arrays(name: str) -> None:
    function, lower, upper = ELEMENTWISE[name]
    inside = np.linspace(0.0, 1.0, 23)
    values = np.clip(lower * (1.0 - inside) + upper * inside, lower, upper)
    together = function(values)
    assert isinstance(together, np.ndarray)
    assert together.shape == values.shape
    alone = [function(float(v)) for v in values]
    assert all(isinstance(x, float) or np.ndim(x) == 0 for x in alone)
    assert np.array_equal(together, np.array(alone, dtype=float))
    square = function(values[:12].reshape(3, 4))
    assert np.array_equal(square, together[:12].reshape(3, 4))
    assert np.all(np.isfinite(together))
    assert function(values[:0]).shape == (0,)


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_outside_and_nan_are_refused(name: str) -> None:
    function, lower, upper = ELEMENTWISE[name]
    step = 1e-6 * (upper - lower)
    for bad in (lower - step, upper + step, math.inf, -math.inf):
        with pytest.raises(RangeError) as caught:
            function(bad)
        assert caught.value.value == pytest.approx(bad)
    with pytest.raises(RangeError) as caught:
        function(math.nan)
    assert math.isnan(caught.value.value)
    middle = 0.5 * (lower + upper)
    with pytest.raises(RangeError):
        function(np.array([middle, math.nan]))


def test_the_error_reports_the_worst_value_and_the_published_range() -> None:
    with pytest.raises(RangeError) as caught:
        density.density_sucrose_water(np.array([0.2, 0.9, -0.5, 1.2, 0.3]))
    error = caught.value
    assert error.value == -0.5
    assert (error.lower, error.upper, error.unit) == (0.0, 0.85, "g/g")
    assert error.name == "density_sucrose_water: mass_fraction"
    assert "SPS-4" in error.source


def test_the_first_of_equally_bad_values_is_reported() -> None:
    with pytest.raises(RangeError) as caught:
        density.density_ethanol_water(np.array([0.5, 1.25, -0.25]))
    assert caught.value.value == 1.25


def test_scalars_come_back_as_plain_floats() -> None:
    assert type(density.density_ethanol_water(0.4)) is float
    assert type(strength.mass_fraction_from_abv(40.0)) is float
    assert type(refraction.brix_from_refractive_index(1.36)) is float


def test_temperature_broadcasts_against_fraction() -> None:
    fraction, temperature = np.linspace(0.0, 1.0, 5)[:, None], np.linspace(-20.0, 40.0, 7)[None, :]
    table = density.density_ethanol_water(fraction, temperature)
    assert table.shape == (5, 7)
    assert table[2, 3] == density.density_ethanol_water(0.5, 10.0)
