"""Melt of shaking against the table worked out from a fit that is from memory; stirring is in dilution.csv.

The table is arithmetic on the fit, printed to three digits; what it checks is that the coefficients are
those and are applied as meant. The experiments that
shaking hardly depends on ice or style are published (cookingissues.com 2009, 2010).
"""

from __future__ import annotations

import numpy as np
import pytest

from formulate.errors import FormulateError, RangeError
from formulate.physics.dilution import MELT_RELATIONS, MeltRelation, melt_share

# strength % vol, shaken share, its final strength (no contraction)
TABLE = [(15, 0.429, 10.5), (20, 0.489, 13.4), (25, 0.541, 16.2), (30, 0.585, 18.9), (35, 0.621, 21.6)]
HALF_DIGIT = 0.0005
HALF_TENTH = 0.05


@pytest.mark.parametrize(("strength", "shaken", "after"), TABLE)
def test_table(strength: float, shaken: float, after: float) -> None:
    found = melt_share("shaken", float(strength))
    # 0.541 stands for 0.54056...: the last digit is rounded, so half of it is the tolerance.
    assert found == pytest.approx(shaken, rel=0.0, abs=HALF_DIGIT + 1e-9)
    assert strength / (1.0 + found) == pytest.approx(after, rel=0.0, abs=HALF_TENTH + 1e-9)


def test_built_is_the_middle_of_ten_to_fifteen_per_cent() -> None:
    # common practice: 10 to 15 %
    assert melt_share("built", 12.0) == pytest.approx(0.125)
    spread = MELT_RELATIONS["built"].spread_share
    assert (0.125 * (1 - spread), 0.125 * (1 + spread)) == pytest.approx((0.10, 0.15))


def test_thrown_lies_half_way_between_stirred_and_shaken() -> None:
    strengths = np.linspace(0.0, 50.0, 11)
    between = (melt_share("stirred", strengths) + melt_share("shaken", strengths)) / 2.0
    np.testing.assert_allclose(melt_share("thrown", strengths), between, rtol=1e-12)


def test_batched_takes_no_water_more() -> None:
    assert melt_share("batched", 22.0) == 0.0


def test_more_strength_melts_more_up_to_where_the_fits_turn() -> None:
    for method in ("shaken", "thrown"):
        shares = melt_share(method, np.linspace(0.0, 50.0, 101))
        assert (np.diff(shares) > 0.0).all()


def test_outside_is_refused() -> None:
    with pytest.raises(RangeError, match="60 % vol is outside 0 to 50"):
        melt_share("shaken", 60.0)
    with pytest.raises(FormulateError, match="Unknown method 'rolled'"):
        melt_share("rolled", 20.0)
    with pytest.raises(FormulateError, match="Unknown confidence"):
        MeltRelation("x", 0.0, 0.0, 0.0, 0.0, "nowhere", "sure")


def test_none_of_the_relations_claims_to_be_published() -> None:
    assert {relation.confidence for relation in MELT_RELATIONS.values()} == {
        "from memory",
        "assumption",
        "common practice",
        "derived",
    }
