"""The program itself and `solve` as a person meets them: exit code, standard output and standard error."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import ROOT, RunCommand

from formulate.cli.main import app
from formulate.cli.week import EXAMPLES, WEEK
from tests.commands import (
    BOTTLES,
    SOLVED,
    TOO_CHEAP,
    bottle_file,
    document_of,
    edited,
    only_stderr,
    only_stdout,
)

COMMANDS = tuple(
    str(command.name or command.callback.__name__).replace("_", "-") for command in app.registered_commands
)

SOLVE_NAMES: dict[str, Any] = {
    "schema_version": 1,
    "status": "",
    "name": "",
    "recipe": [{"ingredient": "", "step": "", "mass_g": 0.0, "cost": 0.0}],
    "predicted": {
        "volume_l": 0.0,
        "strength_pct_vol": 0.0,
        "sugar_g_l": 0.0,
        "acid_g_l": 0.0,
        "bitterness_value": 0.0,
        "density_kg_m3": 0.0,
        "refractive_index": 0.0,
    },
    "targets": [
        {
            "target": "",
            "lower": 0.0,
            "upper": 0.0,
            "value": 0.0,
            "unit": "",
            "binding": True,
            "shadow_price": 0.0,
            "source": "",
        }
    ],
    "cost": {"total": 0.0, "per_litre": 0.0, "currency": "", "proven_gap": 0.0},
    "warnings": [{"code": "", "text": "", "source": ""}],
    "solver": {"name": "", "passes": 0, "seconds": 0.0},
}
"""The names DESIGN section 6 promises to keep, each with a value of its kind."""


# --- the program itself -------------------------------------------------------------------------------


def test_alone_it_shows_help_and_exits_2(run_apart: RunCommand) -> None:
    told = only_stderr(run_apart(), 2)
    assert all(f"  {command} " in told for command in COMMANDS)


def test_help_names_every_command_and_nothing_else(run_here: RunCommand) -> None:
    told = only_stdout(run_here("--help"))
    listed = re.findall(r"^  ([a-z-]+) {2,}\S", told.partition("\nMake, such as")[2], re.MULTILINE)
    assert sorted(listed) == sorted(COMMANDS)
    assert {"init", "check", "library", "solve", "predict", "schema"} <= set(COMMANDS)


def test_each_command_stands_once_in_the_week_with_an_example_that_can_be_typed(
    bar: Path, run_here: RunCommand
) -> None:
    assert sorted(name for names in WEEK.values() for name in names) == sorted(COMMANDS) == sorted(EXAMPLES)
    for name, typed in EXAMPLES.items():
        words = shlex.split(typed)
        for word in words:
            assert not word.startswith("examples/") or (ROOT / word).is_file(), word
        told = run_here(name, "--help").stdout
        assert all(re.search(rf"{word}\b", told) for word in words if word.startswith("-")), name
        assert f"Example: formulate {name}" in told


def test_who_leaves_out_the_file_is_told_what_to_type(run_here: RunCommand) -> None:
    told = only_stderr(run_here("scale"), 2)
    assert "  formulate scale examples/recipes/damson-aperitif.yaml --to '24 bottles of 50 cl'\n" in told
    assert "  formulate init bar\n" in told


def test_a_file_with_a_slip_in_its_name_is_offered(run_here: RunCommand) -> None:
    told = only_stderr(run_here("solve", "examples/bottles/damson-apertif.yaml"), 2)
    assert told.endswith("there is no such file. Did you mean examples/bottles/damson-aperitif.yaml?\n")


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("option", ["-h", "--help"])
def test_each_command_has_help(command: str, option: str, run_here: RunCommand) -> None:
    told = only_stdout(run_here(command, option))
    assert told.startswith(f"Usage: formulate {command} ")
    assert re.search(r"^  [A-Z].*\.$", told, re.MULTILINE), "a sentence that says what it does"
    assert max(map(len, told.splitlines())) <= 80


def test_help_loads_nothing_heavy(run_apart: RunCommand) -> None:
    script = (
        "import sys\n"
        "sys.argv = ['formulate', '--help']\n"
        "from formulate.cli.main import run\n"
        "try:\n"
        "    run()\n"
        "except SystemExit as left:\n"
        "    heavy = ('scipy', 'pulp', 'pint', 'highspy', 'numpy', 'pydantic', 'ruamel')\n"
        "    print(left.code, [name for name in heavy if name in sys.modules], file=sys.stderr)\n"
    )
    done = run_apart("-c", script, command=(sys.executable,))
    assert done.stdout.startswith("Usage: ")
    assert done.stderr == "0 []\n"


def test_version_names_its_own_and_the_solvers(run_here: RunCommand) -> None:
    from importlib import metadata

    from formulate import __version__

    told = only_stdout(run_here("--version"))
    assert told == f"formulate {__version__} (solver: HiGHS {metadata.version('highspy')})\n"


@pytest.mark.parametrize(
    "arguments",
    [
        ["slove"],
        ["solve"],
        ["solve", "a.yaml", "b.yaml"],
        ["solve", "--no-such-option", "a.yaml"],
        ["solve", "examples"],
        ["predict"],
        ["check"],
        ["schema"],
    ],
)
def test_wrong_usage_exits_2(arguments: list[str], run_here: RunCommand) -> None:
    told = only_stderr(run_here(*arguments), 2)
    assert "Error: " in told
    assert "formulate" in told


@pytest.fixture
def script() -> Path:
    beside = shutil.which("formulate", path=str(Path(sys.executable).parent))
    if beside is None:
        pytest.skip("completion hangs on the installed script's name, and no script is installed here")
    return Path(beside)


def test_completion_script_for_bash(script: Path, run_apart: RunCommand) -> None:
    told = only_stdout(run_apart(command=(script,), environment={"_FORMULATE_COMPLETE": "source_bash"}))
    assert "complete -o default -F _formulate_completion formulate" in told


@pytest.mark.parametrize(
    ("words", "expected"), [("formulate s", {"solve", "schema"}), ("formulate pre", {"predict"})]
)
def test_completion_offers_commands(
    words: str, expected: set[str], script: Path, run_apart: RunCommand
) -> None:
    typed = {"_FORMULATE_COMPLETE": "complete_bash", "COMP_WORDS": words, "COMP_CWORD": "1"}
    offered = set(only_stdout(run_apart(command=(script,), environment=typed)).split())
    assert offered == {command for command in COMMANDS if command.startswith(words.split()[1])}
    assert expected <= offered


def test_a_terminal_without_our_letters_still_gets_the_answer(run_apart: RunCommand) -> None:
    done = run_apart(
        "solve",
        "--all",
        bottle_file("lemon-leaf-40"),
        environment={"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
    )
    assert "strength          27.5  % vol (tools: ?1.0)" in only_stdout(done)


# --- solve --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SOLVED)
def test_solve_shows_a_recipe_no_wider_than_80(name: str, run_here: RunCommand) -> None:
    told = only_stdout(run_here("solve", "--all", bottle_file(name)))
    lines = told.splitlines()
    assert max(map(len, lines)) <= 80
    assert not [line for line in lines if line != line.rstrip()]
    assert "No cheaper recipe exists within these limits" in " ".join(told.split())
    assert "Not legal or medical advice" in told


@pytest.mark.parametrize("name", BOTTLES)
def test_json_is_the_whole_of_standard_output(name: str, run_apart: RunCommand) -> None:
    # In a process of its own: the solver writes its banner past Python, to the file descriptor.
    done = run_apart("solve", "--all", bottle_file(name), "--json")
    assert done.stderr == ""
    assert done.exit_code == (3 if name == TOO_CHEAP else 0)
    document = json.loads(done.stdout)
    assert done.stdout.startswith("{")
    assert document["schema_version"] == 1
    assert document["status"] == ("infeasible" if name == TOO_CHEAP else "optimal")


def _missing(promised: Any, given: Any, path: str = "") -> Iterator[str]:
    """Yield every promised name that is not there or holds another kind of value."""
    if isinstance(promised, dict):
        for key, value in promised.items():
            if not isinstance(given, dict) or key not in given:
                yield f"{path}.{key} is missing"
            else:
                yield from _missing(value, given[key], f"{path}.{key}")
    elif isinstance(promised, list):
        if not given:
            yield f"{path} is empty"
        for number, item in enumerate(given):
            yield from _missing(promised[0], item, f"{path}[{number}]")
    elif isinstance(promised, (bool, str)):
        if not isinstance(given, type(promised)):
            yield f"{path} is {given!r}"
    elif not isinstance(given, (int, float)) or isinstance(given, bool):
        yield f"{path} is {given!r}"


@pytest.mark.parametrize("name", SOLVED)
def test_json_keeps_the_names_it_promised(name: str, run_here: RunCommand) -> None:
    document = document_of(run_here("solve", "--all", bottle_file(name), "--json"))
    one_sided = [
        target for target in document["targets"] if target["lower"] is None or target["upper"] is None
    ]
    for target in one_sided:  # an open side is null; the other side must still be a number
        assert (target["lower"] is None) != (target["upper"] is None)
        target["lower"] = target["upper"] = 0.0
    assert not list(_missing(SOLVE_NAMES, document))


@pytest.mark.parametrize("name", SOLVED)
def test_json_figures_hang_together(name: str, run_here: RunCommand) -> None:
    document = document_of(run_here("solve", "--all", bottle_file(name), "--json"))
    cost, predicted = document["cost"], document["predicted"]
    assert cost["total"] == pytest.approx(sum(line["cost"] for line in document["recipe"]), rel=1e-12)
    assert cost["per_litre"] == pytest.approx(cost["total"] / predicted["volume_l"], rel=1e-12)
    assert predicted["density_kg_m3"] == pytest.approx(
        predicted["mass_kg"] / predicted["volume_l"] * 1000.0, rel=1e-12
    )
    lost = sum(step["kept_in_cake_g"] + step["lost_g"] + step["solids_g"] for step in document["steps"])
    weighed = sum(line["mass_g"] for line in document["recipe"])
    assert weighed - lost == pytest.approx(predicted["mass_kg"] * 1000.0, rel=1e-9)
    for target in document["targets"]:
        slack = 1e-6 * max(abs(target["value"]), 1.0)
        assert target["lower"] is None or target["value"] >= target["lower"] - slack
        assert target["upper"] is None or target["value"] <= target["upper"] + slack
        file, line, _ = target["source"].rsplit(":", 2)
        typed = Path(file).read_text(encoding="utf-8").splitlines()[int(line) - 1]
        # What a category asks is named after it, and points at its line.
        key = "category" if ") " in target["target"] else target["target"]
        assert f"{key}: " in typed


def test_target_lines_of_the_file_are_the_targets_of_the_answer(run_here: RunCommand) -> None:
    document = document_of(run_here("solve", "--all", bottle_file("damson-aperitif"), "--json"))
    assert [target["target"] for target in document["targets"]] == [
        "strength",
        "sugar",
        "acid",
        "cost",
        "bitterness",
    ]


def test_no_recipe_is_told_on_standard_error_with_exit_3(run_here: RunCommand) -> None:
    told = only_stderr(run_here("solve", "--all", "examples/bottles/damson-too-cheap.yaml"), 3)
    assert "no recipe meets every limit (proved)" in told
    assert "examples/bottles/damson-too-cheap.yaml:6" in told
    assert "cost up to " in told


def test_no_recipe_as_json_names_the_clash(run_here: RunCommand) -> None:
    done = run_here("solve", "examples/bottles/damson-too-cheap.yaml", "--json")
    assert (done.exit_code, done.stderr) == (3, "")
    document = json.loads(done.stdout)
    assert document["irreducible"] is True
    sides = {(member["limit"], member["side"]) for member in document["clash"]}
    assert sides == {("strength", "lower"), ("cost", "upper"), ("damson at least", "lower")}
    for member in document["clash"]:
        file, line, column = member["source"].rsplit(":", 2)
        assert file == "examples/bottles/damson-too-cheap.yaml"
        typed = (ROOT / file).read_text(encoding="utf-8").splitlines()[int(line) - 1]
        assert typed[int(column) - 1 :].startswith(member["text"])


def test_the_single_change_offered_is_enough_and_a_smaller_one_is_not(
    bar: Path, run_here: RunCommand
) -> None:
    told = only_stderr(run_here("solve", "--all", bar / "bottles/damson-too-cheap.yaml"), 3)
    offered = re.search(r"cost up to ([0-9.]+) EUR/L", told)
    assert offered is not None
    cost = float(offered[1])
    for allowed, exit_code in ((cost, 0), (cost - 0.02, 3)):
        changed = edited(bar, "bottles/damson-too-cheap.yaml", ("7.50", f"{allowed:.2f}"))
        assert run_here("solve", "--all", changed).exit_code == exit_code
        edited(bar, "bottles/damson-too-cheap.yaml", (f"{allowed:.2f}", "7.50"))


def test_a_size_nothing_ties_is_told_with_its_place(bar: Path, run_here: RunCommand) -> None:
    # Without a strength, three bottles of vodka can be stretched with syrup without end.
    changed = edited(bar, "bottles/lemon-leaf-40.yaml", ("  strength: 28 ± 0.5 % vol\n", ""))
    told = only_stderr(run_here("solve", "--all", changed), 3)
    assert re.match(
        r".*lemon-leaf-40\.yaml:3:7: size: .*, got use 3 bottles of vodka-40\. Add a target", told
    )
    done = run_here("solve", changed, "--json")
    assert (done.exit_code, done.stderr) == (3, "")
    assert json.loads(done.stdout)["status"] == "unbounded"


@pytest.mark.parametrize("command", ["solve", "predict", "check"])
def test_a_missing_file_exits_2(command: str, run_here: RunCommand) -> None:
    told = only_stderr(run_here(command, "nowhere.yaml"), 2)
    assert told == "nowhere.yaml:1:1: there is no such file. Check the path.\n"
    done = run_here(command, "nowhere.yaml", "--json")
    assert (done.exit_code, done.stderr, done.crash) == (2, "", "")
    (problem,) = json.loads(done.stdout)["errors"]
    assert (problem["path"], problem["line"], problem["column"]) == ("nowhere.yaml", 1, 1)


def test_all_cautions_on_request(run_here: RunCommand) -> None:
    short = only_stdout(run_here("solve", bottle_file("damson-aperitif")))
    full = only_stdout(run_here("solve", bottle_file("damson-aperitif"), "--cautions"))
    counted = re.search(r"--cautions \((\d+)\)", short)
    assert counted is not None
    assert "--cautions" not in full
    assert full.partition("Take care")[2].count("\n  · ") == int(counted[1]) > short.count("\n  ! ")


@pytest.mark.parametrize("name", SOLVED)
def test_the_first_screen_is_short_and_the_rest_is_one_word_away(name: str, run_here: RunCommand) -> None:
    first = only_stdout(run_here("solve", bottle_file(name)))
    everything = only_stdout(run_here("solve", bottle_file(name), "--all"))
    guests = len(re.findall(r"^  ! ", first, re.MULTILINE))
    weighed = len(re.findall(r"^\S* +\S+ +[\d.]+ ", first, re.MULTILINE))
    room = max(0, weighed - 4) + 2 * max(0, guests - 1) + 5 * ("from whole" in first)
    assert first.count("\n") <= 24 + room
    assert first.count("\n") < 0.65 * everything.count("\n")
    together = only_stdout(run_here("solve", bottle_file(name), "--why", "--law", "--cautions"))
    headings = r"^(Good to know|Clear and smooth\?|May be called|Take care)$"
    for heading in re.findall(headings, everything, re.MULTILINE):
        assert f"\n{heading}\n" in together
