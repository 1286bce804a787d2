"""Jar files: what went in, what came out, what stayed behind; and files that are wrong."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.errors import SpecError
from formulate.files.jar import load_jar
from formulate.files.reading import load_reading
from formulate.jobs.check import check_files
from formulate.jobs.jar import JarRecord, predict_file, predict_jar

SHELF = """\
currency: EUR
vessels:
  pot: 3 L
offers:
  vodka-40: {price: 10 EUR/L}
  white-sugar: {price: 1.20 EUR/kg}
ingredients:
  soaker:
    name: Soaks up liquor, gives nothing
    retention: 0.5 kg/kg
    composition: {insoluble: 100 % w/w}
    sources: [{figures: [composition, retention], source: invented, confidence: measured here}]
offers_end: none
"""
SHELF = SHELF.replace("offers_end: none\n", "")

JAR = """\
jar: Test
shelf: shelf.yaml
steps:
  - infuse: {vessel: pot}
  - finish: {strain: false}
ingredients:
  - vodka-40: {amount: 2 L, step: infuse}
  - soaker: {amount: 400 g, step: infuse}
  - white-sugar: {amount: 300 g, step: finish}
"""


def _written(folder: Path, jar: str = JAR, shelf: str = SHELF) -> Path:
    (folder / "shelf.yaml").write_text(shelf, encoding="utf-8")
    path = folder / "jar.yaml"
    path.write_text(jar, encoding="utf-8")
    return path


def _jar(folder: Path, came_out: str = "") -> JarRecord:
    return predict_jar(_written(folder, JAR + came_out))


# 2 L of 40 % vol spirit weigh 2 x 948.045 g (OIML R 22 at 20 C): 1896.09 g.
SPIRIT_KG = 1.896090


def test_without_what_came_out_the_starting_values_stand(tmp_path: Path) -> None:
    record = _jar(tmp_path)
    assert record.out == ()
    assert record.weighed_in_kg == pytest.approx(SPIRIT_KG + 0.4 + 0.3, abs=1e-5)
    # The cake keeps 0.5 x 400 g.
    assert record.drink.predicted.mass_kg == pytest.approx(SPIRIT_KG - 0.2 + 0.3, abs=1e-5)


def test_weighed_out_by_hand(tmp_path: Path) -> None:
    """1.750 kg out of 1.896 kg: the cake kept 146.1 g, 0.365 kg/kg; nothing else moves."""
    record = _jar(tmp_path, "came_out: {infuse: 1.750 kg}\n")
    (out,) = record.out
    assert out.in_cake
    assert out.mass_kg == pytest.approx(1.750, abs=1e-9)
    assert out.missing_kg == pytest.approx(SPIRIT_KG - 1.750, abs=1e-5)
    assert out.starting_kg == pytest.approx(0.2)
    assert out.calculated_kg == pytest.approx(SPIRIT_KG - 0.2, abs=1e-5)
    drink = record.drink.predicted
    assert drink.mass_kg == pytest.approx(2.050, abs=1e-9)
    # Ethanol 33.2996 % of the spirit's mass, 0.789239 g/mL; volume of the whole by the drink's own density.
    ethanol_l = 1.750 * 0.332996 / 0.789239
    assert drink.strength_pct_vol == pytest.approx(100.0 * ethanol_l / drink.volume_l, abs=1e-3)
    # The library's white sugar is 99.8 % sucrose.
    assert drink.sugar_g_l == pytest.approx(300.0 * 0.998 / drink.volume_l, rel=1e-6)
    told = " ".join(note.text for note in record.drink.notes)
    assert "kept 146 g of liquor; the starting value is 200 g" in told
    assert "soaker keeps 0.37 kg/kg" in told


def test_measured_out_in_litres_is_the_same(tmp_path: Path) -> None:
    weighed = _jar(tmp_path, "came_out: {infuse: 1.750 kg}\n")
    # 1.750 kg of 40 % vol spirit at 948.045 kg/m3.
    measured = _jar(tmp_path, f"came_out: {{infuse: {1.750 / 0.948045:.9f} L}}\n")
    assert measured.drink.predicted.strength_pct_vol == pytest.approx(
        weighed.drink.predicted.strength_pct_vol, abs=1e-4
    )
    assert measured.out[0].mass_kg == pytest.approx(1.750, abs=1e-5)


def test_after_the_last_step_it_is_lost_not_kept(tmp_path: Path) -> None:
    record = _jar(tmp_path, "came_out: 1.900 kg\n")
    (out,) = record.out
    assert (out.step, out.in_cake) == ("finish", False)
    assert out.missing_kg == pytest.approx(SPIRIT_KG - 0.2 + 0.3 - 1.900, abs=1e-5)
    assert record.drink.predicted.mass_kg == pytest.approx(1.900, abs=1e-9)


def test_two_steps_are_fitted_one_after_the_other(tmp_path: Path) -> None:
    record = _jar(tmp_path, "came_out: {infuse: 1.750 kg, finish: 2.000 kg}\n")
    assert [out.step for out in record.out] == ["infuse", "finish"]
    assert record.out[1].missing_kg == pytest.approx(0.050, abs=1e-9)
    assert record.drink.predicted.mass_kg == pytest.approx(2.000, abs=1e-9)


def test_how_full_the_vessel_is(tmp_path: Path) -> None:
    (fill,) = _jar(tmp_path).fills
    # 2 L of spirit and 0.4 kg of solids at 0.67 L/kg (cellulose, about 1500 kg/m3).
    assert (fill.vessel, fill.holds_l) == ("pot", 3.0)
    assert fill.volume_l == pytest.approx(2.0 + 0.4 * 0.67, abs=1e-4)


def test_far_from_usual_is_said(tmp_path: Path) -> None:
    record = _jar(tmp_path, "came_out: {infuse: 1.200 kg}\n")
    assert "far from usual" in " ".join(note.text for note in record.drink.notes)


@pytest.mark.parametrize(
    ("added", "place", "words"),
    [
        (
            "came_out: {infuse: 2.1 kg}\n",
            "jar.yaml:10:20: came_out.infuse:",
            "more came out of infuse than went in",
        ),
        ("came_out: 2.6 kg\n", "jar.yaml:10:11: came_out:", "more came out of finish"),
        ("came_out: {press: 1.8 kg}\n", "jar.yaml:10:12: came_out.press:", "no step called 'press'"),
        ("came_out: 1.8\n", "jar.yaml:10:11: came_out:", "must be a weight or a volume, got 1.8"),
        ("came_out: 2 bottles\n", "jar.yaml:10:11: came_out:", "must be a weight or a volume"),
        ("came_out: {infuse: 0 kg}\n", "jar.yaml:10:20: came_out.infuse:", "must be above zero"),
        ("volume: 2 L bottled\n", "jar.yaml:10:1: volume:", "a jar says what came out"),
        ("cameout: 1.8 kg\n", "jar.yaml:10:1: cameout:", "Did you mean 'came_out'?"),
    ],
)
def test_wrong_files_are_told_with_their_place(added: str, place: str, words: str, tmp_path: Path) -> None:
    path = _written(tmp_path, JAR + added)
    with pytest.raises(SpecError) as told:
        predict_jar(path)
    assert place in str(told.value)
    assert words in str(told.value)


def test_a_recipe_is_still_a_recipe(tmp_path: Path) -> None:
    recipe = predict_file(_written(tmp_path, JAR.replace("jar: Test", "recipe: Test")))
    jar = predict_file(_written(tmp_path))
    assert not isinstance(recipe, JarRecord)
    assert isinstance(jar, JarRecord)
    assert recipe.predicted == jar.drink.predicted


def test_the_example_jar(run_here: RunCommand) -> None:
    path = "examples/jars/damson-jar.yaml"
    assert load_jar(ROOT / path).came_out
    done = run_here("predict", "--all", path)
    assert (done.exit_code, done.stderr, done.crash) == (0, "", "")
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert "3.70 kg came out" in done.stdout
    document = json.loads(run_here("predict", path, "--json").stdout)
    assert document["schema_version"] == 1
    assert document["came_out"][0]["mass_g"] == pytest.approx(3700.0)
    assert document["predicted"]["mass_kg"] == pytest.approx(3.7)


def test_check_knows_jars_and_readings() -> None:
    kinds = {
        file.name: file.kind for file in check_files(sorted((ROOT / "examples" / "jars").glob("*.yaml")))
    }
    assert set(kinds.values()) == {"jar", "reading"}


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("reading: a\ndensity: 1.05\n", ":2:10: density:", "the scale is missing, got 1.05"),
        ("reading: a\nrefraction: 12 Plato\n", ":2:13: refraction:", "Plato is a scale of density"),
        ("reading: a\ndensity: SG 1.05\nat: 20\n", ":3:5: at:", "the unit is missing"),
        (
            "reading: a\ndensity: SG 1.05\ndensity_step: 1 Brix\n",
            ":3:15: density_step:",
            "not the scale of the reading",
        ),
        ("reading: a\nrefraction_step: 1 Brix\n", ":2:1: refraction_step:", "stands without a refraction"),
    ],
)
def test_wrong_readings_are_told_with_their_place(text: str, place: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "reading.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SpecError) as told:
        load_reading(path)
    assert place in str(told.value)
    assert words in str(told.value)
