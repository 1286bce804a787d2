from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.physics import density, solutes
from formulate.physics.coefficients import SPS4_EXCESS

from .exact import add, exact, multiply, positive_on, slope
from .published_rows import apparent_volume, rows, solute_density, solute_index

sugars = st.floats(0.0, 0.85)


@given(st.floats(1e-3, 0.85))
def test_sucrose_volume_is_what_the_density_says(w: float) -> None:
    """The textbook form: volume of a kilogram of solution less that of its water, by the sugar."""
    # The textbook form loses digits as 1/w.
    textbook = pytest.approx(apparent_volume("sucrose", w), abs=1e-15 / w + 1e-13)
    assert solutes.sucrose_volume_unchecked(np.array(w)) == textbook


def test_sucrose_volume_keeps_its_digits_at_zero() -> None:
    # Limit by hand: (water - 385.1761)/water^2 x 1000.
    water = density.density_water(20.0)
    limit = 1000.0 * (water - 385.1761) / water**2
    assert solutes.sucrose_volume_unchecked(np.array(0.0)) == pytest.approx(limit, rel=1e-15)
    assert solutes.sucrose_volume_unchecked(np.array(1e-15)) == pytest.approx(limit, rel=1e-14)


def test_partial_molar_volume_of_sucrose_at_infinite_dilution() -> None:
    # About 210 to 211.5 cm3/mol at 20 to 25 degrees Celsius in the literature; from memory.
    assert solutes.sucrose_volume_unchecked(np.array(0.0)) * 342.30 == pytest.approx(210.6, abs=1.2)


@given(sugars)
def test_sucrose_volume_slope_matches_central_differences(w: float) -> None:
    w = 1e-5 + w * (0.85 - 2e-5) / 0.85
    below, above = solutes.sucrose_volume_unchecked(np.array([w - 1e-5, w + 1e-5]))
    slope_there = solutes.sucrose_volume_slope_unchecked(np.array(w))
    assert slope_there == pytest.approx((above - below) / 2e-5, abs=1e-9)


def test_sucrose_volume_rises_everywhere_by_proof() -> None:
    """The numerator of d phi/dw, a polynomial in w, is proved positive on 0 to 0.85 in exact fractions."""
    water = Fraction(solutes.SUCROSE_WATER_KG_M3)
    rise = exact(SPS4_EXCESS[0])
    top = add([water], multiply([Fraction(1), Fraction(-1)], rise), -1)
    bottom = add([water], multiply([Fraction(0), Fraction(1)], rise))
    numerator = add(multiply(slope(top), bottom), multiply(top, slope(bottom)), -1)
    assert positive_on(numerator, Fraction(0), Fraction(85, 100), 64)


@pytest.mark.parametrize("name", solutes.SOLUTES)
def test_fits_meet_water_at_nothing(name: str) -> None:
    assert solute_density(name, 0.0) == pytest.approx(998.203, abs=1e-9)
    # Water's own index, ICUMSA 1974 table: 1.33299.
    assert solute_index(name, 0.0) == pytest.approx(1.33299, abs=1e-6)


@pytest.mark.parametrize("name", solutes.SOLUTES)
def test_more_solute_is_denser_and_bends_more(name: str) -> None:
    w = np.linspace(0.0, solutes.SOLUTES[name].highest_mass_fraction, 400)
    assert np.all(np.diff(solute_density(name, w)) > 0.0)
    assert np.all(np.diff(solute_index(name, w)) > 0.0)


def test_pure_glycerol() -> None:
    # Pure glycerol at 20 degrees Celsius, from memory: 1261 kg/m3; nD 1.4740 in one handbook and 1.4746 in
    # another.
    assert solute_density("glycerol", 1.0) == pytest.approx(1261.0, abs=1.0)
    assert solute_index("glycerol", 1.0) == pytest.approx(1.4740, abs=7e-4)


@pytest.mark.parametrize("name", solutes.SOLUTES)
def test_no_fit_misses_its_column_by_more_than_it_says(name: str) -> None:
    fit, printed = solutes.SOLUTES[name], "NaCl" if name == "salt" else name
    column = [row for row in rows() if row.file == "crc_102e" and f"_{printed}_" in row.quantity]
    assert len(column) > 4
    for row in column:
        # printed to 0.1 kg/m3 and 1e-4
        of_index = row.quantity.startswith("nD")
        computed = (solute_index if of_index else solute_density)(name, row.arguments["w"])
        worst = fit.index_miss + 5e-5 if of_index else fit.density_miss_kg_m3 + 0.05
        assert abs(computed - row.value) <= worst, row
