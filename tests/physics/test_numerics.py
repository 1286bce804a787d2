"""Polynomials, against numpy's own: one number is reckoned as many are, to the last bit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial.polynomial import polyval

from formulate.physics.numerics import derivative, horner, horner_broadcast

figures = st.floats(-1e6, 1e6)


@given(st.lists(figures, min_size=1, max_size=13), figures.map(lambda x: x / 1e6))
def test_one_number_or_many_are_numpys_to_the_last_bit(coefficients: list[float], x: float) -> None:
    # numpy.polynomial.polynomial.polyval states Horner's rule too, in its own loop.
    reference = polyval(x, coefficients)
    arrays = [np.array(c) for c in coefficients]
    for shape in ((), (1,), (3,), (2, 1)):
        at = np.full(shape, x)
        for found in (horner(coefficients, at), horner_broadcast(arrays, at)):
            assert found.shape == shape
            assert found.dtype == np.float64
            assert np.all(found == reference)


def test_a_whole_number_alone_stays_a_float() -> None:
    assert horner((3,), np.array([2.0])).dtype == np.float64


def test_slope_by_hand() -> None:
    # d/dx (1 + 2 x + 3 x^2) = 2 + 6 x, 14 at 2.
    assert derivative((1.0, 2.0, 3.0)) == (2.0, 6.0)
    assert float(horner(derivative((1.0, 2.0, 3.0)), np.array(2.0))) == pytest.approx(14.0, rel=1e-15)
