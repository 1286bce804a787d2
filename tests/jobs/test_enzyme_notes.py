"""What is said about enzyme, pectin, methanol and coarse bitterness, and the figures in it."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest
from conftest import ROOT
from hypothesis import given
from hypothesis import strategies as st

from formulate.blend.pectin import CLEAR_G_L, done_share, hold_before_spirit, pectin_course
from formulate.describe.kitchen_notes import coarse_share
from formulate.errors import Note
from formulate.files.infusing import parse_plan
from formulate.files.recipe import dump_recipe, load_recipe
from formulate.files.steps import EnzymeUse, StepSpec
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from formulate.quantity.words import duration
from tests.worked_examples import bought_example, solved_example

SHELF = """\
currency: EUR
ingredients:
  spirit:
    name: Spirit by weight
    composition: {ethanol: 50 % w/w, water: 50 % w/w}
  root:
    name: Root
    family: root
    composition: {water: 10 % w/w, other_soluble: 20 % w/w, pectin: 8 % w/w, insoluble: 62 % w/w}
    bitterness: {value: 20000, extracted: 90 %}
  berry:
    name: Berry
    family: fruit
    composition: {water: 88 % w/w, fructose: 8 % w/w, pectin: 2 % w/w, insoluble: 2 % w/w}
    retention: 0.1 kg/kg
    ph: 3.0
  mild-berry:
    name: Mild berry
    family: fruit
    composition: {water: 90 % w/w, fructose: 8 % w/w, pectin: 2 % w/w}
    ph: 4.4
