from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, RangeError
from formulate.physics import figures, pressing

shares = st.floats(0.0, 1.0)


@given(st.floats(0.01, 1.0), st.floats(0.0, 50.0), st.floats(0.3, 1.0))
def test_cake_dried_by_hand_gives_its_retention_back(solid: float, kept: float, volatile: float) -> None:
    # Build the cake, dry it, ask: solid s holds r s of liquor whose volatile part is what drying takes.
    moisture = kept * solid * volatile / (solid + kept * solid)
    assert pressing.retained_per_solid(moisture, volatile) == pytest.approx(kept, rel=1e-6, abs=1e-9)


@given(st.floats(0.0, 0.99), st.floats(0.0, 0.99))
def test_wetter_cake_holds_more(one: float, other: float) -> None:
    dry, wet = (pressing.retained_per_solid(m) for m in sorted((one, other)))
    assert 0.0 <= dry <= wet


@given(shares, st.floats(0.0, 100.0), st.floats(0.0, 100.0))
def test_yield_within_the_fruit(solids: float, one: float, other: float) -> None:
    much, little = (pressing.juice_yield_share(solids, r) for r in sorted((one, other)))
    assert 0.0 <= little <= much <= 1.0 - solids + 1e-12


@given(st.floats(0.01, 0.3), st.floats(0.0, 0.7))
def test_calibrating_a_press_gives_the_yield_back(solids: float, juice: float) -> None:
    kept = pressing.retention_from_yield(juice, solids)
    if kept <= 100.0:
        assert pressing.juice_yield_share(solids, kept) == pytest.approx(juice, abs=1e-12)


@given(st.floats(0.0, 1e6), st.floats(0.0, 1e6), st.floats(0.0, 1e6))
def test_more_rinse_never_brings_less(held: float, one: float, other: float) -> None:
    little, much = (pressing.rinse_recovery_share(held, rinse) for rinse in sorted((one, other)))
    assert 0.0 <= little <= much <= 1.0


def test_cranberry_cake_shows_why_the_plain_rule_is_short() -> None:
    # Published yield 68 % of thawed cranberry, 3.3 % insoluble, 87.3 % water (USDA). The juice is 0.8732 over
    # 0.967, 90.3 %, volatile; the cake keeps 8.7 per solid and dries by 0.903 x 8.7/9.7 = 81 %, in line with
    # the wet end (80 %) of customary cakes. The plain rule makes 4.3 of that: sugar and acid dried on.
    kept = pressing.retention_from_yield(0.68, 0.033)
    volatile = 0.8732 / 0.967
    moisture = volatile * kept / (1.0 + kept)
    assert moisture == pytest.approx(0.81, abs=0.005)
    assert pressing.retained_per_solid(moisture, volatile) == pytest.approx(8.7, abs=0.05)
    assert pressing.retained_per_solid(moisture) == pytest.approx(4.3, abs=0.05)
    untreated = pressing.retention("whole_fruit", "untreated_press")
    assert (untreated.low, untreated.high, untreated.confidence) == (8.1, 9.3, "derived")
    assert untreated.low <= kept <= untreated.high


@pytest.mark.parametrize(
    ("plant", "tool", "low", "high"),
    [
        # Common practice, liquor per insoluble (fruit) or dry (others) solid.
        ("fruit", "hand_bag", 3.0, 5.0),
        ("crushed_fruit", "hand_bag_enzyme", 2.0, 3.0),
        ("fruit", "small_press", 1.5, 2.3),
        ("root", "drained", 2.0, 3.0),
        ("bark", "small_press", 1.0, 1.8),
        ("leaf", "drained", 4.0, 7.0),
        ("flower", "small_press", 2.5, 3.5),
        ("dried_peel", "drained", 3.0, 4.0),
        ("dried_peel", "small_press", 2.0, 2.5),
    ],
)
def test_retentions_of_practice(plant: str, tool: str, low: float, high: float) -> None:
    found = pressing.retention(plant, tool)
    assert (found.low, found.high, found.confidence) == (low, high, "common practice")


