"""Figures on screen add up, are met where they say so, and stand in a unit a kitchen uses."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.report.numbers import band_text, grams, kilograms, proved, target_value

EXAMPLES = ROOT / "examples"

SHELF = """\
currency: EUR
offers:
  vodka-40: {price: 12 EUR/L}
  white-sugar: {price: 1 EUR/kg}
  gentian-root: {price: 50 EUR/kg}
"""
BOTTLE = """\
name: Test
size: SIZE L bottled
shelf: shelf.yaml
targets: {TARGETS}
ingredients: [vodka-40, water, white-sugar, gentian-root]
"""


def _written(folder: Path, targets: str, size: int = 5, shelf: str = SHELF) -> Path:
    (folder / "shelf.yaml").write_text(shelf, encoding="utf-8")
    text = BOTTLE.replace("SIZE", str(size)).replace("{TARGETS}", f"{{{targets}}}")
    (folder / "bottle.yaml").write_text(text, encoding="utf-8")
    return folder / "bottle.yaml"


def test_how_far_a_limit_moves_is_the_difference_of_what_is_shown(run_here: RunCommand) -> None:
    told = run_here("solve", "--all", EXAMPLES / "bottles" / "damson-too-cheap.yaml").stderr
    bounds = dict(re.findall(r"^  (\w+): at (?:least|most) ([\d.]+)", told, re.MULTILINE))
    moves = re.findall(r"^  (\w+) (?:up|down) to ([\d.]+) .*\(moves by ([\d.]+)\)", told, re.MULTILINE)
    assert {name for name, _, _ in moves} >= {"strength", "cost"}
    for name, value, step in moves:
        assert round(abs(float(value) - float(bounds[name])), 4) == float(step), name


def test_a_bitterness_at_its_limit_is_not_shown_below_it(tmp_path: Path, run_here: RunCommand) -> None:
    targets = "strength: 20 ± 0.3 % vol, bitterness: 17.28 to 25.92 (measured)"
    bottle = _written(tmp_path, targets)
    bottle.write_text(bottle.read_text("utf-8") + "measured: {gentian-root: {bitterness: 15000}}\n", "utf-8")
    shown = run_here("solve", "--all", bottle).stdout
    row = re.search(r"^bitterness +([\d.]+).* 17.28 to 25.92 +at its limit", shown, re.MULTILINE)
    assert row is not None, shown
    assert float(row[1]) >= 17.28


def test_a_large_batch_is_in_kilograms(tmp_path: Path, run_here: RunCommand) -> None:
    """5000 L at 20 % vol hold 1000 L of alcohol: 2500 L of 40 % spirit, 2370 kg (OIML R 22, 948.0 kg/m3)."""
    bottle = _written(tmp_path, "strength: exactly 20 % vol", 5000)
    bottle.write_text(bottle.read_text("utf-8") + "doses: any\n", "utf-8")
    shown = run_here("solve", "--all", bottle).stdout
    assert re.search(r"^step +weigh in +kg ", shown, re.MULTILINE)
    row = re.search(r"vodka-40 +([\d.]+) ", shown)
    assert row is not None
    assert abs(float(row[1]) - 2370.1) < 0.5
    small = run_here("solve", "--all", _written(tmp_path, "strength: exactly 20 % vol", 5)).stdout
    assert re.search(r"^step +weigh in +g ", small, re.MULTILINE)
    assert (kilograms(0.0351), kilograms(2487.4853)) == ("0.0351", "2487.485")


def test_a_closed_gap_is_proved_without_a_figure(tmp_path: Path, run_here: RunCommand) -> None:
    free = re.sub(r"price: \d+ EUR(/\w+)", r"price: 0 EUR\1, meant: true", SHELF)
    shown = " ".join(
        run_here("solve", "--all", _written(tmp_path, "strength: 20 ± 0.3 % vol", shelf=free)).stdout.split()
    )
    assert "within these limits (proved)." in shown
    assert "0 %)" not in shown
    assert (proved(0.0), proved(1e-6), proved(2.1e-5)) == ("proved", "proved to 0.001 %", "proved to 0.003 %")


def test_money_is_shown_to_the_cent() -> None:
    assert band_text("cost", None, 9.5) == "at most 9.50"
    assert band_text("cost", None, 9.52381) == "at most 9.52"


def test_plants_that_need_not_be_drawn_out_are_named(tmp_path: Path, run_here: RunCommand) -> None:
    """Elderflower gives neither bitterness nor colour by our figures: only the cherry is held to the 80 %."""
    (tmp_path / "shelf.yaml").write_text(
        "currency: EUR\noffers: {elderflower: {price: 50 EUR/kg}, sour-cherry: {price: 6 EUR/kg}, "
        "white-sugar: {price: 1 EUR/kg}}\n",
        encoding="utf-8",
    )
    (tmp_path / "bottle.yaml").write_text(
        "name: Cordial\nsize: 5 L bottled\nshelf: shelf.yaml\n"
        "targets: {sugar: 350 to 380 g/L}\nsteps: [steep, {sweeten: {strain: false}}]\ningredients:\n"
        "  - water: {step: steep}\n  - elderflower: {exactly: 10 g per L bottled, step: steep}\n"
        "  - sour-cherry: {at_least: 100 g per L bottled, step: steep}\n  - white-sugar: {step: sweeten}\n",
        encoding="utf-8",
    )
    told = " ".join(run_here("infuse", "--all", tmp_path / "bottle.yaml").stdout.split())
    assert "Only sour-cherry must reach that; elderflower need not" in told


@pytest.mark.parametrize(
    ("value", "lower", "upper", "shown"),
    [
        (23.95, 23.95, 24.05, "23.95"),  # to a tenth it would read 23.9, outside
        (24.05, 23.95, 24.05, "24.05"),
        (24.0, 23.95, 24.05, "24.0"),
        (23.949, 23.95, 24.05, "23.9"),
        (23.96, 24.0, 24.05, "23.96"),  # missed: not rounded to where it would be met
        (21.7, 21.7, 22.3, "21.7"),
        (21.66, 21.7, 22.3, "21.66"),
        (30.0, None, None, "30.0"),
    ],
)
def test_a_figure_stands_on_its_side_of_the_band_beside_it(
    value: float, lower: float | None, upper: float | None, shown: str
) -> None:
    assert target_value("strength", value, lower, upper) == shown


def test_no_figure_is_shown_outside_a_band_it_meets_nor_inside_one_it_misses() -> None:
    """Values a hair on either side of ends of two decimals, for measures of no to two digits."""
    for name in ("strength", "sugar", "acid", "bitterness", "cost"):
        for cents in range(2301, 2400, 7):
            lower = cents / 100.0
            upper = lower + 0.1
            for value in (lower, lower + 0.004, lower - 0.004, upper, upper - 0.006, upper + 0.004):
                seen = float(target_value(name, value, lower, upper))
                low, _, high = band_text(name, lower, upper).partition(" to ")
                assert (float(low) <= seen <= float(high)) == (lower - 1e-9 <= value <= upper + 1e-9)


def test_a_pinch_is_shown_to_a_hundredth_of_a_gram_and_a_bowl_in_whole_grams() -> None:
    """What balances of a bar show (common practice): 0.01 g below 2 g, 0.1 g to 200 g, then whole grams."""
    assert [grams(mass / 1000.0) for mass in (1.24, 1.994, 2.04, 199.94, 200.4)] == [
        *("1.24", "1.99", "2.0", "199.9", "200"),
    ]