"""


def _notes(folder: Path, infuse: str, *lines: str, finish: str = "") -> dict[str, Note]:
    """Predict a recipe of a step `infuse` and a step `finish`, and return its notes and cautions by code."""
    (folder / "shelf.yaml").write_text(SHELF, encoding="utf-8")
    body = "".join(f"  - {line}\n" for line in lines)
    text = f"recipe: Jar\nshelf: shelf.yaml\nsteps:\n  - infuse: {infuse}\n  - finish: {{strain: false}}\n"
    (folder / "jar.yaml").write_text(f"{text}ingredients:\n{body}{finish}", encoding="utf-8")
    record = predict_recipe(folder / "jar.yaml")
    notes = [*record.notes, *(note for note in record.cautions if note.code != "ingredient")]
    codes = [note.code for note in notes]
    assert len(codes) == len(set(codes))
    return {note.code: note for note in notes}


SPIRIT = "spirit: {amount: 1000 g, step: infuse}"
BERRY = "berry: {amount: 500 g, step: infuse}"
ROOT_LINE = "root: {amount: 10 g, step: infuse}"
KITCHEN = {
    "enzyme",
    "unfortified_mash",
    "end_test",
    "methanol",
    "pectin_without_enzyme",
    "coarse",
}


def test_enzyme_before_the_spirit_tells_all_that_is_needed(tmp_path: Path) -> None:
    notes = _notes(tmp_path, "{enzyme: {dose: 2 g/kg}}", SPIRIT, BERRY)
    # 2 g/kg of half a kilogram; 10 g of pectin in about 1.55 L are 6.5 g/L; 0.3/6.5 = 4.6 % shall be left.
    text = notes["enzyme"].text
    assert text.startswith(
        "Enzyme in `infuse`: 1 g of pectinase for 500 g of fruit and pith, with the fruit alone for"
    )
    assert "at 50 °C, then the spirit; pectin from 6.5 to about 0.3 g/L" in text
    assert text.endswith("(our figure is a starting guess; do the end test).")
    assert (
        "below pH 4, at 45 to 50 °C, for two hours at most; then add the spirit or chill"
        in notes["unfortified_mash"].text
    )
    assert "twice its volume of acidified 95 % alcohol" in notes["end_test"].text
    assert "never taste it" in notes["end_test"].text
    assert "pectin_without_enzyme" not in notes


def test_the_methanol_line_by_hand(tmp_path: Path) -> None:
    # 10 g of pectin give at most 1.0 g of methanol; 500 g of ethanol at 789.24 kg/m3 are 0.63353 L. Both are
    # lost in the cake alike: 1.0/0.63353 x 100 = 158 g per hL of pure alcohol, under fruit spirits' 1000.
    note = _notes(tmp_path, "{enzyme: {dose: 2 g/kg}}", SPIRIT, BERRY)["methanol"]
    assert "158 g per hL of pure alcohol: well below the 1000 that EU law allows a fruit spirit" in note.text
    assert "EU spirit drinks regulation" in note.source
    assert "not verified" in note.source
    assert note.short == (
        "Enzyme frees a little methanol from pectin: at most 646 mg/L here, well below the EU's limit for "
        "fruit spirit."
    )
    # The bottle has the jar's composition. 1.440 kg of spirit and berry water at 945 kg/m3 (34.7 % w/w of
    # ethanol, between 954 at 30 and 935 at 40 in the CRC Handbook) are 1.524 L, 40 g of fructose add 0.025 L:
    # 1.0 g in 1.549 L is 646 mg/L.
    shown = re.search(r"at most (\d+) mg/L bottled", note.text)
    assert shown is not None
    assert int(shown[1]) == pytest.approx(1000.0 / 1.549, abs=2.0)


def test_methanol_above_the_yardstick_is_said_calmly(tmp_path: Path) -> None:
    little = "spirit: {amount: 100 g, step: infuse}"
    much = "berry: {amount: 3000 g, step: infuse}"
    # 60 g of pectin: 6 g; 50 g of ethanol are 0.06335 L: 9471 g per hL.
    text = _notes(tmp_path, "{enzyme: {dose: 2 g/kg}}", little, much)["methanol"].text
    assert "9471 g per hL of pure alcohol: above the 1000" in text
    assert "upper bound" in text
    assert "Ask a licensed professional" in text


def test_without_alcohol_methanol_is_told_per_litre_only(tmp_path: Path) -> None:
    text = _notes(tmp_path, "{enzyme: {dose: 2 g/kg}}", "water: {amount: 1000 g, step: infuse}", BERRY)[
        "methanol"
    ].text
    assert "mg/L bottled" in text
    assert "pure alcohol" not in text


@pytest.mark.parametrize("degrees", [4, 20, 50, 65, 80])
def test_with_spirit_it_is_slower_never_impossible(tmp_path: Path, degrees: int) -> None:
    step = f"{{time: 1 h, temperature: {degrees} °C, enzyme: {{dose: 2 g/kg, when: with spirit}}}}"
    notes = _notes(tmp_path, step, SPIRIT, BERRY)
    text = notes["enzyme"].text
    assert "with the spirit, at 41 % vol" in text
    assert "slower at this strength" in text
    assert "our figure is a starting guess; do the end test" in text
    everything = " ".join(note.text for note in notes.values()).lower()
    for word in ("cannot finish", "never finish", "will not finish", "impossible"):
        assert word not in everything
    assert "Kept warm, an hour often does, even with spirit and sugar in (common practice)." in text
    # Fortified, and never without the spirit: no word about a mash.
    assert "unfortified_mash" not in notes


def test_with_spirit_but_without_a_time_only_the_test_tells(tmp_path: Path) -> None:
    text = _notes(tmp_path, "{enzyme: {dose: 2 g/kg, when: with spirit}}", SPIRIT, BERRY)["enzyme"].text
    assert "no time and temperature, so only the end test tells when it is done" in text
    assert "nan" not in text


def test_fruit_that_is_not_sour_is_named(tmp_path: Path) -> None:
    notes = _notes(tmp_path, "{enzyme: {dose: 2 g/kg}}", SPIRIT, "mild-berry: {amount: 500 g, step: infuse}")
    assert (
        "mild-berry is not below pH 4 by itself: measure, and add acid first."
        in notes["unfortified_mash"].text
    )
    notes = _notes(tmp_path, "{enzyme: {dose: 2 g/kg}}", SPIRIT, BERRY)
    assert "by itself" not in notes["unfortified_mash"].text


def test_a_heavy_dose_is_remarked(tmp_path: Path) -> None:
    notes = _notes(tmp_path, "{enzyme: {dose: 8 g/kg}}", SPIRIT, BERRY)
    assert "More than the usual 1 to 4 g/kg." in notes["enzyme"].text


def test_rich_fruit_without_enzyme_gets_a_quiet_word_and_a_dry_root_none(tmp_path: Path) -> None:
    notes = _notes(tmp_path, "{loss: 1 %}", SPIRIT, BERRY)
    assert set(notes) & KITCHEN == {"pectin_without_enzyme"}
    assert "up to 6.5 g of pectin per litre into `infuse`" in notes["pectin_without_enzyme"].text
    assert not set(_notes(tmp_path, "{loss: 1 %}", SPIRIT, ROOT_LINE)) & KITCHEN
    # Where an enzyme is weighed in as an ingredient, nobody needs to be told to give one.
    given_one = _notes(tmp_path, "{loss: 1 %}", SPIRIT, BERRY, "pectinase: {amount: 1 g, step: infuse}")
    assert "pectin_without_enzyme" not in given_one


def test_enzyme_without_fruit_says_nothing(tmp_path: Path) -> None:
    assert not set(_notes(tmp_path, "{enzyme: {dose: 2 g/kg}}", SPIRIT, ROOT_LINE)) & KITCHEN


def test_coarse_bitterness_is_told_and_can_be_switched_off(tmp_path: Path) -> None:
    # 5 % in two weeks at 20 °C; 24 h at 50 °C stand for 1260 h there: 1 - 0.95^(1260/336) = 17.5 %.
    hot = _notes(tmp_path, "{time: 24 h, temperature: 50 °C}", SPIRIT, ROOT_LINE)
    assert hot["coarse"].text.startswith(
        "About 18 % of the bitterness drawn in `infuse` may be coarse after 24 h at 50 °C"
    )
    assert "working model" in hot["coarse"].text
    assert "coarse" not in _notes(tmp_path, "{time: 14 days, temperature: 20 °C}", SPIRIT, ROOT_LINE)
    assert "coarse" not in _notes(
        tmp_path, "{time: 24 h, temperature: 50 °C, harsh: false}", SPIRIT, ROOT_LINE
    )
    assert "coarse" not in _notes(tmp_path, "{time: 24 h, temperature: 50 °C}", SPIRIT, BERRY)
    assert coarse_share(StepSpec(name="infuse")) is None


def test_heated_spirit_is_warned_of(tmp_path: Path) -> None:
    warm = _notes(tmp_path, "{time: 1 h, temperature: 50 °C}", SPIRIT, ROOT_LINE)
    assert "Electric water bath only, no flame" in warm["flash_point"].text
    assert "it may be 4 °C lower" in warm["flash_point"].text
    assert "flash_point" not in _notes(tmp_path, "{time: 1 h, temperature: 18 °C}", SPIRIT, ROOT_LINE)
    assert "flash_point" not in _notes(tmp_path, "{loss: 1 %}", SPIRIT, ROOT_LINE)


def test_solve_tells_the_same_as_predict() -> None:
    solved = solved_example("blackcurrant-liqueur")
    codes = {note.code for note in solved.record.notes}
    assert codes >= {"enzyme", "unfortified_mash", "end_test"}
    assert "methanol" in {note.code for note in solved.record.cautions}
    damson = solved_example("damson-aperitif")
    assert "pectin_without_enzyme" in {note.code for note in damson.record.notes}


def test_the_enzyme_is_weighed_paid_for_and_bought() -> None:
    """2 g/kg of fruit at 11.50 EUR for 100 g, by hand; fruit and enzyme stand before the spirit."""
    solved = solved_example("blackcurrant-liqueur")
    lines = {line.ingredient: line for line in solved.record.recipe}
    weighed, fruit = lines["pectinase"], lines["blackcurrant"]
    assert weighed.mass_kg == pytest.approx(0.002 * fruit.mass_kg, rel=1e-6)
    assert weighed.step == fruit.step == "infuse"
    assert list(lines)[:3] == ["blackcurrant", "pectinase", "vodka-40"]
    assert weighed.cost == pytest.approx(11.50 * weighed.mass_kg / 0.100, rel=1e-6)
    assert solved.record.cost.total == pytest.approx(
        sum(line.cost or 0.0 for line in lines.values()), rel=1e-9
    )
    bought = {line.name: line for line in bought_example("blackcurrant-liqueur").lines}
    assert (bought["pectinase"].packs, bought["pectinase"].cost) == (1, pytest.approx(11.50))


def test_a_recipe_that_only_says_enzyme_weighs_it_in_too(tmp_path: Path) -> None:
    """The dose of the step by the fruit in it; a recipe that lists the enzyme keeps what it lists."""
    step = "{enzyme: {dose: 2 g/kg}}"
    _notes(tmp_path, step, SPIRIT, BERRY, ROOT_LINE)
    lines = {line.ingredient: line.mass_kg for line in predict_recipe(tmp_path / "jar.yaml").recipe}
    assert lines["pectinase"] == pytest.approx(0.001)  # the dried root is not fruit
    _notes(tmp_path, step, SPIRIT, BERRY, "pectinase: {amount: 3 g, step: infuse}")
    lines = {line.ingredient: line.mass_kg for line in predict_recipe(tmp_path / "jar.yaml").recipe}
    assert lines["pectinase"] == pytest.approx(0.003)


def test_the_enzyme_of_a_plan_reaches_the_notes_of_solve() -> None:
    plan = parse_plan("24 h at 20 °C with enzyme with spirit")
    solved = solve_bottle(ROOT / "examples" / "bottles" / "blackcurrant-liqueur.yaml", plan=plan)
    text = next(note.text for note in solved.record.notes if note.code == "enzyme")
    assert "slower at this strength" in text


def test_a_recipe_with_enzyme_is_written_and_read_back(tmp_path: Path) -> None:
    _notes(
        tmp_path,
        "{time: 1 h, temperature: 50 °C, enzyme: {dose: 1.5 g/kg, when: with spirit}, harsh: false}",
        SPIRIT,
    )
    recipe = load_recipe(tmp_path / "jar.yaml")
    (tmp_path / "again.yaml").write_text(dump_recipe(recipe), encoding="utf-8")
    again = load_recipe(tmp_path / "again.yaml")
    assert again == recipe
    assert again.steps[0].enzyme == EnzymeUse(dose_g_per_kg=1.5, when="with spirit")
    assert again.steps[0].harsh is False


# ---- laws ---------------------------------------------------------------------------------------

DOSES = st.floats(0.01, 20.0)
DEGREES = st.floats(-20.0, 100.0)
HOURS = st.floats(0.0, 8784.0)
STRENGTHS = st.floats(0.0, 96.0)
ORDERS = st.sampled_from(["before spirit", "with spirit"])


@given(
    dose=DOSES,
    degrees=DEGREES,
    hours=HOURS,
    longer=HOURS,
    strength=STRENGTHS,
    before=st.floats(0.0, 500.0),
    when=ORDERS,
)
def test_pectin_only_falls_and_never_below_nothing(
    dose: float, degrees: float, hours: float, longer: float, strength: float, before: float, when: str
) -> None:
    enzyme = EnzymeUse(dose_g_per_kg=dose, when=when)  # type: ignore[arg-type]
    left, hold, _ = pectin_course(enzyme, before, hours, degrees, strength)
    later, _, _ = pectin_course(enzyme, before, hours + longer, degrees, strength)
    assert 0.0 <= later <= left <= before
    assert (hold is not None) == (when == "before spirit")
    stronger, _, _ = pectin_course(enzyme, before, hours, degrees, min(strength + 10.0, 100.0))
    assert stronger >= left * (1 - 1e-12)
    assert pectin_course(None, before, hours, degrees, strength) == (before, None, None)


@given(dose=DOSES, before=st.floats(0.0, 500.0), degrees=st.none() | DEGREES)
def test_fruit_alone_stays_inside_the_rule(dose: float, before: float, degrees: float | None) -> None:
    hold = hold_before_spirit(EnzymeUse(dose_g_per_kg=dose), before, degrees)
    assert 0.0 < hold.time_h <= 2.0
    assert 45.0 <= hold.temperature_c <= 50.0
    assert hold.time_h * 12 == pytest.approx(round(hold.time_h * 12))
    assert 0.0 < done_share(before) <= 0.05
    if before:
        assert done_share(before) * before <= max(CLEAR_G_L, 1e-6 * before) * (1 + 1e-9)


def test_before_spirit_leaves_less_than_with_spirit() -> None:
    hours = np.array([0.5, 1.0, 2.0, 24.0])
    for time_h in hours:
        first, _, _ = pectin_course(EnzymeUse(dose_g_per_kg=2.0), 6.0, float(time_h), 50.0, 30.0)
        both, _, _ = pectin_course(
            EnzymeUse(dose_g_per_kg=2.0, when="with spirit"), 6.0, float(time_h), 50.0, 30.0
        )
        assert first < both


@pytest.mark.parametrize(
    ("hours", "text"),
    [
        (0.25, "15 min"),
        (1.0, "1 h"),
        (95 / 60, "1 h 35"),
        (24.0, "24 h"),
        (48.0, "2 days"),
        (54.0, "2 d 6 h"),
    ],
)
def test_durations_as_a_cook_says_them(hours: float, text: str) -> None:
    assert duration(hours) == text
    assert math.isfinite(hours)
