"""The commands as functions: on a path as on the command line, on what was built in Python as on its file."""

from __future__ import annotations

import ast
import inspect
import json
import pickle
import sys
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, RunCommand

import formulate
from formulate.files.located import load_document
from formulate.files.models import FileModel
from formulate.quantity.document import Record
from tests.benchmarks.bench_start import HEAVY
from tests.commands import EXAMPLES

LEMON = EXAMPLES / "bottles" / "lemon-leaf-40.yaml"
COMMANDS = (
    *(
        "adjust",
        "buy",
        "check",
        "compare",
        "gauge",
        "infuse",
        "label",
        "menu",
        "pour",
        "predict",
        "reformulate",
    ),
    *("scale", "solve", "suppose", "tradeoff"),
)


def _keys(path: Path, **others: Any) -> dict[str, Any]:
    """Read what a file says, with other models in the place of the files it names."""
    return load_document(path).data | others


@pytest.fixture
def shelf(monkeypatch: pytest.MonkeyPatch) -> formulate.Shelf:
    """The shelf of the examples, built in Python where its own file stands."""
    monkeypatch.chdir(EXAMPLES)
    return formulate.Shelf.of(**_keys(EXAMPLES / "shelf.yaml"))


def _bar() -> formulate.Shelf:
    """The same with what is made here built in Python too, so that nothing names the file of the shelf."""
    keys = _keys(EXAMPLES / "shelf.yaml")
    for made in keys["house_made"].values():
        recipe = _keys(EXAMPLES / made["recipe"])
        made["recipe"] = formulate.Recipe.of(**{key: recipe[key] for key in recipe if key != "shelf"})
    return formulate.Shelf.of(**keys)


def _without_places(value: Any) -> Any:
    """Leave out where things stand, which alone may differ, and what differs from run to run."""
    if isinstance(value, dict):
        skipped = {"source", "place", "seconds", "passes", "proof_solves", "text", "short"}
        return {key: _without_places(item) for key, item in value.items() if key not in skipped}
    return [_without_places(item) for item in value] if isinstance(value, list) else value


def test_importing_it_loads_nothing_heavy(run_apart: RunCommand) -> None:
    code = f"import sys, formulate; print([name for name in {HEAVY!r} if name in sys.modules])"
    assert run_apart("-c", code, command=(sys.executable,)).stdout == "[]\n"


