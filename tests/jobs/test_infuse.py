"""`infuse`: one plan by hand, the laws every plan keeps, and a probe in the jar."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.bar.batch import weigh_batch
from formulate.bar.opening import open_pantry
from formulate.describe.infuse_record import PlanLimits
from formulate.files.recipe import load_recipe
from formulate.jobs.infuse import compare_plans
from formulate.jobs.options import read_probe
from formulate.planning.infusion_plans import PlanTable
from formulate.report.first_screen import More
from formulate.report.infuse_text import plans_text
from tests.jobs.infusing import RECIPE, row_of, written_jar


@pytest.fixture
def jar(tmp_path: Path) -> Path:
    """A recipe of round figures."""
    return written_jar(tmp_path)


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> PlanTable:
    """The same, ready to work out any plan."""
    recipe = load_recipe(written_jar(tmp_path_factory.mktemp("jar")))
    batch = weigh_batch(recipe, open_pantry(recipe.shelf_path, recipe.places))
    return PlanTable(batch, recipe.resolved_steps(), 0, PlanLimits(), 20.0, None, False, None)


def test_a_plan_by_hand(jar: Path) -> None:
    # Ethanol 500 g; water 500 + 1 (root) + 440 (berry) = 941 g: 34.7 % w/w of ethanol in ethanol and water,
    # which OIML R 22 puts between 40 and 55 % vol. Both tables of strength stand at 1 there.
    # Volume: 1.441 kg at about 945 kg/m3 is 1.525 L, 40 g of fructose and 2 g of other matter add about
    # 0.026 L: 1.55 L, 0.6335 L of which is ethanol (500 g at 789.24 kg/m3): 40.8 % vol.
    # 2 h at 50 °C, from the figures of the physics: R = 8.314462618 J/(mol K).
    record = compare_plans(jar)
    plan = row_of(record, 2.0, 50.0)
    litres = record.liquor_l
    assert litres == pytest.approx(1.55, rel=0.005)
    assert record.strength_pct_vol == pytest.approx(63.353 / litres, rel=1e-3)

    warmer = 55_000.0 / 8.314462618 * (1 / 293.15 - 1 / 323.15)
    root = 0.4 + 0.6 * (1 - math.exp(-2 / 5 * math.exp(warmer)))  # 40 % at once; 5 h at 20 °C, 55 kJ/mol
    berry = 0.4 + 0.6 * (1 - math.exp(-2 / 0.5))  # 40 % at once; half an hour at 50 °C
    shares = {drawn.ingredient: (drawn.what, drawn.share, drawn.of_best) for drawn in plan.drawn}
    assert shares["root"] == ("bitterness", pytest.approx(root), pytest.approx(root))
    assert shares["berry"] == ("colour", pytest.approx(berry), pytest.approx(berry))
    assert 0.976 < root < 0.977  # worked out on paper: e to 2.0949 is 8.125, e to -3.25 is 0.0388
    # Everything is lost in proportion, so the bottle is as bitter as the jar: value x g x extracted/mL.
    assert plan.bitterness_value == pytest.approx(20_000 * 10 * 0.9 * root / (litres * 1000), rel=1e-9)
    assert plan.colour_left == pytest.approx(math.exp(-0.009 * 2))
    # 5 % coarse after 336 h at 20 °C, 104 kJ/mol.
    assert plan.harsh_share == pytest.approx(1 - 0.95 ** (2 / 336 * math.exp(104 / 55 * warmer)))
    assert plan.pectin_left_g_l == pytest.approx(0.02 * 500 / litres)
    # A coarse sieve and a cloth: 1 + 5 minutes per litre; no time for the step that strains nothing.
    assert plan.straining_h == pytest.approx(6 * litres / 60)
    # Contents: liquor and 7 + 20 g of solids at 0.67 L/kg, 1.5 times as high as wide: V = pi R^2 x 3 R.
    contents = litres + 0.027 * 0.67
    radius = (contents / 1000 / (3 * math.pi)) ** (1 / 3)
    # Stirred: 4 kJ/(L K) through 100 W/(m2 K) of bottom and side, pi R^2 + 6 pi R^2, from 30 K to 2 K.
    stirred = 4000 * contents / (100 * 7 * math.pi * radius**2) / 3600 * math.log(30 / 2)
    assert plan.warm_up_h == pytest.approx(stirred, rel=1e-6)
    assert 0.5 < stirred < 0.9  # a jar of a litre and a half in a bath: about three quarters of an hour
    assert plan.clock_h == pytest.approx(stirred + 2 + 6 * litres / 60)
    # Left still: first term of the series.
    constant = radius**2 / (2.4048256**2 * 1.43e-7) / 3600
    still = row_of(compare_plans(jar, still=True), 2.0, 50.0)
    assert still.warm_up_h == pytest.approx(constant * math.log(1.6019746 * 30 / 2), rel=1e-6)
    # 10 + 0.5 + 2.5 EUR.
    assert plan.cost_per_l == pytest.approx(13 / plan.volume_l)
    assert plan.misses == ()
    hasty = row_of(compare_plans(jar, limits=PlanLimits(drawn=0.99)), 2.0, 50.0)
    assert [miss.limit for miss in hasty.misses] == ["drawn", "drawn"]
    assert hasty.misses[0].text == "98 % drawn out of the root (bitterness), at least 99 % is asked"


def test_enzyme_before_spirit_by_hand(jar: Path) -> None:
    # 10 g of pectin. 2 g/kg at 50 °C without spirit: 2.22/h; the enzyme dies at ln 20 x 60/25 per hour at
    # 60 °C, 350 kJ/mol. Wanted: 5 % left, or 0.3 g/L if that is less.
    record = compare_plans(jar, clear=True)
    plan = row_of(record, 2.0, 50.0, "before spirit")
    before = 10 / record.liquor_l
    death = math.log(20) * 60 / 25 * math.exp(350_000 / 8.314462618 * (1 / 333.15 - 1 / 323.15))
    wanted = min(0.05, 0.3 / before)
    hours = -math.log1p(math.log(wanted) * death / 2.22) / death
    hold = math.ceil(hours * 12) / 12
    assert plan.enzyme_hold_h == pytest.approx(hold)
    assert plan.enzyme_hold_c == 50.0
    alive = math.exp(-death * hold)
    after_hold = before * math.exp(-2.22 * (1 - alive) / death)
    # With the spirit in, above 40 % vol, 2 % of the rate is left (starting guess of the physics).
    slow = 0.02 * 2.22 * alive * (1 - math.exp(-2 * death)) / death
    assert plan.pectin_left_g_l == pytest.approx(after_hold * math.exp(-slow), rel=1e-9)
    assert plan.pectin_left_g_l < 0.3
    plain = row_of(record, 2.0, 50.0)
    assert plan.clock_h == pytest.approx(plain.clock_h + hold)
    assert plan.colour_left == pytest.approx(math.exp(-0.009 * (2 + hold)))
    slower = row_of(record, 2.0, 50.0, "with spirit")
    full = 0.02 * 2.22 * (1 - math.exp(-2 * death)) / death
    assert slower.pectin_left_g_l == pytest.approx(before * math.exp(-full), rel=1e-9)
    assert slower.clock_h == pytest.approx(plain.clock_h)


def test_a_smaller_vessel_warms_faster_and_start_counts(jar: Path) -> None:
    whole = row_of(compare_plans(jar), 1.0, 50.0)
    jar.write_text(RECIPE.replace("{separate", "{vessel: jar-1l, separate"), encoding="utf-8")
    split = row_of(compare_plans(jar), 1.0, 50.0)
    # Stirred, time goes with volume over wall, so with the volume to the 1/3; the jar holds 1 of 1.57 L.
    ratio = compare_plans(jar).jar_l / (compare_plans(jar).liquor_l + 0.027 * 0.67)
    assert split.warm_up_h == pytest.approx(whole.warm_up_h * ratio ** (1 / 3), rel=1e-6)
    cold = row_of(compare_plans(jar, start_c=5.0), 1.0, 50.0)
    assert cold.warm_up_h > split.warm_up_h
    # A jar that is at the bath's temperature already does not warm up.
    assert row_of(compare_plans(jar, start_c=50.0), 1.0, 50.0).warm_up_h == 0.0


TIMES = st.floats(0.02, 500.0)
DEGREES = st.floats(2.0, 80.0)
ORDERS = st.sampled_from([None, "before spirit", "with spirit"])


@given(hours=TIMES, longer=TIMES, degrees=DEGREES, order=ORDERS)
def test_longer_is_never_less_drawn(
    table: PlanTable, hours: float, longer: float, degrees: float, order: Any
) -> None:
    first = table.course(hours, degrees, order)
    second = table.course(hours + longer, degrees, order)
    for short, long in zip(first.drawn, second.drawn, strict=True):
        assert 0.0 <= short.share <= long.share <= 1.0
        assert long.of_best <= long.share
    assert first.harsh_share is not None
    assert second.harsh_share is not None
    assert first.harsh_share <= second.harsh_share
    assert second.pectin_left_g_l <= first.pectin_left_g_l * (1 + 1e-12)


@given(hours=TIMES, degrees=DEGREES, warmer=st.floats(0.0, 20.0))
def test_hotter_is_never_slower_to_a_given_extraction(
    table: PlanTable, hours: float, degrees: float, warmer: float
) -> None:
    cool = table.course(hours, degrees, None)
    hot = table.course(hours, degrees + warmer, None)
    assert all(b.share >= a.share - 1e-12 for a, b in zip(cool.drawn, hot.drawn, strict=True))


@given(hours=TIMES, degrees=DEGREES, order=ORDERS)
def test_enzyme_never_leaves_negative_pectin_nor_makes_any(
    table: PlanTable, hours: float, degrees: float, order: Any
) -> None:
    plan = table.plan(hours, degrees, order)
    assert 0.0 <= plan.pectin_left_g_l <= table.pectin.before_g_l
    assert plan.enzyme_hold_h <= 2.0
    # The quick way the minimiser takes and the whole way agree.
    assert table.clock_h(hours, degrees, order) == pytest.approx(plan.clock_h)


def test_a_probe_replaces_the_estimate(jar: Path) -> None:
    # Half of the gap of 30 K left after 1 h: constant = 1/ln(1.602/0.5); to 2 K: constant x ln(1.602 x 30/2).
    probe = read_probe("35 °C after 60 min", "50 °C", 20.0)
    assert probe is not None
    constant = 1 / math.log(1.6019746 / 0.5)
    assert probe.time_constant_h == pytest.approx(constant, rel=1e-6)
    assert probe.remaining_h == pytest.approx(constant * math.log(0.5 / (2 / 30)), rel=1e-6)
    record = compare_plans(jar, probe=probe)
    plan = row_of(record, 1.0, 50.0)
    assert plan.warm_up_h == pytest.approx(probe.remaining_h + 1.0, rel=1e-6)
    assert plan.clock_h == pytest.approx(plan.warm_up_h + 1.0 + plan.straining_h)
    assert "Probe: 35 °C after 1 h in a 50 °C bath." in " ".join(plans_text(record, More.ALL).split())
