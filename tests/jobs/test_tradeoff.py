"""`tradeoff`: the curve is the true optimum at each value, said whole, and drawn within 80 columns."""

from __future__ import annotations

import json
import re
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from conftest import ROOT, RunCommand

from formulate.bar.opening import open_pantry
from formulate.describe.tradeoff_record import Tradeoff
from formulate.errors import FormulateError, InfeasibleError
from formulate.files.bottle import load_bottle
from formulate.formulation.bottle import formulate_bottle
from formulate.formulation.choices import choices_of
from formulate.jobs.tradeoff import trade_off
from formulate.optimise.mip.solve import solve_with_choices
from formulate.optimise.problem import BlendProblem
from formulate.optimise.slp import SlpResult
from formulate.optimise.solve import solve
from formulate.optimise.sweep import CHOSEN_AT, LimitMover, SweepStatus, sweep
from formulate.optimise.tree.branch_and_bound import Proof
from formulate.optimise.tree.proof import prove
from formulate.report.tradeoff_text import plot_lines, tradeoff_text
from tests.optimise.shelves import random_shelf, shelf_rng
from tests.worked_examples import solved_example

DAMSON = ROOT / "examples/bottles/damson-aperitif.yaml"
QUINCE = ROOT / "examples/bottles/quince-cordial.yaml"


def _number(problem: BlendProblem, name: str) -> int:
    return [limit.origin.name for limit in problem.limits].index(name)


def _moved(problem: BlendProblem, number: int, bounds: tuple[float, float]) -> BlendProblem:
    limits = list(problem.limits)
    limits[number] = replace(limits[number], lower=bounds[0], upper=bounds[1])
    return problem.asking(limits)


