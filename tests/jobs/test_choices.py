"""`choose` in a bottle file: read, kept, and pointed at where it cannot be kept."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from conftest import ROOT, RunCommand

from formulate.bar.opening import open_pantry
from formulate.describe.no_recipe import NoRecipe
from formulate.errors import InfeasibleError, SpecError
from formulate.files.bottle import load_bottle
from formulate.formulation.bottle import formulate_bottle
from formulate.formulation.choices import choices_of
from formulate.jobs.check import check_files
from formulate.jobs.solve import solve_bottle
from tests.worked_examples import solved_example

FEW = ROOT / "examples" / "bottles" / "few-things.yaml"


def _changed(folder: Path, *pairs: tuple[str, str]) -> Path:
    text = FEW.read_text("utf-8").replace("../shelf.yaml", (ROOT / "examples" / "shelf.yaml").as_posix())
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    path = folder / "few.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def _clash(path: Path) -> NoRecipe:
    with pytest.raises(InfeasibleError) as caught:
        solve_bottle(path)
    assert isinstance(caught.value.explanation, NoRecipe)
    return caught.value.explanation


def test_the_example_keeps_its_choices_and_they_cost_something(tmp_path: Path) -> None:
    few = solved_example("few-things")
    used = {line.ingredient: line.mass_kg / few.answer.volume_l for line in few.record.recipe}
    assert len(used) == 5
    assert len({"gentian-root", "chicory-root"} & set(used)) == 1
    assert used.get("seville-orange-peel-dried", 0.003) >= 0.003 * (1 - 1e-6)
    assert "choices_kept" in {note.code for note in few.record.notes}
    text = FEW.read_text("utf-8")
    head, _ = text.split("choose:")
    free = tmp_path / "free.yaml"
    free.write_text(
        head.replace("../shelf.yaml", (ROOT / "examples" / "shelf.yaml").as_posix()), encoding="utf-8"
    )
    assert solve_bottle(free).answer.cost_per_l < few.answer.cost_per_l * (1 - 1e-3)


def test_amounts_are_turned_into_kilograms_per_litre() -> None:
    bottle = load_bottle(FEW)
    formulation = formulate_bottle(bottle, open_pantry(bottle.shelf_path, bottle.places))
    choices = choices_of(formulation)
    names = [ingredient.id for ingredient in formulation.ingredients]
    least = {names[number]: kg for number, kg in choices.least_if_used}
    assert least["seville-orange-peel-dried"] == pytest.approx(0.003)
    # 100 mL of 40 % vol spirit at 948.06 kg/m3 (OIML R 22, 20 C).
    assert least["gin-40"] == pytest.approx(0.094806, rel=1e-4)
    assert choices.most_ingredients == 5
    assert [[names[number] for number in group] for group in choices.one_of] == [
        ["gentian-root", "chicory-root"]
    ]


def test_too_few_allowed_points_at_the_number_and_says_how_many_do(
    tmp_path: Path, run_here: RunCommand
) -> None:
    path = _changed(tmp_path, ("at_most: 5", "at_most: 3"))
    nothing = _clash(path)
    assert [problem.path for problem in nothing.choices] == ["choose.at_most"]
    assert nothing.explanation.clash == ()
    # Spirit, water, sugar, acid and one bitter root: five, and five are in the example's own recipe.
    assert "Allow 5" in nothing.choices[0].message
    line = (
        path.read_text("utf-8")
        .splitlines()
        .index("  at_most: 3" + " " * 37 + "# ingredients, water among them")
        + 1
    )
    done = run_here("solve", "--all", str(path))
    assert done.exit_code == 3
    assert "no recipe keeps the choices made (proved)" in done.stderr
    assert f"few.yaml:{line}:12: choose.at_most: cannot be kept" in done.stderr
    document = json.loads(run_here("solve", "--json", str(path)).stdout)
    assert document["status"] == "infeasible"
    assert document["clash"] == []
    assert [choice["choice"] for choice in document["choices"]] == ["choose.at_most"]
    assert document["choices"][0]["source"].endswith(f"few.yaml:{line}:12")


def test_buy_points_at_the_choices_too(tmp_path: Path, run_here: RunCommand) -> None:
    done = run_here("buy", str(_changed(tmp_path, ("at_most: 5", "at_most: 3"))))
    assert done.exit_code == 3
    assert "choose.at_most: cannot be kept" in done.stderr


def test_one_of_two_where_both_are_needed_is_the_clash(tmp_path: Path) -> None:
    nothing = _clash(
        _changed(
            tmp_path,
            ("at_most: 5", "at_most: 9"),
            ("[[gentian-root, chicory-root]]", "[[white-sugar, neutral-spirit-96], [vodka-40, gin-40]]"),
            ("at_most: 30 g per L", "at_most: 1 g per L"),
            ("25 ± 0.3", "38 ± 0.3"),
        )
    )
    # 150 g/L of sugar take about 9 % of the room (0.62 mL a gram), which leaves 40 % spirit at 36.3 % vol: 38
    # needs the strong spirit, and then white sugar may not be used. The group of two spirits has no part.
    assert [problem.path for problem in nothing.choices] == ["choose.one_of.0"]


def test_more_than_can_be_used_is_the_clash(tmp_path: Path) -> None:
    """Every recipe takes sugar; at least 400 g/L of it breaks the target, and none is no recipe."""
    nothing = _clash(
        _changed(
            tmp_path,
            ("seville-orange-peel-dried: 3 g", "white-sugar: 400 g"),
            ("at_most: 30 g", "at_most: 1 g"),
        )
    )
    assert [problem.path for problem in nothing.choices] == ["choose.least_if_used.white-sugar"]
    assert "Ask for less of it" in nothing.choices[0].message


def test_limits_that_clash_are_told_as_ever(tmp_path: Path) -> None:
    nothing = _clash(_changed(tmp_path, ("25 ± 0.3", "95 ± 0.3")))
    assert nothing.choices == ()
    assert "strength" in {member.limit.origin.name for member in nothing.explanation.clash}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("gin-40: 100 mL per L bottled", "gin-40: 2 pieces", "a piece of gin-40 has no weight"),
        ("chicory-root]]", "chicory-rot]]", "'chicory-rot' is not in the list of ingredients"),
        ("at_most: 5", "at_most: 0", "at_most"),
        ("[[gentian-root, chicory-root]]", "[[gentian-root]]", "two or more different ingredients"),
        ("100 mL per L bottled", "0 mL per L bottled", "must be an amount above zero"),
    ],
)
def test_check_reads_the_choices(tmp_path: Path, old: str, new: str, said: str) -> None:
    with pytest.raises(SpecError) as caught:
        check_files([_changed(tmp_path, (old, new))])
    assert said in str(caught.value)
    assert "choose" in str(caught.value)


def test_an_amount_per_batch_needs_a_size_in_litres(tmp_path: Path) -> None:
    path = _changed(
        tmp_path, ("2 L bottled", "use 1 bottles of vodka-40"), ("100 mL per L bottled", "100 mL")
    )
    with pytest.raises(SpecError, match="say it per L bottled"):
        check_files([path])


def test_a_size_that_is_not_in_litres_keeps_choices_too(tmp_path: Path) -> None:
    """The batch is what one bottle of vodka makes; the count of ingredients holds all the same."""
    path = _changed(
        tmp_path,
        ("2 L bottled", "use 1 bottles of vodka-40"),
        ("neutral-spirit-96\n", "neutral-spirit-96: {at_most: 1 g per L bottled}\n"),
    )
    solved = solve_bottle(path)
    used = {line.ingredient: line.mass_kg for line in solved.record.recipe}
    assert len(used) <= 5
    assert used["vodka-40"] == pytest.approx(0.7 * 0.94806, rel=1e-4)
