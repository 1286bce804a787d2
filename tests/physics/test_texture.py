from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import density, mixture, strength, texture

from .kitchen_rows import held_in_water
from .published_rows import drink

strengths = st.floats(0.0, 100.0)
temperatures = st.floats(0.0, 60.0)


def rank(risk: texture.Risk) -> int:
    return texture.RISK_LEVELS.index(risk.level)


@given(st.floats(0.0, 20.0), st.floats(0.0, 20.0), st.floats(0.0, 1300.0), st.floats(2.0, 7.0), strengths)
def test_more_pectin_is_never_safer(one: float, other: float, sugar: float, ph: float, s: float) -> None:
    little, much = (rank(texture.gel_risk(p, sugar, ph, s)) for p in sorted((one, other)))
    assert little <= much


@given(
    st.floats(0.0, 20.0),
    st.tuples(st.floats(0.0, 1300.0), st.floats(0.0, 1300.0)),
    st.tuples(st.floats(2.0, 7.0), st.floats(2.0, 7.0)),
    st.tuples(strengths, strengths),
)
def test_sugar_acid_and_spirit_never_help(
    pectin: float, sugar: tuple[float, float], ph: tuple[float, float], spirit: tuple[float, float]
) -> None:
    mild = texture.gel_risk(pectin, min(sugar), max(ph), min(spirit))
    hard = texture.gel_risk(pectin, max(sugar), min(ph), max(spirit))
    assert rank(mild) <= rank(hard)


def test_gel_classes_by_our_own_lines() -> None:
    assert texture.gel_risk(0.4, 600.0, 3.0, 40.0).level == "low"
    assert texture.gel_risk(1.0, 200.0, 3.3, 10.0).level == "low"
    found = texture.gel_risk(1.0, 200.0, 3.3, 22.0)
    assert (found.level, found.reason) == (
        "possible",
        "a little pectin is left and spirit throws it out of solution",
    )
    assert texture.gel_risk(2.0, 600.0, 3.2).level == "high"
    assert texture.gel_risk(6.0, 100.0, 3.2).level == "possible"
    assert found.test == texture.BAR_TESTS["gel"]


@given(strengths, strengths, strengths)
def test_thinning_further_is_never_safer(extract: float, one: float, other: float) -> None:
    weak, strong = (rank(texture.oil_haze_risk(extract, b)) for b in sorted((one, other)))
    assert strong <= weak
    assert rank(texture.oil_haze_risk(min(one, other), extract)) <= rank(
        texture.oil_haze_risk(max(one, other), extract)
    )


def test_louche_line_of_practice() -> None:
    # Common practice: oil-rich extracts cloud below about 35 % vol.
    assert texture.oil_haze_risk(60.0, 36.0).level == "low"
    assert texture.oil_haze_risk(60.0, 34.0).level == "possible"
    assert texture.oil_haze_risk(60.0, 22.0).level == "high"
    assert texture.oil_haze_risk(35.0, 22.0).level == "low"


def test_ethanol_ratios_follow_from_the_remembered_table() -> None:
    # Scheibler 1872 (from memory), g of sucrose in 100 mL saturated at 14 °C, 0 to 90 % vol. The liquid in it
    # is (100 - 0.63 g) mL at the spirit's density. In water that is 66.1 % w/w, Sokolovsky's value at 14 °C,
    # read from another source: so the remembered table and the rule for its liquid hold together.
    grams = np.array([87.5, 81.5, 74.5, 67.9, 58.0, 47.1, 33.9, 18.8, 6.6, 0.9])
    spirit = density.density_ethanol_water(strength.mass_fraction_from_abv(np.arange(0.0, 91.0, 10.0)), 14.0)
    per_liquid = grams / ((100.0 - 0.63 * grams) * spirit / 1000.0)
    assert per_liquid[0] / (1.0 + per_liquid[0]) == pytest.approx(held_in_water(14.0), abs=0.001)
    assert texture.ETHANOL_RELATIVE[:-1] == pytest.approx(per_liquid / per_liquid[0], abs=6e-4)


def _saturation(t: float, strength_pct_vol: float) -> tuple[float, float]:
    """Of one kilogram of sucrose per kilogram of alcohol and water of this strength."""
    masses = np.zeros(len(mixture.COMPONENTS))
    ethanol = strength.mass_fraction_from_abv(strength_pct_vol)
    masses[:2], masses[mixture.INDEX["sucrose"]] = (1.0 - ethanol, ethanol), 1.0
    return texture.sucrose_saturation(masses, t)


@given(temperatures, temperatures, strengths)
def test_warmer_never_holds_less(one: float, other: float, s: float) -> None:
    cool, warm = (_saturation(t, s)[0] for t in sorted((one, other)))
    assert 1.0 / 3.0 < warm <= cool


@given(temperatures, strengths, strengths)
def test_stronger_never_holds_more(t: float, one: float, other: float) -> None:
    weak, strong = (_saturation(t, s)[0] for s in sorted((one, other)))
    assert weak <= strong * (1.0 + 1e-12)


@given(temperatures, st.floats(0.0, 99.0))
def test_a_stronger_drink_is_less_sure(t: float, s: float) -> None:
    full, unsure = _saturation(t, s)
    # Two published series differ by 2 % in water; a quarter either way from 30 % vol is ours.
    assert unsure / full == pytest.approx(0.02 + 0.23 * min(s / 30.0, 1.0), abs=1e-9)


