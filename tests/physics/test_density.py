from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import density
from formulate.physics.coefficients import OIML_A, OIML_B, OIML_C, SPS4_EXCESS
from formulate.physics.density import CELLS, curvature_cells

from .exact import add, exact, multiply, positive_on, slope, value

fractions = st.floats(0.0, 1.0)
sugars = st.floats(0.0, 0.85)
cool = st.floats(-20.0, 40.0)
hot = st.floats(0.0, 80.0)


@given(fractions, cool)
def test_ethanol_water_is_the_sum_as_the_standard_prints_it(p: float, t: float) -> None:
    """The double sum of OIML R 22 written out term by term, in exact arithmetic."""
    p_, t_ = Fraction(p), Fraction(t) - 20
    printed = sum((Fraction(a) * p_**k for k, a in enumerate(OIML_A)), Fraction(0))
    printed += sum((Fraction(b) * t_**k for k, b in enumerate(OIML_B, start=1)), Fraction(0))
    for i, row in enumerate(OIML_C, start=1):
        printed += sum((Fraction(c) * p_**k * t_**i for k, c in enumerate(row, start=1)), Fraction(0))
    assert density.density_ethanol_water(p, t) == pytest.approx(float(printed), abs=1e-8)


def test_the_typed_tables_have_the_standards_sizes() -> None:
    assert [len(row) for row in (OIML_A, OIML_B, *OIML_C)] == [12, 6, 11, 10, 9, 4, 2]
    assert [len(row) for row in SPS4_EXCESS] == [6, 5, 4, 3, 2]


def test_pure_liquids_at_20_degrees() -> None:
    # OIML R 22: 998.2012 and 789.239 (its printed A1, and the sum of A1 to A12); SPS-4's Kell-type water.
    assert density.density_ethanol_water(0.0) == pytest.approx(998.2012, abs=5e-5)
    assert density.density_ethanol_water(1.0) == pytest.approx(789.239, abs=5e-4)
    assert density.density_water(20.0) == pytest.approx(998.2031, abs=5e-5)
    # Kell (1975), from memory: greatest density 999.972 at 3.98 degrees Celsius, the kilogram per litre of
    # 1901 (IAPWS-95 has it 0.003 higher, on a newer water).
    around = np.linspace(3.0, 5.0, 201)
    assert density.density_water(around).max() == pytest.approx(999.972, abs=5e-4)
    assert around[density.density_water(around).argmax()] == pytest.approx(3.98, abs=0.03)


def test_two_standards_agree_on_water_over_temperature() -> None:
    """OIML R 22 without ethanol against the Kell-type formula of SPS-4, 0 to 40 degrees Celsius."""
    t = np.linspace(0.0, 40.0, 81)
    gap = density.density_ethanol_water(np.zeros(81), t) - density.density_water(t)
    # They rest on waters and temperature scales 0.002 to 0.006 kg/m3 apart.
    assert np.abs(gap).max() < 0.007


@given(fractions, cool)
def test_slope_of_ethanol_water_matches_central_differences(p: float, t: float) -> None:
    p, t = 1e-4 + p * (1 - 2e-4), -19.9 + (t + 20.0) * 59.8 / 60.0
    value_, by_fraction = density.density_slope_ethanol_water(p, t)
    rho = density.density_ethanol_water
    assert value_ == rho(p, t)
    assert by_fraction == pytest.approx((rho(p + 1e-5, t) - rho(p - 1e-5, t)) / 2e-5, abs=2e-4)


@given(sugars, sugars, hot)
def test_density_rises_with_sucrose(one: float, other: float, t: float) -> None:
    less, more = sorted((one, other))
    if more - less > 1e-9:
        assert density.density_sucrose_water(less, t) < density.density_sucrose_water(more, t)


def test_density_at_20_degrees_rises_with_sucrose_everywhere_by_proof() -> None:
    rise = slope([Fraction(0), *exact(SPS4_EXCESS[0])])
    assert positive_on(rise, Fraction(0), Fraction(85, 100), 64)


