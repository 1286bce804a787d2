from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import density, strength

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


@given(st.floats(0.0, 200.0))
def test_proof_undoes_fraction_from_proof(proof: float) -> None:
    there = strength.mass_fraction_from_proof_us(proof)
    assert strength.proof_us_from_mass_fraction(there) == pytest.approx(proof, abs=1e-9)


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


@given(st.floats(0.2, 100.0), st.floats(0.0, 1.0), st.floats(0.0, 1000.0), temperatures)
def test_reduction_keeps_the_ethanol(strong: float, share: float, volume: float, t: float) -> None:
    """Mixed by mass with the water asked for, the spirit has the strength asked for."""
    weak = max(0.1, strong * share)
    water = strength.water_to_reduce_l(volume, strong, weak, t)
    p = strength.mass_fraction_from_abv(strong, t)
    spirit_kg = volume * density.density_ethanol_water(p, t)
    water_kg = water * density.density_ethanol_water(0.0, t)
    assert water >= 0.0
    if volume > 1e-9:
        mixed = strength.abv_from_mass_fraction(min(1.0, p * spirit_kg / (spirit_kg + water_kg)), t)
        assert mixed == pytest.approx(weak, abs=1e-8)


def test_final_volumes_of_reductions() -> None:
    # 1 L of 96 % vol holds 960 mL of ethanol: 2400, 1920 and 1371.4 mL at 40, 50 and 70 % vol by definition,
    # while spirit and water make more: they contract.
    for weak, final in ((40.0, 2400.0), (50.0, 1920.0), (70.0, 1371.4)):
        water = 1000.0 * strength.water_to_reduce_l(1.0, 96.0, weak)
        kg_l = [
            float(density.density_ethanol_water(strength.mass_fraction_from_abv(abv))) / 1000.0
            for abv in (96.0, 0.0, weak)
        ]
        assert (1000.0 * kg_l[0] + water * kg_l[1]) / kg_l[2] == pytest.approx(final, abs=0.05)
        assert 1000.0 + water > final + 20.0


@pytest.mark.parametrize(("strong", "weak"), [(40.0, 41.0), (40.0, 0.0), (101.0, 40.0), (40.0, float("nan"))])
def test_no_reduction_upwards_or_to_nothing(strong: float, weak: float) -> None:
    with pytest.raises(RangeError):
        strength.water_to_reduce_l(1.0, strong, weak)
