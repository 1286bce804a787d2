"""A house bottle made to suit a drink: its limits by hand, the drink poured with it, what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.errors import InfeasibleError, SpecError
from formulate.jobs.fit import fit_bottle
from formulate.jobs.pour import pour_drink

FIZZ = ROOT / "examples/drinks/orchard-fizz.yaml"


def _fizz(folder: Path, *changes: tuple[str, str]) -> Path:
    """Write the example drink elsewhere, changed."""
    text = FIZZ.read_text(encoding="utf-8").replace("../", f"{(ROOT / 'examples').as_posix()}/")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    path = folder / "drink.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_limits_of_the_bottle_by_hand() -> None:
    # Only the 64 mL of the bottle bring alcohol: for 8.0 % vol in V mL it must hold 8.0 V / 64. Sugar: 16 mL
    # of lemon juice at 1035 g/L and 2.52 % w/w bring 0.417 g; (60 g/L x V - 0.417 g) / 64 mL.
    fitted = fit_bottle(FIZZ, "damson-aperitif")
    volume_ml = float(fitted.pour.served.volume_l) * 1000.0
    limits = {one.target: one for one in fitted.solved.record.targets}
    assert limits["strength"].lower == pytest.approx(8.0 * volume_ml / 64.0, rel=1e-5)
    assert limits["strength"].upper == pytest.approx(8.5 * volume_ml / 64.0, rel=1e-5)
    juice_g = 16.0 * 1.035 * 0.0252
    assert limits["sugar"].lower == pytest.approx((60.0 * volume_ml / 1000.0 - juice_g) / 0.064, rel=1e-4)
    # what the drink says nothing of stays as the bottle file has it
    assert limits["bitterness"].lower == pytest.approx(12.0)
    assert "cost" in limits
    assert fitted.solved.record.status == "optimal"


def test_the_saved_recipe_pours_the_drink_that_was_asked(tmp_path: Path, run_here: RunCommand) -> None:
    recipe = tmp_path / "fitted.yaml"
    done = run_here("pour", "--all", FIZZ, "--fit", "damson-aperitif", "-o", recipe)
    assert (done.exit_code, done.crash) == (0, "")
    assert "No bottle within these limits costs less" in done.stdout
    house = (ROOT / "examples/bottles/damson-aperitif.yaml").as_posix()
    poured = pour_drink(_fizz(tmp_path, (house, recipe.as_posix())))
    assert 8.0 - 1e-4 <= float(poured.served.strength_pct_vol) <= 8.5 + 1e-4
    assert 60.0 - 1e-2 <= float(poured.served.sugar_g_l) <= 64.0 + 1e-2
    assert 6.0 - 1e-3 <= float(poured.served.acid_g_l) <= 7.0 + 1e-3
    # the bottle as its own file has it does not
    assert float(pour_drink(FIZZ).served.strength_pct_vol) < 8.0
    shown = run_here("pour", "--all", FIZZ).stdout
    assert "8 to 8.5  off" in shown


@pytest.mark.parametrize("strength", ["7.2 to 7.6 % vol", "8.6 % vol", "at least 9 % vol"])
def test_other_strengths_are_met_too(tmp_path: Path, strength: str) -> None:
    # the bottle's own limit on cost and the drink's on sugar and acid are let go
    path = _fizz(
        tmp_path, ("targets: {strength: 8 to 8.5 % vol, sugar: 60 to 64 g/L, acid: 6 to 7 g/L}", "targets:")
    )
    cheap = (ROOT / "examples/bottles/damson-aperitif.yaml").read_text(encoding="utf-8")
    bottle = tmp_path / "bottle.yaml"
    shelf = (ROOT / "examples/shelf.yaml").as_posix()
    bottle.write_text(
        cheap.replace("  cost: at most 9.80 EUR/L\n", "").replace("../shelf.yaml", shelf), encoding="utf-8"
    )
    text = path.read_text(encoding="utf-8") + f"  strength: {strength}\n"
    old = (ROOT / "examples/bottles/damson-aperitif.yaml").as_posix()
    path.write_text(text.replace(old, bottle.as_posix()), encoding="utf-8")
    fitted = fit_bottle(path, "damson-aperitif")
    lower, upper = fitted.aims["strength"]
    assert lower - 1e-4 <= float(fitted.pour.served.strength_pct_vol) <= upper + 1e-4


def test_what_cannot_be_fitted_is_said(tmp_path: Path, run_here: RunCommand) -> None:
    too_sour = _fizz(tmp_path, ("acid: 6 to 7 g/L", "acid: at most 3 g/L"))
    with pytest.raises(SpecError, match=r"targets.acid: what else is poured brings 4\.\d+ already"):
        fit_bottle(too_sour, "damson-aperitif")
    strong = _fizz(tmp_path, ("strength: 8 to 8.5 % vol", "strength: at least 19 % vol"))
    with pytest.raises(InfeasibleError):
        fit_bottle(strong, "damson-aperitif")
    assert run_here("pour", "--all", strong, "--fit", "damson-aperitif").exit_code == 3
    with pytest.raises(SpecError, match="no house bottle called 'damson' in this drink"):
        fit_bottle(FIZZ, "damson")
    aimless = _fizz(
        tmp_path, ("targets: {strength: 8 to 8.5 % vol, sugar: 60 to 64 g/L, acid: 6 to 7 g/L}", "")
    )
    with pytest.raises(SpecError, match="nothing to fit to"):
        fit_bottle(aimless, "damson-aperitif")
    recipe = _fizz(tmp_path, ("bottles/damson-aperitif.yaml", "recipes/damson-aperitif.yaml"))
    with pytest.raises(SpecError, match="a recipe cannot be fitted"):
        fit_bottle(recipe, "damson-aperitif")
    like = _fizz(tmp_path, ("acid: 6 to 7 g/L", "bitterness: like 1 g/L gentian-root"))
    with pytest.raises(SpecError, match="a drink takes a word or a measured value"):
        fit_bottle(like, "damson-aperitif")


def test_json_holds_the_drink_and_the_bottle(run_here: RunCommand) -> None:
    document = json.loads(run_here("pour", FIZZ, "--fit", "damson-aperitif", "--json").stdout)
    assert [one["target"] for one in document["targets"]] == ["strength", "sugar", "acid"]
    assert document["fitted"]["status"] == "optimal"
