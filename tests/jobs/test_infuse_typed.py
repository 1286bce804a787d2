"""What a person types for `infuse` and `solve --infuse`: read, written back, refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand
from hypothesis import given
from hypothesis import strategies as st

from formulate.describe.infuse_record import PlanLimits
from formulate.errors import FormulateError, SpecError, UnitError
from formulate.files.bottle import load_bottle
from formulate.files.infusing import PlanText, parse_plan, parse_probe, plan_text
from formulate.formulation.planned_step import with_plan
from formulate.jobs.infuse import compare_plans
from formulate.jobs.options import read_limits, read_plan, read_probe
from tests.jobs.infusing import RECIPE, written_jar


@pytest.fixture
def jar(tmp_path: Path) -> Path:
    """A recipe of round figures."""
    return written_jar(tmp_path)


@pytest.mark.parametrize(
    ("text", "plan"),
    [
        ("1 h at 50 °C", PlanText(1.0, 50.0)),
        ("90 min at 45 °C with enzyme", PlanText(1.5, 45.0, True)),
        ("90 min at 45 C, with enzyme, before the spirit", PlanText(1.5, 45.0, True, "before spirit")),
        ("2 days at 68 °F with enzyme with spirit", PlanText(48.0, 20.0, True, "with spirit")),
        ("36 h at 20 °C without enzyme", PlanText(36.0, 20.0, False)),
    ],
)
def test_a_plan_is_read(text: str, plan: PlanText) -> None:
    assert parse_plan(text) == plan


@given(minutes=st.integers(1, 60 * 24 * 30), degrees=st.integers(-20, 100))
def test_a_plan_written_reads_back(minutes: int, degrees: int) -> None:
    read = parse_plan(plan_text(minutes / 60.0, float(degrees)))
    assert read.time_h == pytest.approx(minutes / 60.0)
    assert read.temperature_c == degrees
    odd = parse_plan(plan_text(minutes / 61.7, degrees * 0.73))
    assert odd.time_h == pytest.approx(minutes / 61.7, rel=1e-5)
    assert odd.temperature_c == pytest.approx(degrees * 0.73, rel=1e-5)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "hello",
        "1 h",
        "-1 h at 50 °C",
        "1 h at 300 °C",
        "1 at 50 °C",
        "1 h at 50",
        "3 years at 20 °C",
        "600 days at 20 °C",
        "1 h at 50 °C without enzyme before spirit",
        "1 h at 50 °C with enzymes",
    ],
)
def test_a_plan_that_no_kitchen_does_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse_plan(text)
    with pytest.raises(FormulateError, match=r"^--infuse: "):
        read_plan(text)


@pytest.mark.parametrize("text", ["35 °C", "35 after 20 min", "35 °C after 0 min", "35 °C after -2 min", "x"])
def test_a_reading_that_says_nothing_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse_probe(text)


@pytest.mark.parametrize(
    ("probe", "bath", "said"),
    [
        ("35 °C after 20 min", None, "--probe needs --bath"),
        (None, "50 °C", "--bath needs --probe"),
        ("55 °C after 20 min", "50 °C", "does not lie between the start (20 °C) and the bath (50 °C)"),
        ("20 °C after 20 min", "50 °C", "does not lie between"),
        ("35 °C after 20 min", "300 °C", "--bath: a step may be -20 to 100 °C"),
        ("warm after 20 min", "50 °C", "--probe: "),
    ],
)
def test_a_probe_that_cannot_be_is_refused(probe: str | None, bath: str | None, said: str) -> None:
    with pytest.raises(FormulateError) as caught:
        read_probe(probe, bath, 20.0)
    assert said in str(caught.value)


def test_limits_are_read_with_their_units() -> None:
    limits = read_limits("70 %", "20 %", "95 %", "500 mg/L", "55 °C")
    assert limits == PlanLimits(0.7, 0.2, 0.95, 0.5, 55.0)
    for option, given_text in (("--drawn", {"drawn": "70"}), ("--pectin-left", {"pectin_left": "1 g"})):
        with pytest.raises(FormulateError, match=f"^{option}: "):
            read_limits(**given_text)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--infuse", "-1 h at 50 °C"], "--infuse: must not be negative, got -1 h."),
        (["--infuse", "1 h at 300 °C"], "--infuse: a step may be -20 to 100 °C, got '300 °C'."),
        (
            ["--infuse", "1 h at 50 °C", "--step", "infus"],
            "no step called 'infus' here. Did you mean 'infuse'?",
        ),
        (["--step", "infuse"], "--step says where a plan goes."),
    ],
)
def test_solve_refuses_a_bad_plan_in_one_sentence_or_two(
    arguments: list[str], said: str, run_here: RunCommand
) -> None:
    done = run_here("solve", "--all", "examples/bottles/damson-aperitif.yaml", *arguments)
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert done.stderr.startswith(said)
    assert len(done.stderr.splitlines()) <= 2  # wrapped, never a trace


def test_infuse_refuses_what_it_cannot_plan(jar: Path, run_here: RunCommand) -> None:
    done = run_here("infuse", jar, "--step", "nowhere")
    assert done.exit_code == 2
    assert done.stderr.startswith("no step called 'nowhere' here.")
    done = run_here("infuse", "examples/shelf.yaml")
    assert done.exit_code == 2
    assert "Give a bottle or a recipe file" in done.stderr


@pytest.mark.parametrize(
    ("change", "place", "said"),
    [
        (
            ("  - infuse: {separate: [coarse-sieve, cloth]}", "  - infuse: {strain: false}"),
            "jar.yaml:3:1",
            "strain",
        ),
        (
            ("{separate: [coarse-sieve, cloth]}", "{time: -2 h, temperature: 20 °C}"),
            "jar.yaml:4:20",
            "negative",
        ),
        (
            ("{separate: [coarse-sieve, cloth]}", "{time: 2 h, temperature: 300 °C}"),
            "jar.yaml:4:38",
            "at most 100",
        ),
        (
            ("  - root: {amount: 10 g, step: infuse}\n  - berry: {amount: 500 g, step: infuse}\n", ""),
            "jar.yaml:6:1",
            "nothing in infuse is drawn out by time",
        ),
    ],
)
def test_one_located_error(change: tuple[str, str], place: str, said: str, jar: Path) -> None:
    jar.write_text(RECIPE.replace(*change), encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        compare_plans(jar)
    assert len(caught.value.problems) == 1
    location = caught.value.problems[0].location
    assert location is not None
    assert f"{Path(location.file).name}:{location.line}:{location.column}" == place
    assert said in str(caught.value)


def test_a_plan_in_a_step_that_strains_nothing_is_refused_where_it_stands() -> None:
    bottle = load_bottle(ROOT / "examples" / "bottles" / "damson-aperitif.yaml")
    with pytest.raises(SpecError, match=r"nothing is strained off at the end of finish"):
        with_plan(bottle, PlanText(1.0, 50.0), "finish")
    planned = with_plan(bottle, PlanText(1.0, 50.0, True))
    assert planned.resolved_steps()[0].time_h == 1.0
    assert bottle.resolved_steps()[0].time_h is None
    assert replace(PlanText(1.0, 50.0), enzyme=True) == PlanText(1.0, 50.0, True)
