"""Trial files: what they become, and what contradicts itself, told before anything is fitted to it."""

from __future__ import annotations

import re
from pathlib import Path

import jsonschema
import pytest
from conftest import ROOT

import formulate
from formulate.errors import SpecError
from formulate.files.located import load_document
from formulate.files.schema import json_schema
from formulate.files.trial import load_trial
from formulate.learn.trials import tried_jar

TRIALS = ROOT / "examples" / "trials"
EXAMPLES = sorted(TRIALS.glob("*.yaml"))


@pytest.fixture
def sixty(tmp_path: Path) -> Path:
    """A jar of 560 g, two thirds of it spirit, of things the library knows."""
    path = tmp_path / "sixty.yaml"
    path.write_text(
        "trial: Sixty\n"
        "plan: 1 day at 20 °C\n"
        "ingredients:\n"
        "  - vodka-40: {amount: 360 g}\n"
        "  - damson: {amount: 200 g}\n",
        encoding="utf-8",
    )
    return path


def _with(path: Path, *lines: str) -> Path:
    path.write_text(path.read_text(encoding="utf-8") + "\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_schema_takes_the_examples_and_says_where_each_thing_is_measured(path: Path) -> None:
    schema = json_schema("trial")
    jsonschema.Draft202012Validator.check_schema(schema)
    checks = jsonschema.Draft202012Validator(schema)
    data = load_document(path).data
    assert checks.is_valid(data), list(checks.iter_errors(data))
    assert not checks.is_valid({**data, "whatever": "x"})
    where = {key: one.get("measured at") for key, one in schema["properties"].items()}
    assert {where[key] for key in ("jar_full", "cake", "bottled", "plan", "neat", "ph")} == {"bar"}
    assert {where[key] for key in ("strength", "sugar", "acid")} == {"laboratory"}


def test_a_share_of_a_recipe_weighs_that_share_and_keeps_the_plan() -> None:
    trial = load_trial(TRIALS / "fridge.yaml")
    jar = tried_jar(trial)
    whole = formulate.predict(ROOT / "examples/recipes/red-fruit-bitter.yaml")
    grams = {line["ingredient"]: line["mass_g"] for line in whole.to_dict()["recipe"]}
    names = [one.id for one in jar.batch.ingredients]
    for name, mass in zip(names, jar.batch.masses_kg.sum(axis=0), strict=True):
        assert mass * 1000.0 == pytest.approx(0.2 * grams[name])
    # 2 November 18:30 to 4 November 18:45, by the clock in the file.
    assert jar.batch.chain.steps[0].time_h == pytest.approx(48.25)
    assert jar.batch.chain.steps[0].temperature_c == 4.0
    assert {one.what for one in jar.observed} == {
        *("cake", "bottled", "density", "refraction", "acid", "bitterness", "colour")
    }


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["cake: 150 g", "bottled: 414 g"], r"bottled: cake and bottles weigh 564 g together, and 560 g"),
        (["jar_full: 580 g"], r"jar_full: 580 g are in the jar, and 560 g went in"),
        (["jar_full: 540 g", "cake: 560 g"], r"cake: the cake weighs 560 g, more than all .*540 g"),
        (["bottled: 600 g"], r"bottled: 600 g came out, and 560 g went in"),
        (["cake: 1 g"], r"cake: the cake weighs 1 g, less than the \d+ g of dry matter"),
        (["density: SG 0.5"], r"density: SG 0\.5 belongs to no drink: pure spirit is SG 0\.791"),
        (["refraction: nD 2"], r"refraction: nD 2 belongs to no drink: water is 1\.3330"),
        (["refraction: 80 Brix", "strength: 60 % vol"], r"refraction: 80 Brix and 60 % vol contradict"),
        (
            ["density: SG 0.95", "refraction: 60 Brix"],
            r"density: These readings contradict each other|density: .*No drink",
        ),
    ],
)
def test_what_cannot_be_is_explained_at_its_place(sixty: Path, lines: list[str], said: str) -> None:
    with pytest.raises(SpecError) as refused:
        formulate.compare(_with(sixty, *lines))
    assert re.search(said, str(refused.value)), str(refused.value)
    assert refused.value.problems[0].location is not None
    assert refused.value.problems[0].location.line >= 6


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (["neat: {fruity: 3}"], r"no word of taste called 'fruity'\. Did you mean 'fruit'"),
        (["neat: {fruit: 6}"], r"a mark is 1 \(hardly\) to 5 \(very\), got 6"),
        (["started: 2026-11-02 10:00"], "needs the other time too"),
        (["started: 2026-11-02 10:00", "pressed: 2026-11-02 09:00"], "not after it was started"),
        (
            ["started: 2026-11-02 10:00", "pressed: 2026-11-02 12:00"],
            r"the clock says 2 h, the plan 24 h\. Correct one",
        ),
        (["of: other.yaml"], "one of the two"),
        (["share: 20 %"], "is of a recipe"),
        (["volume: 5 L bottled"], "a trial weighs what came out"),
        (["cake: 30"], "unit is missing"),
        (["density: 1.04"], "the scale is missing"),
        (["colour_thinned: 0.5"], "greater than or equal to 1|at least 1|must be"),
    ],
)
def test_slips_of_the_pen_are_told(sixty: Path, lines: list[str], said: str) -> None:
    with pytest.raises(SpecError, match=said):
        load_trial(_with(sixty, *lines))


def test_what_is_neither_in_the_cake_nor_in_the_bottles_is_remarked_on(sixty: Path) -> None:
    record = formulate.compare(_with(sixty, "cake: 150 g", "bottled: 360 g"))
    assert [note.code for note in record.notes] == ["much_missing"]
    assert "50 g of 560 g" in record.notes[0].text
