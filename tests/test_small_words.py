"""Small things a newcomer stumbled over: what is suggested, what is advised, which code is left with."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

EXAMPLES = ROOT / "examples"
DAMSON = EXAMPLES / "bottles" / "damson-aperitif.yaml"


def test_two_leaves_are_not_each_other(run_here: RunCommand) -> None:
    told = run_here("library", "olive", "leaf").stderr
    assert "bogbean" not in told
    assert "`ingredients:` of your shelf" in told
    assert "gentian-root" in run_here("library", "gentain", "root").stderr, "a slip is still mended"


def test_a_name_in_two_words_is_found_first(run_here: RunCommand) -> None:
    assert run_here("library", "red", "currant").stdout.startswith("Redcurrant  redcurrant, fruit")
    assert "\nredcurrant " in run_here("library", "red", "fruit").stdout


def test_no_recipe_at_any_point_is_no_success(run_here: RunCommand) -> None:
    arguments = ["tradeoff", DAMSON, "--vary", "strength", "--points", "3"]
    assert run_here(*arguments, "--from", "60 % vol", "--to", "70 % vol").exit_code == 3
    assert run_here(*arguments, "--from", "20 % vol", "--to", "70 % vol").exit_code == 0


def test_a_cost_is_varied_against_the_strength_it_buys(run_here: RunCommand) -> None:
    done = run_here(
        *("tradeoff", DAMSON, "--vary", "cost", "--from", "8 EUR/L", "--to", "9 EUR/L", "--points", "3")
    )
    assert done.exit_code == 0, done.stderr
    assert "least strength % vol  most" in done.stdout


@pytest.mark.parametrize(
    ("target", "advised"), [("sugar: at least 10 g/L", True), ("strength: at most 20 % vol", False)]
)
def test_a_target_that_is_set_is_not_advised(
    target: str, advised: bool, tmp_path: Path, run_here: RunCommand
) -> None:
    (tmp_path / "bottle.yaml").write_text(
        f"name: Open\nsize: use 1 kg of sour-cherry\nshelf: shelf.yaml\ntargets: {{{target}}}\n"
        "ingredients: [sour-cherry, water, white-sugar, vodka-40]\ndoses: any\n",
        encoding="utf-8",
    )
    (tmp_path / "shelf.yaml").write_text(
        "currency: EUR\noffers: {sour-cherry: {price: 6 EUR/kg}, white-sugar: {price: 1 EUR/kg}, "
        "vodka-40: {price: 12 EUR/L}}\n",
        encoding="utf-8",
    )
    done = run_here("solve", "--all", tmp_path / "bottle.yaml")
    assert done.exit_code == 3
    assert "without end" in done.stderr
    assert ("a strength, say" in done.stderr) is advised


def test_a_bottle_without_a_shelf_is_told_to_name_one(tmp_path: Path, run_here: RunCommand) -> None:
    (tmp_path / "bottle.yaml").write_text(
        "name: Bare\nsize: 1 L bottled\ntargets: {strength: 20 ± 1 % vol}\ningredients: [vodka-40, water]\n",
        encoding="utf-8",
    )
    told = run_here("solve", "--all", tmp_path / "bottle.yaml").stderr
    assert "no shelf is named. Add a line such as `shelf: shelf.yaml`." in told
    assert "on the shelf" not in told


def test_a_row_of_the_card_says_what_adding_does_not_mend(run_here: RunCommand, tmp_path: Path) -> None:
    """Of a batch of 20 % vol with 5 L of room for 4.9 L, too much sugar cannot be thinned away."""
    figures = ["--volume", "4.9 L", "--strength", "22 % vol", "--sugar", "230 g/L", "--acid", "6 g/L"]
    done = run_here("adjust", "--all", "--bottle", DAMSON, *figures, "--room", "5 L", "--card")
    rows = [line for line in done.stdout.splitlines() if "cannot be put right by adding" in line]
    assert rows
    assert all("cannot be put right by adding: " in row for row in rows)
    assert any("too much sugar" in row for row in rows)


def test_a_plant_of_one_s_own_is_checked_and_shown(run_here: RunCommand) -> None:
    shelf = EXAMPLES / "own-plant-shelf.yaml"
    done = run_here("check", shelf)
    assert done.exit_code == 0, done.stderr
    assert "1 thing on offer, 1 own value, 0 vessels" in done.stdout
    shown = run_here("library", "mountain-herb", "--shelf", shelf).stdout
    assert "Mountain herb, dried" in shown
    assert "our own trial" in shown