def test_every_name_is_there_documented_and_typed_alike() -> None:
    tree = ast.parse(Path(formulate.__file__).read_text(encoding="utf-8"))
    typed = {
        alias.asname: f"{node.module}.{alias.name}"
        for part in tree.body
        if isinstance(part, ast.If)
        for node in part.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert {*typed, "__version__"} == set(formulate.__all__) == set(dir(formulate))
    for name, home in typed.items():
        given = getattr(formulate, name)
        assert f"{given.__module__}.{given.__name__}" == home
        assert inspect.getdoc(given)
    for name in COMMANDS:
        documented = inspect.getdoc(getattr(formulate, name)) or ""
        parameters = inspect.signature(getattr(formulate, name)).parameters
        assert not [
            one for one in parameters if one not in documented and one not in ("path", "today", "progress")
        ]
    with pytest.raises(AttributeError, match="no attribute 'ferment'"):
        formulate.ferment  # noqa: B018


def test_an_answer_is_the_document_of_the_command(run_here: RunCommand) -> None:
    recipe = EXAMPLES / "recipes" / "creme-de-cassis.yaml"
    for name, arguments, options in (
        ("predict", (), []),
        ("label", (), []),
        ("scale", ("3 L bottled",), ["--to", "3 L bottled"]),
    ):
        answer: Record = getattr(formulate, name)(recipe, *arguments)
        assert answer.to_dict() == json.loads(run_here(name, recipe, *options, "--json").stdout)


def test_a_path_may_be_text() -> None:
    assert formulate.load(str(LEMON)) == formulate.load(LEMON)


def test_a_bottle_and_a_shelf_built_in_python_are_those_of_their_files(shelf: formulate.Shelf) -> None:
    assert shelf == formulate.load(EXAMPLES / "shelf.yaml")
    bottle = formulate.Bottle.of(**_keys(LEMON, shelf=shelf))
    of_file = formulate.load(LEMON)
    assert isinstance(of_file, formulate.Bottle)
    assert bottle == of_file.model_copy(update={"shelf": bottle.shelf})
    built, read = formulate.solve(bottle), formulate.solve(LEMON)
    assert _without_places(built.to_dict()) == _without_places(read.to_dict())
    assert [target.text for target in built.record.targets] == [target.text for target in read.record.targets]
    assert {target.source for target in built.record.targets} == {"in Python"}


def test_a_changed_copy_is_what_is_solved(shelf: formulate.Shelf) -> None:
    bottle = formulate.Bottle.of(**_keys(LEMON, shelf=shelf))
    smaller = bottle.model_copy(update={"size": formulate.Bottle.of(**_keys(LEMON, size="1 L bottled")).size})
    assert formulate.solve(smaller).record.predicted.volume_l == pytest.approx(1.0, abs=1e-6)
    changed = formulate.load(LEMON).model_copy(update={"size": smaller.size})
    assert formulate.solve(changed).record.predicted.volume_l == pytest.approx(1.0, abs=1e-6)


def test_a_model_and_what_it_names_survive_a_copy(shelf: formulate.Shelf) -> None:
    bottle = formulate.Bottle.of(**_keys(LEMON, shelf=shelf))
    for copy in (pickle.loads(pickle.dumps(bottle)), deepcopy(bottle)):
        assert copy == bottle
        assert formulate.check(copy).files == formulate.check(bottle).files


def test_recipes_drinks_and_readings_need_no_file(shelf: formulate.Shelf) -> None:
    bottle = formulate.Bottle.of(**_keys(LEMON, shelf=shelf))
    path = EXAMPLES / "recipes" / "lemon-leaf-40.yaml"
    recipe = formulate.Recipe.of(**_keys(path, shelf=shelf, bottle=bottle))
    assert _without_places(formulate.predict(recipe).to_dict()) == _without_places(
        formulate.predict(path).to_dict()
    )
    assert formulate.scale(recipe, "12 L bottled").after_l == pytest.approx(12.0)
    assert formulate.label(recipe, serve="30 mL").serve_l == pytest.approx(0.03)
    assert formulate.buy(bottle).total == formulate.buy(LEMON).total
    gone = formulate.reformulate(recipe, price={"vodka-40": "30 EUR/kg"}, mode="cheapest")
    assert gone.record.status == "reformulated"
    assert formulate.infuse(recipe, hottest="40 °C").chosen.temperature_c <= 40.0
    reading = formulate.Reading.of(reading="Off", density="SG 1.045", refraction="30.2 Brix", amount="2 L")
    assert (
        formulate.gauge(reading).to_dict()["sugar_g_l"]
        == (formulate.gauge(density="SG 1.045", refraction="30.2 Brix").to_dict()["sugar_g_l"])
    )
    put_right = formulate.adjust(volume="4 L", strength="30 % vol", sugar="225 g/L", bottle=bottle)
    assert put_right.status == "adjusted"
    curve = formulate.tradeoff(bottle, "sugar", "220 g/L", "230 g/L", points=3)
    assert [point.found for point in curve.points] == ["recipe"] * 3


def test_a_drink_names_a_recipe_and_a_menu_names_the_drink() -> None:
    shelf = _bar()
    recipe = formulate.Recipe.of(**_keys(EXAMPLES / "recipes" / "amber-digestif.yaml", shelf=shelf))
    recipe = recipe.model_copy(update={"bottle": None})
    drink_path = EXAMPLES / "drinks" / "amber-hour.yaml"
    drink = formulate.Drink.of(**_keys(drink_path, shelf=shelf, house={"amber-digestif": recipe}))
    poured, read = formulate.pour(drink), formulate.pour(drink_path)
    assert poured.price == read.price
    assert poured.served == read.served
    checked = formulate.check(shelf, recipe, drink)
    assert [file.kind for file in checked.files] == ["shelf", "recipe", "drink"]
    menu = formulate.Menu.of(
        menu="One drink",
        shelf=shelf,
        drinks=[{"drink": drink, "sells": "20 per week"}],
        house={"amber-digestif": {"vessel": "jar-4l", "takes": "5 days"}},
        **{"for": "2 weeks"},
    )
    planned = formulate.menu(menu, seconds=5.0)
    assert [row.name for row in planned.drinks] == ["Amber hour"]
    assert planned.to_pay > 0.0


def test_what_is_wrong_is_said_with_its_way_instead_of_a_line() -> None:
    with pytest.raises(formulate.SpecError) as caught:
        formulate.Bottle.of(
            name="x", size="2 L bottled", targets={"strength": "25 %"}, ingredients=["vodka-40", "vodka-40"]
        )
    assert [(str(one.location), one.path, one.excerpt) for one in caught.value.problems] == [
        ("in Python", "targets.strength", ""),
        ("in Python", "ingredients.1", ""),
    ]
    assert "got 25 %" in str(caught.value)
    assert isinstance(caught.value, formulate.FormulateError)


@pytest.mark.parametrize("odd", [object(), {"a"}, [b"x"], Path], ids=["object", "set", "bytes", "type"])
def test_what_no_file_can_say_is_refused(odd: object) -> None:
    with pytest.raises(formulate.SpecError, match=r"^in Python: notes.*must be text, a number, a list"):
        formulate.Shelf.of(currency="EUR", offers={}, notes=odd)


def test_the_wrong_kind_of_model_is_told_as_of_a_file(shelf: formulate.Shelf) -> None:
    with pytest.raises(formulate.SpecError, match="this is a shelf file, and a bottle file is needed"):
        formulate.solve(shelf)


def test_no_recipe_says_why_in_a_document(shelf: formulate.Shelf) -> None:
    bottle = formulate.Bottle.of(**_keys(LEMON, shelf=shelf, targets={"strength": "at least 60 % vol"}))
    with pytest.raises(formulate.InfeasibleError) as caught:
        formulate.solve(bottle)
    assert caught.value.explanation.to_dict()["status"] == "infeasible"


@pytest.mark.parametrize("workers", [1, 2])
def test_cases_built_in_python_are_those_of_the_file(shelf: formulate.Shelf, workers: int) -> None:
    cases = {
        "dear": {"prices": {"vodka-40": "+20 %"}},
        "stronger": {"targets": {"strength": "31 ± 0.3 % vol"}},
    }
    bottle = formulate.Bottle.of(**_keys(LEMON, shelf=shelf))
    built, read = (
        formulate.suppose(formulate.Scenarios.of(suppose="x", bottle=subject, cases=cases), workers=workers)
        for subject in (bottle, LEMON)
    )
    assert [case.name for case in built.cases] == ["dear", "stronger"]
    assert [case.outcome for case in built.cases] == [case.outcome for case in read.cases]
    assert [case.difference > 0.0 for case in built.cases] == [True, True]


def test_results_are_kept_for_files_only(shelf: formulate.Shelf, tmp_path: Path) -> None:
    bottle = formulate.Bottle.of(**_keys(LEMON, shelf=shelf))
    cases = formulate.Scenarios.of(suppose="x", bottle=bottle, cases={"none": {"gone": ["lemon-zest"]}})
    with pytest.raises(formulate.FormulateError, match="Save it, and give its path"):
        formulate.suppose(cases, results=tmp_path / "results")


def test_a_model_is_as_good_as_another_with_the_same_content(shelf: formulate.Shelf) -> None:
    again = formulate.Shelf.of(**_keys(EXAMPLES / "shelf.yaml"))
    assert again == shelf
    assert hash(again) == hash(shelf)
    assert again.path != shelf.path
    assert isinstance(shelf, FileModel)
    assert ROOT not in [shelf.path]
