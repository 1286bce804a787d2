"""`reformulate` where nothing makes up for what is gone: what is said, and that it is true by solving."""

from __future__ import annotations

import json
import re
import shutil
from functools import cache
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.describe.unreplaced import NoReplacement
from formulate.errors import InfeasibleError
from formulate.jobs.options import read_circumstances
from formulate.jobs.reformulate import reformulate
from formulate.optimise.diagnose import is_possible

RECIPES = ROOT / "examples" / "recipes"


@cache
def _nothing(name: str, missing: str = "", short: str = "") -> NoReplacement:
    changed = read_circumstances([missing] if missing else [], [short] if short else [])
    with pytest.raises(InfeasibleError) as caught:
        reformulate(RECIPES / f"{name}.yaml", changed)
    assert isinstance(caught.value.explanation, NoReplacement)
    return caught.value.explanation


CASES = [
    ("creme-de-cassis", "white-sugar"),
    ("damson-aperitif", "white-sugar"),
    ("blackcurrant-liqueur", "blackcurrant"),
    ("quince-cordial", "white-sugar"),
    ("amber-digestif", "grapefruit-juice"),
    ("lemon-leaf-liqueur", "water"),
]


@pytest.mark.parametrize(("name", "missing"), CASES)
def test_only_what_a_person_wrote_is_advised_to_move_and_each_move_works(name: str, missing: str) -> None:
    nothing = _nothing(name, missing)
    problem = nothing.formulation.problem
    bottle = f"{name}.yaml"
    moved = [member for member in nothing.explanation.clash if member.reachable is not None]
    for member in moved:
        location = member.limit.origin.location
        assert location is not None, member.limit.origin.name
        assert location.file.endswith(f"bottles/{bottle}")
        assert not member.limit.rule
        assert is_possible(member.moved_in(problem)) is True, member.limit.origin.name
    # Of the limits on what is gone none moves, though a recipe would exist with some of it.
    gone = [member for member in nothing.explanation.clash if member.limit.origin.name == missing]
    assert all(member.reachable is None and member.limit.firm for member in gone)


def test_the_figures_of_a_name_in_law_do_not_move_but_the_name_may_be_given_up() -> None:
    nothing = _nothing("creme-de-cassis", "white-sugar")
    (law,) = [m for m in nothing.explanation.clash if m.limit.origin.name.startswith("crème de cassis")]
    assert law.reachable is None
    (note,) = [note for note in nothing.notes if note.code == "without_the_name"]
    assert note.text == "Without the name crème de cassis (EU) there is a recipe."
    problem = nothing.formulation.problem
    others = [limit for limit in problem.limits if not limit.origin.name.startswith("crème de cassis")]
    assert is_possible(problem.asking(others)) is True
    assert is_possible(problem) is False


def test_what_it_says_to_buy_has_a_recipe(tmp_path: Path) -> None:
    """What it says to buy is put on a copy of the shelf, and then it is solved; the rest is not."""
    nothing = _nothing("damson-aperitif", "white-sugar")
    (one,) = nothing.unreplaced
    assert (one.missing, one.is_gone, one.stand_ins) == ("white-sugar", True, ("honey",))
    assert one.tried
    buy = dict(one.buy)
    assert set(buy) <= set(one.tried)
    bar = Path(shutil.copytree(ROOT / "examples", tmp_path / "bar"))
    shelf = bar / "shelf.yaml"
    plain = shelf.read_text("utf-8")
    for name in one.tried:
        price = buy.get(name, 0.01)  # just what it may cost; what is not named is no help almost for nothing
        assert price is not None
        offer = f"offers:\n  {name}: {{price: {0.999 * price:.4f} EUR/kg}}\n"
        shelf.write_text(re.sub("^offers:.*\n", offer, plain, count=1, flags=re.MULTILINE), "utf-8")
        recipe = bar / "recipes" / "damson-aperitif.yaml"
        if name in buy:
            drink = reformulate(recipe, read_circumstances(["white-sugar"])).record.best.drink
            assert name in {line.ingredient for line in drink.recipe}
            continue
        with pytest.raises(InfeasibleError):
            reformulate(recipe, read_circumstances(["white-sugar"]))
    assert buy


