"""Without an answer: one document with `--json`, words without, and the same code from every command."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, Finished, RunCommand

from formulate.cli.main import app
from formulate.cli.telling import telling
from formulate.errors import NotConvergedError, VerificationError
from tests.commands import EXAMPLES, edited

TOO_CHEAP = EXAMPLES / "bottles" / "damson-too-cheap.yaml"


@pytest.fixture
def untied(bar: Path) -> Path:
    """A copy of the examples whose lemon-leaf bottle of three bottles of vodka names no strength any more.

    Three bottles can then be stretched with syrup without end: the more, the cheaper the litre.
    """
    edited(bar, "bottles/lemon-leaf-40.yaml", ("  strength: 28 ± 0.5 % vol\n", ""))
    return bar


def _document(done: Finished, exit_code: int) -> Any:
    """Read the one document: nothing before it, after it or beside it."""
    assert (done.exit_code, done.stderr, done.crash) == (exit_code, "", "")
    return json.loads(done.stdout)


@pytest.mark.parametrize("command", ["solve", "buy", "infuse"])
def test_no_recipe_is_one_document(command: str, tmp_path: Path, run_here: RunCommand) -> None:
    """No spirit of 40 % vol makes 60 % vol."""
    text = (EXAMPLES / "bottles" / "lemon-leaf-40.yaml").read_text("utf-8")
    too_strong = tmp_path / "too-strong.yaml"
    text = text.replace("../shelf.yaml", (EXAMPLES / "shelf.yaml").as_posix())
    too_strong.write_text(text.replace("28 ± 0.5 % vol", "60 % vol"), "utf-8")
    document = _document(run_here(command, too_strong, "--json"), 3)
    assert (document["schema_version"], document["status"]) == (1, "infeasible")
    assert document["clash"]
    told = run_here(command, too_strong)
    assert (told.exit_code, told.stdout, told.crash) == (3, "", "")
    assert told.stderr.count("no recipe meets every limit (proved)") == 1


@pytest.mark.parametrize("command", ["solve", "buy", "infuse", "reformulate", "tradeoff"])
def test_a_size_nothing_ties_is_one_document(command: str, untied: Path, run_here: RunCommand) -> None:
    bottle = untied / "bottles" / "lemon-leaf-40.yaml"
    arguments: list[str | Path] = [command, bottle]
    if command == "reformulate":
        arguments = [command, untied / "recipes" / "lemon-leaf-40.yaml", "--cheapest"]
    if command == "tradeoff":
        arguments += ["--vary", "sugar", "--from", "100 g/L", "--to", "200 g/L", "--points", "3"]
    document = _document(run_here(*arguments, "--json"), 3)
    assert (document["schema_version"], document["status"]) == (1, "unbounded")
    told = run_here(*arguments)
    assert (told.exit_code, told.stdout, told.crash) == (3, "", "")
    assert told.stderr == f"{document['message']}\n"
    place = f"{bottle.as_posix()}:3:7: size: "
    assert told.stderr.startswith(place)


def test_no_replacement_is_one_document(run_here: RunCommand) -> None:
    recipe = EXAMPLES / "recipes" / "damson-aperitif.yaml"
    document = _document(run_here("reformulate", recipe, "--without", "white-sugar", "--json"), 3)
    assert document["status"] == "infeasible"
    assert document["changes"] == ["without white-sugar"]
    assert document["suggested"][0]["missing"] == "white-sugar"


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (NotConvergedError(7, 0.5), "not_converged"),
        (VerificationError("strength is off by 1 % vol"), "not_verified"),
    ],
)
def test_a_fault_of_ours_is_one_document(
    error: Exception, status: str, run_here: RunCommand, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*arguments: object, **named: object) -> None:
        raise error

    monkeypatch.setattr("formulate.jobs.solve.solve_bottle", fails)
    bottle = EXAMPLES / "bottles" / "quince-cordial.yaml"
    document = _document(run_here("solve", bottle, "--json"), 1)
    assert (document["status"], document["message"]) == (status, str(error))
    told = run_here("solve", bottle)
    assert (told.exit_code, told.stdout, " ".join(told.stderr.split())) == (1, "", f"{error}")


def test_every_command_tells_its_refusals_alike() -> None:
    wrapped = telling(lambda: None).__code__
    for command in app.registered_commands:
        assert command.callback is not None
        assert command.callback.__code__ is wrapped, command.name


@pytest.mark.parametrize(
    ("arguments", "first", "second"),
    [
        (["solve", TOO_CHEAP, "--nearest", "--export", "model.lp"], "--nearest", "--export"),
        (["solve", TOO_CHEAP, "--nearest", "--prices"], "--nearest", "--prices"),
        (["solve", TOO_CHEAP, "--weigh", "--nearest"], "--nearest", "--weigh"),
        (
            [
                *("tradeoff", TOO_CHEAP, "--vary", "sugar", "--from", "100 g/L", "--to", "200 g/L"),
                *("--prove", "--against", "strength"),
            ],
            "--prove",
            "--against",
        ),
    ],
)
def test_options_that_do_not_go_together(
    arguments: list[str | Path], first: str, second: str, tmp_path: Path, run_here: RunCommand
) -> None:
    done = run_here(*arguments, folder=tmp_path)
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert f"{first} and {second} do not go together" in " ".join(done.stderr.split())
    assert not list(tmp_path.iterdir())


def test_the_nearest_recipe_shows_proof_where_asked(run_here: RunCommand) -> None:
    plain, with_proof = (run_here("solve", TOO_CHEAP, "--nearest", *more) for more in ([], ["--proof"]))
    assert (plain.exit_code, with_proof.exit_code) == (4, 4)
    assert "proof US" not in plain.stdout
    assert "proof US" in with_proof.stdout


def test_a_rest_that_cannot_be_read_names_its_option(run_here: RunCommand) -> None:
    done = run_here("buy", EXAMPLES / "bottles" / "quince-cordial.yaml", "--leftover", "abc")
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert done.stderr.startswith("--leftover: ")


# --- what is wrong with what was asked ----------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments",
    [
        ["solve", "no-such.yaml"],
        ["solve"],
        ["solve", TOO_CHEAP, "--no-such-option"],
        ["solve", TOO_CHEAP, "--nearest", "--prices"],
        ["solve", TOO_CHEAP, "-o", EXAMPLES / "shelf.yaml"],
        ["check", "no-such.yaml"],
        ["predict", TOO_CHEAP],
        ["infuse", "no-such.yaml"],
        ["reformulate", "no-such.yaml"],
        ["reformulate", TOO_CHEAP, "--cheapest", "--nearest-flavour"],
        ["tradeoff", TOO_CHEAP, "--vary", "sweetness", "--from", "1", "--to", "2"],
        ["buy", TOO_CHEAP, "--leftover", "abc"],
        ["gauge"],
        ["gauge", "no-such.yaml", "--density", "SG 1.05"],
        ["adjust"],
        ["adjust", "no-such.yaml"],
        ["scale", "no-such.yaml", "--to", "5 L bottled"],
        ["library", "nothingofthatname"],
        ["no-such-command"],
    ],
    ids=lambda arguments: " ".join(str(one) for one in arguments[:3]).replace(str(ROOT), ""),
)
def test_every_wrong_call_is_one_document(arguments: list[str | Path], run_here: RunCommand) -> None:
    document = _document(run_here(*arguments, "--json"), 2)
    assert (document["schema_version"], document["status"]) == (1, "error")
    assert document["message"]
    assert document["errors"]
    assert all(set(one) == {"path", "line", "column", "key", "text"} for one in document["errors"])
    told = run_here(*arguments)
    assert (told.exit_code, told.stdout, told.crash) == (2, "", "")


def test_problems_of_a_file_stand_with_their_place(tmp_path: Path, run_here: RunCommand) -> None:
    """Two things are wrong: a colour no bottle file knows in line 3, and a sugar without a unit in line 5."""
    text = "name: Wrong\nsize: 1 L bottled\ncolour: red\ntargets:\n  sugar: 200\ningredients: [water]\n"
    (tmp_path / "wrong.yaml").write_text(text, "utf-8")
    document = _document(run_here("solve", "wrong.yaml", "--json", folder=tmp_path), 2)
    places = [(one["path"], one["line"], one["column"], one["key"]) for one in document["errors"]]
    assert places == [("wrong.yaml", 3, 1, "colour"), ("wrong.yaml", 5, 10, "targets.sugar")]
    assert "200" in document["errors"][1]["text"]


def test_check_still_names_the_files_that_are_right(tmp_path: Path, run_here: RunCommand) -> None:
    (tmp_path / "wrong.yaml").write_text("name: Wrong\n", "utf-8")
    shelf = EXAMPLES / "shelf.yaml"
    told = run_here("check", tmp_path / "wrong.yaml", shelf)
    assert told.exit_code == 2
    assert told.stdout.startswith(f"ok  {shelf.as_posix()}: shelf")
    assert "wrong.yaml:1:" in told.stderr
    document = _document(run_here("check", tmp_path / "wrong.yaml", shelf, "--json"), 2)
    assert [file["path"] for file in document["files"]] == [shelf.as_posix()]
    assert {one["path"] for one in document["errors"]} == {(tmp_path / "wrong.yaml").as_posix()}


@pytest.mark.parametrize(
    ("arguments", "target"),
    [
        (["solve", "bottles/quince-cordial.yaml"], "bottles/quince-cordial.yaml"),
        (["solve", "bottles/quince-cordial.yaml"], "bottles/../bottles/quince-cordial.yaml"),
        (["solve", "bottles/quince-cordial.yaml"], "shelf.yaml"),
        (["buy", "bottles/quince-cordial.yaml"], "bottles/few-things.yaml"),
        (["scale", "recipes/quince-cordial.yaml", "--to", "5 L bottled"], "recipes/quince-cordial.yaml"),
        (["reformulate", "recipes/quince-cordial.yaml"], "recipes/quince-cordial.yaml"),
    ],
)
def test_what_is_read_is_never_replaced(
    arguments: list[str], target: str, bar: Path, run_here: RunCommand
) -> None:
    before = (bar / target).read_bytes()
    done = run_here(*arguments, "-o", target, "--force", folder=bar)
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert "Name another file" in " ".join(done.stderr.split())
    assert (bar / target).read_bytes() == before


def test_an_older_recipe_is_replaced_by_force(bar: Path, run_here: RunCommand) -> None:
    target = bar / "recipes" / "few-things.yaml"
    done = run_here("solve", bar / "bottles" / "quince-cordial.yaml", "-o", target, "--force")
    assert done.exit_code == 0
    assert target.read_text("utf-8").startswith("recipe: Quince cordial")


@pytest.mark.parametrize(
    ("command", "file", "told"),
    [
        ("solve", "shelf.yaml", "currency: this is a shelf file, and a bottle file is needed."),
        ("pour", "recipes/amber-digestif.yaml", "recipe: this is a recipe file, and a drink file is needed."),
        ("menu", "drinks/amber-hour.yaml", "drink: this is a drink file, and a menu file is needed."),
        ("prices", "menus/autumn.yaml", "menu: this is a menu file, and a shelf file is needed."),
        ("gauge", "jars/damson-jar.yaml", "jar: this is a jar file, and a reading file is needed."),
        ("suppose", "bottles/damson-aperitif.yaml", "targets: this is a bottle file, and a scenarios file"),
        (
            "reformulate",
            "bottles/damson-aperitif.yaml",
            "a recipe file is needed. Save its recipe first: `formulate solve",
        ),
    ],
)
def test_a_file_of_another_kind_is_one_problem(
    command: str, file: str, told: str, run_here: RunCommand
) -> None:
    """Not one for every line that a file of the right kind would lack."""
    document = _document(run_here(command, EXAMPLES / file, "--json"), 2)
    assert document["status"] == "error"
    done = run_here(command, EXAMPLES / file)
    assert (done.exit_code, done.stdout, done.crash) == (2, "", "")
    assert told in done.stderr
    assert len(re.findall(r":\d+:\d+: ", done.stderr)) == 1


def test_a_file_with_a_slip_in_the_key_that_tells_its_kind_is_told_of_the_slip(
    tmp_path: Path, run_here: RunCommand
) -> None:
    recipe = tmp_path / "recipe.yaml"
    text = (EXAMPLES / "recipes" / "damson-aperitif.yaml").read_text("utf-8")
    recipe.write_text(text.replace("recipe:", "recipee:", 1), "utf-8")
    assert "unknown key 'recipee'. Did you mean 'recipe'?" in run_here("predict", recipe).stderr
