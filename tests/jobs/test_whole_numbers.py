"""`buy`, `solve --weigh` and `choose` on the example bottles, recomputed line by line."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from formulate.bar.balances import steps_kg
from formulate.errors import InfeasibleError, RoundingError
from formulate.jobs.buy import buy_bottle
from formulate.jobs.solve import solve_bottle
from formulate.jobs.weighed import weigh_solved

EXAMPLES = Path(__file__).parents[2] / "examples"
BOTTLES = ("damson-aperitif", "quince-cordial", "lemon-leaf-liqueur", "lemon-leaf-40")


def _bottle(name: str) -> Path:
    return EXAMPLES / "bottles" / f"{name}.yaml"


def _changed(tmp_path: Path, name: str, *pairs: tuple[str, str]) -> Path:
    text = _bottle(name).read_text("utf-8").replace("../shelf.yaml", (EXAMPLES / "shelf.yaml").as_posix())
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "bottle.yaml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", BOTTLES)
def test_a_weighed_recipe_stays_in_spec_and_near_the_cheapest(name: str) -> None:
    exact = solve_bottle(_bottle(name))
    weighed = weigh_solved(exact).answer
    problem = exact.answer.problem
    masses = weighed.masses_kg[problem.place_step, problem.place_ingredient]
    steps = steps_kg(masses, ())
    # Whole steps of the usual balances: 0.1 g to 200 g, 1 g to 5 kg, 5 g above (common practice).
    off = np.abs(masses / steps - np.rint(masses / steps))
    if name == "lemon-leaf-40":
        off[0] = 0.0  # three bottles of vodka are poured out whole, not weighed
    assert off.max() < 1e-6
    assert weighed.cost_per_l <= exact.answer.cost_per_l * 1.002
    if name != "lemon-leaf-40":  # there no volume was asked: three bottles make what they make
        assert exact.answer.volume_l * (1 - 1e-7) <= weighed.volume_l
    assert weighed.volume_l <= exact.answer.volume_l * 1.001 + 1e-9
    assert set(np.flatnonzero(masses)) <= set(
        np.flatnonzero(exact.answer.masses_kg[problem.place_step, problem.place_ingredient])
    )
    shown = {target.target: target for target in weigh_solved(exact).record.targets}
    for target in shown.values():
        slack = 1e-6 * max(abs(target.value), 1.0)
        assert target.lower is None or target.value >= target.lower - slack
        assert target.upper is None or target.value <= target.upper + slack


def test_a_batch_too_small_to_weigh_says_which_one_fits(tmp_path: Path) -> None:
    path = _changed(
        tmp_path, "lemon-leaf-40", ("use 3 bottles of vodka-40", "20 mL bottled"), ("28 ± 0.5", "28 ± 0.002")
    )
    with pytest.raises(RoundingError) as caught:
        weigh_solved(solve_bottle(path))
    why = caught.value.explanation
    assert "strength" in why.broken
    assert why.fits_l is not None
    assert why.fits_l > 0.02
    size = f"{why.fits_l:.9f} L bottled"
    larger = _changed(
        tmp_path, "lemon-leaf-40", ("use 3 bottles of vodka-40", size), ("28 ± 0.5", "28 ± 0.002")
    )
    strength = float(weigh_solved(solve_bottle(larger)).record.predicted.strength_pct_vol)
    assert strength == pytest.approx(28.0, abs=0.002 + 1e-6)


@pytest.mark.parametrize("adapt", [False, True])
@pytest.mark.parametrize("name", BOTTLES)
def test_what_is_paid_is_the_sum_of_the_packs_and_covers_what_is_used(name: str, adapt: bool) -> None:
    record = buy_bottle(_bottle(name), adapt=adapt)
    assert record.total == pytest.approx(sum(line.cost for line in record.lines), abs=1e-9)
    assert record.proven_gap <= 2e-4
    for line in record.lines:
        assert line.left_kg >= -1e-9
        assert line.from_stock_kg <= line.used_kg + 1e-9
        assert line.packs is None or line.packs >= 1
    weighed = {line.ingredient: line.mass_kg for line in record.drink.recipe}
    listed = {line.name for line in record.lines} & set(weighed)
    assert listed
    for name_listed in listed:
        told = sum(line.used_kg for line in record.lines if line.name == name_listed)
        assert told == pytest.approx(weighed[name_listed], rel=1e-6)


def test_stock_is_used_first() -> None:
    # The shelf has four bottles of vodka and 2.4 kg of damson: nothing of the fruit is bought.
    record = buy_bottle(_bottle("damson-aperitif"))
    fruit = next(line for line in record.lines if line.name == "damson")
    assert fruit.cost == 0.0
    assert fruit.from_stock_kg == pytest.approx(fruit.used_kg)
    bought = buy_bottle(_bottle("damson-aperitif"), use_stock=False)
    assert bought.total > record.total + 4.8  # at least one more kilogram of damson at 4.80 EUR


def test_choices_are_kept_and_cost_no_less() -> None:
    path = _bottle("few-things")
    chosen = solve_bottle(path)
    choose = chosen.formulation.bottle.choose
    assert choose is not None
    used = {line.ingredient for line in chosen.record.recipe}
    assert choose.at_most is None or len(used) <= choose.at_most
    assert all(len(used & set(group)) == 1 for group in choose.one_of)


def test_one_of_two_that_both_are_needed_has_no_recipe(tmp_path: Path) -> None:
    path = _changed(
        tmp_path,
        "lemon-leaf-40",
        ("ingredients:", "choose: {one_of: [[lemon-leaf, lemon-zest]]}\ningredients:"),
    )
    with pytest.raises(InfeasibleError):
        solve_bottle(path)
