from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, RangeError
from formulate.physics import ageing

ages = st.floats(0.0, 100.0)
kinds = st.sampled_from(sorted(ageing.LOSS_PER_YEAR))
storages = st.sampled_from(sorted(ageing.STORAGE_FACTOR))


@given(ages, ages, kinds, storages, st.booleans())
def test_potency_only_falls(one: float, other: float, kind: str, storage: str, powder: bool) -> None:
    young, old = (ageing.potency_left(a, kind, storage, powder=powder) for a in sorted((one, other)))
    assert 0.0 <= old <= young <= 1.0
    assert ageing.potency_left(0.0, kind, storage, powder=powder) == 1.0


@given(ages, kinds)
def test_better_kept_is_never_weaker(age: float, kind: str) -> None:
    cold, shut, open_ = (
        ageing.potency_left(age, kind, s) for s in ("cold_sealed", "sealed_dark", "open_or_light")
    )
    assert open_ <= shut <= cold
    assert ageing.potency_left(age, kind, powder=True) <= shut


@pytest.mark.parametrize(
    ("kind", "low", "high"),
    [
        # Common practice, oil lost in a year, sealed and dark.
        ("whole_seed", 0.10, 0.15),
        ("whole_bark", 0.10, 0.15),
        ("whole_root", 0.10, 0.15),
        ("cut_root", 0.15, 0.20),
        ("leaf", 0.20, 0.30),
        ("flower", 0.20, 0.30),
        ("soft_leaf", 0.70, 0.80),
        ("bitter_glycoside", 0.05, 0.10),
        ("bitter_lactone", 0.10, 0.15),
    ],
)
def test_first_year_loses_the_middle_of_practice(kind: str, low: float, high: float) -> None:
    assert 1.0 - ageing.potency_left(1.0, kind) == pytest.approx((low + high) / 2.0, abs=1e-12)
    assert len(ageing.LOSS_PER_YEAR) == 9


def test_two_years_of_leaf_by_hand() -> None:
    # 0.75 x 0.75 whole; ground three times the rate: 0.75^6 = 0.177979.
    assert ageing.potency_left(2.0, "leaf") == pytest.approx(0.5625)
    assert ageing.potency_left(2.0, "leaf", powder=True) == pytest.approx(0.177979, abs=5e-7)


def test_basil_half_life_from_its_three_points() -> None:
    # Baritaux 1992: 19, 62 and 66 % lost at 3, 6 and 7 months. A first-order line through the origin by least
    # squares of ln: half-life 4.66 months, printed elsewhere as about 5. One by one: 9.9, 4.3 and 4.5.
    months, left = np.array([3.0, 6.0, 7.0]), 1.0 - np.array([0.19, 0.62, 0.66])
    rate = -float(months @ np.log(left)) / float(months @ months)
    half_life = np.log(2.0) / rate
    assert half_life == pytest.approx(5.0, abs=0.5)
    each = np.log(2.0) / (-np.log(left) / months)
    assert each == pytest.approx([9.87, 4.30, 4.50], abs=0.01)
    # So a year costs 83 %, just above the 70 to 80 % of practice that is the default.
    assert 1.0 - 0.5 ** (12.0 / half_life) == pytest.approx(0.83, abs=0.01)
    assert 0.70 <= 1.0 - ageing.potency_left(1.0, "soft_leaf") <= 0.83


def test_shelf_lives() -> None:
    # Common practice: whole roots and bark 3 to 4 years, leaves 1 to 2, powders 6 to 12 months.
    lives = {kind: ageing.shelf_life_years(kind) for kind in ("whole_root", "whole_bark", "leaf")}
    assert [(f.low, f.high) for f in lives.values()] == [(3.0, 4.0), (3.0, 4.0), (1.0, 2.0)]
    ground = ageing.shelf_life_years("whole_root", powder=True)
    assert (ground.low, ground.high, ground.unit) == (0.5, 1.0, "years")
    assert ageing.shelf_life_years("soft_leaf").confidence == "assumption"


@given(st.floats(0.01, 1.0), st.floats(0.01, 1.0))
def test_dry_matter_is_kept(fresh: float, dried: float) -> None:
    assert ageing.fresh_to_dried_ratio(fresh, dried) * fresh == pytest.approx(dried, rel=1e-12)


def test_refusals() -> None:
    with pytest.raises(RangeError):
        ageing.potency_left(-1.0, "leaf")
    with pytest.raises(RangeError):
        ageing.fresh_to_dried_ratio(0.0)
    with pytest.raises(FormulateError, match="whole_seed"):
        ageing.potency_left(1.0, "stick")
    with pytest.raises(FormulateError, match="sealed_dark"):
        ageing.potency_left(1.0, "leaf", "cellar")
    with pytest.raises(FormulateError, match="powder"):
        ageing.shelf_life_years("stick")