def test_without_a_stand_in_it_says_so(run_here: RunCommand) -> None:
    done = run_here("reformulate", "--all", RECIPES / "lemon-leaf-liqueur.yaml", "--without", "water")
    assert done.exit_code == 3
    assert "water cannot be replaced: no stand-in on your shelf." in done.stderr
    assert "Buy water." in done.stderr


def test_stand_ins_that_do_not_suffice_are_named() -> None:
    (one,) = _nothing("amber-digestif", "grapefruit-juice").unreplaced
    assert one.stand_ins == ("lemon-juice",)
    # Lemon juice is 5 to 6 % acid: 60 g/L of it are over the 2 g/L of the bottle file; orange juice is not.
    bought = [name for name, _ in one.buy]
    assert bought[0] == "orange-juice"
    assert not {"lemon-juice", "lime-juice"} & set(bought)
    assert "lime-juice" in one.tried


def test_what_stands_in_the_file_of_a_missing_one_is_shown_at_its_line() -> None:
    (member,) = [
        member
        for member in _nothing("amber-digestif", "grapefruit-juice").explanation.clash
        if member.limit.origin.name == "in place of grapefruit-juice"
    ]
    location = member.limit.origin.location
    assert location is not None
    text = (ROOT / "examples" / "bottles" / "amber-digestif.yaml").read_text("utf-8").splitlines()
    assert "grapefruit-juice: {at_least: 60 g per L bottled" in text[location.line - 1]


def test_of_what_is_short_it_says_how_much_would_do() -> None:
    """So much and a thousandth more has a recipe, a hundredth less has none."""
    nothing = _nothing("damson-aperitif", short="white-sugar: 100 g")
    (one,) = nothing.unreplaced
    assert (one.missing, one.is_gone) == ("white-sugar", False)
    assert one.enough_kg is not None
    recipe = RECIPES / "damson-aperitif.yaml"
    enough = reformulate(recipe, read_circumstances(short=[f"white-sugar: {one.enough_kg * 1001.0:.2f} g"]))
    assert enough.record.best.drink.recipe
    with pytest.raises(InfeasibleError):
        reformulate(recipe, read_circumstances(short=[f"white-sugar: {one.enough_kg * 990.0:.2f} g"]))


def test_a_clash_that_was_there_before_is_not_blamed_on_what_is_gone(
    tmp_path: Path, run_here: RunCommand
) -> None:
    bar = Path(shutil.copytree(ROOT / "examples", tmp_path / "bar"))
    bottle = bar / "bottles" / "damson-aperitif.yaml"
    text = bottle.read_text("utf-8")
    bottle.write_text(text.replace("cost: at most 9.80 EUR/L", "cost: at most 2 EUR/L"), "utf-8")
    recipe = bar / "recipes" / "damson-aperitif.yaml"
    done = run_here("reformulate", "--all", recipe, "--without", "citric-acid")
    assert (done.exit_code, done.stdout, done.crash) == (3, "", "")
    assert "That is not the reason" in done.stderr
    assert "cannot be replaced" not in done.stderr


def test_a_size_tied_to_what_is_gone_stays_the_size_of_the_recipe() -> None:
    found = reformulate(RECIPES / "lemon-leaf-40.yaml", read_circumstances(["vodka-40"])).record
    assert found.best.drink.predicted.volume_l == pytest.approx(found.before_l, rel=1e-3)
    assert any("The size, use 3 bottles of vodka-40, cannot be kept" in note.text for note in found.notes)


def test_choices_are_kept_by_what_is_advised() -> None:
    """With a choice in the file a move of one limit is only told if a recipe keeps the choice too."""
    from formulate.formulation.choices import choices_of, possible_with

    nothing = _nothing("few-things", "white-sugar")
    choices = choices_of(nothing.formulation)
    assert choices
    told = [member for member in nothing.explanation.clash if member.reachable is not None]
    for member in told:
        assert possible_with(member.moved_in(nothing.formulation.problem), choices) is True


def test_json_says_what_cannot_be_replaced(run_here: RunCommand) -> None:
    done = run_here("reformulate", RECIPES / "damson-aperitif.yaml", "--without", "white-sugar", "--json")
    assert done.exit_code == 3
    document = json.loads(done.stdout)
    (one,) = document["cannot_replace"]
    assert one["missing"] == "white-sugar"
    assert one["stand_ins"] == ["honey"]
    assert one["buy"]
    assert one["enough_g"] is None
