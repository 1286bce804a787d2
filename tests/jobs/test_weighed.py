"""`solve --weigh`: what the screen and the JSON say, and what they say when no rounding fits."""

from __future__ import annotations

import json
import re
import shutil
from datetime import date
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.bar.balances import steps_kg
from formulate.errors import RoundingError
from formulate.jobs.predict import predict_recipe
from formulate.jobs.solve import solve_bottle
from formulate.jobs.weighed import CannotWeigh, weigh_solved
from tests.worked_examples import solved_example

WIDTH = 80
BOTTLES = [
    path for path in sorted((ROOT / "examples" / "bottles").glob("*.yaml")) if "too-cheap" not in path.stem
]

SHELF = """\
name: Test shelf
currency: EUR
balances:
  - {name: kitchen, step: STEP, up_to: 5 kg}
offers:
  vodka-40: {pack: 70 cl, price: 9.60 EUR}
  white-sugar: {pack: 1 kg, price: 1.15 EUR}
  citric-acid: {pack: 500 g, price: 4.30 EUR}
"""
BOTTLE = """\
name: Small one
size: 300 mL bottled
shelf: shelf.yaml
targets: {strength: 20 ± 0.3 % vol, sugar: 150 ± 5 g/L, acid: 4 to 6 g/L}
ingredients: [vodka-40, water, white-sugar, citric-acid]
"""


def _written(folder: Path, step: str, bottle: str = BOTTLE) -> Path:
    (folder / "shelf.yaml").write_text(SHELF.replace("STEP", step), encoding="utf-8")
    path = folder / "bottle.yaml"
    path.write_text(bottle, encoding="utf-8")
    return path


@pytest.mark.parametrize("path", BOTTLES, ids=lambda path: path.stem)
def test_the_running_total_is_what_one_scale_shows(path: Path, run_here: RunCommand) -> None:
    done = run_here("solve", "--weigh", "--json", str(path))
    assert done.exit_code == 0, done.stderr
    document = json.loads(done.stdout)
    totals: dict[str, float] = {}
    for line in document["recipe"]:
        totals[line["step"]] = totals.get(line["step"], 0.0) + line["mass_g"]
        assert line["running_total_g"] == pytest.approx(totals[line["step"]], rel=1e-12)
    assert document["status"] == "feasible"
    # Two thousandths, and half a step of 0.1 g of each plant that comes to a few grams.
    small = [line for line in document["recipe"] if line["mass_g"] < 10.0]
    rounding = sum(0.05 / line["mass_g"] * line["cost"] for line in small) / document["cost"]["total"]
    assert 0.0 < document["cost"]["proven_gap"] <= 2e-3 + rounding
    assert document["warnings"][0]["code"] == "weighed"


@pytest.mark.parametrize("path", BOTTLES, ids=lambda path: path.stem)
def test_the_screen_shows_grams_measures_and_the_scale(path: Path, run_here: RunCommand) -> None:
    done = run_here("solve", "--all", "--weigh", str(path))
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= WIDTH
    head = next(line for line in lines if line.startswith("step"))
    assert head.split("  ")[-1].strip() == "on the scale"
    assert "EUR" not in head
    plain = run_here("solve", "--all", str(path)).stdout
    assert "on the scale" not in plain
    assert "running_total_g" not in run_here("solve", "--json", str(path)).stdout


def test_liquids_are_offered_in_bottles_and_millilitres(run_here: RunCommand) -> None:
    """2686 g of 40 % vol spirit at 0.94806 kg/L (OIML R 22, 20 C) is 2.833 L: four bottles and 33 mL."""
    shown = run_here("solve", "--all", "--weigh", "examples/bottles/damson-aperitif.yaml").stdout
    line = next(line for line in shown.splitlines() if "vodka-40" in line)
    grams = float(line.split("vodka-40")[1].split()[0])
    rest_ml = 1000.0 * (grams / 948.06 - 4 * 0.7)
    assert f"4 bottles of 70 cl + {rest_ml:.0f} mL" in line


def test_the_shelfs_own_balance_is_used(tmp_path: Path) -> None:
    # At 1 g for everything 300 mL cannot be weighed; the acid alone is only 1.2 to 1.8 g, so 1 g misses it.
    fine = weigh_solved(solve_bottle(_written(tmp_path, "0.1 g")))
    for line in fine.record.recipe:
        assert 1e4 * line.mass_kg == pytest.approx(round(1e4 * line.mass_kg), abs=1e-6)
    text = fine.record.notes[0].text
    assert "(0.1 g at the finest)" in text


