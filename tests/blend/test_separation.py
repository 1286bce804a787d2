"""Straining against published and customary points: retention, press cakes, what filters drink."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.blend.chain import Chain, Step
from formulate.blend.materials import LIQUOR, Materials
from formulate.blend.separation import SEPARATIONS, strain_through
from formulate.physics.mixture import COMPONENTS, INDEX

names = st.lists(st.sampled_from(sorted(SEPARATIONS)), max_size=5)


def strained(retention: float, step: Step, solid_kg: float = 0.06, water_kg: float = 1.0) -> float:
    """Liquor left in the cake of a dry plant in water, kg."""
    content = np.zeros((2, LIQUOR))
    content[0, INDEX["water"]] = 1.0
    materials = Materials(
        ("water", "plant"), COMPONENTS, content, np.array([0.0, 1.0]), np.array([0.0, retention])
    )
    run = Chain(materials, (step,)).run(np.array([[water_kg, solid_kg]]))
    assert run.bottled.sum() == pytest.approx(water_kg - float(run.kept_kg[0]) - float(run.lost_kg[0]))
    return float(run.kept_kg[0])


def test_coffee_grounds_keep_what_was_measured() -> None:
    """A barista training site: 3.2 g/g measured after decanting and 2.1 g/g after pressing; drip about 2."""
    # Through the chain: 60 g of grounds on a litre of water, measured retentions, nothing else in the way.
    assert strained(3.2, Step("decant")) == pytest.approx(0.192, rel=1e-12)
    assert strained(2.1, Step("press")) == pytest.approx(0.126, rel=1e-12)
    # Pressing after decanting: the factor of the step is the ratio of the two.
    assert strained(3.2, Step("press", cake_factor=2.1 / 3.2)) == pytest.approx(0.126, rel=1e-12)


@pytest.mark.parametrize(
    ("moisture", "kept"),
    [(0.60, 1.5), (0.70, 2.333), (0.75, 3.0), (0.80, 4.0)],
)
def test_press_cake_rule(moisture: float, kept: float) -> None:
    """m/(1 - m), derived: of 100 g of cake at 60 % moisture 60 g is liquor on 40 g of solid.

    Back through the chain: a plant of that retention leaves a cake that dries by m.
    """
    assert moisture / (1.0 - moisture) == pytest.approx(kept, abs=5e-4)
    wet = strained(moisture / (1.0 - moisture), Step("press"))
    assert wet / (wet + 0.06) == pytest.approx(moisture, rel=1e-12)


def test_what_filters_drink_is_what_practice_says() -> None:
    """Common practice: cloth or nut-milk bag 0.5 to 1 % of the batch; a paper coffee filter 10 to 20 mL."""
    assert 0.005 <= SEPARATIONS["cloth"].loss_fraction <= 0.01
    # 10 to 20 mL of a liqueur between water (1.00 kg/L) and syrup (1.15 kg/L).
    assert 0.010 <= SEPARATIONS["paper"].hold_up_kg <= 0.020 * 1.15
    assert SEPARATIONS["paper"].cake_factor is None


@pytest.mark.parametrize(
    ("tools", "low", "high"),
    [
        # Fruit, common practice: 3 to 5 by hand in a bag, 1.5 to 2.3 in a small press: 1.9 of 4.0 is 0.475,
        # and within the extremes 0.3 to 0.77.
        (("press",), 1.5 / 5.0, 2.3 / 3.0),
        (("coarse-sieve", "cloth", "press"), 1.5 / 5.0, 2.3 / 3.0),
        (("cloth",), 1.0, 1.0),
        (("paper",), 1.0, 1.0),
        ((), 1.0, 1.0),
    ],
)
def test_cake_factor_of_fruit(tools: tuple[str, ...], low: float, high: float) -> None:
    assert low <= strain_through(tools).cake_factor <= high


@pytest.mark.parametrize(
    ("drained", "pressed"),
    [
        # Common practice, g of liquor per g of dry plant; coffee published (2.1 of 3.2, 0.66).
        ((2.0, 3.0), (1.0, 1.8)),
        ((4.0, 7.0), (2.5, 3.5)),
        ((3.0, 4.0), (2.0, 2.5)),
        ((3.0, 3.2), (2.1, 2.1)),
    ],
    ids=["root", "leaf", "dried peel", "coffee"],
)
def test_pressed_over_drained_of_dried_plants(
    drained: tuple[float, float], pressed: tuple[float, float]
) -> None:
    """What a press leaves of what a sieve leaves, within the extremes of practice for the plant."""
    ratio = strain_through(["press"]).dried_factor / strain_through(["coarse-sieve"]).dried_factor
    assert pressed[0] / drained[1] <= ratio <= pressed[1] / drained[0]


def test_series_by_hand() -> None:
    """A coarse sieve, a cloth, a press and two papers, added up by hand."""
    series = strain_through(["coarse-sieve", "cloth", "press", "paper", "paper"])
    # The cake is as dry as the press left it; 1.8 and 1.0 before it do not matter.
    assert series.cake_factor == 0.5
    # 0.75 % in the cloth, 0.5 % of the rest in the press: 1 - 0.9925 x 0.995 = 0.0124625.
    assert series.loss_fraction == pytest.approx(0.0124625, rel=1e-12)
    # Two papers of 15 mL.
    assert series.hold_up_kg == pytest.approx(0.030, rel=1e-12)
    # 1 + 5 + 3 + 20 + 20 minutes per litre.
    assert series.minutes_per_l == pytest.approx(49.0, rel=1e-12)
    assert strain_through([]) == strain_through(())
    assert (strain_through([]).loss_fraction, strain_through([]).hold_up_kg) == (0.0, 0.0)


@given(names, st.sampled_from(sorted(SEPARATIONS)))
def test_one_more_separation_never_keeps_or_loses_less(before: list[str], extra: str) -> None:
    """It dries the cake or leaves it, and drinks some; only a lone sieve is wetter than a bag."""
    shorter, longer = strain_through(before), strain_through([*before, extra])
    if any(SEPARATIONS[name].cake_factor is not None for name in before):
        assert longer.cake_factor <= shorter.cake_factor
    assert 0.0 <= shorter.loss_fraction <= longer.loss_fraction < 1.0
    assert shorter.hold_up_kg <= longer.hold_up_kg
    assert shorter.minutes_per_l < longer.minutes_per_l


@given(names)
def test_the_order_of_separations_does_not_matter(tools: list[str]) -> None:
    forth, back = strain_through(tools), strain_through(tools[::-1])
    assert forth.cake_factor == back.cake_factor
    assert forth.loss_fraction == pytest.approx(back.loss_fraction, abs=1e-15)
    assert forth.hold_up_kg == pytest.approx(back.hold_up_kg, rel=1e-12)
