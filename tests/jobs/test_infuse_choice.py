"""`infuse`: which plan is recommended, what stops a quicker one, and a plan between the rows."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from formulate.describe.infuse_record import Miss, Plan, PlanLimits
from formulate.errors import UnitError
from formulate.files.infusing import parse_plan
from formulate.files.recipe import dump_recipe, load_recipe
from formulate.jobs.infuse import compare_plans, infuse_texts
from formulate.optimise.refinement import minimise_few
from formulate.planning.infusion_choice import GRID, choose
from formulate.quantity.words import duration
from formulate.report.first_screen import More
from formulate.report.infuse_text import plans_text
from tests.jobs.infusing import RECIPE, row_of, written_jar


@pytest.fixture
def jar(tmp_path: Path) -> Path:
    """A recipe of round figures."""
    return written_jar(tmp_path)


def _plan(name: str, clock_h: float, *misses: tuple[str, float], enzyme: Any = None) -> Plan:
    plan = parse_plan(name)
    return Plan(
        name=name,
        time_h=plan.time_h,
        temperature_c=plan.temperature_c,
        enzyme=enzyme,
        enzyme_hold_h=0.0,
        enzyme_hold_c=50.0,
        drawn=(),
        bitterness_value=0.0,
        colour_left=None,
        harsh_share=None,
        pectin_left_g_l=0.0,
        strength_pct_vol=30.0,
        volume_l=1.0,
        cost_per_l=None,
        warm_up_h=0.0,
        straining_h=0.0,
        clock_h=clock_h,
        above_flash_point=False,
        misses=tuple(Miss(limit, f"too little {limit}", short) for limit, short in misses),
    )


def test_the_quickest_that_keeps_every_limit_is_chosen_and_the_stop_named() -> None:
    plans = [
        _plan("24 h at 20 °C", 24.0),
        _plan("1 h at 50 °C", 1.0, ("drawn", 0.5)),
        _plan("4 h at 50 °C", 4.0),
        _plan("2 h at 60 °C", 2.0, ("harsh", 0.2), ("drawn", 0.1)),
    ]
    best, meets, sentence = choose(plans)
    assert (best.name, meets) == ("4 h at 50 °C", True)
    assert sentence == (
        "Quickest row that keeps every limit: 4 h at 50 °C. "
        "The next quicker, 2 h at 60 °C, is stopped by too little harsh."
    )


def test_a_quickest_with_nothing_quicker_says_so() -> None:
    best, meets, sentence = choose([_plan("1 h at 50 °C", 1.0), _plan("2 h at 50 °C", 2.0)])
    assert (best.name, meets) == ("1 h at 50 °C", True)
    assert sentence.endswith("No plan here is quicker.")


def test_without_one_that_keeps_all_the_nearest_is_named_with_what_it_misses() -> None:
    plans = [
        _plan("1 h at 50 °C", 1.0, ("drawn", 0.5)),
        _plan("2 days at 20 °C", 48.0, ("drawn", 0.1), ("harsh", 0.05)),
        _plan("4 days at 20 °C", 96.0, ("harsh", 0.3)),
    ]
    best, meets, sentence = choose(plans)
    assert (best.name, meets) == ("2 days at 20 °C", False)
    assert sentence == (
        "No plan here keeps every limit. Nearest: 2 days at 20 °C, with too little drawn; too little harsh."
    )


def test_the_stop_is_told_for_the_same_enzyme_too() -> None:
    plans = [
        _plan("4 h at 50 °C", 6.0, enzyme="before spirit"),
        _plan("6 h at 20 °C", 5.5, ("pectin_left", 0.9), enzyme="with spirit"),
        _plan("2 h at 50 °C", 4.0, ("drawn", 0.1), enzyme="before spirit"),
    ]
    assert choose(plans)[2].endswith(
        "6 h at 20 °C, enzyme with the spirit, is stopped by too little pectin_left; "
        "with the enzyme as here, 2 h at 50 °C by too little drawn."
    )


def test_limits_decide(jar: Path) -> None:
    loose = compare_plans(jar, limits=PlanLimits(drawn=0.6))
    strict = compare_plans(jar, limits=PlanLimits(drawn=0.95, harsh=0.02))
    assert loose.meets
    assert loose.chosen.clock_h < strict.chosen.clock_h
    assert all(not plan.misses or plan.clock_h >= 0 for plan in loose.plans)
    # Root: 40 % at once and 95 % after ln 12 x 5 h = 12.4 h at 20 °C; 2 % coarse after 132 h. An hour at
    # 50 °C is too short, four are too coarse, two days at 20 °C are neither.
    assert {miss.limit for miss in row_of(strict, 1.0, 50.0).misses} == {"drawn"}
    assert {miss.limit for miss in row_of(strict, 4.0, 50.0).misses} == {"harsh"}
    assert not row_of(strict, 48.0, 20.0).misses
    cool = compare_plans(jar, limits=PlanLimits(drawn=0.0, hottest_c=45.0))
    assert "hottest" in {miss.limit for miss in row_of(cool, 1.0, 50.0).misses}
    assert cool.chosen.temperature_c <= 45.0


def test_between_the_rows_is_quicker_rounded_and_keeps_every_limit(jar: Path) -> None:
    record = compare_plans(jar, limits=PlanLimits(drawn=0.9, harsh=0.01))
    refined = record.refined
    assert refined is not None
    assert not refined.misses
    assert refined.clock_h < record.chosen.clock_h
    assert refined.temperature_c == round(refined.temperature_c)
    assert refined.time_h * 12 == pytest.approx(round(refined.time_h * 12))
    # By hand: the hottest allowed is the quickest until the jar gets coarse; 90 % of the root at T takes
    # ln 6 x 5 h/f55(T), by when 1 - 0.95^(f104 t/336) is coarse: 1 % at f104/f55 = 7.35, 52 °C.
    factor = -math.log(0.99) / -math.log(0.95) * 336 / (math.log(6) * 5)
    warmth = math.log(factor) * 8.314462618 / 49_000
    assert refined.temperature_c == pytest.approx(1 / (1 / 293.15 - warmth) - 273.15, abs=1.5)
    warmer = 1 / 293.15 - 1 / (refined.temperature_c + 273.15)
    f55 = math.exp(55_000 / 8.314462618 * warmer)
    assert refined.time_h == pytest.approx(math.log(6) * 5 / f55, rel=0.08)  # rounded up to five minutes


def test_the_minimiser_finds_a_corner_and_says_when_there_is_none() -> None:
    # min x + y with x y >= 1 in a square: (1, 1).
    found = minimise_few(
        lambda x: float(x.sum()),
        lambda x: np.array([x[0] * x[1] - 1.0]),
        [(3.0, 2.0)],
        [(0.1, 4.0), (0.1, 4.0)],
    )
    assert found == pytest.approx([1.0, 1.0], abs=1e-4)
    nothing = minimise_few(
        lambda x: float(x.sum()), lambda x: np.array([x[0] - 5.0]), [(3.0, 2.0)], [(0.1, 4.0), (0.1, 4.0)]
    )
    assert nothing is None


def test_without_spirit_long_and_warm_is_not_recommended(jar: Path) -> None:
    jar.write_text(RECIPE.replace("spirit: {amount: 1000 g", "water: {amount: 1000 g"), encoding="utf-8")
    record = compare_plans(jar)
    assert "keeping" in {miss.limit for miss in row_of(record, 24.0, 20.0).misses}
    assert "keeping" not in {miss.limit for miss in row_of(record, 2.0, 50.0).misses}
    assert "keeping" not in {miss.limit for miss in row_of(record, 240.0, 5.0).misses}
    # Without spirit there is nothing to be before of.
    assert {plan.enzyme for plan in record.plans} == {None, "with spirit"}
    assert "flash_point" not in {note.code for note in record.cautions}


def test_harsh_switched_off_is_not_held_against_a_plan(jar: Path) -> None:
    jar.write_text(RECIPE.replace("{separate", "{harsh: false, separate"), encoding="utf-8")
    record = compare_plans(jar)
    assert all(plan.harsh_share is None for plan in record.plans)
    assert "harsh" not in {miss.limit for plan in record.plans for miss in plan.misses}


def test_the_file_own_plan_is_a_row(jar: Path) -> None:
    jar.write_text(RECIPE.replace("{separate", "{time: 3 h, temperature: 55 °C, separate"), encoding="utf-8")
    record = compare_plans(jar)
    assert row_of(record, 3.0, 55.0).name == "3 h at 55 °C"
    assert len({(plan.time_h, plan.temperature_c) for plan in record.plans}) == len(GRID) + 1


def test_plans_asked_for_stand_beside_the_usual_ones(jar: Path) -> None:
    """From the command line and from the file, in one table; what is in the grid already stands once."""
    listed = RECIPE + "plans: [36 h at 4 °C, 1 h at 50 °C with enzyme]\n"
    jar.write_text(listed, encoding="utf-8")
    assert load_recipe(jar).plans[0] == parse_plan("36 h at 4 °C")
    (jar.parent / "again.yaml").write_text(dump_recipe(load_recipe(jar)), encoding="utf-8")
    assert load_recipe(jar.parent / "again.yaml").plans == load_recipe(jar).plans
    record = infuse_texts(jar, plans=["90 min at 45 °C", "36 h at 4 °C"])
    assert record.own == ("36 h at 4 °C", "1 h at 50 °C", "90 min at 45 °C")
    assert len({(plan.time_h, plan.temperature_c) for plan in record.plans}) == len(GRID) + 2
    shown = plans_text(record, More.ALL).splitlines()
    assert any(line.startswith("+ 36 h 4 °C") for line in shown)
    with pytest.raises(UnitError, match="--plan: a plan is a time and a temperature, got 'overnight'"):
        infuse_texts(jar, plans=["overnight"])


def test_hours_are_recommended_where_they_keep_what_days_keep(jar: Path) -> None:
    """No row up to 45 °C draws 96 % of the root within a day; between the rows some hours at 45 °C do.

    By hand: 4 h at 35 °C leave 0.6 exp(-4/5 x 3.0), 5 %; 96 % out takes ln(0.6/0.04) x 5 h over the Arrhenius
    factor of 45 °C at 55 kJ/mol, 5.9: 2.3 h.
    """
    limits = PlanLimits(drawn=0.96, hottest_c=45.0)
    record = compare_plans(jar, limits=limits)
    assert record.meets
    assert record.chosen.clock_h > 24.0
    assert record.status == "refined"
    assert record.best.temperature_c == 45.0
    assert record.best.time_h == pytest.approx(math.log(0.6 / 0.04) * 5.0 / 5.9, rel=0.05)
    shown = " ".join(plans_text(record, More.ALL).split())
    assert "temperature: 45 °C` on the step infuse" in shown


def test_the_clock_is_one_number_with_everything_in_it(jar: Path) -> None:
    """Warm-up, fruit and enzyme alone, steep and each strainer add up to it, to the five minutes shown."""
    jar.write_text(RECIPE.replace("cloth]", "cloth, paper]"), encoding="utf-8")
    record = compare_plans(jar)
    best = record.best
    assert best.enzyme == "before spirit"
    assert best.clock_h == pytest.approx(
        best.warm_up_h + best.enzyme_hold_h + best.time_h + sum(one.time_h for one in record.strainers)
    )
    # 1, 5 and 20 minutes a litre.
    assert [one.time_h * 60 / record.liquor_l for one in record.strainers] == pytest.approx([1, 5, 20])
    shown = " ".join(plans_text(record, More.ALL).split())
    whole = duration(math.ceil(best.clock_h * 12) / 12)
    assert f"Be there {whole}: " in shown
    assert "of fruit and enzyme at 50 °C" in shown
    assert "straining (coarse sieve 2 min, cloth 8 min, paper 31 min)" in shown


def test_a_step_that_only_strains_is_counted_as_sieve_and_cloth(jar: Path) -> None:
    jar.write_text(RECIPE.replace("infuse: {separate: [coarse-sieve, cloth]}", "infuse"), encoding="utf-8")
    record = compare_plans(jar)
    assert [(one.name, one.named) for one in record.strainers] == [("coarse-sieve", False), ("cloth", False)]
    assert "no_straining_time" in {note.code for note in record.notes}
