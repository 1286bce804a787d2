"""`gauge` as typed: readings with their units, what cannot be, and the screen and document it leaves."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import RunCommand

from formulate.errors import ReadingError, UnitError
from formulate.jobs.gauge import gauge_texts
from formulate.learn.gauge import gauge
from formulate.learn.readings import Readings
from formulate.quantity import Dimension, parse_band
from formulate.quantity.readings import (
    Scale,
    parse_density_reading,
    parse_refraction_reading,
    parse_resolution,
    parse_temperature_step,
)

# --- what cannot be -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"density": "SG 0.5", "refraction": "20 Brix"}, "SG 0.5 belongs to no drink"),
        ({"density": "SG 1.6", "refraction": "20 Brix"}, "SG 1.6 belongs to no drink"),
        ({"density": "SG 1.05", "refraction": "nD 2"}, "nD 2 belongs to no drink"),
        ({"density": "SG 1.05", "refraction": "nD 1.2"}, "nD 1.2 belongs to no drink"),
        ({"refraction": "80 Brix", "strength": "60 % vol"}, "whatever the sugar, a drink shows 19.0 Brix to"),
        ({"density": "SG 1.0425", "refraction": "8 Brix"}, "At that density a drink shows 10.6 Brix to"),
        ({"density": "SG 0.90", "refraction": "60 Brix"}, "contradict"),
        ({"density": "SG 1.05", "sugar": "20 g/L"}, "whatever the strength, a drink shows"),
        ({"density": "95 Plato", "refraction": "20 Brix"}, "tabled to 85"),
        ({"density": "SG 1.05", "refraction": "20 Brix", "at": "60 °C"}, "from 0 to 40"),
        ({}, "Nothing was read"),
        ({"density": "SG 1.05"}, "Give density and refraction"),
        ({"density": "SG 1.05", "refraction": "20 Brix", "sugar": "20 g/L"}, "makes 3"),
        (
            {"density": "SG 1.05", "sugar": "9 g/L", "refraction_step": "0.2 Brix"},
            "stands without its reading",
        ),
    ],
)
def test_nonsense_is_explained(options: dict[str, str], words: str) -> None:
    with pytest.raises(ReadingError) as told:
        gauge_texts(**options)
    assert words in str(told.value)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"density": "1.0425"}, "--density: the scale is missing, got 1.0425"),
        ({"density": "1.0425 kg"}, "not a scale for this"),
        ({"density": "SG 1.04 50/50"}, "no hydrometer scale called 50/50"),
        ({"density": "-2 Plato"}, "a liquid lighter than water has no Plato"),
        ({"density": "SG x"}, "no number found"),
        ({"refraction": "31"}, "--refraction: the scale is missing"),
        ({"refraction": "12 Plato"}, "Plato is a scale of density"),
        ({"density": "SG 1.05", "sugar": "200"}, "--sugar: the unit is missing"),
        ({"density": "SG 1.05", "at": "20"}, "--at: the unit is missing"),
        ({"density": "SG 1.05", "density_step": "0.2 Brix"}, "--density-step: not the scale of the reading"),
        ({"density": "SG 1.05", "thermometer": "1"}, "--thermometer: "),
    ],
)
def test_what_cannot_be_read_names_the_option(options: dict[str, str], words: str) -> None:
    with pytest.raises(UnitError) as told:
        gauge_texts(**options)
    assert words in str(told.value)


@pytest.mark.parametrize(
    ("text", "value", "scale"),
    [
        ("SG 1.0425", 1.0425, Scale.SPECIFIC_GRAVITY),
        ("1.0425 SG", 1.0425, Scale.SPECIFIC_GRAVITY),
        ("sg 0.995 (60/60 °F)", 0.995, Scale.SPECIFIC_GRAVITY),
        ("1042.5 kg/m3", 1042.5, Scale.DENSITY),
        ("1.0425 g/mL", 1042.5, Scale.DENSITY),
        ("10.6 °P", 10.6, Scale.PLATO),
        ("10.6 Brix", 10.6, Scale.BRIX),
    ],
)
def test_density_readings(text: str, value: float, scale: Scale) -> None:
    reading = parse_density_reading(text)
    assert (reading.value, reading.scale) == (pytest.approx(value), scale)


def test_steps_of_tools_and_thermometers() -> None:
    assert parse_resolution("0.001 SG", Scale.SPECIFIC_GRAVITY) == 0.001
    assert parse_resolution("0.0001 nD", Scale.INDEX) == 0.0001
    assert parse_resolution("0.1 Brix", Scale.BRIX) == 0.1
    assert parse_temperature_step("0.5 °C") == 0.5
    assert parse_temperature_step("9 °F") == pytest.approx(5.0)
    with pytest.raises(UnitError, match="that far off tells nothing, got 1000 °C"):
        parse_temperature_step("1000 °C")
    with pytest.raises(UnitError, match=r"a decimal comma, got SG 1,0425 60/60. Write SG 1\.0425 60/60\."):
        parse_density_reading("SG 1,0425 60/60")
    with pytest.raises(UnitError, match=r"a decimal comma, got nD 1,3625. Write nD 1\.3625\."):
        parse_refraction_reading("nD 1,3625")


def test_the_index_alone_may_fit_two_strengths() -> None:
    record = gauge_texts(refraction="nD 1.3655", sugar="0 g/L", solids="0 g/L")
    # CRC 102e: nD 1.3657 at 76 and 1.3656 at 84 % w/w, highest between; that is 82 to 88 % vol.
    assert record.other_strength_pct_vol is not None
    assert record.strength.value < 84.0 < record.other_strength_pct_vol
    assert "two_strengths" in {note.code for note in record.notes}


def test_a_hair_below_nothing_is_nothing() -> None:
    # Water and a syrup read a little low by the refractometer: still no alcohol, and it says so.
    record = gauge_texts(density="12 Plato", refraction="11.9 Brix")
    assert record.strength.value == 0.0
    assert record.strength.expanded > 0.3
    assert record.sugar.value == pytest.approx(125.6, abs=0.3)  # 12 % w/w of 1046.4 kg/m3 (SPS-4)
    assert "no_alcohol" in {note.code for note in record.notes}


# --- the command --------------------------------------------------------------------------------------


def test_command_shows_figures_with_their_doubt(run_here: RunCommand) -> None:
    done = run_here("gauge", "--density", "SG 1.0524 20/20", "--at", "22 °C", "--refraction", "25.1 Brix")
    assert (done.exit_code, done.stderr, done.crash) == (0, "", "")
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0] == "SG 1.0524 20/20 at 22 °C and 25.1 Brix at 22 °C"
    assert any(line.startswith("strength ") and "% vol" in line for line in lines)
    assert "95 of 100" in done.stdout
    assert "measured by a lab" in done.stdout


def test_no_strength_above_the_whole_is_shown(run_here: RunCommand) -> None:
    # 800 kg/m3 is about 98 % vol; a thermometer 15 K off would put the upper end at 105.
    done = run_here(
        *("gauge", "--density", "800 kg/m3", "--refraction", "nD 1.3610", "--thermometer", "15 °C")
    )
    (line,) = (line for line in done.stdout.splitlines() if line.startswith("strength "))
    assert line.split()[-1] == "100.0"
    assert float(line.split()[1]) > 97.0


def test_command_writes_one_document(run_here: RunCommand) -> None:
    done = run_here("gauge", "--density", "SG 1.0524", "--refraction", "25.1 Brix", "--json")
    document: dict[str, Any] = json.loads(done.stdout)
    assert document["schema_version"] == 1
    assert document["strength_pct_vol"]["value"] == pytest.approx(19.6, abs=0.3)
    assert {"value", "standard_uncertainty", "expanded_uncertainty", "coverage_factor"} <= set(
        document["sugar_g_l"]
    )


@pytest.mark.parametrize(
    "arguments",
    [
        ["--density", "SG 0.5", "--refraction", "20 Brix"],
        ["--density", "SG 1.05", "--refraction", "nD 2"],
        ["--refraction", "80 Brix", "--strength", "60 % vol"],
        ["--density", "1.05", "--refraction", "20 Brix"],
        ["reading.yaml", "--density", "SG 1.05"],
        [],
    ],
)
def test_command_explains_nonsense_and_leaves_with_2(arguments: list[str], run_here: RunCommand) -> None:
    done = run_here("gauge", *arguments)
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert len(done.stderr) > 40


def test_known_bands_are_read_as_their_middle() -> None:
    band = parse_band("190 to 210 g/L", Dimension.MASS_CONCENTRATION)
    record = gauge(Readings(density=parse_density_reading("SG 1.0524"), sugar=band))
    assert record.sugar.value == 200.0


def test_one_reading_of_what_may_be_fruit_is_refused(tmp_path: Path, run_here: RunCommand) -> None:
    """Extract of 20 to 30 g/L would pass for alcohol that is not there, or hide some that is."""
    one = ("gauge", "--density", "SG 1.0524", "--sugar", "200 g/L")
    told = run_here(*one)
    assert (told.exit_code, told.stdout) == (2, "")
    assert "fruit leaves 20 to 30 g/L" in " ".join(told.stderr.split())
    assert run_here(*one, "--solids", "0 g/L").exit_code == 0
    plain, fruit = (
        gauge_texts(density="SG 1.0524", sugar="200 g/L", solids=solids).strength.value
        for solids in ("0 g/L", "25 g/L")
    )
    assert 6.0 < fruit - plain < 11.0
    reading = tmp_path / "reading.yaml"
    reading.write_text("reading: One\ndensity: SG 1.0524\nsugar: 200 g/L\n", "utf-8")
    assert run_here("gauge", reading).stderr.startswith(f"{reading.as_posix()}:2:10: density: One reading")