def test_too_coarse_a_balance_names_limits_and_a_batch_that_fits(
    tmp_path: Path, run_here: RunCommand
) -> None:
    path = _written(tmp_path, "5 g")
    solved = solve_bottle(path)
    with pytest.raises(RoundingError) as caught:
        weigh_solved(solved)
    why = caught.value.explanation
    assert isinstance(why, CannotWeigh)
    # 1.2 to 1.8 g of acid is nothing or 5 g.
    assert "acid" in why.broken
    # 4 to 6 g/L with 5 g steps: 5 g suit 0.83 to 1.25 L, so nothing smaller than that can fit.
    assert why.fits_l is not None
    assert why.fits_l >= 5.0 / 6.0
    larger = solve_bottle(_written(tmp_path, "5 g", BOTTLE.replace("300 mL", f"{why.fits_l:.4f} L")))
    record = weigh_solved(larger).record
    assert 4.0 <= float(record.predicted.acid_g_l) <= 6.0
    path = _written(tmp_path, "5 g")
    done = run_here("solve", "--all", "--weigh", str(path))
    assert done.exit_code == 4
    assert done.stdout == ""
    assert "rounding misses" in done.stderr
    assert f"A batch of {why.fits_l:.3g} L can be weighed" in done.stderr
    document = json.loads(run_here("solve", "--weigh", "--json", str(path)).stdout)
    assert document["status"] == "cannot_weigh"
    assert document["broken"] == list(why.broken)
    assert document["fits_l"] == pytest.approx(why.fits_l)


def test_no_batch_fits_where_a_target_is_finer_than_any_step(tmp_path: Path) -> None:
    bottle = BOTTLE.replace("20 ± 0.3", "20 ± 0.0001").replace("300 mL", "100 mL")
    with pytest.raises(RoundingError, match="Widen a target, or add a finer balance"):
        weigh_solved(solve_bottle(_written(tmp_path, "5 g", bottle.replace("150 ± 5", "150 ± 0.001"))))


def test_the_saved_recipe_is_what_is_weighed(tmp_path: Path, run_here: RunCommand) -> None:
    saved = tmp_path / "weighed.yaml"
    done = run_here("solve", "--weigh", "--json", "examples/bottles/quince-cordial.yaml", "-o", str(saved))
    document = json.loads(done.stdout)
    drink = predict_recipe(saved)
    assert [1000.0 * line.mass_kg for line in drink.recipe] == pytest.approx(
        [line["mass_g"] for line in document["recipe"]], rel=1e-9
    )
    assert float(drink.predicted.sugar_g_l) == pytest.approx(document["predicted"]["sugar_g_l"], rel=1e-6)


def test_what_is_used_up_is_poured_whole(tmp_path: Path) -> None:
    exact = solved_example("lemon-leaf-40")
    weighed = weigh_solved(exact)
    before, after = (
        next(line.mass_kg for line in solved.record.recipe if line.ingredient == "vodka-40")
        for solved in (exact, weighed)
    )
    assert after == before
    assert steps_kg(exact.answer.masses_kg[0], ())[0] == 1e-3, "else it would be rounded to a gram"


def test_a_rounded_recipe_still_says_what_was_chosen_and_what_is_past_its_day(tmp_path: Path) -> None:
    few = weigh_solved(solved_example("few-things"))
    assert [note.code for note in few.record.notes[:2]] == ["weighed", "choices_kept"]
    bar = Path(shutil.copytree(ROOT / "examples", tmp_path / "bar"))
    shelf = (bar / "shelf.yaml").read_text("utf-8")
    (bar / "shelf.yaml").write_text(shelf.replace("on_hand: 60 cl", "keep_by: 2031-01-31"), "utf-8")
    for today, past in ((date(2031, 1, 31), False), (date(2031, 2, 1), True)):
        weighed = weigh_solved(solve_bottle(bar / "bottles" / "amber-digestif.yaml", today))
        assert ("past_keep_by" in {note.code for note in weighed.record.notes}) is past


def test_more_than_the_largest_balance_carries_is_weighed_in_portions(tmp_path: Path) -> None:
    """50 L from 40 % spirit take about 23.7 kg of it; the largest balance carries 5 kg: five portions."""
    (tmp_path / "shelf.yaml").write_text(
        "currency: EUR\n"
        "balances: [{name: bench, step: 1 g, up_to: 5 kg}]\n"
        "offers: {vodka-40: {price: 12 EUR/L}, white-sugar: {price: 1 EUR/kg}}\n",
        encoding="utf-8",
    )
    (tmp_path / "bottle.yaml").write_text(
        "name: Large\nsize: 50 L bottled\nshelf: shelf.yaml\n"
        "targets: {strength: 20 ± 0.3 % vol, sugar: 50 ± 5 g/L}\n"
        "ingredients: [vodka-40, water, white-sugar]\n",
        encoding="utf-8",
    )
    record = weigh_solved(solve_bottle(tmp_path / "bottle.yaml")).record
    masses = {line.ingredient: line.mass_kg for line in record.recipe}
    note = next(note.text for note in record.notes if note.code == "portions")
    full, each, rest = re.findall(r"vodka-40 in \d+ portions \((\d+) x (\d+) g and (\d+) g\)", note)[0]
    assert (int(full) * int(each) + int(rest)) / 1000.0 == pytest.approx(masses["vodka-40"], abs=5e-4)
    assert (int(full), max(int(rest), int(each)) <= 5000) == (4, True)
    assert all(line.running_total_kg is None for line in record.recipe)
    assert "too_heavy_a_vessel" in {one.code for one in record.notes}
