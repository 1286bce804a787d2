from __future__ import annotations

import pytest

from formulate.errors import RangeError
from formulate.physics import bitterness


def test_quinine_on_its_own_scale() -> None:
    # Ph. Eur. 2.8.15: quinine hydrochloride is 200 000, so a gram of it bitters 200 litres: 5 mg/L is 1.
    assert bitterness.QUININE_HYDROCHLORIDE_BITTERNESS_VALUE == 200_000
    assert 1e6 / bitterness.QUININE_HYDROCHLORIDE_BITTERNESS_VALUE == 5.0


def test_gentian_by_hand() -> None:
    # 1.2 g/L of root of 20 000, nine tenths extracted: 1.2 g/1000 mL x 20 000 x 0.9 = 21.6.
    assert bitterness.gentian_equivalent_g_l(21.6) == pytest.approx(1.2, abs=1e-15)
    assert bitterness.gentian_equivalent_g_l(21.6, root_value=10_000, extracted=0.45) == pytest.approx(4.8)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), 1.1])
def test_shares_outside_their_range_are_refused(bad: float) -> None:
    with pytest.raises(RangeError):
        bitterness.gentian_equivalent_g_l(20.0, extracted=bad)
    if bad != 1.1:
        with pytest.raises(RangeError):
            bitterness.gentian_equivalent_g_l(20.0, root_value=bad)
