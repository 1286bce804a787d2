"""Backwards from readings: what is refused, and what is answered with a NaN because it does not exist."""

from __future__ import annotations

import importlib
import math
import pkgutil
import re

import numpy as np
import pytest

from formulate import physics
from formulate.errors import RangeError
from formulate.physics import gauging


@pytest.mark.parametrize("bad", [-5.0, math.nan, math.inf])
@pytest.mark.parametrize("place", range(4))
def test_no_litre_is_made_of_less_than_nothing(bad: float, place: int) -> None:
    contents = [20.0, 100.0, 5.0, 3.0]
    contents[place] = bad
    with pytest.raises(RangeError) as caught:
        gauging.masses_of_litre(*contents)
    assert "masses_of_litre" in str(caught.value)


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_a_reading_that_is_no_number_is_refused(bad: float) -> None:
    for readings in ((1000.0, bad), (bad, 1.36), (np.array([1000.0, bad]), 1.36)):
        with pytest.raises(RangeError):
            gauging.strength_and_sugar(*readings)
    with pytest.raises(RangeError):
        gauging.strength_and_sugar(1000.0, 1.36, acid_g_l=bad)


def test_a_drink_that_does_not_exist_is_a_nan() -> None:
    # An index of 1.6 at the density of water: nothing made of ethanol, water and sucrose has both.
    strength, sugar = gauging.strength_and_sugar(np.array([1000.0, 1000.0]), np.array([1.6, 1.350]))
    assert np.isnan([strength[0], sugar[0]]).all()
    assert np.isfinite([strength[1], sugar[1]]).all()
    # Lighter than pure ethanol.
    assert np.isnan(gauging.strength_and_sugar(700.0, 1.36)).all()
    # 90 % vol and 1000 g/L do not fit into a litre.
    assert np.isnan(gauging.masses_of_litre(90.0, 1000.0)).all()


def test_every_module_of_the_room_is_in_its_list() -> None:
    assert physics.__doc__ is not None
    listed = set(re.findall(r"[a-z_]+", " ".join(re.findall(r"^[a-z, ]+$", physics.__doc__, re.MULTILINE))))
    modules = {module.name for module in pkgutil.iter_modules(physics.__path__)}
    assert modules <= listed
    assert all(importlib.import_module(f"formulate.physics.{name}").__doc__ for name in modules)
