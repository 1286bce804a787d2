from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import RangeError
from formulate.physics import mixture, refraction

from .published_rows import drink, solute_index


@given(st.floats(0.0, 85.0))
def test_brix_undoes_index(brix: float) -> None:
    there = refraction.refractive_index_from_brix(brix)
    assert refraction.brix_from_refractive_index(there) == pytest.approx(brix, abs=1e-10)


@given(st.floats(0.0, 0.85))
def test_brix_is_percent_sucrose(w: float) -> None:
    assert refraction.refractive_index_from_brix(100.0 * w) == pytest.approx(
        refraction.refractive_index_sucrose_water(w), abs=1e-15
    )


def test_index_rises_with_sucrose() -> None:
    assert np.all(np.diff(refraction.refractive_index_sucrose_water(np.linspace(0.0, 0.85, 2001))) > 0.0)


def test_ethanol_water_peaks_where_the_literature_says() -> None:
    # Jimenez Rioboo et al., Eur. Phys. J. E 30 (2009) 19: maximum at 22 % by mass of water; the CRC table
    # has it at 80 %, flat to one unit from 76 to 84 %. Its place moves 3 % for a change of 1e-4.
    p = np.linspace(0.0, 1.0, 10_001)
    assert p[refraction.refractive_index_ethanol_water(p).argmax()] == pytest.approx(0.78, abs=0.05)


def one(**masses_kg: float) -> np.ndarray:
    masses = np.zeros(len(mixture.COMPONENTS))
    for name, mass in masses_kg.items():
        masses[mixture.INDEX[name]] = mass
    return masses


@given(st.floats(0.0, 1.0))
def test_mixture_without_solutes_is_ethanol_water(p: float) -> None:
    index = refraction.refractive_index_mixture(one(water=1.0 - p, ethanol=p))
    # The mixture adds up the masses again, and 1 - (1 - p) is p but for rounding.
    assert index == pytest.approx(refraction.refractive_index_ethanol_water(p), abs=1e-12)


@given(st.floats(0.0, 0.85))
def test_mixture_of_sucrose_and_water_is_sucrose_water(w: float) -> None:
    index = refraction.refractive_index_mixture(one(water=1.0 - w, sucrose=w))
    # Two fits of one table: 2.0e-5 and 5.5e-6 against it.
    assert index == pytest.approx(refraction.refractive_index_sucrose_water(w), abs=2.6e-5)


@pytest.mark.parametrize("name", ["glucose", "fructose", "maltose"])
@pytest.mark.parametrize("w", [0.05, 0.2, 0.4])
def test_mixture_of_one_sugar_and_water_is_that_sugars_column(name: str, w: float) -> None:
    index = refraction.refractive_index_mixture(one(water=1.0 - w, **{name: w}))
    # Pure water is 998.2012 in one and 998.203 in the other.
    assert index == pytest.approx(solute_index(name, w), abs=1e-6)


@pytest.mark.parametrize("name", mixture.COMPONENTS[2:])
def test_every_solute_raises_the_index(name: str) -> None:
    thin = refraction.refractive_index_mixture(one(water=0.7, ethanol=0.3))
    # 10 g of solute in 1 kg: known solutes and plausible ones raise nD by 0.8e-3 to 2e-3.
    rise = refraction.refractive_index_mixture(one(water=0.7, ethanol=0.3, **{name: 0.01})) - thin
    assert 5e-4 < rise < 2e-3


def test_index_does_not_care_for_the_size_of_the_batch() -> None:
    masses = drink(25.0, 200.0)
    assert refraction.refractive_index_mixture(7.0 * masses) == pytest.approx(
        refraction.refractive_index_mixture(masses), abs=1e-14
    )


def test_beer_range_regression_from_memory() -> None:
    """A published regression for beer, coefficients from memory: it only says the model is not far wrong.

    Alcohol % w/w = 1017.5596 - 277.4 SG + n (937.8135 n - 1805.1228), SG 20/20; 0.31 off at pure water.
    """
    for alcohol in (0.02, 0.04, 0.06):
        for extract in (0.02, 0.04, 0.06):
            masses = one(water=1.0 - alcohol - extract, ethanol=alcohol, sucrose=extract)
            gravity = mixture.density_kg_m3(masses) / 998.2031
            n = refraction.refractive_index_mixture(masses)
            found = 1017.5596 - 277.4 * gravity + n * (937.8135 * n - 1805.1228)
            assert found == pytest.approx(100.0 * alcohol, abs=0.45)


def test_shapes() -> None:
    batch = np.stack([drink(20.0, 100.0), drink(40.0, 0.0)] * 3).reshape(3, 2, -1)
    index = refraction.refractive_index_mixture(batch)
    assert index.shape == (3, 2)
    assert index[2, 1] == refraction.refractive_index_mixture(batch[2, 1])


def test_nothing_has_no_index() -> None:
    with pytest.raises(RangeError):
        refraction.refractive_index_mixture(np.zeros(15))