@pytest.mark.parametrize("lossy", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_every_point_is_the_proved_optimum(seed: int, lossy: bool) -> None:
    problem = random_shelf(shelf_rng(seed), 25, "narrow", lossy=lossy)
    number = _number(problem, "sugar")
    bounds = [(value, value) for value in np.linspace(0.12, 0.26, 15)]
    points = sweep(problem, number, bounds)
    for pair, point in list(zip(bounds, points, strict=True))[::7]:
        answer = solve(_moved(problem, number, pair))
        assert point.point is not None
        assert point.point.cost_per_l == pytest.approx(answer.cost_per_l, rel=2e-6)  # the gap of a proof


def test_a_value_without_a_recipe_is_said_and_the_ones_behind_it_are_found_again() -> None:
    """Up beyond what the strongest spirit gives and back again: nothing is carried over from a failure."""
    problem = random_shelf(shelf_rng(1), 15, "narrow", lossy=True)
    number = _number(problem, "strength")
    kg_l = 1.0 / problem.limits[number].display
    values = [20.0, 25.0, 98.0, 99.0, 25.0, 20.0]
    found = sweep(problem, number, [(value * kg_l, value * kg_l) for value in values])
    assert [one.status for one in found] == [SweepStatus.RECIPE] * 2 + [SweepStatus.NONE] * 2 + [
        SweepStatus.RECIPE
    ] * 2
    with pytest.raises(InfeasibleError):
        solve(_moved(problem, number, (98.0 * kg_l, 98.0 * kg_l)))
    costs = [one.point.cost_per_l for one in found if one.point is not None]
    assert costs == pytest.approx(costs[::-1], rel=1e-9)
    assert max(one.point.violation for one in found if one.point is not None) < 1e-8


def _strengths(problem: BlendProblem, first: float, last: float, points: int) -> list[tuple[float, float]]:
    kg_l = 1.0 / problem.limits[_number(problem, "strength")].display
    return [(value * kg_l, value * kg_l) for value in np.linspace(first, last, points).tolist()]


def _has_recipe(problem: BlendProblem) -> bool:
    try:
        solve(problem)
    except InfeasibleError:
        return False
    return True


@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize(
    ("kind", "seed"), [("ingredient limits", 5), ("ingredient limits", 19), ("narrow", 21)]
)
def test_one_proof_does_for_a_whole_end_without_recipes(
    seed: int, kind: str, backwards: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each value of it asked on its own has no recipe either, and the value before it has one."""
    proofs: list[Proof] = []

    def counted(*arguments: object, **options: object) -> Proof:
        proofs.append(prove(*arguments, **options))  # type: ignore[arg-type]
        return proofs[-1]

    monkeypatch.setattr("formulate.optimise.sweep.prove", counted)
    problem = random_shelf(shelf_rng(seed), 40, kind, lossy=True)
    number = _number(problem, "strength")
    bounds = _strengths(problem, 0.0, 84.0, 29)
    found = sweep(problem, number, bounds[::-1] if backwards else bounds)
    has = [one.status is SweepStatus.RECIPE for one in (found[::-1] if backwards else found)]
    first, last = has.index(True), len(has) - 1 - has[::-1].index(True)
    assert all(has[first : last + 1])
    assert {one.status for one in found} == {SweepStatus.RECIPE, SweepStatus.NONE}
    assert has.count(False) >= 3
    assert len(proofs) <= 2, "one for either end, whichever way the values go"
    for place in {0, first - 1, first, last, last + 1, len(has) - 1} & set(range(len(has))):
        assert _has_recipe(_moved(problem, number, bounds[place])) is has[place]


def test_a_range_wholly_out_of_reach_is_proved_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The strongest spirit of the shelf, sugar in it, is as far as any recipe gets."""
    problem = random_shelf(shelf_rng(19), 40, "ingredient limits", lossy=True)
    number = _number(problem, "strength")
    bounds = _strengths(problem, 0.0, 1.5, 30)
    proofs: list[object] = []
    monkeypatch.setattr(
        "formulate.optimise.sweep.prove", lambda *given, **how: proofs.append(given) or prove(*given, **how)
    )
    assert {one.status for one in sweep(problem, number, bounds)} == {SweepStatus.NONE}
    assert len(proofs) <= 1
    assert not _has_recipe(_moved(problem, number, bounds[0]))
    assert not _has_recipe(_moved(problem, number, bounds[-1]))


def test_what_the_loop_does_not_find_is_not_said_to_be_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a loop that never comes to an end only the proofs are left, and they find the same."""
    problem = random_shelf(shelf_rng(1), 15, "narrow", lossy=True)
    number = _number(problem, "strength")
    bounds = _strengths(problem, 15.0, 90.0, 6)
    has = [_has_recipe(_moved(problem, number, pair)) for pair in bounds]
    assert (has[0], has[-1]) == (True, False)
    nothing = SlpResult(None, 1, False)
    monkeypatch.setattr("formulate.optimise.sweep.multistart", lambda live: nothing)
    monkeypatch.setattr("formulate.optimise.sweep.run_slp_near", lambda live, start: nothing)
    for ordered in (bounds, bounds[::-1]):
        found = {(one.lower, one.upper): one.status for one in sweep(problem, number, ordered)}
        for pair, there_is in zip(bounds, has, strict=True):
            assert found[pair] is (SweepStatus.RECIPE if there_is else SweepStatus.NONE)


def test_fifty_points_of_forty_ingredients_take_few_programs() -> None:
    """A point starts from the one before it: three linear programs and no new layout for most."""
    problem = random_shelf(shelf_rng(0), 40, "narrow")
    mover = LimitMover(problem, _number(problem, "sugar"))
    points = list(mover.along([(value, value) for value in np.linspace(0.12, 0.26, 50)]))
    assert [point.status for point in points] == [SweepStatus.RECIPE] * 50
    assert mover.program.engine.solves <= 4 * 50


def test_the_files_own_cost_limit_is_lifted_and_marked() -> None:
    record = trade_off(DAMSON, "strength", "18 % vol", "26 % vol", points=9)
    assert record.ceiling == pytest.approx(9.8)
    costs = [point.low for point in record.points]
    assert all(cost is not None for cost in costs)
    assert costs == sorted(costs, key=lambda cost: cost or 0.0)
    told = tradeoff_text(record)
    assert told.count("above your 9.80") == sum((cost or 0.0) > 9.8 for cost in costs) > 0


def test_the_slope_is_the_shadow_price_solve_gives() -> None:
    record = trade_off(QUINCE, "sugar", "478 g/L", "482 g/L", points=5)
    low, high = record.points[1].low or 0.0, record.points[3].low or 0.0
    # Solved for 480 to 520 g/L the recipe stands at 480: the price of that bound is the slope there.

    solved = solved_example("quince-cordial")
    (price,) = [target.shadow_price for target in solved.record.targets if target.target == "sugar"]
    assert price == pytest.approx((high - low) / 2.0, rel=1e-3)


def test_another_target_gives_the_least_and_the_most() -> None:
    record = trade_off(DAMSON, "strength", "18 % vol", "30 % vol", points=7, against="sugar")
    first, last = record.points[0], record.points[-1]
    assert (first.found, last.found) == ("recipe", "no recipe")
    assert first.low is not None
    assert first.high is not None
    assert first.low < 180.0 < first.high
    assert (last.low, last.high) == (None, None)
    assert "no recipe exists within the other limits" in tradeoff_text(record)
    # Both ends hold: pinned there, the bottle has a recipe; a little beyond the most it has none.
    problem = _pinned(record)
    number = _number(problem, "sugar")
    inside = first.high * (1.0 - 1e-4) / 1000.0
    assert solve(_moved(problem, number, (inside, inside)), seconds=0.0).volume_l == pytest.approx(5.0)
    beyond = first.high * 1.002 / 1000.0
    with pytest.raises(InfeasibleError):
        solve(_moved(problem, number, (beyond, beyond)))


def _pinned(record: Tradeoff) -> BlendProblem:
    from formulate.bar.opening import open_pantry
    from formulate.files.bottle import load_bottle
    from formulate.formulation.bottle import formulate_bottle

    bottle = load_bottle(DAMSON)
    problem = formulate_bottle(bottle, open_pantry(bottle.shelf_path, bottle.places)).problem
    number = _number(problem, "strength")
    value = record.points[0].value / problem.limits[number].display
    return _moved(problem, number, (value, value))


def test_a_target_the_file_has_not_got_can_be_moved() -> None:
    record = trade_off(QUINCE, "strength", "0.5 % vol", "3 % vol", points=3)
    assert [point.found for point in record.points] == ["no recipe"] * 3  # a cordial without spirit
    assert plot_lines(record) == []


def test_the_plot_keeps_to_80_columns_and_shows_every_point() -> None:
    record = trade_off(DAMSON, "sugar", "140 g/L", "220 g/L")
    lines = plot_lines(record)
    assert max(map(len, tradeoff_text(record).splitlines())) <= 80
    assert sum(line.count("*") for line in lines) == len(record.points) == 50


def test_command_shows_a_dozen_rows_and_json_shows_all(run_here: RunCommand) -> None:
    asked = ["tradeoff", DAMSON, "--vary", "sugar", "--from", "150 g/L", "--to", "180 g/L"]
    done = run_here(*asked)
    assert (done.exit_code, done.stderr, done.crash) == (0, "", "")
    table = done.stdout.split("sugar g/L")[1].split("\n\n")[0]
    assert len(table.splitlines()) == 1 + 12
    document = json.loads(run_here(*asked, "--json", "--points", "20").stdout)
    assert (document["status"], len(document["points"])) == ("tradeoff", 20)
    assert document["points"][0]["value"] == 150.0


def test_what_is_proved_of_the_ends_is_rounded_the_careful_way(run_here: RunCommand) -> None:
    asked = ["tradeoff", QUINCE, "--vary", "sugar", "--from", "480 g/L", "--to", "500 g/L", "--points", "3"]
    document = json.loads(run_here(*asked, "--prove", "--json").stdout)
    first, last = document["proved"]
    assert (first["value"], last["value"]) == (480.0, 500.0)
    for end, point in ((first, document["points"][0]), (last, document["points"][-1])):
        assert end["cost_per_litre"] == pytest.approx(point["low"], rel=1e-5)
        assert 0.0 <= end["proven_gap"] <= 1e-4
    shown = " ".join(run_here(*asked, "--prove").stdout.split())
    found = re.findall(
        r"sugar \d+ g/L: (\d+\.\d\d) EUR/L, and no recipe is cheaper by more than (\S+) %", shown
    )
    for (cost, gap), end in zip(found, (first, last), strict=True):
        assert float(cost) == pytest.approx(end["cost_per_litre"], abs=0.005)
        assert float(gap) >= 100.0 * end["proven_gap"] * (1.0 - 1e-9)
        assert sum(digit != "0" for digit in gap.replace(".", "")) <= 1
    assert "proved" in document
    assert json.loads(run_here(*asked, "--json").stdout)["proved"] == []


def test_an_end_without_a_recipe_is_said() -> None:
    """No vodka of 40 % vol with fruit in it makes 60 % vol."""
    record = trade_off(DAMSON, "strength", "22 % vol", "60 % vol", points=3, prove_ends=True)
    assert [end.found for end in record.proved] == ["recipe", "no recipe"]
    assert "strength 60.0 % vol: no recipe exists." in tradeoff_text(record)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"vary": "suger"}, "Did you mean 'sugar'?"),
        ({"from_text": "140"}, "--from: the unit is missing"),
        ({"to_text": "140 g/L"}, "--to: the same as --from"),
        ({"points": 1}, "--points: between 3 and"),
        ({"against": "sugar"}, "Name another target"),
        ({"against": "colour"}, "no target called 'colour'"),
    ],
)
def test_what_cannot_be_asked(changes: dict[str, object], words: str) -> None:
    asked: dict[str, object] = {"vary": "sugar", "from_text": "140 g/L", "to_text": "200 g/L"} | changes
    with pytest.raises(FormulateError) as caught:
        trade_off(DAMSON, **asked)  # type: ignore[arg-type]
    assert words in str(caught.value)


def test_without_matplotlib_it_says_what_to_install(
    tmp_path: Path, run_here: RunCommand, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    asked = ["tradeoff", DAMSON, "--vary", "sugar", "--from", "150 g/L", "--to", "180 g/L", "--points", "3"]
    done = run_here(*asked, "--plot", tmp_path / "curve.png")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "needs matplotlib" in done.stderr
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(("ending", "starts"), [(".png", b"\x89PNG"), (".svg", b"<?xml")])
def test_a_picture_is_drawn_where_matplotlib_is(ending: str, starts: bytes) -> None:
    pytest.importorskip("matplotlib")
    from formulate.report.plot import tradeoff_picture

    record = trade_off(DAMSON, "strength", "18 % vol", "30 % vol", points=7, against="sugar")
    assert tradeoff_picture(record, ending).startswith(starts)


def test_a_picture_of_another_kind_is_refused(tmp_path: Path, run_here: RunCommand) -> None:
    bar = Path(shutil.copytree(ROOT / "examples", tmp_path / "bar"))
    asked = ["tradeoff", bar / "bottles/quince-cordial.yaml", "--vary", "sugar", "--from", "480 g/L"]
    done = run_here(*asked, "--to", "500 g/L", "--points", "3", "--plot", tmp_path / "curve.bmp")
    assert done.exit_code == 2
    assert "a picture is written as .png or .svg, got .bmp" in done.stderr


FEW = ROOT / "examples/bottles/few-things.yaml"


def test_what_the_file_chooses_is_kept_along_the_curve() -> None:
    """Between the values where it was settled the curve is still what a search of its own proves there."""
    record = trade_off(FEW, "strength", "20 % vol", "30 % vol", points=13)
    bottle = load_bottle(FEW)
    formulation = formulate_bottle(bottle, open_pantry(bottle.shelf_path, bottle.places))
    problem, choices = formulation.problem, choices_of(formulation)
    number = _number(problem, "strength")
    settled = np.linspace(0, 12, CHOSEN_AT).round().astype(int).tolist()
    for position in (1, 8):
        assert position not in settled
        point = record.points[position]
        value = point.value / problem.limits[number].display
        answer = solve_with_choices(_moved(problem, number, (value, value)), choices)
        assert point.low is not None
        assert point.low == pytest.approx(answer.cost_per_l, rel=2e-4)  # its proof ends at 1e-4
        assert len(point.used) <= 5  # the file: at_most 5
        assert ("gentian-root" in point.used) != ("chicory-root" in point.used)  # and one of these
        free = solve(_moved(problem, number, (value, value)))
        assert point.low > free.cost_per_l * 1.01, "without the choice it is cheaper by more than a hair"
    assert record.notes[-1].code == "choices_kept"


def test_where_no_choice_has_a_recipe_none_is_shown() -> None:
    """A bitter of 150 g/L sugar has no room for 95 % vol, chosen or not."""
    record = trade_off(FEW, "strength", "60 % vol", "95 % vol", points=4)
    assert record.points[-1].found == "no recipe"
    assert record.points[-1].low is None