@given(fractions)
def test_specific_volume(p: float) -> None:
    at = value(exact(OIML_A), Fraction(p))
    assert density.specific_volume_ethanol_water(p) == pytest.approx(float(1000 / at), rel=1e-12)


@given(fractions, st.floats(0.0, 40.0))
def test_density_falls_with_ethanol(p: float, t: float) -> None:
    """What lets a density name one strength; checked on the exact slope."""
    assert density.density_slope_ethanol_water(p, t)[1] < -50.0


@given(fractions, fractions, fractions)
def test_curvature_bounds_enclose_exact_values(one: float, other: float, share: float) -> None:
    lower, upper = sorted((one, other))
    smallest, largest = density.specific_volume_curvature_bounds(lower, upper)
    rho = exact(OIML_A)
    for p in (lower, upper, min(max(lower + share * (upper - lower), lower), upper)):
        at = Fraction(p)
        r, r1, r2 = value(rho, at), value(slope(rho), at), value(slope(slope(rho)), at)
        curvature = 1000 * (2 * r1**2 - r * r2) / r**3
        assert Fraction(smallest) <= curvature <= Fraction(largest)


def test_curvature_cells_are_proved_by_exact_arithmetic() -> None:
    """On each cell, u'' - smallest and largest - u'' times rho^3 are polynomials proved positive."""
    rho = exact(OIML_A)
    r1, r2 = slope(rho), slope(slope(rho))
    top = [1000 * c for c in add([2 * c for c in multiply(r1, r1)], multiply(rho, r2), -1)]
    cube = multiply(multiply(rho, rho), rho)
    low, high = curvature_cells()
    for cell in (0, 1, 100, 256, 400, CELLS - 1):
        left, right = Fraction(cell, CELLS), Fraction(cell + 1, CELLS)
        above = add(top, [Fraction(low[cell]) * c for c in cube], -1)
        below = add([Fraction(high[cell]) * c for c in cube], top, -1)
        assert positive_on(above, left, right, 4)
        assert positive_on(below, left, right, 4)


def _with_slopes(polynomial: tuple[float, ...]) -> list[list[float]]:
    rows = [list(polynomial)]
    for _ in range(2):
        rows.append([power * c for power, c in enumerate(rows[-1])][1:])
    return rows


def test_curvature_bounds_are_tight_enough_to_be_of_use() -> None:
    low, high = curvature_cells()
    p = np.linspace(0.0, 1.0, 64 * CELLS + 1)
    r, r1, r2 = (np.polyval(powers[::-1], p) for powers in _with_slopes(OIML_A))
    samples = 1000.0 * (2.0 * r1**2 - r * r2) / r**3
    true_high = np.array([samples[64 * i : 64 * i + 65].max() for i in range(CELLS)])
    true_low = np.array([samples[64 * i : 64 * i + 65].min() for i in range(CELLS)])
    assert np.all(low <= true_low)
    assert np.all(true_high <= high)
    # Slack beyond the true extremes: under 1 % of the largest curvature (1.7 L/kg) anywhere.
    assert max((high - true_high).max(), (true_low - low).max()) < 0.017
    assert np.median(high - low) < 0.006


@given(fractions, fractions, fractions, fractions)
def test_curvature_bounds_widen_with_the_interval(a: float, b: float, c: float, d: float) -> None:
    outer_low, inner_low, inner_high, outer_high = sorted((a, b, c, d))
    inner = density.specific_volume_curvature_bounds(inner_low, inner_high)
    outer = density.specific_volume_curvature_bounds(outer_low, outer_high)
    assert outer[0] <= inner[0] <= inner[1] <= outer[1]


@pytest.mark.parametrize(
    ("lower", "upper"), [(-0.1, 0.5), (0.5, 1.1), (0.6, 0.5), (float("nan"), 0.5), (0.5, float("nan"))]
)
def test_curvature_bounds_refuse_what_is_no_interval(lower: float, upper: float) -> None:
    with pytest.raises(RangeError):
        density.specific_volume_curvature_bounds(lower, upper)