def test_harder_pressing_keeps_less() -> None:
    for tools in pressing.RETENTION.values():
        ordered = [
            tools[t].middle
            for t in ("drained", "untreated_press", "hand_bag", "hand_bag_enzyme", "small_press")
            if t in tools
        ]
        assert ordered == sorted(ordered, reverse=True)


def test_stand_ins_say_so() -> None:
    found = pressing.retention("pith", "small_press")
    assert found.confidence == "assumption"
    assert "taken as dried_peel" in found.source


def test_hold_up_and_yields_are_whole() -> None:
    assert (pressing.HOLD_UP["cloth"].low, pressing.HOLD_UP["cloth"].high) == (0.005, 0.01)
    assert (pressing.HOLD_UP["paper"].low, pressing.HOLD_UP["paper"].high) == (10.0, 20.0)
    assert pressing.JUICE_YIELDS["cranberry, thawed"].middle == pytest.approx(0.68)
    assert pressing.ENZYME_YIELD_GAIN == 0.15
    assert all(found.source for found in [*pressing.HOLD_UP.values(), *pressing.JUICE_YIELDS.values()])


def test_refusals() -> None:
    with pytest.raises(RangeError):
        pressing.retained_per_solid(1.0)
    with pytest.raises(RangeError):
        pressing.retained_per_solid(0.9, 0.9)
    with pytest.raises(RangeError):
        pressing.retained_per_solid(-0.1)
    with pytest.raises(RangeError):
        pressing.juice_yield_share(1.1, 3.0)
    with pytest.raises(RangeError):
        pressing.retention_from_yield(0.98, 0.03)
    with pytest.raises(RangeError):
        pressing.rinse_recovery_share(-1.0, 1.0)
    with pytest.raises(RangeError):
        pressing.retained_per_bought(3.0, -0.1)
    with pytest.raises(FormulateError, match="small_press"):
        pressing.retention("fruit", "mangle")
    with pytest.raises(FormulateError, match="dried_peel"):
        pressing.retention("stick", "drained")
    with pytest.raises(FormulateError, match="low to high"):
        figures.Figure(2.0, 1.0, "kg", "x", "published")
    with pytest.raises(FormulateError, match="confidence"):
        figures.Figure(1.0, 2.0, "kg", "x", "sure")


def test_arrays() -> None:
    found = pressing.juice_yield_share(np.array([0.02, 0.5]), np.array([4.0, 4.0]))
    assert found == pytest.approx([0.9, 0.0])
    assert pressing.retained_per_bought(8.7, 0.033) == pytest.approx(0.2871)


def test_each_element_is_held_to_its_own_limit() -> None:
    # A wet cake of thin liquor beside a dry cake of thick juice: each is possible, whatever the other allows.
    moisture, volatile = np.array([0.8, 0.3]), np.array([1.0, 0.4])
    kept = pressing.retained_per_solid(moisture, volatile)
    assert kept == pytest.approx([0.8 / 0.2, 0.3 / 0.1])
    juice, solids = np.array([0.9, 0.1]), np.array([0.05, 0.85])
    assert pressing.retention_from_yield(juice, solids) == pytest.approx([0.1 / 0.05 - 1.0, 0.9 / 0.85 - 1.0])
    with pytest.raises(RangeError) as caught:
        pressing.retained_per_solid(np.array([0.8, 0.5]), volatile)
    assert (caught.value.value, caught.value.upper) == (0.5, pytest.approx(0.4, abs=1e-6))
    with pytest.raises(RangeError) as caught:
        pressing.retention_from_yield(np.array([0.9, 0.2]), solids)
    assert (caught.value.value, caught.value.upper) == (0.2, pytest.approx(0.15))
    for bad in (-0.1, float("nan")):
        with pytest.raises(RangeError):
            pressing.retained_per_solid(np.array([0.2, bad]), volatile)
        with pytest.raises(RangeError):
            pressing.retention_from_yield(bad, 0.05)