def test_saturation_of_drinks() -> None:
    # A syrup of 67.09 % w/w is full at 20 °C by the table, and over full in the fridge.
    syrup = np.zeros(len(mixture.COMPONENTS))
    syrup[mixture.INDEX["sucrose"]], syrup[mixture.INDEX["water"]] = 0.6709, 0.3291
    assert texture.sucrose_saturation(syrup, 20.0)[0] == pytest.approx(1.0, abs=1e-12)
    assert texture.sucrose_saturation(syrup)[0] > 1.0
    # An ordinary liqueur is far from it; 40 % vol with 300 g/L is where a guard is wanted.
    plain, guard = texture.sucrose_saturation(np.array([drink(22.0, 180.0), drink(40.0, 300.0)]))[0]
    assert plain < 0.2 < 0.5 < guard < 0.75
    # 40 % vol with 450 g/L is beyond, the uncertainty included or not.
    full, unsure = texture.sucrose_saturation(drink(40.0, 450.0))
    assert full - unsure > 0.9
    spirit = np.zeros(len(mixture.COMPONENTS))
    spirit[mixture.INDEX["ethanol"]] = 1.0
    assert texture.sucrose_saturation(spirit) == (0.0, 0.0)
    spirit[mixture.INDEX["sucrose"]] = 0.1
    assert texture.sucrose_saturation(spirit)[0] == float("inf")


def test_drink_viscosity_in_both_limits() -> None:
    syrup = np.zeros(len(mixture.COMPONENTS))
    syrup[mixture.INDEX["sucrose"]], syrup[mixture.INDEX["water"]] = 0.4, 0.6
    # NBS line of handbooks, 20 °C and 40 %.
    assert texture.viscosity_mpa_s(syrup) == pytest.approx(6.167, abs=0.2)
    spirit = np.zeros(len(mixture.COMPONENTS))
    spirit[mixture.INDEX["ethanol"]], spirit[mixture.INDEX["water"]] = 0.4, 0.6
    table = texture.viscosity_ethanol_water_mpa_s(0.4)
    assert texture.viscosity_mpa_s(spirit) == pytest.approx(table, rel=0.037)
    assert table == pytest.approx(2.91)


@given(st.floats(5.0, 40.0), st.floats(0.0, 400.0), st.floats(0.0, 400.0), st.floats(0.0, 40.0))
def test_more_sugar_is_thicker(abv: float, one: float, other: float, t: float) -> None:
    thin, thick = (texture.viscosity_mpa_s(drink(abv, s), t) for s in sorted((one, other)))
    assert thin <= thick * (1.0 + 1e-9)


@given(st.floats(5.0, 40.0), st.floats(0.0, 400.0), st.floats(0.0, 40.0), st.floats(0.0, 40.0))
def test_colder_is_thicker(abv: float, sugar: float, one: float, other: float) -> None:
    cold, warm = (texture.viscosity_mpa_s(drink(abv, sugar), t) for t in sorted((one, other)))
    assert warm <= cold * (1.0 + 1e-9)


@given(st.floats(0.0, 1.0), st.floats(0.0, 40.0))
def test_spirit_is_thickest_in_the_middle(fraction: float, t: float) -> None:
    found = texture.viscosity_ethanol_water_mpa_s(fraction, t)
    assert found >= min(texture.viscosity_ethanol_water_mpa_s(end, t) for end in (0.0, 1.0)) - 1e-12
    assert found <= texture.viscosity_ethanol_water_mpa_s(np.array([0.4, 0.5]), t).max() * 1.001


def test_spirit_interpolates_in_the_logarithm() -> None:
    # Half way from 20 to 30 °C and from 30 to 40 % w/w: the geometric mean of 2.71, 2.91, 1.87 and 2.02.
    found = texture.viscosity_ethanol_water_mpa_s(0.35, 25.0)
    assert found == pytest.approx((2.71 * 2.91 * 1.87 * 2.02) ** 0.25, rel=1e-12)


def test_remembered_viscosities_run_smoothly() -> None:
    # The table is from memory. The logarithm of a viscosity falls ever slower with temperature, so a row lies
    # just below the geometric mean of its neighbours; a misremembered figure would stand out.
    table = texture.TABLE
    for row in (1, 4):  # 5 °C between 0 and 10, 30 between 20 and 40
        assert texture.TEMPERATURES_C[row] * 2.0 == texture.TEMPERATURES_C[[row - 1, row + 1]].sum()
        ratio = table[row] / np.sqrt(table[row - 1] * table[row + 1])
        assert np.all((ratio > 0.95) & (ratio < 1.01))
    assert np.all(np.diff(table, axis=0) < 0.0)


def test_arrays() -> None:
    drinks = np.array([drink(22.0, 180.0), drink(30.0, 100.0)])
    found = texture.viscosity_mpa_s(drinks, 5.0)
    assert found.shape == (2,)
    assert found[0] == texture.viscosity_mpa_s(drinks[0], 5.0)
    assert isinstance(texture.viscosity_mpa_s(drinks[0]), float)


@pytest.mark.parametrize(
    "call",
    [
        lambda: texture.gel_risk(-1.0, 0.0, 3.0),
        lambda: texture.gel_risk(1.0, 0.0, 15.0),
        lambda: texture.oil_haze_risk(101.0, 20.0),
        lambda: texture.sucrose_saturation(drink(20.0, 100.0), -1.0),
        lambda: texture.sucrose_saturation(drink(20.0, 100.0), 61.0),
        lambda: texture.sucrose_saturation(np.zeros(15)),
        lambda: texture.sucrose_saturation(-drink(20.0, 100.0)),
        lambda: texture.viscosity_mpa_s(drink(20.0, 100.0), 41.0),
        lambda: texture.viscosity_ethanol_water_mpa_s(float("nan")),
    ],
)
def test_out_of_range_is_refused(call: Callable[[], object]) -> None:
    with pytest.raises(RangeError):
        call()
